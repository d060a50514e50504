//! Whether a ray hits the model.
//!
//! A tree of boxes: triangles in runs of [`RUN`], runs sorted along a Morton curve (G. M. Morton 1966) by the middles of
//! their boxes, then [`WIDTH`] neighbours after another under one box, up to the root (a linear bounding volume hierarchy,
//! Lauterbach et al. 2009, without its splits). Runs follow the file, where neighbours are mostly neighbours in space;
//! where they are not, triangles are sorted along the curve first. Boxes by slabs (Kay & Kajiya 1986), triangles by Möller
//! & Trumbore 1997; both sides of a triangle stop a ray. Own code, because an
//! R-tree of a million triangles, by a crate, took the browser 2.4 s to build and ask with 129,000 rays; this took 0.4 s for half
//! as many. A box is passed by comparisons alone, a third less time than by minima and maxima, which browsers compile to branches.
//!
//! The same answers natively and in the browser: doubles, and only + - * / and square roots, which IEEE 754 rounds the
//! same everywhere. Triangles reach [`EDGE_SLACK`] beyond their edges, so that no ray slips between two neighbours;
//! triangles seen exactly edge-on stop nothing. Cost: n log n once, some microseconds a ray; long triangles among short
//! ones make rays slower, and [`Occluders::effort`] counts.

use crate::model::Surface;
use crate::util::three;
use glam::DVec3;

/// Triangles in one run: fewer make a larger tree, more make rays slow.
const RUN: usize = 8;
/// Boxes under one box.
const WIDTH: usize = 4;
/// Runs of neighbours have boxes of about half the area of their triangles' boxes together. From this ratio on, the
/// file's order cannot be used.
const SCATTERED: f64 = 4.0;
/// Bits of the Morton code along each axis.
const CODE_BITS: u32 = 21;
/// How far a triangle reaches beyond its edges, as a share of its size: well over rounding, well under any detail.
const EDGE_SLACK: f64 = 1e-9;
/// A ray lies in a triangle's plane when the triple product of its direction and two sides is at most this share of the
/// sides' lengths: the sign of what is smaller is rounding.
const EDGE_ON: f64 = 1e-12;
/// A box is left so much later than computed, as a factor: rounding may not lose a flat one.
const LATE: f64 = 1.0 + 4.0 * f64::EPSILON;
/// Replaces 1/0 without ever giving NaN.
const VERY_STEEP: f64 = 1e300;

#[derive(Clone, Copy)]
struct Bounds {
    low: DVec3,
    high: DVec3,
}

impl Bounds {
    const NONE: Self = Self { low: DVec3::INFINITY, high: DVec3::NEG_INFINITY };

    fn of(points: [DVec3; 3]) -> Self {
        let [a, b, c] = three::each(points, |point| Self { low: point, high: point });
        Self::NONE.and(a).and(b).and(c)
    }

    fn and(self, other: Self) -> Self {
        Self { low: smaller(self.low, other.low), high: -smaller(-self.high, -other.high) }
    }

    /// Twice the middle.
    fn middle(self) -> DVec3 {
        self.low + self.high
    }

    /// Half the area of the box.
    fn half_area(self) -> f64 {
        let size = self.high - self.low;
        size.x * size.y + size.y * size.z + size.z * size.x
    }
}

/// By component; the plain comparison is one instruction where `f64::min`, careful of NaN, is several.
fn smaller(a: DVec3, b: DVec3) -> DVec3 {
    let pick = |a: f64, b: f64| if a < b { a } else { b };
    DVec3::new(pick(a.x, b.x), pick(a.y, b.y), pick(a.z, b.z))
}

pub(super) struct Occluders<'a> {
    surface: &'a Surface,
    /// Triangles in the order of the runs; empty when that is the file's.
    order: Vec<u32>,
    /// Runs in the order of their boxes.
    runs: Vec<u32>,
    /// Boxes from the runs' up to the root's.
    levels: Vec<Vec<Bounds>>,
    effort: u64,
    /// Boxes still to be opened: level and index.
    open: Vec<(u32, u32)>,
}

impl<'a> Occluders<'a> {
    pub(super) fn new(surface: &'a Surface) -> Self {
        let mut order = Vec::new();
        let (mut boxes, scattered) = run_boxes(surface, &order);
        if scattered {
            let count = surface.triangle_count() as u32;
            order =
                along_the_curve(surface, (0..count).map(|triangle| Bounds::of(surface.positions(triangle as usize))));
            boxes = run_boxes(surface, &order).0;
        }
        let runs = along_the_curve(surface, boxes.iter().copied());
        let mut levels = vec![runs.iter().map(|&run| boxes[run as usize]).collect::<Vec<_>>()];
        while let Some(below) = levels.last().filter(|level| level.len() > 1) {
            let above = below.chunks(WIDTH).map(|group| group.iter().copied().fold(Bounds::NONE, Bounds::and));
            levels.push(above.collect());
        }
        Self { surface, order, runs, levels, effort: 0, open: Vec::new() }
    }

    /// Something lies ahead of `origin`. `direction` need not be of unit length, but not zero.
    pub(super) fn blocked(&mut self, origin: DVec3, direction: DVec3) -> bool {
        let ray = Ray::new(origin, direction);
        self.open.clear();
        self.open.push((self.levels.len() as u32, 0));
        while let Some((level, index)) = self.open.pop() {
            if level == 0 {
                self.effort += RUN as u64;
                if self.run_blocks(self.runs[index as usize] as usize, origin, direction) {
                    return true;
                }
                continue;
            }
            let below = &self.levels[level as usize - 1];
            let first = index as usize * WIDTH;
            self.effort += WIDTH as u64;
            for (child, bounds) in below[first..].iter().take(WIDTH).enumerate() {
                if ray.passes(bounds) {
                    self.open.push((level - 1, (first + child) as u32));
                }
            }
        }
        false
    }

    fn run_blocks(&self, run: usize, origin: DVec3, direction: DVec3) -> bool {
        (run * RUN..(run * RUN + RUN).min(self.surface.triangle_count())).any(|at| {
            let triangle = self.order.get(at).map_or(at, |&triangle| triangle as usize);
            meets(self.surface.positions(triangle), origin, direction)
        })
    }

    /// Boxes and triangles looked at so far.
    pub(super) fn effort(&self) -> u64 {
        self.effort
    }
}

/// The box of each run, and whether runs reach much further than their triangles.
fn run_boxes(surface: &Surface, order: &[u32]) -> (Vec<Bounds>, bool) {
    let count = surface.triangle_count();
    let (mut apart, mut together) = (0.0, 0.0);
    let boxes: Vec<Bounds> = (0..count)
        .step_by(RUN)
        .map(|first| {
            let run = (first..(first + RUN).min(count)).map(|at| {
                let bounds = Bounds::of(surface.positions(order.get(at).map_or(at, |&triangle| triangle as usize)));
                apart += bounds.half_area();
                bounds
            });
            let bounds = run.fold(Bounds::NONE, Bounds::and);
            together += bounds.half_area();
            bounds
        })
        .collect();
    (boxes, together > SCATTERED * apart)
}

/// The numbers of the boxes, in the order of the curve.
fn along_the_curve(surface: &Surface, boxes: impl Iterator<Item = Bounds>) -> Vec<u32> {
    let (low, high) = surface.bounds().unwrap_or_default();
    let cells = f64::from(1u32 << CODE_BITS);
    // A cube of cells; a model without extent has them all in one.
    let scale = cells / (2.0 * (high - low).max_element()).max(f64::MIN_POSITIVE);
    let code = |bounds: Bounds| {
        let at = (bounds.middle() - 2.0 * low) * scale;
        let [x, y, z] = three::each(at.to_array(), |x| spread((x as u64).min((1 << CODE_BITS) - 1)));
        x | y << 1 | z << 2
    };
    let mut coded: Vec<u128> =
        boxes.zip(0u32..).map(|(bounds, number)| u128::from(code(bounds)) << 32 | u128::from(number)).collect();
    coded.sort_unstable();
    coded.into_iter().map(|packed| packed as u32).collect()
}

/// Puts two zeros between the bits of a number below 2^21.
fn spread(x: u64) -> u64 {
    let x = (x | x << 32) & 0x001F_0000_0000_FFFF;
    let x = (x | x << 16) & 0x001F_0000_FF00_00FF;
    let x = (x | x << 8) & 0x100F_00F0_0F00_F00F;
    let x = (x | x << 4) & 0x10C3_0C30_C30C_30C3;
    (x | x << 2) & 0x1249_2492_4924_9249
}

/// A ray prepared for box tests.
struct Ray {
    origin: DVec3,
    /// 1 / direction.
    inverse: DVec3,
    /// Along which axes it runs backwards: there it enters a box at the higher side.
    backwards: [bool; 3],
}

impl Ray {
    fn new(origin: DVec3, direction: DVec3) -> Self {
        let one_over = |x: f64| if x.abs() < 1.0 / VERY_STEEP { VERY_STEEP } else { 1.0 / x };
        let inverse = three::each(direction.to_array(), one_over);
        Self { origin, inverse: DVec3::from_array(inverse), backwards: three::each(inverse, |x| x < 0.0) }
    }

    /// Every slab is entered before any is left, and left ahead of the origin. Comparisons alone: to pick the last
    /// entry and the first exit, browsers make branches that cannot be predicted.
    #[inline(always)]
    fn passes(&self, bounds: &Bounds) -> bool {
        let (low, high) = ((bounds.low - self.origin) * self.inverse, (bounds.high - self.origin) * self.inverse);
        let turned =
            |backwards: bool, low: f64, high: f64| if backwards { (high, low * LATE) } else { (low, high * LATE) };
        let (x_in, x_out) = turned(self.backwards[0], low.x, high.x);
        let (y_in, y_out) = turned(self.backwards[1], low.y, high.y);
        let (z_in, z_out) = turned(self.backwards[2], low.z, high.z);
        (x_in <= y_out)
            & (x_in <= z_out)
            & (y_in <= x_out)
            & (y_in <= z_out)
            & (z_in <= x_out)
            & (z_in <= y_out)
            & (x_out >= 0.0)
            & (y_out >= 0.0)
            & (z_out >= 0.0)
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
    use crate::model::Model;

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

    /// 300 triangles: small ones one after another along x, large ones anywhere, or small ones anywhere.
    fn agrees_with_every_triangle_tested_alone(size: f64, place: impl Fn(f64, f64) -> f64, sorted: bool) {
        let mut next = noise();
        let mut text = String::new();
        for face in 0..300 {
            let middle = [place(f64::from(face) / 300.0, next()), next(), next()];
            for _ in 0..3 {
                let p = middle.map(|x| x + size * (next() - 0.5));
                text += &format!("v {} {} {}\n", p[0], 3.0 * p[1], p[2]);
            }
            text += "f -3 -2 -1\n";
        }
        let model = model(&text);
        let mut occluders = Occluders::new(&model);
        assert_eq!(occluders.order.is_empty(), !sorted);
        let mut hits = 0;
        for _ in 0..2000 {
            let origin = DVec3::new(next() * 2.0 - 0.5, next() * 4.0 - 0.5, next() * 2.0 - 0.5);
            let direction = DVec3::new(next() - 0.5, next() - 0.5, next() - 0.5);
            let alone = (0..300).any(|triangle| meets(model.positions(triangle), origin, direction));
            assert_eq!(occluders.blocked(origin, direction), alone);
            hits += usize::from(alone);
        }
        assert!((100..1950).contains(&hits), "{hits}");
    }

    #[test]
    fn triangles_in_spatial_order_are_not_sorted() {
        agrees_with_every_triangle_tested_alone(1.0, |turn, _| turn, false);
    }

    #[test]
    fn unordered_triangles_are_sorted_first() {
        agrees_with_every_triangle_tested_alone(0.2, |_, anywhere| anywhere, true);
    }

    #[test]
    fn no_ray_slips_through_an_edge_or_a_corner_between_triangles() {
        let model = model("v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0.5 0.5 0\nf 1 2 5\nf 2 3 5\nf 3 4 5\nf 4 1 5\n");
        let mut occluders = Occluders::new(&model);
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
