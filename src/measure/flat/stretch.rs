//! Stretch of the whole model and of each shell, over regular triangles, weighted by surface.
//!
//! * anisotropy s1/s2: median, 95 % quantile, surface share over the brief's limit.
//! * Sander, Snyder, Gortler & Hoppe 2001, section 3: L2 and Linf of the map from the sheet (in uv) to the surface,
//!   scaled so that total uv area equals total surface; 1 is perfect.
//! * symmetric Dirichlet energy (Smith & Schaefer 2015), same scaling; 4 is perfect.
//! * MIPS (Hormann & Greiner 2000), mean of s1/s2 + s2/s1; 2 is perfect.
//!
//! Anisotropy counts only for triangles that [`has_say`] accepts. `None` where none does. Cost: linear.

use super::jacobian::Jacobian;
use super::map_sizes::MapSizes;
use super::quantile::{weighted, weighted_quantile};
use super::triangles::{TriangleMeasures, state};
use crate::brief::{self, Brief};
use crate::model::Model;
use glam::DVec2;

/// Stretch of the whole model.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify), tsify(rename = "StretchReport"))]
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

/// Whether the anisotropy of a triangle counts for its shell.
pub fn has_say(triangles: &TriangleMeasures, triangle: usize) -> bool {
    triangles.is_regular(triangle) && !triangles.is(triangle, state::SLIVER)
}

/// Stretch of one shell.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ShellStretch {
    /// Surface that counts, square units.
    pub surface: f64,
    /// Surface-weighted median of s1/s2.
    pub anisotropy_median: Option<f64>,
    /// Surface-weighted 95 % quantile of s1/s2.
    pub anisotropy_p95: Option<f64>,
    /// Share of that surface above the brief's `max_anisotropy`.
    pub share_over: Option<f64>,
    /// The surface above it.
    pub surface_over: f64,
    /// The surface above the anisotropy from which stretch must be fixed.
    pub surface_must_fix: f64,
}

/// Whether more of a shell is over a limit than the brief allows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grade {
    /// Within the brief.
    Within,
    /// Over `max_anisotropy`.
    Look,
    /// Over [`brief::Stretch::must_fix`].
    MustFix,
}

impl ShellStretch {
    /// As the brief judges it.
    pub fn grade(&self, brief: &brief::Stretch) -> Grade {
        let over = |surface: f64| self.surface > 0.0 && surface / self.surface > brief.max_share_over;
        if over(self.surface_must_fix) {
            Grade::MustFix
        } else if over(self.surface_over) {
            Grade::Look
        } else {
            Grade::Within
        }
    }
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

    let by_shell = ByShell::new(model, triangles);
    let mut items: Vec<u128> = Vec::new();
    let mut shells = (0..model.layout.shell_count as usize)
        .map(|shell| {
            by_shell.items(triangles, shell, &mut items);
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
    items.extend(by_shell.members.iter().map(|&triangle| item(triangles, triangle)));
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
    hold_stretch(model, triangles, &brief.stretch, &mut whole, &mut shells);
    (whole, shells)
}

/// Checks what was measured against the limits of a brief: sets every `share_over` and the surfaces over. Cost: one pass over
/// the triangles.
pub fn hold_stretch(
    model: &Model,
    triangles: &TriangleMeasures,
    brief: &brief::Stretch,
    whole: &mut Stretch,
    shells: &mut [ShellStretch],
) {
    for shell in shells.iter_mut() {
        (shell.surface, shell.surface_over, shell.surface_must_fix) = (0.0, 0.0, 0.0);
    }
    for triangle in (0..model.triangle_count()).filter(|&t| has_say(triangles, t)) {
        let Some(shell) = model.shell_of(triangle) else { continue };
        let (shell, area) = (&mut shells[shell as usize], triangles.surface[triangle]);
        let ratio = ratio(triangles, triangle as u32);
        shell.surface += area;
        if ratio > brief.max_anisotropy {
            shell.surface_over += area;
        }
        if ratio > brief.must_fix() {
            shell.surface_must_fix += area;
        }
    }
    let (mut all, mut over) = (0.0, 0.0);
    for shell in shells {
        shell.share_over = (shell.surface > 0.0).then(|| shell.surface_over / shell.surface);
        all += shell.surface;
        over += shell.surface_over;
    }
    whole.share_over = (all > 0.0).then(|| over / all);
}

/// Surface-weighted 95 % quantile of s1/s2 over groups of shells: `group_of` gives each shell's, from 0 to below
/// `count`, or [`NO_GROUP`]. `None` where nothing in a group counts. Linear.
pub fn anisotropy_p95(model: &Model, triangles: &TriangleMeasures, group_of: &[u32], count: usize) -> Vec<Option<f64>> {
    let grouped = || {
        (0..model.triangle_count()).filter(|&triangle| has_say(triangles, triangle)).filter_map(|triangle| {
            let group = group_of[model.shell_of(triangle)? as usize];
            (group != NO_GROUP).then_some((triangle as u32, group as usize))
        })
    };
    // Counted first: growing lists would take up to twice the room.
    let mut counts = vec![0; count];
    grouped().for_each(|(_, group)| counts[group] += 1);
    let mut items: Vec<Vec<u128>> = counts.into_iter().map(Vec::with_capacity).collect();
    grouped().for_each(|(triangle, group)| items[group].push(item(triangles, triangle)));
    items.iter_mut().map(|items| weighted_quantile(items, 0.95)).collect()
}

/// The group of a shell that is in none.
pub const NO_GROUP: u32 = u32::MAX;

fn ratio(triangles: &TriangleMeasures, triangle: u32) -> f64 {
    triangles.s1[triangle as usize] / triangles.s2[triangle as usize]
}

fn item(triangles: &TriangleMeasures, triangle: u32) -> u128 {
    weighted(ratio(triangles, triangle), triangles.surface[triangle as usize])
}

/// Triangles that count, sorted by shell.
struct ByShell {
    starts: Vec<u32>,
    members: Vec<u32>,
}

impl ByShell {
    fn new(model: &Model, triangles: &TriangleMeasures) -> Self {
        let with_say = || {
            (0..model.triangle_count())
                .filter(|&t| has_say(triangles, t))
                .filter_map(|t| model.shell_of(t).map(|shell| (t as u32, shell)))
        };
        let mut starts = vec![0u32; model.layout.shell_count as usize + 2];
        with_say().for_each(|(_, shell)| starts[shell as usize + 2] += 1);
        (2..starts.len()).for_each(|i| starts[i] += starts[i - 1]);
        let total = starts.last().map_or(0, |&end| end as usize);
        let mut members = vec![0; total];
        for (triangle, shell) in with_say() {
            let start = &mut starts[shell as usize + 1];
            members[*start as usize] = triangle;
            *start += 1;
        }
        Self { starts, members }
    }

    /// Values and weights of a shell.
    fn items(&self, triangles: &TriangleMeasures, shell: usize, items: &mut Vec<u128>) {
        let members = &self.members[self.starts[shell] as usize..self.starts[shell + 1] as usize];
        items.clear();
        items.extend(members.iter().map(|&triangle| item(triangles, triangle)));
    }
}
