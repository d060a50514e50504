//! Seams as lines over the drawn model: the more visible, the stronger; hidden behind surfaces.
//!
//! Width and strength as in `view/shaders/line.vert`: a seam is as wide as it is seen from the front and as strong as it is
//! seen at all, other edges of shells are hairlines. A pixel is as dark as the darkest line over it, so that lines do not
//! darken where they join, and as much of it as has no nearer surface.
//! Cost: linear in edges and in the pixels they pass.

use super::raster::{Eye, Seen};
use crate::measure::Measures;
use crate::model::{EdgeKind, Model};
use glam::{DVec2, DVec3};

/// Width of a seam that is seen from the front all along, px of a picture up to [`USUAL_PX`] high or wide.
const WIDTH_PX: f32 = 3.2;
/// Shorter side of a picture from which on lines grow with it, px.
const USUAL_PX: f64 = 800.0;
/// Width that is left where nothing is seen from the front, and that of other edges, as shares.
const LEAST_WIDTH: (f32, f32) = (0.36, 0.3);
/// Strength of a seam that is not visible, and of other edges.
const LEAST_STRENGTH: (f32, f32) = (0.45, 0.3);
/// What a line keeps of its strength where other shells are lit.
const UNLIT: f32 = 0.35;
/// Lines lie this much nearer to the eye than their surface, as a share of the distance.
const NEARER: f64 = 0.0015;

/// The picture that lines are drawn over.
pub(super) struct Sight<'a> {
    pub(super) seen: &'a Seen,
    pub(super) eye: &'a Eye,
    /// Samples along a pixel's side.
    pub(super) samples: usize,
}

struct Line {
    /// Right, up and depth from the eye.
    ends: [DVec3; 2],
    half_width: f32,
    strength: f32,
}

/// Ink a pixel, 0..=1, rows from the top. `lit`: shells, rising, whose lines keep their strength; none: all.
pub(super) fn ink(model: &Model, measures: &Measures, sight: &Sight, lit: &[u32]) -> Vec<f32> {
    let size = [sight.seen.width / sight.samples, sight.seen.height / sight.samples];
    let mut ink = vec![0.0; size[0] * size[1]];
    let grown = (size[0].min(size[1]) as f64 / USUAL_PX).max(1.0) as f32;
    let mut seams = measures.seams.edges.iter().peekable();
    for (index, edge) in model.layout.edges.iter().enumerate() {
        let seam = seams.next_if(|seam| seam.edge as usize == index);
        let shells = [Some(edge.corner), edge.other]
            .map(|corner| corner.and_then(|corner| model.layout.shell_of_face(model.face_of_corner(corner))));
        if edge.kind == EdgeKind::NonManifold && shells[0] == shells[1] {
            continue;
        }
        let (width, strength) = match seam {
            Some(seam) => (
                LEAST_WIDTH.0 + (1.0 - LEAST_WIDTH.0) * seam.front,
                LEAST_STRENGTH.0 + (1.0 - LEAST_STRENGTH.0) * seam.front.max(seam.exposure),
            ),
            None => (LEAST_WIDTH.1, LEAST_STRENGTH.1),
        };
        let is_lit = lit.is_empty() || shells.iter().flatten().any(|shell| lit.binary_search(shell).is_ok());
        let ends = [edge.corner, model.next_corner(edge.corner)].map(|corner| {
            let document = &model.document;
            let position = document.positions[document.corners[corner as usize].position.0 as usize];
            sight.eye.sees(DVec3::from_array(position))
        });
        let line = Line {
            ends,
            half_width: width * WIDTH_PX * grown / 2.0,
            strength: if is_lit { strength } else { strength * UNLIT },
        };
        sight.draw(&line, size, &mut ink);
    }
    ink
}

impl Sight<'_> {
    fn draw(&self, line: &Line, size: [usize; 2], ink: &mut [f32]) {
        let Some([a, b]) = before(line.ends, self.eye.near) else { return };
        let [from, to] = [a, b].map(|end| self.place(end, size));
        let reach = f64::from(line.half_width) + 0.5;
        let Some(columns) = span(from.x, to.x, reach, size[0]) else { return };
        let Some([y0, y1]) = span(from.y, to.y, reach, size[1]) else { return };
        let along = to - from;
        let length_squared = along.length_squared();
        for y in y0..=y1 {
            // Of a slanted line, the part that comes near this row.
            let middle = y as f64 + 0.5;
            let [x0, x1] = if along.y.abs() > 1e-9 {
                let at = |y: f64| from.x + along.x * ((y - from.y) / along.y).clamp(0.0, 1.0);
                let near = span(at(middle - reach), at(middle + reach), reach, size[0]);
                let Some(near) = near else { continue };
                near
            } else {
                columns
            };
            for x in x0..=x1 {
                let centre = DVec2::new(x as f64 + 0.5, middle);
                let part = if length_squared > 0.0 {
                    ((centre - from).dot(along) / length_squared).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                let off = (centre - from - along * part).length() as f32;
                let cover = (line.half_width + 0.5 - off).clamp(0.0, 1.0).min(2.0 * line.half_width) * line.strength;
                let held = &mut ink[y * size[0] + x];
                if cover <= *held {
                    continue;
                }
                // 1 / depth is linear over the picture.
                let inverse_depth = (1.0 - part) / a.z + part / b.z;
                let open = self.seen.open(x, y, self.samples, (inverse_depth / (1.0 - NEARER)) as f32);
                *held = held.max(cover * open);
            }
        }
    }

    /// Where a point before the eye is seen, px from the top left.
    fn place(&self, point: DVec3, size: [usize; 2]) -> DVec2 {
        let [half_x, half_y] = self.eye.half;
        let (x, y) = (point.x / (point.z * half_x), point.y / (point.z * half_y));
        DVec2::new((x + 1.0) / 2.0 * size[0] as f64, (1.0 - y) / 2.0 * size[1] as f64)
    }
}

/// What of a line lies before the eye.
fn before([a, b]: [DVec3; 2], near: f64) -> Option<[DVec3; 2]> {
    let at_near = |a: DVec3, b: DVec3| a + (b - a) * ((near - a.z) / (b.z - a.z));
    match (a.z > near, b.z > near) {
        (true, true) => Some([a, b]),
        (true, false) => Some([a, at_near(a, b)]),
        (false, true) => Some([at_near(a, b), b]),
        (false, false) => None,
    }
}

/// Pixels whose middles may lie within `reach` of a span, first and last; `None` where there is none.
fn span(a: f64, b: f64, reach: f64, size: usize) -> Option<[usize; 2]> {
    let (low, high) = ((a.min(b) - reach - 0.5).ceil().max(0.0), (a.max(b) + reach - 0.5).floor());
    let last = high.min(size as f64 - 1.0);
    // Casts saturate, and NaN is no span.
    (low <= last).then_some([low as usize, last as usize])
}
