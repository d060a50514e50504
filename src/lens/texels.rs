//! Each triangle's words for the lenses, from what is measured so far.
//!
//! Cost: a few array reads a triangle, and one map from surface to sheet for its direction.

use super::{TriangleTexel, flag, state as lens_state};
use crate::brief::Brief;
use crate::measure::Measures;
use crate::measure::flat::jacobian::Jacobian;
use crate::measure::flat::triangles::state;
use crate::measure::sheet::sharing::ShareKind;
use crate::measure::text_safety::{reason, reasons};
use crate::model::Model;
use glam::{DVec2, DVec3};

/// Gives the [`TriangleTexel`] of one triangle after another.
pub struct Texels<'a> {
    model: &'a Model,
    measures: &'a Measures,
    brief: &'a Brief,
    fold_angles: Vec<Option<f32>>,
    /// Of the density, octaves either way.
    tolerance: f64,
    /// The one that is shown.
    sheet: usize,
}

impl<'a> Texels<'a> {
    /// Of a model; what is not measured yet stays empty.
    pub fn new(model: &'a Model, measures: &'a Measures, brief: &'a Brief) -> Self {
        let tolerance = (1.0 + brief.density.tolerance_percent / 100.0).log2();
        Self { model, measures, brief, fold_angles: fold_angles(model, measures), tolerance, sheet: 0 }
    }

    /// The same with another sheet shown than the first, by its place in the list.
    #[cfg(target_arch = "wasm32")]
    pub(crate) fn on_sheet(self, sheet: usize) -> Self {
        Self { sheet, ..self }
    }

    /// Flags and state of one triangle, but [`lens_state::OFF_DENSITY`].
    pub fn bits_of(&self, triangle: usize) -> (u8, u16) {
        let (model, measures, brief) = (self.model, self.measures, self.brief);
        let shell = model.shell_of(triangle);
        let mut flags = if shell.is_some() { flag::MAPPED } else { 0 };
        if measures.triangles.state.is_empty() {
            return (flags, 0);
        }
        let mut states = lens_state::MEASURED;
        let triangles = &measures.triangles;
        let mut flag_if = |condition: bool, bit: u8| flags |= if condition { bit } else { 0 };
        flag_if(triangles.is_reversed(triangle), flag::REVERSED);
        flag_if(triangles.is(triangle, state::FOLDED), flag::FOLDED);
        flag_if(shell.is_some_and(|shell| measures.handedness.flipped[shell as usize]), flag::FLIPPED);
        let shares = measures.shares(triangle);
        flag_if(shares.mirrored, flag::MIRRORED);
        flag_if(shares.stacked, flag::STACKED);
        flag_if(shares.partial_overlap || shares.self_overlap, flag::PARTIAL_OVERLAP);
        let stretched = triangles.anisotropy(triangle).is_some_and(|ratio| ratio > brief.stretch.max_anisotropy);
        flag_if(stretched, flag::STRETCHED);
        let mut state_if = |condition: bool, bit: u16| states |= if condition { bit } else { 0 };
        state_if(measures.sheets.of_face(model.face_of(triangle)) != self.sheet, lens_state::ELSEWHERE);
        state_if(triangles.is(triangle, state::COLLAPSED_UV), lens_state::COLLAPSED);
        state_if(triangles.is(triangle, state::DEGENERATE_3D), lens_state::DEGENERATE);
        state_if(triangles.is(triangle, state::INSIDE_OUT), lens_state::INSIDE_OUT);
        state_if(!measures.sharing.triangles.is_empty(), lens_state::SHARING_MEASURED);
        let reasons = reasons(measures, triangle, brief);
        state_if(reasons & reason::TILTED != 0, lens_state::TILTED);
        state_if(reasons != 0, lens_state::UNSAFE);
        (flags, states)
    }

    /// Of one triangle.
    pub fn of(&self, triangle: usize) -> TriangleTexel {
        let (model, measures) = (self.model, self.measures);
        let shell = model.shell_of(triangle);
        let (flags, state) = self.bits_of(triangle);
        let mut texel = TriangleTexel { shell, flags, state, ..TriangleTexel::default() };
        if measures.triangles.state.is_empty() {
            return texel;
        }
        let triangles = &measures.triangles;
        let anisotropy = triangles.anisotropy(triangle);
        texel.tilt_deg = measures.tilt.of(triangle).map(|tilt| tilt as f32);
        let collapsed = (state & lens_state::COLLAPSED != 0).then_some(f32::INFINITY);
        texel.anisotropy = anisotropy.map(|ratio| ratio as f32).or(collapsed);
        if let (Some(density), Some(reference)) = (triangles.density(triangle), measures.reference_of(shell))
            && density > 0.0
            && reference > 0.0
        {
            let octaves = (density / reference).log2();
            texel.octaves = Some(octaves as f32);
            texel.state |= if octaves.abs() > self.tolerance { lens_state::OFF_DENSITY } else { 0 };
        }
        if anisotropy.is_some()
            && let Some(q) = model.uvs(triangle)
            && let Some(jacobian) =
                Jacobian::try_new(model.positions(triangle), q, measures.sizes.scale(model, triangle))
        {
            texel.direction = Some(jacobian.stretch_angle_in_map() as f32);
        }
        if let Some(shell) = shell {
            texel.chevron = self.fold_angles.get(shell as usize).copied().flatten();
        }
        texel
    }
}

/// Per shell, the direction in the map (radians, px) that leads on the surface towards the shell it is mirrored with.
fn fold_angles(model: &Model, measures: &Measures) -> Vec<Option<f32>> {
    let shells = model.layout.shell_count as usize;
    let mut partner: Vec<Option<(f64, u32)>> = vec![None; shells];
    for pair in measures.sharing.pairs.iter().filter(|pair| pair.kind == ShareKind::Mirrored && pair.a != pair.b) {
        for (shell, other) in [(pair.a, pair.b), (pair.b, pair.a)] {
            let best = &mut partner[shell as usize];
            if best.is_none_or(|(area, _)| pair.area_uv > area) {
                *best = Some((pair.area_uv, other));
            }
        }
    }
    // The others of equal shells as the first of them.
    for group in &measures.sharing.equal {
        group.iter().for_each(|&shell| partner[shell as usize] = partner[group[0] as usize]);
    }
    let mut angles = vec![None; shells];
    if partner.iter().all(Option::is_none) {
        return angles;
    }
    let mut centres = vec![(DVec3::ZERO, 0.0); shells];
    let regular = || (0..model.triangle_count()).filter(|&t| measures.triangles.is_regular(t));
    for triangle in regular() {
        let Some(shell) = model.shell_of(triangle) else { continue };
        let area = measures.triangles.surface[triangle];
        let centre = &mut centres[shell as usize];
        centre.0 += model.positions(triangle).iter().sum::<DVec3>() / 3.0 * area;
        centre.1 += area;
    }
    let mut sums = vec![DVec2::ZERO; shells];
    for triangle in regular() {
        let Some(shell) = model.shell_of(triangle).map(|shell| shell as usize) else { continue };
        let (Some((_, other)), Some(q)) = (partner[shell], model.uvs(triangle)) else { continue };
        let (from, to) = (centres[shell], centres[other as usize]);
        if from.1 == 0.0 || to.1 == 0.0 {
            continue;
        }
        let towards = to.0 / to.1 - from.0 / from.1;
        let p = model.positions(triangle);
        let Some(jacobian) = Jacobian::try_new(p, q, measures.sizes.scale(model, triangle)) else { continue };
        let x = (p[1] - p[0]).normalize();
        let y = (p[1] - p[0]).cross(p[2] - p[0]).normalize().cross(x);
        let (dx, dy) = (towards.dot(x), towards.dot(y));
        sums[shell] += DVec2::new(jacobian.a * dx + jacobian.b * dy, jacobian.c * dx + jacobian.d * dy)
            * measures.triangles.surface[triangle];
    }
    for (angle, sum) in angles.iter_mut().zip(&sums) {
        *angle = (*sum != DVec2::ZERO).then(|| sum.y.atan2(sum.x) as f32);
    }
    angles
}
