//! Squares that do not stay square, surface that has no area on the sheet, and models where nothing has any area at all.

use super::words::{count_number, count_of, has_have, is_are, percent, ratio};
use super::{Finding, FindingKind, Judge, Place, Severity, Words};
use crate::measure::triangles::state;

impl Judge<'_> {
    pub(super) fn stretch(&self, findings: &mut Vec<Finding>) {
        let limit = self.brief.stretch.max_anisotropy;
        let over = self.by_subject(|triangle, shell| {
            self.is_stretched(shell)
                && !self.is_spot[shell]
                && self.measures.triangles.anisotropy(triangle).is_some_and(|ratio| ratio > limit)
        });
        for (subject, place) in &over {
            let (surface_over, all) = place.shells.iter().fold((0.0, 0.0), |(over, all), &shell| {
                let of = self.measures.shell_stretch[shell as usize];
                (over + of.surface_over, all + of.share_over.map_or(0.0, |share| of.surface_over / share))
            });
            let worst = place
                .shells
                .iter()
                .filter_map(|&shell| self.measures.shell_stretch[shell as usize].anisotropy_p95)
                .fold(1.0, f64::max);
            findings.push(self.finding(
                FindingKind::Stretch,
                place,
                self.place_words(place, &format!("{} of it over the limit", percent(surface_over / all).text)),
                Words {
                    severity: Severity::MustFix,
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
        if self.no_area(findings) {
            return;
        }
        let collapsed = self.by_subject(|triangle, shell| {
            !self.is_spot[shell]
                && self.measures.triangles.is(triangle, state::COLLAPSED_UV)
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

    /// Whether more of a shell is over the limit than the brief allows.
    pub(super) fn is_stretched(&self, shell: usize) -> bool {
        self.measures.shell_stretch[shell].share_over.is_some_and(|share| share > self.brief.stretch.max_share_over)
    }

    /// A model whose mapped triangles all lack area on the surface or on the sheet: there is nothing to measure, and so
    /// nothing that could be called ready. True where that is so.
    fn no_area(&self, findings: &mut Vec<Finding>) -> bool {
        let triangles = &self.measures.triangles;
        let (mut place, mut flat, mut collapsed) = (Place::new(), 0, 0);
        for triangle in (0..self.model.triangle_count()).filter(|&triangle| triangles.is(triangle, state::MAPPED)) {
            let is_spot = self.model.shell_of(triangle).is_some_and(|shell| self.is_spot[shell as usize]);
            if is_spot || triangles.is_regular(triangle) {
                return false;
            }
            place.add(self.model, self.measures, triangle);
            flat += usize::from(triangles.is(triangle, state::DEGENERATE_3D));
            collapsed += usize::from(triangles.is(triangle, state::COLLAPSED_UV));
        }
        if place.triangles == 0 {
            return false;
        }
        let all = place.triangles;
        let (title, advice) = if flat == all {
            (
                "Nothing here has any surface",
                "Every triangle falls into a line or a point, so no UV can be measured. Look whether the export scaled the \
                 model to nothing or rounded its coordinates away, and export it again.",
            )
        } else if collapsed == all {
            (
                "The UVs have no area",
                "Every triangle's UVs fall into a line or a point: one colour would be smeared over everything. Unfold the \
                 model, and export it again.",
            )
        } else {
            (
                "No triangle has area both on the surface and on the sheet",
                "Some fall into a line or a point on the surface, the others on the sheet, so nothing can be measured. \
                 Merge the flat triangles away, unfold the rest, and export it again.",
            )
        };
        findings.push(self.finding(
            FindingKind::NoArea,
            &place,
            self.place_words(&place, "nothing to measure"),
            Words {
                severity: Severity::MustFix,
                title: title.into(),
                number: count_number(all, "triangle"),
                limit: None,
                advice: advice.into(),
                harm: 1.0,
            },
        ));
        true
    }
}
