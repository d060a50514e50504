//! Which faces meet along which edge of the surface.
//!
//! An edge is the pair of position values it joins. Edges are grouped by counting sort on their lower value, then by the few
//! that meet there; no hashing, so the order is the file's. Cost: linear in corners, n log n only in the edges of one position.

use super::Document;
use super::crease::Creases;
use crate::util::packed;

/// Corners sampled for whether the shading breaks along their edges; more give the same result.
const CREASES_ASKED: usize = 8192;

/// All directed edges, grouped by the lower of their two position values. A half-edge is named by the corner it
/// starts at.
#[derive(Clone, Debug)]
pub(super) struct HalfEdges {
    /// Face of each corner; empty when every face is a triangle.
    corner_face: Vec<u32>,
    starts: Vec<u32>,
    /// Upper value and corner, by lower value, rising.
    by_lower: Vec<u64>,
}

impl HalfEdges {
    pub(super) fn new(document: &Document, position_value: &[u32]) -> Self {
        let only_triangles = document.corners.len() == 3 * document.face_count();
        let mut corner_face = Vec::new();
        if !only_triangles {
            corner_face.reserve_exact(document.corners.len());
            for face in 0..document.face_count() {
                corner_face.resize(document.face_starts[face + 1] as usize, face as u32);
            }
        }
        let mut starts = vec![0u32; position_value.len() + 2];
        for_each(document, position_value, |_, lower, _| starts[lower as usize + 2] += 1);
        for i in 2..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut by_lower = vec![0u64; document.corners.len()];
        for_each(document, position_value, |corner, lower, upper| {
            let slot = &mut starts[lower as usize + 1];
            by_lower[*slot as usize] = packed::two(upper, corner);
            *slot += 1;
        });
        for around in starts.windows(2) {
            by_lower[around[0] as usize..around[1] as usize].sort_unstable();
        }
        Self { corner_face, starts, by_lower }
    }

    pub(super) fn face(&self, corner: u32) -> u32 {
        if self.corner_face.is_empty() { corner / 3 } else { self.corner_face[corner as usize] }
    }

    pub(super) fn next(&self, document: &Document, corner: u32) -> u32 {
        let face = self.face(corner) as usize;
        let next = corner + 1;
        if next == document.face_starts[face + 1] { document.face_starts[face] } else { next }
    }

    /// Calls with the position values of each edge, the lower one first, and its half-edges in file order.
    pub(super) fn for_each_edge(&self, mut call: impl FnMut((u32, u32), &[u32])) {
        let mut corners: Vec<u32> = Vec::new();
        for (ends, lower) in self.starts.windows(2).zip(0u32..) {
            let around = &self.by_lower[ends[0] as usize..ends[1] as usize];
            for edge in around.chunk_by(|a, b| a >> 32 == b >> 32) {
                corners.clear();
                corners.extend(edge.iter().map(|&edge| packed::split_two(edge).1));
                call((lower, packed::split_two(edge[0]).0), &corners);
            }
        }
    }

    /// The corner that the edge which starts at `corner` starts at in the first of its faces; `None` for one without length.
    pub(super) fn first_of(&self, document: &Document, position_value: &[u32], corner: u32) -> Option<u32> {
        let edge = self.edge_of(document, position_value, corner);
        edge.first().map(|&first| packed::split_two(first).1)
    }

    /// All that run along the edge which starts at `corner`; none for one without length.
    fn edge_of(&self, document: &Document, position_value: &[u32], corner: u32) -> &[u64] {
        let [here, there] = [corner, self.next(document, corner)].map(|corner| value(document, position_value, corner));
        if here == there {
            return &[];
        }
        let (lower, upper) = (here.min(there) as usize, here.max(there));
        let around = &self.by_lower[self.starts[lower] as usize..self.starts[lower + 1] as usize];
        let first = around.partition_point(|edge| packed::split_two(*edge).0 < upper);
        around[first..].chunk_by(|a, b| a >> 32 == b >> 32).next().unwrap_or_default()
    }

    /// Whether the shading breaks along the edge that two corners start.
    pub(super) fn is_split(
        &self,
        document: &Document,
        position_value: &[u32],
        creases: &Creases,
        [a, b]: [u32; 2],
    ) -> Option<bool> {
        let [a_next, b_next] = [a, b].map(|corner| self.next(document, corner));
        let along = value(document, position_value, a) == value(document, position_value, b);
        let ends = if along { [[a, b], [a_next, b_next]] } else { [[a, b_next], [a_next, b]] };
        creases.is_split([self.face(a), self.face(b)], ends)
    }

    /// The shading breaks along more than half of the edges between two faces for which the file specifies it. Of large
    /// models some [`CREASES_ASKED`] corners are sampled.
    pub(super) fn are_mostly_split(&self, document: &Document, position_value: &[u32], creases: &Creases) -> bool {
        if !creases.is_known() {
            return false;
        }
        // Odd: faces of a model mostly have three or four corners each.
        let step = (document.corners.len() / CREASES_ASKED) | 1;
        let (mut split, mut known) = (0usize, 0usize);
        for corner in (0..document.corners.len() as u32).step_by(step) {
            if let [a, b] = *self.edge_of(document, position_value, corner)
                && packed::split_two(a).1 == corner
            {
                let is = self.is_split(document, position_value, creases, [corner, packed::split_two(b).1]);
                known += usize::from(is.is_some());
                split += usize::from(is == Some(true));
            }
        }
        2 * split > known
    }
}

fn value(document: &Document, position_value: &[u32], corner: u32) -> u32 {
    position_value[document.corners[corner as usize].position.0 as usize]
}

/// Calls with every half-edge and the position values it joins, the lower one first.
fn for_each(document: &Document, position_value: &[u32], mut call: impl FnMut(u32, u32, u32)) {
    let value = |corner: u32| value(document, position_value, corner);
    for ends in document.face_starts.windows(2) {
        let first = if ends[0] < ends[1] { value(ends[0]) } else { continue };
        let mut here = first;
        for corner in ends[0]..ends[1] {
            let there = if corner + 1 < ends[1] { value(corner + 1) } else { first };
            call(corner, here.min(there), here.max(there));
            here = there;
        }
    }
}
