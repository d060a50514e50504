//! Stretch of the whole model and of each shell, over regular triangles, weighted by surface.
//!
//! * anisotropy s1/s2: median, 95 % quantile, surface share over the brief's limit.
//! * Sander, Snyder, Gortler & Hoppe 2001, section 3: L2 and Linf of the map from the sheet (in uv) to the surface,
//!   scaled so that total uv area equals total surface; 1 is perfect.
//! * symmetric Dirichlet energy (Smith & Schaefer 2015), same scaling; 4 is perfect.
//! * MIPS (Hormann & Greiner 2000), mean of s1/s2 + s2/s1; 2 is perfect.
//!
//! `None` where no triangle is regular. Cost: linear.

use super::jacobian::Jacobian;
use super::quantile::{weighted, weighted_quantile};
use super::sheets::MapSizes;
use super::triangles::TriangleMeasures;
use crate::brief::Brief;
use crate::model::Model;
use glam::DVec2;

/// Stretch of the whole model.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
pub struct Stretch {
    /// Surface-weighted median of s1/s2.
    pub anisotropy_median: Option<f64>,
    /// Surface-weighted 95 % quantile of s1/s2.
    pub anisotropy_p95: Option<f64>,
    /// Share of regular surface above the brief's `max_anisotropy`.
    pub share_over: Option<f64>,
    /// L2 stretch.
    pub sander_l2: Option<f64>,
    /// Worst-case stretch.
    pub sander_linf: Option<f64>,
    /// Mean symmetric Dirichlet energy.
    pub symmetric_dirichlet_mean: Option<f64>,
    /// Mean MIPS energy.
    pub mips_mean: Option<f64>,
}

/// Stretch of one shell.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ShellStretch {
    /// Surface-weighted median of s1/s2.
    pub anisotropy_median: Option<f64>,
    /// Surface-weighted 95 % quantile of s1/s2.
    pub anisotropy_p95: Option<f64>,
    /// Share of the shell's regular surface above the brief's `max_anisotropy`.
    pub share_over: Option<f64>,
    /// Regular surface above it.
    pub surface_over: f64,
}

/// Whole model and shells.
pub fn measure_stretch(
    model: &Model,
    triangles: &TriangleMeasures,
    sizes: &MapSizes,
    brief: &Brief,
) -> (Stretch, Vec<ShellStretch>) {
    let square_map = sizes.all().filter(|size| size.x == size.y);
    let uv_per_px = 1.0 / square_map.unwrap_or(DVec2::ONE).x;
    let (mut surface, mut area_uv, mut squares, mut inverse_squares, mut mips) = (0.0, 0.0, 0.0, 0.0, 0.0);
    let mut largest_inverse = 0.0f64;
    for triangle in (0..model.triangle_count()).filter(|&t| triangles.is_regular(t)) {
        let (s1, s2) = (triangles.s1[triangle], triangles.s2[triangle]);
        let area = triangles.surface[triangle];
        mips += area * (s1 / s2 + s2 / s1);
        let (s1, s2) = if square_map.is_some() {
            (s1 * uv_per_px, s2 * uv_per_px)
        } else {
            let uv = model.uvs(triangle).and_then(|q| Jacobian::try_new(model.positions(triangle), q, DVec2::ONE));
            // Regular triangles have uv and surface.
            uv.map_or((s1, s2), Jacobian::singular_values)
        };
        surface += area;
        area_uv += triangles.area_uv[triangle];
        squares += area * (s1 * s1 + s2 * s2);
        inverse_squares += area * (1.0 / (s1 * s1) + 1.0 / (s2 * s2));
        largest_inverse = largest_inverse.max(1.0 / s2);
    }

    let groups = ShellGroups::new(model, triangles);
    let mut items: Vec<u128> = Vec::new();
    let item = |&t: &u32| weighted(ratio(triangles, t), triangles.surface[t as usize]);
    let mut shells = (0..model.topology.shell_count)
        .map(|shell| {
            items.clear();
            items.extend(groups.of(shell).iter().map(item));
            ShellStretch {
                anisotropy_median: weighted_quantile(&mut items, 0.5),
                anisotropy_p95: weighted_quantile(&mut items, 0.95),
                ..ShellStretch::default()
            }
        })
        .collect::<Vec<_>>();
    if surface <= 0.0 {
        return (Stretch::default(), shells);
    }
    items.clear();
    items.extend(groups.members.iter().map(item));
    let scale_squared = surface / area_uv;
    let mut whole = Stretch {
        anisotropy_median: weighted_quantile(&mut items, 0.5),
        anisotropy_p95: weighted_quantile(&mut items, 0.95),
        share_over: None,
        sander_l2: Some((inverse_squares / 2.0 / surface / scale_squared).sqrt()),
        sander_linf: Some(largest_inverse / scale_squared.sqrt()),
        symmetric_dirichlet_mean: Some((squares * scale_squared + inverse_squares / scale_squared) / surface),
        mips_mean: Some(mips / surface),
    };
    hold_stretch(model, triangles, brief.stretch.max_anisotropy, &mut whole, &mut shells);
    (whole, shells)
}

/// Holds what was measured against a limit: sets every `share_over`. Cost: one pass over the triangles.
pub fn hold_stretch(
    model: &Model,
    triangles: &TriangleMeasures,
    limit: f64,
    whole: &mut Stretch,
    shells: &mut [ShellStretch],
) {
    let mut surface = vec![0.0; shells.len()];
    shells.iter_mut().for_each(|shell| shell.surface_over = 0.0);
    for triangle in (0..model.triangle_count()).filter(|&t| triangles.is_regular(t)) {
        let Some(shell) = model.shell_of(triangle).map(|shell| shell as usize) else { continue };
        surface[shell] += triangles.surface[triangle];
        if ratio(triangles, triangle as u32) > limit {
            shells[shell].surface_over += triangles.surface[triangle];
        }
    }
    for (shell, &all) in shells.iter_mut().zip(&surface) {
        shell.share_over = (all > 0.0).then(|| shell.surface_over / all);
    }
    let all: f64 = surface.iter().sum();
    let over = shells.iter().fold(0.0, |sum, shell| sum + shell.surface_over);
    whole.share_over = (all > 0.0).then(|| over / all);
}

fn ratio(triangles: &TriangleMeasures, triangle: u32) -> f64 {
    triangles.s1[triangle as usize] / triangles.s2[triangle as usize]
}

/// Regular triangles sorted by shell.
struct ShellGroups {
    starts: Vec<u32>,
    members: Vec<u32>,
}

impl ShellGroups {
    fn new(model: &Model, triangles: &TriangleMeasures) -> Self {
        let regular = || {
            (0..model.triangle_count())
                .filter(|&t| triangles.is_regular(t))
                .filter_map(|t| model.shell_of(t).map(|shell| (t as u32, shell as usize)))
        };
        let mut starts = vec![0u32; model.topology.shell_count as usize + 2];
        regular().for_each(|(_, shell)| starts[shell + 2] += 1);
        (2..starts.len()).for_each(|i| starts[i] += starts[i - 1]);
        let total = starts.last().map_or(0, |&end| end as usize);
        let mut members = vec![0; total];
        for (triangle, shell) in regular() {
            members[starts[shell + 1] as usize] = triangle;
            starts[shell + 1] += 1;
        }
        Self { starts, members }
    }

    fn of(&self, shell: u32) -> &[u32] {
        &self.members[self.starts[shell as usize] as usize..self.starts[shell as usize + 1] as usize]
    }
}
