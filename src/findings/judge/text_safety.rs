//! Parts that the brief wants safe for text and are not.

use super::words::{count_number, percent};
use super::{Finding, FindingKind, Judge, Place, Severity, Words};
use crate::findings::Names;
use crate::measure::text_safety::{reason, reasons};
use crate::util::isolate::isolated;
use crate::util::packed;

/// Unsafe share of a part's surface that is tolerated, 0..1: small leftovers of triangulation. Own choice.
const UNSAFE_TOLERANCE: f64 = 1e-6;
/// Names of the file that are listed where the brief has an unknown one.
const NAMES_TOLD: usize = 12;

impl Judge<'_> {
    pub(super) fn text_safety(&self, findings: &mut Vec<Finding>) {
        let names = Names::new(self.model);
        let mut asked: Vec<&str> = self.brief.text.groups.iter().map(String::as_str).collect();
        asked = packed::ordered(asked, |a, b| a.cmp(b));
        asked.dedup();
        for name in asked {
            let finding = match names.faces_named(name) {
                Some(faces) => self.lettered(name, &faces),
                None => Some(self.nothing_to_letter(name, &names)),
            };
            findings.extend(finding.map(|finding| Finding { id: format!("text-{name}"), ..finding }));
        }
    }

    fn lettered(&self, name: &str, faces: &[bool]) -> Option<Finding> {
        let mut place = Place::new();
        let mut all = 0.0;
        let mut by_reason = reason::ALL.map(|bit| (bit, 0.0));
        for triangle in (0..self.model.triangle_count()).filter(|&triangle| faces[self.model.face_of(triangle)]) {
            let surface = self.measures.triangles.surface[triangle];
            all += surface;
            let bits = reasons(self.measures, triangle, self.brief);
            if bits != 0 {
                place.add(self.model, self.measures, triangle);
                by_reason.iter_mut().filter(|(bit, _)| bits & bit != 0).for_each(|(_, sum)| *sum += surface);
            }
        }
        if place.surface <= UNSAFE_TOLERANCE * all {
            return None;
        }
        let said = || by_reason.iter().filter(|(_, sum)| *sum > UNSAFE_TOLERANCE * all);
        let shares: Vec<String> =
            said().map(|&(bit, sum)| format!("{} {}", percent(sum / all).text, reason_word(bit))).collect();
        let worst = said().fold((0, 0.0), |worst, &reason| if reason.1 > worst.1 { reason } else { worst });
        Some(self.finding(
            FindingKind::Text,
            &place,
            shares.join(", "),
            Words {
                severity: Severity::MustFix,
                title: format!("{} is not safe for text", isolated(name)),
                number: percent(place.surface / all),
                limit: Some(percent(0.0)),
                advice: reason_advice(worst.0).into(),
                harm: self.share_of_surface(place.surface),
            },
        ))
    }

    fn nothing_to_letter(&self, name: &str, names: &Names) -> Finding {
        let known = names_told(names);
        let advice = match known {
            None => {
                "The file names no objects, groups or materials; name the lettered part before the export.".to_owned()
            }
            Some(known) => format!("Correct the name in the brief. The file has {known}."),
        };
        self.finding(
            FindingKind::Text,
            &Place::new(),
            "the brief, text".into(),
            Words {
                severity: Severity::MustFix,
                title: format!("Nothing in the file is called {}", isolated(name)),
                number: count_number(0, "face"),
                limit: None,
                advice,
                harm: 0.0,
            },
        )
    }
}

/// The names that a file has, the first of them; `None` without any.
pub(super) fn names_told(names: &Names) -> Option<String> {
    let known = names.all();
    let told = known.iter().take(NAMES_TOLD).map(|name| isolated(name)).collect::<Vec<_>>().join(", ");
    match known.len() {
        0 => None,
        count if count > NAMES_TOLD => Some(format!("{told} and {} more", count - NAMES_TOLD)),
        _ => Some(told),
    }
}

fn reason_word(bit: u8) -> &'static str {
    match bit {
        reason::UNMAPPED => "without UVs",
        reason::REVERSED => "reversed",
        reason::SHARED => "shared",
        reason::STRETCHED => "stretched",
        _ => "tilted",
    }
}

fn reason_advice(bit: u8) -> &'static str {
    match bit {
        reason::UNMAPPED => "Map it.",
        reason::REVERSED => "Turn it over on the sheet, so that letters read from left to right.",
        reason::SHARED => "Give it a place on the sheet that nothing else uses.",
        reason::STRETCHED => "Relax it until the circles of the grid are round.",
        _ => "Turn it on the sheet until the grid's stems stand upright on the model.",
    }
}
