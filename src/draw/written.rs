//! How drawings and pages are written: lengths, colours, escaped text, data URLs, figures drawn as strokes.

use glam::DVec2;

/// The finest step lengths are written in, per unit.
pub(super) const HUNDREDTH: f64 = 100.0;

/// Strokes of a figure on a field 4 wide and 6 high, y up.
pub(super) fn figure(letter: char) -> &'static [&'static [(u8, u8)]] {
    match letter {
        '0' => &[&[(0, 1), (0, 5), (1, 6), (3, 6), (4, 5), (4, 1), (3, 0), (1, 0), (0, 1)]],
        '1' => &[&[(1, 5), (2, 6), (2, 0)]],
        '2' => &[&[(0, 5), (1, 6), (3, 6), (4, 5), (4, 4), (0, 0), (4, 0)]],
        '3' => &[
            &[(0, 5), (1, 6), (3, 6), (4, 5), (4, 4), (3, 3), (4, 2), (4, 1), (3, 0), (1, 0), (0, 1)],
            &[(2, 3), (3, 3)],
        ],
        '4' => &[&[(3, 0), (3, 6), (0, 2), (4, 2)]],
        '5' => &[&[(4, 6), (0, 6), (0, 3), (3, 3), (4, 2), (4, 1), (3, 0), (1, 0), (0, 1)]],
        '6' => &[&[(4, 5), (3, 6), (1, 6), (0, 5), (0, 1), (1, 0), (3, 0), (4, 1), (4, 2), (3, 3), (0, 3)]],
        '7' => &[&[(0, 6), (4, 6), (1, 0)]],
        '8' => &[&[
            (1, 3),
            (0, 4),
            (0, 5),
            (1, 6),
            (3, 6),
            (4, 5),
            (4, 4),
            (3, 3),
            (1, 3),
            (0, 2),
            (0, 1),
            (1, 0),
            (3, 0),
            (4, 1),
            (4, 2),
            (3, 3),
        ]],
        '9' => &[&[(0, 1), (1, 0), (3, 0), (4, 1), (4, 5), (3, 6), (1, 6), (0, 5), (0, 4), (1, 3), (4, 3)]],
        '.' => &[&[(0, 0), (1, 0)]],
        _ => &[],
    }
}

/// Writes a place, lengths to 1 / `steps` of a unit.
pub(super) fn push_place(out: &mut String, at: DVec2, steps: f64) {
    push_length(out, at.x, steps);
    out.push(' ');
    push_length(out, at.y, steps);
}

/// Shortest decimal of a length rounded to 1 / `steps`, a power of ten up to 100.
fn push_length(out: &mut String, length: f64, steps: f64) {
    let units = (length * steps).round() as i64;
    let (whole, part) = (units.unsigned_abs() / steps as u64, units.unsigned_abs() % steps as u64);
    if units < 0 {
        out.push('-');
    }
    let mut digits = [0u8; 20];
    let mut count = 0;
    let mut rest = whole;
    while rest > 0 || count == 0 {
        digits[count] = b'0' + (rest % 10) as u8;
        rest /= 10;
        count += 1;
    }
    if whole > 0 || part == 0 {
        out.extend(digits[..count].iter().rev().map(|&digit| char::from(digit)));
    }
    if part > 0 {
        let hundredths = part * (HUNDREDTH / steps) as u64;
        out.push('.');
        out.push(char::from(b'0' + (hundredths / 10) as u8));
        if !hundredths.is_multiple_of(10) {
            out.push(char::from(b'0' + (hundredths % 10) as u8));
        }
    }
}

/// `#RRGGBB`.
pub(crate) fn hexadecimal([r, g, b]: [u8; 3]) -> String {
    format!("#{r:02X}{g:02X}{b:02X}")
}

/// Writes text so that it is text in XML and HTML, within elements and quoted attributes; what XML cannot hold (control
/// characters) becomes U+FFFD.
pub(crate) fn escape_into(out: &mut String, text: &str) {
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' => out.push(' '),
            '\u{FFFE}' | '\u{FFFF}' => out.push('\u{FFFD}'),
            letter if letter.is_control() => out.push('\u{FFFD}'),
            letter => out.push(letter),
        }
    }
}

/// Bytes as a data URL (RFC 2397, base64 of RFC 4648).
pub fn data_url(kind: &str, bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut url = String::with_capacity(kind.len() + 16 + bytes.len().div_ceil(3) * 4);
    url.push_str("data:");
    url.push_str(kind);
    url.push_str(";base64,");
    for three in bytes.chunks(3) {
        let bits = three.iter().fold(0u32, |bits, &byte| bits << 8 | u32::from(byte)) << (8 * (3 - three.len()));
        for place in 0..4 {
            let letter = LETTERS[(bits >> (18 - 6 * place) & 63) as usize];
            url.push(if place > three.len() { '=' } else { char::from(letter) });
        }
    }
    url
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_short_and_exact_to_the_hundredth() {
        for (length, steps, text) in [
            (0.0, 100.0, "0"),
            (-0.001, 100.0, "0"),
            (0.5, 100.0, ".5"),
            (-0.25, 100.0, "-.25"),
            (12.0, 100.0, "12"),
            (1023.999, 100.0, "1024"),
            (7.04, 100.0, "7.04"),
            (3.24, 10.0, "3.2"),
            (-1e6, 100.0, "-1000000"),
        ] {
            let mut out = String::new();
            push_length(&mut out, length, steps);
            assert_eq!(out, text);
        }
    }

    #[test]
    fn base64_matches_the_standard() {
        // RFC 4648, section 10.
        for (bytes, text) in [("", ""), ("f", "Zg=="), ("fo", "Zm8="), ("foo", "Zm9v"), ("foobar", "Zm9vYmFy")] {
            assert_eq!(data_url("a/b", bytes.as_bytes()), format!("data:a/b;base64,{text}"));
        }
    }

    #[test]
    fn no_name_closes_its_xml_element() {
        let mut out = String::new();
        escape_into(&mut out, "<a b=\"c\" d='&'>\u{0}\u{FFFF}");
        assert_eq!(out, "&lt;a b=&quot;c&quot; d=&#39;&amp;&#39;&gt;\u{FFFD}\u{FFFD}");
    }
}
