//! How the sheet is used: coverage, overlap, what lies outside.
//!
//! Areas of the union and of what is covered twice come from the boundary chain (`cover`), which samples them where
//! exact regions would take too long, and gives the error; the outside share clips each triangle to the tile(s) exactly
//! (`convex`); which tiles are in use: `tiles`. Collapsed triangles have no area and take no part. Cost: linear in
//! triangles, n log n in boundary edges.

use super::convex;
use super::cover::{self, Cover};
use super::input::{SheetInput, area_out_of_reach, counter_clockwise};
use super::outline::{OutlineEdge, outlines_and_boundary};
use super::region::Region;
use super::tiles::{TilesInUse, UDIM_COLUMNS, UDIM_ROWS};
use crate::brief::FIRST_TILE;
use crate::util::three;
use glam::DVec2;

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
    /// The region that two or more triangles use: where overlaps are searched.
    pub(super) twice: Region,
    /// Where shells end.
    pub(super) outlines: Vec<OutlineEdge>,
    /// Standard errors of the figures that come from areas of the union, where those had to be sampled.
    pub sampling_errors: Option<SamplingErrors>,
}

impl Sheet {
    /// The most area that two parts of the layout can have in common; where that was sampled, three standard errors more.
    pub(in crate::measure) fn overlap_at_most(&self) -> f64 {
        let error = self.sampling_errors.map_or(0.0, |errors| errors.overlap_share);
        (self.overlap_share.unwrap_or(0.0) + 3.0 * error) * self.union_area
    }

    /// The most area that triangles have beyond what they cover, likewise.
    pub(in crate::measure) fn excess_at_most(&self) -> f64 {
        let error = self.sampling_errors.map_or(0.0, |errors| errors.overlap_excess);
        (self.overlap_excess.unwrap_or(0.0) + 3.0 * error) * self.union_area
    }
}

/// Standard errors of sampled figures, in their own units.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SamplingErrors {
    /// Of `coverage`.
    pub coverage: f64,
    /// Of `overlap_share`.
    pub overlap_share: f64,
    /// Of `overlap_excess`.
    pub overlap_excess: f64,
}

/// Measures the use of the sheet.
///
/// A triangle with a corner further than [`REACH`](super::input::REACH) from the origin is on no map: it counts as
/// outside, and in `uv_area`, in nothing else.
pub fn measure_sheet(input: &SheetInput) -> Sheet {
    let udim = input.map.tiles == crate::brief::Tiles::Udim;
    let limit = if udim { DVec2::new(f64::from(UDIM_COLUMNS), f64::from(UDIM_ROWS)) } else { DVec2::ONE };
    let mut tiles = TilesInUse::default();
    // Within reach, inside the tiles, out of reach.
    let (mut near, mut inside, mut far) = (0.0, 0.0, 0.0);
    for triangle in 0..input.triangles.len() {
        let Some(corners) = counter_clockwise(input, triangle) else {
            far += area_out_of_reach(input, triangle);
            continue;
        };
        let q = three::each(corners, |index| input.uv[index as usize]);
        let whole = (q[1] - q[0]).perp_dot(q[2] - q[0]) / 2.0;
        near += whole;
        let (low, high) = (q[0].min(q[1]).min(q[2]), q[0].max(q[1]).max(q[2]));
        let within = low.cmpge(DVec2::ZERO).all() && high.cmple(limit).all();
        inside += if within { whole } else { convex::inside(q, DVec2::ZERO, limit).area() };
        if udim {
            tiles.note(q, low.max(DVec2::ZERO), high.min(limit));
        }
    }
    let tiles = tiles.list();
    let (outlines, boundary) = outlines_and_boundary(input);
    let Cover { areas, is_sampled, twice } = cover::cover(input, boundary, &tiles, limit);
    let union_area = areas.once.area;
    let some = union_area > 0.0;
    let uv_area = near + far;
    let sampling_errors = is_sampled.then(|| SamplingErrors {
        coverage: areas.inside.error / tiles.len() as f64,
        overlap_share: areas.overlap_share_error,
        overlap_excess: near / (union_area * union_area) * areas.once.error,
    });
    Sheet {
        coverage: areas.inside.area / tiles.len() as f64,
        overlap_share: some.then(|| (areas.twice.area / union_area).min(1.0)),
        // Rounding may leave a union slightly larger than the sum: without any overlap that is noise, never negative
        // use.
        overlap_excess: some.then(|| ((near - union_area) / union_area).max(0.0)),
        outside_share: (uv_area > 0.0 && uv_area.is_finite()).then(|| ((uv_area - inside) / uv_area).max(0.0)),
        tiles: tiles.iter().map(|&(row, column)| FIRST_TILE + column + UDIM_COLUMNS * row).collect(),
        uv_area,
        union_area,
        twice,
        outlines,
        sampling_errors,
    }
}
