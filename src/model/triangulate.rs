//! Cuts n-gons into n - 2 triangles.
//!
//! A polygon that is convex in the plane of its Newell normal is fanned from its first corner, unless that gives flat
//! triangles (corners in line, see [`Document::flat_heights`]) which another cut avoids. Any other is cut in that
//! plane by ear clipping with exact orientation tests (Meisters 1975; Shewchuk 1997 for the predicate). Only reflex corners
//! can lie in an ear; a grid of cells holds them, so that an ear is tested against those near it. Holes joined by a
//! bridge (one edge there and back) are cut as they are. A face without any area is fanned.
//!
//! No flat ears where there is a choice: an ear is first searched among those that are not flat and leave a polygon
//! with three bent corners, and so one that is not flat. A convex polygon always has one: it has at least three bent
//! corners, each is an ear, and only a corner between two others of exactly three leaves a flat polygon, when all the
//! rest lie in line between those two. Where none is found any ear is taken. Cost: linear in corners for convex faces;
//! for others about n * √(reflex corners) where ears are found quickly, as on combs, stars and usual outlines.
//! Searching for ears that are not flat adds at most [`LOOKS_PER_CORNER`] tests for each corner. A face that takes more
//! than [`Cutter::effort`] intersects itself many times: the rest of it is cut without checks, and the face is
//! reported.
//!
//! The effort is a multiple of n √n, and a w-th of that where the outline turns around w times. Such faces are found in the
//! model, not in the text, so that links with the model inside need not hold them.

use super::Document;
use crate::util::three;
use glam::{DVec2, DVec3};
use std::cell::Cell;

/// Reflex corners a cell of the grid holds on average: with fewer, going through cells costs more than through corners.
const REFLEX_PER_CELL: usize = 4;
/// Most cells along a side of the grid; a million corners still fill it.
const CELLS_MAX: usize = 512;
/// Height over the longest edge up to which a triangle is flat in any file: rounding of doubles.
const ROUNDING: f64 = 1e-12;
/// Turns up to which a corner is straight, rad: rounding of the projection.
const STRAIGHT: f64 = 1e-9;
/// Corners that are bent in a polygon that is not flat.
const BENT_LEAST: u32 = 3;
/// Corners skipped because of flat ears, for each corner of the polygon, before any ear is taken.
const LOOKS_PER_CORNER: u32 = 8;
/// Effort of a polygon, in corners and cells looked at, before the rest of it is cut without checks: some, and so many
/// for each n √n of its n corners; outlines that do not cross themselves take a quarter of it at most. One that turns
/// around w times, and so crosses itself w - 1 times at least, gets a w-th. Then the effort of all: a second.
const EFFORT_LEAST: u64 = 4096;
const EFFORT_PER_CORNER: u64 = 128;
const EFFORT_MAX: u64 = 120_000_000;
/// Ends a list of corners.
const NONE: u32 = u32::MAX;

/// Faces cut into triangles.
pub(super) struct Cut {
    /// Corner indices.
    pub triangles: Vec<[u32; 3]>,
    /// Of each its face; empty when every face is a triangle.
    pub faces: Vec<u32>,
    /// Faces that took too much effort and were cut without checks.
    pub tangled: Vec<u32>,
}

pub(super) fn triangulate(document: &Document) -> Cut {
    let count = document.corners.len() - 2 * document.face_count();
    let mut triangles = Vec::with_capacity(count);
    let only_triangles = document.corners.len() == 3 * document.face_count();
    let mut faces = Vec::with_capacity(if only_triangles { 0 } else { count });
    let mut tangled = Vec::new();
    let mut cutter = Cutter { flat_height: document.flat_heights()[0], ..Cutter::default() };
    for face in 0..document.face_count() {
        let start = document.face_starts[face];
        let corners = document.face(face);
        if let [_, _, _] = corners {
            triangles.push([start, start + 1, start + 2]);
        } else {
            cutter.load(corners.iter().map(|c| DVec3::from_array(document.positions[c.position.0 as usize])));
            if !cutter.cut(|local| triangles.push(local.map(|corner| start + corner))) {
                tangled.push(face as u32);
            }
        }
        if !only_triangles {
            faces.resize(triangles.len(), face as u32);
        }
    }
    Cut { triangles, faces, tangled }
}

/// One polygon at a time, its buffers kept between polygons.
#[derive(Default)]
struct Cutter {
    /// Height up to which a triangle is flat, model units.
    flat_height: f64,
    points: Vec<DVec3>,
    flat: Vec<DVec2>,
    next: Vec<u32>,
    previous: Vec<u32>,
    reflex: Cells,
    ears: Vec<[u32; 3]>,
    /// Effort of all polygons so far.
    spent: u64,
}

/// Reflex corners by where they lie: a list through the corners for each cell of a square grid.
#[derive(Default)]
struct Cells {
    low: DVec2,
    per_unit: DVec2,
    side: usize,
    /// Of each cell, the first corner in it.
    first: Vec<u32>,
    /// Of each corner, the next one in its cell.
    next: Vec<u32>,
    /// Of each corner, whether it is in a list.
    listed: Vec<bool>,
    /// How many corners and cells were looked at.
    looked: Cell<u64>,
}

impl Cutter {
    fn load(&mut self, points: impl Iterator<Item = DVec3>) {
        self.points.clear();
        self.points.extend(points);
    }

    /// False if it took too much effort and was finished without checks.
    fn cut(&mut self, mut emit: impl FnMut([u32; 3])) -> bool {
        let corners = self.points.len() as u32;
        let has_area = self.flatten();
        let is_fan = !has_area || self.is_convex();
        let mut flat_in_fan = 0;
        for corner in 1..if is_fan && has_area { corners - 1 } else { 1 } {
            flat_in_fan += u32::from(self.is_flat([0, corner, corner + 1]));
        }
        let (mut flat_ears, mut with_care) = (0, true);
        if !is_fan || flat_in_fan > 0 {
            with_care = self.clip_ears();
            for &ear in &self.ears {
                flat_ears += u32::from(self.is_flat(ear));
            }
        }
        for corner in 1..corners - 1 {
            let is_ear = !is_fan || flat_ears < flat_in_fan;
            emit(if is_ear { self.ears[corner as usize - 1] } else { [0, corner, corner + 1] });
        }
        with_care
    }

    /// Most effort of the polygon.
    fn effort(&self) -> u64 {
        let corners = self.flat.len() as u64;
        let of_all = EFFORT_PER_CORNER * corners * corners.isqrt() / self.turns_least();
        (EFFORT_LEAST + of_all).min(EFFORT_MAX.saturating_sub(self.spent))
    }

    /// How often the outline turns around at least, either way round; 1 for any that does not cross itself (Hopf 1935).
    fn turns_least(&self) -> u64 {
        let n = self.flat.len();
        let edges = (0..n).map(|i| self.flat[(i + 1) % n] - self.flat[i]).filter(|edge| *edge != DVec2::ZERO);
        // If an edge runs back on the one before it, its turn is undefined, and so is the sum.
        let (mut turns, mut unknown) = (0i64, 0);
        let mut last = edges.clone().next_back().unwrap_or(DVec2::X);
        for edge in edges {
            let (cross, size) = (last.perp_dot(edge), last.length() * edge.length());
            if cross.abs() <= STRAIGHT * size {
                unknown += i64::from(last.dot(edge) < 0.0);
            }
            // Through the direction of +x, left and right.
            turns += i64::from(cross > 0.0 && last.y < 0.0 && edge.y >= 0.0);
            turns -= i64::from(cross < 0.0 && last.y >= 0.0 && edge.y < 0.0);
            last = edge;
        }
        (turns.abs() - unknown).max(1) as u64
    }

    /// Is its least height next to nothing?
    fn is_flat(&self, corners: [u32; 3]) -> bool {
        let [a, b, c] = three::each(corners, |corner| self.points[corner as usize]);
        let longest = (b - a).length_squared().max((c - a).length_squared()).max((c - b).length_squared());
        let height_squared = (self.flat_height * self.flat_height).max(ROUNDING * ROUNDING * longest);
        (b - a).cross(c - a).length_squared() <= height_squared * longest
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
            if (b - a).perp_dot(c - b) < -STRAIGHT * size {
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

    /// False if it took too much effort to search for ears to the end.
    fn clip_ears(&mut self) -> bool {
        let n = self.flat.len() as u32;
        self.ears.clear();
        self.next = (1..n).chain([0]).collect();
        self.previous = [n - 1].into_iter().chain(0..n - 1).collect();
        let reflex: Vec<u32> = (0..n).filter(|&i| self.corner_turn(i) <= 0.0).collect();
        self.reflex.clear(&self.flat, reflex.len());
        reflex.into_iter().for_each(|corner| self.reflex.insert(&self.flat, corner));
        let mut bent = (0..n).filter(|&corner| self.is_bent(corner)).count() as u32;
        let mut looks_left = LOOKS_PER_CORNER.saturating_mul(n);
        let mut left = n;
        let mut at = 0;
        let mut since_last_ear = 0;
        let mut choosy = true;
        let effort = self.effort();
        self.reflex.looked.set(0);
        while left > 3 {
            let is_over = self.reflex.looked.get() > effort;
            let give_up = is_over || since_last_ear >= left && !choosy;
            if since_last_ear >= left && choosy {
                (choosy, since_last_ear) = (false, 0);
                looks_left = looks_left.saturating_sub(left);
            }
            let (before, after) = (self.previous[at as usize], self.next[at as usize]);
            let bent_after = self.bent_without(at, bent);
            self.reflex.look();
            let chosen = !choosy || (bent_after >= BENT_LEAST && self.is_bent(at));
            if give_up || (chosen && self.is_ear(at)) {
                self.ears.push([before, at, after]);
                bent = bent_after;
                self.next[before as usize] = after;
                self.previous[after as usize] = before;
                self.reflex.remove(&self.flat, at);
                for corner in [before, after] {
                    if self.corner_turn(corner) > 0.0 {
                        self.reflex.remove(&self.flat, corner);
                    } else {
                        self.reflex.insert(&self.flat, corner);
                    }
                }
                left -= 1;
                since_last_ear = 0;
                choosy = looks_left > 0;
            } else {
                since_last_ear += 1;
                looks_left = looks_left.saturating_sub(u32::from(!chosen));
            }
            at = after;
        }
        self.ears.push([self.previous[at as usize], at, self.next[at as usize]]);
        self.spent += self.reflex.looked.get();
        self.reflex.looked.get() <= effort
    }

    /// Is the triangle of a corner and its neighbours not flat?
    fn is_bent(&self, corner: u32) -> bool {
        !self.is_flat([self.previous[corner as usize], corner, self.next[corner as usize]])
    }

    /// How many corners are bent once a corner is gone, of `bent` before.
    fn bent_without(&self, at: u32, bent: u32) -> u32 {
        let (before, after) = (self.previous[at as usize], self.next[at as usize]);
        let (outer_before, outer_after) = (self.previous[before as usize], self.next[after as usize]);
        let come = u32::from(!self.is_flat([outer_before, before, after]))
            + u32::from(!self.is_flat([before, after, outer_after]));
        let gone = u32::from(self.is_bent(before)) + u32::from(self.is_bent(at)) + u32::from(self.is_bent(after));
        (bent + come).saturating_sub(gone)
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
        !self.reflex.any_near(own, |other| {
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
}

impl Cells {
    /// Empty, for corners of this polygon of which so many are reflex.
    fn clear(&mut self, flat: &[DVec2], reflex: usize) {
        let (low, high) =
            flat.iter().fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), &p| (low.min(p), high.max(p)));
        self.side = (reflex / REFLEX_PER_CELL).isqrt().clamp(1, CELLS_MAX);
        self.low = low;
        self.per_unit = self.side as f64 / (high - low).max(DVec2::splat(f64::MIN_POSITIVE));
        self.first.clear();
        self.first.resize(self.side * self.side, NONE);
        self.next.clear();
        self.next.resize(flat.len(), NONE);
        self.listed.clear();
        self.listed.resize(flat.len(), false);
    }

    fn look(&self) {
        self.looked.set(self.looked.get() + 1);
    }

    /// Column and row. The same rounding for all keeps the order: what lies between two places lies between their cells.
    fn cell(&self, p: DVec2) -> [usize; 2] {
        ((p - self.low) * self.per_unit).to_array().map(|x| (x as usize).min(self.side - 1))
    }

    fn index(&self, p: DVec2) -> usize {
        let [x, y] = self.cell(p);
        y * self.side + x
    }

    fn insert(&mut self, flat: &[DVec2], corner: u32) {
        if !std::mem::replace(&mut self.listed[corner as usize], true) {
            let cell = self.index(flat[corner as usize]);
            self.next[corner as usize] = std::mem::replace(&mut self.first[cell], corner);
        }
    }

    fn remove(&mut self, flat: &[DVec2], corner: u32) {
        if !std::mem::replace(&mut self.listed[corner as usize], false) {
            return;
        }
        let after = self.next[corner as usize];
        let cell = self.index(flat[corner as usize]);
        let mut at = self.first[cell];
        if at == corner {
            self.first[cell] = after;
            return;
        }
        while self.next[at as usize] != corner {
            at = self.next[at as usize];
        }
        self.next[at as usize] = after;
    }

    /// Does any of the corners in the cells that the box of these places touches pass?
    fn any_near(&self, places: [DVec2; 3], mut passes: impl FnMut(u32) -> bool) -> bool {
        let [a, b, c] = places;
        let ([x0, y0], [x1, y1]) = (self.cell(a.min(b).min(c)), self.cell(a.max(b).max(c)));
        for y in y0..=y1 {
            for cell in y * self.side + x0..=y * self.side + x1 {
                self.look();
                let mut at = self.first[cell];
                while at != NONE {
                    self.look();
                    if passes(at) {
                        return true;
                    }
                    at = self.next[at as usize];
                }
            }
        }
        false
    }
}

fn coord(p: DVec2) -> robust::Coord<f64> {
    robust::Coord { x: p.x, y: p.y }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(points: &[[f64; 3]]) -> (Vec<[u32; 3]>, f64) {
        cut_where_flat(points, 0.0)
    }

    fn cut_where_flat(points: &[[f64; 3]], flat_height: f64) -> (Vec<[u32; 3]>, f64) {
        let mut cutter = Cutter { flat_height, ..Cutter::default() };
        cutter.load(points.iter().map(|&p| DVec3::from_array(p)));
        let mut triangles = Vec::new();
        assert!(cutter.cut(|t| triangles.push(t)), "within the effort");
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
    fn a_self_intersecting_face_is_triangulated_with_bounded_effort() {
        let mut cutter = Cutter::default();
        let mut state = 1u64;
        let mut random = || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64 / f64::from(1u32 << 31)
        };
        let points: Vec<DVec3> = (0..4000).map(|_| DVec3::new(random(), random(), 0.0)).collect();
        // And one that turns around as often as it has thirds of its corners.
        let turn = std::f64::consts::TAU * 1333.0 / 4000.0;
        let star: Vec<DVec3> = (0..4000).map(|i| DVec2::from_angle(turn * f64::from(i)).extend(0.0)).collect();
        for (points, times) in [(points, 1..100), (star, 1333..1334)] {
            cutter.load(points.into_iter());
            cutter.spent = 0;
            let mut triangles = 0;
            assert!(!cutter.cut(|_| triangles += 1));
            assert_eq!(triangles, 3998);
            assert!(times.contains(&cutter.turns_least()), "{}", cutter.turns_least());
            // Then each corner is tested at most once more.
            let most = EFFORT_LEAST + EFFORT_PER_CORNER * 4000 * 63 / cutter.turns_least();
            assert!((most..most + 8000).contains(&cutter.spent), "{}", cutter.spent);
        }
    }

    #[test]
    fn a_simple_outline_turns_once() {
        let mut cutter = Cutter::default();
        let spiral = (0..400).map(|i| DVec2::from_angle(f64::from(i) / 10.0) * f64::from(i + 1));
        let back = (0..400).rev().map(|i| DVec2::from_angle(f64::from(i) / 10.0) * (f64::from(i) + 4.0));
        let flat = |points: &[[f64; 2]]| points.iter().map(|&p| DVec2::from_array(p)).collect::<Vec<_>>();
        let there_and_back = flat(&[[0., 0.], [1., 0.], [1., 1.], [2., 2.], [1., 1.], [1., 1.], [0., 1.], [0., 3.]]);
        let comb = star(1000).iter().map(|p| DVec2::new(p[0], p[1])).collect();
        for points in [spiral.chain(back).collect(), there_and_back, comb] {
            for turn in 0..8 {
                cutter.flat = points.iter().map(|p| DVec2::from_angle(f64::from(turn)).rotate(*p)).collect();
                assert_eq!(cutter.turns_least(), 1);
                cutter.flat.reverse();
                assert_eq!(cutter.turns_least(), 1);
            }
        }
    }

    #[test]
    fn a_convex_polygon_is_fanned_from_its_first_corner() {
        let (triangles, area) = cut(&[[0., 0., 0.], [2., 0., 0.], [3., 1., 0.], [2., 2., 0.], [0., 2., 0.]]);
        assert_eq!(triangles, [[0, 1, 2], [0, 2, 3], [0, 3, 4]]);
        assert!((area - 5.0).abs() < 1e-12);
    }

    /// Least height of a triangle.
    fn height(points: &[[f64; 3]], triangle: [u32; 3]) -> f64 {
        let [a, b, c] = triangle.map(|corner| DVec3::from_array(points[corner as usize]));
        (b - a).cross(c - a).length() / (b - a).length().max((c - b).length()).max((a - c).length())
    }

    /// Corners of a convex polygon in a tilted plane, with so many more in line on each side, rounded to some decimals.
    fn with_corners_in_line(corners: &[[f64; 2]], in_line: &[u32], decimals: i32) -> Vec<[f64; 3]> {
        let mut points = Vec::new();
        for (side, &[x, y]) in corners.iter().enumerate() {
            let [to_x, to_y] = corners[(side + 1) % corners.len()];
            for step in 0..=in_line[side] {
                let along = f64::from(step) / f64::from(in_line[side] + 1);
                let (x, y) = (x + (to_x - x) * along, y + (to_y - y) * along);
                let lattice = 10f64.powi(decimals);
                points.push(
                    [0.8 * x - 0.1 * y, y + 0.3 * x, 0.5 * x + 0.7 * y].map(|at| (at * lattice).round() / lattice),
                );
            }
        }
        points
    }

    #[test]
    fn collinear_corners_give_no_flat_triangle_where_avoidable() {
        let square: &[[f64; 2]] = &[[0.13, 0.07], [1.21, 0.11], [1.17, 1.31], [0.05, 1.24]];
        let triangle = &square[..3];
        for (corners, in_line) in [
            (square, [1, 0, 0, 0]),
            (square, [1, 1, 1, 1]),
            (square, [3, 3, 3, 3]),
            (square, [0, 0, 0, 30]),
            (square, [2, 0, 5, 1]),
            (triangle, [1, 1, 1, 0]),
            (triangle, [0, 40, 0, 0]),
            (triangle, [7, 7, 7, 0]),
            (triangle, [4, 9, 0, 0]),
        ] {
            for decimals in [4, 5, 6, 15] {
                let mut points = with_corners_in_line(corners, &in_line, decimals);
                for turn in 0..points.len() {
                    let flat_height = 2.0 * 0.1f64.powi(decimals);
                    let (triangles, area) = cut_where_flat(&points, flat_height);
                    assert_eq!(triangles.len(), points.len() - 2);
                    let least = triangles.iter().map(|&t| height(&points, t)).fold(f64::INFINITY, f64::min);
                    assert!(least > flat_height, "{in_line:?}, {decimals} decimals, turned by {turn}: {least}");
                    let whole = cut_where_flat(&with_corners_in_line(corners, &[0; 4], 15), 0.0).1;
                    assert!((area - whole).abs() < 0.1f64.powi(decimals - 1), "{area} instead of {whole}");
                    points.rotate_left(1);
                }
            }
        }
    }

    #[test]
    fn a_quad_is_cut_along_its_other_diagonal_only_where_that_avoids_a_flat_triangle() {
        let flat = [[0., 0., 0.], [1., 0.00001, 0.], [2., 0., 0.], [1., 2., 0.]];
        assert_eq!(cut_where_flat(&flat, 2e-4).0, [[3, 0, 1], [3, 1, 2]]);
        // Corners 0 and 2 next to one another: either diagonal leaves flat triangles, or none of them is.
        let thin = [[0., 0., 0.], [1., 0., 0.], [1., 0.0001, 0.], [0., 0.0001, 0.]];
        assert_eq!(cut_where_flat(&thin, 2e-4).0, [[0, 1, 2], [0, 2, 3]]);
        let even = [[0., 0., 0.], [1., 0., 0.], [1., 1., 0.], [0., 1., 0.]];
        assert_eq!(cut_where_flat(&even, 2e-4).0, [[0, 1, 2], [0, 2, 3]]);
    }

    #[test]
    fn a_polygon_with_thousands_of_collinear_corners_is_triangulated_in_time() {
        let square = [[0.0, 0.0], [1000.0, 0.0], [1000.0, 1000.0], [0.0, 1000.0]];
        let corners = |side: usize, in_line: usize| -> Vec<[f64; 3]> {
            let [x, y]: [f64; 2] = square[side];
            let [to_x, to_y] = square[(side + 1) % 4];
            let at = |step: usize| step as f64 / (in_line + 1) as f64;
            (0..=in_line).map(|step| [x + (to_x - x) * at(step), y + (to_y - y) * at(step), 0.0]).collect()
        };
        for in_line in [[5_000; 4], [20_000, 0, 0, 0], [0, 10_000, 0, 10_000]] {
            let points: Vec<_> = (0..4).flat_map(|side| corners(side, in_line[side])).collect();
            cuts_in_time(&points);
        }
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

    /// Corners on two circles in turn, an even number of them, counter-clockwise.
    fn star(corners: u32) -> Vec<[f64; 3]> {
        (0..corners)
            .map(|i| {
                let (s, c) = (std::f64::consts::TAU * f64::from(i) / f64::from(corners)).sin_cos();
                let r = if i % 2 == 0 { 2.0 } else { 1.0 };
                [r * c, r * s, 0.0]
            })
            .collect()
    }

    #[test]
    fn a_star_polygon_with_a_thousand_corners_gives_all_its_triangles() {
        let points = star(1000);
        let exact = 1000.0 * 0.5 * 2.0 * (std::f64::consts::TAU / 1000.0).sin();
        let (triangles, area) = cut(&points);
        assert_eq!(triangles.len(), 998);
        assert!((area - exact).abs() < 1e-9, "{area} {exact}");
    }

    /// Area of a polygon (shoelace).
    fn shoelace(points: &[[f64; 3]]) -> f64 {
        let next = points.iter().cycle().skip(1);
        points.iter().zip(next).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>() / 2.0
    }

    fn cuts_in_time(points: &[[f64; 3]]) {
        let start = std::time::Instant::now();
        let (triangles, area) = cut(points);
        assert_eq!(triangles.len(), points.len() - 2);
        assert!((area / shoelace(points) - 1.0).abs() < 1e-9, "{area} {}", shoelace(points));
        // Testing each ear against each reflex corner would take minutes.
        assert!(start.elapsed().as_secs() < 20, "{:?}", start.elapsed());
    }

    #[test]
    fn a_comb_of_a_hundred_thousand_corners_is_triangulated_in_time() {
        let teeth = 50_000;
        let mut points = vec![[0., -1., 0.], [f64::from(teeth), -1., 0.]];
        points.extend((0..2 * teeth - 1).rev().map(|i| [0.5 + 0.5 * f64::from(i), f64::from(i % 2) * 9.0, 0.0]));
        cuts_in_time(&points);
    }

    #[test]
    fn a_star_of_a_hundred_thousand_corners_is_triangulated_in_time() {
        cuts_in_time(&star(100_000));
    }

    #[test]
    fn a_wall_with_thousands_of_bridged_windows_keeps_them() {
        // Windows in a row, each each joined to the lower edge by a bridge.
        let mut points = vec![];
        for window in 0..5000 {
            let x = f64::from(window) * 4.0;
            let foot = [x + 1.0, 0.0, 0.0];
            let hole = [[1., 1.], [1., 3.], [3., 3.], [3., 1.], [1., 1.]].map(|p| [x + p[0], p[1], 0.0]);
            points.push([x, 0.0, 0.0]);
            points.push(foot);
            points.extend(hole);
            points.push(foot);
        }
        points.extend([[20_000., 0., 0.], [20_000., 4., 0.], [0., 4., 0.]]);
        assert_eq!(shoelace(&points), 5000.0 * 12.0);
        cuts_in_time(&points);
    }

    #[test]
    fn a_face_without_area_still_has_its_triangles() {
        assert_eq!(cut(&[[1., 1., 1.]; 5]).0.len(), 3);
        assert_eq!(cut(&[[0., 0., 0.], [1., 0., 0.], [2., 0., 0.], [3., 0., 0.]]).0.len(), 2);
    }
}
