//! Where a finding is: the triangles it concerns, summed up into a camera, a region of the sheet and a line.

use crate::draw::Viewpoint;
use crate::measure::Measures;
use crate::measure::flat::triangles::state;
use crate::model::Model;
use glam::{DVec2, DVec3};

/// Direction to look from where the surfaces concerned face all ways: from the front, a little right and above.
pub(crate) const NO_SIDE: DVec3 = DVec3::new(0.55, 0.4, 1.0);
/// Below this length of the mean normal, surfaces face too many ways for it to be a good direction to look from.
const MEAN_NORMAL_MIN: f64 = 0.25;
/// Distance of the eye in radii: the sphere around the target fills a 45 degree picture.
const EYE_DISTANCE_RADII: f64 = 2.7;
/// Nearest view, as a share of the model's own radius: a single small face is shown with its surroundings.
const RADIUS_MIN_SHARE: f64 = 0.12;

/// Triangles as runs, [first, end): whole shells are a few of them.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Runs(pub(crate) Vec<[u32; 2]>);

impl Runs {
    /// All of them, rising.
    pub(super) fn triangles(&self) -> impl Iterator<Item = usize> {
        self.0.iter().flat_map(|&[first, end]| first as usize..end as usize)
    }

    fn add(&mut self, triangle: u32) {
        match self.0.last_mut() {
            Some(run) if run[1] == triangle => run[1] += 1,
            _ => self.0.push([triangle, triangle + 1]),
        }
    }
}

/// Triangles summed up.
#[derive(Clone, Debug)]
pub(super) struct Place {
    /// Rising.
    pub(super) shells: Vec<u32>,
    pub(super) triangles: usize,
    pub(super) surface: f64,
    /// The triangles themselves.
    pub(super) runs: Runs,
    first: Option<usize>,
    normal: DVec3,
    bounds: Option<(DVec3, DVec3)>,
    bounds_uv: Option<(DVec2, DVec2)>,
}

impl Place {
    pub(super) fn new() -> Self {
        Self {
            shells: Vec::new(),
            triangles: 0,
            surface: 0.0,
            runs: Runs::default(),
            first: None,
            normal: DVec3::ZERO,
            bounds: None,
            bounds_uv: None,
        }
    }

    pub(super) fn add(&mut self, model: &Model, measures: &Measures, triangle: usize) {
        self.first.get_or_insert(triangle);
        self.triangles += 1;
        self.runs.add(triangle as u32);
        self.surface += measures.triangles.surface[triangle];
        // Triangles come in the file's order, and so do shells: what is new nearly always comes last.
        if let Some(shell) = model.shell_of(triangle)
            && let Err(place) = self.shells.binary_search(&shell)
        {
            self.shells.insert(place, shell);
        }
        let p = model.positions(triangle);
        let normal = (p[1] - p[0]).cross(p[2] - p[0]);
        let out = if measures.triangles.is(triangle, state::INSIDE_OUT) { -1.0 } else { 1.0 };
        self.normal += normal * out;
        let (low, high) = self.bounds.get_or_insert((p[0], p[0]));
        for point in p {
            (*low, *high) = (low.min(point), high.max(point));
        }
        if let Some(q) = model.uvs(triangle) {
            let (low, high) = self.bounds_uv.get_or_insert((q[0], q[0]));
            for uv in q {
                (*low, *high) = (low.min(uv), high.max(uv));
            }
        }
    }

    /// From where its surfaces are seen best.
    pub(super) fn camera(&self, model_radius: f64) -> Option<Viewpoint> {
        let mean = self.normal / (2.0 * self.surface).max(f64::MIN_POSITIVE);
        let direction = if mean.length() < MEAN_NORMAL_MIN { NO_SIDE } else { mean }.normalize();
        self.camera_from(direction, model_radius)
    }

    /// From a side: `direction` is the unit vector from the place to the eye.
    pub(super) fn camera_from(&self, direction: DVec3, model_radius: f64) -> Option<Viewpoint> {
        let (low, high) = self.bounds?;
        let target = (low + high) / 2.0;
        let radius = ((high - low).length() / 2.0).max(model_radius * RADIUS_MIN_SHARE);
        let eye = target + direction * radius * EYE_DISTANCE_RADII;
        (radius > 0.0).then(|| Viewpoint { eye: eye.to_array(), target: target.to_array(), radius })
    }

    pub(super) fn region_uv(&self) -> Option<[f64; 4]> {
        self.bounds_uv.map(|(low, high)| [low.x, low.y, high.x, high.y])
    }

    pub(super) fn line(&self, model: &Model) -> Option<u32> {
        self.first.map(|triangle| model.document.face_lines[model.face_of(triangle)])
    }
}
