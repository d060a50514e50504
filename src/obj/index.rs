//! Numbers in the corners of faces and lines.

/// A corner's index as written.
#[derive(Clone, Copy)]
pub(super) enum Index {
    /// Nothing is written.
    Absent,
    /// Counted from 1, and perhaps not there yet.
    Number(u32),
    /// The specification counts from 1.
    Zero,
    /// Before the first, or beyond what can be counted.
    OutOfRange,
    /// Not an integer.
    NotInteger,
}

impl Index {
    pub fn read(word: &[u8], count: usize) -> Self {
        let (negative, digits) = match word {
            [] => return Index::Absent,
            [b'-', digits @ ..] => (true, digits),
            [b'+', digits @ ..] => (false, digits),
            digits => (false, digits),
        };
        if digits.is_empty() || !digits.iter().all(u8::is_ascii_digit) {
            return Index::NotInteger;
        }
        let value =
            digits.iter().fold(0u64, |value, digit| value.saturating_mul(10).saturating_add(u64::from(digit - b'0')));
        let number = match (value, negative) {
            (0, _) => return Index::Zero,
            (_, false) => Some(value),
            (_, true) => (count as u64 + 1).checked_sub(value).filter(|&number| number > 0),
        };
        match number.and_then(|number| u32::try_from(number).ok()) {
            Some(number) if number < u32::MAX => Index::Number(number),
            _ => Index::OutOfRange,
        }
    }

    /// The number, or 0 for none; whether it is wrong.
    pub fn or_none(self) -> (u32, bool) {
        match self {
            Index::Number(number) => (number, false),
            Index::Absent => (0, false),
            Index::Zero | Index::OutOfRange | Index::NotInteger => (0, true),
        }
    }
}
