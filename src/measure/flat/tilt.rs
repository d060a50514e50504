//! Tilt: the angle from world-up to texture-up, of each triangle and of each shell.
//!
//! Texture-up is dX/dv, the direction on the surface of a line drawn straight up the sheet. With e1, e2 a triangle's
//! sides on the surface and d1, d2 the same on the sheet: dX/dv = (d1.u e2 - d2.u e1) / (d1 x d2). World-up is the
//! brief's axis, projected on the surface. `tilt_deg` is the angle from world-up to texture-up, in (-180, 180],
//! counter-clockwise (positive) as seen from the surface's front; front is the winding, or the normals where a part is
//! inside out. A reversed triangle is judged by the same rule, from the same side: the sign is the direction of tilt as
//! seen on the surface, whether or not it is flipped.
//!
//! Of a shell: the direction of the sum of unit vectors at those angles, weighted by surface (circular mean; Mardia &
//! Jupp 2000, *Directional Statistics*, sec. 2.2). Not counted: triangles within [`HORIZONTAL_DEG`] of horizontal,
//! where world-up has no direction on the surface, and those that are not regular. `None`: nothing counts, or the
//! angles are spread and the sum is shorter than [`RESULTANT_MIN`] of its terms. Cost: one pass; 4 bytes a triangle.
//!
//! *Turned against its equals* (`equals`): where more than half of at least [`EQUALS_MIN`] have one tilt within
//! [`UPRIGHT_DEG`], those that are further off it, and not its mirror image either, which tilts the other way.

use super::equals::equals;
use super::triangles::{TriangleMeasures, state};
use crate::brief::Brief;
use crate::model::Model;
use crate::util::packed;
use glam::DVec2;

/// A face whose normal is this near to world-up or world-down does not count, degrees. By definition.
pub const HORIZONTAL_DEG: f64 = 10.0;
/// cos([`HORIZONTAL_DEG`]).
const HORIZONTAL_COS: f64 = 0.984_807_753_012_208;
/// Length of a shell's sum of directions over the sum of its weights (0..1) below which there is no mean: nine tenths
/// of the surface cancel out, and a direction would represent the rest alone. Own choice.
pub const RESULTANT_MIN: f64 = 0.1;
/// Upright up to here, degrees either way. By definition.
pub const UPRIGHT_DEG: f64 = 15.0;
/// Sideways from here, degrees either way. By definition.
pub const SIDEWAYS_FROM_DEG: f64 = 75.0;
/// Sideways to here, degrees either way. By definition.
pub const SIDEWAYS_TO_DEG: f64 = 105.0;
/// Upside down from here, degrees either way. By definition.
pub const UPSIDE_DOWN_DEG: f64 = 165.0;

/// So many equals are needed to determine the odd one. By definition.
pub const EQUALS_MIN: usize = 3;

/// A shell that is turned against others of its shape and pose.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turned {
    /// The shell.
    pub shell: u32,
    /// The tilt of the others, degrees in (-180, 180].
    pub usual_deg: f64,
    /// How many of them have it.
    pub equals: usize,
}

/// Class of a tilt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stance {
    /// |tilt| <= 15.
    Upright,
    /// |tilt| 75..=105.
    Sideways,
    /// |tilt| >= 165.
    UpsideDown,
    /// Anything between.
    Tilted,
}

impl Stance {
    /// Of a tilt in degrees, -180..=180.
    pub fn of(tilt_deg: f64) -> Self {
        match tilt_deg.abs() {
            size if size <= UPRIGHT_DEG => Self::Upright,
            size if (SIDEWAYS_FROM_DEG..=SIDEWAYS_TO_DEG).contains(&size) => Self::Sideways,
            size if size >= UPSIDE_DOWN_DEG => Self::UpsideDown,
            _ => Self::Tilted,
        }
    }
}

/// Tilt of everything.
#[derive(Clone, Debug, Default)]
pub struct Tilt {
    /// Degrees, NaN where there is none; read with [`Tilt::of`].
    triangles: Vec<f32>,
    /// Per shell, degrees in (-180, 180]; `None` if nothing counts or the tilts are spread.
    pub shells: Vec<Option<f64>>,
    /// Shells turned against their equals, rising.
    pub turned: Vec<Turned>,
}

impl Tilt {
    /// Of a triangle, degrees in (-180, 180]; `None` before it is measured and where the triangle does not count.
    pub fn of(&self, triangle: usize) -> Option<f64> {
        self.triangles.get(triangle).filter(|tilt| !tilt.is_nan()).map(|&tilt| f64::from(tilt))
    }
}

/// Triangles and shells; handedness comes first, since it decides which side is the front.
pub fn measure_tilt(model: &Model, triangles: &TriangleMeasures, brief: &Brief) -> Tilt {
    let mut tilts = Vec::with_capacity(model.triangle_count());
    let mut sums = vec![(DVec2::ZERO, 0.0); model.layout.shell_count as usize];
    for triangle in 0..model.triangle_count() {
        let towards = towards(model, triangles, brief, triangle);
        tilts.push(towards.map_or(f32::NAN, |towards| degrees(towards) as f32));
        if let (Some(towards), Some(shell)) = (towards, model.shell_of(triangle)) {
            let (sum, weight) = &mut sums[shell as usize];
            *sum += towards * triangles.surface[triangle];
            *weight += triangles.surface[triangle];
        }
    }
    let shells: Vec<Option<f64>> = sums
        .into_iter()
        .map(|(sum, weight)| (weight > 0.0 && sum.length() >= RESULTANT_MIN * weight).then(|| degrees(sum)))
        .collect();
    let turned = turned(model, triangles, brief, &shells);
    Tilt { triangles: tilts, shells, turned }
}

fn turned(model: &Model, triangles: &TriangleMeasures, brief: &Brief, shells: &[Option<f64>]) -> Vec<Turned> {
    let mut turned = Vec::new();
    if shells.len() < EQUALS_MIN {
        return turned;
    }
    // If all tilts are nearly equal, none is turned against another, whatever their shapes.
    let is_worth = |alike: &[u32]| {
        let mut tilts = alike.iter().filter_map(|&shell| shells[shell as usize]);
        let first = tilts.next().unwrap_or(0.0);
        alike.len() >= EQUALS_MIN && tilts.any(|tilt| apart(tilt, first) > UPRIGHT_DEG / 2.0)
    };
    for group in equals(model, &triangles.surface, brief.tilt.up.direction(), &is_worth) {
        let tilts: Vec<(u32, f64)> = group.iter().filter_map(|&shell| Some((shell, shells[shell as usize]?))).collect();
        let Some((usual_deg, equals)) = usual(&tilts) else { continue };
        let is_off = |tilt: f64| apart(tilt, usual_deg) > UPRIGHT_DEG && apart(-tilt, usual_deg) > UPRIGHT_DEG;
        let odd = tilts.iter().filter(|(_, tilt)| is_off(*tilt));
        turned.extend(odd.map(|&(shell, _)| Turned { shell, usual_deg, equals }));
    }
    packed::ordered(turned, |a, b| a.shell.cmp(&b.shell))
}

/// The tilt that more than half of these have, and how many those are.
fn usual(tilts: &[(u32, f64)]) -> Option<(f64, usize)> {
    let mut best = None;
    // What lies on both sides of 180 degrees has its median where angles begin at 0.
    for turn in [0.0, 360.0] {
        let angles = tilts.iter().map(|&(_, tilt)| if tilt < 0.0 { tilt + turn } else { tilt }).collect();
        let angles: Vec<f64> = packed::ordered(angles, f64::total_cmp);
        let median = *angles.get(angles.len().saturating_sub(1) / 2)?;
        let alike = angles.iter().filter(|angle| apart(**angle, median) <= UPRIGHT_DEG).count();
        if 2 * alike > angles.len() && best.is_none_or(|(_, most)| alike > most) {
            best = Some((if median > 180.0 { median - 360.0 } else { median }, alike));
        }
    }
    best.filter(|_| tilts.len() >= EQUALS_MIN)
}

/// The angle between two directions, 0..=180 degrees.
pub fn apart(a: f64, b: f64) -> f64 {
    let turn = (a - b).abs() % 360.0;
    turn.min(360.0 - turn)
}

/// The unit vector (cos, sin) of a triangle's tilt; `None` where it does not count.
fn towards(model: &Model, triangles: &TriangleMeasures, brief: &Brief, triangle: usize) -> Option<DVec2> {
    if !triangles.is_regular(triangle) {
        return None;
    }
    let up = brief.tilt.up.direction();
    let ([p0, p1, p2], [q0, q1, q2]) = (model.positions(triangle), model.uvs(triangle)?);
    let ((e1, e2), (d1, d2)) = ((p1 - p0, p2 - p0), (q1 - q0, q2 - q0));
    let across = e1.cross(e2).normalize_or_zero();
    if across.dot(up).abs() > HORIZONTAL_COS {
        return None;
    }
    let front = if triangles.is(triangle, state::INSIDE_OUT) { -across } else { across };
    let texture_up = (e2 * d1.x - e1 * d2.x) * d1.perp_dot(d2).signum();
    // Both parts of `up`, on the surface and along its normal, but the latter adds to neither product.
    DVec2::new(up.dot(texture_up), front.dot(up.cross(texture_up))).try_normalize()
}

/// In (-180, 180].
fn degrees(towards: DVec2) -> f64 {
    let angle = towards.y.atan2(towards.x).to_degrees();
    if angle <= -180.0 { 180.0 } else { angle }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn upright_tilted_sideways_and_upside_down_change_at_the_stated_angles() {
        for (degrees, stance) in [
            (0.0, Stance::Upright),
            (-15.0, Stance::Upright),
            (15.1, Stance::Tilted),
            (-74.9, Stance::Tilted),
            (75.0, Stance::Sideways),
            (-105.0, Stance::Sideways),
            (105.1, Stance::Tilted),
            (-165.0, Stance::UpsideDown),
            (180.0, Stance::UpsideDown),
        ] {
            assert_eq!(Stance::of(degrees), stance, "{degrees}");
        }
    }

    #[test]
    fn the_usual_tilt_is_the_majoritys_also_across_180_degrees() {
        let of = |tilts: &[f64]| usual(&tilts.iter().map(|&tilt| (0, tilt)).collect::<Vec<_>>());
        assert_eq!(of(&[0.0, 90.0, 2.0]), Some((2.0, 2)));
        assert_eq!(of(&[179.0, -179.0, 90.0, 180.0]), Some((179.0, 3)));
        assert_eq!(of(&[90.0, -90.0, 180.0]), None);
        assert_eq!(of(&[0.0, 0.0, 90.0, 90.0]), None);
        assert_eq!((of(&[0.0, 0.0]), of(&[])), (None, None));
        assert_eq!((apart(170.0, -170.0), apart(-90.0, 90.0), apart(5.0, 20.0)), (20.0, 180.0, 15.0));
    }

    #[test]
    fn the_cosine_is_that_of_the_angle() {
        assert!((HORIZONTAL_COS - HORIZONTAL_DEG.to_radians().cos()).abs() < 1e-15);
    }

    #[test]
    fn straight_down_is_plus_180_whichever_zero_the_sine_is() {
        assert_eq!(degrees(DVec2::new(-1.0, 0.0)), 180.0);
        assert_eq!(degrees(DVec2::new(-1.0, -0.0)), 180.0);
    }
}
