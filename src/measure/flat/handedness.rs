//! Orientation: reversed, flipped, folded, inside out.
//!
//! Front is the face's winding. A part is *inside out* when the file's normals disagree with the winding on most of the
//! area that has normals; its handedness is then judged by the normals. A shell is *flipped* when more than half of its
//! uv area is reversed, mirrored sides excluded; sides that disagree with their shell and are not mirrored are *folded*
//! (`sides`). Which sides are mirrored is known only once overlaps are measured: before, none is.

use super::sides::{MIRRORED_SHARE_MIN, MIRRORED_SIDE_MIN, Sides};
use super::triangles::{TriangleMeasures, state};
use crate::model::{Model, NormalId};
use crate::util::three;
use glam::DVec3;

/// Handedness of the whole model.
#[derive(Clone, Debug, Default)]
pub struct Handedness {
    /// Per shell.
    pub flipped: Vec<bool>,
    /// Per shell, number of folded triangles.
    pub folded: Vec<u32>,
    /// Per part.
    pub inside_out: Vec<bool>,
    /// Regular or without surface, mapped and reversed.
    pub reversed_triangles: u32,
    /// Surface of those, over all mapped surface; `None` without mapped surface.
    pub reversed_share: Option<f64>,
    /// Sum of [`Handedness::folded`].
    pub folded_triangles: u32,
    pub(in crate::measure) sides: Sides,
}

/// Judges the parts' winding, then shells; sets the bits [`state::INSIDE_OUT`] and [`state::FOLDED`].
pub fn measure_handedness(model: &Model, triangles: &mut TriangleMeasures) -> Handedness {
    let inside_out = inside_out_parts(model, triangles);
    let count = model.triangle_count();
    for triangle in 0..count {
        if inside_out[model.part_of(triangle) as usize] {
            triangles.state[triangle] |= state::INSIDE_OUT;
        }
    }
    let shells = model.layout.shell_count as usize;
    let (mut reversed_uv, mut all_uv) = (vec![0.0; shells], vec![0.0; shells]);
    let mut result = Handedness { inside_out, ..Handedness::default() };
    let (mut reversed_surface, mut mapped_surface) = (0.0, 0.0);
    for triangle in 0..count {
        let Some(shell) = model.shell_of(triangle) else { continue };
        all_uv[shell as usize] += triangles.area_uv[triangle];
        mapped_surface += triangles.surface[triangle];
        if triangles.is_reversed(triangle) {
            reversed_uv[shell as usize] += triangles.area_uv[triangle];
            reversed_surface += triangles.surface[triangle];
            result.reversed_triangles += 1;
        }
    }
    result.reversed_share = (mapped_surface > 0.0).then(|| reversed_surface / mapped_surface);
    result.flipped = reversed_uv.iter().zip(&all_uv).map(|(&reversed, &all)| reversed > all / 2.0).collect();
    result.folded = vec![0; shells];
    result.sides = Sides::new(model, triangles);
    let covered = result.sides.covered(triangles, &|_| 0.0);
    result.judge_sides(&covered, triangles);
    result
}

impl Handedness {
    /// Judges the shells of both signs again, by what of each side is [covered](Sides::covered). A shell is flipped
    /// when more than half of its uv area is reversed, reversed sides that are mirrored aside; sides of the other sign
    /// are folded, unless they are mirrored. Gives of each shell whether it holds such a mirrored side.
    pub(in crate::measure) fn judge_sides(&mut self, covered: &[f64], triangles: &mut TriangleMeasures) -> Vec<bool> {
        let shells = self.flipped.len();
        let mut whole = vec![0.0; shells];
        for side in &self.sides.sides {
            whole[side.shell as usize] += side.area_uv;
        }
        let mut is_mirrored = vec![false; covered.len()];
        let mut by_hand = vec![[0.0; 2]; shells];
        for (number, side) in self.sides.sides.iter().enumerate() {
            is_mirrored[number] = covered[number] >= MIRRORED_SHARE_MIN * side.area_uv
                && side.area_uv >= MIRRORED_SIDE_MIN * whole[side.shell as usize];
            if !(side.reversed && is_mirrored[number]) {
                by_hand[side.shell as usize][usize::from(side.reversed)] += side.area_uv;
            }
        }
        let mut holds_mirrored = vec![false; shells];
        for (number, side) in self.sides.sides.iter().enumerate() {
            let [forwards, backwards] = by_hand[side.shell as usize];
            self.flipped[side.shell as usize] = backwards > forwards;
            holds_mirrored[side.shell as usize] |= is_mirrored[number] && side.reversed != (backwards > forwards);
        }
        self.folded.fill(0);
        self.folded_triangles = 0;
        for &(triangle, number) in &self.sides.triangles {
            let side = self.sides.sides[number as usize];
            let state = &mut triangles.state[triangle as usize];
            *state &= !state::FOLDED;
            if side.reversed != self.flipped[side.shell as usize] && !is_mirrored[number as usize] {
                *state |= state::FOLDED;
                self.folded[side.shell as usize] += 1;
                self.folded_triangles += 1;
            }
        }
        holds_mirrored
    }
}

fn inside_out_parts(model: &Model, triangles: &TriangleMeasures) -> Vec<bool> {
    let parts = model.part_count as usize;
    let (mut against, mut with_normals) = (vec![0.0; parts], vec![0.0; parts]);
    if !model.document.normals.is_empty() {
        for triangle in 0..model.triangle_count() {
            let normals = three::each(model.corners(triangle), |corner| corner.normal);
            let [Some(a), Some(b), Some(c)] = normals else { continue };
            let normal = |id: NormalId| DVec3::from_array(three::each(model.document.normals[id.index()], f64::from));
            let given = normal(a) + normal(b) + normal(c);
            let [p0, p1, p2] = model.positions(triangle);
            let side = (p1 - p0).cross(p2 - p0).dot(given);
            let part = model.part_of(triangle) as usize;
            with_normals[part] += triangles.surface[triangle];
            if side < 0.0 {
                against[part] += triangles.surface[triangle];
            }
        }
    }
    against.iter().zip(&with_normals).map(|(&against, &all)| against > all / 2.0).collect()
}
