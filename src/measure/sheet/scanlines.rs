//! How often the sheet is covered, by sampling: for layouts whose exact regions would take too long (`cover`).
//!
//! The sheet is cut into strata, horizontal strips, half of them of one height, half ending where corners are dense:
//! they are narrow where there is detail, and a distant shell does not affect the rest. On one line in each, at a
//! random height of the strip, the lengths that triangles cover once or more, and twice or more, are exact. An area is
//! the sum of strip height times length; its standard error comes from successive differences, as for any systematic
//! sample (Wolter 2007, *Introduction to Variance Estimation*, chapter 8, from memory), each weighted with the higher
//! of its two strips: an overestimate. Heights come from a fixed sequence: the same layout gives the same numbers
//! everywhere. Cost: n log n in triangles, and in the about [`INTERVALS_MAX`] intervals that they cut from the lines.

use super::input::{SheetInput, corners};
use crate::util::packed::{number, sortable};
use glam::DVec2;

/// Strips of each sort, where the triangles are few enough.
const STRIPS_MAX: usize = 1024;
/// Intervals on all lines: a second's sorting.
const INTERVALS_MAX: usize = 8_000_000;

/// An area with its standard error.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sampled {
    pub area: f64,
    pub error: f64,
}

/// Areas of the sheet by how often triangles cover them.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sampling {
    /// Once or more.
    pub once: Sampled,
    /// Twice or more.
    pub twice: Sampled,
    /// Once or more, inside the tiles.
    pub inside: Sampled,
    /// Twice or more over once or more, the ratio's own standard error.
    pub overlap_share_error: f64,
}

/// Samples triangles that have area; `tiles` as (row, column).
pub(super) fn sample(input: &SheetInput, triangles: &[u32], tiles: &[(u32, u32)]) -> Sampling {
    let triangles: Vec<[DVec2; 3]> =
        triangles.iter().map(|&triangle| by_height(corners(input, triangle as usize))).collect();
    let strips = strips(&triangles, tiles);
    let mut state = 0;
    let lines: Vec<f64> = strips.iter().map(|[low, high]| low + (high - low) * random(&mut state)).collect();
    // By line, the triangles it cuts.
    let cut = |q: &[DVec2; 3]| lines.partition_point(|y| *y < q[0].y)..lines.partition_point(|y| *y < q[2].y);
    let mut starts = vec![0u32; lines.len() + 2];
    triangles.iter().flat_map(cut).for_each(|line| starts[line + 2] += 1);
    (2..starts.len()).for_each(|line| starts[line] += starts[line - 1]);
    let mut on_line = vec![0u32; starts.last().map_or(0, |&total| total as usize)];
    for (q, index) in triangles.iter().zip(0..) {
        for line in cut(q) {
            on_line[starts[line + 1] as usize] = index;
            starts[line + 1] += 1;
        }
    }
    let mut ends = Vec::new();
    let mut lengths = |line: usize| {
        let y = lines[line];
        ends.clear();
        for &index in &on_line[starts[line] as usize..starts[line + 1] as usize] {
            let [low, middle, high] = triangles[index as usize];
            let a = at_height(low, high, y);
            let b = if y < middle.y { at_height(low, middle, y) } else { at_height(middle, high, y) };
            // Where one ends as another begins, the end comes first: adjacent is not overlapping.
            ends.extend([sortable(a.min(b)) | 1, sortable(a.max(b)) & !1]);
        }
        ends.sort_unstable();
        lengths_between(&ends, y, tiles)
    };
    let mut sums = [Sampled::default(); 3];
    let mut both = 0.0;
    // Nothing is covered below the lowest strip, nor above the highest.
    let (mut height_before, mut before) = (0.0, [0.0; 3]);
    for line in 0..=strips.len() {
        let (height, here) = strips.get(line).map_or((0.0, [0.0; 3]), |[low, high]| (high - low, lengths(line)));
        let steps: [f64; 3] = std::array::from_fn(|i| (here[i] - before[i]) * f64::max(height, height_before));
        for (i, sum) in sums.iter_mut().enumerate() {
            sum.area += height * here[i];
            sum.error += steps[i] * steps[i] / 2.0;
        }
        both += steps[0] * steps[1] / 2.0;
        (height_before, before) = (height, here);
    }
    let [once, twice, inside] = sums;
    // Of a ratio r = t / o, to first order: (t - r o) / o.
    let share = twice.area / once.area;
    let ratio_error = (twice.error - 2.0 * share * both + share * share * once.error).max(0.0).sqrt() / once.area;
    let rooted = |sum: Sampled| Sampled { error: sum.error.sqrt(), ..sum };
    Sampling { once: rooted(once), twice: rooted(twice), inside: rooted(inside), overlap_share_error: ratio_error }
}

/// Strips from the lowest corner to the highest, ascending.
fn strips(triangles: &[[DVec2; 3]], tiles: &[(u32, u32)]) -> Vec<[f64; 2]> {
    let sorted = |corners: std::ops::Range<usize>| {
        let mut heights: Vec<u64> =
            triangles.iter().flat_map(|q| q[corners.clone()].iter().map(|p| sortable(p.y))).collect();
        heights.sort_unstable();
        heights
    };
    let (lows, highs, all) = (sorted(0..1), sorted(2..3), sorted(0..3));
    let (Some(&low), Some(&high)) = (all.first(), all.last()) else { return Vec::new() };
    let (low, high) = (number(low), number(high));
    let mut count = STRIPS_MAX;
    loop {
        let even = (0..=count).map(|i| low + (high - low) * (i as f64 / count as f64));
        let crowds = (0..count).map(|i| number(all[i * all.len() / count]));
        let borders = tiles.iter().flat_map(|&(row, _)| [row, row + 1]).map(|row| f64::from(row).clamp(low, high));
        let mut bounds: Vec<u64> = even.chain(crowds).chain(borders).map(sortable).collect();
        bounds.sort_unstable();
        let strips = bounds.windows(2).map(|ends| [number(ends[0]), number(ends[1])]).filter(|[low, high]| low < high);
        // About: what a line cuts is evaluated in its strip's middle.
        let cut = |[low, high]: [f64; 2]| {
            let middle = sortable((low + high) / 2.0);
            lows.partition_point(|low| *low < middle) - highs.partition_point(|high| *high < middle)
        };
        if count == 1 || strips.clone().map(cut).sum::<usize>() <= INTERVALS_MAX {
            return strips.collect();
        }
        count = count.div_ceil(2);
    }
}

/// Corners from the lowest to the highest. Neighbours have an edge in the same direction, so that both cut it in the
/// same point.
fn by_height([mut a, mut b, mut c]: [DVec2; 3]) -> [DVec2; 3] {
    let order = |low: &mut DVec2, high: &mut DVec2| {
        if (high.y, high.x) < (low.y, low.x) {
            std::mem::swap(low, high);
        }
    };
    order(&mut a, &mut b);
    order(&mut b, &mut c);
    order(&mut a, &mut b);
    [a, b, c]
}

fn at_height(low: DVec2, high: DVec2, y: f64) -> f64 {
    low.x + (high.x - low.x) * ((y - low.y) / (high.y - low.y))
}

/// Lengths on one line: covered once or more, twice or more, and once or more inside the tiles. `ends` in order, the lowest
/// bit set where an interval begins.
fn lengths_between(ends: &[u64], y: f64, tiles: &[(u32, u32)]) -> [f64; 3] {
    let columns = || tiles.iter().filter(|(row, _)| f64::from(*row) == y.floor()).map(|(_, column)| f64::from(*column));
    let (mut once, mut twice, mut inside) = (0.0, 0.0, 0.0);
    let (mut layers, mut begin) = (0, 0.0);
    for ends in ends.windows(2) {
        let (from, to) = (number(ends[0]), number(ends[1]));
        if ends[0] & 1 == 1 {
            begin = if layers == 0 { from } else { begin };
            layers += 1;
        } else {
            layers -= 1;
        }
        once += if layers > 0 { to - from } else { 0.0 };
        twice += if layers > 1 { to - from } else { 0.0 };
        // A whole run at once, so that tiles are evaluated rarely.
        if layers == 1 && ends[1] & 1 == 0 {
            inside += columns().map(|u| (to.min(u + 1.0) - begin.max(u)).max(0.0)).sum::<f64>();
        }
    }
    [once, twice, inside]
}

/// 0..1, by SplitMix64 (Steele, Lea & Flood 2014).
fn random(state: &mut u64) -> f64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut mixed = (*state ^ *state >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    (mixed ^ mixed >> 31) as f64 / 2f64.powi(64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::brief::SheetMap;
    use crate::measure::sheet::cover;
    use crate::measure::sheet::outline::outlines_and_boundary;

    fn with_layout(triangles: &[[DVec2; 3]], tiles: &[(u32, u32)], call: impl Fn(Sampling, Sampling)) {
        let uv = triangles.concat();
        let indices: Vec<[u32; 3]> = (0..triangles.len() as u32).map(|i| [3 * i, 3 * i + 1, 3 * i + 2]).collect();
        let count = triangles.len();
        let input = SheetInput {
            uv: &uv,
            triangles: &indices,
            shell: &vec![0; count],
            shell_count: 1,
            reversed: &vec![false; count],
            sliver: &[],
            surface: &vec![1.0; count],
            map: SheetMap::default(),
        };
        let exact = cover::cover(&input, outlines_and_boundary(&input).1, tiles, DVec2::new(10.0, 900.0));
        assert!(!exact.is_sampled);
        let all: Vec<u32> = (0..count as u32).collect();
        call(sample(&input, &all, tiles), exact.areas);
    }

    #[test]
    fn within_four_standard_errors_of_the_exact_areas() {
        let mut state = 9;
        let tiles = [(0, 0), (0, 1), (2, 0)];
        for (count, size) in [(3, 1.0), (40, 0.3), (300, 0.1), (300, 2.0)] {
            let mut any = |size: f64| DVec2::new(random(&mut state), random(&mut state)) * size;
            let triangles: Vec<[DVec2; 3]> = (0..count)
                .map(|_| {
                    let at = any(3.0) - 0.5;
                    [at + any(size), at + any(size), at + any(size)]
                })
                .collect();
            with_layout(&triangles, &tiles, |sampled, exact| {
                let whole = exact.once.area;
                let near = |what: &str, sampled: f64, exact: f64, error: f64| {
                    let allowed = 4.0 * error + 1e-9;
                    assert!(
                        (sampled - exact).abs() <= allowed,
                        "{count} of {size}, {what}: {sampled}, {exact}, ±{error}"
                    );
                    assert!(error <= 0.01 * whole, "{count} of {size}, {what}: {exact} ± {error}");
                };
                near("once", sampled.once.area, exact.once.area, sampled.once.error);
                near("twice", sampled.twice.area, exact.twice.area, sampled.twice.error);
                near("inside", sampled.inside.area, exact.inside.area, sampled.inside.error);
                let share = |areas: Sampling| areas.twice.area / areas.once.area;
                near("share", share(sampled), share(exact), sampled.overlap_share_error);
            });
        }
    }

    #[test]
    fn adjacent_triangles_do_not_overlap() {
        let corner = |x: u32, y: u32| DVec2::new(f64::from(x * x), f64::from(y + x)) / 9.7 - 0.3;
        let cells = (0..100).map(|i| (i % 10, i / 10));
        let triangles: Vec<[DVec2; 3]> = cells
            .flat_map(|(x, y)| {
                let [a, b, c, d] = [corner(x, y), corner(x + 1, y), corner(x + 1, y + 1), corner(x, y + 1)];
                [[a, b, c], [a, c, d]]
            })
            .collect();
        with_layout(&triangles, &[(0, 0)], |sampled, exact| {
            assert!(sampled.twice.area < 1e-12 && sampled.overlap_share_error < 1e-12, "{sampled:?}");
            assert!((sampled.once.area - exact.once.area).abs() <= 4.0 * sampled.once.error + 1e-9);
        });
    }

    #[test]
    fn floats_keep_their_order_as_bits() {
        let ascending = [-1e300, -2.0, -1.0, -1e-300, 0.0, 1e-300, 1.0, 2.0, 1e300];
        assert!(ascending.windows(2).all(|pair| sortable(pair[0]) < sortable(pair[1])));
        assert!(ascending.iter().all(|value| number(sortable(*value)) == *value));
    }
}
