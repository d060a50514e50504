//! Squares that do not stay square, and surface that has no area on the sheet.

use super::words::{count_of, has_have, is_are, percent, ratio};
use super::{Finding, FindingKind, Judge, Severity, Subject, Words};
use crate::measure::triangles::state;
use std::collections::BTreeMap;

impl Judge<'_> {
    pub(super) fn stretch(&self, findings: &mut Vec<Finding>) {
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
        let mut surface = vec![None; self.shells.len()];
        for triangle in 0..self.model.triangle_count() {
            if let (true, Some(shell)) = (self.measures.triangles.is_regular(triangle), self.model.shell_of(triangle)) {
                *surface[self.first_shell[shell as usize]].get_or_insert(0.0) +=
                    self.measures.triangles.surface[triangle];
            }
        }
        self.told_by_subject(surface)
    }
}
