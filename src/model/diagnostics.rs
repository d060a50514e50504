//! Diagnostics of the reader: kept up to a limit, all of them counted.

use std::collections::BTreeMap;
use std::fmt;

/// Diagnostics kept in full: more than anyone reads, and few enough to send.
pub const MAX_KEPT_DIAGNOSTICS: usize = 200;

/// One warning about the file.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Diagnostic {
    /// Line, from 1; 0 where it is about the whole file.
    pub line: u32,
    /// Stable code.
    pub kind: DiagnosticKind,
    /// One plain sentence: what was found, how it was handled, and what to do about it.
    pub message: String,
}

impl fmt::Display for Diagnostic {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.line {
            0 => f.write_str(&self.message),
            line => write!(f, "line {line}: {}", self.message),
        }
    }
}

/// Stable codes of diagnostics.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum DiagnosticKind {
    /// A number that is not a finite number, or beyond what can be measured.
    BadNumber,
    /// Fewer numbers than the statement needs.
    MissingNumber,
    /// More numbers than the statement can have; the first ones were used.
    ExtraNumbers,
    /// A comma as decimal separator, read as a point.
    DecimalComma,
    /// A face with fewer than three corners, left out.
    TooFewCorners,
    /// A face corner without a readable position index; the face is left out.
    BadCorner,
    /// A face corner with the position index 0; the face is left out.
    ZeroIndex,
    /// A face corner whose position does not exist; the face is left out.
    PositionOutOfRange,
    /// A face corner whose position could not be read; the face is left out.
    UnreadablePosition,
    /// A face with a texture coordinate index that does not exist; the corner has none. Once per face.
    BadTexcoordIndex,
    /// A face with a normal index that does not exist; the corner has none. Once per face.
    BadNormalIndex,
    /// A face whose corners are written in different forms. Once per face.
    MixedCorners,
    /// Some faces have texture coordinates and others have none. Once per file.
    MixedFaces,
    /// `o`, `usemtl` or `mtllib` without a name; what the first two begin has the empty name.
    MissingName,
    /// A name that is not UTF-8, read as Latin-1.
    NameEncoding,
    /// Statements that texturing faces does not need. Once per keyword.
    PassedOver,
    /// Statements that OBJ does not know. Once per keyword.
    UnknownStatement,
    /// `call` and `csh`, which reach outside the file. Once per keyword.
    NeverRun,
    /// A line with NUL bytes: the file is damaged.
    NulBytes,
    /// A line longer than the reader holds, left out.
    LineTooLong,
    /// The file ends within a statement.
    CutShort,
    /// A self-intersecting face that was triangulated without checks, after too much effort. Found in the model, not in
    /// the text.
    TangledFace,
}

impl DiagnosticKind {
    /// All that the text can cause, in order.
    pub(crate) const ALL: [DiagnosticKind; 21] = [
        Self::BadNumber,
        Self::MissingNumber,
        Self::ExtraNumbers,
        Self::DecimalComma,
        Self::TooFewCorners,
        Self::BadCorner,
        Self::ZeroIndex,
        Self::PositionOutOfRange,
        Self::UnreadablePosition,
        Self::BadTexcoordIndex,
        Self::BadNormalIndex,
        Self::MixedCorners,
        Self::MixedFaces,
        Self::MissingName,
        Self::NameEncoding,
        Self::PassedOver,
        Self::UnknownStatement,
        Self::NeverRun,
        Self::NulBytes,
        Self::LineTooLong,
        Self::CutShort,
    ];

    /// True for what leaves a face out of the model.
    pub fn is_about_a_face(self) -> bool {
        matches!(
            self,
            Self::TooFewCorners
                | Self::BadCorner
                | Self::ZeroIndex
                | Self::PositionOutOfRange
                | Self::UnreadablePosition
        )
    }
}

/// The first diagnostics in full, the rest counted by kind.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Diagnostics {
    /// At most [`MAX_KEPT_DIAGNOSTICS`], by line; the first of every kind is among them.
    pub kept: Vec<Diagnostic>,
    /// All that were raised, kept or not, by kind.
    pub counts: BTreeMap<DiagnosticKind, u32>,
}

impl Diagnostics {
    /// All that were raised of `kind`.
    pub fn count(&self, kind: DiagnosticKind) -> u32 {
        self.counts.get(&kind).copied().unwrap_or(0)
    }

    /// All that were raised.
    pub fn total(&self) -> u64 {
        self.counts.values().map(|&n| u64::from(n)).sum()
    }

    /// All that were raised and not kept.
    pub fn left_out(&self) -> u64 {
        self.total() - self.kept.len() as u64
    }

    /// Counts one, and keeps it if there is room or if it is the first of its kind. The sentence is made only then.
    pub(crate) fn raise(&mut self, line: u32, kind: DiagnosticKind, message: impl FnOnce() -> String) {
        let count = self.counts.entry(kind).or_insert(0);
        *count = count.saturating_add(1);
        if self.kept.len() >= MAX_KEPT_DIAGNOSTICS {
            if *count > 1 {
                return;
            }
            self.drop_one_of_the_most_numerous();
        }
        self.kept.push(Diagnostic { line, kind, message: message() });
    }

    /// Makes room for the first of a kind: there are fewer kinds than places, so some kind has two.
    fn drop_one_of_the_most_numerous(&mut self) {
        let alike = |place: usize| self.kept.iter().filter(|other| other.kind == self.kept[place].kind).count();
        if let Some((_, last)) = (0..self.kept.len()).map(|place| (alike(place), place)).max() {
            self.kept.remove(last);
        }
    }

    /// Sorts what was found at the end of the file in with the rest, by line.
    pub(crate) fn sort(&mut self) {
        for end in 1..self.kept.len() {
            let line = self.kept[end].line;
            let place = self.kept[..end].partition_point(|earlier| earlier.line <= line);
            self.kept[place..=end].rotate_right(1);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limit_keeps_the_first_of_each_kind() {
        let mut diagnostics = Diagnostics::default();
        for line in 1..=1000 {
            diagnostics.raise(line, DiagnosticKind::BadNumber, String::new);
        }
        diagnostics.raise(7, DiagnosticKind::CutShort, || "late".to_owned());
        diagnostics.sort();
        assert_eq!(diagnostics.kept.len(), MAX_KEPT_DIAGNOSTICS);
        assert_eq!(diagnostics.count(DiagnosticKind::BadNumber), 1000);
        assert_eq!(diagnostics.left_out(), 801);
        assert_eq!(
            diagnostics.kept[7],
            Diagnostic { line: 7, kind: DiagnosticKind::CutShort, message: "late".to_owned() }
        );
        assert_eq!(diagnostics.kept[0].line, 1);
        assert!(diagnostics.kept.is_sorted_by_key(|d| d.line));
    }
}
