//! Which parts of a shell lie the right way round, and which do not: its *sides*.
//!
//! A side is a set of triangles of one shell that hang together over shared edges and have one sign of uv area (as
//! [`is_reversed`](TriangleMeasures::is_reversed) judges it). Slivers and triangles without area on the sheet have no sign:
//! sides hang together across them, and they belong to none. Shells of one sign have one side, which is not kept.
//!
//! A side is *mirrored* when at least [`MIRRORED_SHARE_MIN`] of its uv area lies where oppositely handed triangles lie too and
//! it is at least [`MIRRORED_SIDE_MIN`] of its shell: half of a model laid on the other half, welded where they meet. A fold
//! lies on its own shell as well, but is small: a corner that was pulled over.
//! Cost: linear in triangles, n log n in those of shells of both signs.

use super::triangles::{TriangleMeasures, state};
use crate::model::{Model, UnionFind};
use crate::packed;
use rustc_hash::FxHashMap;

/// Share of a mirrored side's uv area that lies on oppositely handed triangles: as of stacked shells. By definition.
pub const MIRRORED_SHARE_MIN: f64 = super::sharing::STACKED_SHARE_MIN;
/// Least share of its shell's uv area that a mirrored side has, 0..1; a smaller one is a fold (common practice, no source).
pub const MIRRORED_SIDE_MIN: f64 = 0.1;

/// Sides of the shells that have both signs.
#[derive(Clone, Debug, Default)]
pub struct Sides {
    /// Triangles with a sign, and the side of each, by triangle.
    triangles: Vec<(u32, u32)>,
    /// By the first triangle.
    sides: Vec<Side>,
}

#[derive(Clone, Copy, Debug)]
struct Side {
    shell: u32,
    reversed: bool,
    area_uv: f64,
}

/// What the sides say of their shells.
pub(super) struct Settled {
    /// Of each shell that has sides of both signs, whether it is flipped, by shell.
    pub flipped: Vec<(u32, bool)>,
    /// Shells that hold a side that is mirrored, by shell.
    pub mirrored: Vec<u32>,
    /// Folded triangles and their shells, by triangle.
    pub folded: Vec<(u32, u32)>,
}

/// The sign of a triangle, whether it is reversed; `None` for those without.
fn sign(triangles: &TriangleMeasures, triangle: usize) -> Option<bool> {
    let has = triangles.state[triangle] & (state::MAPPED | state::COLLAPSED_UV | state::SLIVER) == state::MAPPED;
    has.then(|| triangles.is_reversed(triangle))
}

impl Sides {
    /// Finds the sides of all shells.
    pub(super) fn new(model: &Model, triangles: &TriangleMeasures) -> Self {
        let mut has = vec![[false; 2]; model.topology.shell_count as usize];
        let all = || (0..model.triangle_count()).filter_map(|t| Some((t, model.shell_of(t)?)));
        for (triangle, shell) in all() {
            if let Some(reversed) = sign(triangles, triangle) {
                has[shell as usize][usize::from(reversed)] = true;
            }
        }
        if !has.contains(&[true; 2]) {
            return Self::default();
        }
        let mixed: Vec<(usize, u32)> = all().filter(|&(_, shell)| has[shell as usize] == [true; 2]).collect();
        // Two nodes for each: as the right way round, and as reversed.
        let mut together = UnionFind::new(2 * mixed.len());
        let signs: Vec<Option<bool>> = mixed.iter().map(|&(triangle, _)| sign(triangles, triangle)).collect();
        let edges = shared_edges(model, &mixed);
        for edge in edges.chunk_by(|a, b| a >> 32 == b >> 32) {
            for reversed in [false, true] {
                let mut first = None;
                for place in edge.iter().map(|&edge| edge as u32) {
                    if signs[place as usize].is_none_or(|sign| sign == reversed) {
                        let node = 2 * place + u32::from(reversed);
                        together.join(*first.get_or_insert(node), node);
                    }
                }
            }
        }
        let mut result = Self::default();
        let mut number = vec![u32::MAX; 2 * mixed.len()];
        for (place, &(triangle, shell)) in mixed.iter().enumerate() {
            let Some(reversed) = signs[place] else { continue };
            let number = &mut number[together.root(2 * place as u32 + u32::from(reversed)) as usize];
            if *number == u32::MAX {
                *number = result.sides.len() as u32;
                result.sides.push(Side { shell, reversed, area_uv: 0.0 });
            }
            result.sides[*number as usize].area_uv += triangles.area_uv[triangle];
            result.triangles.push((triangle as u32, *number));
        }
        result
    }

    /// All triangles that belong to one.
    pub(super) fn triangles(&self) -> impl Iterator<Item = usize> {
        self.triangles.iter().map(|&(triangle, _)| triangle as usize)
    }

    /// Judges the sides; `opposite` is the share of a triangle's uv area, 0..1, that lies where oppositely handed ones do.
    ///
    /// A shell is flipped when more than half of its uv area is reversed, reversed sides that are mirrored aside; sides of the
    /// other sign are folded, unless they are mirrored.
    pub(super) fn settle(&self, triangles: &TriangleMeasures, opposite: impl Fn(usize) -> f64) -> Settled {
        let mut covered = vec![0.0; self.sides.len()];
        for &(triangle, side) in &self.triangles {
            covered[side as usize] += triangles.area_uv[triangle as usize] * opposite(triangle as usize);
        }
        let by_shell = packed::ordered((0..self.sides.len()).collect(), |&a: &usize, &b| {
            self.sides[a].shell.cmp(&self.sides[b].shell)
        });
        let mut result = Settled { flipped: Vec::new(), mirrored: Vec::new(), folded: Vec::new() };
        let mut is_folded = vec![false; self.sides.len()];
        for of_shell in by_shell.chunk_by(|&a, &b| self.sides[a].shell == self.sides[b].shell) {
            let sum = |passes: &dyn Fn(usize) -> bool| -> f64 {
                of_shell.iter().filter(|&&side| passes(side)).map(|&side| self.sides[side].area_uv).sum()
            };
            let whole = sum(&|_| true);
            let is_mirrored = |side: usize| {
                let area = self.sides[side].area_uv;
                covered[side] >= MIRRORED_SHARE_MIN * area && area >= MIRRORED_SIDE_MIN * whole
            };
            let aside = |side: usize| self.sides[side].reversed && is_mirrored(side);
            let reversed = sum(&|side| self.sides[side].reversed && !aside(side));
            let flipped = reversed > sum(&|side| !aside(side)) / 2.0;
            let shell = self.sides[of_shell[0]].shell;
            result.flipped.push((shell, flipped));
            let against = |side: &&usize| self.sides[**side].reversed != flipped;
            if of_shell.iter().filter(against).any(|&side| is_mirrored(side)) {
                result.mirrored.push(shell);
            }
            of_shell.iter().filter(against).for_each(|&side| is_folded[side] = !is_mirrored(side));
        }
        let folded = self.triangles.iter().filter(|&&(_, side)| is_folded[side as usize]);
        result.folded = folded.map(|&(triangle, side)| (triangle, self.sides[side as usize].shell)).collect();
        result
    }
}

/// Edges of triangles and the places of those in the list, alike ones one after another: 0, two corners, place. Corners are
/// the same where position and uv are, by value.
fn shared_edges(model: &Model, triangles: &[(usize, u32)]) -> Vec<u128> {
    let mut numbers = FxHashMap::default();
    let mut edges = Vec::with_capacity(3 * triangles.len());
    for (place, &(triangle, _)) in triangles.iter().enumerate() {
        let Some(uv) = model.uv_value_indices(triangle) else { continue };
        let corners = model.corners(triangle);
        let mut corner = |at: usize| {
            let position = model.position_value[corners[at].position.0 as usize];
            let next = numbers.len() as u32;
            *numbers.entry(packed::two(position, uv[at])).or_insert(next)
        };
        let [a, b, c] = [corner(0), corner(1), corner(2)];
        for (from, to) in [(a, b), (b, c), (c, a)] {
            edges.push(packed::four([0, from.min(to), from.max(to), place as u32]));
        }
    }
    edges.sort_unstable();
    edges
}
