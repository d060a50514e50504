//! Soft seams that are visible from the front.

use super::sharing::subjects_words;
use super::words::{count_of, percent, three};
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Subject, Words};
use crate::measure::rays::seams::seen_length;
use crate::model::UnionFind;
use crate::util::packed;

impl Judge<'_> {
    /// At most one finding, and only if the brief sets a limit; it shows the longest visible soft seam.
    pub(super) fn seams(&self, findings: &mut Vec<Finding>) {
        let (Some(limit), Some(length)) =
            (self.brief.seams.max_front_over_diagonal, self.measures.seams.front_over_diagonal)
        else {
            return;
        };
        if length <= limit {
            return;
        }
        let seams = &self.measures.seams.edges;
        let seen = |chain: &[usize]| chain.iter().fold(0.0, |sum, &seam| sum + seen_length(&seams[seam]));
        let chains = self.chains_in_front();
        let (mut longest, mut most, mut all) = (&[][..], 0.0, 0.0);
        for chain in &chains {
            let own = seen(chain);
            all += own;
            if own > most {
                (longest, most) = (chain, own);
            }
        }
        let mut beside = Vec::new();
        longest.iter().for_each(|&seam| self.add_beside(seams[seam].edge, &mut beside));
        beside.sort_unstable();
        beside.dedup();
        let mut place = Place::new();
        beside.into_iter().for_each(|triangle| place.add(self.model, self.measures, triangle as usize));
        let mut subjects: Vec<&Subject> = place.shells.iter().map(|&shell| &self.subjects[shell as usize]).collect();
        subjects = packed::ordered(subjects, |a, b| a.cmp(b));
        subjects.dedup();
        let on = match subjects[..] {
            [Subject::Named(name)] => format!("on {name}: "),
            [Subject::Part(_)] => String::new(),
            _ => format!("on {}: ", subjects_words(&subjects, place.shells.len())),
        };
        let diagonals = |value: f64| format!("{} of the diagonal", three(value));
        let ratio = |value: f64, text: String| Number { value, unit: "ratio", text };
        let finding = self.finding(
            FindingKind::Seams,
            &place,
            format!(
                "{on}the longest of {}, {} of what is seen",
                count_of(chains.len(), "soft seam"),
                percent(most / all).text
            ),
            Words {
                severity: Severity::Look,
                title: "Soft seams run across the front".into(),
                number: ratio(length, diagonals(length)),
                limit: Some(ratio(limit, format!("up to {}", diagonals(limit)))),
                advice:
                    "Move them to the back, to the inside, or along a hard edge, where a change in the paint does not \
                         show."
                        .into(),
                harm: length - limit,
            },
        );
        let camera = place.camera_from(self.brief.seams.front.direction(), self.radius);
        findings.push(Finding { id: FindingKind::Seams.code().into(), camera, ..finding });
    }

    /// Soft seam edges that are seen from the front and connected, as indices into the measured ones, in the order of
    /// their first.
    fn chains_in_front(&self) -> Vec<Vec<usize>> {
        let seams = &self.measures.seams.edges;
        let is_seen = |seam: &usize| seams[*seam].soft && seams[*seam].front > 0.0;
        let mut joined = UnionFind::new(self.model.position_value.len());
        let ends = |seam: usize| {
            let corner = self.model.layout.edges[seams[seam].edge as usize].corner;
            [corner, self.model.next_corner(corner)].map(|corner| {
                let position = self.model.document.corners[corner as usize].position;
                self.model.position_value[position.0 as usize]
            })
        };
        for seam in (0..seams.len()).filter(is_seen) {
            let [a, b] = ends(seam);
            joined.join(a, b);
        }
        let mut chain_of = vec![usize::MAX; self.model.position_value.len()];
        let mut chains: Vec<Vec<usize>> = Vec::new();
        for seam in (0..seams.len()).filter(is_seen) {
            let chain = &mut chain_of[joined.root(ends(seam)[0]) as usize];
            if *chain == usize::MAX {
                *chain = chains.len();
                chains.push(Vec::new());
            }
            chains[*chain].push(seam);
        }
        chains
    }

    /// Adds the triangles on both sides of an edge.
    fn add_beside(&self, edge: u32, triangles: &mut Vec<u32>) {
        let edge = self.model.layout.edges[edge as usize];
        for corner in [Some(edge.corner), edge.other].into_iter().flatten() {
            let next = self.model.next_corner(corner);
            for triangle in self.model.triangles_of(self.model.face_of_corner(corner)) {
                let corners = self.model.triangles[triangle];
                if corners.contains(&corner) && corners.contains(&next) {
                    triangles.push(triangle as u32);
                }
            }
        }
    }
}
