//! The elements read so far, and how their lists grow.

use super::{FailureCode, ReadFailure};
use crate::model::{Corner, DiagnosticKind, Document, PositionId, Run};
use crate::util::isolate::isolated;
use crate::util::three;
use std::collections::BTreeMap;

/// Most elements of one kind: indices and their number must fit 32 bits, and one is spare for "index plus one".
pub(super) const MOST_ELEMENTS: u32 = u32::MAX - 1;

/// Elements a list starts with.
const FIRST_CAPACITY: usize = 1024;

/// A list grows by at least this fraction of itself (one part in so many), so that growing stays linear.
const LEAST_GROWTH: usize = 8;

/// Room beyond the estimate, because later numbers and indices have more or fewer digits than earlier ones.
const ESTIMATE_SLACK: f64 = 1.03;

/// Kinds of statements whose elements fill the big lists.
#[derive(Clone, Copy)]
pub(super) enum Bulk {
    /// `v`
    Position,
    /// `vt`
    Texcoord,
    /// `vn`
    Normal,
    /// `f`
    Face,
}

/// What a name is for.
#[derive(Clone, Copy)]
pub(super) enum NameKind {
    /// `o`
    Object,
    /// `g`
    Group,
    /// `usemtl`
    Material,
}

/// The elements read so far, with indices not yet checked against what comes later.
pub(super) struct Elements {
    pub document: Document,
    /// Bytes spent on statements of each [`Bulk`] kind.
    spent: [u64; 4],
    /// Bytes of the file, if known.
    total_bytes: Option<u64>,
    /// Byte at which the present statement begins.
    pub offset: u64,
    /// Highest position, texture coordinate and normal number used by a face, from 1.
    pub highest: [u32; 3],
    /// Whether any position, texture coordinate or normal could not be read.
    pub unreadable: [bool; 3],
    /// Whether faces with and without texture coordinates were seen.
    pub with_texcoords: bool,
    pub without_texcoords: bool,
    /// `f` statements, also those left out.
    pub face_statements: u32,
    /// Statements not used, in the order of their keywords: first line and how many.
    pub passed_over: Vec<(Vec<u8>, (u32, u64))>,
    /// Set when the present statement seems to lack its end.
    pub incomplete: bool,
    /// Most elements of one kind; smaller only in tests.
    pub limit: u32,
    /// Whether lines may take the fast path; off only in tests that compare both.
    pub short_way: bool,
    /// Set when no more can be stored.
    pub failure: Option<ReadFailure>,
    names: [BTreeMap<String, u32>; 3],
}

impl Elements {
    pub fn new(total_bytes: Option<u64>) -> Self {
        let document = Document { face_starts: vec![0], ..Document::default() };
        Self {
            document,
            spent: [0; 4],
            total_bytes,
            offset: 0,
            highest: [0; 3],
            unreadable: [false; 3],
            with_texcoords: false,
            without_texcoords: false,
            face_statements: 0,
            passed_over: Vec::new(),
            incomplete: false,
            limit: MOST_ELEMENTS,
            short_way: true,
            failure: None,
            names: Default::default(),
        }
    }

    /// How many more elements to make room for, in a list of `len` that is full.
    ///
    /// Twice as many as there are, but no more than the rest of the file can hold if all of it were statements like
    /// those before.
    #[cold]
    fn growth(&self, kind: Bulk, len: usize) -> usize {
        let double = len.max(FIRST_CAPACITY);
        let (Some(total), true) = (self.total_bytes, len > 0) else { return double };
        let bytes_each = (self.spent[kind as usize] as f64 / len as f64).max(1.0);
        let left = total.saturating_sub(self.offset) as f64 / bytes_each * ESTIMATE_SLACK;
        double.min(left as usize).max(len / LEAST_GROWTH).max(FIRST_CAPACITY)
    }

    /// Adds the bytes of a statement, from which the elements still to come are estimated.
    #[inline(always)]
    pub fn spend(&mut self, kind: Bulk, bytes: usize) {
        self.spent[kind as usize] += bytes as u64;
    }

    /// Numbers of a position (0) or texture coordinate (1) were written with so many decimals.
    #[inline(always)]
    pub fn note_decimals(&mut self, kind: usize, decimals: i32) {
        let most = &mut self.document.decimals[kind];
        *most = decimals.max(*most as i32) as u32;
    }

    #[inline(always)]
    pub fn push_position(&mut self, position: [f64; 3]) {
        if self.document.positions.len() == self.document.positions.capacity() {
            let more = self.growth(Bulk::Position, self.document.positions.len());
            self.document.positions.reserve_exact(more);
        }
        self.document.positions.push(position);
    }

    #[inline(always)]
    pub fn push_texcoord(&mut self, texcoord: [f64; 2]) {
        if self.document.texcoords.len() == self.document.texcoords.capacity() {
            let more = self.growth(Bulk::Texcoord, self.document.texcoords.len());
            self.document.texcoords.reserve_exact(more);
        }
        self.document.texcoords.push(texcoord);
    }

    #[inline(always)]
    pub fn push_normal(&mut self, normal: [f64; 3]) {
        if self.document.normals.len() == self.document.normals.capacity() {
            let more = self.growth(Bulk::Normal, self.document.normals.len());
            self.document.normals.reserve_exact(more);
        }
        self.document.normals.push(three::each(normal, |x| x.clamp(f32::MIN.into(), f32::MAX.into()) as f32));
    }

    #[inline(always)]
    pub fn push_corner(&mut self, corner: Corner) {
        if self.document.corners.len() == self.document.corners.capacity() {
            let more = self.growth(Bulk::Face, self.document.corners.len());
            self.document.corners.reserve_exact(more);
        }
        self.document.corners.push(corner);
    }

    /// Makes a face of the corners pushed since the last one.
    #[inline(always)]
    pub fn close_face(&mut self, line: u32) {
        if self.document.face_lines.len() == self.document.face_lines.capacity() {
            let more = self.growth(Bulk::Face, self.document.face_lines.len());
            self.document.face_lines.reserve_exact(more);
            self.document.face_starts.reserve_exact(more + 1);
        }
        self.document.face_lines.push(line);
        self.document.face_starts.push(self.document.corners.len() as u32);
    }

    /// Removes the corners pushed since the last face.
    pub fn drop_open_face(&mut self) {
        let start = self.document.face_starts.last().map_or(0, |&start| start as usize);
        self.document.corners.truncate(start);
    }

    /// Whether a list of `len` can take one more; if not, reading ends.
    pub fn has_room(&mut self, len: usize, line: u32, what: &str) -> bool {
        let room = len < self.limit as usize;
        if !room && self.failure.is_none() {
            self.failure = Some(ReadFailure::new(
                FailureCode::TooLarge,
                line,
                format!(
                    "The file has more than {} {what}, which is more than can be counted here. Split the model into \
                     several files.",
                    self.limit
                ),
            ));
        }
        room
    }

    /// From the next face on, faces belong to `name`.
    pub fn begin(&mut self, kind: NameKind, name: &[u8], line: u32) {
        let face = self.document.face_lines.len() as u32;
        let document = &mut self.document;
        let (list, runs) = match kind {
            NameKind::Object => (&mut document.objects, &mut document.object_runs),
            NameKind::Group => (&mut document.groups, &mut document.group_runs),
            NameKind::Material => (&mut document.materials, &mut document.material_runs),
        };
        let text = String::from_utf8_lossy(name);
        let (text, foreign) = match text {
            std::borrow::Cow::Borrowed(text) => (std::borrow::Cow::Borrowed(text), false),
            std::borrow::Cow::Owned(_) => (latin_1(name).into(), true),
        };
        let index = match self.names[kind as usize].get(text.as_ref()) {
            Some(&index) => index,
            None => {
                let index = list.len() as u32;
                list.push(text.clone().into_owned());
                self.names[kind as usize].insert(text.clone().into_owned(), index);
                if foreign {
                    document.diagnostics.raise(line, DiagnosticKind::NameEncoding, || foreign_name(&text));
                }
                index
            }
        };
        begin_run(runs, face, index);
    }

    /// From the next face on, faces belong to the smoothing group of that number, 0 for none.
    pub fn begin_smoothing(&mut self, group: u32) {
        let face = self.document.face_lines.len() as u32;
        begin_run(&mut self.document.smoothing_runs, face, group);
    }

    /// Text of a name that is not looked up.
    pub fn free_name(&mut self, name: &[u8], line: u32) -> String {
        match std::str::from_utf8(name) {
            Ok(text) => text.to_owned(),
            Err(_) => {
                let text = latin_1(name);
                self.document.diagnostics.raise(line, DiagnosticKind::NameEncoding, || foreign_name(&text));
                text
            }
        }
    }

    /// Corner with numbers as OBJ counts them, from 1; 0 for none.
    #[inline(always)]
    pub fn use_corner(&mut self, position: u32, texcoord: u32, normal: u32) {
        self.highest[0] = self.highest[0].max(position);
        self.highest[1] = self.highest[1].max(texcoord);
        self.highest[2] = self.highest[2].max(normal);
        self.push_corner(Corner {
            position: PositionId(position - 1),
            texcoord: crate::model::TexcoordId::from_one_based(texcoord),
            normal: crate::model::NormalId::from_one_based(normal),
        });
    }
}

fn begin_run(runs: &mut Vec<Run>, face: u32, name: u32) {
    if runs.last().is_some_and(|run| run.face == face) {
        runs.pop();
    }
    if runs.last().is_none_or(|run| run.name != name) {
        runs.push(Run { face, name });
    }
}

/// Every byte is the character of the same number, so no name is lost.
fn latin_1(name: &[u8]) -> String {
    name.iter().map(|&byte| char::from(byte)).collect()
}

fn foreign_name(text: &str) -> String {
    format!(
        "The name {} is not written in UTF-8 and was read as Latin-1; if it looks wrong, export with UTF-8 names.",
        quoted(text)
    )
}

/// A piece of the file for a message: short, on one line, quoted, without control characters.
pub(super) fn quoted(text: &str) -> String {
    const MOST_CHARACTERS: usize = 32;
    let mut shown: String =
        text.chars().take(MOST_CHARACTERS).map(|c| if c.is_control() { '\u{FFFD}' } else { c }).collect();
    if text.chars().nth(MOST_CHARACTERS).is_some() {
        shown.push('…');
    }
    format!("“{}”", isolated(&shown))
}

/// [`quoted`] of bytes.
pub(super) fn quoted_bytes(bytes: &[u8]) -> String {
    quoted(&String::from_utf8_lossy(&bytes[..bytes.len().min(256)]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quoted_piece_is_short_on_one_line_and_without_control_characters() {
        assert_eq!(quoted("brass\tplate"), "“brass\u{FFFD}plate”");
        assert_eq!(quoted(&"x".repeat(33)), format!("“{}…”", "x".repeat(32)));
        assert_eq!(quoted("مصباح"), "“\u{2068}مصباح\u{2069}”");
        // What is opened before the cut is closed within the quotes.
        let opened = format!("\u{202E}\u{2067}{}", "x".repeat(40));
        assert_eq!(quoted(&opened), format!("“\u{2068}\u{202E}\u{2067}{}…\u{2069}\u{2069}”", "x".repeat(30)));
    }
}
