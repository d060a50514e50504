//! The last walk: the source's bytes, but for those of the numbers and indices that change, and the new lines between them.

use super::edits::{Value, spelled};
use super::{Fate, Plan, Walk, WriteFailure, corners_of, texcoord_part};
use crate::obj::scan::{Sink, Statement, StatementKind};
use std::ops::Range;

pub(super) struct Splice<'a> {
    plan: Plan<'a>,
    walk: Walk,
    /// Source that has not been given yet, and the place of its start.
    pending: Vec<u8>,
    start: u64,
    /// Up to there nothing changes any more.
    settled: u64,
    /// Replacements of pieces of `pending`, in order.
    changes: Vec<(Range<u64>, Vec<u8>)>,
    /// Whether the new lines have been set.
    is_placed: bool,
    /// Whether a face has more corners than when it was read.
    is_other: bool,
    /// The last two bytes that were given.
    last: [u8; 2],
}

impl<'a> Splice<'a> {
    pub fn new(plan: Plan<'a>) -> Self {
        Self {
            is_placed: plan.lines.is_empty(),
            plan,
            walk: Walk::default(),
            pending: Vec::new(),
            start: 0,
            settled: 0,
            changes: Vec::new(),
            is_other: false,
            last: [0; 2],
        }
    }

    pub fn take(&mut self, chunk: &[u8]) {
        self.pending.extend_from_slice(chunk);
    }

    /// Gives what is final; all, where the present statement is too long to be held.
    pub fn give(&mut self, all: bool, out: &mut Vec<u8>) {
        if all {
            self.settled = self.start + self.pending.len() as u64;
        }
        let (start, begun) = (self.start, out.len());
        let place = |position: u64| (position - start) as usize;
        let mut from = 0;
        for (range, instead) in self.changes.drain(..) {
            out.extend_from_slice(&self.pending[from..place(range.start)]);
            out.extend_from_slice(&instead);
            from = place(range.end);
        }
        let end = place(self.settled);
        out.extend_from_slice(&self.pending[from..end]);
        self.pending.drain(..end);
        self.start = self.settled;
        for &byte in &out[begun.max(out.len().saturating_sub(2))..] {
            self.last = [self.last[1], byte];
        }
    }

    pub fn end(mut self, out: &mut Vec<u8>) -> Result<(), WriteFailure> {
        self.give(true, out);
        if self.is_other || !self.is_placed || !self.walk.is_of(self.plan.document) {
            return Err(WriteFailure::changed());
        }
        Ok(())
    }

    /// The line end before a place.
    fn line_end(&self, position: u64) -> &'static [u8] {
        let byte = |back: u64| match position.checked_sub(back) {
            Some(at) if at >= self.start => self.pending.get((at - self.start) as usize).copied(),
            Some(at) => self.last.get((at + 2).wrapping_sub(self.start) as usize).copied(),
            None => None,
        };
        match (byte(2), byte(1)) {
            (Some(b'\r'), Some(b'\n')) => b"\r\n",
            (_, Some(b'\r')) => b"\r",
            _ => b"\n",
        }
    }

    /// The new lines.
    fn lines(&self, line_end: &[u8]) -> Vec<u8> {
        let mut lines = Vec::new();
        for line in &self.plan.lines {
            lines.extend_from_slice(b"vt");
            for number in self.plan.spelling(line.value).iter().chain(&line.third) {
                lines.push(b' ');
                lines.extend_from_slice(number);
            }
            lines.extend_from_slice(line_end);
        }
        lines
    }

    fn change(&mut self, position: u64, bytes: usize, instead: Vec<u8>) {
        self.changes.push((position..position + bytes as u64, instead));
    }

    fn texcoord(&mut self, texcoord: usize, statement: &Statement<'_>) {
        let Some(&Fate::Moves(value)) = self.plan.fates.get(texcoord) else { return };
        let own = self.plan.document.texcoords[texcoord];
        let new = self.plan.spelling(value);
        let mut words = statement.words();
        let mut behind = statement.range.end;
        for (axis, instead) in new.into_iter().enumerate() {
            let stays = self.plan.is_same(value, axis, own[axis]);
            match words.next() {
                Some((word, at)) => {
                    behind = at + word.len() as u64;
                    if !stays {
                        self.change(at, word.len(), instead);
                    }
                }
                None if stays => {}
                None => self.change(behind, 0, [b" ", &instead[..]].concat()),
            }
        }
    }

    fn face(&mut self, face: usize, statement: &Statement<'_>) {
        let starts = &self.plan.document.face_starts;
        let corners = starts[face] as usize..starts[face + 1] as usize;
        let mut end = corners.start;
        for ((word, at), corner) in statement.words().zip(corners.start..) {
            end = corner + 1;
            let new = self.plan.edits.of(corner).filter(|&value| !self.plan.is_in_place(corner, value));
            let Some(line) = new.and_then(|value| self.plan.line_of[value as usize]) else {
                self.renumber(word, at);
                continue;
            };
            let number = self.plan.place.1 + line + 1;
            let part = texcoord_part(word);
            // As the index is that it takes the place of; where there is none, as the position's.
            let counts_back =
                part.map(|(part, _)| part).filter(|part| !part.is_empty()).unwrap_or(word).starts_with(b"-");
            let index = if counts_back {
                let texcoords = self.walk.texcoords as usize + self.plan.lines.len();
                format!("-{}", (texcoords + 1).saturating_sub(number as usize))
            } else {
                number.to_string()
            };
            match part {
                Some((part, start)) => self.change(at + start as u64, part.len(), index.into_bytes()),
                None => self.change(at + word.len() as u64, 0, format!("/{index}").into_bytes()),
            }
        }
        self.is_other |= end != corners.end;
    }

    /// A corner's reference is unchanged.
    fn renumber(&mut self, word: &[u8], at: u64) {
        let Some((part, start)) = texcoord_part(word) else { return };
        if let Some(index) = self.plan.renumbered(part, self.walk.texcoords, self.is_placed) {
            self.change(at + start as u64, part.len(), index.into_bytes());
        }
    }
}

impl Sink for Splice<'_> {
    fn statement(&mut self, statement: &Statement<'_>) {
        if !self.is_placed && statement.range.start == self.plan.place.0 {
            let lines = self.lines(self.line_end(statement.range.start));
            self.change(statement.range.start, 0, lines);
            self.is_placed = true;
        }
        if let Some(texcoord) = self.walk.texcoord(statement) {
            self.texcoord(texcoord, statement);
        }
        let face = self.walk.face(statement, self.plan.document);
        if !self.plan.lines.is_empty() {
            match (statement.kind, face) {
                (StatementKind::Face, Some(face)) => self.face(face, statement),
                (StatementKind::Face | StatementKind::Line | StatementKind::Surface, _) => {
                    corners_of(statement).for_each(|(word, at)| self.renumber(word, at));
                }
                _ => {}
            }
        }
        self.settled = statement.range.end;
    }
}

impl Plan<'_> {
    /// Spelling of a new texture coordinate.
    fn spelling(&self, value: u32) -> [Vec<u8>; 2] {
        match self.edits.values()[value as usize] {
            Value::Rounded(uv, decimals) => uv.map(|x| spelled(x, decimals).into_bytes()),
            Value::Same(id) => {
                let [u, v] = self.spellings.get(&id.index()).cloned().unwrap_or_default();
                // Where v is not written it is 0.
                [u, if v.is_empty() { b"0".to_vec() } else { v }]
            }
        }
    }

    /// Whether a number of the file is that of the new texture coordinate.
    fn is_same(&self, value: u32, axis: usize, own: f64) -> bool {
        match self.edits.values()[value as usize] {
            Value::Rounded(uv, _) => uv[axis] == own,
            Value::Same(id) => self.document.texcoords[id.index()][axis] == own,
        }
    }

    /// The index that names what `part` named before there were new lines, where that is another one. `texcoords`: how
    /// many of the file's `vt` come before it; `is_behind`: whether the new lines do.
    fn renumbered(&self, part: &[u8], texcoords: u32, is_behind: bool) -> Option<String> {
        let (sign, digits) = match part {
            [sign @ (b'-' | b'+'), digits @ ..] => (Some(*sign), digits),
            digits => (None, digits),
        };
        if digits.is_empty() || !digits.iter().all(u8::is_ascii_digit) {
            return None;
        }
        // What is beyond all counts refers to nothing before and after.
        let number: u64 = std::str::from_utf8(digits).ok()?.parse().ok().filter(|&number| number < u64::MAX / 2)?;
        let (lines, before) = (self.lines.len() as u64, u64::from(self.place.1));
        let moved = match sign {
            Some(b'-') => {
                let names = (u64::from(texcoords) + 1).checked_sub(number).filter(|&names| names > 0);
                is_behind && number > 0 && names.is_none_or(|names| names <= before)
            }
            _ => number > before,
        };
        let sign = sign.map(char::from).map_or(String::new(), String::from);
        moved.then(|| format!("{sign}{}", number + lines))
    }
}
