//! Convex pieces of triangles: the part inside a rectangle, the part two have in common, the outline of a few points.
//!
//! Whether two interiors meet is decided exactly: two convex shapes are apart when an edge of one has the other wholly
//! on its outer side or on itself (separating axis), with the adaptive predicate of Shewchuk 1997 (crate `robust`). Only
//! then is one clipped by the other's edges (Sutherland & Hodgman 1974), without taking any memory.

use glam::DVec2;

/// Most corners of a piece. A cut puts two corners in place of every run of corners outside; where rounding has bent an
/// outline there may be several runs, but not more than half its corners: four cuts of a triangle make 4, 6, 9, 13.
const CORNERS_MAX: usize = 13;

/// A convex outline, counter-clockwise.
#[derive(Clone, Copy, Debug)]
pub(super) struct Piece {
    corners: [DVec2; CORNERS_MAX],
    len: usize,
}

impl Piece {
    pub(super) fn corners(&self) -> &[DVec2] {
        &self.corners[..self.len]
    }

    pub(super) fn area(&self) -> f64 {
        // About its own first corner, so that a small piece far from the origin keeps its digits.
        let origin = self.corners[0];
        self.corners().windows(2).map(|edge| (edge[0] - origin).perp_dot(edge[1] - origin)).sum::<f64>() / 2.0
    }

    /// Convex hull of the corners where `place` puts them, whole numbers below 2^53 (gift wrapping, Jarvis 1973): exact.
    /// Fewer than three corners where it has no area.
    pub(super) fn hull(&self, place: impl Fn(DVec2) -> DVec2) -> Self {
        let mut points = *self;
        points.corners[..self.len].iter_mut().for_each(|p| *p = place(*p));
        let points = points.corners();
        let mut hull = Self { corners: [DVec2::ZERO; CORNERS_MAX], len: 0 };
        let Some(mut at) = points.iter().copied().reduce(|a, b| if (b.y, b.x) < (a.y, a.x) { b } else { a }) else {
            return hull;
        };
        loop {
            hull.push(at);
            let next = points.iter().copied().filter(|&p| p != at).reduce(|best, p| {
                let side = cross_of_whole(best - at, p - at);
                if side < 0.0 || (side == 0.0 && (p - at).length_squared() > (best - at).length_squared()) {
                    p
                } else {
                    best
                }
            });
            match next {
                Some(next) if next != hull.corners[0] && hull.len < points.len() => at = next,
                _ => return hull,
            }
        }
    }

    /// Corners of the box around it.
    pub(super) fn bounds(&self) -> (DVec2, DVec2) {
        self.corners().iter().fold((self.corners[0], self.corners[0]), |(low, high), &p| (low.min(p), high.max(p)))
    }

    /// The part where `depth` (linear) is not negative.
    fn cut(&self, depth: impl Fn(DVec2) -> f64) -> Self {
        let mut kept = Self { corners: [DVec2::ZERO; CORNERS_MAX], len: 0 };
        let Some(&last) = self.corners().last() else { return kept };
        let (mut p, mut a) = (last, depth(last));
        for &q in self.corners() {
            let b = depth(q);
            if (a > 0.0 && b < 0.0) || (a < 0.0 && b > 0.0) {
                kept.push(p + (q - p) * (a / (a - b)));
            }
            if b >= 0.0 {
                kept.push(q);
            }
            (p, a) = (q, b);
        }
        kept
    }

    fn push(&mut self, corner: DVec2) {
        if let Some(slot) = self.corners.get_mut(self.len) {
            *slot = corner;
            self.len += 1;
        }
    }
}

impl From<[DVec2; 3]> for Piece {
    fn from([a, b, c]: [DVec2; 3]) -> Self {
        let mut piece = Self { corners: [DVec2::ZERO; CORNERS_MAX], len: 0 };
        [a, b, c].into_iter().for_each(|corner| piece.push(corner));
        piece
    }
}

/// The part of a counter-clockwise triangle inside a rectangle.
pub(super) fn inside(q: [DVec2; 3], low: DVec2, high: DVec2) -> Piece {
    Piece::from(q).cut(|p| p.x - low.x).cut(|p| high.x - p.x).cut(|p| p.y - low.y).cut(|p| high.y - p.y)
}

/// The common part of two counter-clockwise triangles; `None` where their interiors do not meet.
pub(super) fn common(a: [DVec2; 3], b: [DVec2; 3]) -> Option<Piece> {
    if separates(a, b) || separates(b, a) {
        return None;
    }
    let mut piece = Piece::from(a);
    for (from, to) in [(b[0], b[1]), (b[1], b[2]), (b[2], b[0])] {
        piece = piece.cut(|p| (to - from).perp_dot(p - from));
    }
    (piece.len > 2).then_some(piece)
}

/// Do the interiors of two counter-clockwise triangles meet?
pub(super) fn meet(a: [DVec2; 3], b: [DVec2; 3]) -> bool {
    !separates(a, b) && !separates(b, a)
}

/// Some edge of `a` has all of `b` on its outer side.
fn separates(a: [DVec2; 3], b: [DVec2; 3]) -> bool {
    [(a[0], a[1]), (a[1], a[2]), (a[2], a[0])]
        .iter()
        .any(|&(from, to)| b.iter().all(|&p| robust::orient2d(coord(from), coord(to), coord(p)) <= 0.0))
}

/// a x b of whole numbers below 2^53: its sign is exact, its value as near as a double can be.
pub(super) fn cross_of_whole(a: DVec2, b: DVec2) -> f64 {
    let whole = |x: f64| i128::from(x as i64);
    (whole(a.x) * whole(b.y) - whole(a.y) * whole(b.x)) as f64
}

fn coord(p: DVec2) -> robust::Coord<f64> {
    robust::Coord { x: p.x, y: p.y }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn triangle(points: [[f64; 2]; 3]) -> [DVec2; 3] {
        points.map(DVec2::from_array)
    }

    #[test]
    fn triangles_that_only_touch_have_no_common_area() {
        let a = triangle([[0.1, 0.1], [0.7, 0.2], [0.3, 0.9]]);
        assert!(common(a, [a[1], a[0], DVec2::new(0.4, -0.5)]).is_none());
        assert!(common(a, [a[1], DVec2::new(0.9, 0.0), DVec2::new(0.9, 0.3)]).is_none());
    }

    #[test]
    fn the_common_area_of_equal_nested_and_crossed_triangles() {
        let a = triangle([[0., 0.], [1., 0.], [0., 1.]]);
        assert_eq!(common(a, a).map(|piece| piece.area()), Some(0.5));
        let nested = triangle([[0.1, 0.1], [0.3, 0.1], [0.1, 0.3]]);
        assert!((common(a, nested).unwrap().area() - 0.02).abs() < 1e-15);
        assert!((common(nested, a).unwrap().area() - 0.02).abs() < 1e-15);
        // Two halves of a square cut along different diagonals share a quarter of it.
        let other = triangle([[0., 0.], [1., 0.], [1., 1.]]);
        assert!((common(a, other).unwrap().area() - 0.25).abs() < 1e-15);
    }

    #[test]
    fn a_star_of_two_triangles_shares_a_hexagon() {
        let h = 3f64.sqrt() / 2.0;
        let a = triangle([[0., 1.], [-h, -0.5], [h, -0.5]]);
        let b = triangle([[0., -1.], [h, 0.5], [-h, 0.5]]);
        let piece = common(a, b).unwrap();
        assert_eq!(piece.corners().len(), 6);
        // Two thirds of either.
        assert!((piece.area() - Piece::from(a).area() * 2.0 / 3.0).abs() < 1e-15);
    }

    #[test]
    fn a_rectangle_cuts_all_corners_off() {
        let q = triangle([[-1., -1.], [3., -1.], [-1., 3.]]);
        assert_eq!(inside(q, DVec2::ZERO, DVec2::ONE).area(), 1.0);
        assert_eq!(inside(q, DVec2::splat(0.5), DVec2::splat(2.0)).area(), 0.5);
        assert_eq!(inside(q, DVec2::splat(4.0), DVec2::splat(5.0)).area(), 0.0);
    }
}
