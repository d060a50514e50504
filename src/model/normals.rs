//! Normals to light a model by. Not a measure: nothing in the report depends on them.

use super::Surface;
use crate::util::three;
use glam::DVec3;

/// Faces that turn away further than this from one another do not share a normal (common practice, no source).
const CREASE_COSINE: f64 = 0.766; // 40 degrees

/// Gives the corner normals of one triangle after another.
pub struct CornerNormals<'a> {
    surface: &'a Surface,
    /// Mean of area-weighted face normals by position value, of length 1 or 0; only made when some corner has no normal
    /// in the file.
    means: Vec<[f32; 3]>,
}

impl<'a> CornerNormals<'a> {
    pub(super) fn new(surface: &'a Surface) -> Self {
        let given = surface.document.corners.iter().all(|corner| corner.normal.is_some());
        let mut means = Vec::new();
        if !given {
            means = vec![[0.0f32; 3]; surface.position_value.len()];
            for triangle in 0..surface.triangle_count() {
                let [a, b, c] = surface.positions(triangle);
                let normal = (b - a).cross(c - a).as_vec3();
                for corner in surface.corners(triangle) {
                    let sum = &mut means[surface.position_value[corner.position.0 as usize] as usize];
                    (0..3).for_each(|axis| sum[axis] += normal[axis]);
                }
            }
            for sum in &mut means {
                *sum = DVec3::from_array(three::each(*sum, f64::from)).normalize_or_zero().as_vec3().to_array();
            }
        }
        Self { surface, means }
    }

    /// Unit normals at the three corners of `triangle`, which are at `positions`; zero for a triangle without area and normals.
    pub fn of(&self, triangle: usize, positions: [DVec3; 3]) -> [DVec3; 3] {
        let [a, b, c] = positions;
        let face = (b - a).cross(c - a).normalize_or_zero();
        three::each(self.surface.corners(triangle), |corner| {
            let given = corner.normal.map(|id| self.surface.document.normals[id.index()]);
            let smooth = match given {
                Some(normal) => DVec3::from_array(three::each(normal, f64::from)).normalize_or_zero(),
                None => {
                    let mean = self.means[self.surface.position_value[corner.position.0 as usize] as usize];
                    let mean = DVec3::from_array(three::each(mean, f64::from));
                    if mean.dot(face) < CREASE_COSINE { face } else { mean }
                }
            };
            if smooth == DVec3::ZERO { face } else { smooth }
        })
    }
}
