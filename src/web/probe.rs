//! What lies under the pointer: nearest triangle along a ray, or at a place on the sheet, and its data.
//!
//! Boxes around runs of triangles, one after another: runs follow the file, where neighbours are mostly neighbours. A
//! tree over them would save nothing noticeable: a million triangles have 62,500 boxes, tested in well under a frame.
//! Ray and triangle: Möller & Trumbore 1997. Cost: the boxes once, linear; then the boxes a probe, and the triangles of
//! those it meets.

use crate::findings::{Names, shell_label};
use crate::measure::Measures;
use crate::measure::flat::jacobian::Jacobian;
use crate::measure::flat::triangles::state;
use crate::measure::sheet::sharing::ShareKind;
use crate::model::Model;
use crate::report::Report;
use glam::{DVec2, DVec3};
use serde::Serialize;
use tsify::Tsify;

/// Triangles in one box.
const RUN: usize = 16;

/// What is met within this part of the way to a point of the surface lies before it, not at it.
const BEFORE_THE_POINT: f64 = 0.999;

/// What a run lies in; on the sheet without depth. Without any corner: nothing is inside.
struct Bounds {
    low: DVec3,
    high: DVec3,
}

pub(super) struct Prober {
    stage: Vec<Bounds>,
    sheet: Vec<Bounds>,
}

/// A triangle and the weights of its corners at the spot.
#[derive(Clone, Copy)]
pub(super) struct Hit {
    triangle: usize,
    weights: [f64; 3],
}

/// What a probe needs.
pub(super) struct Context<'a> {
    pub(super) model: &'a Model,
    pub(super) measures: &'a Measures,
    pub(super) names: &'a Names<'a>,
    pub(super) report: Option<&'a Report>,
    pub(super) centre: DVec3,
}

/// What lies under a spot.
#[derive(Serialize, Tsify)]
pub(super) struct Probe {
    triangle: usize,
    /// From 0, in the order of the file.
    face: usize,
    /// From 0.
    triangle_of_face: usize,
    /// Weights of that triangle's corners.
    barycentric: [f64; 3],
    /// None where the surface has no uv.
    shell: Option<u32>,
    shell_label: Option<String>,
    part_label: String,
    u: Option<f64>,
    v: Option<f64>,
    /// From the mesh's centre.
    point: [f64; 3],
    anisotropy: Option<f64>,
    /// Of most stretch on the sheet, from texture-right, 0..180.
    direction_deg: Option<f64>,
    /// px per unit.
    density: Option<f64>,
    reversed: bool,
    flipped: bool,
    folded: bool,
    tilt_deg: Option<f64>,
    shares: Vec<Partner>,
}

/// A shell that overlaps the spot's shell there.
#[derive(Serialize, Tsify)]
struct Partner {
    shell: u32,
    label: String,
    kind: ShareKind,
}

impl Prober {
    pub(super) fn new(model: &Model) -> Self {
        Self {
            stage: boxes(model, &|triangle| Some(model.positions(triangle))),
            sheet: boxes(model, &|triangle| model.uvs(triangle).map(|q| q.map(|uv| uv.extend(0.0)))),
        }
    }

    /// What the ray meets first, and after how many times its direction.
    pub(super) fn ray(&self, model: &Model, origin: DVec3, direction: DVec3) -> Option<(f64, Hit)> {
        let mut nearest: Option<(f64, Hit)> = None;
        for triangle in runs(model, &self.stage, |bounds| bounds.crossed(origin, direction)) {
            if let Some((distance, weights)) = meet(model.positions(triangle), origin, direction)
                && nearest.is_none_or(|(best, _)| distance < best)
            {
                nearest = Some((distance, Hit { triangle, weights }));
            }
        }
        nearest
    }

    pub(super) fn uv(&self, model: &Model, at: DVec2, is_shown: impl Fn(usize) -> bool) -> Option<Hit> {
        runs(model, &self.sheet, |bounds| bounds.holds(at.extend(0.0))).find_map(|triangle| {
            let weights = weights_in(model.uvs(triangle)?, at).filter(|_| is_shown(triangle))?;
            Some(Hit { triangle, weights })
        })
    }

    /// Whether something lies between the eye and a point of the surface.
    pub(super) fn hides(&self, model: &Model, eye: DVec3, point: DVec3) -> bool {
        self.ray(model, eye, point - eye).is_some_and(|(part, _)| part < BEFORE_THE_POINT)
    }
}

impl Hit {
    /// A spot of a face: one of its triangles, and the weights of that one's corners. `None` where the model has none.
    pub(super) fn at(model: &Model, face: usize, triangle_of_face: usize, weights: [f64; 3]) -> Option<Self> {
        let mut triangles = (face < model.document.face_count()).then(|| model.triangles_of(face))?;
        triangles.nth(triangle_of_face).map(|triangle| Self { triangle, weights })
    }
}

/// Partners of a shell that are named: more than there is room for.
const PARTNERS_MAX: usize = 50;

/// All that is known of a spot.
pub(super) fn describe(context: &Context, hit: Hit) -> Probe {
    let Context { model, measures, .. } = *context;
    let triangle = hit.triangle;
    let mix = |points: [DVec3; 3]| points.iter().zip(hit.weights).map(|(&p, w)| p * w).sum::<DVec3>();
    let uvs = model.uvs(triangle);
    let uv = uvs.map(|q| mix(q.map(|uv| uv.extend(0.0))).truncate());
    let shell = model.shell_of(triangle);
    let measured = !measures.triangles.state.is_empty();
    let scale = measures.sizes.scale(model, triangle);
    let jacobian = uvs.and_then(|q| Jacobian::try_new(model.positions(triangle), q, scale));
    let anisotropy = if measured { measures.triangles.anisotropy(triangle) } else { None };
    let face = model.face_of(triangle);
    let names = context.names.of(face);
    let label_of = |shell: u32| {
        let row = context.report.and_then(|report| report.shells.get(shell as usize));
        row.map_or_else(|| format!("shell {shell}"), shell_label)
    };
    Probe {
        triangle,
        face,
        triangle_of_face: triangle - model.triangles_of(face).start,
        barycentric: hit.weights,
        shell,
        shell_label: shell.map(label_of),
        part_label: names
            .into_iter()
            .flatten()
            .next()
            .map_or_else(|| format!("part {}", model.part_of(triangle)), str::to_owned),
        u: uv.map(|uv| uv.x),
        v: uv.map(|uv| uv.y),
        point: (mix(model.positions(triangle)) - context.centre).to_array(),
        anisotropy: anisotropy.filter(|ratio| ratio.is_finite()),
        direction_deg: anisotropy.and(jacobian).map(|j| j.stretch_angle_in_map().to_degrees()),
        density: if measured { measures.triangles.density(triangle) } else { None },
        reversed: measured && measures.triangles.is_reversed(triangle),
        flipped: shell.and_then(|shell| measures.handedness.flipped.get(shell as usize).copied()).unwrap_or(false),
        folded: measured && measures.triangles.is(triangle, state::FOLDED),
        tilt_deg: measures.tilt.of(triangle),
        shares: shell.map_or_else(Vec::new, |shell| {
            let partners = measures.sharing.partners(shell, PARTNERS_MAX);
            partners.into_iter().map(|(shell, kind)| Partner { shell, label: label_of(shell), kind }).collect()
        }),
    }
}

/// The triangles of the runs whose boxes are wanted, in the file's order.
fn runs(model: &Model, boxes: &[Bounds], wanted: impl Fn(&Bounds) -> bool) -> impl Iterator<Item = usize> {
    let wanted = boxes.iter().enumerate().filter(move |(_, bounds)| wanted(bounds));
    wanted.flat_map(|(number, _)| run(model, number))
}

fn run(model: &Model, number: usize) -> std::ops::Range<usize> {
    (number * RUN)..(number * RUN + RUN).min(model.triangle_count())
}

fn boxes(model: &Model, corners: &dyn Fn(usize) -> Option<[DVec3; 3]>) -> Vec<Bounds> {
    let around = |number| {
        let mut bounds = Bounds { low: DVec3::INFINITY, high: DVec3::NEG_INFINITY };
        for corner in run(model, number).filter_map(corners).flatten() {
            (bounds.low, bounds.high) = (bounds.low.min(corner), bounds.high.max(corner));
        }
        bounds
    };
    (0..model.triangle_count().div_ceil(RUN)).map(around).collect()
}

impl Bounds {
    /// Slabs (Kay & Kajiya 1986).
    fn crossed(&self, origin: DVec3, direction: DVec3) -> bool {
        let (a, b) = ((self.low - origin) / direction, (self.high - origin) / direction);
        let (enter, leave) = (a.min(b).max_element(), a.max(b).min_element());
        // A NaN comes from 0 / 0: the ray lies in a face of the box and may touch it.
        !(enter > leave || leave < 0.0)
    }

    fn holds(&self, at: DVec3) -> bool {
        self.low.cmple(at).all() && at.cmple(self.high).all()
    }
}

fn meet([a, b, c]: [DVec3; 3], origin: DVec3, direction: DVec3) -> Option<(f64, [f64; 3])> {
    let (e1, e2) = (b - a, c - a);
    let p = direction.cross(e2);
    let determinant = e1.dot(p);
    if determinant == 0.0 {
        return None;
    }
    let from_a = origin - a;
    let v = from_a.dot(p) / determinant;
    let q = from_a.cross(e1);
    let w = direction.dot(q) / determinant;
    let distance = e2.dot(q) / determinant;
    (v >= 0.0 && w >= 0.0 && v + w <= 1.0 && distance > 0.0).then_some((distance, [1.0 - v - w, v, w]))
}

fn weights_in([a, b, c]: [DVec2; 3], at: DVec2) -> Option<[f64; 3]> {
    let area = (b - a).perp_dot(c - a);
    if area == 0.0 {
        return None;
    }
    let v = (at - a).perp_dot(c - a) / area;
    let w = (b - a).perp_dot(at - a) / area;
    (v >= 0.0 && w >= 0.0 && v + w <= 1.0).then_some([1.0 - v - w, v, w])
}
