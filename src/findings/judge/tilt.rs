//! Shells that are sideways or upside down, and those turned against others of their shape.

use super::words::{count_of, it, percent};
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Subject, Words};
use crate::measure::flat::tilt::{Stance, Turned, UPRIGHT_DEG, apart};

/// From this share of a subject's surface the whole subject is named: sums of doubles differ in their last digits.
const NEARLY_ALL: f64 = 1.0 - 1e-9;

impl Judge<'_> {
    /// One finding per subject and kind: shells turned against their equals, and others that are not upright, sideways
    /// and upside-down ones together.
    pub(super) fn tilt(&self, findings: &mut Vec<Finding>) {
        let tilt = &self.measures.tilt;
        let mut odd: Vec<Option<&Turned>> = vec![None; self.shells.len()];
        tilt.turned.iter().for_each(|turned| odd[turned.shell as usize] = Some(turned));
        let surface_of = self.surface_by_first_shell();
        for (subject, place) in &self.by_subject(&|shell| odd[shell].is_some(), &|_| true) {
            let who = self.who_of_subject(subject, place, &surface_of);
            findings.extend(self.turned(&who, place, &odd));
        }
        let is_down = |shell: usize| {
            odd[shell].is_none()
                && tilt.shells[shell]
                    .is_some_and(|tilt| matches!(Stance::of(tilt), Stance::Sideways | Stance::UpsideDown))
        };
        for (subject, place) in &self.by_subject(&is_down, &|_| true) {
            let tilts: Vec<f64> = place.shells.iter().filter_map(|&shell| tilt.shells[shell as usize]).collect();
            let down = tilts.iter().filter(|tilt| Stance::of(**tilt) == Stance::UpsideDown).count();
            let worst = tilts.iter().fold(0.0, |worst: f64, &tilt| if tilt.abs() > worst.abs() { tilt } else { worst });
            let how = match (down, tilts.len() - down) {
                (_, 0) => stance_words(Stance::UpsideDown).to_owned(),
                (0, _) => stance_words(Stance::Sideways).to_owned(),
                (down, sideways) => format!("{down} upside down, {sideways} sideways"),
            };
            let share = self.share_of_surface(place.surface);
            findings.push(
                self.finding(
                    FindingKind::Tilt,
                    place,
                    self.place_words(place, &format!("{} of the surface", percent(share).text)),
                    Words {
                        severity: Severity::Info,
                        title: format!("{}: not upright, {how}", self.who_of_subject(subject, place, &surface_of)),
                        number: degrees(worst),
                        limit: Some(Number { text: format!("up to {} upright", degrees(UPRIGHT_DEG).text), ..degrees(UPRIGHT_DEG) }),
                        advice: format!(
                            "Letters, and anything else with an up and a down, would be turned the same way. Turn {} upright on \
                             the sheet if there are any.", it(place)),
                        harm: share,
                    },
                ),
            );
        }
    }

    /// `place`: shells of one subject that are turned against their equals.
    fn turned(&self, who: &str, place: &Place, odd: &[Option<&Turned>]) -> Option<Finding> {
        let angle = |shell: usize| Some(apart(self.measures.tilt.shells[shell]?, odd[shell]?.usual_deg));
        let by = |shell: usize| angle(shell).unwrap_or(0.0);
        let first = *place.shells.first()? as usize;
        let worst =
            place.shells.iter().fold(first, |worst, &s| if by(s as usize) > by(worst) { s as usize } else { worst });
        let (turned, tilt) = (odd[worst]?, self.measures.tilt.shells[worst]?);
        let share = self.share_of_surface(place.surface);
        let (own, usual) = (stance_words(Stance::of(tilt)), stance_words(Stance::of(turned.usual_deg)));
        Some(self.finding(
            FindingKind::Tilt,
            place,
            self.place_words(place, &format!("{own}; the equal ones are {usual}")),
            Words {
                severity: Severity::Look,
                title: match place.shells.len() {
                    1 => format!("{who}: turned against {}", count_of(turned.equals, "equal shell")),
                    _ => format!("{who}: turned against others of their shape"),
                },
                number: degrees(by(worst)),
                limit: Some(Number { text: format!("up to {}", degrees(UPRIGHT_DEG).text), ..degrees(UPRIGHT_DEG) }),
                advice: format!(
                    "Turn {} on the sheet by {}, so that grain and letters run as on the others of this shape, unless the \
                     difference is intended.",
                    it(place),
                    degrees(by(worst)).text
                ),
                harm: share,
            },
        ))
    }

    /// A subject, or how many of its shells where the place is not all of it.
    fn who_of_subject(&self, subject: &Subject, place: &Place, surface_of: &[f64]) -> String {
        let is_part = |&shell: &u32| place.surface < surface_of[self.first_shell[shell as usize]] * NEARLY_ALL;
        match subject {
            Subject::Named(name) if place.shells.first().is_some_and(is_part) => {
                format!("{} of {name}", count_of(place.shells.len(), "shell"))
            }
            _ => self.name(subject, place),
        }
    }

    /// Regular surface of each subject, at its first shell.
    fn surface_by_first_shell(&self) -> Vec<f64> {
        let mut surface = vec![0.0; self.shells.len()];
        for triangle in 0..self.model.triangle_count() {
            if let (true, Some(shell)) = (self.measures.triangles.is_regular(triangle), self.model.shell_of(triangle)) {
                surface[self.first_shell[shell as usize]] += self.measures.triangles.surface[triangle];
            }
        }
        surface
    }
}

fn stance_words(stance: Stance) -> &'static str {
    match stance {
        Stance::Upright => "upright",
        Stance::Sideways => "sideways",
        Stance::UpsideDown => "upside down",
        Stance::Tilted => "tilted",
    }
}

fn degrees(value: f64) -> Number {
    // 180 and -180 degrees are the same.
    let rounded = if value.round() == -180.0 { 180.0 } else { value.round() };
    Number { value, unit: "deg", text: format!("{rounded}°") }
}
