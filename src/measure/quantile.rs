//! Weighted quantiles by selection, without a full sort.

/// So many are put in order one by one.
const FEW: usize = 32;

/// The smallest value at which the weights up to it reach `share` (0..1) of their sum; `None` without weight.
/// Reorders `items` (value, weight). Values must not be NaN. Expected linear time.
pub fn weighted_quantile(items: &mut [(f64, f64)], share: f64) -> Option<f64> {
    let total: f64 = items.iter().map(|item| item.1).sum();
    if total <= 0.0 {
        return None;
    }
    let mut target = total * share;
    let mut rest = items;
    while rest.len() > FEW {
        let middle = rest.len() / 2;
        let (low, pivot, high) = rest.select_nth_unstable_by(middle, |a, b| a.0.total_cmp(&b.0));
        let below: f64 = low.iter().map(|item| item.1).sum();
        if below >= target {
            rest = low;
        } else if below + pivot.1 >= target {
            return Some(pivot.0);
        } else {
            target -= below + pivot.1;
            rest = high;
        }
    }
    for end in 1..rest.len() {
        let place = rest[..end].partition_point(|item| item.0 <= rest[end].0);
        rest[place..=end].rotate_right(1);
    }
    let mut sum = 0.0;
    rest.iter()
        .find(|item| {
            sum += item.1;
            sum >= target
        })
        .or(rest.last())
        .map(|item| item.0)
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
            assert_eq!(weighted_quantile(&mut items.clone(), share), plain, "{share}");
        }
        assert_eq!(weighted_quantile(&mut [], 0.5), None);
        assert_eq!(weighted_quantile(&mut [(3.0, 0.0)], 0.5), None);
    }
}
