//! Weighted quantiles by selection, without a full sort.

use crate::util::packed;

/// So many are put in order.
const FEW: usize = 32;

/// A value and its weight, for [`weighted_quantile`].
pub fn weighted(value: f64, weight: f64) -> u128 {
    packed::two_long(packed::sortable(value), weight.to_bits())
}

fn value(item: u128) -> f64 {
    packed::number((item >> 64) as u64)
}

fn weight(item: u128) -> f64 {
    f64::from_bits(item as u64)
}

fn sum(items: &[u128]) -> f64 {
    items.iter().map(|&item| weight(item)).sum()
}

/// The smallest value at which the weights up to it reach `share` (0..1) of their sum; `None` without weight.
/// Reorders `items` ([`weighted`]). Values must not be NaN. Expected linear time.
pub fn weighted_quantile(items: &mut [u128], share: f64) -> Option<f64> {
    let total = sum(items);
    if total <= 0.0 {
        return None;
    }
    let mut target = total * share;
    let mut rest = items;
    while rest.len() > FEW {
        let middle = rest.len() / 2;
        let (low, pivot, high) = rest.select_nth_unstable(middle);
        let below = sum(low);
        if below >= target {
            rest = low;
        } else if below + weight(*pivot) >= target {
            return Some(value(*pivot));
        } else {
            target -= below + weight(*pivot);
            rest = high;
        }
    }
    rest.sort_unstable();
    let mut sum = 0.0;
    let reached = |item: &&u128| {
        sum += weight(**item);
        sum >= target
    };
    rest.iter().find(reached).or(rest.last()).map(|&item| value(item))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn agrees_with_a_sorted_running_sum() {
        // Weights are whole numbers, so that sums are exact in any order.
        let items: Vec<(f64, f64)> =
            (0..1000u32).map(|i| (f64::from(i * 7919 % 1009), f64::from(1 + i * 31 % 17))).collect();
        let mut sorted = items.clone();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let total: f64 = items.iter().map(|i| i.1).sum();
        for share in [0.0, 0.05, 0.5, 0.95, 1.0] {
            let mut sum = 0.0;
            let plain = sorted
                .iter()
                .find(|i| {
                    sum += i.1;
                    sum >= total * share
                })
                .map(|i| i.0);
            let mut items: Vec<u128> = items.iter().map(|&(value, by)| weighted(value, by)).collect();
            assert_eq!(weighted_quantile(&mut items, share), plain, "{share}");
        }
        assert_eq!(weighted_quantile(&mut [], 0.5), None);
        assert_eq!(weighted_quantile(&mut [weighted(3.0, 0.0)], 0.5), None);
    }
}
