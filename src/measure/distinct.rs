//! Triangles that are the same on the sheet, as one.
//!
//! Mirrored halves, stacked copies and palette layouts put triangles exactly on one another. Such triangles have the same
//! three uv values; taken once, with the list of who they are, a stack of any height costs one triangle in every search.
//! Within one, members of the same shell and handedness are a *class*: they share with the same others.
//! Cost: linear (counting sort by the lowest uv value), n log n within a stack.

use super::cover::counter_clockwise;
use super::sheet::SheetInput;
use crate::packed;

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
        let mut distinct = Self { members: Vec::with_capacity(count), classes: Vec::new(), starts: Vec::new() };
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

    /// A triangle of the input that stands for all that are the same.
    pub(super) fn example(&self, id: u32) -> usize {
        self.members[self.classes[self.starts[id as usize] as usize].first as usize] as usize
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::brief::SheetMap;
    use glam::DVec2;

    #[test]
    fn same_corners_in_any_order_are_one_with_a_class_for_each_shell_and_hand() {
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
