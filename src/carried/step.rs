//! Steps of the lattice that coordinates are rounded to: 1, 2 or 5 times a power of ten.
//!
//! A decimal of few digits is then a whole number of steps, and decodes to exactly the double of its decimals: a whole
//! number below 2^53 over a power of ten up to 10^22 is one division, which IEEE 754 rounds correctly.

/// A step: `times` over 10^`digits`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Step {
    /// 1, 2 or 5.
    pub times: u8,
    /// Digits after the decimal point, [`DIGITS`]; negative for tens, hundreds.
    pub digits: i8,
}

/// Range of [`Step::digits`]: powers of ten that a double holds exactly, and steps of a millionth of what is measured where
/// that is a million units across.
pub const DIGITS: std::ops::RangeInclusive<i8> = -12..=22;

/// Factors of the power of ten, coarse to fine.
pub(super) const TIMES: [u8; 3] = [5, 2, 1];

const POWERS: [f64; 23] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20,
    1e21, 1e22,
];

impl Step {
    /// The step as a number.
    pub fn size(self) -> f64 {
        self.of(1)
    }

    /// `count` steps; `count` below 2^53 either way.
    pub fn of(self, count: i64) -> f64 {
        let whole = count as f64 * f64::from(self.times);
        let power = POWERS.get(usize::from(self.digits.unsigned_abs())).copied().unwrap_or(f64::INFINITY);
        if self.digits < 0 { whole * power } else { whole / power }
    }

    /// The nearest whole number of steps; `None` beyond 2^53 over `times`.
    pub fn count(self, value: f64) -> Option<i64> {
        let power = POWERS.get(usize::from(self.digits.unsigned_abs()))?;
        let scaled = if self.digits < 0 { value / power } else { value * power };
        let count = (scaled / f64::from(self.times)).round();
        // False for NaN, too.
        (count.abs() * f64::from(self.times) <= (1u64 << 53) as f64).then_some(count as i64)
    }

    /// The next finer one.
    pub fn finer(self) -> Option<Step> {
        let (times, digits) = match self.times {
            5 => (2, self.digits),
            2 => (1, self.digits),
            _ => (5, self.digits + 1),
        };
        DIGITS.contains(&digits).then_some(Step { times, digits })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decimals_decode_to_the_exact_doubles() {
        for (text, digits) in [("0.555649", 6), ("-2.25386", 5), ("0.1", 1), ("1999.999", 3), ("0.3", 15), ("7", 0)] {
            let value: f64 = text.parse().unwrap();
            let step = Step { times: 1, digits };
            assert_eq!(step.of(step.count(value).unwrap()), value, "{text}");
        }
        let fives = Step { times: 5, digits: 4 };
        assert_eq!(fives.count(0.0125), Some(25));
        assert_eq!(fives.of(25), 0.0125);
        assert_eq!(Step { times: 2, digits: -3 }.of(7), 14_000.0);
    }

    #[test]
    fn steps_become_finer_in_order_and_out_of_range_is_reported() {
        let mut step = Step { times: 1, digits: 0 };
        let mut sizes = vec![step.size()];
        for _ in 0..4 {
            step = step.finer().unwrap();
            sizes.push(step.size());
        }
        assert_eq!(sizes, [1.0, 0.5, 0.2, 0.1, 0.05]);
        assert_eq!(Step { times: 1, digits: 22 }.finer(), None);
        for beyond in [1e16, f64::INFINITY, f64::NAN] {
            assert_eq!(Step { times: 1, digits: 0 }.count(beyond), None);
        }
    }
}
