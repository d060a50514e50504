//! Per triangle: areas, singular values, handedness. Everything else sums these.
//!
//! Degenerate: no area on the surface (no map, counted apart) or none on the sheet (collapsed, counted apart).
//! *Regular* triangles are neither. Cost: one pass; 33 bytes a triangle.

use super::jacobian::{Jacobian, is_zero_area_3d, is_zero_area_uv};
use super::sheets::MapSizes;
use crate::brief::SheetMap;
use crate::model::Model;
use glam::DVec2;

/// Bits of [`TriangleMeasures::state`].
pub mod state {
    /// Its face has uv.
    pub const MAPPED: u8 = 1;
    /// No area on the surface.
    pub const DEGENERATE_3D: u8 = 2;
    /// No area on the sheet.
    pub const COLLAPSED_UV: u8 = 4;
    /// Signed uv area below 0, against the face's own winding.
    pub const NEGATIVE_UV: u8 = 8;
    /// Its part is inside out: the file's normals disagree with its winding.
    pub const INSIDE_OUT: u8 = 16;
    /// Disagrees in handedness with most of its shell.
    pub const FOLDED: u8 = 32;
}

/// Arrays beside [`Model::triangles`].
#[derive(Clone, Debug, Default)]
pub struct TriangleMeasures {
    /// Area on the surface, square units.
    pub surface: Vec<f64>,
    /// Area on the sheet, uv, never negative; 0 where unmapped.
    pub area_uv: Vec<f64>,
    /// Singular values s1 >= s2 in px per unit; 0 unless regular.
    pub s1: Vec<f64>,
    /// The smaller one.
    pub s2: Vec<f64>,
    /// Bits of [`state`].
    pub state: Vec<u8>,
}

impl TriangleMeasures {
    /// Measures every triangle.
    pub fn new(model: &Model, sizes: &MapSizes) -> Self {
        let count = model.triangle_count();
        let mut this = Self {
            surface: Vec::with_capacity(count),
            area_uv: Vec::with_capacity(count),
            s1: Vec::with_capacity(count),
            s2: Vec::with_capacity(count),
            state: Vec::with_capacity(count),
        };
        for triangle in 0..count {
            let p = model.positions(triangle);
            let mut bits = 0;
            if is_zero_area_3d(p) {
                bits |= state::DEGENERATE_3D;
            }
            let (mut area_uv, mut singular) = (0.0, (0.0, 0.0));
            if let Some(q) = model.uvs(triangle) {
                bits |= state::MAPPED;
                let signed = (q[1] - q[0]).perp_dot(q[2] - q[0]) / 2.0;
                area_uv = signed.abs();
                if is_zero_area_uv(q) {
                    bits |= state::COLLAPSED_UV;
                } else if signed < 0.0 {
                    bits |= state::NEGATIVE_UV;
                }
                if bits & (state::DEGENERATE_3D | state::COLLAPSED_UV) == 0
                    && let Some(jacobian) = Jacobian::try_new(p, q, sizes.scale(model, triangle))
                {
                    singular = jacobian.singular_values();
                }
            }
            this.surface.push((p[1] - p[0]).cross(p[2] - p[0]).length() / 2.0);
            this.area_uv.push(area_uv);
            this.s1.push(singular.0);
            this.s2.push(singular.1);
            this.state.push(bits);
        }
        this
    }

    /// Bit test.
    pub fn is(&self, triangle: usize, bits: u8) -> bool {
        self.state[triangle] & bits != 0
    }

    /// Mapped, with area on surface and sheet.
    pub fn is_regular(&self, triangle: usize) -> bool {
        self.state[triangle] & (state::MAPPED | state::DEGENERATE_3D | state::COLLAPSED_UV) == state::MAPPED
    }

    /// Text on it reads backwards, judged by the part's normals where the part is inside out.
    pub fn is_reversed(&self, triangle: usize) -> bool {
        self.is(triangle, state::NEGATIVE_UV) != self.is(triangle, state::INSIDE_OUT)
            && !self.is(triangle, state::COLLAPSED_UV)
            && self.is(triangle, state::MAPPED)
    }

    /// s1/s2 >= 1; `None` unless regular.
    pub fn anisotropy(&self, triangle: usize) -> Option<f64> {
        (self.is_regular(triangle) && self.s2[triangle] > 0.0).then(|| self.s1[triangle] / self.s2[triangle])
    }

    /// sqrt(s1 s2) in px per unit; `None` unless regular.
    pub fn density(&self, triangle: usize) -> Option<f64> {
        self.is_regular(triangle).then(|| (self.s1[triangle] * self.s2[triangle]).sqrt())
    }
}

/// The map's size as a scale from uv to px.
pub fn map_scale(map: SheetMap) -> DVec2 {
    DVec2::new(f64::from(map.width_px), f64::from(map.height_px))
}
