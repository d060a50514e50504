//! Where shells end on the sheet, and where all of them together do.
//!
//! Every triangle with area is taken counter-clockwise, and its three directed edges are grouped by uv values and shell. An
//! edge that is run both ways has its shell on both sides; any other belongs to the shell's *outline*. A fold's crease has both
//! triangles on one side and stays, once. What stays is all of the shell's border, and where a shell lies over itself or
//! has corners in the middle of edges, some edges inside it, which change no distance to what lies outside.
//! Directed edges that stay when opposite ones cancel, whatever their shells, are the *boundary* of all (`cover`).
//! Cost: linear in triangles (counting sort by the lower uv value).
//!
//! Outlines and boundary come from this one grouping, so that the edges of the sheet are passed once.

use super::input::{SheetInput, counter_clockwise};
use crate::util::packed;

/// An edge of a shell's outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct OutlineEdge {
    /// Index of its lower uv value.
    pub lower: u32,
    /// Index of its upper one.
    pub upper: u32,
    /// A triangle of the shell that has it; the first.
    pub triangle: u32,
}

/// Directed edge in a bucket of its lower end: upper end, direction and triangle in one number, in that order. uv values
/// are far fewer than 2^31.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Packed(u64);

impl Packed {
    fn new(upper: u32, down: bool, triangle: usize) -> Self {
        Self(u64::from(upper) << 33 | u64::from(down) << 32 | triangle as u64)
    }

    fn upper(self) -> u32 {
        (self.0 >> 33) as u32
    }

    fn is_down(self) -> bool {
        self.0 >> 32 & 1 == 1
    }

    fn triangle(self) -> u32 {
        self.0 as u32
    }
}

/// All outlines, and the boundary as directed edges (from, to), by uv values.
pub(super) fn outlines_and_boundary(input: &SheetInput) -> (Vec<OutlineEdge>, Vec<(u32, u32)>) {
    let mut starts = vec![0u32; input.uv.len() + 2];
    for triangle in 0..input.triangles.len() {
        let Some([a, b, c]) = counter_clockwise(input, triangle) else { continue };
        for lower in [a.min(b), b.min(c), c.min(a)] {
            starts[lower as usize + 2] += 1;
        }
    }
    (2..starts.len()).for_each(|i| starts[i] += starts[i - 1]);
    let mut by_lower = vec![Packed(0); starts.last().map_or(0, |&total| total as usize)];
    for triangle in 0..input.triangles.len() {
        let Some([a, b, c]) = counter_clockwise(input, triangle) else { continue };
        for (a, b) in [(a, b), (b, c), (c, a)] {
            let slot = &mut starts[a.min(b) as usize + 1];
            by_lower[*slot as usize] = Packed::new(a.max(b), a > b, triangle);
            *slot += 1;
        }
    }
    let shell = |edge: &Packed| input.shell[edge.triangle() as usize];
    let (mut outlines, mut boundary) = (Vec::new(), Vec::new());
    for lower in 0..input.uv.len() {
        let bucket = &mut by_lower[starts[lower] as usize..starts[lower + 1] as usize];
        bucket.sort_unstable();
        for group in bucket.chunk_by(|a, b| a.upper() == b.upper()) {
            if let [a, b] = group
                && a.is_down() != b.is_down()
                && shell(a) == shell(b)
            {
                continue;
            }
            let down = group.iter().filter(|edge| edge.is_down()).count();
            push_rest(lower as u32, group[0].upper(), group.len() - down, down, &mut boundary);
            let sorted;
            let group = if let [_] = group {
                group
            } else {
                sorted = packed::ordered(group.to_vec(), |a, b| shell(a).cmp(&shell(b)));
                &sorted
            };
            for same in group.chunk_by(|a, b| shell(a) == shell(b)) {
                if same.iter().all(|edge| edge.is_down() == same[0].is_down()) {
                    let (upper, triangle) = (same[0].upper(), same[0].triangle());
                    outlines.push(OutlineEdge { lower: lower as u32, upper, triangle });
                }
            }
        }
    }
    (outlines, boundary)
}

/// What is left of an edge that runs up and down so many times.
pub(super) fn push_rest(lower: u32, upper: u32, up: usize, down: usize, left: &mut Vec<(u32, u32)>) {
    let edge = if up > down { (lower, upper) } else { (upper, lower) };
    left.resize(left.len() + up.abs_diff(down), edge);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::brief::SheetMap;
    use glam::DVec2;

    fn ends(triangles: &[[u32; 3]], shell: &[u32]) -> Vec<(u32, u32, u32)> {
        let uv = [DVec2::ZERO, DVec2::X, DVec2::Y, DVec2::ONE, DVec2::splat(0.25)];
        let input = SheetInput {
            uv: &uv,
            triangles,
            shell,
            shell_count: 2,
            reversed: &vec![false; triangles.len()],
            sliver: &[],
            surface: &vec![1.0; triangles.len()],
            map: SheetMap::default(),
        };
        outlines_and_boundary(&input).0.into_iter().map(|edge| (edge.lower, edge.upper, edge.triangle)).collect()
    }

    #[test]
    fn inner_edges_are_dropped_and_shared_borders_kept_for_both_shells() {
        assert_eq!(ends(&[[0, 1, 2], [1, 3, 2]], &[0, 0]), [(0, 1, 0), (0, 2, 0), (1, 3, 1), (2, 3, 1)]);
        assert_eq!(
            ends(&[[0, 1, 2], [1, 3, 2]], &[0, 1]),
            [(0, 1, 0), (0, 2, 0), (1, 2, 0), (1, 2, 1), (1, 3, 1), (2, 3, 1)]
        );
    }

    #[test]
    fn a_crease_is_part_of_the_outline_once() {
        // Both on the same side of the edge 1-2, one of them flipped.
        assert_eq!(ends(&[[0, 1, 2], [1, 4, 2]], &[0, 0]), [(0, 1, 0), (0, 2, 0), (1, 2, 0), (1, 4, 1), (2, 4, 1)]);
    }

    #[test]
    fn stacked_copies_count_once_per_shell() {
        assert_eq!(
            ends(&[[0, 1, 2], [0, 1, 2], [0, 2, 1]], &[1, 0, 1]),
            [(0, 1, 1), (0, 1, 0), (0, 2, 1), (0, 2, 0), (1, 2, 1), (1, 2, 0)]
        );
    }
}
