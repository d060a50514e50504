//! Per triangle: areas, singular values, handedness. Everything else sums these.
//!
//! Degenerate: no area on the surface (no map, counted apart) or none on the sheet (collapsed, counted apart).
//! *Regular* triangles are neither.
//!
//! A *sliver* is so thin that the file's own rounding may have flipped it: its least height on the surface is at most
//! that of corners in line ([`Document::flat_heights`](crate::model::Document::flat_heights)), or that height times the
//! median density of its shell, in raw uv, is at most the one on the sheet. The median is by surface, of sqrt(uv area /
//! surface); the model's where the shell's is 0. What has no area on the surface is one too. A sliver counts in all
//! sums, but not in a shell's orientation or in overlaps. Cost: one pass, n log n in shells that are fine enough to
//! have slivers by their density; 33 bytes a triangle.
//!
//! The bound follows from the file's decimals, not from a share of the triangle's size, so that the same bound serves the
//! cutting of n-gons and the judging of fans that an exporter cut. Sums and counts keep slivers, so that they stay what
//! other programs count.

use super::jacobian::{Jacobian, is_zero_area_3d, is_zero_area_uv, longest};
use super::map_sizes::MapSizes;
use super::quantile::{weighted, weighted_quantile};
use crate::model::Model;
use crate::util::packed;
use glam::DVec3;

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
    /// Disagrees in handedness with most of its shell, and is not a mirrored part of it.
    pub const FOLDED: u8 = 32;
    /// So thin that rounding may have flipped it.
    pub const SLIVER: u8 = 64;
}

/// Arrays beside [`Surface::triangles`](crate::model::Surface::triangles).
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
        let [flat_height, _] = model.document.flat_heights();
        let mut finest = vec![Finest::default(); model.layout.shell_count as usize];
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
                    && let Some(jacobian) = Jacobian::try_new(p, q, sizes.scale(model, triangle))
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
        let flat_height = model.layout.flat_height();
        if !finest.iter().any(|finest| finest.may_be_at_most(flat_height)) {
            return;
        }
        // Shell and triangle, one shell after another.
        let mut fine: Vec<u64> = Vec::new();
        for triangle in 0..model.triangle_count() {
            if let Some(shell) = model.shell_of(triangle)
                && finest[shell as usize].may_be_at_most(flat_height)
            {
                fine.push(packed::two(shell, triangle as u32));
            }
        }
        fine.sort_unstable();
        let mut of_model = None;
        let mut densities = Vec::new();
        for of_shell in fine.chunk_by(|a, b| a >> 32 == b >> 32) {
            densities.clear();
            for &entry in of_shell {
                self.push_density(entry as u32 as usize, &mut densities);
            }
            let mut median = weighted_quantile(&mut densities, 0.5).unwrap_or(0.0);
            if median == 0.0 {
                median = *of_model.get_or_insert_with(|| self.median_density());
            }
            for triangle in of_shell.iter().map(|&entry| entry as u32 as usize) {
                let height = least_height(model.positions(triangle), self.surface[triangle]);
                if median > 0.0 && height * median <= flat_height {
                    self.state[triangle] |= state::SLIVER;
                }
            }
        }
    }

    /// Adds sqrt(uv area / surface), uv per unit, by surface; nothing without surface.
    fn push_density(&self, triangle: usize, densities: &mut Vec<u128>) {
        let surface = self.surface[triangle];
        let density = (self.area_uv[triangle] / surface).sqrt();
        if surface > 0.0 && surface.is_finite() && density.is_finite() {
            densities.push(weighted(density, surface));
        }
    }

    /// Median density of all that is mapped; 0 where there is none.
    fn median_density(&self) -> f64 {
        let mut densities = Vec::new();
        for triangle in 0..self.state.len() {
            if self.is(triangle, state::MAPPED) {
                self.push_density(triangle, &mut densities);
            }
        }
        weighted_quantile(&mut densities, 0.5).unwrap_or(0.0)
    }

    /// Bit test.
    pub fn is(&self, triangle: usize, bits: u8) -> bool {
        self.state[triangle] & bits != 0
    }

    /// Mapped, with area on surface and sheet.
    pub fn is_regular(&self, triangle: usize) -> bool {
        self.state[triangle] & (state::MAPPED | state::DEGENERATE_3D | state::COLLAPSED_UV) == state::MAPPED
    }

    /// Flipped, judged by the part's normals where the part is inside out.
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

/// The least height and the least density of a shell's triangles, without slivers on the surface.
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
