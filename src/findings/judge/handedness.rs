//! Orientation: flipped, folded, inside out.

use super::words::{count_number, is_are, it, percent};
use super::{Finding, FindingKind, Judge, Severity, Words};
use crate::findings::Names;
use crate::measure::flat::triangles::state;
use crate::measure::sheet::sharing::{STACKED_SHARE_MIN, ShareKind, SharedPair};

/// Folded area from which it must be fixed, px² of the map: 4 x 4 texels. Less is a look: too small to paint on. Common
/// practice, no source.
const FOLDED_MUST_FIX_PX2: f64 = 16.0;

impl Judge<'_> {
    pub(super) fn handedness(&self, findings: &mut Vec<Finding>) {
        let told = self.told_elsewhere();
        let over = self.by_subject(&|shell| self.shells[shell].flipped && !told[shell], &|_| true);
        for (subject, place) in &over {
            let share = self.share_of_surface(place.surface);
            let name = self.name(subject, place);
            findings.push(self.finding(
                FindingKind::Flipped,
                place,
                self.place_words(place, &format!("{} of the surface", percent(share).text)),
                Words {
                    severity: Severity::MustFix,
                    title: format!("{name} {} flipped", is_are(subject, place)),
                    number: percent(share),
                    limit: None,
                    advice: format!(
                        "Flip {} on the sheet (mirror in u); letters then read from left to right.",
                        it(place)
                    ),
                    harm: share,
                },
            ));
        }
        let folded = self.by_subject(&|shell| self.measures.handedness.folded[shell] > 0, &|triangle| {
            self.measures.triangles.is(triangle, state::FOLDED)
        });
        for (subject, place) in &folded {
            let area_px2: f64 = place.runs.triangles().map(|triangle| self.area_px2(triangle)).sum();
            findings.push(
                self.finding(
                    FindingKind::Folded,
                    place,
                    self.place_words(
                        place,
                        &format!("{} of the surface", percent(self.share_of_surface(place.surface)).text),
                    ),
                    Words {
                        severity: if area_px2 < FOLDED_MUST_FIX_PX2 { Severity::Look } else { Severity::MustFix },
                        title: format!("{} {} folded", self.name(subject, place), is_are(subject, place)),
                        number: count_number(place.triangles, "triangle"),
                        limit: None,
                        advice:
                            "Pull the folded corners apart on the sheet, or relax the shell there, until no triangle \
                             lies upside down."
                                .into(),
                        harm: self.share_of_surface(place.surface),
                    },
                ),
            );
        }
        let inside_out = &self.measures.handedness.inside_out;
        let parts: Vec<usize> = (0..inside_out.len()).filter(|&part| inside_out[part]).collect();
        let place_of_part = |triangle| parts.binary_search(&(self.model.part_of(triangle) as usize)).ok();
        let places = if parts.is_empty() { Vec::new() } else { self.places(parts.len(), &place_of_part) };
        for (part, place) in parts.iter().zip(&places) {
            let share = self.share_of_surface(place.surface);
            let mut finding = self.finding(
                FindingKind::InsideOut,
                place,
                format!("part {part}"),
                Words {
                    severity: Severity::Look,
                    title: format!("Part {part} is inside out"),
                    number: percent(share),
                    limit: None,
                    advice: "Its normals point against its winding; its handedness is judged by the normals. Reverse \
                             either the faces or the normals."
                        .into(),
                    harm: share,
                },
            );
            let key = place.runs.0.first().map_or(0, |run| self.model.face_of(run[0] as usize));
            finding.id = format!("inside-out-part-{key}");
            findings.push(finding);
        }
    }

    /// Area of a triangle on its sheet's map.
    fn area_px2(&self, triangle: usize) -> f64 {
        self.measures.triangles.area_uv[triangle] * self.measures.sizes.scale(self.model, triangle).element_product()
    }

    /// Of each shell, whether another finding reports that it is flipped: half of a mirrored pair, which is judged as
    /// such, or part of what the brief wants safe for text. Half of a pair lies on the other one as a stacked shell
    /// does; what several others cover together is not summed up, since they may lie on one another.
    fn told_elsewhere(&self) -> Vec<bool> {
        let mut told = vec![false; self.shells.len()];
        // Where overlaps are not judged, no other finding reports it.
        let is_judged = self.brief.map.tiles.is_layout();
        let mirrored = |pair: &&SharedPair| is_judged && pair.kind == ShareKind::Mirrored;
        for pair in self.measures.sharing.pairs.iter().filter(mirrored) {
            for (shell, share) in [(pair.a, pair.area_share_a), (pair.b, pair.area_share_b)] {
                told[shell as usize] |= share >= STACKED_SHARE_MIN;
            }
        }
        for group in &self.measures.sharing.equal {
            group.iter().for_each(|&shell| told[shell as usize] = told[group[0] as usize]);
        }
        if self.brief.text.groups.is_empty() {
            return told;
        }
        let names = Names::new(self.model);
        let mut lettered = vec![false; self.model.document.face_count()];
        for faces in self.brief.text.groups.iter().filter_map(|name| names.faces_named(name)) {
            lettered.iter_mut().zip(faces).for_each(|(known, here)| *known |= here);
        }
        let mut all_lettered = vec![true; self.shells.len()];
        for triangle in 0..self.model.triangle_count() {
            if let Some(shell) = self.model.shell_of(triangle) {
                all_lettered[shell as usize] &= lettered[self.model.face_of(triangle)];
            }
        }
        told.iter_mut().zip(all_lettered).for_each(|(known, lettered)| *known |= lettered);
        told
    }
}
