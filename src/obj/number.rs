//! Numbers as exporters spell them, rounded to `f64` exactly as the standard library rounds them.
//!
//! The fast path (Clinger 1990, *How to Read Floating Point Numbers Accurately*): with the digits as an integer m <=
//! 2^53 and a power of ten 10^e, |e| <= 22, both are exact doubles, so one multiplication or division rounds once,
//! which is correct rounding. Everything else goes to the standard library's parser.
//!
//! Degenerate: no digit, a value beyond the range of `f64`, `nan`, `inf` and the like are not numbers here.
//! Cost: one pass over the digits.

/// Largest integer up to which every integer is an exact `f64` (2^53).
const EXACT_INTEGER: u64 = 1 << 53;

/// Digits that always fit a `u64` (10^19 - 1 < 2^64).
const MOST_DIGITS: usize = 19;

/// Digits of an exponent read on the fast path; more are left to the standard library.
const MOST_EXPONENT_DIGITS: usize = 5;

/// Powers of ten that are exact in `f64`.
const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];

/// Result of reading a token.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Spelling {
    /// A finite number.
    Plain(f64),
    /// A finite number whose decimal separator is a comma.
    Comma(f64),
    /// Anything else: not a number, not finite, out of range.
    Unreadable,
}

/// An exponent below this is written for what is nearly 0: a rounding residue, which says nothing about the precision
/// of the file's other numbers.
const NEARLY_ZERO_EXPONENT: i32 = -4;

/// The decimals that a number of so many `places` after its point is written with: `1.5e-3` has 4, `-4.371139e-08` its 6.
fn decimals_written(places: i32, exponent: i32) -> i32 {
    if exponent < NEARLY_ZERO_EXPONENT { places } else { places - exponent }
}

/// The digit at `at`, if there is one.
#[inline(always)]
fn digit(text: &[u8], at: usize) -> Option<u64> {
    let value = text.get(at)?.wrapping_sub(b'0');
    (value < 10).then_some(u64::from(value))
}

/// Reads the finite number that starts at `at`; returns it, the place after it, and the decimals it is written with (below
/// 0 where an exponent takes digits before the point).
///
/// `None` for every spelling that [`parse`] should handle: no digits, too many of them, a Fortran exponent, not finite.
/// The caller checks what follows.
#[inline(always)]
pub(super) fn scan(text: &[u8], at: usize) -> Option<(f64, usize, i32)> {
    let mut i = at;
    let sign = text.get(i).copied()?;
    let negative = sign == b'-';
    if negative || sign == b'+' {
        i += 1;
    }
    let first = i;
    let mut mantissa = 0u64;
    while let Some(d) = digit(text, i) {
        mantissa = mantissa.wrapping_mul(10).wrapping_add(d);
        i += 1;
    }
    let mut digits = i - first;
    let mut exponent = 0i32;
    if text.get(i) == Some(&b'.') {
        i += 1;
        let fraction = i;
        while let Some(d) = digit(text, i) {
            mantissa = mantissa.wrapping_mul(10).wrapping_add(d);
            i += 1;
        }
        let places = i - fraction;
        digits += places;
        exponent = -(places.min(MOST_DIGITS + 1) as i32);
    }
    if digits == 0 || digits > MOST_DIGITS {
        return None;
    }
    let mut decimals = -exponent;
    if text.get(i).is_some_and(|b| b | 0x20 == b'e') {
        let (written, next) = scan_exponent(text, i + 1)?;
        decimals = decimals_written(decimals, written);
        exponent += written;
        i = next;
    }
    if mantissa > EXACT_INTEGER || exponent.unsigned_abs() >= POWERS.len() as u32 {
        return Some((by_std(text.get(at..i)?)?, i, decimals));
    }
    let power = POWERS[exponent.unsigned_abs() as usize];
    let magnitude = if exponent < 0 { mantissa as f64 / power } else { mantissa as f64 * power };
    Some((if negative { -magnitude } else { magnitude }, i, decimals))
}

/// The decimals that any spelling of a number is written with, as [`scan`] counts them.
pub(super) fn decimals(token: &[u8]) -> i32 {
    let (mut places, mut after_point) = (0, false);
    for (at, &byte) in token.iter().enumerate() {
        match byte {
            b'.' | b',' => after_point = true,
            b'e' | b'E' | b'd' | b'D' => {
                return decimals_written(places, scan_exponent(token, at + 1).map_or(0, |(written, _)| written));
            }
            _ => places += i32::from(after_point),
        }
    }
    places
}

/// Sign and digits of an exponent from `at`; leading zeros are allowed.
fn scan_exponent(text: &[u8], at: usize) -> Option<(i32, usize)> {
    let mut i = at;
    let sign = text.get(i).copied()?;
    if sign == b'-' || sign == b'+' {
        i += 1;
    }
    let first = i;
    let mut value = 0i32;
    while let Some(d) = digit(text, i) {
        if i - first >= MOST_EXPONENT_DIGITS {
            return None;
        }
        value = value * 10 + d as i32;
        i += 1;
    }
    (i > first).then_some((if sign == b'-' { -value } else { value }, i))
}

/// The standard library's answer, if it is finite and the spelling has no letters but an exponent's.
fn by_std(token: &[u8]) -> Option<f64> {
    if !token.iter().all(|b| matches!(b, b'0'..=b'9' | b'+' | b'-' | b'.' | b'e' | b'E')) {
        return None;
    }
    std::str::from_utf8(token).ok()?.parse().ok().filter(|value: &f64| value.is_finite())
}

/// Judges a whole token: everything [`scan`] reads, more digits, Fortran's `d` exponent, a decimal comma.
pub(super) fn parse(token: &[u8]) -> Spelling {
    if let Some((value, end, _)) = scan(token, 0)
        && end == token.len()
    {
        return Spelling::Plain(value);
    }
    let mut spelling = token.to_vec();
    let mut commas = 0;
    for byte in &mut spelling {
        match byte {
            b'd' | b'D' => *byte = b'e',
            b',' => {
                commas += 1;
                *byte = b'.';
            }
            _ => {}
        }
    }
    match by_std(&spelling) {
        Some(value) if commas == 0 => Spelling::Plain(value),
        Some(value) => Spelling::Comma(value),
        None => Spelling::Unreadable,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(token: &str) -> Option<u64> {
        match parse(token.as_bytes()) {
            Spelling::Plain(value) => Some(value.to_bits()),
            _ => None,
        }
    }

    #[test]
    fn exporters_number_formats_match_the_standard_library() {
        for token in [
            "0",
            "-0",
            "+1",
            "-1.5",
            ".5",
            "-.5",
            "5.",
            "+5.",
            "1e3",
            "1E-3",
            "1e+003",
            ".8e-001",
            "-.7e+02",
            "0.000001",
            "1e22",
            "1e23",
            "9007199254740993",
            "9007199254740992",
            "123456789012345678",
            "0.1234567890123456789012345",
            "1.7976931348623157e308",
            "5e-324",
            "2.4703282292062327e-324",
            "1e-400",
            "00000000000000000000000001.5",
            "2.2250738585072011e-308",
            "1e00000000022",
            "179769313486231570000000000000000000000",
        ] {
            let std: f64 = token.parse().unwrap();
            assert_eq!(plain(token), Some(std.to_bits()), "{token}");
        }
    }

    #[test]
    fn decimals_are_counted_and_shifted_by_the_exponent() {
        for (token, expected) in [
            ("7", 0),
            ("0.5", 1),
            ("-0.500000", 6),
            (".25", 2),
            ("3.", 0),
            ("1.5e-3", 4),
            ("1.5E+1", 0),
            ("12e2", -2),
            ("-4.371139e-08", 6),
            ("0.30000000000000004", 17),
            ("0.1234567890123456789012345", 25),
            ("1,25", 2),
            ("1.5d-3", 4),
        ] {
            assert_eq!(decimals(token.as_bytes()), expected, "{token}");
            if let Some((_, _, scanned)) = scan(token.as_bytes(), 0).filter(|scanned| scanned.1 == token.len()) {
                assert_eq!(scanned, expected, "{token}");
            }
        }
    }

    #[test]
    fn fortran_exponents_are_read() {
        assert_eq!(parse(b"1.5d-3"), Spelling::Plain(1.5e-3));
        assert_eq!(parse(b"-2D+01"), Spelling::Plain(-20.0));
    }

    #[test]
    fn decimal_commas_are_recognised() {
        assert_eq!(parse(b"-0,25"), Spelling::Comma(-0.25));
        assert_eq!(parse(b",5"), Spelling::Comma(0.5));
        assert_eq!(parse(b"1,234,5"), Spelling::Unreadable);
        assert_eq!(parse(b"1,234.5"), Spelling::Unreadable);
    }

    #[test]
    fn non_finite_numbers_are_unreadable() {
        for token in [
            "",
            "-",
            "+",
            ".",
            "-.",
            "e5",
            "1e",
            "1e+",
            "nan",
            "-nan",
            "inf",
            "-inf",
            "infinity",
            "1.#IND",
            "-1.#INF",
            "1e999",
            "0x10",
            "1_000",
            "1.2.3",
            "--1",
            "1e5e5",
            "12abc",
            "1 2",
            "3E4570711268",
        ] {
            assert_eq!(parse(token.as_bytes()), Spelling::Unreadable, "{token}");
        }
    }

    #[cfg(not(target_arch = "wasm32"))]
    mod against_std {
        use super::*;
        use proptest::prelude::*;

        fn check(token: &str) {
            let std = token.parse::<f64>().ok().filter(|v| v.is_finite());
            assert_eq!(plain(token), std.map(f64::to_bits), "{token}");
            if let Some((_, _, scanned)) = scan(token.as_bytes(), 0).filter(|scanned| scanned.1 == token.len()) {
                assert_eq!(scanned, decimals(token.as_bytes()), "{token}");
            }
        }

        proptest! {
            #![proptest_config(ProptestConfig { cases: 4000, failure_persistence: None, ..ProptestConfig::default() })]

            #[test]
            fn any_spelling(token in "[+-]?[0-9]{0,22}(\\.[0-9]{0,22})?([eE][+-]?[0-9]{0,4})?") {
                check(&token);
            }

            #[test]
            fn near_numbers(token in "[0-9eE+.-]{0,12}") {
                check(&token);
            }

            #[test]
            fn every_double_round_trips(bits in any::<u64>()) {
                let value = f64::from_bits(bits);
                prop_assume!(value.is_finite());
                for token in [format!("{value}"), format!("{value:e}"), format!("{value:.6}"), format!("{value:.16e}")] {
                    check(&token);
                }
            }

            #[test]
            fn halfway_cases(mantissa in (1u64 << 52)..(1 << 53), tail in 0u64..3, places in 0usize..23) {
                // 2m + 1 at twice the spacing lies halfway between two doubles.
                let digits = (mantissa * 4 + tail).to_string();
                check(&digits);
                check(&format!("{digits}e-{places}"));
                check(&format!("{digits}e{places}"));
            }
        }
    }
}
