//! Edits to write: new texture coordinates of corners, and how they are spelled.

use crate::model::{Document, TexcoordId, document::measured};

/// Decimals that edited uvs are written with at least and at most; a file says how many by its own.
const DECIMALS: std::ops::RangeInclusive<u32> = 6..=12;

/// Decimals that a uv can be given at most: beyond them a double between 0 and 1 has no significant digits.
pub const MAX_DECIMALS: u32 = 15;

/// Decimals in which edited uvs of a model are written: the most in any `vt` of its file, 6 to 12.
pub fn decimals(document: &Document) -> u32 {
    document.decimals[1].clamp(*DECIMALS.start(), *DECIMALS.end())
}

/// A texture coordinate of [`Edits`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NewTexcoord(pub(super) u32);

/// What a new texture coordinate is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Value {
    /// Rounded to so many decimals.
    Rounded([f64; 2], u32),
    /// That of a `vt` of the file, spelling included.
    Same(TexcoordId),
}

/// No new texture coordinate.
const NONE: u32 = u32::MAX;

/// New texture coordinates of some corners.
///
/// Corners that are given one [`NewTexcoord`] share a `vt`; corners that are given different ones do not, not even where their
/// values are the same: so an open cut is written.
#[derive(Clone, Debug)]
pub struct Edits {
    values: Vec<Value>,
    /// Of each corner of the document; [`NONE`] where it keeps what it has.
    corners: Vec<u32>,
}

impl Edits {
    /// None yet, of a model.
    pub fn new(document: &Document) -> Self {
        Self { values: Vec::new(), corners: vec![NONE; document.corners.len()] }
    }

    /// A uv, rounded to so many decimals (at most [`MAX_DECIMALS`]); `None` for one that no file can hold.
    pub fn texcoord(&mut self, uv: [f64; 2], decimals: u32) -> Option<NewTexcoord> {
        let decimals = decimals.min(MAX_DECIMALS);
        let value = Value::Rounded(uv.map(|x| rounded(x, decimals)), decimals);
        uv.iter().all(|x| measured(*x).is_some()).then(|| self.push(value))
    }

    /// The same uv as a `vt` of the file, on a separate line if not all its corners get it.
    pub fn same_as(&mut self, texcoord: TexcoordId) -> NewTexcoord {
        self.push(Value::Same(texcoord))
    }

    fn push(&mut self, value: Value) -> NewTexcoord {
        self.values.push(value);
        NewTexcoord(self.values.len() as u32 - 1)
    }

    /// Corner `corner` of the document gets `texcoord`. Where that is what the rounding of the corner's own value is, it keeps its
    /// own, and with it its spelling.
    pub fn set(&mut self, document: &Document, corner: usize, texcoord: NewTexcoord) {
        let own = document.corners[corner].texcoord.map(|id| document.texcoords[id.index()]);
        let stays = match self.values[texcoord.0 as usize] {
            Value::Rounded(uv, decimals) => own.is_some_and(|own| own.map(|x| rounded(x, decimals)) == uv),
            Value::Same(_) => false,
        };
        self.corners[corner] = if stays { NONE } else { texcoord.0 };
    }

    /// The uv that a corner will have; `None` where it has none.
    pub fn uv(&self, document: &Document, corner: usize) -> Option<[f64; 2]> {
        let of_file = |id: TexcoordId| document.texcoords[id.index()];
        match self.of(corner).map(|new| self.values[new as usize]) {
            Some(Value::Rounded(uv, _)) => Some(uv),
            Some(Value::Same(id)) => Some(of_file(id)),
            None => document.corners[corner].texcoord.map(of_file),
        }
    }

    /// Whether no corner gets anything.
    pub fn is_empty(&self) -> bool {
        self.corners.iter().all(|&new| new == NONE)
    }

    pub(super) fn of(&self, corner: usize) -> Option<u32> {
        self.corners.get(corner).copied().filter(|&new| new != NONE)
    }

    pub(super) fn corners(&self) -> impl Iterator<Item = (usize, Option<u32>)> {
        (0..self.corners.len()).map(|corner| (corner, self.of(corner)))
    }

    pub(super) fn values(&self) -> &[Value] {
        &self.values
    }
}

/// A number as it is written; nothing is -0.
pub(super) fn spelled(value: f64, decimals: u32) -> String {
    let text = format!("{value:.*}", decimals as usize);
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|byte| matches!(byte, b'0' | b'.')) => digits.to_owned(),
        _ => text,
    }
}

/// The number that is read where `value` was written.
pub(super) fn rounded(value: f64, decimals: u32) -> f64 {
    spelled(value, decimals).parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_spelled_with_their_decimals_and_read_back() {
        for (value, decimals, text) in [
            (0.5, 6, "0.500000"),
            (-0.0000001, 6, "0.000000"),
            (-0.25, 6, "-0.250000"),
            (0.1 + 0.2, 15, "0.300000000000000"),
            (1234.5678915, 6, "1234.567892"),
            (3.0, 0, "3"),
        ] {
            assert_eq!(spelled(value, decimals), text);
            assert_eq!(rounded(value, decimals), text.parse::<f64>().expect("a number"));
        }
    }

    #[test]
    fn decimals_follow_the_file_within_limits() {
        for (most, expected) in [(0, 6), (4, 6), (8, 8), (12, 12), (17, 12)] {
            let document = Document { decimals: [3, most], ..Document::default() };
            assert_eq!(decimals(&document), expected);
        }
    }
}
