//! Texel density: px per unit, of each shell and of the whole.
//!
//! density = sqrt(sum |uv area| * W * H / sum surface) over mapped triangles, W x H being the map of each triangle's own sheet.
//! `None` without mapped surface. Linear.
//!
//! What a shell is held against is the reference times its density_factor e (`density_factor`). The reference is the brief's target,
//! or else the mean that the model would have without density factors: each shell's uv area divided by e squared, since e scales
//! lengths. So a part that is meant to stand out, and does, moves nothing else.

use super::density_factor::shell_density_factors;
use super::sheets::MapSizes;
use super::triangles::TriangleMeasures;
use crate::brief::Brief;
use crate::model::Model;

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
    /// What sizes are held against: the brief's target, or else the mean without density factors.
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
    let mean_of = |area_px: &dyn Fn(&ShellDensity) -> f64| {
        density(shells.iter().map(area_px).sum(), surface).filter(|d| *d > 0.0)
    };
    let mean = mean_of(&|shell| shell.area_px);
    let plain_mean = mean_of(&|shell| shell.area_px / (shell.density_factor * shell.density_factor));
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
        reference: brief.density.target_px_per_unit.or(plain_mean),
    };
    (whole, shells)
}
