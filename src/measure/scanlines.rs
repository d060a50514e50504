//! How often the sheet is covered, by sampling: for layouts whose exact regions would take too long (`cover`).
//!
//! The sheet is cut into strata, horizontal strips; on two lines in each, at random heights of the strip, the lengths that
//! triangles cover once or more, and twice or more, are exact. An area is the sum of strip height times mean length, its
//! standard error the root of the sum of (height times half the difference of both lengths)^2: stratified sampling with two
//! draws a stratum (Cochran 1977, *Sampling Techniques*, chapter 5, from memory). Half the strips end where triangles begin
//! and end, so that they are narrow where there is much to see and no far shell spoils the rest; half are of one height.
//! Heights come from a fixed sequence: the same layout gives the same figures everywhere.
//! Cost: n log n in triangles, and in the at most [`INTERVALS_MAX`] intervals that they cut from the lines.

use super::cover::corners;
use super::sheet::SheetInput;
use glam::DVec2;

/// Strips of each sort, where the triangles are few enough.
const STRIPS_MAX: usize = 512;
/// Intervals on all lines: half a second's sorting.
const INTERVALS_MAX: usize = 4_000_000;

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
    let strips = strips(&triangles);
    // Two lines a strip, ascending.
    let mut state = 0;
    let lines: Vec<f64> = strips
        .iter()
        .flat_map(|&[low, high]| {
            let [a, b] = [(); 2].map(|()| low + (high - low) * random(&mut state));
            [a.min(b), a.max(b)]
        })
        .collect();
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
            // Where one ends as another begins, the end comes first: side by side is not over one another.
            ends.extend([sortable(a.min(b)) | 1, sortable(a.max(b)) & !1]);
        }
        ends.sort_unstable();
        Lengths::new(&ends, y, tiles)
    };
    let mut sums = [Sampled::default(); 3];
    let mut both = 0.0;
    for (index, [low, high]) in strips.iter().enumerate() {
        let (a, b) = (lengths(2 * index), lengths(2 * index + 1));
        let half = (high - low) / 2.0;
        let means = [a.once + b.once, a.twice + b.twice, a.inside + b.inside].map(|sum| half * sum);
        let errors = [a.once - b.once, a.twice - b.twice, a.inside - b.inside].map(|difference| half * difference);
        for (sum, (mean, error)) in sums.iter_mut().zip(means.into_iter().zip(errors)) {
            sum.area += mean;
            sum.error += error * error;
        }
        both += errors[0] * errors[1];
    }
    let [once, twice, inside] = sums;
    // Of a ratio r = t / o, to first order: (t - r o) / o.
    let share = twice.area / once.area;
    let ratio_error = (twice.error - 2.0 * share * both + share * share * once.error).max(0.0).sqrt() / once.area;
    let rooted = |sum: Sampled| Sampled { error: sum.error.sqrt(), ..sum };
    Sampling { once: rooted(once), twice: rooted(twice), inside: rooted(inside), overlap_share_error: ratio_error }
}

/// Strips from the lowest corner to the highest, ascending.
fn strips(triangles: &[[DVec2; 3]]) -> Vec<[f64; 2]> {
    let sorted = |corner: usize| {
        let mut heights: Vec<u64> = triangles.iter().map(|q| sortable(q[corner].y)).collect();
        heights.sort_unstable();
        heights
    };
    let (lows, highs) = (sorted(0), sorted(2));
    let (Some(&low), Some(&high)) = (lows.first(), highs.last()) else { return Vec::new() };
    let (low, high) = (number(low), number(high));
    let mut count = STRIPS_MAX;
    loop {
        let even = (0..=count).map(|i| low + (high - low) * (i as f64 / count as f64));
        let by_ends = (0..count).flat_map(|i| [&lows, &highs].map(|ends| number(ends[i * ends.len() / count])));
        let mut bounds: Vec<u64> = even.chain(by_ends.step_by(2)).map(sortable).collect();
        bounds.sort_unstable();
        let strips = bounds.windows(2).map(|ends| [number(ends[0]), number(ends[1])]).filter(|[low, high]| low < high);
        let cut = |[low, high]: [f64; 2]| {
            let middle = sortable((low + high) / 2.0);
            2 * (lows.partition_point(|low| *low < middle) - highs.partition_point(|high| *high < middle))
        };
        // About: what a line cuts is asked in its strip's middle.
        if count == 1 || strips.clone().map(cut).sum::<usize>() <= INTERVALS_MAX {
            return strips.collect();
        }
        count = count.div_ceil(2);
    }
}

/// Corners from the lowest to the highest. Neighbours see an edge the same way round, so that both cut it in the same point.
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

/// Lengths on one line by how often they are covered.
#[derive(Clone, Copy, Default)]
struct Lengths {
    once: f64,
    twice: f64,
    inside: f64,
}

impl Lengths {
    /// `ends` in order, the lowest bit set where an interval begins.
    fn new(ends: &[u64], y: f64, tiles: &[(u32, u32)]) -> Self {
        let columns =
            || tiles.iter().filter(|(row, _)| f64::from(*row) == y.floor()).map(|(_, column)| f64::from(*column));
        let mut lengths = Self::default();
        let mut layers = 0;
        let mut begin = 0.0;
        for ends in ends.windows(2) {
            let (from, to) = (number(ends[0]), number(ends[1]));
            if ends[0] & 1 == 1 {
                begin = if layers == 0 { from } else { begin };
                layers += 1;
            } else {
                layers -= 1;
            }
            lengths.once += if layers > 0 { to - from } else { 0.0 };
            lengths.twice += if layers > 1 { to - from } else { 0.0 };
            // A whole run at once, so that tiles are asked seldom.
            if layers == 1 && ends[1] & 1 == 0 {
                lengths.inside += columns().map(|u| (to.min(u + 1.0) - begin.max(u)).max(0.0)).sum::<f64>();
            }
        }
        lengths
    }
}

/// A number's bits, ordered as the numbers are.
fn sortable(value: f64) -> u64 {
    let bits = value.to_bits();
    if bits >> 63 == 1 { !bits } else { bits | 1 << 63 }
}

/// What [`sortable`] made of it; the lowest bit may have been changed.
fn number(sortable: u64) -> f64 {
    f64::from_bits(if sortable >> 63 == 1 { sortable & !(1 << 63) } else { !sortable })
}

/// 0..1, by SplitMix64 (Steele, Lea & Flood 2014).
fn random(state: &mut u64) -> f64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut mixed = (*state ^ *state >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    mixed = (mixed ^ mixed >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    (mixed ^ mixed >> 31) as f64 / 2f64.powi(64)
}
