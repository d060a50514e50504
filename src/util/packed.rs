//! Tuples of 32-bit numbers as one integer that sorts as they do.
//!
//! Every type that is sorted brings its own copy of the sort, 3 to 10 KB of the page's module each. What is sorted in
//! large numbers is packed, so that three copies serve all; small or rare sorts use [`ordered`].

use std::cmp::Ordering;

/// Two numbers, the first of them decides.
pub(crate) fn two(first: u32, second: u32) -> u64 {
    u64::from(first) << 32 | u64::from(second)
}

/// Unpacks [`two`].
pub(crate) fn split_two(packed: u64) -> (u32, u32) {
    ((packed >> 32) as u32, packed as u32)
}

/// Two long numbers, the first of them decides.
pub(crate) fn two_long(first: u64, second: u64) -> u128 {
    u128::from(first) << 64 | u128::from(second)
}

/// Four numbers, earlier ones decide.
pub(crate) fn four([a, b, c, d]: [u32; 4]) -> u128 {
    two_long(two(a, b), two(c, d))
}

/// Unpacks [`four`].
pub(crate) fn split_four(packed: u128) -> [u32; 4] {
    let ((a, b), (c, d)) = (split_two((packed >> 64) as u64), split_two(packed as u64));
    [a, b, c, d]
}

/// A number, in the order of `f64::total_cmp`.
pub(crate) fn sortable(value: f64) -> u64 {
    let bits = value.to_bits();
    if bits >> 63 == 1 { !bits } else { bits | 1 << 63 }
}

/// Unpacks [`sortable`]; the lowest bits may have been changed.
pub(crate) fn number(sortable: u64) -> f64 {
    f64::from_bits(if sortable >> 63 == 1 { sortable & !(1 << 63) } else { !sortable })
}

/// In order, equal ones as they were. All types share one sort, of their places.
pub(crate) fn ordered<T>(items: Vec<T>, compare: impl Fn(&T, &T) -> Ordering) -> Vec<T> {
    let places = places_in_order(items.len() as u32, &|a, b| compare(&items[a as usize], &items[b as usize]));
    let mut items: Vec<Option<T>> = items.into_iter().map(Some).collect();
    places.into_iter().filter_map(|place| items[place as usize].take()).collect()
}

fn places_in_order(count: u32, compare: &dyn Fn(u32, u32) -> Ordering) -> Vec<u32> {
    let mut places: Vec<u32> = (0..count).collect();
    places.sort_unstable_by(|&a, &b| compare(a, b).then(a.cmp(&b)));
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sorting_is_stable() {
        let words = vec!["pear", "fig", "plum", "kiwi", "yam", "date"];
        let by_length = ordered(words, |a, b| a.len().cmp(&b.len()));
        assert_eq!(by_length, ["fig", "yam", "pear", "plum", "kiwi", "date"]);
        assert!(ordered(Vec::<String>::new(), String::cmp).is_empty());
    }

    #[test]
    fn packed_floats_round_trip_and_keep_their_order() {
        let values = [f64::NEG_INFINITY, -2.5, -0.0, 0.0, f64::MIN_POSITIVE, 0.1, 1.0, f64::MAX, f64::INFINITY];
        for a in values {
            assert_eq!(number(sortable(a)).to_bits(), a.to_bits());
            for b in values {
                assert_eq!(sortable(a).cmp(&sortable(b)), a.total_cmp(&b), "{a} {b}");
            }
        }
    }

    #[test]
    fn packed_integers_round_trip_and_keep_their_order() {
        let values = [0, 1, 7, u32::MAX - 1, u32::MAX];
        for a in values {
            for b in values {
                assert_eq!(split_two(two(a, b)), (a, b));
                assert_eq!(split_four(four([a, b, b, a])), [a, b, b, a]);
                assert_eq!(two(a, b).cmp(&two(b, a)), (a, b).cmp(&(b, a)));
                assert_eq!(four([7, a, b, 0]).cmp(&four([7, b, a, 0])), (a, b).cmp(&(b, a)));
            }
        }
    }
}
