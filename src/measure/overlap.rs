//! What two triangles of the sheet have in common.
//!
//! Whether their interiors meet is decided exactly: two convex shapes are apart when an edge of one has the other wholly
//! on its outer side or on itself (separating axis), with the adaptive predicate of Shewchuk 1997 (crate `robust`). Only
//! then is one clipped by the other's edges (Sutherland & Hodgman 1974).

use super::sheet::clip;
use glam::DVec2;

/// The common part of two counter-clockwise triangles; `None` where their interiors do not meet.
pub(super) fn overlap(a: [DVec2; 3], b: [DVec2; 3]) -> Option<Vec<DVec2>> {
    if separates(a, b) || separates(b, a) {
        return None;
    }
    let mut piece = a.to_vec();
    for (from, to) in [(b[0], b[1]), (b[1], b[2]), (b[2], b[0])] {
        piece = clip(&piece, |p| (to - from).perp_dot(p - from));
    }
    (piece.len() > 2).then_some(piece)
}

/// Some edge of `a` has all of `b` on its outer side.
fn separates(a: [DVec2; 3], b: [DVec2; 3]) -> bool {
    [(a[0], a[1]), (a[1], a[2]), (a[2], a[0])]
        .iter()
        .any(|&(from, to)| b.iter().all(|&p| robust::orient2d(coord(from), coord(to), coord(p)) <= 0.0))
}

fn coord(p: DVec2) -> robust::Coord<f64> {
    robust::Coord { x: p.x, y: p.y }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::sheet::polygon_area;

    fn triangle(points: [[f64; 2]; 3]) -> [DVec2; 3] {
        points.map(DVec2::from_array)
    }

    #[test]
    fn triangles_that_touch_at_an_edge_or_corner_do_not_overlap() {
        let a = triangle([[0.1, 0.1], [0.7, 0.2], [0.3, 0.9]]);
        assert!(overlap(a, [a[1], a[0], DVec2::new(0.4, -0.5)]).is_none());
        assert!(overlap(a, [a[1], DVec2::new(0.9, 0.0), DVec2::new(0.9, 0.3)]).is_none());
    }

    #[test]
    fn the_common_area_of_equal_nested_and_crossed_triangles() {
        let a = triangle([[0., 0.], [1., 0.], [0., 1.]]);
        assert_eq!(overlap(a, a).map(|piece| polygon_area(&piece)), Some(0.5));
        let nested = triangle([[0.1, 0.1], [0.3, 0.1], [0.1, 0.3]]);
        assert!((polygon_area(&overlap(a, nested).unwrap()) - 0.02).abs() < 1e-15);
        assert!((polygon_area(&overlap(nested, a).unwrap()) - 0.02).abs() < 1e-15);
        // Two halves of a square cut along different diagonals share a quarter of it.
        let other = triangle([[0., 0.], [1., 0.], [1., 1.]]);
        assert!((polygon_area(&overlap(a, other).unwrap()) - 0.25).abs() < 1e-15);
    }
}
