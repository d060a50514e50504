//! Padding: the empty px between shells, and between a shell and its tile's border.
//!
//! Between two shells: the least distance over the edges of their outlines (`outline`, `segment`), in px at the map's
//! size (u scaled by its width, v by its height). A shell in another's hole is measured to the hole's edge. Shells that
//! overlap (a pair in [`Sharing`]) have no gap; neither have shells of different UDIM tiles, whose texels are in
//! different files. A shell that lies across a border is checked against all tiles' shells. To the border: a shell
//! belongs to the tile it lies in, and its distance is that of its box to the tile's sides. One that ends exactly on u
//! = 1 is 0 px from the border of the tile on the left. What extends beyond the tiles is *outside* (`outside`), and 0
//! px from the border; on a sheet of many tiles a shell over several of them lies *across* and has no distance.
//!
//! A gap of g texels keeps two colours apart down to mip level floor(log2 g), since every level halves it.
//!
//! The least distance is found first, exactly, whatever its size; only when it is below the limit are all pairs below it
//! looked for. Both by branch and bound in one tree of edges (`box_tree`). Shells without area and corners out of reach
//! take no part. Cost: linear in triangles, then n log n in outline edges and linear in edges nearer than the limit;
//! bounded by [`EFFORT_MAX`], beyond which the least distance is "at most" and the number of gaps "at least".
//!
//! The sheet's own tree of boxes, not an R-tree: only there is it known of a node that all it holds is one shell's, so that
//! pairs of shells that overlap, or whose gap is known to be narrower, are skipped by whole branches.

use super::box_tree::{BoxTree, Entry, Near};
use super::input::{SheetInput, corners, counter_clockwise};
use super::outline::OutlineEdge;
use super::outside::tiles_end;
use super::region::RegionMask;
use super::segment;
use super::sharing::Sharing;
use super::tiles::UDIM_COLUMNS;
use super::usage::Sheet;
use crate::brief::{Brief, SheetMap, Tiles};
use crate::measure::flat::map_sizes::map_scale;
use crate::util::packed;
use glam::DVec2;
use rustc_hash::FxHashMap;

#[cfg(test)]
mod tests;

/// What rounding of a file's decimals does to a distance, px: six decimals move a corner by half a hundredth of a pixel at
/// 8192. A gap this little below a limit passes, and a shell this little beyond a border does not cross it.
pub const ROUNDING_PX: f64 = 0.01;
/// Places kept, worst first: far more than anyone reads or a sheet can show.
pub const GAPS_MAX: usize = 10_000;
/// Distinct pairs of shells kept before all but the worst [`GAPS_MAX`] are dropped: a multiple, so that it happens
/// rarely.
const PAIRS_MAX: usize = 4 * GAPS_MAX;
/// Boxes compared in each of the two searches: thousands of slanted needles reach it, after 0.8 s natively; ten
/// thousand shells side by side take 0.2 s in all. A count, not a clock, so that results are the same everywhere.
pub const EFFORT_MAX: u64 = 100_000_000;
/// Effort of a distance between two edges, in comparisons of boxes.
const EFFORT_EDGES: u64 = 8;

/// A distance between two shells, or a shell and its tile's border.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// The lower shell.
    pub a: u32,
    /// The higher one; `None`: the border.
    pub b: Option<u32>,
    /// Index of its sheet.
    pub sheet: u32,
    /// UDIM number of the tile it lies in; `None` outside all, and outside a single tile.
    pub tile: Option<u32>,
    /// Distance, px; 0 where they touch.
    pub px: f64,
    /// The place on the outline of `a`, uv.
    pub at_a: DVec2,
    /// The place on the outline of `b`, or on the border, uv.
    pub at_b: DVec2,
    /// A triangle of `a` there (index into the input's triangles).
    pub triangle_a: u32,
    /// A triangle of `b` there.
    pub triangle_b: Option<u32>,
}

impl Gap {
    /// The last mip level at which it still is a texel wide; `None` where it is less than one at full size.
    pub fn mip_level(&self) -> Option<u32> {
        let px = self.px + ROUNDING_PX;
        (px >= 1.0).then(|| px.log2() as u32)
    }
}

/// Padding of a whole layout.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Padding {
    /// The least distance between two shells that do not overlap; `None` where there are no two.
    pub between: Option<Gap>,
    /// The least distance of a shell to its tile's border; `None` where none lies in a tile or outside all.
    pub border: Option<Gap>,
    /// Those below the limits, one for each pair of shells and each shell near a border, worst first (by its share of
    /// its limit); the first [`GAPS_MAX`].
    pub gaps: Vec<Gap>,
    /// How many there are in all.
    pub gap_count: usize,
    /// There are more than `gap_count`, or overlaps were too many to know which shells have gaps.
    pub at_least: bool,
    /// Shells across the border of a tile, ascending; none on a single tile.
    pub across: Vec<u32>,
}

/// Required least distances, px.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Between shells.
    pub between: f64,
    /// To the border.
    pub border: f64,
}

impl Limits {
    /// Of the brief, on a sheet with this map: none where the texture repeats or is a palette.
    pub fn new(brief: &Brief, map: SheetMap) -> Self {
        if !map.tiles.is_layout() {
            return Self { between: 0.0, border: 0.0 };
        }
        Self { between: brief.padding.between(map), border: brief.padding.border(map) }
    }

    /// Of a gap.
    pub fn of(&self, gap: &Gap) -> f64 {
        if gap.b.is_some() { self.between } else { self.border }
    }
}

/// Measures padding; `sheet` and `sharing` are what [`measure_sheet`](super::usage::measure_sheet) and
/// [`measure_sharing`](super::sharing::measure_sharing) gave for the same input.
///
/// Where the search for overlaps was cut off, which pairs overlap is not all known: shells that reach where two lie
/// over one another are left out of the distances between shells then, and the result says `at_least`.
pub fn measure_padding(input: &SheetInput, sheet: &Sheet, sharing: &Sharing, limits: Limits) -> Padding {
    let field = Field::new(input, sheet, sharing);
    let mut padding = Padding { at_least: sharing.at_least, ..Padding::default() };
    let near_border = field.border_gaps();
    padding.border = near_border.iter().copied().reduce(|least, gap| if gap.px < least.px { gap } else { least });
    padding.gaps.extend(near_border.iter().filter(|gap| gap.px < limits.border - ROUNDING_PX));
    padding.across = field.across();
    let tree = BoxTree::new(field.entries());
    let mut least = Least { field: &field, distance_squared: f64::INFINITY, edges: None, effort: 0 };
    padding.at_least |= !tree.for_each_near_pair(&mut least);
    padding.between = least.edges.map(|(a, b)| field.gap(&a, &b));
    let limit = (limits.between - ROUNDING_PX).max(0.0);
    padding.gap_count = padding.gaps.len();
    if padding.between.is_some_and(|gap| gap.px < limit) {
        let mut below =
            Below { field: &field, limit_squared: limit * limit, pairs: FxHashMap::default(), most: 0, effort: 0 };
        padding.at_least |= !tree.for_each_near_pair(&mut below) || below.most > 0;
        padding.gap_count += below.most.max(below.pairs.len());
        padding.gaps.extend(below.pairs.values().map(|pair| field.gap(&pair.edges.0, &pair.edges.1)));
    }
    let share = |gap: &Gap| gap.px / limits.of(gap);
    padding.gaps =
        packed::ordered(padding.gaps, |x, y| share(x).total_cmp(&share(y)).then((x.a, x.b).cmp(&(y.a, y.b))));
    padding.gaps.truncate(GAPS_MAX);
    padding
}

/// A shell's place on the sheet.
#[derive(Clone, Copy)]
struct Place {
    low: DVec2,
    high: DVec2,
    /// Column and row of the tile it lies in; `None` across a border and outside.
    tile: Option<(u32, u32)>,
    /// Lies in several tiles.
    across: bool,
}

/// Outlines of all shells that take part, in px.
struct Field<'a> {
    input: &'a SheetInput<'a>,
    scale: DVec2,
    is_udim: bool,
    edges: &'a [OutlineEdge],
    /// By edge, its shell.
    shells: Vec<u32>,
    /// By shell; `None` without area.
    places: Vec<Option<Place>>,
    /// Pairs of shells that overlap, the lower first.
    overlapping: Vec<u64>,
    /// Shells left out of the distances between shells: those whose overlaps are not all known, and of equal ones all
    /// but the first. Empty where there are none.
    left_out: Vec<bool>,
}

impl<'a> Field<'a> {
    fn new(input: &'a SheetInput<'a>, sheet: &'a Sheet, sharing: &Sharing) -> Self {
        let mut left_out = Vec::new();
        if sharing.at_least || !sharing.equal.is_empty() {
            left_out.resize(input.shell_count as usize, false);
        }
        for copies in sharing.equal.iter().map(|group| &group[1..]) {
            copies.iter().for_each(|&shell| left_out[shell as usize] = true);
        }
        if sharing.at_least
            && let Some(twice) = RegionMask::new(&sheet.twice)
        {
            for triangle in (0..input.triangles.len()).filter(|&t| counter_clockwise(input, t).is_some()) {
                let [a, b, c] = corners(input, triangle);
                left_out[input.shell[triangle] as usize] |= twice.touches(a.min(b).min(c), a.max(b).max(c));
            }
        }
        let edges = sheet.outlines.as_slice();
        let mut field = Self {
            input,
            scale: map_scale(input.map),
            is_udim: input.map.tiles == Tiles::Udim,
            shells: edges.iter().map(|edge| input.shell[edge.triangle as usize]).collect(),
            edges,
            places: vec![None; input.shell_count as usize],
            // Pairs of overlaps are in the order of their shells.
            overlapping: sharing.pairs.iter().map(|pair| packed::two(pair.a, pair.b)).collect(),
            left_out,
        };
        for (edge, &shell) in edges.iter().zip(&field.shells) {
            let (p, q) = (input.uv[edge.lower as usize], input.uv[edge.upper as usize]);
            let unseen = Place { low: p, high: p, tile: None, across: false };
            let place = field.places[shell as usize].get_or_insert(unseen);
            (place.low, place.high) = (place.low.min(p).min(q), place.high.max(p).max(q));
        }
        let (rounding, last) = (ROUNDING_PX / field.scale, tiles_end(input.map.tiles));
        for place in field.places.iter_mut().flatten() {
            // A shell that fits into a tile has its middle inside, whatever border it touches.
            let fit = |low: DVec2, high: DVec2| {
                let corner = ((low + high) / 2.0).floor();
                let fits = (low + rounding).cmpge(corner).all() && (high - rounding).cmple(corner + 1.0).all();
                fits.then_some(corner)
            };
            let exists = |corner: &DVec2| corner.cmpge(DVec2::ZERO).all() && corner.cmplt(last).all();
            place.tile = fit(place.low, place.high).filter(exists).map(|corner| (corner.x as u32, corner.y as u32));
            let (low, high) = (place.low.max(DVec2::ZERO), place.high.min(last));
            place.across = field.is_udim && low.cmplt(high).all() && fit(low, high).is_none();
        }
        field
    }

    /// Shells over more than one tile.
    fn across(&self) -> Vec<u32> {
        let across = |shell: &u32| self.places[*shell as usize].is_some_and(|place| place.across);
        (0..self.input.shell_count).filter(across).collect()
    }

    /// A box of each edge of the shells that take part, px.
    fn entries(&self) -> Vec<Entry> {
        let takes_part = |&edge: &usize| self.left_out.is_empty() || !self.left_out[self.shells[edge] as usize];
        let entry = |edge: usize| {
            let OutlineEdge { lower, upper, .. } = self.edges[edge];
            let [p, q] = [lower, upper].map(|index| self.input.uv[index as usize] * self.scale);
            let falls = (q.x - p.x > 0.0) != (q.y - p.y > 0.0);
            Entry { low: p.min(q), high: p.max(q), id: (edge as u32) << 1 | u32::from(falls) }
        };
        (0..self.edges.len()).filter(takes_part).map(entry).collect()
    }

    /// Is there a gap between these shells, of whatever size?
    fn have_gap(&self, a: u32, b: u32) -> bool {
        let tile = |shell: u32| self.places[shell as usize].and_then(|place| place.tile);
        let in_one_tile = !self.is_udim || tile(a).zip(tile(b)).is_none_or(|(a, b)| a == b);
        a != b && in_one_tile && self.overlapping.binary_search(&packed::two(a.min(b), a.max(b))).is_err()
    }

    /// The gap between two edges.
    fn gap(&self, a: &Entry, b: &Entry) -> Gap {
        let shell = |entry: &Entry| self.shells[edge_of(entry.id)];
        let triangle = |entry: &Entry| self.edges[edge_of(entry.id)].triangle;
        let (a, b) = if shell(a) <= shell(b) { (a, b) } else { (b, a) };
        let (distance_squared, at_a, at_b) = segment::nearest(ends(a), ends(b));
        Gap {
            a: shell(a),
            b: Some(shell(b)),
            sheet: 0,
            tile: self.tile_number((at_a + at_b) / 2.0 / self.scale),
            px: distance_squared.sqrt(),
            at_a: at_a / self.scale,
            at_b: at_b / self.scale,
            triangle_a: triangle(a),
            triangle_b: Some(triangle(b)),
        }
    }

    fn tile_number(&self, at: DVec2) -> Option<u32> {
        let last = tiles_end(self.input.map.tiles);
        let tile = at.min(last - 1.0).floor();
        (at.cmpge(DVec2::ZERO).all() && at.cmple(last).all()).then(|| udim_number(tile.x as u32, tile.y as u32))
    }

    /// For each shell in a tile or outside all, its distance to the border and a corner of its outline where it is that near.
    fn border_gaps(&self) -> Vec<Gap> {
        let mut gaps: Vec<Option<(Gap, Side)>> =
            self.places.iter().zip(0..).map(|(place, shell)| self.border_gap(shell, (*place)?)).collect();
        // Of several corners as near, the one of the first triangle, and of that the lowest: the numbering of uvs does
        // not matter.
        let mut found = vec![(u32::MAX, f64::INFINITY); gaps.len()];
        for (edge, &shell) in self.edges.iter().zip(&self.shells) {
            let Some((gap, side)) = &mut gaps[shell as usize] else { continue };
            for at in [edge.upper, edge.lower].map(|index| self.input.uv[index as usize]) {
                let place = (edge.triangle, at[1 - side.axis]);
                if at[side.axis] == side.of_shell && place < found[shell as usize] {
                    found[shell as usize] = place;
                    (gap.at_a, gap.at_b, gap.triangle_a) = (at, at, edge.triangle);
                    gap.at_b[side.axis] = side.of_tile;
                }
            }
        }
        gaps.into_iter().flatten().map(|(gap, _)| gap).collect()
    }

    /// Its places and triangle are still to be found.
    fn border_gap(&self, shell: u32, place: Place) -> Option<(Gap, Side)> {
        if place.across {
            return None;
        }
        let gap = |px: f64, tile| Gap {
            a: shell,
            b: None,
            sheet: 0,
            tile,
            px,
            at_a: place.low,
            at_b: place.low,
            triangle_a: 0,
            triangle_b: None,
        };
        let Some((column, row)) = place.tile else { return Some((gap(0.0, None), self.furthest_out(place))) };
        let corner = DVec2::new(f64::from(column), f64::from(row));
        let side = |axis: usize, of_shell: DVec2, of_tile: DVec2| {
            let side = Side { axis, of_shell: of_shell[axis], of_tile: of_tile[axis] };
            ((side.of_shell - side.of_tile).abs() * self.scale[axis], side)
        };
        let first = side(0, place.low, corner);
        let others = [side(1, place.low, corner), side(0, place.high, corner + 1.0), side(1, place.high, corner + 1.0)];
        let (px, side) = others.into_iter().fold(first, |least, other| if other.0 < least.0 { other } else { least });
        Some((gap(px, Some(udim_number(column, row))), side))
    }

    /// The side on which a shell reaches furthest beyond the tiles, itself its border.
    fn furthest_out(&self, place: Place) -> Side {
        let end = tiles_end(self.input.map.tiles);
        let [u, v] = [0, 1].map(|axis| {
            let (below, above) = (-place.low[axis], place.high[axis] - end[axis]);
            let at = if below > above { place.low[axis] } else { place.high[axis] };
            (below.max(above) * self.scale[axis], Side { axis, of_shell: at, of_tile: at })
        });
        if v.0 > u.0 { v.1 } else { u.1 }
    }
}

/// An edge is a diagonal of its box: which one is in the lowest bit of the box's number, the edge's own above it.
fn edge_of(id: u32) -> usize {
    (id >> 1) as usize
}

/// Both ends of a box's edge, px.
fn ends(entry: &Entry) -> [DVec2; 2] {
    let Entry { low, high, id } = *entry;
    if id & 1 == 1 { [DVec2::new(low.x, high.y), DVec2::new(high.x, low.y)] } else { [low, high] }
}

/// A side of a tile and how far a shell comes to it.
#[derive(Clone, Copy)]
struct Side {
    /// 0 for a left or right side, 1 for a lower or upper one.
    axis: usize,
    /// uv.
    of_shell: f64,
    /// uv.
    of_tile: f64,
}

fn udim_number(column: u32, row: u32) -> u32 {
    crate::brief::FIRST_TILE + column + UDIM_COLUMNS * row
}

/// Searches for the two nearest edges.
struct Least<'a> {
    field: &'a Field<'a>,
    distance_squared: f64,
    edges: Option<(Entry, Entry)>,
    effort: u64,
}

impl Near for Least<'_> {
    fn owner(&self, id: u32) -> u32 {
        self.field.shells[edge_of(id)]
    }

    fn matters(&self, distance_squared: f64, a: Option<u32>, b: Option<u32>) -> bool {
        distance_squared < self.distance_squared && a.zip(b).is_none_or(|(a, b)| self.field.have_gap(a, b))
    }

    fn look(&mut self, a: &Entry, b: &Entry) {
        self.effort += EFFORT_EDGES;
        let (distance_squared, ..) = segment::nearest(ends(a), ends(b));
        if distance_squared < self.distance_squared {
            (self.distance_squared, self.edges) = (distance_squared, Some((*a, *b)));
        }
    }

    fn go_on(&mut self, compared: u64) -> bool {
        self.effort += compared;
        self.effort < EFFORT_MAX
    }
}

/// The two nearest edges of a pair of shells, so far.
#[derive(Clone, Copy)]
struct NearestEdges {
    distance_squared: f64,
    edges: (Entry, Entry),
}

/// Searches for every pair of shells nearer than a limit, and where each is nearest.
struct Below<'a> {
    field: &'a Field<'a>,
    limit_squared: f64,
    pairs: FxHashMap<(u32, u32), NearestEdges>,
    /// How many pairs there were when some were dropped; 0 while all are kept.
    most: usize,
    effort: u64,
}

impl Near for Below<'_> {
    fn owner(&self, id: u32) -> u32 {
        self.field.shells[edge_of(id)]
    }

    fn matters(&self, distance_squared: f64, a: Option<u32>, b: Option<u32>) -> bool {
        distance_squared < self.limit_squared
            && a.zip(b).is_none_or(|(a, b)| {
                let known = self.pairs.get(&(a.min(b), a.max(b)));
                known.map_or_else(|| self.field.have_gap(a, b), |known| distance_squared < known.distance_squared)
                    && a != b
            })
    }

    fn look(&mut self, a: &Entry, b: &Entry) {
        self.effort += EFFORT_EDGES;
        let (distance_squared, ..) = segment::nearest(ends(a), ends(b));
        if distance_squared >= self.limit_squared {
            return;
        }
        let (shell_a, shell_b) = (self.owner(a.id), self.owner(b.id));
        let found = NearestEdges { distance_squared, edges: (*a, *b) };
        let known = self.pairs.entry((shell_a.min(shell_b), shell_a.max(shell_b))).or_insert(found);
        if distance_squared < known.distance_squared {
            *known = found;
        }
        if self.pairs.len() > PAIRS_MAX {
            self.keep_worst();
        }
    }

    fn go_on(&mut self, compared: u64) -> bool {
        self.effort += compared;
        self.effort < EFFORT_MAX
    }
}

impl Below<'_> {
    /// Drops all but the worst and looks for nothing better than those from now on. A pair that is dropped and turns
    /// out to be worse later is added again, so what is kept is right.
    fn keep_worst(&mut self) {
        self.most = self.most.max(self.pairs.len());
        let mut pairs: Vec<_> = self.pairs.drain().collect();
        let worst_first = |x: &((u32, u32), NearestEdges), y: &((u32, u32), NearestEdges)| {
            x.1.distance_squared.total_cmp(&y.1.distance_squared).then(x.0.cmp(&y.0))
        };
        pairs = packed::ordered(pairs, worst_first);
        self.limit_squared = pairs[GAPS_MAX].1.distance_squared;
        pairs.truncate(GAPS_MAX);
        self.pairs.extend(pairs);
    }
}
