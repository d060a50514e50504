//! Cuts n-gons into n - 2 triangles.
//!
//! A polygon that is convex in the plane of its Newell normal is fanned from its first corner. Any other is cut in that
//! plane: by ear clipping with exact orientation tests (Meisters 1975; Shewchuk 1997 for the predicate) up to
//! [`EAR_CLIPPING_MAX_CORNERS`], above that by the hashed ear slicing of the crate `earcut`, whose dropped collinear
//! corners come back as triangles without area, so that the uv polygon keeps its whole signed area. Holes joined by a
//! bridge (one edge there and back) are cut as they are. A face without any area is fanned.
//! Cost: linear in corners for convex faces; n * (reflex corners) for the others below the limit.

use crate::obj::Document;
use glam::{DVec2, DVec3};

/// Ear clipping takes n² steps at worst; a face of 512 corners costs at most some 100,000 tests.
const EAR_CLIPPING_MAX_CORNERS: usize = 512;

/// Triangles as corner indices, and their faces (empty when every face is a triangle).
pub(super) fn triangulate(document: &Document) -> (Vec<[u32; 3]>, Vec<u32>) {
    let count = document.corners.len() - 2 * document.face_count();
    let mut triangles = Vec::with_capacity(count);
    let only_triangles = document.corners.len() == 3 * document.face_count();
    let mut faces = Vec::with_capacity(if only_triangles { 0 } else { count });
    let mut cutter = Cutter::default();
    for face in 0..document.face_count() {
        let start = document.face_starts[face];
        let corners = document.face(face);
        if let [_, _, _] = corners {
            triangles.push([start, start + 1, start + 2]);
        } else {
            cutter.load(corners.iter().map(|c| DVec3::from_array(document.positions[c.position.0 as usize])));
            cutter.cut(|local| triangles.push(local.map(|corner| start + corner)));
        }
        if !only_triangles {
            faces.resize(triangles.len(), face as u32);
        }
    }
    (triangles, faces)
}

/// One polygon at a time, its buffers kept between polygons.
#[derive(Default)]
struct Cutter {
    points: Vec<DVec3>,
    flat: Vec<DVec2>,
    next: Vec<u32>,
    previous: Vec<u32>,
    reflex: Vec<u32>,
}

impl Cutter {
    fn load(&mut self, points: impl Iterator<Item = DVec3>) {
        self.points.clear();
        self.points.extend(points);
    }

    fn cut(&mut self, mut emit: impl FnMut([u32; 3])) {
        let corners = self.points.len() as u32;
        if !self.flatten() || self.is_convex() {
            (1..corners - 1).for_each(|corner| emit([0, corner, corner + 1]));
        } else if self.points.len() <= EAR_CLIPPING_MAX_CORNERS {
            self.clip_ears(emit);
        } else {
            self.slice_large(emit);
        }
    }

    /// Projects along the larger axes of the Newell normal, keeping the winding; false without area.
    /// Dropping an axis is affine: orientation, convexity and containment stay, and coordinates stay exact.
    fn flatten(&mut self) -> bool {
        let origin = self.points[0];
        let mut normal = DVec3::ZERO;
        for (index, &p) in self.points.iter().enumerate() {
            let q = self.points[(index + 1) % self.points.len()];
            normal += (p - origin).cross(q - origin);
        }
        let size = normal.abs();
        if !(size.max_element() > 0.0 && size.max_element().is_finite()) {
            return false;
        }
        let axis = if size.z >= size.x && size.z >= size.y {
            2
        } else if size.x >= size.y {
            0
        } else {
            1
        };
        let positive = normal[axis] > 0.0;
        let (first, second) = match (axis, positive) {
            (0, true) => (1, 2),
            (0, false) => (2, 1),
            (1, true) => (2, 0),
            (1, false) => (0, 2),
            (_, true) => (0, 1),
            (_, false) => (1, 0),
        };
        // A planar face's coordinates are exact as they are; a bent one is projected along its normal first.
        let along = normal / normal.length();
        self.flat.clear();
        self.flat.extend(self.points.iter().map(|&p| {
            let p = p - along * along.dot(p - origin);
            DVec2::new(p[first], p[second])
        }));
        true
    }

    fn turn(&self, a: u32, b: u32, c: u32) -> f64 {
        let [a, b, c] = [a, b, c].map(|i| self.flat[i as usize]);
        robust::orient2d(coord(a), coord(b), coord(c))
    }

    /// Every corner turns left or goes straight, and the whole turns once.
    fn is_convex(&self) -> bool {
        let n = self.flat.len();
        let mut direction_changes = 0;
        let mut last = 0.0f64;
        let mut first = 0.0f64;
        for i in 0..n {
            let (a, b, c) = (self.flat[i], self.flat[(i + 1) % n], self.flat[(i + 2) % n]);
            let size = (b - a).length() * (c - b).length();
            // Less than 1e-9 rad: rounding of the projection, not a reflex corner.
            if (b - a).perp_dot(c - b) < -1e-9 * size {
                return false;
            }
            let dx = b.x - a.x;
            if dx != 0.0 {
                if last == 0.0 {
                    first = dx;
                } else if dx.signum() != last.signum() {
                    direction_changes += 1;
                }
                last = dx;
            }
        }
        direction_changes + i32::from(last.signum() != first.signum()) <= 2
    }

    fn clip_ears(&mut self, mut emit: impl FnMut([u32; 3])) {
        let n = self.flat.len() as u32;
        self.next = (1..n).chain([0]).collect();
        self.previous = [n - 1].into_iter().chain(0..n - 1).collect();
        self.reflex = (0..n).filter(|&i| self.corner_turn(i) <= 0.0).collect();
        let mut left = n;
        let mut at = 0;
        let mut since_last_ear = 0;
        while left > 3 {
            let give_up = since_last_ear >= left;
            if self.is_ear(at) || give_up {
                let (before, after) = (self.previous[at as usize], self.next[at as usize]);
                emit([before, at, after]);
                self.next[before as usize] = after;
                self.previous[after as usize] = before;
                self.reflex.retain(|&i| i != at);
                for corner in [before, after] {
                    if self.corner_turn(corner) > 0.0 {
                        self.reflex.retain(|&i| i != corner);
                    } else if !self.reflex.contains(&corner) {
                        self.reflex.push(corner);
                    }
                }
                left -= 1;
                since_last_ear = 0;
                at = after;
            } else {
                since_last_ear += 1;
                at = self.next[at as usize];
            }
        }
        emit([self.previous[at as usize], at, self.next[at as usize]]);
    }

    fn corner_turn(&self, corner: u32) -> f64 {
        self.turn(self.previous[corner as usize], corner, self.next[corner as usize])
    }

    /// Convex, and no other corner inside or on its diagonal. Corners at the same place as one of the ear's own (a
    /// bridge's two sides) do not block it unless their neighbours reach inside.
    fn is_ear(&self, at: u32) -> bool {
        let (a, c) = (self.previous[at as usize], self.next[at as usize]);
        if self.turn(a, at, c) <= 0.0 {
            return false;
        }
        let own = [a, at, c].map(|i| self.flat[i as usize]);
        !self.reflex.iter().any(|&other| {
            if [a, at, c].contains(&other) {
                return false;
            }
            let place = self.flat[other as usize];
            if own.contains(&place) {
                return [self.previous[other as usize], self.next[other as usize]]
                    .iter()
                    .any(|&neighbour| self.strictly_inside(neighbour, a, at, c));
            }
            self.turn(a, at, other) >= 0.0 && self.turn(at, c, other) >= 0.0 && self.turn(c, a, other) >= 0.0
        })
    }

    fn strictly_inside(&self, p: u32, a: u32, b: u32, c: u32) -> bool {
        self.turn(a, b, p) > 0.0 && self.turn(b, c, p) > 0.0 && self.turn(c, a, p) > 0.0
    }

    fn slice_large(&mut self, mut emit: impl FnMut([u32; 3])) {
        let mut indices: Vec<u32> = Vec::new();
        earcut::Earcut::new().earcut(self.flat.iter().map(|p| p.to_array()), &[], &mut indices);
        let n = self.flat.len() as u32;
        let mut used = vec![false; self.flat.len()];
        indices.iter().for_each(|&i| used[i as usize] = true);
        let mut emitted = 0;
        for triangle in indices.chunks_exact(3) {
            let [a, b, c] = [triangle[0], triangle[1], triangle[2]];
            emit(if self.turn(a, b, c) >= 0.0 { [a, b, c] } else { [a, c, b] });
            emitted += 1;
        }
        let mut before = (0..n).rev().find(|&i| used[i as usize]).unwrap_or(0);
        for corner in 0..n {
            if used[corner as usize] {
                before = corner;
            } else if emitted < n - 2 {
                let after = (corner + 1..n).chain(0..corner).find(|&i| used[i as usize]).unwrap_or(before);
                emit([before, corner, after]);
                before = corner;
                emitted += 1;
            }
        }
        // A polygon that crosses itself may leave corners no triangle can reach: they repeat without area.
        (emitted..n - 2).for_each(|_| emit([0, 0, 0]));
    }
}

fn coord(p: DVec2) -> robust::Coord<f64> {
    robust::Coord { x: p.x, y: p.y }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(points: &[[f64; 3]]) -> (Vec<[u32; 3]>, f64) {
        let mut cutter = Cutter::default();
        cutter.load(points.iter().map(|&p| DVec3::from_array(p)));
        let mut triangles = Vec::new();
        cutter.cut(|t| triangles.push(t));
        let area = triangles
            .iter()
            .map(|t| {
                let [a, b, c] = t.map(|i| DVec3::from_array(points[i as usize]));
                (b - a).cross(c - a).length() / 2.0
            })
            .sum();
        (triangles, area)
    }

    #[test]
    fn a_convex_polygon_is_fanned_from_its_first_corner() {
        let (triangles, area) = cut(&[[0., 0., 0.], [2., 0., 0.], [3., 1., 0.], [2., 2., 0.], [0., 2., 0.]]);
        assert_eq!(triangles, [[0, 1, 2], [0, 2, 3], [0, 3, 4]]);
        assert!((area - 5.0).abs() < 1e-12);
    }

    #[test]
    fn a_concave_polygon_keeps_its_area_in_any_plane() {
        let l_shape = [[0., 0.], [3., 0.], [3., 1.], [1., 1.], [1., 3.], [0., 3.]];
        for place in [
            |p: [f64; 2]| [p[0], p[1], 0.5 * p[0] - 0.25 * p[1]],
            |p: [f64; 2]| [7.0, p[0], p[1]],
            |p: [f64; 2]| [p[0], 7.0, p[1]],
            |p: [f64; 2]| [-p[0], p[1], 7.0],
        ] {
            for turn in 0..6 {
                let mut points: Vec<_> = l_shape.iter().map(|&p| place(p)).collect();
                points.rotate_left(turn);
                let (triangles, area) = cut(&points);
                let flat = DVec3::from_array(place([1., 0.])) - DVec3::from_array(place([0., 0.]));
                let up = DVec3::from_array(place([0., 1.])) - DVec3::from_array(place([0., 0.]));
                assert_eq!(triangles.len(), 4);
                assert!((area - 5.0 * flat.cross(up).length()).abs() < 1e-12, "{turn}: {area}");
            }
        }
    }

    #[test]
    fn a_hole_joined_by_a_bridge_stays_a_hole() {
        // A 4 x 4 wall with a 2 x 2 window, the bridge from (0,0) to (1,1).
        let wall = [[0., 0.], [4., 0.], [4., 4.], [0., 4.], [0., 0.], [1., 1.], [1., 3.], [3., 3.], [3., 1.], [1., 1.]];
        for turn in 0..wall.len() {
            let mut points: Vec<_> = wall.iter().map(|p| [p[0], p[1], 0.0]).collect();
            points.rotate_left(turn);
            let (triangles, area) = cut(&points);
            assert_eq!(triangles.len(), 8);
            assert!((area - 12.0).abs() < 1e-12, "{turn}: {area}");
        }
    }

    #[test]
    fn a_star_polygon_with_a_thousand_corners_gives_all_its_triangles() {
        let n = 1000;
        let points: Vec<[f64; 3]> = (0..n)
            .map(|i| {
                let (s, c) = (std::f64::consts::TAU * f64::from(i) / f64::from(n)).sin_cos();
                let r = if i % 2 == 0 { 2.0 } else { 1.0 };
                [r * c, r * s, 0.0]
            })
            .collect();
        let exact = 1000.0 * 0.5 * 2.0 * (std::f64::consts::TAU / 1000.0).sin();
        let (triangles, area) = cut(&points);
        assert_eq!(triangles.len(), 998);
        assert!((area - exact).abs() < 1e-9, "{area} {exact}");
    }

    #[test]
    fn a_face_without_area_still_has_its_triangles() {
        assert_eq!(cut(&[[1., 1., 1.]; 5]).0.len(), 3);
        assert_eq!(cut(&[[0., 0., 0.], [1., 0., 0.], [2., 0., 0.], [3., 0., 0.]]).0.len(), 2);
    }
}
