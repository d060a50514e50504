//! Outlines on the sheet: edges joined into chains.
//!
//! A shell's outline is made of the face edges along its border, a region's of the edges of its triangles that are not
//! cancelled by one running the other way. From every corner the walk goes on along the first unused edge that starts
//! there, or else backwards along one that ends there; around an area every corner has an even number of edges, so the
//! walk closes. What does not close (inner edges) stays open.
//!
//! An edge whose ends are one uv value has no length and is left out. Edges that collapsed to one place on the surface
//! (the pole of a sphere) join the faces on either side and are cancelled like inner ones.
//! Cost: n log n in edges.

use crate::model::Model;

/// An edge on the sheet: indices into [`Layout::uv_values`](crate::model::Layout::uv_values).
pub type UvEdge = (u32, u32);

/// What is sorted here, all of one type: every other type would add a sort to the module a browser downloads.
type SortKey = [u32; 4];

/// Edges joined end to end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Chain {
    /// Indices into [`Layout::uv_values`](crate::model::Layout::uv_values); the first is not repeated at the end of a closed chain.
    pub points: Vec<u32>,
    /// Ends at its beginning.
    pub closed: bool,
}

/// The outline of each shell.
#[derive(Clone, Debug, Default)]
pub struct Rings {
    chains: Vec<Chain>,
    /// Shell i's are `chains[starts[i]..starts[i + 1]]`.
    starts: Vec<usize>,
}

impl Rings {
    /// Of all shells of a model.
    pub fn new(model: &Model) -> Self {
        let shells = model.layout.shell_count as usize;
        let document = &model.document;
        // Shell and edge; those without length on the surface apart.
        let (mut border, mut collapsed) = (Vec::new(), Vec::new());
        for face in 0..document.face_count() {
            let Some(shell) = model.layout.shell_of_face(face) else { continue };
            for corner in document.face_starts[face]..document.face_starts[face + 1] {
                if !model.layout.is_border(corner) {
                    continue;
                }
                let Some((edge, on_surface)) = edge_from(model, corner) else { continue };
                if on_surface { border.push((shell, edge)) } else { collapsed.push((shell, edge)) }
            }
        }
        border.extend(uncancelled(collapsed));
        Self::joined(border, shells)
    }

    /// Of the triangles that pass, by their shells: where a shell goes on beyond them, its outline ends with them.
    pub fn of_some(model: &Model, passes: impl Fn(usize) -> bool) -> Self {
        Self::joined(border_of(model, passes), model.layout.shell_count as usize)
    }

    fn joined(border: Vec<(u32, UvEdge)>, shells: usize) -> Self {
        let mut order: Vec<SortKey> =
            (0u32..).zip(&border).map(|(index, &(shell, (a, b)))| [shell, index, a, b]).collect();
        order.sort_unstable();
        let mut rings = Self { chains: Vec::new(), starts: Vec::with_capacity(shells + 1) };
        rings.starts.push(0);
        let mut rest = order.as_slice();
        for shell in 0..shells as u32 {
            let (own, others) = rest.split_at(rest.partition_point(|edge| edge[0] <= shell));
            rest = others;
            let edges: Vec<UvEdge> = own.iter().map(|edge| (edge[2], edge[3])).collect();
            rings.chains.extend(chains(&edges));
            rings.starts.push(rings.chains.len());
        }
        rings
    }

    /// How many shells there are.
    pub fn shell_count(&self) -> usize {
        self.starts.len().saturating_sub(1)
    }

    /// The outline of one shell.
    pub fn of(&self, shell: usize) -> &[Chain] {
        &self.chains[self.starts[shell]..self.starts[shell + 1]]
    }
}

/// The edge that begins at a corner, and whether it has length on the surface; `None` without length on the sheet or
/// without uv.
fn edge_from(model: &Model, corner: u32) -> Option<(UvEdge, bool)> {
    let ends = [corner, model.next_corner(corner)];
    let [a, b] = ends.map(|corner| model.layout.uv_value_of_corner(corner));
    let (a, b) = (a?, b?);
    let [from, to] = ends.map(|corner| model.document.corners[corner as usize].position);
    let [from, to] = [from, to].map(|position| model.position_value[position.0 as usize]);
    (a != b).then_some(((a, b), from != to))
}

/// The outline of the triangles that pass.
pub fn region(model: &Model, passes: impl Fn(usize) -> bool) -> Vec<Chain> {
    let edges: Vec<UvEdge> = border_of(model, passes).into_iter().map(|edge| edge.1).collect();
    chains(&edges)
}

/// Border edges of the triangles that pass, by their shells.
fn border_of(model: &Model, passes: impl Fn(usize) -> bool) -> Vec<(u32, UvEdge)> {
    let mut edges = Vec::new();
    for triangle in (0..model.triangle_count()).filter(|&triangle| passes(triangle)) {
        let (Some([a, b, c]), Some(shell)) = (model.uv_value_indices(triangle), model.shell_of(triangle)) else {
            continue;
        };
        edges.extend([(a, b), (b, c), (c, a)].into_iter().filter(|(a, b)| a != b).map(|edge| (shell, edge)));
    }
    uncancelled(edges)
}

/// Face edges inside shells, each once, that begin at corners that pass.
pub fn inner_edges(model: &Model, passes: impl Fn(u32) -> bool) -> Vec<Chain> {
    let inner = (0..model.document.corners.len() as u32)
        .filter(|&corner| !model.layout.is_border(corner) && passes(corner))
        .filter_map(|corner| edge_from(model, corner))
        .map(|((a, b), _)| [a.min(b), a.max(b), 0, 0]);
    chains(&once_each(inner.collect()))
}

/// Edges along which surfaces were cut apart: seams, as far as they lie on the sheet and begin at corners that pass.
pub fn seams(model: &Model, passes: impl Fn(u32) -> bool) -> Vec<Chain> {
    let seams = model.layout.edges.iter().filter(|edge| edge.kind == crate::model::EdgeKind::Seam);
    let edges = seams
        .flat_map(|edge| [Some(edge.corner), edge.other])
        .flatten()
        .filter(|&corner| passes(corner))
        .filter_map(|corner| edge_from(model, corner))
        .map(|((a, b), _)| [a, b, 0, 0]);
    chains(&once_each(edges.collect()))
}

fn once_each(mut edges: Vec<SortKey>) -> Vec<UvEdge> {
    edges.sort_unstable();
    edges.dedup();
    edges.into_iter().map(|[a, b, ..]| (a, b)).collect()
}

/// What is left when edges of one shell that run against one another are taken away.
fn uncancelled(edges: Vec<(u32, UvEdge)>) -> Vec<(u32, UvEdge)> {
    // Shell, lower and higher end, and whether the edge runs from the higher one: those that do not sort first.
    let mut keys: Vec<SortKey> =
        edges.into_iter().map(|(shell, (a, b))| [shell, a.min(b), a.max(b), u32::from(a > b)]).collect();
    keys.sort_unstable();
    let mut left = Vec::new();
    for same in keys.chunk_by(|a, b| a[..3] == b[..3]) {
        let forward = same.iter().filter(|key| key[3] == 0).count();
        let backward = same.len() - forward;
        let kept = if forward > backward { &same[..forward - backward] } else { &same[2 * forward..] };
        left.extend(kept.iter().map(|&[shell, a, b, down]| (shell, if down == 0 { (a, b) } else { (b, a) })));
    }
    left
}

/// Joins edges; every edge is in exactly one chain.
pub fn chains(edges: &[UvEdge]) -> Vec<Chain> {
    // Per end of an edge: its corner, whether the edge ends there, and the edge. What starts somewhere sorts first.
    let mut ends: Vec<SortKey> = Vec::with_capacity(edges.len() * 2);
    for (index, &(a, b)) in (0u32..).zip(edges) {
        ends.extend([[a, 0, index, 0], [b, 1, index, 0]]);
    }
    ends.sort_unstable();
    let mut used = vec![false; edges.len()];
    // Per first end at a corner, how many of the corner's ends are known to be used.
    let mut passed = vec![0u32; ends.len()];
    let mut next_from = |corner: u32, used: &[bool]| -> Option<u32> {
        let first = ends.partition_point(|end| end[0] < corner);
        loop {
            let &[at, _, edge, _] = ends.get(first + passed[first] as usize)?;
            if at != corner {
                return None;
            }
            if !used[edge as usize] {
                return Some(edge);
            }
            passed[first] += 1;
        }
    };
    let mut chains = Vec::new();
    for first in 0..edges.len() {
        if used[first] {
            continue;
        }
        used[first] = true;
        let (start, mut at) = edges[first];
        let mut points = vec![start];
        while at != start {
            points.push(at);
            let Some(edge) = next_from(at, &used) else { break };
            used[edge as usize] = true;
            let (a, b) = edges[edge as usize];
            at = if a == at { b } else { a };
        }
        chains.push(Chain { points, closed: at == start });
    }
    chains
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chains_close_open_and_pass_a_pinch() {
        let closed = |points: &[u32]| Chain { points: points.to_vec(), closed: true };
        assert_eq!(chains(&[(0, 1), (1, 2), (2, 0)]), [closed(&[0, 1, 2])]);
        assert_eq!(chains(&[(1, 2), (0, 1)]).len(), 2);
        assert_eq!(chains(&[(0, 1), (1, 2)]), [Chain { points: vec![0, 1, 2], closed: false }]);
        // One face wound the other way round.
        assert_eq!(chains(&[(0, 1), (2, 1), (2, 0)]), [closed(&[0, 1, 2])]);
        // Two triangles that touch at 2.
        assert_eq!(
            chains(&[(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (4, 2)]).iter().map(|c| c.points.len()).sum::<usize>(),
            6
        );
        assert!(chains(&[]).is_empty());
    }

    #[test]
    fn a_corner_of_many_edges_is_walked_in_linear_time() {
        // 100,000 triangles around one corner.
        let edges: Vec<UvEdge> =
            (0..100_000).flat_map(|i| [(0, 2 * i + 1), (2 * i + 1, 2 * i + 2), (2 * i + 2, 0)]).collect();
        let chains = chains(&edges);
        assert_eq!(chains.len(), 100_000);
        assert!(chains.iter().all(|chain| chain.closed && chain.points.len() == 3));
    }

    #[test]
    fn opposite_edges_cancel_one_for_one() {
        assert_eq!(uncancelled(vec![(0, (1, 2)), (0, (2, 1)), (0, (2, 1)), (1, (1, 2))]), [(0, (2, 1)), (1, (1, 2))]);
        assert_eq!(uncancelled(vec![(0, (1, 2)), (0, (1, 2)), (0, (2, 1))]), [(0, (1, 2))]);
    }
}
