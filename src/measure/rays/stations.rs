//! Points on seams that rays start from, and what they find.
//!
//! Stations of an edge: the middles of equal pieces, as many as the next power of two of its length over a spacing.
//! Directions: Roberts's R2 sequence (M. Roberts 2018, *The unreasonable effectiveness of quasirandom sequences*, on
//! the plastic number), those points that fall in the unit disk, mapped to the hemisphere by Lambert's equal-area
//! projection (Snyder 1987, eq. 24-13); an edge begins somewhere in the sequence, its stations take the next ones of it
//! one after another and turn them with their seam, so that a moved model keeps its numbers. Only + - * / and square
//! roots: the same natively and in the browser.
//!
//! All this depends on the surface and the edge, so what a station sees stays when other seams come and go: see [`Traced`]. Only
//! the spacing follows from all seams, by powers of two, so that few get many stations and many few: mostly one that is
//! cut or joined leaves it as it is. Where there are more than [`STATIONS_MAX`] edges, every second station is left out, or
//! three of four, and so on.

use super::occlusion::Occluders;
use crate::model::Surface;
use glam::DVec3;

/// Length of the pieces of a seam at most, as a share of the square root of the model's surface, times or over powers of two.
const SPACING: f64 = 1.0 / 128.0;
/// Powers of two that the number of pieces is multiplied with: down to one of each edge.
const FINENESS: std::ops::RangeInclusive<i32> = -(PIECES_MAX.ilog2() as i32)..=13;
/// Most pieces of an edge, before that.
const PIECES_MAX: u32 = 1 << 14;
/// Most stations where edges have several, and where most have one: up to so many, each edge has its own.
const STATIONS: u64 = 8192;
const STATIONS_MAX: u64 = 16_384;
/// Directions of one station: some tens of thousands of rays, exposure to half a percent or better, and a tenth of a second.
const DIRECTIONS: u32 = 4;
/// Directions computed; edges go round.
const DIRECTION_TABLE: usize = 8192;
/// A piece may be so much longer than it should: rounding shall not double their number.
const ROUNDING: f64 = 1e-9;
/// Boxes and triangles looked at before the search stops: some two seconds of a desktop computer of 2020. A count, not
/// a clock, so that results are the same everywhere.
const EFFORT_MAX: u64 = 200_000_000;
/// How far above the seam its rays start, as a share of the square root of the model's surface: well over the rounding of
/// a file's decimals, so that the faces beside the seam do not stop them; gaps narrower than this are looked through.
const NUDGE: f64 = 1e-5;
/// The order in which each 16 stations are traced, so that a cut-off leaves an even spread (bits of 0..16 reversed).
const SPREAD: [usize; 16] = [0, 8, 4, 12, 2, 10, 6, 14, 1, 9, 5, 13, 3, 11, 7, 15];
/// 1/g and 1/g^2 of the plastic number g, g^3 = g + 1.
const R2: [f64; 2] = [0.754_877_666_246_692_8, 0.569_840_290_998_053_2];

/// An edge to trace from.
pub(super) struct Site {
    pub(super) edge: u32,
    /// The corners that the edge starts at in its two faces.
    pub(super) corners: [u32; 2],
    pub(super) start: DVec3,
    pub(super) along: DVec3,
    pub(super) length: f64,
    pub(super) above: DVec3,
    pub(super) faces_front: bool,
    pub(super) soft: bool,
}

/// A point of a site, and the seam length it represents.
pub(super) struct Station {
    pub(super) site: usize,
    pub(super) weight: f64,
    at: f64,
    piece: u32,
    /// How many the edge has.
    pieces: u32,
}

/// What a station saw; names its edge by corners, so that it can be found again under another layout.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Traced {
    corners: [u32; 2],
    piece: u32,
    pieces: u32,
    /// Directions that are free.
    open: u32,
    /// `None` where the seam does not face the front, and no ray was cast.
    front: Option<bool>,
    /// Of the rays into the hemisphere, and to the front.
    effort: [u64; 2],
}

/// Known results of the same surface.
pub(super) struct Known<'a> {
    /// In the order of the edges.
    pub(super) traced: &'a [Traced],
    /// The front was the same.
    pub(super) with_front: bool,
}

impl Known<'_> {
    fn of(&self, corners: [u32; 2], station: &Station) -> Option<Traced> {
        let found =
            self.traced.binary_search_by(|traced| (traced.corners, traced.piece).cmp(&(corners, station.piece)));
        let known = self.traced[found.ok()?];
        (known.pieces == station.pieces).then_some(known)
    }
}

/// What all stations saw.
pub(super) struct Sights {
    /// Of each station; `None` where it was not reached.
    pub(super) seen: Vec<Option<Traced>>,
    /// Rays that this takes.
    pub(super) rays: usize,
    /// Rays that were cast for it now.
    pub(super) cast: usize,
}

impl Traced {
    pub(super) fn exposure(&self) -> f64 {
        f64::from(self.open) / f64::from(DIRECTIONS)
    }

    pub(super) fn front(&self) -> f64 {
        f64::from(u8::from(self.front == Some(true)))
    }
}

pub(super) fn stations(sites: &[Site], surface: f64) -> Vec<Station> {
    let spacing = surface.sqrt() * SPACING;
    let pieces = |site: &Site| {
        let wanted = site.length / spacing * (1.0 - ROUNDING);
        // Without any surface it is infinite.
        (wanted.clamp(1.0, f64::from(PIECES_MAX)).ceil() as u32).next_power_of_two()
    };
    // How many edges have so many pieces, by their logarithm.
    let mut edges = [0u64; PIECES_MAX.ilog2() as usize + 1];
    sites.iter().for_each(|site| edges[pieces(site).ilog2() as usize] += 1);
    let count = |fineness: i32| -> u64 { edges.iter().zip(fineness..).map(|(edges, log)| edges << log.max(0)).sum() };
    let finest = |most: u64| FINENESS.rev().find(|&fineness| count(fineness) <= most);
    let sites_count = sites.len() as u64;
    let most_of_many = if sites_count > STATIONS_MAX { 2 * sites_count } else { STATIONS_MAX };
    let fineness = finest(STATIONS).or_else(|| finest(most_of_many)).unwrap_or(*FINENESS.start());
    let all = count(fineness);
    let mut halvings = 0;
    while all >> halvings > STATIONS_MAX {
        halvings += 1;
    }
    let left_in = u32::MAX >> halvings;
    let mut list = Vec::new();
    for (index, site) in sites.iter().enumerate() {
        let pieces = 1 << (pieces(site).ilog2() as i32 + fineness).max(0);
        let begin = scattered(site.corners[0]);
        // In an order in which every part of the pieces is spread evenly over the edge.
        let rank = |piece: u32| piece.reverse_bits().wrapping_add(begin);
        list.extend((0..pieces).filter(|&piece| rank(piece) <= left_in).map(|piece| Station {
            site: index,
            weight: site.length / f64::from(pieces),
            at: (f64::from(piece) + 0.5) / f64::from(pieces),
            piece,
            pieces,
        }));
    }
    list
}

/// A hash of each corner (the finaliser of MurmurHash3, A. Appleby).
fn scattered(corner: u32) -> u32 {
    let mut bits = corner;
    bits = (bits ^ bits >> 16).wrapping_mul(0x85EB_CA6B);
    bits = (bits ^ bits >> 13).wrapping_mul(0xC2B2_AE35);
    bits ^ bits >> 16
}

/// Casts the rays of every station.
pub(super) fn trace(
    surface: &Surface,
    sites: &[Site],
    stations: &[Station],
    area: f64,
    front: DVec3,
    before: &Known,
) -> Sights {
    let nudge = area.sqrt() * NUDGE;
    let mut occluders = None;
    let directions = directions();
    let mut sights = Sights { seen: vec![None; stations.len()], rays: 0, cast: 0 };
    let mut spent = 0;
    for first in SPREAD {
        for index in (first..stations.len()).step_by(SPREAD.len()) {
            if spent > EFFORT_MAX {
                return sights;
            }
            let station = &stations[index];
            let site = &sites[station.site];
            let known = before.of(site.corners, station);
            let origin = site.start + site.along * station.at + site.above * nudge;
            let mut blocked = |direction: DVec3, effort: &mut u64| {
                let occluders = occluders.get_or_insert_with(|| Occluders::new(surface));
                let already = occluders.effort();
                let blocked = occluders.blocked(origin, direction);
                *effort += occluders.effort() - already;
                sights.cast += 1;
                blocked
            };
            let mut traced = known.unwrap_or_else(|| {
                let beside = site.above.cross(site.along).try_normalize();
                let beside = beside.unwrap_or_else(|| site.above.any_orthonormal_vector());
                let along = beside.cross(site.above);
                let begin = scattered(!site.corners[0]).wrapping_add(station.piece.wrapping_mul(DIRECTIONS));
                let mut effort = 0;
                let open = (0..DIRECTIONS)
                    .map(|ray| directions[begin.wrapping_add(ray) as usize % directions.len()])
                    .filter(|d| !blocked(along * d.x + beside * d.y + site.above * d.z, &mut effort))
                    .count();
                Traced {
                    corners: site.corners,
                    piece: station.piece,
                    pieces: station.pieces,
                    open: open as u32,
                    front: None,
                    effort: [effort, 0],
                }
            });
            if known.is_none() || !before.with_front {
                traced.effort[1] = 0;
                traced.front = site.faces_front.then(|| !blocked(front, &mut traced.effort[1]));
            }
            sights.rays += DIRECTIONS as usize + usize::from(traced.front.is_some());
            spent += traced.effort[0] + traced.effort[1];
            sights.seen[index] = Some(traced);
        }
    }
    sights
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
        // Any run that an edge may take is spread too: its mean is half the axis, as the hemisphere's is. Random ones would
        // be off by sqrt((1/3 + 1/3 + 1/12) / 64) = 0.108 in root mean square.
        for run in all.chunks_exact(64) {
            let mean = run.iter().sum::<DVec3>() / 64.0;
            assert!((mean - DVec3::Z / 2.0).length() < 0.08, "{mean}");
        }
    }

    #[test]
    fn the_constants_are_powers_of_the_plastic_number() {
        let g = 1.0 / R2[0];
        assert!((g * g * g - g - 1.0).abs() < 1e-14);
        assert!((R2[0] * R2[0] - R2[1]).abs() < 1e-15);
    }

    #[test]
    fn stations_represent_the_whole_length_for_any_number_of_edges() {
        for (edges, surface) in
            [(1u32, 1.0), (1, 0.0), (7, 9.0), (500, 9.0), (8000, 1e7), (50_000, 1e9), (500_000, 1.0)]
        {
            let sites: Vec<Site> = (0..edges)
                .map(|edge| Site {
                    edge,
                    corners: [6 * edge, 6 * edge + 3],
                    start: DVec3::ZERO,
                    along: DVec3::X,
                    length: 1.0 + f64::from(edge % 7),
                    above: DVec3::Z,
                    faces_front: true,
                    soft: true,
                })
                .collect();
            let total: f64 = sites.iter().map(|site| site.length).sum();
            let stations = stations(&sites, surface);
            assert!(stations.iter().all(|station| (0.0..1.0).contains(&station.at)));
            assert!(stations.is_sorted_by_key(|station| (station.site, station.piece)));
            assert!((1000..=STATIONS_MAX as usize * 11 / 10).contains(&stations.len()), "{edges}: {}", stations.len());
            let sum: f64 = stations.iter().map(|station| station.weight).sum();
            // Where some are left out, each of the rest represents as many.
            let stood_for = (total / sum).log2().round().exp2();
            assert!(
                (sum * stood_for / total - 1.0).abs() < if stood_for > 1.0 { 0.05 } else { 1e-9 },
                "{edges}: {sum}"
            );
            assert_eq!(stood_for > 1.0, edges > 8000, "{edges}: {sum} of {total}");
        }
    }
}
