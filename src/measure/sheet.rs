//! How the sheet is used: coverage, overlap, what lies outside.

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
}
