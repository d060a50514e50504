//! Shells that lie on their side or stand upside down.

use super::words::{count_of, percent, singular_s};
use super::{Finding, FindingKind, Judge, Number, Severity, Subject, Words};
use crate::measure::tilt::{Stance, UPRIGHT_DEG};

/// Of this much of a subject's surface it is all that is spoken of: sums of doubles differ in their last digits.
const NEARLY_ALL: f64 = 1.0 - 1e-9;

impl Judge<'_> {
    /// One card a subject, sideways and upside-down shells together.
    pub(super) fn tilt(&self, findings: &mut Vec<Finding>) {
        let tilt_of = |shell: usize| self.measures.tilt.shells[shell];
        let turned = |shell: usize| {
            tilt_of(shell).is_some_and(|tilt| matches!(Stance::of(tilt), Stance::Sideways | Stance::UpsideDown))
        };
        let surface_of = self.surface_by_first_shell();
        for (subject, place) in &self.by_subject(|_, shell| turned(shell)) {
            let tilts: Vec<f64> = place.shells.iter().filter_map(|&shell| tilt_of(shell as usize)).collect();
            let down = tilts.iter().filter(|tilt| Stance::of(**tilt) == Stance::UpsideDown).count();
            let worst = tilts.iter().fold(0.0, |worst: f64, &tilt| if tilt.abs() > worst.abs() { tilt } else { worst });
            let (what, how) = match (down, tilts.len() - down) {
                (_, 0) => ("upside down", "upside down".to_owned()),
                (0, _) => ("sideways", "sideways".to_owned()),
                (down, sideways) => ("turned", format!("{down} upside down, {sideways} sideways")),
            };
            let title = match subject {
                Subject::Named(name)
                    if place.shells.first().is_some_and(|&shell| {
                        place.surface < surface_of[self.first_shell[shell as usize]] * NEARLY_ALL
                    }) =>
                {
                    let verb = if tilts.len() == 1 { "lies" } else { "lie" };
                    format!("{} of {name} {verb} {what}", count_of(tilts.len(), "shell"))
                }
                _ => format!("{} lie{} {what}", self.name(subject, place), singular_s(subject, place)),
            };
            let share = self.share_of_surface(place.surface);
            findings.push(
                self.finding(
                    FindingKind::Tilt,
                    place,
                    self.place_words(place, &format!("{how}, {} of the surface", percent(share).text)),
                    Words {
                        severity: Severity::Info,
                        title,
                        number: degrees(worst),
                        limit: Some(Number { text: format!("up to {} upright", degrees(UPRIGHT_DEG).text), ..degrees(UPRIGHT_DEG) }),
                        advice: "Letters, and anything else with an up and a down, would lie the same way. Turn it upright on \
                                 the sheet if it carries any."
                            .into(),
                        harm: share,
                    },
                ),
            );
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

fn degrees(value: f64) -> Number {
    // Half a turn is half a turn either way.
    let rounded = if value.round() == -180.0 { 180.0 } else { value.round() };
    Number { value, unit: "deg", text: format!("{rounded}°") }
}
