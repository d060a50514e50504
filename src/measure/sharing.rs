//! Who shares texture space with whom.
//!
//! Two triangles share when their uv interiors intersect in more than [`SHARED_AREA_MIN_PX2`]. Only triangles that touch
//! the region covered twice (`cover`) are looked at: a good layout needs no pair at all. Pairs come from a grid with a
//! level for every size (`bins`), so that large and small triangles, or all on one spot of the sheet, cost alike. Whether
//! two triangles touch is decided exactly (`overlap`), how much by clipping one with the other.
//!
//! Shells: *stacked* (same handedness, at least [`STACKED_SHARE_MIN`] of both), *mirrored* (opposite handedness),
//! *crossing* (same handedness, partly), *self-crossing*. A fold, which is one shell over itself the other way round, is
//! no pair; it counts in `mirrored_share`. Where a shell lies over itself, its shared area with another is capped at the
//! smaller one's own.
//! Cost: linear in triangles, then in pairs of boxes that touch, at most [`PAIR_TESTS_MAX`].

use super::bins::{Bins, RegionMask};
use super::cover;
use super::overlap::overlap;
use super::sheet::{SheetInput, clip, polygon_area};
use glam::DVec2;
use rustc_hash::FxHashMap;

/// Two triangles that share less than this do not share: rounding of the file's decimals reaches it, a person cannot
/// see it. By definition, in px at the map's size.
pub const SHARED_AREA_MIN_PX2: f64 = 0.01;
/// Stacked shells share at least this of both. By definition.
pub const STACKED_SHARE_MIN: f64 = 0.95;
/// Pairs of boxes looked at before the search says "at least": some seconds in a browser.
pub const PAIR_TESTS_MAX: u64 = 40_000_000;
/// Triangles times corners of the region they are cut with, where opposite triangles lie over one another; above it a
/// triangle's shared pieces are summed and capped at its own area. About a second in a browser.
const CUTS_MAX: usize = 30_000_000;

/// How two shells (or one and itself) share.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ShareKind {
    /// Oppositely handed.
    Mirrored,
    /// Same handedness, at least 95 % of both.
    Stacked,
    /// Same handedness, partly.
    Crossing,
    /// One shell over itself.
    SelfCrossing,
}

/// Two shells that share.
#[derive(Clone, Debug, PartialEq)]
pub struct SharedPair {
    /// The lower shell.
    pub a: u32,
    /// The higher shell; the same as `a` for [`ShareKind::SelfCrossing`].
    pub b: u32,
    /// How they share.
    pub kind: ShareKind,
    /// Shared uv area.
    pub area_uv: f64,
    /// Shared area over the uv area of `a`, 0..1.
    pub area_share_a: f64,
    /// Shared area over the uv area of `b`, 0..1.
    pub area_share_b: f64,
    /// A triangle of `a` in the shared area (index into the input's triangles): where to look.
    pub example_a: u32,
    /// A triangle of `b` there.
    pub example_b: u32,
}

/// Per triangle, with whom it shares.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shares {
    /// With an oppositely handed triangle.
    pub mirrored: bool,
    /// With a stacked shell.
    pub stacked: bool,
    /// With a crossing shell.
    pub crossing: bool,
    /// With its own shell, same handedness.
    pub self_crossing: bool,
}

/// Sharing of a whole layout.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sharing {
    /// All pairs, by (a, b, kind).
    pub pairs: Vec<SharedPair>,
    /// Per triangle of the input.
    pub triangles: Vec<Shares>,
    /// Surface area whose sheet area is also used by an oppositely handed triangle, over all mapped surface area.
    pub mirrored_share: Option<f64>,
    /// The search stopped at its limit: everything above is "at least".
    pub at_least: bool,
}

#[derive(Default)]
struct SharedArea {
    area: f64,
    examples: [u32; 2],
}

/// Finds all sharing; `twice` is the region covered at least twice.
pub(super) fn measure_sharing(input: &SheetInput, twice: &cover::Contours) -> Sharing {
    let mut result = Sharing { triangles: vec![Shares::default(); input.triangles.len()], ..Sharing::default() };
    let mapped_surface: f64 = input.surface.iter().sum();
    result.mirrored_share = (mapped_surface > 0.0).then_some(0.0);
    let Some(mask) = RegionMask::new(twice) else { return result };
    let candidates: Vec<u32> = (0..input.triangles.len())
        .filter(|&triangle| {
            cover::counter_clockwise(input, triangle).is_some() && {
                let (low, high) = bounds(input, triangle);
                mask.touches(low, high)
            }
        })
        .map(|triangle| triangle as u32)
        .collect();
    let search = search(input, &candidates);
    result.at_least = search.cut_off;
    result.pairs = pairs(input, &search.shared);
    let kinds: FxHashMap<(u32, u32, bool), ShareKind> =
        result.pairs.iter().map(|pair| ((pair.a, pair.b, pair.kind == ShareKind::Mirrored), pair.kind)).collect();
    for &(triangle, key) in &search.of_triangle {
        let shares = &mut result.triangles[triangle as usize];
        match kinds.get(&key) {
            Some(ShareKind::Mirrored) | None => shares.mirrored = true,
            Some(ShareKind::Stacked) => shares.stacked = true,
            Some(ShareKind::Crossing) => shares.crossing = true,
            Some(ShareKind::SelfCrossing) => shares.self_crossing = true,
        }
    }
    result.mirrored_share =
        (mapped_surface > 0.0).then(|| mirrored_surface(input, &candidates, &search) / mapped_surface);
    result
}

fn corners(input: &SheetInput, triangle: usize) -> Option<[DVec2; 3]> {
    cover::counter_clockwise(input, triangle).map(|corners| corners.map(|index| input.uv[index as usize]))
}

fn bounds(input: &SheetInput, triangle: usize) -> (DVec2, DVec2) {
    let [a, b, c] = input.triangles[triangle].map(|index| input.uv[index as usize]);
    (a.min(b).min(c), a.max(b).max(c))
}

#[derive(Default)]
struct Search {
    /// By (lower shell, higher shell, opposite handedness).
    shared: FxHashMap<(u32, u32, bool), SharedArea>,
    /// Each triangle with each pair of shells it shares in; sorted, without repeats.
    of_triangle: Vec<(u32, (u32, u32, bool))>,
    /// Sum of a triangle's area shared with opposite ones, uv; only where there is any.
    opposite: FxHashMap<u32, f64>,
    cut_off: bool,
}

fn search(input: &SheetInput, candidates: &[u32]) -> Search {
    let least = SHARED_AREA_MIN_PX2 / (f64::from(input.map.width_px) * f64::from(input.map.height_px));
    let bins = Bins::new(candidates.len(), |index| bounds(input, candidates[index] as usize));
    let mut found = Search::default();
    let mut clear_at = 4 * candidates.len() + 1024;
    let finished = bins.for_each_pair(PAIR_TESTS_MAX, |i, j| {
        let (t, s) = (candidates[i.min(j)], candidates[i.max(j)]);
        let (Some(a), Some(b)) = (corners(input, t as usize), corners(input, s as usize)) else { return };
        let Some(piece) = overlap(a, b) else { return };
        let area = polygon_area(&piece);
        if !(area > least) {
            return;
        }
        let opposite = input.reversed[t as usize] != input.reversed[s as usize];
        let (shell_t, shell_s) = (input.shell[t as usize], input.shell[s as usize]);
        let key = (shell_t.min(shell_s), shell_t.max(shell_s), opposite);
        let of_lower = if shell_t <= shell_s { [t, s] } else { [s, t] };
        let shared = found.shared.entry(key).or_insert_with(|| SharedArea { area: 0.0, examples: of_lower });
        shared.area += area;
        for triangle in [t, s] {
            if found.of_triangle.last() != Some(&(triangle, key)) {
                found.of_triangle.push((triangle, key));
            }
            if opposite {
                *found.opposite.entry(triangle).or_insert(0.0) += area;
            }
        }
        if found.of_triangle.len() > clear_at {
            found.of_triangle.sort_unstable();
            found.of_triangle.dedup();
            clear_at = clear_at.max(2 * found.of_triangle.len());
        }
    });
    found.cut_off = !finished;
    found.of_triangle.sort_unstable();
    found.of_triangle.dedup();
    found
}

fn pairs(input: &SheetInput, shared: &FxHashMap<(u32, u32, bool), SharedArea>) -> Vec<SharedPair> {
    let mut shell_area = vec![0.0; input.shell_count as usize];
    for triangle in 0..input.triangles.len() {
        if let Some(q) = corners(input, triangle) {
            shell_area[input.shell[triangle] as usize] += polygon_area(&q);
        }
    }
    let mut pairs: Vec<SharedPair> = shared
        .iter()
        .filter(|((a, b, opposite), _)| a != b || !opposite)
        .map(|(&(a, b, opposite), shared)| {
            let (of_a, of_b) = (shell_area[a as usize], shell_area[b as usize]);
            let area_uv = shared.area.min(of_a).min(of_b);
            let (area_share_a, area_share_b) = (area_uv / of_a, area_uv / of_b);
            let kind = if opposite {
                ShareKind::Mirrored
            } else if a == b {
                ShareKind::SelfCrossing
            } else if area_share_a.min(area_share_b) >= STACKED_SHARE_MIN {
                ShareKind::Stacked
            } else {
                ShareKind::Crossing
            };
            let [example_a, example_b] = shared.examples;
            SharedPair { a, b, kind, area_uv, area_share_a, area_share_b, example_a, example_b }
        })
        .collect();
    pairs.sort_unstable_by_key(|pair| (pair.a, pair.b, pair.kind));
    pairs
}

/// Surface whose sheet area is also used by an oppositely handed triangle. Where triangles of one handedness lie over
/// one another, a triangle is cut with the region they cover together, so that nothing counts twice.
fn mirrored_surface(input: &SheetInput, candidates: &[u32], search: &Search) -> f64 {
    if search.opposite.is_empty() {
        return 0.0;
    }
    let mut shared = search.opposite.clone();
    for reversed in [false, true] {
        let mut picked = vec![false; input.triangles.len()];
        candidates.iter().for_each(|&t| picked[t as usize] = input.reversed[t as usize] != reversed);
        let chain = cover::boundary(input, |triangle| picked[triangle]);
        if cover::covered_twice(&chain).is_empty() {
            continue;
        }
        let region = cover::covered(&chain);
        let region_corners: usize = region.iter().map(Vec::len).sum();
        if shared.len().saturating_mul(region_corners) > CUTS_MAX {
            continue;
        }
        for (&triangle, area) in shared.iter_mut().filter(|(t, _)| input.reversed[**t as usize] == reversed) {
            if let Some(q) = corners(input, triangle as usize) {
                *area = area_within(&region, q);
            }
        }
    }
    let mut of_triangles: Vec<(u32, f64)> = shared.into_iter().collect();
    of_triangles.sort_unstable_by_key(|item| item.0);
    of_triangles
        .into_iter()
        .filter_map(|(triangle, area)| {
            let whole = polygon_area(&corners(input, triangle as usize)?);
            Some(input.surface[triangle as usize] * (area / whole).min(1.0))
        })
        .sum()
}

/// Area of a region inside a counter-clockwise triangle. Clipping any contour by a convex one leaves its signed area
/// right, and those of outer contours and holes add up.
fn area_within(region: &cover::Contours, [a, b, c]: [DVec2; 3]) -> f64 {
    region
        .iter()
        .map(|contour| {
            let mut piece: Vec<DVec2> = contour.iter().map(|&p| DVec2::from_array(p)).collect();
            for (from, to) in [(a, b), (b, c), (c, a)] {
                piece = clip(&piece, |p| (to - from).perp_dot(p - from));
            }
            polygon_area(&piece)
        })
        .sum::<f64>()
        .abs()
}
