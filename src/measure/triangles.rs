//! Per triangle: areas, singular values, handedness. Everything else sums these.
//!
//! Degenerate: no area on the surface (no map, counted apart) or none on the sheet (collapsed, counted apart).
//! *Regular* triangles are neither.
//!
//! A *sliver* is so thin that the file's own rounding may have turned it over: its least height on the surface is at most
//! that of corners in line ([`Document::flat_heights`](crate::obj::Document::flat_heights)), or that height times the median
//! density of its shell, in raw uv, is at most the one on the sheet. The median is by surface, of sqrt(uv area / surface);
//! the model's where the shell's is 0. What has no area on the surface is one too. A sliver counts in all sums, and has no
//! say in which way round a shell lies, nor in who shares.
//! Cost: one pass, another over shells that are fine enough to have slivers by their density; 33 bytes a triangle.

use super::jacobian::{Jacobian, is_zero_area_3d, is_zero_area_uv, longest};
use super::quantile::{weighted, weighted_quantile};
use crate::brief::Map;
use crate::model::Model;
use glam::{DVec2, DVec3};

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
    /// Disagrees in handedness with most of its shell, and is no mirrored part of it.
    pub const FOLDED: u8 = 32;
    /// So thin that rounding may have turned it over.
    pub const SLIVER: u8 = 64;
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
    pub fn new(model: &Model, map: Map) -> Self {
        let count = model.triangle_count();
        let mut this = Self {
            surface: Vec::with_capacity(count),
            area_uv: Vec::with_capacity(count),
            s1: Vec::with_capacity(count),
            s2: Vec::with_capacity(count),
            state: Vec::with_capacity(count),
        };
        let scale = map_scale(map);
        let [flat_height, _] = model.document.flat_heights();
        let mut finest = vec![Finest::default(); model.topology.shell_count as usize];
        for triangle in 0..count {
            let p = model.positions(triangle);
            let mut bits = 0;
            if is_zero_area_3d(p) {
                bits |= state::DEGENERATE_3D;
            }
            let surface = (p[1] - p[0]).cross(p[2] - p[0]).length() / 2.0;
            let height = least_height(p, surface);
            if height <= flat_height || bits != 0 {
                bits |= state::SLIVER;
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
                    && let Some(jacobian) = Jacobian::try_new(p, q, scale)
                {
                    singular = jacobian.singular_values();
                }
                if bits & state::SLIVER == 0
                    && let Some(shell) = model.shell_of(triangle)
                {
                    finest[shell as usize].note(height, area_uv / surface);
                }
            }
            this.surface.push(surface);
            this.area_uv.push(area_uv);
            this.s1.push(singular.0);
            this.s2.push(singular.1);
            this.state.push(bits);
        }
        this.mark_slivers_by_density(model, &finest);
        this
    }

    /// Marks slivers of the shells that may have some by their density.
    fn mark_slivers_by_density(&mut self, model: &Model, finest: &[Finest]) {
        let [_, flat_height] = model.document.flat_heights();
        let is_fine = |shell: u32| finest[shell as usize].may_be_at_most(flat_height);
        if !(0..finest.len() as u32).any(is_fine) {
            return;
        }
        // Triangles of each such shell, one shell after another.
        let mut starts = vec![0u32; finest.len() + 2];
        let in_fine_shells = || {
            let shells = (0..model.triangle_count()).filter_map(|triangle| Some((triangle, model.shell_of(triangle)?)));
            shells.filter(|&(_, shell)| is_fine(shell))
        };
        in_fine_shells().for_each(|(_, shell)| starts[shell as usize + 2] += 1);
        (2..starts.len()).for_each(|i| starts[i] += starts[i - 1]);
        let mut triangles = vec![0u32; starts.last().map_or(0, |&total| total as usize)];
        for (triangle, shell) in in_fine_shells() {
            let slot = &mut starts[shell as usize + 1];
            triangles[*slot as usize] = triangle as u32;
            *slot += 1;
        }
        let mut of_model = None;
        for shell in 0..finest.len() {
            let own = &triangles[starts[shell] as usize..starts[shell + 1] as usize];
            let Some(mut median) = self.median_density(own.iter().map(|&triangle| triangle as usize)) else { continue };
            if median == 0.0 {
                let mapped = (0..self.state.len()).filter(|&triangle| self.is(triangle, state::MAPPED));
                median = *of_model.get_or_insert_with(|| self.median_density(mapped).unwrap_or(0.0));
            }
            for &triangle in own.iter().filter(|_| median > 0.0) {
                let triangle = triangle as usize;
                if least_height(model.positions(triangle), self.surface[triangle]) * median <= flat_height {
                    self.state[triangle] |= state::SLIVER;
                }
            }
        }
    }

    /// Median by surface of sqrt(uv area / surface), uv per unit; `None` without surface.
    fn median_density(&self, triangles: impl Iterator<Item = usize>) -> Option<f64> {
        let of = |triangle: usize| {
            let surface = self.surface[triangle];
            let density = (self.area_uv[triangle] / surface).sqrt();
            (surface > 0.0 && surface.is_finite() && density.is_finite()).then(|| weighted(density, surface))
        };
        let mut densities: Vec<u128> = triangles.filter_map(of).collect();
        weighted_quantile(&mut densities, 0.5)
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

/// The least height and the least density of a shell's triangles, slivers on the surface aside.
#[derive(Clone, Copy)]
struct Finest {
    height: f64,
    /// Density squared: uv area over surface.
    area_ratio: f64,
}

impl Default for Finest {
    fn default() -> Self {
        Self { height: f64::INFINITY, area_ratio: f64::INFINITY }
    }
}

impl Finest {
    fn note(&mut self, height: f64, area_ratio: f64) {
        if height < self.height {
            self.height = height;
        }
        if area_ratio < self.area_ratio {
            self.area_ratio = area_ratio;
        }
    }

    /// May some height times the median density be at most this?
    fn may_be_at_most(self, height: f64) -> bool {
        self.height.is_finite() && self.height * self.area_ratio.sqrt() <= height
    }
}

/// Least height of a triangle of this area; 0 where all corners are in one place.
fn least_height([a, b, c]: [DVec3; 3], area: f64) -> f64 {
    let longest = longest([(b - a).length_squared(), (c - a).length_squared(), (c - b).length_squared()]);
    if longest > 0.0 { 2.0 * area / longest.sqrt() } else { 0.0 }
}

/// The map's size as a scale from uv to px.
pub fn map_scale(map: Map) -> DVec2 {
    DVec2::new(f64::from(map.width_px), f64::from(map.height_px))
}
