//! Stretch, surface without area on the sheet, and models without any area.

use super::words::{count_number, count_of, has_have, is_are, percent, ratio};
use super::{Finding, FindingKind, Judge, Place, Severity, Words};
use crate::measure::flat::stretch::{Grade, NO_GROUP, anisotropy_p95, has_say};
use crate::measure::flat::triangles::state;

impl Judge<'_> {
    /// One finding per subject and grade.
    pub(super) fn stretch(&self, findings: &mut Vec<Finding>) {
        let brief = &self.brief.stretch;
        let triangles = &self.measures.triangles;
        let mut cards = Vec::new();
        for (grade, severity, limit) in
            [(Grade::MustFix, Severity::MustFix, brief.must_fix()), (Grade::Look, Severity::Look, brief.max_anisotropy)]
        {
            let over =
                self.by_subject(&|shell| !self.is_spot[shell] && self.stretch_grade(shell) == grade, &|triangle| {
                    has_say(triangles, triangle)
                        && triangles.anisotropy(triangle).is_some_and(|ratio| ratio > brief.max_anisotropy)
                });
            cards.extend(over.into_iter().map(|(subject, place)| (subject, place, severity, limit)));
        }
        let mut group_of = vec![NO_GROUP; self.shells.len()];
        for (group, (_, place, ..)) in (0..).zip(&cards) {
            place.shells.iter().for_each(|&shell| group_of[shell as usize] = group);
        }
        let p95 =
            if cards.is_empty() { Vec::new() } else { anisotropy_p95(self.model, triangles, &group_of, cards.len()) };
        for ((subject, place, severity, limit), p95) in cards.iter().zip(p95) {
            let (mut over, mut all) = (0.0, 0.0);
            for &shell in &place.shells {
                let of = self.measures.shell_stretch[shell as usize];
                (over, all) = (over + of.surface_over, all + of.surface);
            }
            let of_what = if place.shells.len() == 1 { "its" } else { "their" };
            let share = percent(over / all).text;
            findings.push(self.finding(
                FindingKind::Stretch,
                place,
                self.place_words(
                    place,
                    &format!("{share} of {of_what} surface over {}", ratio(brief.max_anisotropy).text),
                ),
                Words {
                    severity: *severity,
                    title: format!("{} {} stretched", self.name(subject, place), is_are(subject, place)),
                    number: ratio(p95.unwrap_or(1.0)),
                    limit: Some(ratio(*limit)),
                    advice: "Unwrap it with a seam where it is not seen, then relax it, until the circles of the grid are \
                             round."
                        .into(),
                    harm: self.share_of_surface(place.surface),
                },
            ));
        }
        if self.no_area(findings) {
            return;
        }
        let collapsed = self.by_subject(&|shell| !self.is_spot[shell], &|triangle| {
            triangles.is(triangle, state::COLLAPSED_UV) && !triangles.is(triangle, state::SLIVER)
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
                            "Its UVs fall into a line or a point: one colour is smeared over it. Unwrap it, unless a \
                             single colour is what you want there."
                                .into(),
                        harm: share,
                    },
                ),
            );
        }
    }

    fn stretch_grade(&self, shell: usize) -> Grade {
        self.measures.shell_stretch[shell].grade(&self.brief.stretch)
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
                "Every triangle's UVs fall into a line or a point: one colour would be smeared over everything. Unwrap the \
                 model, and export it again.",
            )
        } else {
            (
                "No triangle has area both on the surface and on the sheet",
                "Some fall into a line or a point on the surface, the others on the sheet, so nothing can be measured. \
                 Merge the flat triangles away, unwrap the rest, and export it again.",
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
