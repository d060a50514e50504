//! Tuples of 32-bit numbers as one integer that sorts as they do.
//!
//! Every type that is sorted brings its own copy of the sort, 3 to 10 KB of the page's module each. What is sorted in
//! large numbers is packed, so that three copies serve all.

/// Two numbers, the first of them decides.
pub(crate) fn two(first: u32, second: u32) -> u64 {
    u64::from(first) << 32 | u64::from(second)
}

/// What [`two`] packed.
pub(crate) fn split_two(packed: u64) -> (u32, u32) {
    ((packed >> 32) as u32, packed as u32)
}

/// Four numbers, earlier ones decide.
pub(crate) fn four([a, b, c, d]: [u32; 4]) -> u128 {
    u128::from(two(a, b)) << 64 | u128::from(two(c, d))
}

/// What [`four`] packed.
pub(crate) fn split_four(packed: u128) -> [u32; 4] {
    let ((a, b), (c, d)) = (split_two((packed >> 64) as u64), split_two(packed as u64));
    [a, b, c, d]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packed_numbers_come_back_and_sort_as_they_do() {
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
