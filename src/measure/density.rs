//! Texel density: px per unit, of each shell and of the whole.
//!
//! density = sqrt(sum |uv area| * W * H / sum surface) over mapped triangles. `None` without mapped surface. Linear.

use super::triangles::TriangleMeasures;
use crate::brief::Brief;
use crate::model::Model;

/// Sums of one shell.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ShellDensity {
    /// Surface, square units.
    pub surface: f64,
    /// Sum of |uv area|.
    pub area_uv: f64,
    /// px per unit.
    pub density: Option<f64>,
    /// Holds a triangle with area on surface and sheet.
    pub has_regular: bool,
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
    /// What sizes are held against: the brief's target, or else the mean.
    pub reference: Option<f64>,
}

/// Whole model and shells.
pub fn measure_density(model: &Model, triangles: &TriangleMeasures, brief: &Brief) -> (Density, Vec<ShellDensity>) {
    let mut shells = vec![ShellDensity::default(); model.topology.shell_count as usize];
    for triangle in 0..model.triangle_count() {
        let Some(shell) = model.shell_of(triangle) else { continue };
        let sums = &mut shells[shell as usize];
        sums.surface += triangles.surface[triangle];
        sums.area_uv += triangles.area_uv[triangle];
        sums.has_regular |= triangles.is_regular(triangle);
    }
    let pixels = f64::from(brief.map.width_px) * f64::from(brief.map.height_px);
    let density = |area_uv: f64, surface: f64| (surface > 0.0).then(|| (area_uv * pixels / surface).sqrt());
    for shell in &mut shells {
        shell.density = density(shell.area_uv, shell.surface);
    }
    let mean =
        density(shells.iter().map(|s| s.area_uv).sum(), shells.iter().map(|s| s.surface).sum()).filter(|d| *d > 0.0);
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
        reference: brief.density.target_px_per_unit.or(mean),
    };
    (whole, shells)
}
