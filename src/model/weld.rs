//! Distinct values of a list of points: exporters repeat the same point under many indices.
//!
//! Two points are the same when every coordinate is (so 0 and -0 are); nothing is rounded. A non-finite point equals no
//! other. Cost: one pass with an open-addressing table, 4 to 8 bytes a point.

/// Distinct values in order of appearance.
pub(crate) struct Values {
    /// Value of each point.
    pub(crate) value_of: Vec<u32>,
    /// First point with each value.
    pub(crate) first_of: Vec<u32>,
}

pub(crate) fn values<const N: usize>(points: &[[f64; N]]) -> Values {
    const EMPTY: u32 = u32::MAX;
    let capacity = (points.len() + points.len() / 2).next_power_of_two().max(16);
    let mut table = vec![EMPTY; capacity];
    let mut value_of = Vec::with_capacity(points.len());
    let mut first_of = Vec::with_capacity(points.len());
    for (index, point) in points.iter().enumerate() {
        if point.iter().any(|coordinate| !coordinate.is_finite()) {
            // Never looked for. In the table, all of them would collide in one slot.
            value_of.push(first_of.len() as u32);
            first_of.push(index as u32);
            continue;
        }
        let mut slot = hash(point) as usize & (capacity - 1);
        let value = loop {
            match table[slot] {
                EMPTY => {
                    let value = first_of.len() as u32;
                    first_of.push(index as u32);
                    table[slot] = value;
                    break value;
                }
                value if points[first_of[value as usize] as usize] == *point => break value,
                _ => slot = (slot + 1) & (capacity - 1),
            }
        };
        value_of.push(value);
    }
    Values { value_of, first_of }
}

/// Adding 0 makes -0 and 0 one; the multiplier and the final fold are those of a 64-bit multiply-xorshift hash.
fn hash<const N: usize>(point: &[f64; N]) -> u64 {
    let mixed = point.iter().fold(0u64, |state, coordinate| {
        let state = (state.rotate_left(23) ^ (coordinate + 0.0).to_bits()).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        state ^ (state >> 29)
    });
    mixed ^ (mixed >> 32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn duplicates_and_signed_zeros_are_one_value() {
        let welded = values(&[[0.0, 1.0], [2.0, 3.0], [-0.0, 1.0], [2.0, 3.0], [2.0, 3.000_000_1]]);
        assert_eq!(welded.value_of, [0, 1, 0, 1, 2]);
        assert_eq!(welded.first_of, [0, 1, 4]);
    }

    #[test]
    fn non_finite_points_are_never_welded() {
        // A link of 142 bytes made these; with linear probing, they would take an hour.
        const MANY: usize = 1 << 20;
        let mut points = vec![[f64::NAN, 0.0]; MANY];
        points.extend([[0.0, 0.0], [f64::NAN, 0.0], [0.0, 0.0]]);
        let welded = values(&points);
        assert_eq!(welded.first_of.len(), MANY + 2);
        assert_eq!(welded.value_of[MANY..], [MANY as u32, MANY as u32 + 1, MANY as u32]);
    }
}
