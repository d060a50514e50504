//! Seams: how much of their length is seen from the front, and how exposed they are.
//!
//! A seam edge is seen at a point when one of its two faces is turned towards the brief's front (orthographic: seen
//! from far away) and nothing of the model lies on the way there. `share_in_front` is the share of seam length that is.
//! `exposure` is the mean, over seam length, of the share of the hemisphere above the seam from which it can be seen:
//! directions uniform over solid angle, around the mean of the two faces' unit normals. A seam across a plane or along
//! a ridge has exposure 1, at the foot of a wall 1/2, inside a closed body 0. Front is the winding, or the normals
//! where a part is inside out; a face is seen from its front only, but stops rays on both sides.
//!
//! Where it is looked at from, and in which directions: `stations`.
//!
//! *Soft* is a seam that is not on a visible edge: the file's shading does not break there (no split normals, no other
//! smoothing group), or, where the file does not say or breaks along more than half of all edges, the faces turn by
//! less than [`SOFT_DEG`]. `front_over_diagonal` is the length of soft seams that is seen from the front, over the
//! diagonal of the model's box; unlike a share it does not rise when hidden seams are joined.
//!
//! `sampling_error` is the standard error of `exposure`, from successive differences as for any systematic sample
//! (Wolter 2007, *Introduction to Variance Estimation*, 2nd ed., sec. 8.2): sqrt(sum w_i w_i+1 (e_i - e_i+1)^2 / 2) /
//! sum w. The even spread of the directions makes the true error smaller. Degenerate: seam edges between faces without
//! area are left out; `None` without any other. Cost: `occlusion` once, then some ten thousand rays; where the model
//! makes rays so slow that a counted effort is reached, the rest of the stations, evenly spread, stay untraced, which
//! `rays` and the error show. What was seen before of the same edges, under another layout of the surface, is not
//! traced again.
//!
//! A seam is in front only where a face beside it is. Looked at straight along an axis, as most boxes are, a side face
//! has no area in the picture, and its far edge, right beside the near one, would count as seen.

use super::stations::{Known, Sights, Site, Station, Traced, stations, trace};
use crate::brief::Brief;
use crate::measure::flat::handedness::Handedness;
use crate::model::{EdgeKind, Model};
use glam::DVec3;

/// Cosine of the angle to the front direction from which a face counts as turned to it: below, in half a degree of its
/// edge-on view, it takes a hundredth of its area in the picture. A box seen straight on shows its front face alone.
const FACING_COS: f64 = 0.01;
/// Faces that turn by less than this show no edge, degrees. Common practice, no source.
pub const SOFT_DEG: f64 = 30.0;
/// cos([`SOFT_DEG`]).
const SOFT_COS: f64 = 0.866_025_403_784_438_6;
/// Two unit normals whose sum is shorter than this are opposite: the seam runs along a knife's edge.
const OPPOSITE: f64 = 1e-6;
/// Visibility of one seam edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeamEdge {
    /// Index into [`crate::model::Layout::edges`].
    pub edge: u32,
    /// Units.
    pub length: f64,
    /// Share of it that is seen from the front, 0..1; that of the nearest station before it where it has none.
    pub front: f32,
    /// Mean share of the hemisphere above it from which it is seen, 0..1; likewise.
    pub exposure: f32,
    /// Not on a visible edge of the surface.
    pub soft: bool,
}

/// Visibility of all seams.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Seams {
    /// Seam edges with a side to look at, in the order of the layout's edges.
    pub edges: Vec<SeamEdge>,
    /// Share of seam length seen from the front, 0..1; `None` without seams.
    pub share_in_front: Option<f64>,
    /// Length of soft seams seen from there, over the diagonal of the model's box; `None` without seams.
    pub front_over_diagonal: Option<f64>,
    /// Mean share of the hemisphere above the seams from which they are seen, 0..1; `None` without seams.
    pub exposure: Option<f64>,
    /// Standard error of `exposure`; `None` without it.
    pub sampling_error: Option<f64>,
    /// Rays that this takes.
    pub rays: usize,
    /// Those of them that were cast now: others are known from an earlier layout.
    pub cast: usize,
    /// What was seen, and with which front.
    traced: Vec<Traced>,
    front: DVec3,
}

/// Traces every seam; handedness comes first, since it decides which side is the front. `before`: what was seen of
/// another layout of the same surface, or nothing. Without seams, or with none that is new, no tree is built.
pub fn measure_seams(model: &Model, handedness: &Handedness, surface: f64, brief: &Brief, before: &Seams) -> Seams {
    let sites = sites(model, handedness, brief);
    let front = brief.seams.front.direction();
    if sites.is_empty() {
        return Seams::default();
    }
    let stations = stations(&sites, surface);
    let known = Known { traced: &before.traced, with_front: before.front == front };
    let sights = trace(model, &sites, &stations, surface, front, &known);
    let diagonal = model.bounds().map_or(0.0, |(low, high)| (high - low).length());
    let mut seams = Seams { front, ..summed(&sites, &stations, &sights) };
    let soft: f64 = seams.edges.iter().filter(|edge| edge.soft).fold(0.0, |sum, edge| sum + seen_length(edge));
    seams.front_over_diagonal = (diagonal > 0.0).then(|| soft / diagonal);
    seams
}

impl Seams {
    /// Not part of the result, but reused for another layout.
    pub(in crate::measure) fn of_no_layout(self) -> Self {
        Self { traced: self.traced, front: self.front, ..Self::default() }
    }
}

/// Length of a seam edge that is seen from the front, units.
pub fn seen_length(edge: &SeamEdge) -> f64 {
    edge.length * f64::from(edge.front)
}

fn sites(model: &Model, handedness: &Handedness, brief: &Brief) -> Vec<Site> {
    let document = &model.document;
    let position =
        |corner: u32| DVec3::from_array(document.positions[document.corners[corner as usize].position.0 as usize]);
    let front = brief.seams.front.direction();
    let site = |(index, edge): (usize, &crate::model::Edge)| {
        let other = edge.other.filter(|_| edge.kind == EdgeKind::Seam)?;
        let (start, along) = (position(edge.corner), position(model.next_corner(edge.corner)) - position(edge.corner));
        let raw =
            [edge.corner, other].map(|corner| model.face_of_corner(corner)).map(|face| (face, model.face_normal(face)));
        let [a, b] = raw.map(|(face, normal)| {
            let out = handedness.inside_out[model.face_part[face] as usize];
            if out { -normal } else { normal }
        });
        let sum = a + b;
        // Faces that run the same way along an edge have their fronts on opposite sides.
        let same_way = position(other) == start && position(model.next_corner(other)) != start;
        let turn = if same_way { -raw[0].1.dot(raw[1].1) } else { raw[0].1.dot(raw[1].1) };
        let soft = match &document.hard_seams {
            Some(hard) => hard.binary_search(&edge.corner).is_err(),
            None => {
                let split = edge.split.filter(|_| !model.mostly_split);
                split.map_or(turn > SOFT_COS, |split| !split)
            }
        };
        // Away from the first face, across the edge.
        let above = if sum.length() > OPPOSITE { sum } else { along.cross(raw[0].1) };
        Some(Site {
            edge: index as u32,
            corners: [edge.corner, other],
            start,
            along,
            length: along.length(),
            above: above.try_normalize()?,
            faces_front: a.dot(front).max(b.dot(front)) > FACING_COS,
            soft,
        })
    };
    model.layout.edges.iter().enumerate().filter_map(site).filter(|site| site.length > 0.0).collect()
}

fn summed(sites: &[Site], stations: &[Station], sights: &Sights) -> Seams {
    let reached = || stations.iter().zip(&sights.seen).filter_map(|(station, seen)| Some((station, (*seen)?)));
    let weight: f64 = reached().map(|(station, _)| station.weight).sum();
    let mean = |value: fn(&Traced) -> f64| {
        reached().map(|(station, seen)| station.weight * value(&seen)).sum::<f64>() / weight
    };
    let steps = reached().zip(reached().skip(1)).map(|((a, from), (b, to))| {
        let step = from.exposure() - to.exposure();
        a.weight * b.weight * step * step
    });
    let error = (steps.sum::<f64>() / 2.0).sqrt() / weight;
    let mut edges = Vec::with_capacity(sites.len());
    let mut rest = stations.iter().zip(&sights.seen).peekable();
    let means = |sums: [f64; 2], count: f64| sums.map(|sum| (sum / count) as f32);
    // The first station is always traced.
    let mut last = sights.seen.first().copied().flatten().map_or([0.0; 2], |seen| means(of(&seen), 1.0));
    for (index, site) in sites.iter().enumerate() {
        let (mut own, mut sums) = (0.0, [0.0; 2]);
        while let Some((_, seen)) = rest.next_if(|(station, _)| station.site == index) {
            if let Some(seen) = seen {
                own += 1.0;
                sums = [sums[0] + of(seen)[0], sums[1] + of(seen)[1]];
            }
        }
        if own > 0.0 {
            last = means(sums, own);
        }
        let [front, exposure] = last;
        edges.push(SeamEdge { edge: site.edge, length: site.length, front, exposure, soft: site.soft });
    }
    Seams {
        edges,
        share_in_front: Some(mean(Traced::front)),
        exposure: Some(mean(Traced::exposure)),
        sampling_error: Some(error),
        rays: sights.rays,
        cast: sights.cast,
        traced: reached().map(|(_, seen)| seen).collect(),
        ..Seams::default()
    }
}

fn of(seen: &Traced) -> [f64; 2] {
    [seen.front(), seen.exposure()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_cosine_is_that_of_the_angle() {
        assert!((SOFT_COS - SOFT_DEG.to_radians().cos()).abs() < 1e-15);
    }
}
