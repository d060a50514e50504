//! The first walk: which `vt` others than the model's faces use, and how those are spelled that are copied.

use super::edits::Value;
use super::{Edits, Plan, Walk, WriteFailure, WriteFailureCode, corners_of, texcoord_part};
use crate::model::Document;
use crate::obj::index::Index;
use crate::obj::scan::{Sink, Statement, StatementKind};
use std::collections::BTreeMap;

pub(super) struct Uses<'a> {
    document: &'a Document,
    edits: &'a Edits,
    walk: Walk,
    kept: Vec<bool>,
    spellings: BTreeMap<usize, [Vec<u8>; 2]>,
    reaches_outside: bool,
    too_long: Option<u32>,
}

impl<'a> Uses<'a> {
    pub fn new(document: &'a Document, edits: &'a Edits) -> Self {
        let copied = edits.values().iter().filter_map(|value| match value {
            Value::Same(id) => Some((id.index(), Default::default())),
            Value::Rounded(..) => None,
        });
        Self {
            document,
            edits,
            walk: Walk::default(),
            kept: vec![false; document.texcoords.len()],
            spellings: copied.collect(),
            reaches_outside: false,
            too_long: None,
        }
    }

    /// What happens to each `vt`.
    pub fn plan(self) -> Result<Plan<'a>, WriteFailure> {
        if !self.walk.is_of(self.document) {
            return Err(WriteFailure::changed());
        }
        if let Some(line) = self.too_long {
            return Err(WriteFailure::new(
                WriteFailureCode::LineTooLong,
                format!(
                    "Line {line} is too long to be held and may name texture coordinates that were edited. Nothing was saved. \
                     Split that line, or export the model again."
                ),
            ));
        }
        let plan = Plan::new(self.document, self.edits, &self.kept, self.spellings)?;
        if self.reaches_outside && !plan.lines.is_empty() {
            return Err(WriteFailure::new(
                WriteFailureCode::ReachesOutside,
                "The file asks to run or fetch another one (call or csh), which may count its texture coordinates (vt), and \
                 lines would have to be added to them. Nothing was saved. Export the model as one file.",
            ));
        }
        Ok(plan)
    }

    fn keep_all(&mut self, statement: &Statement<'_>) {
        for (word, _) in corners_of(statement) {
            let Some((part, _)) = texcoord_part(word) else { continue };
            let Index::Number(number) = Index::read(part, self.walk.texcoords as usize) else { continue };
            if let Some(kept) = self.kept.get_mut(number as usize - 1) {
                *kept = true;
            }
        }
    }
}

impl Sink for Uses<'_> {
    fn statement(&mut self, statement: &Statement<'_>) {
        if let Some(texcoord) = self.walk.texcoord(statement)
            && let Some(spelling) = self.spellings.get_mut(&texcoord)
        {
            for (own, (word, _)) in spelling.iter_mut().zip(statement.words()) {
                *own = word.to_vec();
            }
        }
        match statement.kind {
            StatementKind::Face if self.walk.face(statement, self.document).is_some() => {}
            StatementKind::Face | StatementKind::Line | StatementKind::Surface => self.keep_all(statement),
            StatementKind::Outside => self.reaches_outside = true,
            StatementKind::TooLong => self.too_long = self.too_long.or(Some(statement.line)),
            _ => {}
        }
    }
}
