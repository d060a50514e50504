//! Seams: how much of their length is seen from the front, and how exposed they are.
//!
//! A seam edge is seen at a point when one of its two faces is turned towards the brief's front (orthographic: everybody
//! stands far off) and nothing of the model lies on the way there. `share_in_front` is the share of seam length that is.
//! `exposure` is the mean, over seam length, of the share of the hemisphere above the seam from which it can be seen:
//! directions uniform over solid angle, around the mean of the two faces' unit normals. A seam across a plane or along a
//! ridge has exposure 1, at the foot of a wall 1/2, inside a closed body 0. Front is the winding, or the normals where a
//! part is inside out; a face is seen from its front only, but stops rays on both sides.
//!
//! Stations: the midpoints of equal pieces of every seam edge, or where there are more than [`EDGES_MAX`] edges, of all
//! seam length laid end to end. Directions: Roberts's R2 sequence (M. Roberts 2018, *The unreasonable effectiveness of
//! quasirandom sequences*, on the plastic number), those points that fall in the unit disk, mapped to the hemisphere by
//! Lambert's equal-area projection (Snyder 1987, eq. 24-13); each station takes the next ones of the sequence and turns
//! them with its seam, so that a moved model keeps its figures. Only + - * / and square roots: the same natively and in
//! the browser.
//!
//! *Soft* is a seam along which nothing else shows: the file's shading does not break there (no split normals, no other
//! smoothing group), or, where it says nothing of it or breaks along more than half of all edges, the faces turn by less than
//! [`SOFT_DEG`]. `front_over_diagonal` is the length of soft seams that is seen from the front, over the diagonal of the
//! model's box; unlike a share it does not rise when hidden seams are joined.
//!
//! `sampling_error` is the standard error of `exposure`, from successive differences as for any systematic sample (Wolter
//! 2007, *Introduction to Variance Estimation*, 2nd ed., sec. 8.2): sqrt(sum w_i w_i+1 (e_i - e_i+1)^2 / 2) / sum w. The
//! even spread of the directions makes the true error smaller. Degenerate: seam edges between faces without area are left
//! out; `None` without any other. Cost: `occlusion` once, then at most about [`RAYS`] rays; where the model makes rays so
//! slow that [`EFFORT_MAX`] is reached, the rest of the stations, evenly spread, stay untraced, which `rays` and the error
//! show.

use super::handedness::Handedness;
use super::occlusion::Occluders;
use crate::brief::Brief;
use crate::model::{EdgeKind, Model};
use glam::DVec3;

/// Stations that are wanted: at 4096 a share is known to a fortieth of a percent of seam length.
const STATIONS: usize = 4096;
/// Seam edges of which each gets stations of its own.
const EDGES_MAX: usize = 16_384;
/// Rays into the hemisphere over all stations, about: exposure to a quarter of a percent or better, and a tenth of a second
const RAYS: usize = 32_768;
/// Fewest and most directions of one station.
const DIRECTIONS: (usize, usize) = (4, 64);
/// Directions computed; stations go round.
const DIRECTION_TABLE: usize = 8192;
/// Boxes and triangles looked at before the search stops: some two seconds of a desktop computer of 2020. A count, not a
/// clock, so that everybody gets the same answer.
const EFFORT_MAX: u64 = 200_000_000;
/// How far above the seam its rays start, as a share of the square root of the model's surface: well over the rounding of
/// a file's decimals, so that the faces beside the seam do not stop them; gaps narrower than this are looked through.
const NUDGE: f64 = 1e-5;
/// Cosine of the angle to the front direction from which a face counts as turned to it: below, in half a degree of its
/// edge-on view, it takes a hundredth of its area in the picture. A box seen straight on shows its front face alone.
const FACING_COS: f64 = 0.01;
/// Faces that turn by less than this show no edge, degrees. Common practice, no source.
pub const SOFT_DEG: f64 = 30.0;
/// cos([`SOFT_DEG`]).
const SOFT_COS: f64 = 0.866_025_403_784_438_6;
/// Two unit normals whose sum is shorter than this are opposite: the seam runs along a knife's edge.
const OPPOSITE: f64 = 1e-6;
/// The order in which each 16 stations are traced, so that a cut-off leaves an even spread (bits of 0..16 reversed).
const SPREAD: [usize; 16] = [0, 8, 4, 12, 2, 10, 6, 14, 1, 9, 5, 13, 3, 11, 7, 15];
/// 1/g and 1/g^2 of the plastic number g, g^3 = g + 1.
const R2: [f64; 2] = [0.754_877_666_246_692_8, 0.569_840_290_998_053_2];

/// Visibility of one seam edge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SeamEdge {
    /// Index into [`crate::model::Layout::edges`].
    pub edge: u32,
    /// Units.
    pub length: f64,
    /// Share of it that is seen from the front, 0..1; that of the nearest station before it where it has none of its own.
    pub front: f32,
    /// Mean share of the hemisphere above it from which it is seen, 0..1; likewise.
    pub exposure: f32,
    /// Runs where nothing else shows on the surface.
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
    /// Rays cast.
    pub rays: usize,
}

/// An edge to trace from.
struct Site {
    edge: u32,
    start: DVec3,
    along: DVec3,
    length: f64,
    above: DVec3,
    faces_front: bool,
    soft: bool,
}

/// A point of a site, and the seam length it stands for.
struct Station {
    site: usize,
    at: f64,
    weight: f64,
}

#[derive(Clone, Copy)]
struct Seen {
    front: f64,
    exposure: f64,
}

/// Looks at every seam; handedness comes first, for it settles which side is the front. Without seams no tree is built.
pub fn measure_seams(model: &Model, handedness: &Handedness, surface: f64, brief: &Brief) -> Seams {
    let sites = sites(model, handedness, brief);
    if sites.is_empty() {
        return Seams::default();
    }
    let stations = stations(&sites);
    let count = (RAYS / stations.len()).clamp(DIRECTIONS.0, DIRECTIONS.1);
    let (seen, rays) = trace(model, &sites, &stations, count, surface.sqrt() * NUDGE, brief.seams.front.direction());
    let diagonal = model.bounds().map_or(0.0, |(low, high)| (high - low).length());
    let mut seams = summed(&sites, &stations, &seen, rays);
    let soft: f64 = seams.edges.iter().filter(|edge| edge.soft).fold(0.0, |sum, edge| sum + seen_length(edge));
    seams.front_over_diagonal = (diagonal > 0.0).then(|| soft / diagonal);
    seams
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

fn stations(sites: &[Site]) -> Vec<Station> {
    let total: f64 = sites.iter().map(|site| site.length).sum();
    let mut stations = Vec::new();
    if sites.len() <= EDGES_MAX {
        for (index, site) in sites.iter().enumerate() {
            let count = (site.length / total * STATIONS as f64).ceil().max(1.0);
            stations.extend((0..count as usize).map(|piece| Station {
                site: index,
                at: (piece as f64 + 0.5) / count,
                weight: site.length / count,
            }));
        }
        return stations;
    }
    let spacing = total / EDGES_MAX as f64;
    let (mut passed, mut next) = (0.0, spacing / 2.0);
    for (index, site) in sites.iter().enumerate() {
        while next < passed + site.length && stations.len() < EDGES_MAX {
            stations.push(Station { site: index, at: (next - passed) / site.length, weight: spacing });
            next = (stations.len() as f64 + 0.5) * spacing;
        }
        passed += site.length;
    }
    stations
}

/// What each station sees, `None` where it was not reached, and the number of rays.
fn trace(
    model: &Model,
    sites: &[Site],
    stations: &[Station],
    count: usize,
    nudge: f64,
    front: DVec3,
) -> (Vec<Option<Seen>>, usize) {
    let mut occluders = Occluders::new(model);
    let directions = directions();
    let mut seen = vec![None; stations.len()];
    let mut rays = 0;
    for first in SPREAD {
        for index in (first..stations.len()).step_by(SPREAD.len()) {
            if occluders.effort() > EFFORT_MAX {
                return (seen, rays);
            }
            let station = &stations[index];
            let site = &sites[station.site];
            let origin = site.start + site.along * station.at + site.above * nudge;
            let beside = site.above.cross(site.along).try_normalize();
            let beside = beside.unwrap_or_else(|| site.above.any_orthonormal_vector());
            let along = beside.cross(site.above);
            let open = (0..count)
                .map(|ray| directions[(index * count + ray) % directions.len()])
                .filter(|d| !occluders.blocked(origin, along * d.x + beside * d.y + site.above * d.z))
                .count();
            rays += count;
            let mut in_front = false;
            if site.faces_front {
                in_front = !occluders.blocked(origin, front);
                rays += 1;
            }
            seen[index] = Some(Seen { front: f64::from(u8::from(in_front)), exposure: open as f64 / count as f64 });
        }
    }
    (seen, rays)
}

/// Directions around +z, uniform over the hemisphere's solid angle.
fn directions() -> Vec<DVec3> {
    (1u32..)
        .filter_map(|number| {
            let [x, y] = R2.map(|step| 2.0 * (0.5 + f64::from(number) * step).fract() - 1.0);
            let s = x * x + y * y;
            let wide = (2.0 - s).max(0.0).sqrt();
            (s < 1.0).then(|| DVec3::new(x * wide, y * wide, 1.0 - s))
        })
        .take(DIRECTION_TABLE)
        .collect()
}

fn summed(sites: &[Site], stations: &[Station], seen: &[Option<Seen>], rays: usize) -> Seams {
    let reached = || stations.iter().zip(seen).filter_map(|(station, seen)| Some((station, (*seen)?)));
    let weight: f64 = reached().map(|(station, _)| station.weight).sum();
    let mean =
        |value: fn(Seen) -> f64| reached().map(|(station, seen)| station.weight * value(seen)).sum::<f64>() / weight;
    let steps = reached().zip(reached().skip(1)).map(|((a, from), (b, to))| {
        let step = from.exposure - to.exposure;
        a.weight * b.weight * step * step
    });
    let error = (steps.sum::<f64>() / 2.0).sqrt() / weight;
    let mut edges = Vec::with_capacity(sites.len());
    let mut rest = stations.iter().zip(seen).peekable();
    // The first station is always traced.
    let mut last = seen.first().copied().flatten().unwrap_or(Seen { front: 0.0, exposure: 0.0 });
    for (index, site) in sites.iter().enumerate() {
        let (mut own, mut sums) = (0.0, Seen { front: 0.0, exposure: 0.0 });
        while let Some((_, seen)) = rest.next_if(|(station, _)| station.site == index) {
            if let Some(seen) = seen {
                own += 1.0;
                sums = Seen { front: sums.front + seen.front, exposure: sums.exposure + seen.exposure };
            }
        }
        if own > 0.0 {
            last = Seen { front: sums.front / own, exposure: sums.exposure / own };
        }
        edges.push(SeamEdge {
            edge: site.edge,
            length: site.length,
            front: last.front as f32,
            exposure: last.exposure as f32,
            soft: site.soft,
        });
    }
    Seams {
        edges,
        share_in_front: Some(mean(|seen| seen.front)),
        front_over_diagonal: None,
        exposure: Some(mean(|seen| seen.exposure)),
        sampling_error: Some(error),
        rays,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn directions_are_of_unit_length_and_uniform_over_the_hemisphere() {
        let all = directions();
        assert_eq!(all.len(), DIRECTION_TABLE);
        assert!(all.iter().all(|d| (d.length() - 1.0).abs() < 1e-12 && d.z > 0.0));
        // Archimedes: equal heights of a sphere have equal area; by symmetry so have equal turns around the axis.
        for part in 0..8 {
            let share = |is: &dyn Fn(&DVec3) -> bool| all.iter().filter(|d| is(d)).count() as f64 / all.len() as f64;
            let low = f64::from(part) / 8.0;
            assert!((share(&|d| (low..low + 0.125).contains(&d.z)) - 0.125).abs() < 2e-3);
            let turn = |d: &DVec3| (d.y.atan2(d.x) / std::f64::consts::TAU).rem_euclid(1.0);
            assert!((share(&|d| (low..low + 0.125).contains(&turn(d))) - 0.125).abs() < 2e-3);
        }
        // Any run that a station may take is spread too: its mean is half the axis, as the hemisphere's is. Random ones would
        // be off by sqrt((1/3 + 1/3 + 1/12) / 64) = 0.108 in root mean square.
        for run in all.chunks_exact(64) {
            let mean = run.iter().sum::<DVec3>() / 64.0;
            assert!((mean - DVec3::Z / 2.0).length() < 0.08, "{mean}");
        }
    }

    #[test]
    fn the_cosine_is_that_of_the_angle() {
        assert!((SOFT_COS - SOFT_DEG.to_radians().cos()).abs() < 1e-15);
    }

    #[test]
    fn the_constants_are_powers_of_the_plastic_number() {
        let g = 1.0 / R2[0];
        assert!((g * g * g - g - 1.0).abs() < 1e-14);
        assert!((R2[0] * R2[0] - R2[1]).abs() < 1e-15);
    }

    #[test]
    fn stations_stand_for_all_length_however_many_edges_there_are() {
        for edges in [1usize, 7, 5000, EDGES_MAX, EDGES_MAX + 1, 50_000] {
            let sites: Vec<Site> = (0..edges)
                .map(|edge| Site {
                    edge: edge as u32,
                    start: DVec3::ZERO,
                    along: DVec3::X,
                    length: 1.0 + (edge % 7) as f64,
                    above: DVec3::Z,
                    faces_front: true,
                    soft: true,
                })
                .collect();
            let total: f64 = sites.iter().map(|site| site.length).sum();
            let stations = stations(&sites);
            let sum: f64 = stations.iter().map(|station| station.weight).sum();
            assert!((sum / total - 1.0).abs() < 1e-9, "{edges}: {sum} of {total}");
            assert!(stations.iter().all(|station| (0.0..1.0).contains(&station.at)));
            assert!(stations.is_sorted_by_key(|station| station.site));
            assert!((STATIONS..=STATIONS + EDGES_MAX).contains(&stations.len()));
        }
    }
}
