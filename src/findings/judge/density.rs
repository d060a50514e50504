//! Texel density off the reference, and density factor on what the file does not have.

use super::text_safety::names_told;
use super::words::{count_number, has_have, it, significant, times_words};
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Subject, Words};
use crate::findings::Names;
use crate::isolate::isolated;
use crate::measure::density::density;
use crate::packed;

/// A shell this far off in density stops the model even where the brief gives no target: text and detail are visibly
/// half or twice as fine as next to it (common practice, no source).
const DENSITY_MUST_FIX_FACTOR: f64 = 2.0;

/// Too coarse, and the bits of the density_factor; and where.
type Off = ((bool, u64), Place);

impl Judge<'_> {
    pub(super) fn density(&self, findings: &mut Vec<Finding>) {
        self.unknown_density_factor(findings);
        let Some(reference) = self.measures.density.reference.filter(|reference| *reference > 0.0) else { return };
        let tolerance = 1.0 + self.brief.density.tolerance_percent / 100.0;
        let is_target = self.brief.density.target_px_per_unit.is_some();
        // A shell that is stretched is off the mean for that, and another one when it is unfolded.
        let told = |shell: usize, factor: f64| {
            !is_target && factor.max(1.0 / factor) < DENSITY_MUST_FIX_FACTOR && self.is_stretched(shell)
        };
        // By first shells: too coarse or too fine, and for which density_factor (its bits stand in its order). A subject has few.
        let mut off: Vec<Option<Vec<Off>>> = (0..self.shells.len()).map(|_| None).collect();
        let factors: Vec<Option<f64>> =
            self.measures.shell_density.iter().map(|shell| shell.factor(reference)).collect();
        for triangle in 0..self.model.triangle_count() {
            let Some(shell) = self.model.shell_of(triangle).map(|shell| shell as usize) else { continue };
            let Some(factor) = factors[shell].filter(|f| *f < 1.0 / tolerance || *f > tolerance) else { continue };
            if self.is_spot[shell] || told(shell, factor) {
                continue;
            }
            let density_factor = self.measures.shell_density[shell].density_factor.to_bits();
            let key = (factor < 1.0, density_factor);
            let of_subject = off[self.first_shell[shell]].get_or_insert_default();
            let known = of_subject.iter().position(|off| off.0 == key).unwrap_or_else(|| {
                of_subject.push((key, Place::new()));
                of_subject.len() - 1
            });
            of_subject[known].1.add(self.model, self.measures, triangle);
        }
        for (subject, places) in self.told_by_subject(off) {
            for ((coarse, density_factor), place) in packed::ordered(places, |a, b| a.0.cmp(&b.0)) {
                findings.extend(self.off_reference(
                    subject,
                    coarse,
                    f64::from_bits(density_factor) * reference,
                    &place,
                ));
            }
        }
    }

    /// `asked`: the density these shells should have.
    fn off_reference(&self, subject: &Subject, coarse: bool, asked: f64, place: &Place) -> Option<Finding> {
        let (surface, area_px) = place.shells.iter().fold((0.0, 0.0), |(surface, area_px), &shell| {
            let sums = self.measures.shell_density[shell as usize];
            (surface + sums.surface, area_px + sums.area_px)
        });
        let density = density(area_px, surface)?;
        let factor = density / asked;
        let off_by = factor.max(1.0 / factor);
        let is_target = self.brief.density.target_px_per_unit.is_some();
        let density_factor = asked / self.measures.density.reference?;
        let unit = self.brief.map.unit.symbol();
        let (number, words) = if coarse { ("coarse", "too coarse") } else { ("fine", "too fine") };
        let unless = if density_factor == 1.0 { ", unless another detail than elsewhere is meant there" } else { "" };
        let finding = self.finding(
            FindingKind::Density,
            place,
            self.place_words(
                place,
                &if density_factor == 1.0 {
                    words.to_owned()
                } else {
                    format!("{words} for a density factor of {}", significant(density_factor))
                },
            ),
            Words {
                severity: if is_target || off_by >= DENSITY_MUST_FIX_FACTOR {
                    Severity::MustFix
                } else {
                    Severity::Look
                },
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
                    value: asked,
                    unit: "px_per_unit",
                    text: format!(
                        "{} px/{unit} ± {} %",
                        significant(asked),
                        significant(self.brief.density.tolerance_percent)
                    ),
                }),
                advice: format!("Scale {} on the sheet by {}{unless}.", it(place), significant(1.0 / factor)),
                harm: self.share_of_surface(place.surface) * off_by.log2().min(4.0),
            },
        );
        Some(Finding { id: format!("{number}-{}", place.shells.first().unwrap_or(&0)), ..finding })
    }

    /// Names that nothing in the file has: one note, since it is the brief that is to be fixed.
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
