//! The map of one triangle from its surface to the map: singular values, direction, sign.
//!
//! J = [q1-q0, q2-q0] * inv([[x1, x2], [0, y2]]) in the local frame x1 = |e1|, x2 = e1.e2/|e1|, y2 = |e1 x e2|/|e1|,
//! rows scaled by the map's width and height: px per model unit. Singular values by the closed form (Snyder 1987,
//! eq. 4-12a, 4-13a; Blinn 1996): E=(a+d)/2, F=(a-d)/2, G=(c+b)/2, H=(c-b)/2, s1,2 = |hypot(E,H) ± hypot(F,G)|.

use glam::{DVec2, DVec3};

/// A triangle is without area when |cross product| is at most this times its longest edge squared: 1e-10 is far above
/// the rounding of doubles and far below any intended triangle (common practice, no source).
pub const ZERO_AREA_RATIO: f64 = 1e-10;

/// A 2 x 2 matrix [[a, b], [c, d]].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Jacobian {
    /// d(u px) / d(x).
    pub a: f64,
    /// d(u px) / d(y).
    pub b: f64,
    /// d(v px) / d(x).
    pub c: f64,
    /// d(v px) / d(y).
    pub d: f64,
}

impl Jacobian {
    /// The map of a triangle; `None` where the triangle has no area on the surface.
    /// `scale` is the map's size in px, or (1, 1) for uv.
    pub fn try_new(p: [DVec3; 3], q: [DVec2; 3], scale: DVec2) -> Option<Self> {
        if is_zero_area_3d(p) {
            return None;
        }
        let (e1, e2) = (p[1] - p[0], p[2] - p[0]);
        let x1 = e1.length();
        let x2 = e1.dot(e2) / x1;
        let y2 = e1.cross(e2).length() / x1;
        let (d1, d2) = ((q[1] - q[0]) * scale, (q[2] - q[0]) * scale);
        let (a, c) = (d1.x / x1, d1.y / x1);
        Some(Self { a, b: (d2.x - a * x2) / y2, c, d: (d2.y - c * x2) / y2 })
    }

    /// Singular values s1 >= s2 >= 0.
    pub fn singular_values(self) -> (f64, f64) {
        let (q, r) = self.halves();
        // Where rounding leaves nothing of the smaller one, their ratio is large, not infinite.
        (q + r, (q - r).abs().max((q + r) * 1e-30))
    }

    /// Angle in the map, 0..pi from the u axis to the v axis, of the image of the direction that is stretched most.
    pub fn stretch_angle_in_map(self) -> f64 {
        let (e, f) = ((self.a + self.d) / 2.0, (self.a - self.d) / 2.0);
        let (g, h) = ((self.c + self.b) / 2.0, (self.c - self.b) / 2.0);
        ((h.atan2(e) + g.atan2(f)) / 2.0).rem_euclid(std::f64::consts::PI)
    }

    fn halves(self) -> (f64, f64) {
        let (e, f) = ((self.a + self.d) / 2.0, (self.a - self.d) / 2.0);
        let (g, h) = ((self.c + self.b) / 2.0, (self.c - self.b) / 2.0);
        (length(e, h), length(f, g))
    }
}

/// Squares up to here, from their inverse on, keep all their digits when they are added.
const SAFE_SQUARE: f64 = 1e280;

/// sqrt(x^2 + y^2). The library's hypot guards every step against overflow, which costs a browser more than all the rest;
/// here only the sum is looked at.
fn length(x: f64, y: f64) -> f64 {
    let square = x * x + y * y;
    if (1.0 / SAFE_SQUARE..SAFE_SQUARE).contains(&square) { square.sqrt() } else { x.hypot(y) }
}

/// Has no area on the surface.
pub fn is_zero_area_3d([a, b, c]: [DVec3; 3]) -> bool {
    let longest = longest([(b - a).length_squared(), (c - a).length_squared(), (c - b).length_squared()]);
    (b - a).cross(c - a).length() <= ZERO_AREA_RATIO * longest
}

/// Has no area on the sheet.
#[inline(always)]
pub fn is_zero_area_uv([a, b, c]: [DVec2; 3]) -> bool {
    let longest = longest([(b - a).length_squared(), (c - a).length_squared(), (c - b).length_squared()]);
    (b - a).perp_dot(c - a).abs() <= ZERO_AREA_RATIO * longest
}

/// Of squared lengths, which are never NaN; `f64::max` checks for that, and is a call in the browser.
#[inline(always)]
pub(super) fn longest([a, b, c]: [f64; 3]) -> f64 {
    let longer = if b > a { b } else { a };
    if c > longer { c } else { longer }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(a: f64, b: f64, c: f64, d: f64) -> Jacobian {
        Jacobian { a, b, c, d }
    }

    #[test]
    fn singular_values_of_shears_are_the_closed_form() {
        // Shear k: (sqrt(k^2 + 4) ± k) / 2.
        for k in [0.5f64, 1.0, 2.0, 7.0] {
            let (s1, s2) = of(1.0, k, 0.0, 1.0).singular_values();
            assert!((s1 - ((k * k + 4.0).sqrt() + k) / 2.0).abs() < 1e-14 * s1);
            assert!((s2 - ((k * k + 4.0).sqrt() - k) / 2.0).abs() < 1e-14 * s1);
        }
    }

    #[test]
    fn the_stretched_direction_is_where_the_long_axis_lies_in_the_map() {
        let turned = |angle: f64, s1: f64, s2: f64, before: f64| {
            // R(angle) * diag(s1, s2) * R(before)
            let ((s, c), (sb, cb)) = (angle.sin_cos(), before.sin_cos());
            of(
                c * s1 * cb - s * s2 * sb,
                -c * s1 * sb - s * s2 * cb,
                s * s1 * cb + c * s2 * sb,
                -s * s1 * sb + c * s2 * cb,
            )
        };
        for degrees in [0.0f64, 10.0, 80.0, 95.0, 170.0] {
            for before in [0.0, 0.4, 2.0] {
                for (s1, s2) in [(3.0, 1.0), (3.0, -1.0)] {
                    let angle = turned(degrees.to_radians(), s1, s2, before).stretch_angle_in_map().to_degrees();
                    let off = (angle - degrees).rem_euclid(180.0);
                    assert!(off.min(180.0 - off) < 1e-9, "{degrees} {before} {s2}: {angle}");
                }
            }
        }
    }
}
