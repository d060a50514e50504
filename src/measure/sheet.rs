//! How the sheet is used: coverage, overlap, what lies outside.
//!
//! Areas of the union and of what is covered twice come from the boundary chain (`cover`); the outside share clips each
//! triangle to the tile(s) exactly (Sutherland & Hodgman 1974). UDIM number: 1001 + floor(u) + 10 floor(v), 0 <= floor(u)
//! <= 9; a shell that only touches a tile's border does not use it. Collapsed triangles have no area and take no part.
//! Cost: linear in triangles, n log n in boundary edges.

use super::cover::{self, Contours};
use glam::DVec2;

/// What the measures of the sheet read: every mapped triangle, by distinct uv value.
#[derive(Clone, Copy, Debug)]
pub struct SheetInput<'a> {
    /// Distinct uv values (finite).
    pub uv: &'a [DVec2],
    /// Per mapped triangle, indices into `uv` in the face's own corner order. Two corners with the same value have
    /// the same index.
    pub triangles: &'a [[u32; 3]],
    /// Per mapped triangle, its shell, from 0.
    pub shell: &'a [u32],
    /// How many shells there are.
    pub shell_count: u32,
    /// Per mapped triangle: does text on it read backwards (judged by the part's normals where it is inside out)?
    pub reversed: &'a [bool],
    /// Per mapped triangle, area on the surface.
    pub surface: &'a [f64],
    /// The map, for areas in px.
    pub map: crate::brief::Map,
}

/// UDIM has ten columns.
const UDIM_COLUMNS: f64 = 10.0;
/// Rows looked at: UDIM itself sets no end; 1000 is far above any layout, and bounds the work for coordinates that are
/// not meant as tiles at all.
const UDIM_ROWS: f64 = 1000.0;
/// Tiles in which one triangle is looked for exactly; one that spans more is taken to use all of them.
const TILES_PER_TRIANGLE: f64 = 64.0;

/// Use of the sheet, by area in uv.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheet {
    /// Area of the union inside the tile(s) in use, over those tiles' area.
    pub coverage: f64,
    /// Sheet area used by two or more triangles, over the union's area; `None` without area.
    pub overlap_share: Option<f64>,
    /// (Sum of areas - union) / union; `None` without area.
    pub overlap_excess: Option<f64>,
    /// UV area outside the tile(s) in use, over all UV area; `None` without area.
    pub outside_share: Option<f64>,
    /// UDIM numbers of the tiles in use, ascending; `[1001]` for a single tile.
    pub tiles: Vec<u32>,
    /// Sum of the triangles' areas.
    pub uv_area: f64,
    /// Area of their union.
    pub union_area: f64,
    /// The region that two or more triangles use: where sharing is looked for.
    pub(super) twice: Contours,
}

/// Measures the use of the sheet.
pub fn measure_sheet(input: &SheetInput) -> Sheet {
    let udim = input.map.tiles == crate::brief::Tiles::Udim;
    let limit = if udim { DVec2::new(UDIM_COLUMNS, UDIM_ROWS) } else { DVec2::ONE };
    let mut tiles = std::collections::BTreeSet::new();
    let (mut uv_area, mut inside) = (0.0, 0.0);
    for triangle in 0..input.triangles.len() {
        let Some(corners) = cover::counter_clockwise(input, triangle) else { continue };
        let q = corners.map(|index| input.uv[index as usize]);
        let whole = (q[1] - q[0]).perp_dot(q[2] - q[0]) / 2.0;
        uv_area += whole;
        let (low, high) = (q[0].min(q[1]).min(q[2]), q[0].max(q[1]).max(q[2]));
        let within = low.cmpge(DVec2::ZERO).all() && high.cmple(limit).all();
        inside += if within { whole } else { clipped_area(q, DVec2::ZERO, limit) };
        if udim {
            note_tiles(q, low.max(DVec2::ZERO), high.min(limit), &mut tiles);
        }
    }
    if !udim || tiles.is_empty() {
        tiles = [(0, 0)].into();
    }
    let chain = cover::boundary(input, |_| true);
    let union = cover::covered(&chain);
    let union_area = cover::area(&union);
    let tile_squares: Contours = tiles
        .iter()
        .map(|&(row, column)| (f64::from(column), f64::from(row)))
        .map(|(u, v)| vec![[u, v], [u + 1.0, v], [u + 1.0, v + 1.0], [u, v + 1.0]])
        .collect();
    let twice = cover::covered_twice(&chain);
    let some = union_area > 0.0;
    Sheet {
        coverage: cover::area(&cover::common(&union, &tile_squares)) / tiles.len() as f64,
        overlap_share: some.then(|| cover::area(&twice) / union_area),
        // The union is rounded to the overlay's grid: without any overlap the difference is noise, never negative use.
        overlap_excess: some.then(|| ((uv_area - union_area) / union_area).max(0.0)),
        outside_share: (uv_area > 0.0).then(|| ((uv_area - inside) / uv_area).max(0.0)),
        tiles: tiles.iter().map(|&(row, column)| 1001 + column + 10 * row).collect(),
        uv_area,
        union_area,
        twice,
    }
}

/// Adds the tiles (row, column) in which a triangle has area.
fn note_tiles(q: [DVec2; 3], low: DVec2, high: DVec2, tiles: &mut std::collections::BTreeSet<(u32, u32)>) {
    if !(low.x < high.x && low.y < high.y) {
        return;
    }
    let (first, last) = (low.floor(), high.ceil());
    let count = (last - first).element_product();
    if count == 1.0 && tiles.contains(&(first.y as u32, first.x as u32)) {
        return;
    }
    for row in first.y as u32..last.y as u32 {
        for column in first.x as u32..last.x as u32 {
            let corner = DVec2::new(f64::from(column), f64::from(row));
            if count > TILES_PER_TRIANGLE || clipped_area(q, corner, corner + 1.0) > 0.0 {
                tiles.insert((row, column));
            }
        }
    }
}

/// Area of a counter-clockwise triangle inside a rectangle.
fn clipped_area(q: [DVec2; 3], low: DVec2, high: DVec2) -> f64 {
    let mut polygon = q.to_vec();
    let sides: [(fn(DVec2) -> f64, f64, f64); 4] =
        [(|p| p.x, low.x, 1.0), (|p| p.x, high.x, -1.0), (|p| p.y, low.y, 1.0), (|p| p.y, high.y, -1.0)];
    for (axis, at, side) in sides {
        let depth = |p: DVec2| (axis(p) - at) * side;
        polygon = clip(&polygon, depth);
    }
    polygon_area(&polygon)
}

/// The part of a convex polygon where `depth` (linear) is not negative.
pub(super) fn clip(polygon: &[DVec2], depth: impl Fn(DVec2) -> f64) -> Vec<DVec2> {
    let mut kept = Vec::with_capacity(polygon.len() + 1);
    for (index, &p) in polygon.iter().enumerate() {
        let q = polygon[(index + 1) % polygon.len()];
        let (a, b) = (depth(p), depth(q));
        if a >= 0.0 {
            kept.push(p);
        }
        if (a > 0.0 && b < 0.0) || (a < 0.0 && b > 0.0) {
            kept.push(p + (q - p) * (a / (a - b)));
        }
    }
    kept
}

/// Area of a counter-clockwise polygon.
pub(super) fn polygon_area(polygon: &[DVec2]) -> f64 {
    let Some(&origin) = polygon.first() else { return 0.0 };
    polygon.windows(2).map(|edge| (edge[0] - origin).perp_dot(edge[1] - origin)).sum::<f64>() / 2.0
}
