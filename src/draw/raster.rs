//! Which triangle each sample sees: a z-buffer by homogeneous edge functions.
//!
//! With corners a, b, c relative to the eye and d the ray of a sample, (b x c).d, (c x a).d and (a x b).d have one sign
//! exactly where the ray meets the triangle (Olano & Greer, Triangle scan conversion using 2D homogeneous coordinates,
//! 1997). No triangle needs clipping, even behind the eye. Two triangles that share an edge compute its function from
//! the same numbers with opposite sign, so no sample falls between them. Depth comes from the plane, n.d / n.a.
//!
//! Ties go to the triangle that is first in the file. A triangle seen exactly edge-on covers nothing. Cost: linear in
//! triangles, in rows of the large ones, and in the samples they cover; no allocation per triangle.

use crate::model::Model;
use crate::util::three;
use glam::DVec3;

/// Sample that sees nothing.
pub const NOTHING: u32 = u32::MAX;
/// Boxes at most this wide are tried sample by sample; wider ones are first narrowed by the edges, row by row.
const NARROW: i32 = 6;

/// An eye with its frustum.
#[derive(Clone, Copy, Debug)]
pub struct Eye {
    /// Where it is, in the model's coordinates.
    pub at: DVec3,
    /// Right, up, towards the viewer; orthonormal.
    pub axes: [DVec3; 3],
    /// Half the width and height of what is seen, at depth 1.
    pub half: [f64; 2],
    /// Depth of the nearest surface that is drawn, > 0.
    pub near: f64,
}

impl Eye {
    /// A point by right, up and depth.
    pub fn sees(&self, point: DVec3) -> DVec3 {
        let [right, up, back] = self.axes;
        let offset = point - self.at;
        DVec3::new(offset.dot(right), offset.dot(up), -offset.dot(back))
    }
}

/// The rays through the samples of a picture, at depth 1: of the first sample, and the steps from one to the next.
#[derive(Clone, Copy, Debug)]
pub struct Rays {
    first: [f64; 2],
    step: [f64; 2],
}

impl Rays {
    /// Of a picture so many samples wide and high.
    pub fn new(eye: &Eye, width: usize, height: usize) -> Self {
        let ([x, y], [width, height]) = (eye.half, [width as f64, height as f64]);
        Self { first: [x * (1.0 / width - 1.0), y * (1.0 - 1.0 / height)], step: [2.0 * x / width, 2.0 * y / height] }
    }
}

/// A function that is linear over the picture: `x * a + y * b + c` at samples' own coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Linear {
    pub a: f64,
    pub b: f64,
    pub c: f64,
}

impl Linear {
    /// `normal . d`, d the ray through a sample.
    #[inline(always)]
    fn of(normal: DVec3, rays: &Rays) -> Self {
        let Rays { step: [x, y], first: [x0, y0] } = *rays;
        Self { a: normal.x * x, b: -(normal.y * y), c: normal.x * x0 + normal.y * y0 + normal.z }
    }

    pub fn at(&self, x: f64, y: f64) -> f64 {
        x * self.a + self.in_row(y)
    }

    /// What is the same at all samples of a row.
    #[inline(always)]
    fn in_row(&self, y: f64) -> f64 {
        y * self.b + self.c
    }

    fn negated(self) -> Self {
        Self { a: -self.a, b: -self.b, c: -self.c }
    }
}

/// The three edge functions of a triangle, each 0 on the edge opposite its corner; over their sum they are the
/// barycentric coordinates.
pub fn edges([a, b, c]: [DVec3; 3], rays: &Rays) -> [Linear; 3] {
    three::each([b.cross(c), c.cross(a), a.cross(b)], |normal| Linear::of(normal, rays))
}

/// What every sample sees.
#[derive(Debug)]
pub struct Seen {
    pub width: usize,
    pub height: usize,
    /// Triangle per sample, rows from the top, or [`NOTHING`].
    pub triangle: Vec<u32>,
    /// 1 / depth, 0 where nothing is.
    inverse_depth: Vec<f32>,
}

impl Seen {
    /// Draws all triangles of a model.
    pub fn new(model: &Model, eye: &Eye, width: usize, height: usize) -> Self {
        let mut seen =
            Self { width, height, triangle: vec![NOTHING; width * height], inverse_depth: vec![0.0; width * height] };
        let points: Vec<DVec3> = model.document.positions.iter().map(|&p| eye.sees(DVec3::from_array(p))).collect();
        let size = [width as f64, height as f64];
        let place = |p: DVec3| {
            let (x, y) = (p.x / (p.z * eye.half[0]), p.y / (p.z * eye.half[1]));
            [((x + 1.0) * size[0] - 1.0) / 2.0, ((1.0 - y) * size[1] - 1.0) / 2.0]
        };
        // Where each point is seen, in samples; behind the eye there is no such place.
        let places: Vec<[f32; 2]> =
            points.iter().map(|&p| if p.z > eye.near { place(p).map(|x| x as f32) } else { [f32::NAN; 2] }).collect();
        let corners = &model.document.corners;
        let rays = Rays::new(eye, width, height);
        for (triangle, of) in model.triangles.iter().enumerate() {
            let index = three::each(*of, |corner| corners[corner as usize].position.0 as usize);
            let at = three::each(index, |index| places[index]);
            let Some(bounds) = seen.bounds(at) else { continue };
            let p = three::each(index, |index| points[index]);
            if p.iter().all(|p| p.z <= eye.near) {
                continue;
            }
            seen.fill(triangle as u32, p, eye.near, &rays, bounds);
        }
        seen
    }

    /// Share of a pixel's samples that see nothing nearer than this, 0..=1.
    pub fn open(&self, x: usize, y: usize, samples: usize, inverse_depth: f32) -> f32 {
        let rows = (y * samples..(y + 1) * samples).map(|row| row * self.width + x * samples);
        let open = rows
            .flat_map(|start| &self.inverse_depth[start..start + samples])
            .filter(|held| **held <= inverse_depth)
            .count();
        open as f32 / (samples * samples) as f32
    }

    /// Samples that may be inside: x0, x1, y0, y1, all included; `None` where there is none.
    fn bounds(&self, at: [[f32; 2]; 3]) -> Option<[i32; 4]> {
        let (width, height) = (self.width as i32, self.height as i32);
        let axis = |axis: usize, last: i32| {
            let [a, b, c] = three::each(at, |p| p[axis]);
            if a.is_nan() || b.is_nan() || c.is_nan() {
                return (0, last);
            }
            // Rounding of a place to 32 bits is far below this margin.
            let [less, more] = if a < b { [a, b] } else { [b, a] };
            let (low, high) = (if c < less { c } else { less } - 0.01, if c > more { c } else { more } + 0.01);
            ((low.ceil() as i32).max(0), (high.floor() as i32).min(last))
        };
        let (x0, x1) = axis(0, width - 1);
        let (y0, y1) = axis(1, height - 1);
        (x0 <= x1 && y0 <= y1).then_some([x0, x1, y0, y1])
    }

    fn fill(&mut self, triangle: u32, p: [DVec3; 3], near: f64, rays: &Rays, [x0, x1, y0, y1]: [i32; 4]) {
        let normal = (p[1] - p[0]).cross(p[2] - p[0]);
        let volume = normal.dot(p[0]);
        if volume == 0.0 || !volume.is_finite() {
            return;
        }
        let mut edges = edges(p, rays);
        if volume < 0.0 {
            edges = three::each(edges, Linear::negated);
        }
        let inverse = Linear::of(normal / volume, rays);
        let nearest = 1.0 / near;
        for y in y0..=y1 {
            let row = f64::from(y);
            let [k0, k1, k2, kz] =
                [edges[0].in_row(row), edges[1].in_row(row), edges[2].in_row(row), inverse.in_row(row)];
            let (mut from, mut to) = (x0, x1);
            if x1 - x0 > NARROW {
                for (edge, k) in edges.iter().zip([k0, k1, k2]) {
                    let crossing = -k / edge.a;
                    // A sample of slack: the test below decides. Casts saturate; an edge along the row decides nothing here.
                    if edge.a > 0.0 {
                        from = from.max((crossing as i32).saturating_sub(1));
                    } else if edge.a < 0.0 {
                        to = to.min((crossing as i32).saturating_add(1));
                    }
                }
            }
            let start = y as usize * self.width;
            for x in from..=to {
                let column = f64::from(x);
                let inside = column * edges[0].a + k0 >= 0.0
                    && column * edges[1].a + k1 >= 0.0
                    && column * edges[2].a + k2 >= 0.0;
                if !inside {
                    continue;
                }
                let inverse_depth = column * inverse.a + kz;
                let held = &mut self.inverse_depth[start + x as usize];
                if inverse_depth < nearest && inverse_depth as f32 > *held {
                    *held = inverse_depth as f32;
                    self.triangle[start + x as usize] = triangle;
                }
            }
        }
    }
}
