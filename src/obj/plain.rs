//! The fast path: `v`, `vt`, `vn` and `f` as exporters write them, straight from the chunk in one pass.
//!
//! Each function either takes one whole line and returns the place after its end, or returns `None` having changed
//! nothing; then the line takes the full parser. Nothing is reported from here.

use super::elements::{Bulk, Elements};
use super::number;
use super::scan::MAX_LINE_BYTES;
use crate::model::document::is_measured;

#[inline(always)]
fn is_blank(byte: u8) -> bool {
    byte == b' ' || byte == b'\t'
}

#[inline(always)]
fn byte(text: &[u8], at: usize) -> u8 {
    text.get(at).copied().unwrap_or(b'\n')
}

#[inline(always)]
fn skip_blanks(text: &[u8], mut at: usize) -> usize {
    while is_blank(byte(text, at)) {
        at += 1;
    }
    at
}

/// The place after at least one blank.
#[inline(always)]
fn gap(text: &[u8], at: usize) -> Option<usize> {
    if is_blank(byte(text, at)) { Some(skip_blanks(text, at + 1)) } else { None }
}

/// The place after the line's end, if only blanks come before it. A CR at the very end of `text` ends the line alone;
/// the caller handles a LF that follows in the next chunk.
#[inline(always)]
fn line_end(text: &[u8], at: usize) -> Option<usize> {
    let at = skip_blanks(text, at);
    match byte(text, at) {
        b'\n' => Some(at + 1),
        b'\r' if text.get(at + 1) == Some(&b'\n') => Some(at + 2),
        b'\r' => Some(at + 1),
        _ => None,
    }
}

/// `COUNT` numbers, the place after them, and the most decimals that one of them is written with.
#[inline(always)]
fn numbers<const COUNT: usize>(text: &[u8], at: usize) -> Option<([f64; COUNT], usize, i32)> {
    let mut values = [0.0; COUNT];
    let (mut at, mut most) = (at, 0);
    for value in &mut values {
        let decimals;
        at = gap(text, at)?;
        (*value, at, decimals) = number::scan(text, at).filter(|(value, ..)| is_measured(*value))?;
        most = decimals.max(most);
    }
    Some((values, at, most))
}

/// Skips further numbers without reading them; returns how many and the place after the line.
fn further_numbers(text: &[u8], mut at: usize) -> Option<(usize, usize)> {
    let mut count = 0;
    loop {
        if let Some(end) = line_end(text, at) {
            return Some((count, end));
        }
        at = gap(text, at)?;
        let start = at;
        while matches!(byte(text, at), b'0'..=b'9' | b'.' | b'-' | b'+' | b'e' | b'E') {
            at += 1;
        }
        if at == start {
            return None;
        }
        count += 1;
    }
}

/// A number in a face's corner, counted from 1 and not 0, and the place after it. Negative ones count back from `count`.
#[inline(always)]
fn index(text: &[u8], at: usize, count: usize) -> Option<(u32, usize)> {
    const MOST_DIGITS: usize = 9;
    let negative = byte(text, at) == b'-';
    let first = at + usize::from(negative);
    let mut at = first;
    let mut value = 0u32;
    loop {
        let digit = byte(text, at).wrapping_sub(b'0');
        if digit > 9 {
            break;
        }
        value = value.wrapping_mul(10).wrapping_add(u32::from(digit));
        at += 1;
    }
    if at - first > MOST_DIGITS || value == 0 {
        return None;
    }
    if !negative {
        return Some((value, at));
    }
    // `count` is at most MOST_ELEMENTS, and 1 <= value <= count here.
    (value as usize <= count).then(|| (count as u32 - value + 1, at))
}

impl Elements {
    /// Takes the line that starts at `at`, if it is of the plain kind; returns the place after it.
    #[inline(always)]
    pub fn plain(&mut self, text: &[u8], at: usize, line: u32) -> Option<usize> {
        let second = byte(text, at + 1);
        match byte(text, at) {
            b'v' if is_blank(second) => self.plain_position(text, at),
            b'v' if second == b't' => self.plain_texcoord(text, at),
            b'v' if second == b'n' => self.plain_normal(text, at),
            b'f' if is_blank(second) => self.plain_face(text, at, line),
            _ => None,
        }
    }

    fn plain_position(&mut self, text: &[u8], start: usize) -> Option<usize> {
        let (position, at, decimals) = numbers::<3>(text, start + 1)?;
        let end = match line_end(text, at) {
            Some(end) => end,
            None => match further_numbers(text, at)? {
                (1 | 3 | 4, end) => end,
                _ => return None,
            },
        };
        if self.document.positions.len() >= self.limit as usize || end - start > MAX_LINE_BYTES {
            return None;
        }
        self.spend(Bulk::Position, end - start);
        self.note_decimals(0, decimals);
        self.push_position(position);
        Some(end)
    }

    fn plain_texcoord(&mut self, text: &[u8], start: usize) -> Option<usize> {
        let (texcoord, at, decimals) = numbers::<2>(text, start + 2)?;
        let end = match line_end(text, at) {
            Some(end) => end,
            None => match further_numbers(text, at)? {
                (1, end) => end,
                _ => return None,
            },
        };
        if self.document.texcoords.len() >= self.limit as usize || end - start > MAX_LINE_BYTES {
            return None;
        }
        self.spend(Bulk::Texcoord, end - start);
        self.note_decimals(1, decimals);
        self.push_texcoord(texcoord);
        Some(end)
    }

    fn plain_normal(&mut self, text: &[u8], start: usize) -> Option<usize> {
        let (normal, at, _) = numbers::<3>(text, start + 2)?;
        let end = line_end(text, at)?;
        if self.document.normals.len() >= self.limit as usize || end - start > MAX_LINE_BYTES {
            return None;
        }
        self.spend(Bulk::Normal, end - start);
        self.push_normal(normal);
        Some(end)
    }

    fn plain_face(&mut self, text: &[u8], start: usize, line: u32) -> Option<usize> {
        let first = self.document.corners.len();
        let highest = self.highest;
        let taken = self.plain_corners(text, start + 1).filter(|&(form, end)| {
            let corners = self.document.corners.len();
            form.is_power_of_two()
                && corners - first >= 3
                && corners <= self.limit as usize
                && self.face_statements < self.limit
                && end - start <= MAX_LINE_BYTES
        });
        let Some((form, end)) = taken else {
            self.document.corners.truncate(first);
            self.highest = highest;
            return None;
        };
        let textured = form & 0b1010 != 0;
        self.with_texcoords |= textured;
        self.without_texcoords |= !textured;
        self.face_statements += 1;
        self.spend(Bulk::Face, end - start);
        self.close_face(line);
        Some(end)
    }

    /// Pushes the corners of one line. Returns which forms they had (bit 0 `v`, 1 `v/vt`, 2 `v//vn`, 3 `v/vt/vn`) and
    /// the place after the line.
    #[inline(always)]
    fn plain_corners(&mut self, text: &[u8], mut at: usize) -> Option<(u8, usize)> {
        let positions = self.document.positions.len();
        let texcoords = self.document.texcoords.len();
        let normals = self.document.normals.len();
        let mut forms = 0;
        loop {
            at = gap(text, at)?;
            let position;
            let (mut texcoord, mut normal) = (0, 0);
            (position, at) = index(text, at, positions)?;
            if byte(text, at) == b'/' {
                at += 1;
                if byte(text, at) != b'/' {
                    (texcoord, at) = index(text, at, texcoords)?;
                }
                if byte(text, at) == b'/' {
                    (normal, at) = index(text, at + 1, normals)?;
                }
            }
            forms |= 1 << (u8::from(texcoord != 0) | u8::from(normal != 0) << 1);
            self.use_corner(position, texcoord, normal);
            if let Some(end) = line_end(text, at) {
                return Some((forms, end));
            }
        }
    }
}
