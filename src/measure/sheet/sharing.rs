//! Overlaps: which shells and triangles share texture space.
//!
//! Two triangles share when their uv interiors intersect in more than [`SHARED_AREA_MIN_PX2`]. Only triangles that reach
//! the region covered twice (`cover`, `region`) are looked at: a good layout needs no pair at all. Those that are the same
//! on the sheet are taken as one (`distinct`), pairs come from a tree of boxes (`box_tree`). Whether two triangles meet is
//! decided exactly, how much by clipping one with the other (`convex`).
//!
//! Shells: *stacked* (same handedness, at least [`STACKED_SHARE_MIN`] of both), *mirrored* (opposite handedness),
//! *partial overlap* (same handedness, partly), *self-overlap*. Two shells share when some triangle of one shares with
//! one of the other; their shared area is then all they have in common, down to pieces too small to count alone. A
//! shell over itself in opposite orientation is a pair with itself, until it is known which of its sides are mirrored
//! (`Sharing::settle`): a fold is none, but it counts in `mirrored_share`. Slivers overlap nothing. Where a shell lies
//! over itself in triangles that are not the same, a place may count once for every layer; areas are capped at the
//! shell's own. Cost: linear in triangles, n log n in those that are looked at, linear in pairs that meet; bounded by
//! [`EFFORT_MAX`].
//!
//! Where the areas of the sheet are sampled (`scanlines`), the search looks wherever two boxes meet: an estimate of an area
//! may be off, but no shared place is missed because of it.

use super::box_tree::{BoxTree, Entry, Step};
use super::convex::{self, Piece};
use super::distinct::{Class, Distinct};
use super::input::{SheetInput, corners, counter_clockwise};
use super::region::RegionMask;
pub use super::shared::ShareKind;
use super::shared::{self, Hit, Partners, shares_of_classes};
use super::usage::Sheet;
use crate::measure::flat::sides::MIRRORED_SHARE_MIN;
use crate::util::packed;
use glam::DVec2;
use rustc_hash::FxHashMap;

/// Two triangles that share less than this do not share: it is within the rounding of the file's decimals, and not
/// visible. By definition, in px at the map's size.
pub const SHARED_AREA_MIN_PX2: f64 = 0.01;
/// Stacked shells share at least this of both: as of mirrored sides.
pub const STACKED_SHARE_MIN: f64 = MIRRORED_SHARE_MIN;
/// Work before the search says "at least", about nanoseconds of a desktop computer of 2020: some seconds in a browser.
/// A count, not a clock, so that results are the same everywhere.
pub const EFFORT_MAX: u64 = 3 * shared::EFFORT_MAX;
/// Effort of comparing two boxes.
const EFFORT_BOXES: u64 = 1;
/// Effort of an exact test of two triangles.
const EFFORT_TEST: u64 = 50;
/// Effort of clipping two triangles, and of recording one pair of shells.
const EFFORT_BOOK: u64 = 100;
/// Pairs of distinct triangles kept: 16 MB, and twice that while they are sorted by partner.
const HITS_MAX: usize = 2_000_000;
/// Most pairs of shells reported: far more than anyone reads, and still a report of a few MB.
const SHELL_PAIRS_MAX: usize = 50_000;
/// Layers of a stack whose partners are all reported, where the stack alone breaks a limit: every layer still has some.
const STACK_ROWS: usize = 16;
/// Intersections below this share of the smaller triangle are rounding of the doubles themselves.
const ROUNDING: f64 = 1e-12;

/// Two shells that overlap.
#[derive(Clone, Debug, PartialEq)]
pub struct SharedPair {
    /// The lower shell.
    pub a: u32,
    /// The higher shell; the same as `a` for [`ShareKind::SelfOverlap`], and where one side of a shell is mirrored on another.
    pub b: u32,
    /// How they overlap.
    pub kind: ShareKind,
    /// Shared uv area; what several layers of one shell share counts once where they are the same.
    pub area_uv: f64,
    /// Share of the uv area of `a`, slivers aside, that `b` uses too, 0..1; for a self-overlap, `area_uv` over its uv area.
    pub area_share_a: f64,
    /// Share of the uv area of `b` that `a` uses too, 0..1.
    pub area_share_b: f64,
    /// A triangle of `a` where the two share most (index into the input's triangles): where to look.
    pub example_a: u32,
    /// A triangle of `b` there.
    pub example_b: u32,
}

/// Per triangle, its kinds of overlap.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shares {
    /// With a triangle of opposite orientation.
    pub mirrored: bool,
    /// With a stacked shell.
    pub stacked: bool,
    /// With a partly overlapping shell; also where there are more pairs of shells than are reported.
    pub partial_overlap: bool,
    /// With its own shell, same handedness.
    pub self_overlap: bool,
}

impl Shares {
    fn set(&mut self, kind: ShareKind) {
        match kind {
            ShareKind::Mirrored => self.mirrored = true,
            ShareKind::Stacked => self.stacked = true,
            ShareKind::PartialOverlap => self.partial_overlap = true,
            ShareKind::SelfOverlap => self.self_overlap = true,
        }
    }

    /// Whether it overlaps in this way.
    pub fn has(self, kind: ShareKind) -> bool {
        match kind {
            ShareKind::Mirrored => self.mirrored,
            ShareKind::Stacked => self.stacked,
            ShareKind::PartialOverlap => self.partial_overlap,
            ShareKind::SelfOverlap => self.self_overlap,
        }
    }
}

/// Overlaps of a whole layout.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sharing {
    /// All pairs, by (a, b, kind). Of equal shells the first represents all; that they are stacked is one pair, of the
    /// first two.
    pub pairs: Vec<SharedPair>,
    /// Equal shells, three and more that coincide in every triangle, with the same orientation: rising, groups by their
    /// first.
    pub equal: Vec<Vec<u32>>,
    /// Per triangle of the input.
    pub triangles: Vec<Shares>,
    /// By kind, triangles of which some area is shared in this way, ascending, and in the lower half how much (as `f32`).
    shared: [Vec<u64>; ShareKind::ALL.len()],
    /// Surface area whose sheet area is also used by an oppositely handed triangle, over all mapped surface area.
    pub mirrored_share: Option<f64>,
    /// The search stopped at its limit: everything above is "at least".
    pub at_least: bool,
}

impl Sharing {
    /// Of so many triangles without overlaps.
    pub(super) fn of(triangles: usize) -> Self {
        Self { triangles: vec![Shares::default(); triangles], ..Self::default() }
    }

    /// Shells that overlap one, and how; the first `most` of them. Linear in pairs and equal shells.
    pub fn partners(&self, shell: u32, most: usize) -> Vec<(u32, ShareKind)> {
        let group_of = |shell: &u32| self.equal.iter().find(|group| group.binary_search(shell).is_ok());
        let own = group_of(&shell).map_or(&[] as &[u32], Vec::as_slice);
        let stands_for_it = own.first().copied().unwrap_or(shell);
        let mut partners: Vec<(u32, ShareKind)> =
            own.iter().filter(|&&other| other != shell).take(most).map(|&other| (other, ShareKind::Stacked)).collect();
        for pair in self.pairs.iter().filter(|pair| pair.a == stands_for_it || pair.b == stands_for_it) {
            let other = if pair.a == stands_for_it { pair.b } else { pair.a };
            // Equal shells are stacked: handled above.
            if other == stands_for_it || own.binary_search(&other).is_err() {
                let other = if other == stands_for_it { shell } else { other };
                let others = group_of(&other).filter(|_| other != shell).map_or(vec![other], Clone::clone);
                partners.extend(others.into_iter().take(most).map(|other| (other, pair.kind)));
            }
            if partners.len() >= most {
                break;
            }
        }
        partners.truncate(most);
        partners
    }

    /// Share of a triangle's uv area, 0..1, that lies where others lie that share with it in this way. Of opposite ones all
    /// count, those of its own shell too, whether that is mirrored or folded there.
    pub fn shared_share(&self, triangle: u32, kind: ShareKind) -> f64 {
        let list = &self.shared[kind as usize];
        let place = list.partition_point(|&entry| packed::split_two(entry).0 < triangle);
        list.get(place).map_or(0.0, |&entry| match packed::split_two(entry) {
            (here, share) if here == triangle => f64::from(f32::from_bits(share)),
            _ => 0.0,
        })
    }

    /// Adds the overlaps of triangles of a part of the model; `triangles`: their numbers in the model, rising.
    pub(super) fn take_shared(&mut self, part: &mut Self, triangles: &[u32]) {
        for (all, own) in self.shared.iter_mut().zip(&mut part.shared) {
            all.extend(std::mem::take(own).into_iter().map(|entry| {
                let (at, share) = packed::split_two(entry);
                packed::two(triangles[at as usize], share)
            }));
            all.sort_unstable();
        }
    }

    /// Drops the pairs of a shell with itself, mirrored, but of those shells that hold a side that is.
    pub(in crate::measure) fn settle(&mut self, holds_mirrored: &[bool]) {
        self.pairs
            .retain(|pair| pair.a != pair.b || pair.kind != ShareKind::Mirrored || holds_mirrored[pair.a as usize]);
    }
}

/// Two shells, the lower first, and whether their handedness is opposite.
type PairKey = (u32, u32, bool);

/// What two shells have in common.
#[derive(Clone, Copy, Debug, Default)]
struct SharedArea {
    /// On the sheet.
    area: f64,
    /// The same, counted for every triangle of the lower and of the higher shell.
    of_shells: [f64; 2],
    /// Largest piece that counts alone, and its triangles; 0 where there is none.
    largest: f64,
    examples: [u32; 2],
}

/// Finds all overlaps; `sheet` is what [`measure_sheet`](super::usage::measure_sheet) gave for the same input.
///
/// Without any area on the sheet there are no overlaps; `mirrored_share` is `None` where the surface has no area.
pub fn measure_sharing(input: &SheetInput, sheet: &Sheet) -> Sharing {
    let mut result = Sharing::of(input.triangles.len());
    let mapped_surface: f64 = input.surface.iter().sum();
    result.mirrored_share = (mapped_surface > 0.0).then_some(0.0);
    let Some(mask) = RegionMask::new(&sheet.twice) else { return result };
    let mut distinct = Distinct::new(input, |triangle| {
        let (low, high) = bounds(input, triangle);
        !input.is_sliver(triangle) && mask.touches(low, high)
    });
    drop(mask);
    result.equal = distinct.join_equal(input, &|triangle| !input.is_sliver(triangle));
    let distinct = distinct;
    let mut search = Search::new(input, &distinct);
    search.stacks();
    search.crossings();
    result.at_least = search.cut_off;
    let Search { shared, hits, .. } = search;
    result.pairs = pairs(input, &distinct, &shared, &result.equal);
    // Pairs are in the order of their shells.
    let stacked = result.pairs.iter().filter(|pair| pair.kind == ShareKind::Stacked);
    let stacked: Vec<u64> = stacked.map(|pair| packed::two(pair.a, pair.b)).collect();
    flag(input, &distinct, &hits, &stacked, &mut result.triangles);
    let kind_of = |x: Class, y: Class| {
        let key = pair_key(x, y);
        shared.get(&key).is_some_and(|shared| shared.largest > 0.0).then(|| kind_of_pair(key, &stacked))
    };
    let partners = Partners::new(&distinct, &hits, !result.at_least);
    let mut left = [shared::EFFORT_MAX; 2];
    for kind in ShareKind::ALL {
        let is_mirrored = kind == ShareKind::Mirrored;
        if !is_mirrored && result.pairs.iter().all(|pair| pair.kind != kind) {
            continue;
        }
        // The mirrored share is a separate number: nothing else takes effort from it.
        let left = &mut left[usize::from(is_mirrored)];
        let found = shares_of_classes(input, &distinct, &partners, kind, &kind_of, left);
        result.at_least |= found.at_least;
        let list = &mut result.shared[kind as usize];
        let mut surface = 0.0;
        for (number, &share) in found.shares.iter().enumerate().filter(|(_, share)| **share > 0.0) {
            let members = distinct.members(number);
            list.extend(members.iter().map(|&triangle| packed::two(triangle, (share as f32).to_bits())));
            surface += share * members.iter().map(|&triangle| input.surface[triangle as usize]).sum::<f64>();
        }
        list.sort_unstable();
        if is_mirrored && mapped_surface > 0.0 {
            result.mirrored_share = Some((surface / mapped_surface).min(1.0));
        }
    }
    result
}

/// How two overlapping shells overlap; `stacked` pairs in order.
fn kind_of_pair((a, b, opposite): PairKey, stacked: &[u64]) -> ShareKind {
    if opposite {
        ShareKind::Mirrored
    } else if a == b {
        ShareKind::SelfOverlap
    } else if stacked.binary_search(&packed::two(a, b)).is_ok() {
        ShareKind::Stacked
    } else {
        ShareKind::PartialOverlap
    }
}

/// [`SHARED_AREA_MIN_PX2`] in uv.
fn least_area(input: &SheetInput) -> f64 {
    SHARED_AREA_MIN_PX2 / (f64::from(input.map.width_px) * f64::from(input.map.height_px))
}

fn bounds(input: &SheetInput, triangle: usize) -> (DVec2, DVec2) {
    let [a, b, c] = input.triangles[triangle].map(|index| input.uv[index as usize]);
    (a.min(b).min(c), a.max(b).max(c))
}

fn pair_key(x: Class, y: Class) -> PairKey {
    (x.shell().min(y.shell()), x.shell().max(y.shell()), x.reversed() != y.reversed())
}

struct Search<'a> {
    input: &'a SheetInput<'a>,
    distinct: &'a Distinct,
    /// Least uv area of a piece that counts alone.
    least: f64,
    shared: FxHashMap<PairKey, SharedArea>,
    hits: Vec<Hit>,
    effort: u64,
    cut_off: bool,
}

impl<'a> Search<'a> {
    fn new(input: &'a SheetInput<'a>, distinct: &'a Distinct) -> Self {
        let least = least_area(input);
        Self { input, distinct, least, shared: FxHashMap::default(), hits: Vec::new(), effort: 0, cut_off: false }
    }

    /// Triangles that are the same share all of themselves.
    fn stacks(&mut self) {
        for id in 0..self.distinct.len() as u32 {
            let classes = self.distinct.class_ids(id);
            if classes.len() == 1 && self.distinct.layers(classes.start) == 1 {
                continue;
            }
            let area = Piece::from(corners(self.input, self.distinct.example(id))).area();
            for x in classes.clone() {
                if self.distinct.layers(x) > 1 {
                    self.book(x, x, area);
                }
                for y in x + 1..classes.end {
                    // The other half is for those that are not the same.
                    if self.effort > EFFORT_MAX / 2 {
                        self.cut_off = true;
                        break;
                    }
                    self.book(x, y, area);
                }
            }
        }
    }

    /// Triangles that are not the same share what they have in common.
    fn crossings(&mut self) {
        let distinct = self.distinct;
        let entries = (0..distinct.len() as u32).map(|id| {
            let (low, high) = bounds(self.input, distinct.example(id));
            Entry { low, high, id }
        });
        let tree = BoxTree::new(entries.collect());
        let finished = tree.for_each_pair(|step| {
            match step {
                Step::Looked(pairs) => self.effort += EFFORT_BOXES * pairs,
                Step::Met(a, b) => self.test(a.id.min(b.id), a.id.max(b.id)),
            }
            self.effort < EFFORT_MAX && self.hits.len() < HITS_MAX
        });
        self.cut_off |= !finished;
    }

    fn test(&mut self, a: u32, b: u32) {
        let (t, s) = (self.distinct.example(a), self.distinct.example(b));
        self.effort += EFFORT_TEST;
        let (p, q) = (corners(self.input, t), corners(self.input, s));
        if are_neighbours(&p, &q) {
            return;
        }
        let Some(piece) = convex::common(p, q) else { return };
        let area = piece.area();
        if area <= ROUNDING * Piece::from(p).area().min(Piece::from(q).area()) {
            return;
        }
        self.hits.push(Hit::new(a, b, area > self.least));
        for x in self.distinct.class_ids(a) {
            if self.effort > EFFORT_MAX {
                self.cut_off = true;
                return;
            }
            self.distinct.class_ids(b).for_each(|y| self.book(x, y, area));
        }
    }

    /// Records an area that the triangles of two classes have in common.
    fn book(&mut self, x: usize, y: usize, area: f64) {
        self.effort += EFFORT_BOOK;
        let (mut x, mut y) = (x, y);
        if self.distinct.class(x).shell() > self.distinct.class(y).shell() {
            (x, y) = (y, x);
        }
        let key = pair_key(self.distinct.class(x), self.distinct.class(y));
        if self.effort > EFFORT_MAX || (self.shared.len() >= SHELL_PAIRS_MAX && !self.shared.contains_key(&key)) {
            self.cut_off = true;
            return;
        }
        let (of_x, of_y) = (self.distinct.members(x), self.distinct.members(y));
        let (layers_x, layers_y) = (self.distinct.layers(x), self.distinct.layers(y));
        let shared = self.shared.entry(key).or_default();
        shared.area += area;
        shared.of_shells[0] += area * layers_x as f64;
        shared.of_shells[1] += area * layers_y as f64;
        let examples = if x == y { [of_x[0], of_x[1]] } else { [of_x[0], of_y[0]] };
        if area > self.least && (area > shared.largest || (area == shared.largest && examples < shared.examples)) {
            shared.largest = area;
            shared.examples = examples;
        }
    }
}

/// Two counter-clockwise triangles on either side of an edge: the commonest case of boxes that meet.
fn are_neighbours(p: &[DVec2; 3], q: &[DVec2; 3]) -> bool {
    (0..3).any(|i| (0..3).any(|j| p[i] == q[(j + 1) % 3] && p[(i + 1) % 3] == q[j]))
}

fn pairs(
    input: &SheetInput,
    distinct: &Distinct,
    shared: &FxHashMap<PairKey, SharedArea>,
    equal: &[Vec<u32>],
) -> Vec<SharedPair> {
    let mut shell_area = vec![0.0; input.shell_count as usize];
    for triangle in 0..input.triangles.len() {
        if !input.is_sliver(triangle) && counter_clockwise(input, triangle).is_some() {
            shell_area[input.shell[triangle] as usize] += Piece::from(corners(input, triangle)).area();
        }
    }
    // By shells, opposite ones first: the order of the kinds.
    let mut keys: Vec<u128> = shared
        .iter()
        .filter(|(_, shared)| shared.largest > 0.0)
        .map(|(&(a, b, opposite), _)| packed::four([0, a, b, u32::from(!opposite)]))
        .collect();
    keys.sort_unstable();
    let mut pairs: Vec<SharedPair> = keys
        .into_iter()
        .map(packed::split_four)
        .filter_map(|[_, a, b, same]| Some(((a, b, same == 0), shared.get(&(a, b, same == 0))?)))
        .map(|((a, b, opposite), shared)| {
            let areas = [a, b].map(|shell| shell_area[shell as usize]);
            let area_uv = shared.area.min(areas[0]).min(areas[1]);
            let [of_a, of_b] = shared.of_shells;
            let of_shells = match (a == b, opposite) {
                (true, true) => [of_a + of_b; 2],
                (true, false) => [area_uv; 2],
                (false, _) => [of_a, of_b],
            };
            let [area_share_a, area_share_b] = [0, 1].map(|side| (of_shells[side] / areas[side]).min(1.0));
            let kind = if opposite {
                ShareKind::Mirrored
            } else if a == b {
                ShareKind::SelfOverlap
            } else if area_share_a.min(area_share_b) >= STACKED_SHARE_MIN {
                ShareKind::Stacked
            } else {
                ShareKind::PartialOverlap
            };
            let [example_a, example_b] = shared.examples;
            SharedPair { a, b, kind, area_uv, area_share_a, area_share_b, example_a, example_b }
        })
        .collect();
    if equal.is_empty() {
        return pairs;
    }
    // Of the first of equal shells its largest triangle, and the same of the second.
    let mut largest = vec![(0.0, [0, 0]); input.shell_count as usize];
    for id in 0..distinct.len() as u32 {
        let area = Piece::from(corners(input, distinct.example(id))).area();
        for number in distinct.class_ids(id).filter(|&number| distinct.copies(number) > 1) {
            let (members, most) = (distinct.members(number), &mut largest[distinct.class(number).shell() as usize]);
            if area > most.0 {
                *most = (area, [members[0], members[distinct.layers(number)]]);
            }
        }
    }
    pairs.extend(equal.iter().filter(|group| largest[group[0] as usize].0 > least_area(input)).map(|group| {
        SharedPair {
            a: group[0],
            b: group[1],
            kind: ShareKind::Stacked,
            area_uv: shell_area[group[0] as usize],
            area_share_a: 1.0,
            area_share_b: 1.0,
            example_a: largest[group[0] as usize].1[0],
            example_b: largest[group[0] as usize].1[1],
        }
    }));
    packed::ordered(pairs, |x, y| (x.a, x.b, x.kind).cmp(&(y.a, y.b, y.kind)))
}

/// Sets for every triangle how it overlaps.
fn flag(input: &SheetInput, distinct: &Distinct, hits: &[Hit], stacked: &[u64], triangles: &mut [Shares]) {
    let mut of_class = vec![Shares::default(); distinct.class_count()];
    let mut both = |x: usize, y: usize| {
        // Partial also beyond the limit of pairs reported: it is known that they overlap, not how much.
        let kind = kind_of_pair(pair_key(distinct.class(x), distinct.class(y)), stacked);
        for number in [x, y] {
            of_class[number].set(kind);
        }
    };
    let mut effort = 0;
    for id in 0..distinct.len() as u32 {
        let classes = distinct.class_ids(id);
        if Piece::from(corners(input, distinct.example(id))).area() <= least_area(input) {
            continue;
        }
        classes.clone().filter(|&number| distinct.layers(number) > 1).for_each(|number| both(number, number));
        effort += classes.len() * classes.len() / 2;
        let all = classes.len() * classes.len() / 2 <= SHELL_PAIRS_MAX && effort as u64 <= EFFORT_MAX / EFFORT_BOOK;
        for x in classes.clone().take(if all { classes.len() } else { STACK_ROWS }) {
            (x + 1..classes.end).for_each(|y| both(x, y));
        }
    }
    for hit in hits.iter().filter(|hit| hit.counts_alone()) {
        let (of_a, of_b) = (distinct.class_ids(hit.a), distinct.class_ids(hit.b()));
        effort += of_a.len() * of_b.len();
        if effort as u64 <= 2 * EFFORT_MAX / EFFORT_BOOK {
            of_a.for_each(|x| of_b.clone().for_each(|y| both(x, y)));
        } else {
            // The pair at which the search was cut off: every class still has some partners.
            of_a.clone().take(STACK_ROWS).for_each(|x| of_b.clone().for_each(|y| both(x, y)));
            of_b.take(STACK_ROWS).for_each(|y| of_a.clone().for_each(|x| both(x, y)));
        }
    }
    for (number, mut shares) in of_class.into_iter().enumerate() {
        let q = corners(input, distinct.members(number)[0] as usize);
        shares.stacked |= distinct.copies(number) > 1 && Piece::from(q).area() > least_area(input);
        distinct.members(number).iter().for_each(|&triangle| triangles[triangle as usize] = shares);
    }
}
