//! Merges triangles that are equal on the sheet.
//!
//! Mirrored halves, stacked copies and palette layouts put triangles exactly on one another. Such triangles have the
//! same three uv values; taken once, with the list of their members, a stack of any height costs one triangle in every
//! search. Within one, members of the same shell and handedness are a *class*: they overlap the same others.
//!
//! *Equal shells* are equal in every triangle, with the same orientation, at least [`EQUAL_LEAST`] of them: foliage,
//! hair cards, copied bolts. They are taken as the first of them, whose classes then hold the members of all, so that a
//! stack of any height costs one shell in every search. Cost: linear (counting sort by the lowest uv value), n log n
//! within a stack and in shells.
//!
//! Without this, n equal shells would be n² pairs in every triangle. They are found by a sum of 128 scattered bits of what
//! they consist of; `equal_shells` in the report says which they are. Two equal shells are a pair like any other.

use super::input::{SheetInput, counter_clockwise};
use crate::util::packed;

/// So many equal shells are taken as one; two are a pair.
pub(super) const EQUAL_LEAST: usize = 3;

/// Members of one distinct triangle that belong to one shell and have one handedness.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Class {
    /// Shell, and in the lowest bit whether reversed.
    tag: u32,
    first: u32,
}

impl Class {
    pub(super) fn shell(self) -> u32 {
        self.tag >> 1
    }

    pub(super) fn reversed(self) -> bool {
        self.tag & 1 == 1
    }
}

/// Distinct triangles of the sheet.
pub(super) struct Distinct {
    /// Triangles of the input, by distinct triangle and class, ascending within.
    members: Vec<u32>,
    classes: Vec<Class>,
    /// Per distinct triangle its first class, and the end.
    starts: Vec<u32>,
    /// By shell, how many equal ones it represents; empty if none represents others.
    copies: Vec<u32>,
}

impl Distinct {
    /// Of those triangles that pass and have area.
    pub(super) fn new(input: &SheetInput, passes: impl Fn(usize) -> bool) -> Self {
        let corners = |triangle: usize| {
            let [a, b, c] = counter_clockwise(input, triangle).filter(|_| passes(triangle))?;
            let lowest = a.min(b).min(c);
            Some(if lowest == a {
                [a, b, c]
            } else if lowest == b {
                [b, c, a]
            } else {
                [c, a, b]
            })
        };
        let mut slots = vec![0u32; input.uv.len() + 2];
        let mut count = 0;
        for [lowest, ..] in (0..input.triangles.len()).filter_map(corners) {
            slots[lowest as usize + 2] += 1;
            count += 1;
        }
        (2..slots.len()).for_each(|i| slots[i] += slots[i - 1]);
        let tag = |triangle: u32| input.shell[triangle as usize] << 1 | u32::from(input.reversed[triangle as usize]);
        // Middle corner, last corner, tag, triangle.
        let mut sorted = vec![0u128; count];
        for triangle in 0..input.triangles.len() {
            let Some([lowest, b, c]) = corners(triangle) else { continue };
            let slot = &mut slots[lowest as usize + 1];
            sorted[*slot as usize] = packed::four([b, c, tag(triangle as u32), triangle as u32]);
            *slot += 1;
        }
        let mut distinct =
            Self { members: Vec::with_capacity(count), classes: Vec::new(), starts: Vec::new(), copies: Vec::new() };
        for lowest in 0..input.uv.len() {
            let bucket = &mut sorted[slots[lowest] as usize..slots[lowest + 1] as usize];
            bucket.sort_unstable();
            for same in bucket.chunk_by(|x, y| x >> 64 == y >> 64) {
                distinct.starts.push(distinct.classes.len() as u32);
                for class in same.chunk_by(|x, y| x >> 32 == y >> 32) {
                    let [_, _, tag, _] = packed::split_four(class[0]);
                    distinct.classes.push(Class { tag, first: distinct.members.len() as u32 });
                    distinct.members.extend(class.iter().map(|&entry| entry as u32));
                }
            }
        }
        distinct.starts.push(distinct.classes.len() as u32);
        distinct
    }

    /// Takes equal shells as the first of them, and gives them, rising. `has_say`: the triangles of the input that make a shell
    /// what it is; all those that were let pass are among them.
    pub(super) fn join_equal(&mut self, input: &SheetInput, has_say: &dyn Fn(usize) -> bool) -> Vec<Vec<u32>> {
        let mut missing = vec![0u32; input.shell_count as usize];
        for triangle in 0..input.triangles.len() {
            if has_say(triangle) && counter_clockwise(input, triangle).is_some() {
                missing[input.shell[triangle] as usize] += 1;
            }
        }
        // What a shell consists of, in any order: sums of 128 scattered bits, which two different shells do not share.
        let mut sums = vec![0u128; missing.len()];
        for id in 0..self.len() as u32 {
            for number in self.class_ids(id) {
                let (class, count) = (self.class(number), self.members(number).len() as u32);
                let sum = &mut sums[class.shell() as usize];
                *sum = sum.wrapping_add(scattered(packed::four([0, id, count, u32::from(class.reversed())])));
                missing[class.shell() as usize] -= count;
            }
        }
        let is_whole = |&shell: &u32| missing[shell as usize] == 0 && sums[shell as usize] != 0;
        let shells = packed::ordered((0..input.shell_count).filter(is_whole).collect(), |&a, &b| {
            sums[a as usize].cmp(&sums[b as usize])
        });
        let alike = shells.chunk_by(|&a, &b| sums[a as usize] == sums[b as usize]);
        let groups: Vec<Vec<u32>> = alike.filter(|same| same.len() >= EQUAL_LEAST).map(<[u32]>::to_vec).collect();
        let groups = packed::ordered(groups, |a, b| a[0].cmp(&b[0]));
        if !groups.is_empty() {
            self.join(&groups, input.shell_count);
        }
        groups
    }

    fn join(&mut self, groups: &[Vec<u32>], shells: u32) {
        let mut first: Vec<u32> = (0..shells).collect();
        self.copies = vec![1; shells as usize];
        for group in groups {
            group.iter().for_each(|&shell| first[shell as usize] = group[0]);
            self.copies[group[0] as usize] = group.len() as u32;
        }
        let mut members = Vec::with_capacity(self.members.len());
        let (mut classes, mut starts) = (Vec::new(), Vec::with_capacity(self.starts.len()));
        let mut order: Vec<u64> = Vec::new();
        for id in 0..self.len() as u32 {
            starts.push(classes.len() as u32);
            let tag = |number: usize| {
                let class = self.class(number);
                first[class.shell() as usize] << 1 | u32::from(class.reversed())
            };
            order.clear();
            order.extend(self.class_ids(id).map(|number| packed::two(tag(number), number as u32)));
            order.sort_unstable();
            for same in order.chunk_by(|a, b| a >> 32 == b >> 32) {
                classes.push(Class { tag: packed::split_two(same[0]).0, first: members.len() as u32 });
                same.iter().for_each(|&entry| members.extend_from_slice(self.members(entry as u32 as usize)));
            }
        }
        starts.push(classes.len() as u32);
        (self.members, self.classes, self.starts) = (members, classes, starts);
    }

    /// How many equal shells the shell of a class represents; its members come shell by shell.
    pub(super) fn copies(&self, number: usize) -> usize {
        self.copies.get(self.classes[number].shell() as usize).map_or(1, |&copies| copies as usize)
    }

    /// How many members of a class belong to each of its shells.
    pub(super) fn layers(&self, number: usize) -> usize {
        self.members(number).len() / self.copies(number)
    }

    /// How many distinct triangles there are.
    pub(super) fn len(&self) -> usize {
        self.starts.len() - 1
    }

    /// How many classes there are in all.
    pub(super) fn class_count(&self) -> usize {
        self.classes.len()
    }

    /// Numbers of a distinct triangle's classes; never empty.
    pub(super) fn class_ids(&self, id: u32) -> std::ops::Range<usize> {
        self.starts[id as usize] as usize..self.starts[id as usize + 1] as usize
    }

    /// A class by number.
    pub(super) fn class(&self, number: usize) -> Class {
        self.classes[number]
    }

    /// Triangles of the input in a class; never empty.
    pub(super) fn members(&self, number: usize) -> &[u32] {
        let end = self.classes.get(number + 1).map_or(self.members.len(), |next| next.first as usize);
        &self.members[self.classes[number].first as usize..end]
    }

    /// A triangle of the input that represents all equal ones.
    pub(super) fn example(&self, id: u32) -> usize {
        self.members[self.classes[self.starts[id as usize] as usize].first as usize] as usize
    }
}

/// Scatters the bits of a number: two rounds of multiplying with the golden ratio's bits and folding (Knuth, The Art of
/// Computer Programming 3, 6.4).
fn scattered(number: u128) -> u128 {
    const GOLDEN: u128 = 0x9E37_79B9_7F4A_7C15_F39C_C060_5CED_C835;
    let folded = |bits: u128| bits ^ bits >> 67;
    folded(folded((number + 1).wrapping_mul(GOLDEN)).wrapping_mul(GOLDEN)).wrapping_mul(GOLDEN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::brief::SheetMap;
    use glam::DVec2;

    #[test]
    fn equal_triangles_merge_with_a_class_per_shell_and_orientation() {
        let uv = [DVec2::ZERO, DVec2::X, DVec2::Y, DVec2::ONE, DVec2::X / 2.0];
        let input = SheetInput {
            uv: &uv,
            triangles: &[[0, 1, 2], [1, 3, 2], [2, 0, 1], [2, 1, 0], [1, 2, 0], [0, 4, 1]],
            shell: &[0, 0, 0, 1, 2, 2],
            shell_count: 3,
            reversed: &[false, false, false, true, false, false],
            sliver: &[],
            surface: &[1.0; 6],
            map: SheetMap::default(),
        };
        let distinct = Distinct::new(&input, |_| true);
        // The last has no area.
        assert_eq!(distinct.len(), 2);
        assert_eq!(distinct.class_count(), 4);
        let classes: Vec<_> = distinct
            .class_ids(0)
            .map(|number| {
                let class = distinct.class(number);
                (class.shell(), class.reversed(), distinct.members(number).to_vec())
            })
            .collect();
        assert_eq!(classes, [(0, false, vec![0, 2]), (1, true, vec![3]), (2, false, vec![4])]);
        assert_eq!((distinct.example(1), distinct.members(3)), (1, &[1u32][..]));
        assert_eq!(Distinct::new(&input, |_| false).len(), 0);
    }
}
