//! Holds the measures against the brief. One cause is one finding: what concerns the same object (or group, or material,
//! or where the file names nothing, the same part) is one card, however many faces it has.

use super::place::Place;
use super::report::Shell;
use super::shells::part_label;
use super::{Finding, FindingKind, Number, Severity};
use crate::brief::{Brief, Policy};
use crate::measure::Measures;
use crate::measure::sharing::ShareKind;
use crate::measure::triangles::state;
use crate::model::Model;
use std::collections::BTreeMap;

/// A shell this far off in density stops the model even where the brief gives no target: text and detail are visibly
/// half or twice as fine as next to it (common practice, no source).
const DENSITY_STOP_FACTOR: f64 = 2.0;
/// UV area outside the tile up to this share of all is rounding of the file's decimals, not a place to mend.
const OUTSIDE_TOLERANCE: f64 = 1e-6;
/// A corner this far outside the tile counts as outside, uv: a hundredth of a pixel at 2048.
const OUTSIDE_CORNER_UV: f64 = 5e-6;

/// What one card is about: a named thing, or a part without name.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Subject {
    Named(String),
    Part(u32),
}

pub(super) fn findings(model: &Model, measures: &Measures, brief: &Brief, shells: &[Shell]) -> Vec<Finding> {
    let judge = Judge::new(model, measures, brief, shells);
    let mut findings = Vec::new();
    judge.unmapped(&mut findings);
    judge.handedness(&mut findings);
    judge.stretch(&mut findings);
    judge.density(&mut findings);
    judge.sharing(&mut findings);
    judge.sheet(&mut findings);
    findings.sort_by(|a, b| a.severity.cmp(&b.severity).then(b.harm.total_cmp(&a.harm)).then_with(|| a.id.cmp(&b.id)));
    findings
}

struct Judge<'a> {
    model: &'a Model,
    measures: &'a Measures,
    brief: &'a Brief,
    shells: &'a [Shell],
    subjects: Vec<Subject>,
    surface: f64,
    radius: f64,
}

/// The words of one finding.
struct Words {
    severity: Severity,
    title: String,
    number: Number,
    limit: Option<Number>,
    advice: String,
    harm: f64,
}

impl<'a> Judge<'a> {
    fn new(model: &'a Model, measures: &'a Measures, brief: &'a Brief, shells: &'a [Shell]) -> Self {
        let subjects = shells
            .iter()
            .map(|shell| match part_label(shell) {
                Some(name) => Subject::Named(name.to_owned()),
                None => Subject::Part(shell.part),
            })
            .collect();
        let radius = model.bounds().map_or(0.0, |(low, high)| (high - low).length() / 2.0);
        let surface = measures.triangles.surface.iter().sum();
        Self { model, measures, brief, shells, subjects, surface, radius }
    }

    /// Triangles that pass, by the subject of their shell.
    fn by_subject(&self, passes: impl Fn(usize, usize) -> bool) -> BTreeMap<&Subject, Place> {
        let mut places = BTreeMap::new();
        for triangle in 0..self.model.triangle_count() {
            let Some(shell) = self.model.shell_of(triangle) else { continue };
            if passes(triangle, shell as usize) {
                places.entry(&self.subjects[shell as usize]).or_insert_with(Place::new).add(
                    self.model,
                    self.measures,
                    triangle,
                );
            }
        }
        places
    }

    fn finding(&self, kind: FindingKind, place: &Place, where_: String, words: Words) -> Finding {
        let lowest = place.shells.first();
        Finding {
            id: lowest.map_or_else(|| kind.code().to_owned(), |shell| format!("{}-{shell}", kind.code())),
            kind,
            severity: words.severity,
            title: words.title,
            place: where_,
            number: words.number,
            limit: words.limit,
            advice: words.advice,
            shells: place.shells.iter().copied().collect(),
            triangles: place.triangles,
            line: place.line(self.model),
            lens: kind.lens(),
            camera: place.camera(self.radius),
            region_uv: place.region_uv(),
            harm: words.harm,
        }
    }

    fn share_of_surface(&self, surface: f64) -> f64 {
        if self.surface > 0.0 { surface / self.surface } else { 0.0 }
    }

    fn unmapped(&self, findings: &mut Vec<Finding>) {
        let mut place = Place::new();
        for triangle in 0..self.model.triangle_count() {
            if !self.measures.triangles.is(triangle, state::MAPPED) {
                place.add(self.model, self.measures, triangle);
            }
        }
        if place.triangles == 0 {
            return;
        }
        let faces = self.model.face_has_uv.iter().filter(|has| !**has).count();
        let all = faces == self.model.face_has_uv.len();
        let share = self.share_of_surface(place.surface);
        let line = place.line(self.model).unwrap_or(0);
        findings.push(self.finding(
            FindingKind::Unmapped,
            &place,
            if all {
                "the whole model".into()
            } else {
                format!("{}, the first on line {line}", count_of(faces, "face"))
            },
            Words {
                severity: Severity::Stop,
                title: if all {
                    "The model has no UVs".into()
                } else {
                    format!("{} no UVs", plural_have(faces, "face"))
                },
                number: percent(share),
                limit: None,
                advice: if all {
                    "Project or unfold the model first, and export it with texture coordinates switched on.".into()
                } else {
                    "Map these faces too; a face counts as mapped only if every corner has a texture coordinate.".into()
                },
                harm: share,
            },
        ));
    }

    fn handedness(&self, findings: &mut Vec<Finding>) {
        let over = self.by_subject(|_, shell| self.shells[shell].turned_over);
        for (subject, place) in &over {
            let share = self.share_of_surface(place.surface);
            let name = self.name(subject, place);
            findings.push(self.finding(
                FindingKind::TurnedOver,
                place,
                self.place_words(place, "turned over"),
                Words {
                    severity: Severity::Stop,
                    title: format!("{name} read{} backwards", singular_s(subject, place)),
                    number: percent(share),
                    limit: None,
                    advice: format!(
                        "Turn {} over on the sheet (mirror in u); letters will then read from left to right.",
                        it(place)
                    ),
                    harm: share,
                },
            ));
        }
        let folded = self.by_subject(|triangle, _| self.measures.triangles.is(triangle, state::FOLDED));
        for (subject, place) in &folded {
            findings.push(
                self.finding(
                    FindingKind::Folded,
                    place,
                    self.place_words(place, "folded"),
                    Words {
                        severity: Severity::Stop,
                        title: format!("{} is folded over itself", self.name(subject, place)),
                        number: count_number(place.triangles, "triangle"),
                        limit: None,
                        advice:
                            "Pull the folded corners apart on the sheet, or relax the shell there, until no triangle \
                             lies upside down."
                                .into(),
                        harm: self.share_of_surface(place.surface),
                    },
                ),
            );
        }
        for (part, _) in self.measures.handedness.inside_out.iter().enumerate().filter(|(_, out)| **out) {
            let mut place = Place::new();
            (0..self.model.triangle_count())
                .filter(|&triangle| self.model.part_of(triangle) as usize == part)
                .for_each(|triangle| place.add(self.model, self.measures, triangle));
            let share = self.share_of_surface(place.surface);
            let mut finding = self.finding(
                FindingKind::InsideOut,
                &place,
                format!("part {part}"),
                Words {
                    severity: Severity::Look,
                    title: format!("Part {part} is inside out"),
                    number: percent(share),
                    limit: None,
                    advice: "Its normals point against its winding; its handedness is judged by the normals. Reverse \
                             either the faces or the normals."
                        .into(),
                    harm: share,
                },
            );
            finding.id = format!("inside-out-part-{part}");
            findings.push(finding);
        }
    }

    fn stretch(&self, findings: &mut Vec<Finding>) {
        let limit = self.brief.stretch.max_anisotropy;
        let over = self
            .by_subject(|triangle, _| self.measures.triangles.anisotropy(triangle).is_some_and(|ratio| ratio > limit));
        let regular = self.by_subject_surface();
        for (subject, place) in &over {
            let all = regular.get(subject).copied().unwrap_or(0.0);
            if place.surface <= self.brief.stretch.max_share_over * all {
                continue;
            }
            let worst = place
                .shells
                .iter()
                .filter_map(|&shell| self.measures.shell_stretch[shell as usize].anisotropy_p95)
                .fold(1.0, f64::max);
            findings.push(self.finding(
                FindingKind::Stretch,
                place,
                self.place_words(place, &format!("{} of it over the limit", percent(place.surface / all).text)),
                Words {
                    severity: Severity::Stop,
                    title: format!("{} {} stretched", self.name(subject, place), is_are(subject, place)),
                    number: ratio(worst),
                    limit: Some(ratio(limit)),
                    advice: "Unfold it with a seam where nobody looks, then relax it, until the circles of the grid are \
                             round."
                        .into(),
                    harm: self.share_of_surface(place.surface) * worst.log2().min(4.0),
                },
            ));
        }
        let collapsed = self.by_subject(|triangle, _| {
            self.measures.triangles.is(triangle, state::COLLAPSED_UV)
                && !self.measures.triangles.is(triangle, state::DEGENERATE_3D)
        });
        for (subject, place) in &collapsed {
            let share = self.share_of_surface(place.surface);
            findings.push(
                self.finding(
                    FindingKind::Collapsed,
                    place,
                    self.place_words(place, &count_of(place.triangles, "triangle")),
                    Words {
                        severity: Severity::Look,
                        title: format!(
                            "{} {} surface without texture area",
                            self.name(subject, place),
                            has_have(subject, place)
                        ),
                        number: percent(share),
                        limit: None,
                        advice:
                            "Its UVs fall into a line or a point: one colour is smeared over it. Unfold it, unless a \
                             single colour is what you want there."
                                .into(),
                        harm: share,
                    },
                ),
            );
        }
    }

    /// Regular surface of each subject.
    fn by_subject_surface(&self) -> BTreeMap<&Subject, f64> {
        let mut surface = BTreeMap::new();
        for triangle in 0..self.model.triangle_count() {
            if let (true, Some(shell)) = (self.measures.triangles.is_regular(triangle), self.model.shell_of(triangle)) {
                *surface.entry(&self.subjects[shell as usize]).or_insert(0.0) +=
                    self.measures.triangles.surface[triangle];
            }
        }
        surface
    }

    fn density(&self, findings: &mut Vec<Finding>) {
        let Some(reference) = self.measures.density.reference.filter(|reference| *reference > 0.0) else { return };
        let tolerance = 1.0 + self.brief.density.tolerance_percent / 100.0;
        let factor_of = |shell: usize| {
            let density = self.measures.shell_density[shell];
            density.density.filter(|d| density.has_regular && *d > 0.0).map(|d| d / reference)
        };
        let unit = self.brief.map.unit.symbol();
        for coarse in [true, false] {
            let off = self.by_subject(|_, shell| {
                factor_of(shell).is_some_and(|f| if coarse { f < 1.0 / tolerance } else { f > tolerance })
            });
            for (subject, place) in &off {
                let (surface, uv) = place.shells.iter().fold((0.0, 0.0), |(surface, uv), &shell| {
                    let sums = self.measures.shell_density[shell as usize];
                    (surface + sums.surface, uv + sums.area_uv)
                });
                let pixels = f64::from(self.brief.map.width_px) * f64::from(self.brief.map.height_px);
                let density = (uv * pixels / surface).sqrt();
                let factor = density / reference;
                let off_by = factor.max(1.0 / factor);
                let asked = self.brief.density.target_px_per_unit.is_some();
                let severity = if asked || off_by >= DENSITY_STOP_FACTOR { Severity::Stop } else { Severity::Look };
                let mut finding = self.finding(
                    FindingKind::Density,
                    place,
                    self.place_words(place, if coarse { "too coarse" } else { "too fine" }),
                    Words {
                        severity,
                        title: format!(
                            "{} {} {} the detail",
                            self.name(subject, place),
                            has_have(subject, place),
                            times_words(factor)
                        ),
                        number: Number {
                            value: density,
                            unit: "px_per_unit",
                            text: format!("{} px/{unit}", significant(density)),
                        },
                        limit: Some(Number {
                            value: reference,
                            unit: "px_per_unit",
                            text: format!(
                                "{} px/{unit} ± {} %",
                                significant(reference),
                                significant(self.brief.density.tolerance_percent)
                            ),
                        }),
                        advice: format!(
                            "Scale {} on the sheet by {}, unless another detail than elsewhere is meant there.",
                            it(place),
                            significant(1.0 / factor)
                        ),
                        harm: self.share_of_surface(place.surface) * off_by.log2().min(4.0),
                    },
                );
                finding.id =
                    format!("{}-{}", if coarse { "coarse" } else { "fine" }, place.shells.first().unwrap_or(&0));
                findings.push(finding);
            }
        }
    }

    /// Pairs of one kind that hang together are one cause.
    fn sharing(&self, findings: &mut Vec<Finding>) {
        for (share, kind, policy) in [
            (ShareKind::Crossing, FindingKind::Crossing, self.brief.sharing.crossing),
            (ShareKind::SelfCrossing, FindingKind::SelfCrossing, self.brief.sharing.crossing),
            (ShareKind::Mirrored, FindingKind::Mirrored, self.brief.sharing.mirrored),
            (ShareKind::Stacked, FindingKind::Stacked, self.brief.sharing.stacked),
        ] {
            for (subjects, shells) in self.causes(share) {
                let mut place = Place::new();
                for triangle in 0..self.model.triangle_count() {
                    let Some(shell) = self.model.shell_of(triangle) else { continue };
                    let shares = self.measures.shares(triangle);
                    let here = match share {
                        ShareKind::Mirrored => shares.mirrored,
                        ShareKind::Stacked => shares.stacked,
                        ShareKind::Crossing => shares.crossing,
                        ShareKind::SelfCrossing => shares.self_crossing,
                    };
                    if here && shells.binary_search(&shell).is_ok() {
                        place.add(self.model, self.measures, triangle);
                    }
                }
                if place.triangles == 0 {
                    continue;
                }
                let share_of = self.share_of_surface(place.surface);
                let (severity, allowed) = match policy {
                    Policy::Allow => (Severity::Note, "Allowed by the brief. "),
                    Policy::Look => (Severity::Look, ""),
                    Policy::Stop => (Severity::Stop, ""),
                };
                let who = subjects_words(&subjects, shells.len());
                let (title, advice) = sharing_words(share, &who);
                findings.push(self.finding(
                    kind,
                    &place,
                    self.place_words(&place, share_word(share)),
                    Words {
                        severity,
                        title,
                        number: percent(share_of),
                        limit: None,
                        advice: format!("{allowed}{advice}"),
                        harm: share_of,
                    },
                ));
            }
        }
    }

    /// Connected groups of subjects that share in one way, with the shells that do.
    fn causes(&self, kind: ShareKind) -> Vec<(Vec<&Subject>, Vec<u32>)> {
        let mut groups: Vec<(Vec<&Subject>, Vec<u32>)> = Vec::new();
        for pair in self.measures.sharing.pairs.iter().filter(|pair| pair.kind == kind) {
            let mut merged =
                (vec![&self.subjects[pair.a as usize], &self.subjects[pair.b as usize]], vec![pair.a, pair.b]);
            groups.retain(|group| {
                let joins = merged.0.iter().any(|subject| group.0.contains(subject));
                if joins {
                    merged.0.extend(&group.0);
                    merged.1.extend(&group.1);
                }
                !joins
            });
            merged.0.sort_unstable();
            merged.0.dedup();
            merged.1.sort_unstable();
            merged.1.dedup();
            groups.push(merged);
        }
        groups.sort();
        groups
    }

    fn sheet(&self, findings: &mut Vec<Finding>) {
        let sheet = &self.measures.sheet;
        if let Some(outside) = sheet.outside_share.filter(|share| *share > OUTSIDE_TOLERANCE) {
            let udim = self.brief.map.tiles == crate::brief::Tiles::Udim;
            let (u_end, v_end) = if udim { (10.0, f64::INFINITY) } else { (1.0, 1.0) };
            let beyond = |value: f64, end: f64| value < -OUTSIDE_CORNER_UV || value > end + OUTSIDE_CORNER_UV;
            let mut place = Place::new();
            for triangle in 0..self.model.triangle_count() {
                let uvs = self.model.uvs(triangle);
                if uvs.is_some_and(|uvs| uvs.iter().any(|uv| beyond(uv.x, u_end) || beyond(uv.y, v_end))) {
                    place.add(self.model, self.measures, triangle);
                }
            }
            findings.push(self.finding(
                FindingKind::Outside,
                &place,
                self.place_words(&place, "of the UV area"),
                Words {
                    severity: Severity::Stop,
                    title: if udim { "UVs lie outside the tiles".into() } else { "UVs lie outside the tile".into() },
                    number: percent(outside),
                    limit: None,
                    advice:
                        "Move or scale these shells into the 0 to 1 square, or ask for UDIM tiles in the brief.".into(),
                    harm: outside,
                },
            ));
        }
        let min_share = self.brief.coverage.min_share;
        if sheet.uv_area > 0.0 && sheet.coverage < min_share {
            let mut finding = self.finding(
                FindingKind::Coverage,
                &Place::new(),
                "the whole sheet".into(),
                Words {
                    severity: Severity::Look,
                    title: "Much of the sheet is empty".into(),
                    number: percent(sheet.coverage),
                    limit: Some(Number { text: format!("at least {}", percent(min_share).text), ..percent(min_share) }),
                    advice: "Lay the shells out closer and larger; empty texture is resolution nobody sees.".into(),
                    harm: min_share - sheet.coverage,
                },
            );
            finding.region_uv = Some([0.0, 0.0, 1.0, 1.0]);
            findings.push(finding);
        }
    }

    fn name(&self, subject: &Subject, place: &Place) -> String {
        match subject {
            Subject::Named(name) => capitalised(name),
            Subject::Part(_) if place.shells.len() == 1 => format!("Shell {}", place.shells.first().unwrap_or(&0)),
            Subject::Part(_) => count_of(place.shells.len(), "shell"),
        }
    }

    fn place_words(&self, place: &Place, what: &str) -> String {
        let shells: Vec<String> = place.shells.iter().take(4).map(u32::to_string).collect();
        let words = match place.shells.len() {
            1 => format!("shell {}", shells[0]),
            2..=4 => format!("shells {}", shells.join(", ")),
            count => format!("{count} shells"),
        };
        format!("{words}, {what}")
    }
}

fn sharing_words(kind: ShareKind, who: &str) -> (String, String) {
    match kind {
        ShareKind::Mirrored => (
            format!("{who} share space, mirrored"),
            "Fine for plain surfaces; anything lettered or lopsided would come out doubled, and backwards on one side. \
             Give it a place of its own if it carries any."
                .into(),
        ),
        ShareKind::Stacked => (
            format!("{who} lie exactly on one another"),
            "Whatever is painted on one appears on the other. Move one aside unless that is meant.".into(),
        ),
        ShareKind::Crossing => (
            format!("{who} overlap"),
            "Paint on one would show on the other. Move them apart on the sheet.".into(),
        ),
        ShareKind::SelfCrossing => (
            format!("{who} overlap within a shell"),
            "The shell lies over itself. Cut it where it meets itself, or relax it until it lies flat.".into(),
        ),
    }
}

fn share_word(kind: ShareKind) -> &'static str {
    match kind {
        ShareKind::Mirrored => "mirrored",
        ShareKind::Stacked => "stacked",
        ShareKind::Crossing => "crossing",
        ShareKind::SelfCrossing => "crossing themselves",
    }
}

fn subjects_words(subjects: &[&Subject], shells: usize) -> String {
    let names: Vec<&str> = subjects
        .iter()
        .filter_map(|subject| match subject {
            Subject::Named(name) => Some(name.as_str()),
            Subject::Part(_) => None,
        })
        .collect();
    match names[..] {
        [one] if shells == 1 => format!("Places of {one}"),
        [one] => format!("{shells} shells of {one}"),
        [a, b] => format!("{} and {b}", capitalised(a)),
        [a, b, c] => format!("{}, {b} and {c}", capitalised(a)),
        [a, ..] => format!("{} and {} more", capitalised(a), names.len() - 1),
        [] if shells == 1 => "Places".into(),
        [] => count_of(shells, "shell"),
    }
}

fn capitalised(name: &str) -> String {
    let mut letters = name.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

fn is_one(subject: &Subject, place: &Place) -> bool {
    matches!(subject, Subject::Named(_)) || place.shells.len() == 1
}

fn is_are(subject: &Subject, place: &Place) -> &'static str {
    if is_one(subject, place) { "is" } else { "are" }
}

fn has_have(subject: &Subject, place: &Place) -> &'static str {
    if is_one(subject, place) { "has" } else { "have" }
}

fn singular_s(subject: &Subject, place: &Place) -> &'static str {
    if is_one(subject, place) { "s" } else { "" }
}

fn it(place: &Place) -> &'static str {
    if place.shells.len() == 1 { "the shell" } else { "the shells" }
}

fn count_of(count: usize, thing: &str) -> String {
    if count == 1 { format!("1 {thing}") } else { format!("{count} {thing}s") }
}

fn plural_have(count: usize, thing: &str) -> String {
    format!("{} {}", count_of(count, thing), if count == 1 { "has" } else { "have" })
}

fn count_number(count: usize, thing: &str) -> Number {
    Number { value: count as f64, unit: "count", text: count_of(count, thing) }
}

fn percent(share: f64) -> Number {
    let text = if share > 0.0 && share < 0.0005 {
        "under 0.1 %".into()
    } else if share < 1.0 && share > 0.9995 {
        "over 99.9 %".into()
    } else {
        format!("{:.1} %", share * 100.0)
    };
    Number { value: share, unit: "share", text }
}

fn ratio(value: f64) -> Number {
    Number { value, unit: "ratio", text: format!("{value:.2}") }
}

fn significant(value: f64) -> String {
    let digits = if value >= 100.0 {
        0
    } else if value >= 10.0 {
        1
    } else {
        2
    };
    format!("{value:.digits$}")
}

fn times_words(factor: f64) -> String {
    let near = |value: f64| (factor / value - 1.0).abs() < 0.04;
    match () {
        () if near(0.25) => "a quarter of".into(),
        () if near(1.0 / 3.0) => "a third of".into(),
        () if near(0.5) => "half".into(),
        () if near(2.0) => "twice".into(),
        () if factor < 1.0 => format!("only {:.0} % of", factor * 100.0),
        () => format!("{factor:.1} times"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_and_nearly_whole_shares_are_not_rounded_away() {
        assert_eq!(percent(0.0).text, "0.0 %");
        assert_eq!(percent(1e-7).text, "under 0.1 %");
        assert_eq!(percent(0.99999).text, "over 99.9 %");
        assert_eq!(percent(0.182).text, "18.2 %");
    }
}
