//! Texel density off the reference, what of it was not judged, and density factors for what the file does not have.
//!
//! Without a target the reference is a median over the surface, so that the outlier is reported and not all others. Off
//! it beyond the tolerance is a look; off by a factor of two, or beyond the tolerance of a target that the brief gives,
//! is a must fix.

use super::text_safety::names_told;
use super::words::{count_number, count_of, is_are, it, percent, significant, three, times_words};
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Words};
use crate::findings::shells::density_parts;
use crate::findings::{DensityPart, Names};
use crate::measure::flat::density::{DensityGrade, MUST_FIX_FACTOR};
use crate::util::isolate::isolated;

impl Judge<'_> {
    /// One finding for each row of the report's densities that is off: both have the same number.
    pub(super) fn density(&self, findings: &mut Vec<Finding>) {
        self.unknown_density_factor(findings);
        let parts = density_parts(self.measures, self.brief, self.shells);
        let mut part_of: Vec<Option<usize>> = vec![None; self.shells.len()];
        for (index, part) in parts.iter().enumerate().filter(|(_, part)| part.grade != DensityGrade::Within) {
            let judged = part.shells.iter().filter(|&&shell| !self.is_spot[shell as usize]);
            judged.for_each(|&shell| part_of[shell as usize] = Some(index));
        }
        let is_judged = |part: usize| parts[part].grade != DensityGrade::NotJudged;
        // Those that are not judged together, last.
        let number_of: Vec<Option<usize>> =
            part_of.into_iter().map(|part| part.map(|part| if is_judged(part) { part } else { parts.len() })).collect();
        let places = self.places_of_shells(parts.len() + 1, &number_of);
        for (part, place) in parts.iter().zip(&places).filter(|(_, place)| place.triangles > 0) {
            findings.extend(self.off_reference(part, place));
        }
        if let Some(not_judged) = places.last().filter(|place| place.triangles > 0) {
            findings.push(self.not_judged(&parts, not_judged));
        }
    }

    /// `place`: the triangles of that part.
    fn off_reference(&self, part: &DensityPart, place: &Place) -> Option<Finding> {
        let subject = &self.subjects[*part.shells.first()? as usize];
        let asked = self.measures.density.reference? * part.density_factor;
        let off_by = part.factor.max(1.0 / part.factor);
        let is_target = self.brief.density.target_px_per_unit.is_some();
        let unit = self.brief.map.unit.symbol();
        let is_low = part.grade == DensityGrade::Low;
        let is_plain = part.density_factor == 1.0;
        let mut where_ = format!("{} of the surface", percent(self.share_of_surface(place.surface)).text);
        if !is_plain {
            where_ += &format!(", density factor {}", significant(part.density_factor));
        }
        let they = if is_are(subject, place) == "is" { "it" } else { "they" };
        let finding = self.finding(
            FindingKind::Density,
            place,
            self.place_words(place, &where_),
            Words {
                severity: if is_target || off_by >= MUST_FIX_FACTOR { Severity::MustFix } else { Severity::Look },
                title: format!(
                    "{}: texel density too {}, {} what {they} should have",
                    self.name(subject, place),
                    if is_low { "low" } else { "high" },
                    times_words(part.factor)
                ),
                number: Number {
                    value: part.density_px_per_unit,
                    unit: "px_per_unit",
                    text: format!("{} px/{unit}", significant(part.density_px_per_unit)),
                },
                limit: Some(Number {
                    value: asked,
                    unit: "px_per_unit",
                    text: format!(
                        "{} px/{unit} ± {} %",
                        significant(asked),
                        significant(self.brief.density.tolerance_percent)
                    ),
                }),
                advice: format!(
                    "Scale {} on the sheet by {}{}.",
                    it(place),
                    significant(1.0 / part.factor),
                    if is_plain { ", unless another density than elsewhere is intended there" } else { "" }
                ),
                harm: self.share_of_surface(place.surface),
            },
        );
        let id = self.id(if is_low { "low" } else { "high" }, *place.shells.first()?);
        Some(Finding { id, ..finding })
    }

    /// One info for all of them: what is not checked.
    fn not_judged(&self, parts: &[DensityPart], place: &Place) -> Finding {
        let of_them = || parts.iter().filter(|part| part.grade == DensityGrade::NotJudged);
        let count = place.shells.len();
        let mut subjects = of_them().filter_map(|part| Some(&self.subjects[*part.shells.first()? as usize]));
        let who = match (subjects.next(), subjects.next()) {
            (Some(one), None) => self.name(one, place),
            _ => count_of(count, "shell"),
        };
        let (mut low, mut high) = (f64::INFINITY, 0.0);
        for factor in of_them().flat_map(|part| &part.shells).filter_map(|&s| self.shells[s as usize].density_ratio) {
            (low, high) = (factor.min(low), factor.max(high));
        }
        let is_one = three(low) == three(high);
        let worst = if high * low < 1.0 { low } else { high };
        let share = percent(self.share_of_surface(place.surface)).text;
        let finding = self.finding(
            FindingKind::Density,
            place,
            self.place_words(place, &format!("{share} of the surface")),
            Words {
                severity: Severity::Info,
                title: format!("{who}: texel density not checked, because of the stretch"),
                number: Number {
                    value: worst,
                    unit: "ratio",
                    text: if is_one { three(worst) } else { format!("{} to {}", three(low), three(high)) }
                        + " of the reference",
                },
                limit: None,
                advice: format!(
                    "Fix the stretch first, which changes the density of {}. It is checked then.",
                    it(place)
                ),
                harm: 0.0,
            },
        );
        Finding { id: "density-not-judged".into(), ..finding }
    }

    /// Names that are not in the file: one info, since the brief has to be fixed.
    fn unknown_density_factor(&self, findings: &mut Vec<Finding>) {
        let names = Names::new(self.model);
        let unknown: Vec<_> = self
            .brief
            .density_factor
            .keys()
            .filter(|name| names.faces_named(name).is_none())
            .map(|name| isolated(name))
            .collect();
        if unknown.is_empty() {
            return;
        }
        let advice = match names_told(&names) {
            None => "The file names no objects, groups or materials; name the parts before the export.".to_owned(),
            Some(known) => format!("Correct the names in the brief. The file has {known}."),
        };
        let finding = self.finding(
            FindingKind::Density,
            &Place::new(),
            "the brief, density_factor".into(),
            Words {
                severity: Severity::Info,
                title: format!("Nothing in the file is called {}", unknown.join(" or ")),
                number: count_number(unknown.len(), "name"),
                limit: None,
                advice,
                harm: 0.0,
            },
        );
        findings.push(Finding { id: "density_factor".into(), ..finding });
    }
}
