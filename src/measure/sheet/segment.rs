//! Least distance between two segments of the plane, with the places where it happens.
//!
//! Crossing segments are detected exactly (adaptive predicate of Shewchuk 1997, crate `robust`). Others are nearest at
//! an end of one of them: four distances from a point to a segment. A segment without length is a point.

use glam::DVec2;
use robust::{Coord, orient2d};

/// Squared distance, the place on `a` and the place on `b`.
pub(super) fn nearest(a: [DVec2; 2], b: [DVec2; 2]) -> (f64, DVec2, DVec2) {
    if let Some(place) = crossing(a, b) {
        return (0.0, place, place);
    }
    let from_a = |p: DVec2| (p, on_segment(p, b));
    let from_b = |q: DVec2| (on_segment(q, a), q);
    let mut best = (f64::INFINITY, a[0], b[0]);
    for (p, q) in [from_a(a[0]), from_a(a[1]), from_b(b[0]), from_b(b[1])] {
        let distance_squared = p.distance_squared(q);
        if distance_squared < best.0 {
            best = (distance_squared, p, q);
        }
    }
    best
}

/// The place of a segment that is nearest to `p`.
fn on_segment(p: DVec2, [from, to]: [DVec2; 2]) -> DVec2 {
    let along = to - from;
    let share = (p - from).dot(along) / along.length_squared();
    // NaN without length; both ends are exact.
    match () {
        () if share >= 1.0 => to,
        () if share > 0.0 => from + along * share,
        () => from,
    }
}

/// Where two segments cross in their interiors.
fn crossing(a: [DVec2; 2], b: [DVec2; 2]) -> Option<DVec2> {
    let boxes_meet = a[0].min(a[1]).cmple(b[0].max(b[1])).all() && b[0].min(b[1]).cmple(a[0].max(a[1])).all();
    if !boxes_meet {
        return None;
    }
    let side = |[from, to]: [DVec2; 2], p: DVec2| orient2d(coord(from), coord(to), coord(p));
    let (b0, b1) = (side(a, b[0]), side(a, b[1]));
    let apart = |x: f64, y: f64| !(x > 0.0 && y < 0.0 || x < 0.0 && y > 0.0);
    if apart(b0, b1) || apart(side(b, a[0]), side(b, a[1])) {
        return None;
    }
    Some(b[0] + (b[1] - b[0]) * (b0 / (b0 - b1)))
}

fn coord(p: DVec2) -> Coord<f64> {
    Coord { x: p.x, y: p.y }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn segment(ends: [f64; 4]) -> [DVec2; 2] {
        [DVec2::new(ends[0], ends[1]), DVec2::new(ends[2], ends[3])]
    }

    #[track_caller]
    fn expect(a: [f64; 4], b: [f64; 4], distance: f64) {
        let (a, b) = (segment(a), segment(b));
        for (a, b) in [(a, b), (b, a), ([a[1], a[0]], b), (b, [a[1], a[0]])] {
            let (squared, p, q) = nearest(a, b);
            assert!((squared.sqrt() - distance).abs() < 1e-14, "{} instead of {distance}", squared.sqrt());
            assert!((p.distance(q) - distance).abs() < 1e-14);
            assert!(p.distance(on_segment(p, a)) < 1e-14 && q.distance(on_segment(q, b)) < 1e-14);
        }
    }

    #[test]
    fn crossing_touching_parallel_skew_and_in_line() {
        expect([0., 0., 2., 2.], [0., 2., 2., 0.], 0.0);
        expect([0., 0., 2., 0.], [1., 0., 1., 3.], 0.0);
        expect([0., 0., 2., 0.], [2., 0., 5., 1.], 0.0);
        expect([0., 0., 2., 0.], [1., 3., 9., 3.], 3.0);
        expect([0., 0., 2., 0.], [5., 4., 5., 9.], 5.0);
        expect([0., 0., 1., 0.], [4., 0., 5., 0.], 3.0);
        expect([0., 0., 4., 0.], [1., 0., 2., 0.], 0.0);
        expect([0., 0., 4., 0.], [3., 1., 9., 7.], 1.0);
    }

    #[test]
    fn a_segment_of_zero_length_is_a_point() {
        expect([1., 1., 1., 1.], [0., 0., 4., 0.], 1.0);
        expect([1., 1., 1., 1.], [4., 5., 4., 5.], 5.0);
    }
}
