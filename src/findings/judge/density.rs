//! Texel density off the reference.

use super::words::{has_have, it, significant, times_words};
use super::{Finding, FindingKind, Judge, Number, Severity, Words};

/// A shell this far off in density stops the model even where the brief gives no target: text and detail are visibly
/// half or twice as fine as next to it (common practice, no source).
const DENSITY_STOP_FACTOR: f64 = 2.0;

impl Judge<'_> {
    pub(super) fn density(&self, findings: &mut Vec<Finding>) {
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
}
