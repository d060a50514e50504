//! Seams that run where people look.

use super::words::percent;
use super::{Finding, FindingKind, Judge, Number, Place, Severity, Words};
use crate::model::UnionFind;
use std::collections::{BTreeMap, BTreeSet};

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
        let chains = self.visible_chains();
        let all: f64 = chains.iter().map(|chain| chain.visible).sum();
        let mut place = Place::new();
        let (mut shown, mut count) = (0.0, 0);
        for chain in &chains {
            if shown >= SHOWN_SHARE * all {
                break;
            }
            shown += chain.visible;
            count += 1;
            let beside: BTreeSet<usize> = chain.edges.iter().flat_map(|&edge| self.beside(edge)).collect();
            beside.into_iter().for_each(|triangle| place.add(self.model, self.measures, triangle));
        }
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

    /// Seam edges that hang together, with those of their edges that are seen; most length in front first.
    fn visible_chains(&self) -> Vec<Chain> {
        let edges = &self.model.topology.edges;
        let mut joined = UnionFind::new(self.model.position_value.len());
        let ends = |edge: u32| {
            let corner = edges[edge as usize].corner;
            [corner, self.model.next_corner(corner)].map(|corner| {
                let position = self.model.document.corners[corner as usize].position;
                self.model.position_value[position.0 as usize]
            })
        };
        for seam in &self.measures.seams.edges {
            let [a, b] = ends(seam.edge);
            joined.join(a, b);
        }
        let mut chains: BTreeMap<u32, Chain> = BTreeMap::new();
        for seam in self.measures.seams.edges.iter().filter(|seam| seam.front > 0.0) {
            let chain = chains.entry(joined.root(ends(seam.edge)[0])).or_default();
            chain.visible += seam.length * f64::from(seam.front);
            chain.edges.push(seam.edge);
        }
        let mut chains: Vec<Chain> = chains.into_values().collect();
        // Stable: chains alike stay in the order of their lowest position.
        chains.sort_by(|a, b| b.visible.total_cmp(&a.visible));
        chains
    }

    /// The triangles on both sides of an edge.
    fn beside(&self, edge: u32) -> impl Iterator<Item = usize> {
        let edge = self.model.topology.edges[edge as usize];
        [Some(edge.corner), edge.other].into_iter().flatten().flat_map(move |corner| {
            let next = self.model.next_corner(corner);
            self.model.triangles_of(self.model.face_of_corner(corner)).filter(move |&triangle| {
                let corners = self.model.triangles[triangle];
                corners.contains(&corner) && corners.contains(&next)
            })
        })
    }
}

#[derive(Default)]
struct Chain {
    visible: f64,
    edges: Vec<u32>,
}
