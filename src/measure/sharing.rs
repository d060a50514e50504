//! Who shares texture space with whom.
//!
//! Two triangles share when their uv interiors intersect in more than [`SHARED_AREA_MIN_PX2`]. Only triangles that reach
//! the region covered twice (`cover`, `region`) are looked at: a good layout needs no pair at all. Those that are the same
//! on the sheet are taken as one (`distinct`), pairs come from a tree of boxes (`box_tree`). Whether two triangles meet is
//! decided exactly, how much by clipping one with the other (`convex`).
//!
//! Shells: *stacked* (same handedness, at least [`STACKED_SHARE_MIN`] of both), *mirrored* (opposite handedness),
//! *partial overlap* (same handedness, partly), *self-overlap*. Two shells share when some triangle of one shares with one of the
//! other; their shared area is then all they have in common, down to pieces too small to count alone. A fold, which is
//! one shell over itself the other way round, is no pair; it counts in `mirrored_share`. Where a shell lies over itself in
//! triangles that are not the same, a place may count once for every layer; areas are capped at the shell's own.
//! Cost: linear in triangles, n log n in those that are looked at, linear in pairs that meet; bounded by [`EFFORT_MAX`].

use super::box_tree::{BoxTree, Entry, Step};
use super::convex::{self, Piece};
use super::cover::{self, corners};
use super::distinct::{Class, Distinct};
use super::mirrored;
use super::region::RegionMask;
use super::sheet::{Sheet, SheetInput};
use crate::packed;
use glam::DVec2;
use rustc_hash::FxHashMap;

/// Two triangles that share less than this do not share: rounding of the file's decimals reaches it, a person cannot
/// see it. By definition, in px at the map's size.
pub const SHARED_AREA_MIN_PX2: f64 = 0.01;
/// Stacked shells share at least this of both. By definition.
pub const STACKED_SHARE_MIN: f64 = 0.95;
/// Work before the search says "at least", about nanoseconds of a desktop computer of 2020: a person waits some seconds
/// for it in a browser, no longer. A count, not a clock, so that everybody gets the same answer.
pub const EFFORT_MAX: u64 = 3_000_000_000;
/// Effort of comparing two boxes.
const EFFORT_BOXES: u64 = 1;
/// Effort of an exact test of two triangles.
const EFFORT_TEST: u64 = 50;
/// Effort of clipping two triangles, and of booking one pair of shells.
const EFFORT_BOOK: u64 = 100;
/// Pairs of distinct triangles kept: 32 MB.
const HITS_MAX: usize = 4_000_000;
/// Pairs of shells told apart: far more than anybody reads, and still a report of a few MB.
const SHELL_PAIRS_MAX: usize = 50_000;
/// Layers of a stack whose partners are all told, where the stack alone breaks a limit: every layer still has some.
const STACK_ROWS: usize = 16;
/// Intersections below this share of the smaller triangle are rounding of the doubles themselves.
const ROUNDING: f64 = 1e-12;

/// How two shells (or one and itself) share.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ShareKind {
    /// Oppositely handed.
    Mirrored,
    /// Same handedness, at least 95 % of both.
    Stacked,
    /// Same handedness, partly.
    PartialOverlap,
    /// One shell over itself.
    SelfOverlap,
}

/// Two shells that share.
#[derive(Clone, Debug, PartialEq)]
pub struct SharedPair {
    /// The lower shell.
    pub a: u32,
    /// The higher shell; the same as `a` for [`ShareKind::SelfOverlap`].
    pub b: u32,
    /// How they share.
    pub kind: ShareKind,
    /// Shared uv area; what several layers of one shell share counts once where they are the same.
    pub area_uv: f64,
    /// Share of the uv area of `a` that `b` uses too, 0..1; for a self-overlap, `area_uv` over its uv area.
    pub area_share_a: f64,
    /// Share of the uv area of `b` that `a` uses too, 0..1.
    pub area_share_b: f64,
    /// A triangle of `a` where the two share most (index into the input's triangles): where to look.
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
    /// With a partly overlapping shell; also where there are more pairs of shells than are told apart.
    pub partial_overlap: bool,
    /// With its own shell, same handedness.
    pub self_overlap: bool,
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

/// Two shells, the lower first, and whether their handedness is opposite.
pub(super) type PairKey = (u32, u32, bool);

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

/// Two distinct triangles that have an area in common.
#[derive(Clone, Copy)]
pub(super) struct Hit {
    pub a: u32,
    /// The other, and in the lowest bit whether the area counts alone.
    b: u32,
}

impl Hit {
    pub(super) fn b(self) -> u32 {
        self.b >> 1
    }

    fn counts_alone(self) -> bool {
        self.b & 1 == 1
    }
}

/// Finds all sharing; `sheet` is what [`measure_sheet`](super::sheet::measure_sheet) said of the same input.
///
/// Without any area on the sheet nobody shares; `mirrored_share` is `None` where the surface has no area.
pub fn measure_sharing(input: &SheetInput, sheet: &Sheet) -> Sharing {
    let mut result = Sharing { triangles: vec![Shares::default(); input.triangles.len()], ..Sharing::default() };
    let mapped_surface: f64 = input.surface.iter().sum();
    result.mirrored_share = (mapped_surface > 0.0).then_some(0.0);
    let Some(mask) = RegionMask::new(&sheet.twice) else { return result };
    let distinct = Distinct::new(input, |triangle| {
        let (low, high) = bounds(input, triangle);
        mask.touches(low, high)
    });
    drop(mask);
    let mut search = Search::new(input, &distinct);
    search.stacks();
    search.crossings();
    result.at_least = search.cut_off;
    let Search { shared, hits, .. } = search;
    result.pairs = pairs(input, &shared);
    flag(input, &distinct, &hits, &result.pairs, &mut result.triangles);
    if mapped_surface > 0.0 {
        let counts = |key: &PairKey| shared.get(key).is_some_and(|shared| shared.largest > 0.0);
        let surface = mirrored::mirrored_surface(input, &distinct, &hits, !result.at_least, counts);
        result.at_least |= surface.at_least;
        result.mirrored_share = Some((surface.area / mapped_surface).min(1.0));
    }
    result
}

/// [`SHARED_AREA_MIN_PX2`] in uv.
fn least_area(input: &SheetInput) -> f64 {
    SHARED_AREA_MIN_PX2 / (f64::from(input.map.width_px) * f64::from(input.map.height_px))
}

fn bounds(input: &SheetInput, triangle: usize) -> (DVec2, DVec2) {
    let [a, b, c] = input.triangles[triangle].map(|index| input.uv[index as usize]);
    (a.min(b).min(c), a.max(b).max(c))
}

pub(super) fn pair_key(x: Class, y: Class) -> PairKey {
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
            if classes.len() == 1 && self.distinct.members(classes.start).len() == 1 {
                continue;
            }
            let area = Piece::from(corners(self.input, self.distinct.example(id))).area();
            for x in classes.clone() {
                if self.distinct.members(x).len() > 1 {
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
        self.hits.push(Hit { a, b: b << 1 | u32::from(area > self.least) });
        for x in self.distinct.class_ids(a) {
            if self.effort > EFFORT_MAX {
                self.cut_off = true;
                return;
            }
            self.distinct.class_ids(b).for_each(|y| self.book(x, y, area));
        }
    }

    /// Books an area that the triangles of two classes have in common.
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
        let shared = self.shared.entry(key).or_default();
        shared.area += area;
        shared.of_shells[0] += area * of_x.len() as f64;
        shared.of_shells[1] += area * of_y.len() as f64;
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

fn pairs(input: &SheetInput, shared: &FxHashMap<PairKey, SharedArea>) -> Vec<SharedPair> {
    let mut shell_area = vec![0.0; input.shell_count as usize];
    for triangle in 0..input.triangles.len() {
        if cover::counter_clockwise(input, triangle).is_some() {
            shell_area[input.shell[triangle] as usize] += Piece::from(corners(input, triangle)).area();
        }
    }
    // By shells, opposite ones first: the order of the kinds.
    let mut keys: Vec<u128> = shared
        .iter()
        .filter(|((a, b, opposite), shared)| shared.largest > 0.0 && (a != b || !opposite))
        .map(|(&(a, b, opposite), _)| packed::four([0, a, b, u32::from(!opposite)]))
        .collect();
    keys.sort_unstable();
    keys.into_iter()
        .map(packed::split_four)
        .filter_map(|[_, a, b, same]| Some(((a, b, same == 0), shared.get(&(a, b, same == 0))?)))
        .map(|((a, b, opposite), shared)| {
            let areas = [a, b].map(|shell| shell_area[shell as usize]);
            let area_uv = shared.area.min(areas[0]).min(areas[1]);
            let of_shells = if a == b { [area_uv; 2] } else { shared.of_shells };
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
        .collect()
}

/// Tells every triangle how it shares.
fn flag(input: &SheetInput, distinct: &Distinct, hits: &[Hit], pairs: &[SharedPair], triangles: &mut [Shares]) {
    // Pairs are in the order of their shells.
    let stacked = pairs.iter().filter(|pair| pair.kind == ShareKind::Stacked);
    let stacked: Vec<u64> = stacked.map(|pair| packed::two(pair.a, pair.b)).collect();
    let mut of_class = vec![Shares::default(); distinct.class_count()];
    let mut both = |x: usize, y: usize| {
        let (a, b, opposite) = pair_key(distinct.class(x), distinct.class(y));
        for number in [x, y] {
            let shares = &mut of_class[number];
            if opposite {
                shares.mirrored = true;
            } else if a == b {
                shares.self_overlap = true;
            } else if stacked.binary_search(&packed::two(a, b)).is_ok() {
                shares.stacked = true;
            } else {
                // Also beyond the limit of pairs told apart: it is known that they share, not how much.
                shares.partial_overlap = true;
            }
        }
    };
    let mut effort = 0;
    for id in 0..distinct.len() as u32 {
        let classes = distinct.class_ids(id);
        if Piece::from(corners(input, distinct.example(id))).area() <= least_area(input) {
            continue;
        }
        classes.clone().filter(|&number| distinct.members(number).len() > 1).for_each(|number| both(number, number));
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
    for (number, shares) in of_class.into_iter().enumerate() {
        distinct.members(number).iter().for_each(|&triangle| triangles[triangle as usize] = shares);
    }
}
