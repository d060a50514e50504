//! What the measures of the sheet read, and a triangle of it as they take it: counter-clockwise, within reach, with area.

use crate::brief::SheetMap;
use crate::measure::flat::jacobian::is_zero_area_uv;
use crate::util::three;
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
    /// Per mapped triangle, whether it is flipped (judged by the part's normals where it is inside out).
    pub reversed: &'a [bool],
    /// Per mapped triangle, whether it is a sliver, which overlaps nothing; empty where none is.
    pub sliver: &'a [bool],
    /// Per mapped triangle, area on the surface.
    pub surface: &'a [f64],
    /// The map, for areas in px.
    pub map: SheetMap,
}

impl SheetInput<'_> {
    /// Is it a sliver?
    pub(super) fn is_sliver(&self, triangle: usize) -> bool {
        self.sliver.get(triangle).copied().unwrap_or(false)
    }
}

/// Furthest coordinate that takes part, in tiles: beyond it neighbouring doubles lie 2^-12 apart, half a px of a usual map.
pub const REACH: f64 = (1u64 << 40) as f64;

/// Corner indices of a triangle turned counter-clockwise on the sheet; `None` without area and out of [`REACH`].
pub(super) fn counter_clockwise(input: &SheetInput, triangle: usize) -> Option<[u32; 3]> {
    let [a, b, c] = input.triangles[triangle];
    let q = three::each([a, b, c], |index| input.uv[index as usize]);
    if !is_within_reach(q) || is_zero_area_uv(q) {
        return None;
    }
    Some(if (q[1] - q[0]).perp_dot(q[2] - q[0]) > 0.0 { [a, b, c] } else { [a, c, b] })
}

/// Corners of a triangle with area, counter-clockwise.
pub(super) fn corners(input: &SheetInput, triangle: usize) -> [DVec2; 3] {
    let [a, b, c] = three::each(input.triangles[triangle], |index| input.uv[index as usize]);
    if (b - a).perp_dot(c - a) > 0.0 { [a, b, c] } else { [a, c, b] }
}

#[inline(always)]
fn is_within_reach(q: [DVec2; 3]) -> bool {
    let [a, b, c] = three::each(q, |p| p.x.abs() <= REACH && p.y.abs() <= REACH);
    a && b && c
}

/// Whether a triangle covers any of the sheet.
pub(super) fn has_area(q: [DVec2; 3]) -> bool {
    is_within_reach(q) && !is_zero_area_uv(q)
}

/// Area of a triangle that is out of [`REACH`]; 0 of any other.
pub(super) fn area_out_of_reach(input: &SheetInput, triangle: usize) -> f64 {
    let q = three::each(input.triangles[triangle], |index| input.uv[index as usize]);
    if is_within_reach(q) || is_zero_area_uv(q) { 0.0 } else { ((q[1] - q[0]).perp_dot(q[2] - q[0]) / 2.0).abs() }
}
