//! What lies under the pointer: nearest triangle along a ray, or at a place on the sheet, and all that is known of it.
//!
//! Boxes around runs of triangles go into R-trees (crate `rstar`); runs follow the file, where neighbours are mostly
//! neighbours. Ray and triangle: Möller & Trumbore 1997. Cost: the trees once, some 60 ms for a million triangles, then
//! a few thousand triangles a probe.

use crate::brief::Brief;
use crate::findings::{Names, Report, shell_label};
use crate::measure::Measures;
use crate::measure::jacobian::Jacobian;
use crate::measure::sharing::ShareKind;
use crate::measure::triangles::{map_scale, state};
use crate::model::Model;
use glam::{DVec2, DVec3};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, Envelope, RTree, RTreeObject, SelectionFunction};
use serde::Serialize;

/// Triangles in one box.
const RUN: usize = 16;

type Boxes<const N: usize> = RTree<GeomWithData<Rectangle<[f64; N]>, u32>>;

pub(super) struct Prober {
    stage: Boxes<3>,
    sheet: Boxes<2>,
}

/// A triangle and the weights of its corners at the spot.
#[derive(Clone, Copy)]
pub(super) struct Hit {
    triangle: usize,
    weights: [f64; 3],
}

/// What a probe is told with.
pub(super) struct Context<'a> {
    pub(super) model: &'a Model,
    pub(super) measures: &'a Measures,
    pub(super) brief: &'a Brief,
    pub(super) names: &'a Names<'a>,
    pub(super) report: Option<&'a Report>,
    pub(super) centre: DVec3,
}

#[derive(Serialize)]
pub(super) struct Probe {
    triangle: usize,
    shell: Option<u32>,
    shell_label: Option<String>,
    part_label: String,
    u: Option<f64>,
    v: Option<f64>,
    point: [f64; 3],
    anisotropy: Option<f64>,
    direction_deg: Option<f64>,
    density: Option<f64>,
    reversed: bool,
    turned_over: bool,
    folded: bool,
    tilt_deg: Option<f64>,
    cell: Option<[u32; 2]>,
    shares: Vec<Partner>,
}

#[derive(Serialize)]
struct Partner {
    shell: u32,
    label: String,
    kind: ShareKind,
}

impl Prober {
    pub(super) fn new(model: &Model) -> Self {
        Self {
            stage: boxes(model, |triangle| Some(model.positions(triangle).map(|p| p.to_array()))),
            sheet: boxes(model, |triangle| model.uvs(triangle).map(|q| q.map(|uv| uv.to_array()))),
        }
    }

    pub(super) fn ray(&self, model: &Model, origin: DVec3, direction: DVec3) -> Option<Hit> {
        let mut nearest: Option<(f64, Hit)> = None;
        for found in self.stage.locate_with_selection_function(AlongRay { origin, direction }) {
            for triangle in run(model, found.data) {
                if let Some((distance, weights)) = meet(model.positions(triangle), origin, direction)
                    && nearest.is_none_or(|(best, _)| distance < best)
                {
                    nearest = Some((distance, Hit { triangle, weights }));
                }
            }
        }
        nearest.map(|(_, hit)| hit)
    }

    pub(super) fn uv(&self, model: &Model, at: DVec2) -> Option<Hit> {
        let mut first: Option<Hit> = None;
        for found in self.sheet.locate_in_envelope_intersecting(AABB::from_point(at.to_array())) {
            for triangle in run(model, found.data) {
                let Some(weights) = model.uvs(triangle).and_then(|q| weights_in(q, at)) else { continue };
                if first.is_none_or(|hit| triangle < hit.triangle) {
                    first = Some(Hit { triangle, weights });
                }
            }
        }
        first
    }

    pub(super) fn describe(&self, context: &Context, hit: Hit) -> Probe {
        let Context { model, measures, .. } = *context;
        let triangle = hit.triangle;
        let mix = |points: [DVec3; 3]| points.iter().zip(hit.weights).map(|(&p, w)| p * w).sum::<DVec3>();
        let uvs = model.uvs(triangle);
        let uv = uvs.map(|q| mix(q.map(|uv| uv.extend(0.0))).truncate());
        let shell = model.shell_of(triangle);
        let measured = !measures.triangles.state.is_empty();
        let jacobian = uvs.and_then(|q| Jacobian::try_new(model.positions(triangle), q, map_scale(context.brief.map)));
        let anisotropy = if measured { measures.triangles.anisotropy(triangle) } else { None };
        let names = context.names.of(model.face_of(triangle));
        let label_of = |shell: u32| {
            let row = context.report.and_then(|report| report.shells.get(shell as usize));
            row.map_or_else(|| format!("shell {shell}"), shell_label)
        };
        let grid = crate::grid::GridOptions::new(context.brief.map.width_px, context.brief.map.height_px);
        Probe {
            triangle,
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
            turned_over: shell
                .and_then(|shell| measures.handedness.turned_over.get(shell as usize).copied())
                .unwrap_or(false),
            folded: measured && measures.triangles.is(triangle, state::FOLDED),
            tilt_deg: measures.tilt.of(triangle),
            cell: uv.and_then(|uv| crate::grid::cell_at(&grid, uv.x, uv.y)).map(|(column, row)| [column, row]),
            shares: shell.map_or_else(Vec::new, |shell| {
                measures
                    .sharing
                    .pairs
                    .iter()
                    .filter(|pair| pair.a == shell || pair.b == shell)
                    .map(|pair| {
                        let partner = if pair.a == shell { pair.b } else { pair.a };
                        Partner { shell: partner, label: label_of(partner), kind: pair.kind }
                    })
                    .collect()
            }),
        }
    }
}

fn run(model: &Model, number: u32) -> std::ops::Range<usize> {
    let first = number as usize * RUN;
    first..(first + RUN).min(model.triangle_count())
}

fn boxes<const N: usize>(model: &Model, corners: impl Fn(usize) -> Option<[[f64; N]; 3]>) -> Boxes<N>
where
    [f64; N]: rstar::Point<Scalar = f64>,
{
    let mut all = Vec::with_capacity(model.triangle_count().div_ceil(RUN));
    for number in 0..model.triangle_count().div_ceil(RUN) as u32 {
        let envelope =
            run(model, number).filter_map(&corners).flatten().map(AABB::from_point).reduce(|a, b| a.merged(&b));
        if let Some(envelope) = envelope {
            all.push(GeomWithData::new(Rectangle::from_aabb(envelope), number));
        }
    }
    RTree::bulk_load(all)
}

struct AlongRay {
    origin: DVec3,
    direction: DVec3,
}

impl AlongRay {
    /// Slabs (Kay & Kajiya 1986).
    fn passes(&self, envelope: &AABB<[f64; 3]>) -> bool {
        let (low, high) = (DVec3::from_array(envelope.lower()), DVec3::from_array(envelope.upper()));
        let (a, b) = ((low - self.origin) / self.direction, (high - self.origin) / self.direction);
        let (enter, leave) = (a.min(b).max_element(), a.max(b).min_element());
        // A NaN comes from 0 / 0: the ray lies in a face of the box and may touch it.
        !(enter > leave || leave < 0.0)
    }
}

impl<T: RTreeObject<Envelope = AABB<[f64; 3]>>> SelectionFunction<T> for AlongRay {
    fn should_unpack_parent(&self, envelope: &AABB<[f64; 3]>) -> bool {
        self.passes(envelope)
    }
    fn should_unpack_leaf(&self, leaf: &T) -> bool {
        self.passes(&leaf.envelope())
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
