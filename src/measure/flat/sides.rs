//! Which parts of a shell are reversed and which are not: its *sides*.
//!
//! A side is a set of triangles of one shell that are connected over shared edges and have one sign of uv area (as
//! [`is_reversed`](TriangleMeasures::is_reversed) judges it). Slivers and triangles without area on the sheet have no
//! sign: sides are connected across them, and they belong to none. Shells of one sign have one side, which is not kept.
//!
//! A side is *mirrored* when at least [`MIRRORED_SHARE_MIN`] of its uv area lies where oppositely handed triangles lie too and
//! it is at least [`MIRRORED_SIDE_MIN`] of its shell: half of a model laid on the other half, welded where they meet. A fold
//! lies on its own shell as well, but is small: a corner that was pulled over.
//! Cost: linear in triangles, n log n in those of shells of both signs.
//!
//! On the sheet nothing else distinguishes a folded corner from half a model mirrored on the other half: both overlap
//! their own shell, flipped. Sides are found with the triangles; whether they are mirrored is known only once overlaps
//! are measured.

use super::triangles::{TriangleMeasures, state};
use crate::model::{Model, UnionFind};
use crate::util::packed;

/// Share of a mirrored side's uv area that lies on oppositely handed triangles. By definition.
pub const MIRRORED_SHARE_MIN: f64 = 0.95;
/// Least share of its shell's uv area that a mirrored side has, 0..1; a smaller one is a fold (common practice, no source).
pub const MIRRORED_SIDE_MIN: f64 = 0.1;

/// Sides of the shells that have both signs.
#[derive(Clone, Debug, Default)]
pub struct Sides {
    /// Triangles with a sign, and the side of each, by triangle.
    pub(super) triangles: Vec<(u32, u32)>,
    /// By the first triangle.
    pub(super) sides: Vec<Side>,
}

#[derive(Clone, Copy, Debug)]
pub(super) struct Side {
    pub shell: u32,
    pub reversed: bool,
    pub area_uv: f64,
}

/// The sign of a triangle, whether it is reversed; `None` for those without.
fn sign(triangles: &TriangleMeasures, triangle: usize) -> Option<bool> {
    let has = triangles.state[triangle] & (state::MAPPED | state::COLLAPSED_UV | state::SLIVER) == state::MAPPED;
    has.then(|| triangles.is_reversed(triangle))
}

impl Sides {
    /// Finds the sides of all shells.
    pub(super) fn new(model: &Model, triangles: &TriangleMeasures) -> Self {
        let mut has = vec![[false; 2]; model.layout.shell_count as usize];
        for triangle in 0..model.triangle_count() {
            if let (Some(shell), Some(reversed)) = (model.shell_of(triangle), sign(triangles, triangle)) {
                has[shell as usize][usize::from(reversed)] = true;
            }
        }
        if !has.contains(&[true; 2]) {
            return Self::default();
        }
        let mut mixed = Vec::new();
        for triangle in 0..model.triangle_count() {
            if model.shell_of(triangle).is_some_and(|shell| has[shell as usize] == [true; 2]) {
                mixed.push(triangle as u32);
            }
        }
        // Two nodes for each: not reversed, and reversed.
        let mut together = UnionFind::new(2 * mixed.len());
        let edges = shared_edges(model, &mixed);
        for edge in edges.chunk_by(|a, b| a >> 32 == b >> 32) {
            for reversed in [false, true] {
                let mut first = u32::MAX;
                for place in edge.iter().map(|&edge| edge as u32) {
                    if sign(triangles, mixed[place as usize] as usize).unwrap_or(reversed) == reversed {
                        let node = 2 * place + u32::from(reversed);
                        first = first.min(node);
                        together.join(first, node);
                    }
                }
            }
        }
        let mut result = Self::default();
        let mut number = vec![u32::MAX; 2 * mixed.len()];
        for (place, &triangle) in mixed.iter().enumerate() {
            let Some(reversed) = sign(triangles, triangle as usize) else { continue };
            let Some(shell) = model.shell_of(triangle as usize) else { continue };
            let number = &mut number[together.root(2 * place as u32 + u32::from(reversed)) as usize];
            if *number == u32::MAX {
                *number = result.sides.len() as u32;
                result.sides.push(Side { shell, reversed, area_uv: 0.0 });
            }
            result.sides[*number as usize].area_uv += triangles.area_uv[triangle as usize];
            result.triangles.push((triangle, *number));
        }
        result
    }

    /// Of each side the uv area that lies where oppositely handed triangles do; `opposite` is that share of a triangle, 0..1.
    pub(in crate::measure) fn covered(
        &self,
        triangles: &TriangleMeasures,
        opposite: &dyn Fn(usize) -> f64,
    ) -> Vec<f64> {
        let mut covered = vec![0.0; self.sides.len()];
        for &(triangle, side) in &self.triangles {
            covered[side as usize] += triangles.area_uv[triangle as usize] * opposite(triangle as usize);
        }
        covered
    }
}

/// Edges of triangles and the places of those in the list, alike ones one after another: 0, two corners, place. Corners are
/// the same where position and uv are, by value.
fn shared_edges(model: &Model, triangles: &[u32]) -> Vec<u128> {
    // Corners by uv, and there by position; a corner is named by the first that is the same.
    let uvs = |triangle: u32| model.uv_value_indices(triangle as usize).unwrap_or_default();
    let mut starts = vec![0u32; model.layout.uv_values.len() + 2];
    for &triangle in triangles {
        uvs(triangle).iter().for_each(|&uv| starts[uv as usize + 2] += 1);
    }
    (2..starts.len()).for_each(|i| starts[i] += starts[i - 1]);
    let mut corners = vec![0u64; 3 * triangles.len()];
    for (&triangle, place) in triangles.iter().zip(0u32..) {
        let own = model.corners(triangle as usize);
        for (at, uv) in uvs(triangle).into_iter().enumerate() {
            let slot = &mut starts[uv as usize + 1];
            let position = model.position_value[own[at].position.0 as usize];
            corners[*slot as usize] = packed::two(position, 3 * place + at as u32);
            *slot += 1;
        }
    }
    let mut name = vec![0u32; corners.len()];
    for bucket in starts.windows(2) {
        let bucket = &mut corners[bucket[0] as usize..bucket[1] as usize];
        bucket.sort_unstable();
        for same in bucket.chunk_by(|a, b| a >> 32 == b >> 32) {
            same.iter().for_each(|&corner| name[corner as u32 as usize] = same[0] as u32);
        }
    }
    let mut edges = Vec::with_capacity(corners.len());
    for (own, place) in name.as_chunks::<3>().0.iter().zip(0u32..) {
        for (from, to) in [(own[0], own[1]), (own[1], own[2]), (own[2], own[0])] {
            edges.push(packed::four([0, from.min(to), from.max(to), place]));
        }
    }
    edges.sort_unstable();
    edges
}
