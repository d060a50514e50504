//! Texel density: px per unit, of each shell and of the whole.
//!
//! density = sqrt(sum |uv area| * W * H / sum surface) over mapped triangles, W x H being the map of each triangle's own sheet.
//! `None` without mapped surface. Linear.
//!
//! What a shell is checked against is the reference times its density factor e (`density_factor`). The reference is the
//! brief's target, or else the surface-weighted lower median of density / e: shells in that order, the first at which
//! half of the surface is reached; shells without area on the sheet excluded. So one part that is off, or is meant to
//! differ, does not change it.

use super::density_factor::shell_density_factors;
use super::map_sizes::MapSizes;
use super::quantile::{weighted, weighted_quantile};
use super::stretch::{Grade, ShellStretch};
use super::triangles::TriangleMeasures;
use crate::brief::Brief;
use crate::model::Model;

/// Half of the surface, less what sums of doubles differ by: where two halves are equal, the lower density counts.
const HALF: f64 = 0.5 - 1e-9;
/// This far off the reference a shell must be fixed even where the brief gives no target: text and detail are visibly half
/// or twice the size of those beside it. Factor; common practice, no source.
pub const MUST_FIX_FACTOR: f64 = 2.0;

/// A shell's density as the brief judges it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
pub enum DensityGrade {
    /// Below the reference by more than the tolerance.
    Low,
    /// Above it.
    High,
    /// Within the tolerance.
    Within,
    /// Beyond the tolerance, on a shell that is stretched, which changes with the stretch: without a target that was
    /// asked for, and by less than [`MUST_FIX_FACTOR`].
    NotJudged,
}

impl DensityGrade {
    /// `factor`: density over what it should be.
    pub fn of(factor: f64, stretch: &ShellStretch, brief: &Brief) -> Self {
        let tolerance = 1.0 + brief.density.tolerance_percent / 100.0;
        let off = factor.max(1.0 / factor);
        if off <= tolerance {
            Self::Within
        } else if brief.density.target_px_per_unit.is_none()
            && off < MUST_FIX_FACTOR
            && stretch.grade(&brief.stretch) > Grade::Within
        {
            Self::NotJudged
        } else if factor < 1.0 {
            Self::Low
        } else {
            Self::High
        }
    }
}

/// Sums of one shell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ShellDensity {
    /// Surface, square units.
    pub surface: f64,
    /// Sum of |uv area|.
    pub area_uv: f64,
    /// The same in px² of the map of each triangle's sheet.
    pub area_px: f64,
    /// px per unit.
    pub density: Option<f64>,
    /// Holds a triangle with area on surface and sheet.
    pub has_regular: bool,
    /// Factor on the reference, > 0.
    pub density_factor: f64,
}

impl Default for ShellDensity {
    fn default() -> Self {
        Self { surface: 0.0, area_uv: 0.0, area_px: 0.0, density: None, has_regular: false, density_factor: 1.0 }
    }
}

impl ShellDensity {
    /// density / (reference * density_factor), > 0: 1 is as it should be. `None` without area on surface and sheet.
    pub fn factor(&self, reference: f64) -> Option<f64> {
        let density = self.density.filter(|density| self.has_regular && *density > 0.0 && reference > 0.0)?;
        Some(density / (reference * self.density_factor))
    }
}

/// px per unit of an area on maps, px², that lies on surface; `None` without surface.
pub fn density(area_px: f64, surface: f64) -> Option<f64> {
    (surface > 0.0).then(|| (area_px / surface).sqrt())
}

/// Density of the whole model.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Density {
    /// Of everything mapped.
    pub mean_px_per_unit: Option<f64>,
    /// Least over the shells that hold a regular triangle.
    pub min_shell: Option<f64>,
    /// Most over those.
    pub max_shell: Option<f64>,
    /// max / min.
    pub max_over_min: Option<f64>,
    /// What sizes are checked against: the brief's target, or else the median of density / density factor.
    pub reference: Option<f64>,
}

/// Whole model and shells.
pub fn measure_density(
    model: &Model,
    triangles: &TriangleMeasures,
    sizes: &MapSizes,
    brief: &Brief,
) -> (Density, Vec<ShellDensity>) {
    let mut shells: Vec<ShellDensity> = shell_density_factors(model, &brief.density_factor)
        .into_iter()
        .map(|density_factor| ShellDensity { density_factor, ..ShellDensity::default() })
        .collect();
    for triangle in 0..model.triangle_count() {
        let Some(shell) = model.shell_of(triangle) else { continue };
        let sums = &mut shells[shell as usize];
        sums.surface += triangles.surface[triangle];
        sums.area_uv += triangles.area_uv[triangle];
        if sizes.all().is_none() {
            sums.area_px += triangles.area_uv[triangle] * sizes.scale(model, triangle).element_product();
        }
        sums.has_regular |= triangles.is_regular(triangle);
    }
    for shell in &mut shells {
        if let Some(size) = sizes.all() {
            shell.area_px = shell.area_uv * size.element_product();
        }
        shell.density = density(shell.area_px, shell.surface);
    }
    let surface = shells.iter().map(|s| s.surface).sum();
    let mean = density(shells.iter().map(|shell| shell.area_px).sum(), surface).filter(|d| *d > 0.0);
    let mut plain: Vec<u128> =
        shells.iter().filter_map(|shell| Some(weighted(shell.factor(1.0)?, shell.surface))).collect();
    let (min_shell, max_shell) = shells
        .iter()
        .filter(|shell| shell.has_regular)
        .filter_map(|shell| shell.density)
        .fold((None, None), |(min, max): (Option<f64>, Option<f64>), d| {
            (Some(min.map_or(d, |m| m.min(d))), Some(max.map_or(d, |m| m.max(d))))
        });
    let whole = Density {
        mean_px_per_unit: mean,
        min_shell,
        max_shell,
        max_over_min: min_shell.zip(max_shell).filter(|(min, _)| *min > 0.0).map(|(min, max)| max / min),
        reference: brief.density.target_px_per_unit.or_else(|| weighted_quantile(&mut plain, HALF)),
    };
    (whole, shells)
}
