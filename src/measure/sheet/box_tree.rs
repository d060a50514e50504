//! Which boxes of the sheet overlap.
//!
//! A binary tree of boxes, split at the median of their middles along the longer side, is joined with itself. Medians
//! adapt to clusters: a layout squeezed into a corner, one stray shell far away, or sizes that differ by any factor
//! cost no more than an even one (a grid would turn quadratic). Cost: n log n to build, then about linear in the pairs
//! that meet.
//!
//! The same tree finds boxes of different owners that lie near one another ([`BoxTree::for_each_near_pair`]): branch
//! and bound over pairs of nodes, nearer ones first, so that a search for the nearest has a small bound early.
//!
//! Boxes are ordered by integers of their middles, which takes half as long as ordering by the boxes themselves.

use crate::util::packed;
use glam::DVec2;

/// Boxes in a leaf: small enough to compare all with all.
const LEAF: usize = 8;

/// A box and its owner.
#[derive(Clone, Copy)]
pub(super) struct Entry {
    pub low: DVec2,
    pub high: DVec2,
    pub id: u32,
}

impl Entry {
    fn meets(&self, other: &Self) -> bool {
        self.low.cmplt(other.high).all() && other.low.cmplt(self.high).all()
    }

    /// 0 where they meet or touch.
    #[inline(always)]
    fn distance_squared(&self, other: &Self) -> f64 {
        (self.low - other.high).max(other.low - self.high).max(DVec2::ZERO).length_squared()
    }
}

/// Cells a box may touch on average before a grid is no help to [`most_pairs`].
const CELLS_PER_BOX: usize = 8;

/// No more pairs of boxes meet than this: those that share a cell of a grid with about as many cells as there are boxes,
/// counted once for each cell. `None` where boxes are large against the cells. Linear, and spares the tree.
pub(super) fn most_pairs(entries: &[Entry]) -> Option<usize> {
    let around = |(low, high): (DVec2, DVec2), entry: &Entry| (low.min(entry.low), high.max(entry.high));
    let (low, high) = entries.iter().fold((DVec2::INFINITY, DVec2::NEG_INFINITY), around);
    let side = (entries.len() as f64).sqrt().ceil().max(1.0);
    let scale = DVec2::splat(side) / (high - low);
    let cell = |at: DVec2| ((at - low) * scale).to_array().map(|x| (x as usize).min(side as usize - 1));
    let mut held = vec![0u32; (side * side) as usize];
    let (mut touched, mut pairs) = (0, 0);
    for entry in entries {
        let ([x0, y0], [x1, y1]) = (cell(entry.low), cell(entry.high));
        touched += (x1 - x0 + 1) * (y1 - y0 + 1);
        if touched > CELLS_PER_BOX * entries.len() {
            return None;
        }
        for y in y0..=y1 {
            for held in &mut held[y * side as usize..][x0..=x1] {
                pairs = usize::saturating_add(pairs, *held as usize);
                *held += 1;
            }
        }
    }
    Some(pairs)
}

/// A range of entries and the box around it. Left child: the next node.
struct Node {
    around: Entry,
    first: u32,
    end: u32,
    /// Right child; 0 in a leaf.
    right: u32,
    /// Nodes of its branch, itself among them.
    nodes: u32,
}

pub(super) struct BoxTree {
    entries: Vec<Entry>,
    nodes: Vec<Node>,
}

/// A search for boxes that are near one another. Owners are `None` where a node holds boxes of several.
pub(super) trait Near {
    /// The owner of a box.
    fn owner(&self, id: u32) -> u32;
    /// Can anything between these owners, at this squared distance or further apart, still matter?
    fn matters(&self, distance_squared: f64, a: Option<u32>, b: Option<u32>) -> bool;
    /// Two boxes of different owners that matter by their distance.
    fn look(&mut self, a: &Entry, b: &Entry);
    /// So many pairs of boxes were compared; false to stop.
    fn go_on(&mut self, compared: u64) -> bool;
}

/// Events of the search.
pub(super) enum Step<'a> {
    /// So many pairs of boxes were compared.
    Looked(u64),
    /// These two meet, in their interiors.
    Met(&'a Entry, &'a Entry),
}

impl BoxTree {
    pub(super) fn new(entries: Vec<Entry>) -> Self {
        let mut nodes = Vec::with_capacity(4 * (entries.len() / LEAF + 1));
        // Where a box lies along the axis of its node, and its place among the entries: integers are selected by their
        // middle in half the time that boxes are.
        let mut order: Vec<u128> = (0..entries.len() as u128).collect();
        if !entries.is_empty() {
            build(&entries, &mut order, 0, &mut nodes);
        }
        Self { entries: order.into_iter().map(|packed| entries[place(packed)]).collect(), nodes }
    }

    /// Calls with every pair of boxes whose interiors meet, once, until stopped; false if it was.
    pub(super) fn for_each_pair(&self, mut go_on: impl FnMut(Step) -> bool) -> bool {
        if self.nodes.is_empty() {
            return true;
        }
        // Pairs of nodes still to be joined; a node with itself: all pairs inside it.
        let mut open = vec![(0u32, 0u32)];
        while let Some((a, b)) = open.pop() {
            let (node_a, node_b) = (&self.nodes[a as usize], &self.nodes[b as usize]);
            if a == b {
                if node_a.right != 0 {
                    open.extend([(node_a.right, node_a.right), (a + 1, node_a.right), (a + 1, a + 1)]);
                } else if !self.join(node_a, node_b, &mut go_on) {
                    return false;
                }
            } else if node_a.around.meets(&node_b.around) {
                let larger = |x: &Node, y: &Node| x.end - x.first >= y.end - y.first;
                if node_a.right != 0 && (node_b.right == 0 || larger(node_a, node_b)) {
                    open.extend([(node_a.right, b), (a + 1, b)]);
                } else if node_b.right != 0 {
                    open.extend([(a, node_b.right), (a, b + 1)]);
                } else if !self.join(node_a, node_b, &mut go_on) {
                    return false;
                }
            }
        }
        true
    }

    /// Calls with the id of every box whose interior meets that of this one.
    pub(super) fn for_each_meeting(&self, around: &Entry, mut call: impl FnMut(u32)) {
        let mut index = 0;
        while let Some(node) = self.nodes.get(index) {
            if !node.around.meets(around) {
                // What it holds lies apart too: on to the node behind the last of them.
                index += node.nodes as usize;
                continue;
            }
            if node.right == 0 {
                self.entries_of(node).iter().filter(|entry| entry.meets(around)).for_each(|entry| call(entry.id));
            }
            index += 1;
        }
    }

    /// Looks at the pairs of boxes of different owners that matter; false when it was stopped.
    pub(super) fn for_each_near_pair(&self, near: &mut impl Near) -> bool {
        if self.nodes.is_empty() {
            return true;
        }
        // Children come after their node.
        let mut owners: Vec<Option<u32>> = vec![None; self.nodes.len()];
        for (index, node) in self.nodes.iter().enumerate().rev() {
            owners[index] = if node.right == 0 {
                let first = near.owner(self.entries[node.first as usize].id);
                self.entries_of(node).iter().all(|entry| near.owner(entry.id) == first).then_some(first)
            } else {
                owners[index + 1].filter(|_| owners[index + 1] == owners[node.right as usize])
            };
        }
        let mut open = vec![(0u32, 0u32, 0.0)];
        while let Some((a, b, distance_squared)) = open.pop() {
            if !near.matters(distance_squared, owners[a as usize], owners[b as usize]) {
                continue;
            }
            let (node_a, node_b) = (&self.nodes[a as usize], &self.nodes[b as usize]);
            let apart = |x: u32, y: u32| self.nodes[x as usize].around.distance_squared(&self.nodes[y as usize].around);
            let mut push = |pairs: [(u32, u32); 2]| {
                let [p, q] = pairs.map(|(x, y)| (x, y, apart(x, y)));
                // What is pushed last is taken first.
                open.extend(if p.2 < q.2 { [q, p] } else { [p, q] });
            };
            let larger = |x: &Node, y: &Node| x.end - x.first >= y.end - y.first;
            if a == b && node_a.right != 0 {
                open.extend([
                    (a + 1, node_a.right, apart(a + 1, node_a.right)),
                    (node_a.right, node_a.right, 0.0),
                    (a + 1, a + 1, 0.0),
                ]);
            } else if node_a.right != 0 && (node_b.right == 0 || larger(node_a, node_b)) {
                push([(a + 1, b), (node_a.right, b)]);
            } else if node_b.right != 0 {
                push([(a, b + 1), (a, node_b.right)]);
            } else {
                let (of_a, of_b) = (self.entries_of(node_a), self.entries_of(node_b));
                for (index, x) in of_a.iter().enumerate() {
                    for y in if a == b { &of_a[index + 1..] } else { of_b } {
                        let owners = (near.owner(x.id), near.owner(y.id));
                        if owners.0 != owners.1 && near.matters(x.distance_squared(y), Some(owners.0), Some(owners.1)) {
                            near.look(x, y);
                        }
                    }
                }
                if !near.go_on((of_a.len() * of_b.len()) as u64) {
                    return false;
                }
            }
            if !near.go_on(1) {
                return false;
            }
        }
        true
    }

    fn entries_of(&self, node: &Node) -> &[Entry] {
        &self.entries[node.first as usize..node.end as usize]
    }

    /// Compares the boxes of two leaves.
    fn join(&self, a: &Node, b: &Node, go_on: &mut impl FnMut(Step) -> bool) -> bool {
        let of_b = &self.entries[b.first as usize..b.end as usize];
        let inside_one = a.first == b.first;
        for (offset, entry) in self.entries[a.first as usize..a.end as usize].iter().enumerate() {
            let others = if inside_one { &of_b[offset + 1..] } else { of_b };
            if !inside_one && !entry.meets(&b.around) {
                continue;
            }
            for other in others.iter().filter(|other| entry.meets(other)) {
                if !go_on(Step::Met(entry, other)) {
                    return false;
                }
            }
        }
        go_on(Step::Looked(u64::from(a.end - a.first) * u64::from(b.end - b.first)))
    }
}

fn place(packed: u128) -> usize {
    packed as u32 as usize
}

/// Adds the nodes of the entries in `order`, the first of which is number `first` of all, and brings those into the order
/// of the leaves.
fn build(entries: &[Entry], order: &mut [u128], first: usize, nodes: &mut Vec<Node>) -> usize {
    let mut around = entries[place(order[0])];
    let (mut least, mut most) = (around.low + around.high, around.low + around.high);
    for &packed in &order[1..] {
        let entry = entries[place(packed)];
        around.low = around.low.min(entry.low);
        around.high = around.high.max(entry.high);
        // Twice the middle orders as well as the middle.
        let middle = entry.low + entry.high;
        (least, most) = (least.min(middle), most.max(middle));
    }
    let index = nodes.len();
    nodes.push(Node { around, first: first as u32, end: (first + order.len()) as u32, right: 0, nodes: 1 });
    if order.len() > LEAF {
        let half = order.len() / 2;
        let spread = most - least;
        let axis = usize::from(spread.x < spread.y);
        for packed in &mut *order {
            let entry = &entries[place(*packed)];
            let middle = packed::sortable(entry.low[axis] + entry.high[axis]);
            *packed = packed::two_long(middle, u64::from(*packed as u32));
        }
        order.select_nth_unstable(half);
        let (left, right) = order.split_at_mut(half);
        build(entries, left, first, nodes);
        nodes[index].right = build(entries, right, first + half, nodes) as u32;
        nodes[index].nodes = (nodes.len() - index) as u32;
    }
    index
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairs(entries: &[Entry]) -> (Vec<(u32, u32)>, u64) {
        let (mut met, mut looks) = (Vec::new(), 0);
        assert!(BoxTree::new(entries.to_vec()).for_each_pair(|step| {
            match step {
                Step::Looked(count) => looks += count,
                Step::Met(a, b) => met.push((a.id.min(b.id), a.id.max(b.id))),
            }
            true
        }));
        met.sort_unstable();
        (met, looks)
    }

    fn random() -> impl FnMut() -> f64 {
        let mut state = 1u64;
        move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64 / f64::from(1u32 << 31)
        }
    }

    #[test]
    fn the_bound_on_overlapping_pairs_is_close() {
        let mut random = random();
        for (size, close) in [(0.0, 2), (0.01, 20), (0.05, 200)] {
            let boxes: Vec<Entry> = (0..400)
                .map(|id| {
                    let low = DVec2::new(random(), 1e3 * random());
                    Entry { low, high: low + DVec2::new(random(), 1e3 * random()) * size, id }
                })
                .collect();
            let met = pairs(&boxes).0.len();
            let most = most_pairs(&boxes).expect("boxes are small");
            assert!((met..=met + close * boxes.len()).contains(&most), "{met} meet, at most {most}");
        }
        let large: Vec<Entry> = (0..400).map(|id| Entry { low: DVec2::ZERO, high: DVec2::ONE, id }).collect();
        assert_eq!(most_pairs(&large), None);
        let one_place: Vec<Entry> = (0..400).map(|id| Entry { low: DVec2::ONE, high: DVec2::ONE, id }).collect();
        assert_eq!(most_pairs(&one_place), Some(400 * 399 / 2));
        assert_eq!(most_pairs(&[]), Some(0));
    }

    #[test]
    fn every_overlapping_pair_of_boxes_is_reported_once() {
        let mut random = random();
        let entries: Vec<Entry> = (0..500)
            .map(|id| {
                let low = DVec2::new(random(), random());
                Entry { low, high: low + DVec2::new(random(), random()) * 0.5f64.powi(id as i32 % 12), id }
            })
            .collect();
        let mut expected = Vec::new();
        for a in &entries {
            for b in entries.iter().filter(|b| a.id < b.id && a.meets(b)) {
                expected.push((a.id, b.id));
            }
        }
        expected.sort_unstable();
        assert!(expected.len() > 1000);
        assert_eq!(pairs(&entries).0, expected);
        let tree = BoxTree::new(entries.clone());
        let mut asked = Vec::new();
        for a in &entries {
            tree.for_each_meeting(a, |b| asked.extend((a.id < b).then_some((a.id, b))));
        }
        asked.sort_unstable();
        assert_eq!(asked, expected);
        assert!(pairs(&[]).0.is_empty());
    }

    #[test]
    fn clustered_boxes_cost_no_more_than_evenly_spread_ones() {
        let mut random = random();
        let mut spread = |scale: f64, far: f64| {
            let mut entries: Vec<Entry> = (0..20_000)
                .map(|id| {
                    let low = DVec2::new(random(), random()) * scale;
                    Entry { low, high: low + scale * 0.005, id }
                })
                .collect();
            entries[0].low = DVec2::splat(far);
            entries[0].high = DVec2::splat(far * 1.1);
            pairs(&entries).1
        };
        let (even, crowded) = (spread(1.0, 2.0), spread(1e-6, 1e9));
        assert!(crowded < 2 * even && even < 20_000 * 500, "{crowded} looks instead of {even}");
    }

    #[test]
    fn the_search_stops_on_request() {
        let entries: Vec<Entry> = (0..1000).map(|id| Entry { low: DVec2::ZERO, high: DVec2::ONE, id }).collect();
        let mut met = 0;
        let finished = BoxTree::new(entries).for_each_pair(|step| {
            met += u32::from(matches!(step, Step::Met(..)));
            met < 100
        });
        assert!(!finished && met == 100);
    }
}
