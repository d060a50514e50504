//! Seams that run where people look.

use super::words::percent;
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Words};
use crate::model::UnionFind;
use crate::packed;

/// Chains that are shown: those with most length in front, until they hold this share of it. Own choice.
const SHOWN_SHARE: f64 = 0.5;

impl Judge<'_> {
    /// One card at most, and only where the brief sets a limit.
    pub(super) fn seams(&self, findings: &mut Vec<Finding>) {
        let (Some(limit), Some(share)) = (self.brief.seams.max_share_in_front, self.measures.seams.share_in_front)
        else {
            return;
        };
        if share <= limit {
            return;
        }
        let seams = &self.measures.seams.edges;
        let visible = |seam: usize| seams[seam].length * f64::from(seams[seam].front);
        let chains = self.visible_chains();
        let all: f64 = chains.iter().flatten().map(|&seam| visible(seam)).sum();
        let mut beside = Vec::new();
        let (mut shown, mut count) = (0.0, 0);
        for chain in chains.iter().take_while(|chain| {
            let before = shown < SHOWN_SHARE * all;
            shown += if before { chain.iter().map(|&seam| visible(seam)).sum::<f64>() } else { 0.0 };
            before
        }) {
            count += 1;
            chain.iter().for_each(|&seam| self.add_beside(seams[seam].edge, &mut beside));
        }
        beside.sort_unstable();
        beside.dedup();
        let mut place = Place::new();
        beside.into_iter().for_each(|triangle| place.add(self.model, self.measures, triangle as usize));
        let length = percent(if all > 0.0 { shown / all } else { 0.0 }).text;
        let where_ = match count {
            1 => format!("one chain of seams, {length} of what is seen"),
            count => format!("{count} chains of seams, {length} of what is seen"),
        };
        let finding = self.finding(
            FindingKind::Seams,
            &place,
            where_,
            Words {
                severity: Severity::Look,
                title: "Seams run across the front".into(),
                number: percent(share),
                limit: Some(Number { text: format!("at most {}", percent(limit).text), ..percent(limit) }),
                advice: "Move them to the back, to the inside, or along a hard edge, where a change in the paint does \
                         not show."
                    .into(),
                harm: share - limit,
            },
        );
        let camera = place.camera_from(self.brief.seams.front.direction(), self.radius);
        findings.push(Finding { id: FindingKind::Seams.code().into(), camera, ..finding });
    }

    /// Seam edges that hang together, as indices into the measured ones, those that are seen at all; the chain with most
    /// length in front first.
    fn visible_chains(&self) -> Vec<Vec<usize>> {
        let seams = &self.measures.seams.edges;
        let mut joined = UnionFind::new(self.model.position_value.len());
        let ends = |edge: u32| {
            let corner = self.model.topology.edges[edge as usize].corner;
            [corner, self.model.next_corner(corner)].map(|corner| {
                let position = self.model.document.corners[corner as usize].position;
                self.model.position_value[position.0 as usize]
            })
        };
        for seam in seams {
            let [a, b] = ends(seam.edge);
            joined.join(a, b);
        }
        let seen = (0..seams.len()).filter(|&seam| seams[seam].front > 0.0);
        let mut by_root: Vec<u64> =
            seen.map(|seam| packed::two(joined.root(ends(seams[seam].edge)[0]), seam as u32)).collect();
        by_root.sort_unstable();
        let chains: Vec<&[u64]> = by_root.chunk_by(|a, b| a >> 32 == b >> 32).collect();
        let seam_of = |&packed: &u64| packed::split_two(packed).1 as usize;
        let visible = |chain: &[u64]| {
            let lengths = chain.iter().map(|seam| &seams[seam_of(seam)]).map(|s| s.length * f64::from(s.front));
            lengths.sum::<f64>()
        };
        // Positive doubles stand in the order of their bits.
        let mut ranked: Vec<u128> = (0u32..)
            .zip(&chains)
            .map(|(n, chain)| u128::from(!visible(chain).to_bits()) << 32 | u128::from(n))
            .collect();
        ranked.sort_unstable();
        ranked.into_iter().map(|packed| chains[packed as u32 as usize].iter().map(seam_of).collect()).collect()
    }

    /// Adds the triangles on both sides of an edge.
    fn add_beside(&self, edge: u32, triangles: &mut Vec<u32>) {
        let edge = self.model.topology.edges[edge as usize];
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
