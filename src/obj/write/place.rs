//! The second walk, where there are new lines: where they go, and which third numbers they copy.

use super::{Plan, Walk, WriteFailure};
use crate::obj::number::{self, Spelling};
use crate::obj::scan::{Sink, Statement};
use std::collections::BTreeMap;

pub(super) struct Place<'a> {
    plan: Plan<'a>,
    walk: Walk,
    /// Last place that follows no backslash and comes before the first face that needs a new line.
    latest: (u64, u32),
    /// The first such place after the last `vt`.
    after_texcoords: Option<(u64, u32)>,
    /// Whether the first face that needs a new line has come.
    is_needed: bool,
    /// Whether a `vt` came after it.
    texcoord_later: bool,
    comment_goes_on: bool,
    /// New lines that take over the third number of a `vt`.
    thirds: BTreeMap<usize, Vec<usize>>,
}

impl<'a> Place<'a> {
    pub fn new(plan: Plan<'a>) -> Self {
        let mut thirds: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (line, new) in plan.lines.iter().enumerate() {
            if let Some(texcoord) = new.instead_of {
                thirds.entry(texcoord).or_default().push(line);
            }
        }
        Self {
            plan,
            walk: Walk::default(),
            latest: (0, 0),
            after_texcoords: None,
            is_needed: false,
            texcoord_later: false,
            comment_goes_on: false,
            thirds,
        }
    }

    pub fn plan(self) -> Result<Plan<'a>, WriteFailure> {
        if !self.walk.is_of(self.plan.document) {
            return Err(WriteFailure::changed());
        }
        let place = self.after_texcoords.filter(|_| !self.texcoord_later).unwrap_or(self.latest);
        Ok(Plan { place, ..self.plan })
    }
}

impl Sink for Place<'_> {
    fn statement(&mut self, statement: &Statement<'_>) {
        if !self.is_needed && !self.comment_goes_on {
            self.latest = (statement.range.start, self.walk.texcoords);
            if self.walk.texcoords > 0 {
                self.after_texcoords.get_or_insert(self.latest);
            }
        }
        self.comment_goes_on = statement.comment_goes_on;
        if let Some(texcoord) = self.walk.texcoord(statement) {
            self.after_texcoords = self.after_texcoords.filter(|_| self.is_needed);
            self.texcoord_later |= self.is_needed;
            for &line in self.thirds.get(&texcoord).into_iter().flatten() {
                // Nothing but a number: at the end of a line a backslash would take the next one with it.
                let is_number = |word: &&[u8]| number::parse(word) != Spelling::Unreadable;
                let third = statement.words().nth(2).map(|(word, _)| word).filter(is_number);
                self.plan.lines[line].third = third.map(<[u8]>::to_vec);
            }
        }
        let face = self.walk.face(statement, self.plan.document);
        self.is_needed |= face == Some(self.plan.first_face);
    }
}
