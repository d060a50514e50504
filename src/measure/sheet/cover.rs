//! How often the sheet is covered: the boundary of all triangles as one chain, and areas of its winding numbers.
//!
//! Every triangle that has area is taken counter-clockwise; its three directed edges are added up by uv value and
//! opposite ones cancel. What is left is the boundary of the 2-chain: around any point it winds as often as triangles
//! cover that point, of any shell. A good layout of a million triangles has a boundary of a few thousand edges. The
//! areas wound once or more, and twice or more, come from the overlay crate `i_overlay` on its 64-bit integer grid; the
//! second by adding one clockwise rectangle around everything, which takes one off everywhere. Where shells lie on one
//! another by the thousand, their edges cross each with each; such a chain is split recursively in halves; scattered
//! triangles that meet no other need no region at all. Where the halves still cross too often (slivers through one
//! point), or there are too many of them, the areas are sampled (`scanlines`). Cost: linear in triangles (counting
//! sort), then n log n in boundary edges and in crossings of what is left; bounded by [`EFFORT_MAX`].
//!
//! Why a boundary: a raster would be simpler and wrong by its pixel, and pairing all neighbours would test each edge of
//! a good layout. With it, union, overlap and "twice covered" are areas of a small polygon set, and only triangles that
//! touch the twice-covered region are tested in pairs. Recursive halves collapse shells that lie on one another, but
//! not slivers through one point: hence the sampling.

use super::box_tree::{BoxTree, Entry, Step, most_pairs};
use super::contours::{Contours, area, both, bounds, common, covered, covered_twice};
use super::convex::{self, Piece};
use super::distinct::Distinct;
use super::input::{SheetInput, corners, counter_clockwise};
use super::outline::{outlines_and_boundary, push_rest};
use super::region::Region;
use super::scanlines::{self, Sampling};
use crate::util::packed;
use glam::DVec2;

/// Boundary edges from which on triangles that are the same, or meet no other, are looked for. A good layout of a million in
/// ten thousand shells has fewer, and the overlay of so many takes some tenths of a second.
const EDGES_MANY: usize = 400_000;
/// Pairs of edges whose boxes meet, beyond which a chain is crowded: so many in any case, and so many for each edge. A
/// layout of shells side by side has fewer than one for each edge.
const CROSSINGS_FEW: usize = 1_000;
const CROSSINGS_PER_EDGE: usize = 8;
/// Pairs of triangles whose boxes meet, for each triangle, before all are taken to meet others: side by side they meet
/// about a dozen neighbours.
const PAIRS_PER_TRIANGLE: usize = 64;
/// Triangles that are taken at once, however many crossings.
const TRIANGLES_FEW: usize = 4;

/// Work of recursive halving before areas are sampled, about nanoseconds of a desktop computer of 2020. A count, not a
/// clock, so that results are the same everywhere.
const EFFORT_MAX: u64 = 1_000_000_000;
/// Effort of an edge in a boundary, of comparing the boxes of two edges, of two whose boxes meet, and of a crossing.
const EFFORT_EDGE: u64 = 1_000;
const EFFORT_BOXES: u64 = 10;
const EFFORT_MET: u64 = 200;
const EFFORT_CROSSING: u64 = 1_000;

/// How often the sheet is covered.
pub(super) struct Cover {
    /// Areas; their errors are 0 where they are exact.
    pub areas: Sampling,
    /// The areas are sampled, not exact.
    pub is_sampled: bool,
    /// Where it is covered twice or more; never less than that.
    pub twice: Region,
}

/// Resolved regions by how often they are covered.
struct Regions {
    once: Contours,
    twice: Contours,
}

/// How all triangles cover the sheet; `boundary` as [`outlines_and_boundary`] gives
/// it, `tiles` in use as (row, column), `limit` the highest corner of all there are.
pub(super) fn cover(input: &SheetInput, boundary: Vec<(u32, u32)>, tiles: &[(u32, u32)], limit: DVec2) -> Cover {
    if boundary.len() <= EDGES_MANY && !is_crowded(&boundary, input.uv) {
        return exact(resolve(boundary, input.uv), tiles);
    }
    drop(boundary);
    let (together, alone) = meeting_and_alone(input);
    let mut left = EFFORT_MAX;
    let mut cover = match cover_by_halves(input, &together, &mut left) {
        Some(regions) => exact(regions, tiles),
        None => sampled(input, &together, tiles),
    };
    for triangle in alone {
        let q = corners(input, triangle as usize);
        cover.areas.once.area += Piece::from(q).area();
        cover.areas.inside.area += convex::inside(q, DVec2::ZERO, limit).area();
    }
    cover
}

fn exact(regions: Regions, tiles: &[(u32, u32)]) -> Cover {
    let lows = tiles.iter().map(|&(row, column)| DVec2::new(f64::from(column), f64::from(row)));
    let mut areas = Sampling::default();
    areas.once.area = area(&regions.once);
    areas.twice.area = area(&regions.twice);
    let in_one_tile = bounds(&regions.once)
        .is_some_and(|(low, high)| lows.clone().any(|tile| low.cmpge(tile).all() && high.cmple(tile + 1.0).all()));
    areas.inside.area = if in_one_tile {
        areas.once.area
    } else {
        let square = |DVec2 { x, y }| vec![[x, y], [x + 1.0, y], [x + 1.0, y + 1.0], [x, y + 1.0]];
        area(&common(&regions.once, &lows.map(square).collect()))
    };
    Cover { areas, is_sampled: false, twice: Region::Outline(regions.twice) }
}

fn sampled(input: &SheetInput, triangles: &[u32], tiles: &[(u32, u32)]) -> Cover {
    let boxes = triangles.iter().map(|&triangle| {
        let [a, b, c] = corners(input, triangle as usize);
        (a.min(b).min(c), a.max(b).max(c))
    });
    let twice = Region::InTwo(boxes.collect());
    Cover { areas: scanlines::sample(input, triangles, tiles), is_sampled: true, twice }
}

/// Triangles that meet others, and those that meet none, both ascending. Of equal triangles, two: they are sufficient.
fn meeting_and_alone(input: &SheetInput) -> (Vec<u32>, Vec<u32>) {
    let distinct = Distinct::new(input, |_| true);
    let members = |id: u32| distinct.class_ids(id).flat_map(|number| distinct.members(number));
    let mut meets: Vec<bool> = (0..distinct.len() as u32).map(|id| members(id).nth(1).is_some()).collect();
    let q = |id: u32| corners(input, distinct.example(id));
    let entries = (0..distinct.len() as u32).map(|id| {
        let [a, b, c] = q(id);
        Entry { low: a.min(b).min(c), high: a.max(b).max(c), id }
    });
    let mut left = PAIRS_PER_TRIANGLE * meets.len();
    let finished = BoxTree::new(entries.collect()).for_each_pair(|step| {
        if let Step::Met(a, b) = step {
            left = left.saturating_sub(1);
            let known = meets[a.id as usize] && meets[b.id as usize];
            if !known && convex::meet(q(a.id), q(b.id)) {
                (meets[a.id as usize], meets[b.id as usize]) = (true, true);
            }
        }
        left > 0
    });
    let (mut together, mut alone) = (Vec::new(), Vec::new());
    for id in 0..distinct.len() as u32 {
        if finished && !meets[id as usize] {
            alone.push(distinct.example(id) as u32);
        } else {
            together.extend(members(id).take(2));
        }
    }
    together.sort_unstable();
    alone.sort_unstable();
    (together, alone)
}

/// Covers each half and puts them together: edges that lie inside what the others cover are gone before they meet, so
/// that many triangles nearly on one another do not cross each with each. `None` where that takes more effort than is `left`.
fn cover_by_halves(input: &SheetInput, triangles: &[u32], left: &mut u64) -> Option<Regions> {
    let edges = boundary_edges_of_few(input, triangles);
    *left = left.checked_sub(EFFORT_EDGE * edges.len() as u64)?;
    if triangles.len() <= TRIANGLES_FEW || !is_crowded(&edges, input.uv) {
        return Some(resolve(edges, input.uv));
    }
    drop(edges);
    let (first, second) = triangles.split_at(triangles.len() / 2);
    let (a, b) = (cover_by_halves(input, first, left)?, cover_by_halves(input, second, left)?);
    weigh(a.once.iter().chain(&b.once), left)?;
    let once = both(&a.once, &b.once);
    let mut twice = common(&a.once, &b.once);
    twice.extend(a.twice);
    twice.extend(b.twice);
    weigh(twice.iter(), left)?;
    Some(Regions { once, twice: covered(&twice) })
}

/// Takes the effort of resolving contours from what is left; `None` where that is not enough.
fn weigh<'a>(contours: impl Iterator<Item = &'a Vec<[f64; 2]>>, left: &mut u64) -> Option<()> {
    let ends = contours.flat_map(|contour| contour.iter().zip(contour.iter().cycle().skip(1)));
    let edges: Vec<[DVec2; 2]> = ends.map(|(&p, &q)| [p, q].map(DVec2::from_array)).collect();
    *left = left.checked_sub(EFFORT_EDGE * edges.len() as u64)?;
    let entries = edges.iter().zip(0..).map(|([p, q], id)| Entry { low: p.min(*q), high: p.max(*q), id });
    let apart = |[p, q]: [DVec2; 2], r: DVec2, s: DVec2| (q - p).perp_dot(r - p) * (q - p).perp_dot(s - p) >= 0.0;
    let mut enough = true;
    BoxTree::new(entries.collect()).for_each_pair(|step| {
        let effort = match step {
            Step::Looked(pairs) => EFFORT_BOXES * pairs,
            Step::Met(a, b) => {
                let (a, b) = (edges[a.id as usize], edges[b.id as usize]);
                if apart(a, b[0], b[1]) || apart(b, a[0], a[1]) { EFFORT_MET } else { EFFORT_CROSSING }
            }
        };
        enough = *left >= effort;
        *left = left.saturating_sub(effort);
        enough
    });
    enough.then_some(())
}

fn resolve(edges: Vec<(u32, u32)>, uv: &[DVec2]) -> Regions {
    let chain = chain(edges, uv);
    Regions { once: covered(&chain), twice: covered_twice(&chain) }
}

/// What all triangles cover; `None` where that takes more effort than is `left`.
pub(super) fn union_of(input: &SheetInput, left: &mut u64) -> Option<Contours> {
    let (_, boundary) = outlines_and_boundary(input);
    *left = left.checked_sub(EFFORT_EDGE * boundary.len() as u64)?;
    if !is_crowded(&boundary, input.uv) {
        return Some(covered(&chain(boundary, input.uv)));
    }
    let with_area = |triangle: &u32| counter_clockwise(input, *triangle as usize).is_some();
    let triangles: Vec<u32> = (0..input.triangles.len() as u32).filter(with_area).collect();
    cover_by_halves(input, &triangles, left).map(|regions| regions.once)
}

/// Area in both of two resolved regions; `None` where that takes more effort than is `left`.
pub(super) fn area_in_both(a: &Contours, b: &Contours, left: &mut u64) -> Option<f64> {
    weigh(a.iter().chain(b), left)?;
    Some(area(&common(a, b)))
}

/// Do the edges cross so often that taking all at once would be quadratic?
fn is_crowded(edges: &[(u32, u32)], uv: &[DVec2]) -> bool {
    let entries = edges.iter().zip(0..).map(|(&(from, to), id)| {
        let (p, q) = (uv[from as usize], uv[to as usize]);
        Entry { low: p.min(q), high: p.max(q), id }
    });
    let entries: Vec<Entry> = entries.collect();
    let mut left = CROSSINGS_FEW + CROSSINGS_PER_EDGE * edges.len();
    if most_pairs(&entries).is_some_and(|most| most < left) {
        return false;
    }
    !BoxTree::new(entries).for_each_pair(|step| {
        left = left.saturating_sub(usize::from(matches!(step, Step::Met(..))));
        left > 0
    })
}

/// Directed edges that stay when opposite ones cancel, by sorting: for a part of all triangles.
fn boundary_edges_of_few(input: &SheetInput, triangles: &[u32]) -> Vec<(u32, u32)> {
    let corners = triangles.iter().filter_map(|&triangle| counter_clockwise(input, triangle as usize));
    let mut edges: Vec<u64> = corners
        .flat_map(|[a, b, c]| [(a, b), (b, c), (c, a)])
        .map(|(a, b)| packed::two(a.min(b), upper_and_direction(a, b)))
        .collect();
    edges.sort_unstable();
    let mut left = Vec::new();
    for same in edges.chunk_by(|a, b| a >> 1 == b >> 1) {
        let down = same.iter().filter(|&&edge| edge & 1 == 1).count();
        let (lower, upper) = packed::split_two(same[0]);
        push_rest(lower, upper >> 1, same.len() - down, down, &mut left);
    }
    left
}

/// Upper end and direction in one number: uv values are far fewer than 2^31.
fn upper_and_direction(a: u32, b: u32) -> u32 {
    a.max(b) << 1 | u32::from(a > b)
}

/// Chains directed edges into closed contours. As many lead to each value as from it, so a walk ends where it began.
fn chain(edges: Vec<(u32, u32)>, uv: &[DVec2]) -> Contours {
    let mut edges: Vec<u64> = edges.into_iter().map(|(from, to)| packed::two(from, to)).collect();
    edges.sort_unstable();
    let from = |edge: u64| packed::split_two(edge).0;
    // Next edge to take from each value that has some.
    let mut next = vec![u32::MAX; if edges.is_empty() { 0 } else { uv.len() }];
    for (index, edge) in edges.iter().enumerate().rev() {
        next[from(*edge) as usize] = index as u32;
    }
    let mut contours = Contours::new();
    let mut contour = Vec::new();
    for index in 0..edges.len() {
        let start = from(edges[index]);
        if next[start as usize] as usize > index {
            continue;
        }
        let mut at = start;
        loop {
            contour.push(uv[at as usize].to_array());
            let edge = next[at as usize] as usize;
            let Some((_, to)) = edges.get(edge).copied().map(packed::split_two) else { break };
            let more = edges.get(edge + 1).is_some_and(|&following| from(following) == at);
            next[at as usize] = if more { edge as u32 + 1 } else { u32::MAX };
            at = to;
            if at == start {
                break;
            }
        }
        contours.push(contour.clone());
        contour.clear();
    }
    contours
}
