//! Two versions of a model: which findings of the previous were fixed, which are still there, and which are new.
//!
//! # Definition
//!
//! A finding is the same in both versions where its kind is, and it is about the same place. Its place is the sphere of its
//! camera (centre c, radius r, never below a share of the model's own), its names are those of the shells it concerns (object,
//! or else group, or else material; each once). Of two findings a and b of one kind:
//!
//! * place = max(0, 1 - |c_a - c_b| / (r_a + r_b)): 1 where the spheres have one centre, 0 where they only touch; times
//!   (1 + cos) / 2 of the angle between the sides they face, where both face one: a finding at the front is not one at
//!   the back;
//! * names = |A ∩ B| / min(|A|, |B|), the overlap coefficient (Szymkiewicz 1934, Simpson 1943; from memory): 1 where a finding
//!   shrank to some of its shells;
//! * likeness = (2 place + names) / 3 where both have names, else place;
//! * without a place on both sides (findings about the whole file, or about many parts), place = 1; with a place on one
//!   side only, likeness 1/2.
//!
//! Below [`LEAST_LIKENESS`] they are two findings. Pairs are taken greedily by falling likeness, each finding once; of equal
//! ones those of the same id come first, then those earlier in both reports, without regard to which version is the previous.
//! So comparing a model with itself leaves everything where it was, and swapping the versions swaps fixed and new.
//!
//! Where the bounding boxes differ (their diagonals by more than [`BOX_TOLERANCE`] of the larger one, or their middles are
//! farther apart than that), the model may have been exported in another unit or place. Both ways are tried then: places in
//! the file's coordinates, and relative to each one's own box: (c - middle) / diagonal, r / diagonal. The way by which more
//! findings are still there counts, or that of the larger sum of likenesses; the file's coordinates where both are alike.
//!
//! Cost: each finding is compared with all of the other version a few times (greedy matching by chains of nearest
//! neighbours, as in clustering: Benzécri 1982), with no memory for pairs: 10,000 findings on both sides are some 10⁸
//! likenesses.
//!
//! Findings are not matched by id, since ids count shells, and fixing one shell moves all numbers behind it. Pairs are
//! greedy rather than the best sum, so that it is clear why a pair is one.

use crate::draw::Viewpoint;
use crate::findings::{Finding, FindingKind, NO_SIDE, Severity, Shell, badness, part_label};
use crate::report::Report;
use crate::review::Decision;
use glam::DVec3;
use serde::{Deserialize, Serialize};
use std::cmp::{Ordering, Reverse};
use std::collections::BTreeSet;

/// Likeness from which two findings are one, 0..1: a moved finding of the same names may be a quarter of a sphere's overlap
/// away, one of other names three quarters (common practice, no source).
pub const LEAST_LIKENESS: f64 = 0.5;
/// Share of the larger diagonal by which boxes may differ and still be one: exporters round, and users move models
/// slightly.
pub const BOX_TOLERANCE: f64 = 0.01;
/// View directions this near to [`NO_SIDE`] are it, 1 - cos: rounding of doubles on their way through JSON.
const SIDE_TOLERANCE: f64 = 1e-9;
/// Sums of likenesses that differ by less are alike.
const SUM_TOLERANCE: f64 = 1e-9;

/// The data of a version that are compared.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Version {
    /// Lowest and highest corner of the model's box, in the file's coordinates; none without positions.
    pub bounds: Option<[[f64; 3]; 2]>,
    /// Its findings, in the report's order.
    pub spots: Vec<Spot>,
}

/// The data of a finding that are compared.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Spot {
    /// As in the report; once in a version.
    pub id: String,
    /// What it is about.
    pub kind: FindingKind,
    /// Its severity.
    pub severity: Severity,
    /// The measured number.
    pub number: Measured,
    /// Value of the limit.
    pub limit: Option<f64>,
    /// Where it is; none for findings about the whole file or about many parts.
    pub place: Option<Sphere>,
    /// Names of its shells.
    pub names: BTreeSet<String>,
}

/// A number of a finding.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Measured {
    /// `None` if not finite.
    pub value: Option<f64>,
    /// As in the report.
    pub unit: String,
    /// For people.
    pub text: String,
}

/// In the file's coordinates.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Sphere {
    /// Its middle.
    pub centre: [f64; 3],
    /// Above 0.
    pub radius: f64,
    /// Where it is looked at from; none where it faces no side more than another.
    #[serde(default)]
    pub eye: Option<[f64; 3]>,
}

impl Sphere {
    /// Of a finding's camera.
    fn of(camera: &Viewpoint) -> Self {
        Self { centre: camera.target, radius: camera.radius, eye: Some(camera.eye) }
    }

    /// The side it faces, a unit vector.
    fn facing(self) -> Option<DVec3> {
        let towards = (DVec3::from_array(self.eye?) - DVec3::from_array(self.centre)).try_normalize()?;
        (towards.dot(NO_SIDE.normalize()) < 1.0 - SIDE_TOLERANCE).then_some(towards)
    }
}

/// A place as it is matched.
#[derive(Clone, Copy)]
struct Spherical {
    centre: DVec3,
    radius: f64,
    facing: Option<DVec3>,
}

/// Fixed, remaining and new findings, by their indices in the reports.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Comparison {
    /// Of the previous version alone, rising.
    pub fixed: Vec<usize>,
    /// In both, in the order of the previous one.
    pub still_there: Vec<Pair>,
    /// Of the new version alone, rising.
    pub new: Vec<usize>,
    /// Whether places were taken relative to each version's own box.
    pub by_box: bool,
}

/// A finding in both versions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Pair {
    /// Place in the previous report.
    pub old: usize,
    /// Place in the newer report.
    pub new: usize,
    /// What became of it.
    pub change: Change,
}

/// What became of a finding that is still there: its severity counts first, then its number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "lowercase")]
pub enum Change {
    /// Better.
    Better,
    /// Worse.
    Worse,
    /// Unchanged: numbers that read the same, or that cannot be compared.
    Same,
}

impl Change {
    /// As in the comparison.
    pub fn text(self) -> &'static str {
        match self {
            Self::Better => "better",
            Self::Worse => "worse",
            Self::Same => "same",
        }
    }
}

impl Version {
    /// Of a report, and the model's box.
    pub fn new(report: &Report, bounds: Option<(DVec3, DVec3)>) -> Self {
        Self {
            bounds: bounds.map(|(low, high)| [low.to_array(), high.to_array()]),
            spots: report.findings.iter().map(|finding| Spot::new(finding, &report.shells)).collect(),
        }
    }

    fn frame(&self) -> Option<Frame> {
        let [low, high] = self.bounds?.map(DVec3::from_array);
        let diagonal = (high - low).length();
        (diagonal > 0.0 && diagonal.is_finite()).then(|| Frame { middle: (low + high) / 2.0, diagonal })
    }

    fn places(&self, frame: Option<Frame>) -> Vec<Option<Spherical>> {
        let Frame { middle, diagonal } = frame.unwrap_or(Frame { middle: DVec3::ZERO, diagonal: 1.0 });
        let place = |sphere: Sphere| Spherical {
            centre: (DVec3::from_array(sphere.centre) - middle) / diagonal,
            radius: sphere.radius / diagonal,
            facing: sphere.facing(),
        };
        self.spots.iter().map(|spot| spot.place.map(place)).collect()
    }
}

impl Spot {
    fn new(finding: &Finding, shells: &[Shell]) -> Self {
        let Finding { id, kind, severity, number, limit, camera, .. } = finding;
        let named = finding.shells.iter().filter_map(|&shell| shells.get(shell as usize).and_then(part_label));
        Self {
            id: id.clone(),
            kind: *kind,
            severity: *severity,
            number: Measured { value: Some(number.value), unit: number.unit.to_owned(), text: number.text.clone() },
            limit: limit.as_ref().map(|limit| limit.value),
            // A finding about many parts has no single place.
            place: camera.as_ref().filter(|_| finding.places.is_empty()).map(Sphere::of),
            names: named.map(str::to_owned).collect(),
        }
    }

    fn badness(&self) -> Option<f64> {
        badness(self.kind, &self.number.unit, self.number.value?, self.limit)
    }
}

#[derive(Clone, Copy)]
struct Frame {
    middle: DVec3,
    diagonal: f64,
}

impl Frame {
    fn differs(self, other: Self) -> bool {
        let most = self.diagonal.max(other.diagonal) * BOX_TOLERANCE;
        (self.diagonal - other.diagonal).abs() > most || self.middle.distance(other.middle) > most
    }
}

/// What became of the findings of `old`.
pub fn compare(old: &Version, new: &Version) -> Comparison {
    let plain = Matching::new(old, new, None);
    let frames = old.frame().zip(new.frame()).filter(|(a, b)| a.differs(*b));
    let boxed = frames.map(|frames| Matching::new(old, new, Some(frames))).filter(|boxed| boxed.is_better(&plain));
    let by_box = boxed.is_some();
    let Matching { pairs, .. } = boxed.unwrap_or(plain);
    let rest = |count: usize, taken: BTreeSet<usize>| (0..count).filter(|at| !taken.contains(at)).collect();
    Comparison {
        fixed: rest(old.spots.len(), pairs.iter().map(|(old, _)| *old).collect()),
        new: rest(new.spots.len(), pairs.iter().map(|(_, new)| *new).collect()),
        still_there: pairs
            .into_iter()
            .map(|(a, b)| Pair { old: a, new: b, change: change(&old.spots[a], &new.spots[b]) })
            .collect(),
        by_box,
    }
}

/// What was decided about findings that are still there, by their ids in the newer report.
pub fn carried(comparison: &Comparison, old: &[Finding], new: &[Finding]) -> Vec<(String, Decision)> {
    let pairs = comparison.still_there.iter();
    pairs.filter_map(|pair| Some((new[pair.new].id.clone(), old[pair.old].decision.clone()?))).collect()
}

fn change(old: &Spot, new: &Spot) -> Change {
    // The worse severity is the lower one.
    let by_number = || {
        if old.number.text == new.number.text || old.number.unit != new.number.unit {
            return Ordering::Equal;
        }
        let badness = old.badness().zip(new.badness());
        badness.map_or(Ordering::Equal, |(old, new)| old.total_cmp(&new))
    };
    match new.severity.cmp(&old.severity).then_with(by_number) {
        Ordering::Less => Change::Worse,
        Ordering::Greater => Change::Better,
        Ordering::Equal => Change::Same,
    }
}

/// Findings that are one.
struct Matching {
    /// In the order of the previous ones.
    pairs: Vec<(usize, usize)>,
    likeness: f64,
}

impl Matching {
    fn new(old: &Version, new: &Version, frames: Option<(Frame, Frame)>) -> Self {
        let (a, b) = frames.unzip();
        let (old_places, new_places) = (old.places(a), new.places(b));
        let like = |i: usize, j: usize| {
            let (a, b) = (&old.spots[i], &new.spots[j]);
            (a.kind == b.kind).then(|| likeness(old_places[i], new_places[j], &a.names, &b.names))
        };
        let rank = |i: usize, j: usize| {
            let likeness = like(i, j).filter(|likeness| *likeness >= LEAST_LIKENESS)?;
            // Bits of positive numbers are in the order of the numbers.
            Some((likeness.to_bits(), old.spots[i].id == new.spots[j].id, Reverse(i.min(j)), Reverse(i.max(j))))
        };
        let pairs = greedy(old.spots.len(), new.spots.len(), rank);
        let likeness = pairs.iter().filter_map(|&(i, j)| like(i, j)).sum();
        Self { pairs, likeness }
    }

    fn is_better(&self, other: &Self) -> bool {
        match self.pairs.len().cmp(&other.pairs.len()) {
            Ordering::Equal => self.likeness > other.likeness + SUM_TOLERANCE,
            order => order.is_gt(),
        }
    }
}

/// Of two findings of one kind, 0..1.
fn likeness(a: Option<Spherical>, b: Option<Spherical>, names_a: &BTreeSet<String>, names_b: &BTreeSet<String>) -> f64 {
    let place = match (a, b) {
        (None, None) => 1.0,
        (None, Some(_)) | (Some(_), None) => return 0.5,
        // `max` gives 0 for a place that is no number.
        (Some(a), Some(b)) => {
            let sides = a.facing.zip(b.facing).map_or(1.0, |(a, b)| (1.0 + a.dot(b)) / 2.0);
            (1.0 - a.centre.distance(b.centre) / (a.radius + b.radius)).max(0.0) * sides
        }
    };
    let least = names_a.len().min(names_b.len());
    if least == 0 {
        return place;
    }
    // No names can make up for this.
    if (2.0 * place + 1.0) / 3.0 < LEAST_LIKENESS {
        return 0.0;
    }
    (2.0 * place + names_a.intersection(names_b).count() as f64 / least as f64) / 3.0
}

/// Pairs by falling rank, each place once, in the order of the previous ones. Ranks of pairs that share a place differ.
///
/// A chain goes from a place to the best free one of the other version, and on from there, until two are each other's best:
/// no pair of a higher rank could take either of them.
fn greedy<Rank: Ord>(old: usize, new: usize, rank: impl Fn(usize, usize) -> Option<Rank>) -> Vec<(usize, usize)> {
    let mut partner: Vec<Option<usize>> = vec![None; old];
    let mut taken = vec![false; new];
    for start in 0..old {
        // Places of the previous and the new version alternate.
        let mut chain = if partner[start].is_none() { vec![start] } else { Vec::new() };
        while let Some(&last) = chain.last() {
            let best = if chain.len() % 2 == 1 {
                (0..new).filter(|&j| !taken[j]).filter_map(|j| Some((rank(last, j)?, j))).max()
            } else {
                (0..old).filter(|&i| partner[i].is_none()).filter_map(|i| Some((rank(i, last)?, i))).max()
            };
            let before = chain.len().checked_sub(2).map(|at| chain[at]);
            match best {
                Some((_, best)) if Some(best) == before => {
                    let (i, j) = if chain.len() % 2 == 1 { (last, best) } else { (best, last) };
                    (partner[i], taken[j]) = (Some(j), true);
                    chain.truncate(chain.len() - 2);
                }
                Some((_, best)) => chain.push(best),
                None => {
                    chain.pop();
                }
            }
        }
    }
    partner.iter().enumerate().filter_map(|(i, j)| Some((i, (*j)?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn spot(id: &str, kind: FindingKind, place: Option<([f64; 3], f64)>, names: &[&str]) -> Spot {
        Spot {
            id: id.to_owned(),
            kind,
            severity: Severity::MustFix,
            number: Measured { value: Some(2.0), unit: "ratio".to_owned(), text: "2.00".to_owned() },
            limit: Some(1.25),
            place: place.map(|(centre, radius)| Sphere { centre, radius, eye: None }),
            names: names.iter().map(|name| (*name).to_owned()).collect(),
        }
    }

    fn stretch(id: &str, x: f64, names: &[&str]) -> Spot {
        spot(id, FindingKind::Stretch, Some(([x, 0.0, 0.0], 1.0)), names)
    }

    fn version(spots: Vec<Spot>) -> Version {
        Version { bounds: Some([[0.0; 3], [10.0, 10.0, 10.0]]), spots }
    }

    fn pairs(comparison: &Comparison) -> Vec<(usize, usize)> {
        comparison.still_there.iter().map(|pair| (pair.old, pair.new)).collect()
    }

    /// The definition without its shortcuts: all pairs, sorted.
    #[cfg(not(target_arch = "wasm32"))]
    fn by_sorting(old: &Version, new: &Version) -> Vec<(usize, usize)> {
        let (a, b) = (old.places(None), new.places(None));
        let mut all = Vec::new();
        for (i, x) in old.spots.iter().enumerate() {
            for (j, y) in new.spots.iter().enumerate().filter(|(_, y)| y.kind == x.kind) {
                let likeness = likeness(a[i], b[j], &x.names, &y.names);
                if likeness >= LEAST_LIKENESS {
                    all.push((likeness, x.id == y.id, Reverse(i.min(j)), Reverse(i.max(j)), i, j));
                }
            }
        }
        all.sort_by(|p, q| q.0.total_cmp(&p.0).then((q.1, q.2, q.3).cmp(&(p.1, p.2, p.3))));
        let (mut olds, mut news, mut pairs) = (BTreeSet::new(), BTreeSet::new(), Vec::new());
        for (.., i, j) in all {
            if !olds.contains(&i) && !news.contains(&j) {
                olds.insert(i);
                news.insert(j);
                pairs.push((i, j));
            }
        }
        pairs.sort_unstable();
        pairs
    }

    #[test]
    fn likeness_matches_its_definition() {
        let names = |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<BTreeSet<String>>();
        let at = |x: f64| Some(Spherical { centre: DVec3::new(x, 0.0, 0.0), radius: 1.0, facing: None });
        let none = names(&[]);
        assert_eq!(likeness(at(0.0), at(1.0), &none, &none), 0.5);
        assert_eq!(likeness(at(0.0), at(2.0), &none, &none), 0.0);
        assert_eq!(likeness(at(0.0), at(9.0), &none, &none), 0.0);
        assert_eq!(likeness(None, None, &none, &none), 1.0);
        assert_eq!(likeness(at(0.0), None, &none, &none), 0.5);
        // One of three names is all of the smaller side.
        assert_eq!(likeness(at(0.0), at(1.0), &names(&["a", "b", "c"]), &names(&["b"])), 2.0 / 3.0);
        assert_eq!(likeness(at(0.0), at(0.0), &names(&["a"]), &names(&["b"])), 2.0 / 3.0);
        assert_eq!(likeness(at(0.0), at(1.0), &names(&["a"]), &none), 0.5);
        assert_eq!(likeness(at(0.0), at(1.8), &names(&["a"]), &names(&["a"])), 0.0, "names cannot compensate for it");
    }

    #[test]
    fn a_fault_moved_from_front_to_back_is_a_new_finding() {
        let drum = |id: &str, z: f64| Spot {
            place: Some(Sphere { centre: [0.0, 0.0, z], radius: 1.0, eye: Some([0.0, 0.0, 4.0 * z]) }),
            ..stretch(id, 0.0, &["drum"])
        };
        let (front, back) = (version(vec![drum("stretch-0", 0.5)]), version(vec![drum("stretch-0", -0.5)]));
        let found = compare(&front, &back);
        assert_eq!((pairs(&found), found.fixed, found.new), (vec![], vec![0], vec![0]));
        assert_eq!(pairs(&compare(&front, &front)), [(0, 0)]);
        // Findings that face no side have the same view direction.
        let no_side = |z: f64| Spot {
            place: Some(Sphere { centre: [0.0, 0.0, z], radius: 1.0, eye: Some((DVec3::Z * z + NO_SIDE).to_array()) }),
            ..stretch("stretch-0", 0.0, &["drum"])
        };
        assert_eq!(pairs(&compare(&front, &version(vec![no_side(0.2)]))), [(0, 0)]);
    }

    #[test]
    fn findings_are_matched_by_kind_place_and_names() {
        let old = version(vec![
            stretch("stretch-0", 0.0, &["drum"]),
            stretch("stretch-1", 5.0, &["lid"]),
            spot("coverage", FindingKind::Coverage, None, &[]),
            spot("folded-2", FindingKind::Folded, Some(([5.0, 0.0, 0.0], 1.0)), &["lid"]),
        ]);
        let new = version(vec![
            // Numbered otherwise, and moved by a quarter of the distance at which the spheres touch.
            stretch("stretch-7", 0.5, &["drum"]),
            spot("flipped-2", FindingKind::Flipped, Some(([5.0, 0.0, 0.0], 1.0)), &["lid"]),
            spot("coverage", FindingKind::Coverage, None, &[]),
        ]);
        let found = compare(&old, &new);
        assert_eq!(pairs(&found), [(0, 0), (2, 2)]);
        assert_eq!((found.fixed, found.new, found.by_box), (vec![1, 3], vec![1], false));
    }

    #[test]
    fn the_likeliest_pair_is_taken_first() {
        let old = version(vec![stretch("stretch-0", 0.0, &[]), stretch("stretch-1", 0.8, &[])]);
        let new = version(vec![stretch("stretch-0", 0.7, &[]), stretch("stretch-1", 9.0, &[])]);
        let found = compare(&old, &new);
        assert_eq!((pairs(&found), found.fixed, found.new), (vec![(1, 0)], vec![0], vec![1]));
    }

    #[test]
    fn a_changed_unit_or_origin_does_not_affect_matching() {
        let old = version(vec![stretch("stretch-0", 2.0, &["drum"]), stretch("stretch-1", 8.0, &["lid"])]);
        let moved = |scale: f64, by: f64| {
            let mut new = old.clone();
            new.bounds = old.bounds.map(|corners| corners.map(|corner| corner.map(|at| at * scale + by)));
            for place in new.spots.iter_mut().filter_map(|spot| spot.place.as_mut()) {
                *place = Sphere {
                    centre: place.centre.map(|at| at * scale + by),
                    radius: place.radius * scale,
                    eye: place.eye,
                };
            }
            new
        };
        for (scale, by) in [(100.0, 0.0), (0.0254, 0.0), (1.0, 40.0), (10.0, -300.0)] {
            let found = compare(&old, &moved(scale, by));
            assert_eq!((pairs(&found), found.by_box), (vec![(0, 0), (1, 1)], true), "{scale} {by}");
        }
        assert!(!compare(&old, &moved(1.005, 0.0)).by_box, "within the tolerance");
        // A part was added: the box grew, and everything else stayed where it was.
        let mut grown = old.clone();
        grown.bounds = Some([[0.0; 3], [10.0, 10.0, 30.0]]);
        let found = compare(&old, &grown);
        assert_eq!((pairs(&found), found.by_box), (vec![(0, 0), (1, 1)], false));
    }

    #[test]
    fn changes_are_judged_by_severity_then_by_number() {
        let of = |kind, severity, value: f64, unit: &str, limit: f64| Spot {
            severity,
            number: Measured { value: Some(value), unit: unit.to_owned(), text: format!("{value:.2}") },
            limit: Some(limit),
            ..spot("x", kind, None, &[])
        };
        let (stop, look) = (Severity::MustFix, Severity::Look);
        for (kind, old, new, unit, limit, expected) in [
            (FindingKind::Stretch, (stop, 3.0), (stop, 2.0), "ratio", 1.25, Change::Better),
            (FindingKind::Stretch, (stop, 2.0), (stop, 3.0), "ratio", 1.25, Change::Worse),
            (FindingKind::Stretch, (look, 2.0), (stop, 1.5), "ratio", 1.25, Change::Worse),
            (FindingKind::Stretch, (stop, 2.001), (stop, 1.999), "ratio", 1.25, Change::Same),
            (FindingKind::Padding, (stop, 1.0), (stop, 3.0), "px", 8.0, Change::Better),
            (FindingKind::Coverage, (look, 0.5), (look, 0.25), "share", 0.6, Change::Worse),
            (FindingKind::Density, (look, 25.0), (look, 200.0), "px_per_unit", 100.0, Change::Better),
            (FindingKind::Density, (look, 100.0), (look, 25.0), "px_per_unit", 100.0, Change::Worse),
            (FindingKind::Density, (look, 1.0), (look, 2.0), "px_per_unit", 0.0, Change::Same),
        ] {
            let [old, new] = [old, new].map(|(severity, value)| of(kind, severity, value, unit, limit));
            assert_eq!(change(&old, &new), expected, "{old:?} {new:?}");
        }
        let share = of(FindingKind::Stretch, stop, 0.1, "share", 0.0);
        assert_eq!(change(&of(FindingKind::Stretch, stop, 3.0, "ratio", 1.25), &share), Change::Same);
    }

    #[cfg(not(target_arch = "wasm32"))]
    mod properties {
        use super::*;
        use proptest::prelude::*;

        fn spots() -> impl Strategy<Value = Version> {
            let kind = prop_oneof![
                3 => Just(FindingKind::Stretch),
                2 => Just(FindingKind::Padding),
                1 => Just(FindingKind::Coverage)
            ];
            // A coarse lattice, so that there are ties.
            let place = proptest::option::of(((0..6u8, 0..3u8, 0..2u8), 1..4u8));
            let names = proptest::collection::btree_set(prop_oneof!["a", "b", "c"], 0..3);
            let spot = (kind, place, names, 0..3u8).prop_map(|(kind, place, names, severity)| Spot {
                severity: [Severity::MustFix, Severity::Look, Severity::Info][severity as usize],
                place: place.map(|((x, y, z), radius)| Sphere {
                    centre: [x, y, z].map(f64::from),
                    radius: f64::from(radius),
                    eye: None,
                }),
                names,
                ..super::spot("", kind, None, &[])
            });
            (proptest::collection::vec(spot, 0..14), 1..4u8).prop_map(|(mut spots, size)| {
                for (number, spot) in spots.iter_mut().enumerate() {
                    spot.id = format!("{}-{number}", spot.kind.code());
                }
                Version { bounds: Some([[0.0; 3], [f64::from(size) * 4.0; 3]]), spots }
            })
        }

        proptest! {
            #[test]
            fn compared_with_itself_every_finding_is_unchanged(version in spots()) {
                let found = compare(&version, &version);
                prop_assert!(found.fixed.is_empty() && found.new.is_empty() && !found.by_box);
                prop_assert!(found.still_there.iter().all(|pair| pair.old == pair.new && pair.change == Change::Same));
            }

            #[test]
            fn swapping_the_versions_swaps_fixed_and_new(old in spots(), new in spots()) {
                let (there, back) = (compare(&old, &new), compare(&new, &old));
                prop_assert_eq!((&there.fixed, &there.new), (&back.new, &back.fixed));
                let mut swapped: Vec<_> = pairs(&back).into_iter().map(|(new, old)| (old, new)).collect();
                swapped.sort_unstable();
                prop_assert_eq!(pairs(&there), swapped);
                prop_assert_eq!(there.by_box, back.by_box);
            }

            #[test]
            fn nearest_neighbour_chains_match_sorting_all_pairs(old in spots(), new in spots()) {
                prop_assert_eq!(Matching::new(&old, &new, None).pairs, by_sorting(&old, &new));
            }

            #[test]
            fn each_finding_is_listed_once(old in spots(), new in spots()) {
                let found = compare(&old, &new);
                let mut olds: Vec<_> = found.still_there.iter().map(|pair| pair.old).chain(found.fixed).collect();
                let mut news: Vec<_> = found.still_there.iter().map(|pair| pair.new).chain(found.new).collect();
                olds.sort_unstable();
                news.sort_unstable();
                prop_assert!(olds.into_iter().eq(0..old.spots.len()) && news.into_iter().eq(0..new.spots.len()));
            }
        }
    }
}
