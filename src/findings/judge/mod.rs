//! Checks the measures against the brief. One cause is one finding: what concerns the same object (or group, or
//! material, or where the file names nothing, the same part) is one finding, however many faces it has.
//!
//! So a mirrored half is judged by the brief's rule on mirroring and is not reported as flipped as well. Nor is a part
//! that the brief wants safe for text, whose finding says that it is flipped; nor the density of a stretched shell,
//! which unwrapping changes, while it is off by less than a factor of two: one info says of how much that is so.

mod alike;
mod cause;
mod density;
mod file;
mod handedness;
mod judged;
mod padding;
mod seams;
mod sharing;
mod sheet;
mod sheets;
mod stretch;
mod text_safety;
mod tilt;
pub(crate) mod words;

pub(crate) use judged::not_judged;

use super::at_fault::{AtFault, surface_at_fault};
use super::place::{Place, Runs};
use super::shells::part_label;
use super::{Cause, Finding, FindingKind, Number, Severity, Shell};
use crate::brief::{Brief, Tiles};
use crate::measure::Measures;
use crate::model::Model;
use crate::util::isolate::isolated;
use crate::util::packed;
use words::count_of;

/// The subject of a finding: a named thing, or a part without name.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Subject {
    Named(String),
    Part(u32),
}

/// What the measures mean.
pub(crate) struct Judged {
    pub(crate) findings: Vec<Finding>,
    pub(crate) cause: Option<Cause>,
    pub(crate) at_fault: AtFault,
}

pub(crate) fn judged(model: &Model, measures: &Measures, brief: &Brief, shells: &[Shell]) -> Judged {
    let judge = Judge::new(model, measures, brief, shells);
    let mut findings = Vec::new();
    judge.file(&mut findings);
    judge.unmapped(&mut findings);
    judge.handedness(&mut findings);
    judge.stretch(&mut findings);
    judge.density(&mut findings);
    if brief.map.tiles.is_layout() {
        judge.sharing(&mut findings);
    }
    judge.sheets(&mut findings);
    judge.sheet(&mut findings);
    judge.padding(&mut findings);
    judge.tilt(&mut findings);
    judge.text_safety(&mut findings);
    judge.seams(&mut findings);
    for finding in &mut findings {
        if !finding.kind.is_layout() {
            finding.harm = judge.share_of_surface(surface_at_fault(measures, finding));
        }
    }
    let cause = judge.cause(&mut findings);
    let mut findings = packed::ordered(judge.alike(findings), |a, b| {
        let order = a.follows_cause.cmp(&b.follows_cause).then(a.severity.cmp(&b.severity));
        order.then(b.harm.total_cmp(&a.harm)).then_with(|| a.id.cmp(&b.id))
    });
    let at_fault = AtFault::new(measures, &mut findings);
    Judged { findings, cause, at_fault }
}

/// Largest side of a shell on a single spot of a palette, px: a texel, which has one colour. By definition.
const SPOT_PX: f64 = 1.0;

fn is_spot(shell: &Shell, measures: &Measures) -> bool {
    let map = measures.map_of_sheet(shell.sheet as usize);
    shell.bounds_uv.is_some_and(|[u0, v0, u1, v1]| {
        (u1 - u0) * f64::from(map.width_px) <= SPOT_PX && (v1 - v0) * f64::from(map.height_px) <= SPOT_PX
    })
}

struct Judge<'a> {
    model: &'a Model,
    measures: &'a Measures,
    brief: &'a Brief,
    shells: &'a [Shell],
    /// Of each shell.
    subjects: Vec<Subject>,
    /// Of each shell, the first one with the same subject: a million triangles are summed up by it.
    first_shell: Vec<usize>,
    /// Of each shell, whether it lies on a single spot and is meant to: on a palette, within a texel.
    is_spot: Vec<bool>,
    surface: f64,
    radius: f64,
}

/// The texts of one finding.
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
        let subjects: Vec<Subject> = shells
            .iter()
            .map(|shell| match part_label(shell) {
                Some(name) => Subject::Named(isolated(name).into_owned()),
                None => Subject::Part(shell.part),
            })
            .collect();
        let by_subject = packed::ordered((0..subjects.len()).collect(), |&a, &b| subjects[a].cmp(&subjects[b]));
        let mut first_shell = vec![0; subjects.len()];
        for same in by_subject.chunk_by(|&a, &b| subjects[a] == subjects[b]) {
            same.iter().for_each(|&shell| first_shell[shell] = same[0]);
        }
        let radius = model.bounds().map_or(0.0, |(low, high)| (high - low).length() / 2.0);
        let surface = measures.triangles.surface.iter().sum();
        let is_palette = brief.map.tiles == Tiles::Palette;
        let is_spot = shells.iter().map(|shell| is_palette && is_spot(shell, measures)).collect();
        Self { model, measures, brief, shells, subjects, first_shell, is_spot, surface, radius }
    }

    /// The sheet that a triangle lies on.
    fn sheet_of(&self, triangle: usize) -> usize {
        self.measures.sheets.of_face(self.model.face_of(triangle))
    }

    /// A finding that is about one sheet: where there are several, it says which.
    fn on_sheet(&self, sheet: usize, finding: Finding) -> Finding {
        if !self.measures.sheets.are_several() {
            return Finding { sheet: Some(sheet as u32), ..finding };
        }
        let name = &self.measures.sheets.list[sheet].name;
        let place = ["sheet ", &isolated(name), ": ", &finding.place].concat();
        Finding { id: [&finding.id, "-", name].concat(), place, sheet: Some(sheet as u32), ..finding }
    }

    /// Triangles summed up by the number, below `count`, that `number_of` gives them. One pass.
    fn places(&self, count: usize, number_of: &dyn Fn(usize) -> Option<usize>) -> Vec<Place> {
        let mut places = vec![Place::new(); count];
        for triangle in 0..self.model.triangle_count() {
            if let Some(number) = number_of(triangle) {
                places[number].add(self.model, self.measures, triangle);
            }
        }
        places
    }

    /// Triangles that pass, summed up.
    fn place(&self, passes: &dyn Fn(usize) -> bool) -> Place {
        self.places(1, &|triangle| passes(triangle).then_some(0)).remove(0)
    }

    /// Triangles summed up by the number of their shell.
    fn places_of_shells(&self, count: usize, number_of: &[Option<usize>]) -> Vec<Place> {
        self.places(count, &|triangle| number_of[self.model.shell_of(triangle)? as usize])
    }

    /// Triangles that pass, of the shells that do, by the subject of their shell, in the order of the subjects. Linear, and
    /// free where no shell passes.
    fn by_subject(
        &self,
        shell_passes: &dyn Fn(usize) -> bool,
        passes: &dyn Fn(usize) -> bool,
    ) -> Vec<(&Subject, Place)> {
        let mut subjects = Vec::new();
        let mut number_of_first = vec![None; self.shells.len()];
        let mut number_of = vec![None; self.shells.len()];
        for shell in (0..self.shells.len()).filter(|&shell| shell_passes(shell)) {
            let number = *number_of_first[self.first_shell[shell]].get_or_insert_with(|| {
                subjects.push(&self.subjects[shell]);
                subjects.len() - 1
            });
            number_of[shell] = Some(number);
        }
        if subjects.is_empty() {
            return Vec::new();
        }
        let number = |triangle| number_of[self.model.shell_of(triangle)? as usize].filter(|_| passes(triangle));
        let places = self.places(subjects.len(), &number);
        let found = subjects.into_iter().zip(places).filter(|(_, place)| place.triangles > 0).collect();
        packed::ordered(found, |a, b| a.0.cmp(b.0))
    }

    fn finding(&self, kind: FindingKind, place: &Place, where_: String, words: Words) -> Finding {
        let lowest = place.shells.first();
        let sheet = lowest.map(|&shell| self.shells[shell as usize].sheet);
        let on_one = place.shells.iter().all(|&shell| Some(self.shells[shell as usize].sheet) == sheet);
        Finding {
            id: lowest.map_or_else(|| kind.code().to_owned(), |&shell| self.id(kind.code(), shell)),
            kind,
            severity: words.severity,
            title: words.title,
            place: where_,
            number: words.number,
            limit: words.limit,
            advice: words.advice,
            shells: place.shells.clone(),
            triangles: place.triangles,
            line: place.line(self.model),
            lens: kind.lens(),
            sheet: sheet.filter(|_| on_one),
            camera: place.camera(self.radius),
            region_uv: place.region_uv(),
            harm: words.harm,
            follows_cause: false,
            places: Vec::new(),
            decision: None,
            runs: if kind.is_layout() { Runs::default() } else { place.runs.clone() },
        }
    }

    /// The id of a finding of this kind, by its lowest shell.
    fn id(&self, kind: &str, shell: u32) -> String {
        format!("{kind}-{}", self.shells[shell as usize].key)
    }

    fn share_of_surface(&self, surface: f64) -> f64 {
        if self.surface > 0.0 { surface / self.surface } else { 0.0 }
    }

    fn name(&self, subject: &Subject, place: &Place) -> String {
        match subject {
            Subject::Named(name) => name.clone(),
            Subject::Part(_) if place.shells.len() == 1 => format!("Shell {}", place.shells.first().unwrap_or(&0)),
            Subject::Part(_) => count_of(place.shells.len(), "shell"),
        }
    }

    /// A shell by its number, and by its group if the title does not name it.
    fn shell_words(&self, shell: &Shell) -> String {
        match &shell.group {
            Some(group) if part_label(shell) != Some(group) => format!("{}, shell {}", isolated(group), shell.id),
            _ => format!("shell {}", shell.id),
        }
    }

    fn place_words(&self, place: &Place, what: &str) -> String {
        let shells: Vec<String> = place.shells.iter().take(4).map(u32::to_string).collect();
        let words = match place.shells.len() {
            1 => self.shell_words(&self.shells[place.shells.first().map_or(0, |&shell| shell as usize)]),
            2..=4 => format!("shells {}", shells.join(", ")),
            count => format!("{count} shells"),
        };
        format!("{words}, {what}")
    }
}
