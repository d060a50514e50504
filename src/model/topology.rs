//! Shells, parts and edges.
//!
//! An edge is the pair of position values it joins. *Shared*: two faces on it whose uv values agree at both ends.
//! Shells are the classes of mapped faces under shared edges; parts those of all faces under shared position values.
//! Edges are grouped by counting sort on their lower value, then by the few that meet there; no hashing, so the order
//! is the file's. Cost: linear in corners, n log n only in the edges of one position.

use super::crease::Creases;
use crate::obj::Document;
use crate::packed;

/// A shell, from 0 in order of its first face.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ShellId(pub u32);

/// What an edge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EdgeKind {
    /// Two mapped faces whose uv values differ at either end.
    Seam,
    /// One face.
    Open,
    /// More than two faces.
    NonManifold,
}

/// An edge worth knowing: those between two faces of one shell are not kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Edge {
    /// What it is.
    pub kind: EdgeKind,
    /// The corner the edge starts at in its first face (index into [`Document::corners`]); it ends at that face's next.
    pub corner: u32,
    /// The same in its second face, if it has one.
    pub other: Option<u32>,
    /// Of a seam, whether the shading breaks along it: split normals, or another smoothing group; `None` where the file does
    /// not say.
    pub split: Option<bool>,
}

/// How faces hang together.
#[derive(Clone, Debug, Default)]
pub struct Topology {
    /// Shell of each face; `None` where it is not mapped.
    pub face_shell: Vec<Option<ShellId>>,
    /// Part of each face, from 0 in order of its first face.
    pub face_part: Vec<u32>,
    /// How many shells.
    pub shell_count: u32,
    /// How many parts.
    pub part_count: u32,
    /// Seam, open and non-manifold edges, in the order of the corners they start at.
    pub edges: Vec<Edge>,
    /// The shading breaks along more than half of the edges between two faces of which the file says so or not: it is flat. Of
    /// large models some [`CREASES_ASKED`] corners are asked.
    pub mostly_split: bool,
    /// Per corner: does the boundary of its shell run from it to the face's next corner?
    pub shell_border: Vec<bool>,
}

/// Corners whose edges are asked whether the shading breaks along them: from so many on, others say the same.
const CREASES_ASKED: usize = 8192;

impl Topology {
    /// Number of edges of a kind.
    pub fn count(&self, kind: EdgeKind) -> usize {
        self.edges.iter().filter(|edge| edge.kind == kind).count()
    }

    pub(super) fn new(document: &Document, has_uv: &[bool], position_value: &[u32], uv_value: &[u32]) -> Self {
        let faces = document.face_count();
        let mut shells = UnionFind::new(faces);
        let mut edges = Vec::new();
        let mut shell_border = vec![true; document.corners.len()];
        let creases = Creases::new(document);
        let (mut split_edges, mut known_edges) = (0usize, 0usize);
        // Odd: faces of a model mostly have three or four corners each.
        let step = (document.corners.len() / CREASES_ASKED) as u32 | 1;
        HalfEdges::new(document, position_value).for_each_edge(|half_edges, (lower, upper), around| {
            let mapped = |corner: u32| has_uv[half_edges.face(corner) as usize];
            let uv_ends = |corner: u32| half_edges.uv_ends(corner, lower, uv_value);
            match *around {
                // Collapsed to one position it is still an edge of its faces: where its ends agree they are joined, as
                // along any other; it is no edge to look at.
                _ if lower == upper => {
                    let ends = |corner: u32| {
                        let (a, b) = uv_ends(corner);
                        (a.min(b), a.max(b))
                    };
                    for_each_alike(around.iter().filter(|&&c| mapped(c)).map(|&c| (ends(c), c)), |a, b| {
                        shells.join(half_edges.face(a), half_edges.face(b));
                    });
                }
                [corner] => edges.push(Edge { kind: EdgeKind::Open, corner, other: None, split: None }),
                [a, b] => {
                    let split = || if creases.is_known() { half_edges.is_split(&creases, a, b) } else { None };
                    if a.is_multiple_of(step) {
                        let split = split();
                        known_edges += usize::from(split.is_some());
                        split_edges += usize::from(split == Some(true));
                    }
                    if mapped(a) && mapped(b) {
                        if uv_ends(a) == uv_ends(b) {
                            shells.join(half_edges.face(a), half_edges.face(b));
                            shell_border[a as usize] = false;
                            shell_border[b as usize] = false;
                        } else {
                            edges.push(Edge { kind: EdgeKind::Seam, corner: a, other: Some(b), split: split() });
                        }
                    }
                }
                _ => {
                    let (corner, other) = (around[0], Some(around[1]));
                    edges.push(Edge { kind: EdgeKind::NonManifold, corner, other, split: None });
                    for_each_alike(around.iter().filter(|&&c| mapped(c)).map(|&c| (uv_ends(c), c)), |a, b| {
                        shells.join(half_edges.face(a), half_edges.face(b));
                        shell_border[a as usize] = false;
                        shell_border[b as usize] = false;
                    });
                }
            }
        });
        let edges = by_corner(&edges);
        let (face_shell, shell_count) = shells.number(|face| has_uv[face]);

        let mut parts = UnionFind::new(faces);
        let mut first_face = vec![u32::MAX; position_value.len()];
        for face in 0..faces {
            for corner in document.face(face) {
                let first = &mut first_face[position_value[corner.position.0 as usize] as usize];
                if *first == u32::MAX {
                    *first = face as u32;
                } else {
                    parts.join(*first, face as u32);
                }
            }
        }
        let (face_part, part_count) = parts.number(|_| true);
        Self {
            face_shell: face_shell.into_iter().map(|shell| shell.map(ShellId)).collect(),
            // Every face is numbered: the filter above lets all through.
            face_part: face_part.into_iter().map(|part| part.unwrap_or(0)).collect(),
            shell_count,
            part_count,
            edges,
            mostly_split: 2 * split_edges > known_edges,
            shell_border,
        }
    }
}

/// In the order of their corners, each of which starts one edge: the order of faces is the file's, that of its positions
/// means nothing.
fn by_corner(edges: &[Edge]) -> Vec<Edge> {
    let mut order: Vec<u64> = edges.iter().zip(0..).map(|(edge, place)| packed::two(edge.corner, place)).collect();
    order.sort_unstable();
    order.into_iter().map(|packed| edges[packed::split_two(packed).1 as usize]).collect()
}

/// All directed edges, grouped by the lower of their two position values. A half-edge is named by the corner it
/// starts at.
struct HalfEdges<'a> {
    document: &'a Document,
    position_value: &'a [u32],
    corner_face: Vec<u32>,
    starts: Vec<u32>,
    /// Upper value and corner, by lower value.
    by_lower: Vec<u64>,
}

impl<'a> HalfEdges<'a> {
    fn new(document: &'a Document, position_value: &'a [u32]) -> Self {
        let only_triangles = document.corners.len() == 3 * document.face_count();
        let mut corner_face = Vec::new();
        if !only_triangles {
            corner_face.reserve_exact(document.corners.len());
            for face in 0..document.face_count() {
                corner_face.resize(document.face_starts[face + 1] as usize, face as u32);
            }
        }
        let mut this = Self { document, position_value, corner_face, starts: Vec::new(), by_lower: Vec::new() };
        let mut starts = vec![0u32; position_value.len() + 2];
        this.for_each(|_, lower, _| starts[lower as usize + 2] += 1);
        for i in 2..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut by_lower = vec![0u64; document.corners.len()];
        this.for_each(|corner, lower, upper| {
            let slot = &mut starts[lower as usize + 1];
            by_lower[*slot as usize] = packed::two(upper, corner);
            *slot += 1;
        });
        this.starts = starts;
        this.by_lower = by_lower;
        this
    }

    /// Calls with every half-edge and the position values it joins, the lower one first.
    fn for_each(&self, mut call: impl FnMut(u32, u32, u32)) {
        for ends in self.document.face_starts.windows(2) {
            let first = if ends[0] < ends[1] { self.value(ends[0]) } else { continue };
            let mut here = first;
            for corner in ends[0]..ends[1] {
                let there = if corner + 1 < ends[1] { self.value(corner + 1) } else { first };
                call(corner, here.min(there), here.max(there));
                here = there;
            }
        }
    }

    fn face(&self, corner: u32) -> u32 {
        if self.corner_face.is_empty() { corner / 3 } else { self.corner_face[corner as usize] }
    }

    fn next(&self, corner: u32) -> u32 {
        let face = self.face(corner) as usize;
        let next = corner + 1;
        if next == self.document.face_starts[face + 1] { self.document.face_starts[face] } else { next }
    }

    fn value(&self, corner: u32) -> u32 {
        self.position_value[self.document.corners[corner as usize].position.0 as usize]
    }

    fn is_split(&self, creases: &Creases, a: u32, b: u32) -> Option<bool> {
        let (a_next, b_next) = (self.next(a), self.next(b));
        let along = self.value(a) == self.value(b);
        let ends = if along { [[a, b], [a_next, b_next]] } else { [[a, b_next], [a_next, b]] };
        creases.is_split([self.face(a), self.face(b)], ends)
    }

    /// uv values at the end with the position value `lower`, and at the other. Only for corners of mapped faces, which all
    /// have one.
    fn uv_ends(&self, corner: u32, lower: u32, uv_value: &[u32]) -> (u32, u32) {
        let texcoord = |c: u32| self.document.corners[c as usize].texcoord;
        let uv = |c: u32| texcoord(c).map_or(u32::MAX, |id| uv_value[id.index()]);
        let ends = (uv(corner), uv(self.next(corner)));
        if self.value(corner) == lower { ends } else { (ends.1, ends.0) }
    }

    /// Calls with the position values of each edge, the lower one first, and its half-edges in file order.
    fn for_each_edge(mut self, mut call: impl FnMut(&Self, (u32, u32), &[u32])) {
        let mut corners: Vec<u32> = Vec::new();
        let mut by_lower = std::mem::take(&mut self.by_lower);
        for lower in 0..self.position_value.len() {
            let around = &mut by_lower[self.starts[lower] as usize..self.starts[lower + 1] as usize];
            around.sort_unstable();
            for edge in around.chunk_by(|a, b| a >> 32 == b >> 32) {
                corners.clear();
                corners.extend(edge.iter().map(|&edge| packed::split_two(edge).1));
                call(&self, (lower as u32, packed::split_two(edge[0]).0), &corners);
            }
        }
    }
}

/// Calls with every two neighbours among the corners, in order of their uv ends, whose ends agree.
fn for_each_alike(corners: impl Iterator<Item = ((u32, u32), u32)>, mut call: impl FnMut(u32, u32)) {
    let mut sorted: Vec<u128> =
        corners.map(|((lower, upper), corner)| packed::four([0, lower, upper, corner])).collect();
    sorted.sort_unstable();
    for pair in sorted.windows(2).filter(|pair| pair[0] >> 32 == pair[1] >> 32) {
        call(pair[0] as u32, pair[1] as u32);
    }
}

/// Disjoint sets with path halving; the lowest member is the root, so numbering follows the file.
pub(crate) struct UnionFind {
    parent: Vec<u32>,
}

impl UnionFind {
    pub(crate) fn new(count: usize) -> Self {
        Self { parent: (0..count as u32).collect() }
    }

    pub(crate) fn root(&mut self, mut item: u32) -> u32 {
        while self.parent[item as usize] != item {
            self.parent[item as usize] = self.parent[self.parent[item as usize] as usize];
            item = self.parent[item as usize];
        }
        item
    }

    pub(crate) fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b) as usize] = a.min(b);
    }

    /// Numbers the classes that pass, by first member.
    fn number(mut self, passes: impl Fn(usize) -> bool) -> (Vec<Option<u32>>, u32) {
        let mut number = vec![None; self.parent.len()];
        let mut count = 0;
        for item in 0..self.parent.len() {
            if passes(item) {
                let root = self.root(item as u32) as usize;
                number[item] = Some(*number[root].get_or_insert_with(|| {
                    count += 1;
                    count - 1
                }));
            }
        }
        (number, count)
    }
}
