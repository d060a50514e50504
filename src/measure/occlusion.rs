//! Is there anything of the model along a ray?
//!
//! Triangles are sorted along a Morton curve (G. M. Morton 1966) by the middles of their boxes, so that neighbours in the
//! list are neighbours in space whatever the order of the file; runs of [`RUN`] go into an R-tree (crate `rstar`, bulk
//! loaded). Boxes by slabs (Kay & Kajiya 1986), triangles by Möller & Trumbore 1997. Both sides of a triangle stop a ray.
//!
//! The same answers natively and in the browser: doubles, and only + - * / and square roots, which IEEE 754 rounds the
//! same everywhere. Triangles reach [`EDGE_SLACK`] beyond their edges, so that no ray slips between two neighbours;
//! triangles seen exactly edge-on stop nothing. Cost: n log n once, some microseconds a ray; [`Occluders::effort`] counts.

use crate::model::Model;
use glam::DVec3;
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree, RTreeObject, SelectionFunction};
use std::cell::Cell;

/// Triangles in one box: fewer make the tree slow to build, more make rays slow.
const RUN: usize = 8;
/// Bits of the Morton code along each axis.
const CODE_BITS: u32 = 21;
/// How far a triangle reaches beyond its edges, as a share of its size: well over rounding, well under anything drawn.
const EDGE_SLACK: f64 = 1e-9;
/// A ray lies in a triangle's plane when the triple product of its direction and two sides is at most this share of the
/// sides' lengths: the sign of what is smaller is rounding.
const EDGE_ON: f64 = 1e-12;
/// Stands for 1/0 without ever making a NaN.
const VERY_STEEP: f64 = 1e300;

pub(super) struct Occluders<'a> {
    model: &'a Model,
    order: Vec<u32>,
    tree: RTree<GeomWithData<Rectangle<[f64; 3]>, u32>>,
    effort: Cell<u64>,
}

impl<'a> Occluders<'a> {
    pub(super) fn new(model: &'a Model) -> Self {
        let order = along_the_curve(model);
        let boxes = order.chunks(RUN).enumerate().map(|(number, run)| {
            let points = run.iter().flat_map(|&triangle| model.positions(triangle as usize));
            let (low, high) = points.fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(l, h), p| (l.min(p), h.max(p)));
            GeomWithData::new(Rectangle::from_corners(low.to_array(), high.to_array()), number as u32)
        });
        let tree = RTree::bulk_load(boxes.collect());
        Self { model, order, tree, effort: Cell::new(0) }
    }

    /// Something lies ahead of `origin`. `direction` need not be of unit length, but not zero.
    pub(super) fn blocked(&self, origin: DVec3, direction: DVec3) -> bool {
        let ray = Ray::new(origin, direction, &self.effort);
        self.tree.locate_with_selection_function(&ray).any(|found| {
            let first = found.data as usize * RUN;
            let run = &self.order[first..(first + RUN).min(self.order.len())];
            self.effort.set(self.effort.get() + run.len() as u64);
            run.iter().any(|&triangle| meets(self.model.positions(triangle as usize), origin, direction))
        })
    }

    /// Boxes and triangles looked at so far.
    pub(super) fn effort(&self) -> u64 {
        self.effort.get()
    }
}

/// All triangles in the order of the curve.
fn along_the_curve(model: &Model) -> Vec<u32> {
    let (low, high) = model.bounds().unwrap_or_default();
    let cells = f64::from(1u32 << CODE_BITS);
    // A cube of cells; a model without extent has them all in one.
    let scale = cells / (2.0 * (high - low).max_element()).max(f64::MIN_POSITIVE);
    let mut coded: Vec<(u64, u32)> = (0..model.triangle_count())
        .map(|triangle| {
            let [a, b, c] = model.positions(triangle);
            // Twice the middle of the box.
            let middle = a.min(b).min(c) + a.max(b).max(c) - 2.0 * low;
            let cell = (middle * scale).to_array().map(|x| spread((x as u64).min((1 << CODE_BITS) - 1)));
            (cell[0] | cell[1] << 1 | cell[2] << 2, triangle as u32)
        })
        .collect();
    coded.sort_unstable();
    coded.into_iter().map(|(_, triangle)| triangle).collect()
}

/// Puts two zeros between the bits of a number below 2^21.
fn spread(x: u64) -> u64 {
    let x = (x | x << 32) & 0x001F_0000_0000_FFFF;
    let x = (x | x << 16) & 0x001F_0000_FF00_00FF;
    let x = (x | x << 8) & 0x100F_00F0_0F00_F00F;
    let x = (x | x << 4) & 0x10C3_0C30_C30C_30C3;
    (x | x << 2) & 0x1249_2492_4924_9249
}

struct Ray<'a> {
    origin: DVec3,
    inverse: DVec3,
    effort: &'a Cell<u64>,
}

impl<'a> Ray<'a> {
    fn new(origin: DVec3, direction: DVec3, effort: &'a Cell<u64>) -> Self {
        let inverse = direction.to_array().map(|x| if x.abs() < 1.0 / VERY_STEEP { VERY_STEEP } else { 1.0 / x });
        Self { origin, inverse: DVec3::from_array(inverse), effort }
    }

    fn passes(&self, envelope: &AABB<[f64; 3]>) -> bool {
        self.effort.set(self.effort.get() + 1);
        let (low, high) = (envelope.lower(), envelope.upper());
        let (mut enter, mut leave) = (0.0, f64::INFINITY);
        for axis in 0..3 {
            let a = (low[axis] - self.origin[axis]) * self.inverse[axis];
            let b = (high[axis] - self.origin[axis]) * self.inverse[axis];
            let (near, far) = if a < b { (a, b) } else { (b, a) };
            enter = if near > enter { near } else { enter };
            leave = if far < leave { far } else { leave };
        }
        // Rounding may not lose a flat box.
        enter <= leave * (1.0 + 4.0 * f64::EPSILON)
    }
}

impl<T: RTreeObject<Envelope = AABB<[f64; 3]>>> SelectionFunction<T> for &Ray<'_> {
    fn should_unpack_parent(&self, envelope: &AABB<[f64; 3]>) -> bool {
        self.passes(envelope)
    }
    fn should_unpack_leaf(&self, leaf: &T) -> bool {
        self.passes(&leaf.envelope())
    }
}

fn meets([a, b, c]: [DVec3; 3], origin: DVec3, direction: DVec3) -> bool {
    let (e1, e2) = (b - a, c - a);
    let p = direction.cross(e2);
    let determinant = e1.dot(p);
    let (size, sign) = (determinant.abs(), determinant.signum());
    let from_a = origin - a;
    let slack = -EDGE_SLACK * size;
    let v = from_a.dot(p) * sign;
    if v < slack || v > size - slack {
        return false;
    }
    let q = from_a.cross(e1);
    let w = direction.dot(q) * sign;
    if w < slack || v + w > size - slack {
        return false;
    }
    let sides = e1.length_squared() * e2.length_squared() * direction.length_squared();
    e2.dot(q) * sign > 0.0 && determinant * determinant > EDGE_ON * EDGE_ON * sides
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn model(text: &str) -> Model {
        Model::new(crate::obj::read(text.as_bytes()).unwrap())
    }

    /// Numbers in 0..1 from a linear congruence (Knuth, MMIX).
    fn noise() -> impl FnMut() -> f64 {
        let mut state = 1u64;
        move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1u64 << 53) as f64
        }
    }

    #[test]
    fn agrees_with_every_triangle_tested_alone() {
        let mut next = noise();
        let mut text = String::new();
        for _ in 0..900 {
            text += &format!("v {} {} {}\n", next(), next() * 3.0, next());
        }
        for face in 0..300 {
            text += &format!("f {} {} {}\n", 3 * face + 1, 3 * face + 2, 3 * face + 3);
        }
        let model = model(&text);
        let occluders = Occluders::new(&model);
        let mut hits = 0;
        for _ in 0..2000 {
            let origin = DVec3::new(next() * 3.0 - 1.0, next() * 5.0 - 1.0, next() * 3.0 - 1.0);
            let direction = DVec3::new(next() - 0.5, next() - 0.5, next() - 0.5);
            let alone = (0..300).any(|triangle| meets(model.positions(triangle), origin, direction));
            assert_eq!(occluders.blocked(origin, direction), alone);
            hits += usize::from(alone);
        }
        assert!((200..1950).contains(&hits), "{hits}");
    }

    #[test]
    fn no_ray_slips_through_an_edge_or_a_corner_between_triangles() {
        let model = model("v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0.5 0.5 0\nf 1 2 5\nf 2 3 5\nf 3 4 5\nf 4 1 5\n");
        let occluders = Occluders::new(&model);
        for step in 1..200 {
            let at = f64::from(step) / 200.0;
            for place in [DVec3::new(at, at, 1.0), DVec3::new(at, 1.0 - at, 1.0)] {
                assert!(occluders.blocked(place, DVec3::NEG_Z), "{place}");
                assert!(!occluders.blocked(place, DVec3::Z), "{place}");
                let slanted = DVec3::new(0.3, -0.1, -1.0);
                assert!(occluders.blocked(place - DVec3::new(0.3, -0.1, 0.0), slanted), "{place}");
            }
        }
        assert!(!occluders.blocked(DVec3::new(-1.0, 0.5, 0.0), DVec3::X), "edge-on");
    }

    #[test]
    fn a_code_interleaves_its_bits() {
        assert_eq!(spread(0b1011), 0b1_000_001_001);
        assert_eq!(spread((1 << CODE_BITS) - 1), 0x1249_2492_4924_9249);
    }
}
