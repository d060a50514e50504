//! Union-find: connected classes of items.

/// No class.
pub(super) const NONE: u32 = u32::MAX;

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

    /// Numbers the classes that pass, by first member; [`NONE`] for what does not.
    pub(super) fn number(mut self, passes: impl Fn(usize) -> bool) -> (Vec<u32>, u32) {
        let mut number = vec![NONE; self.parent.len()];
        let mut count = 0;
        for item in 0..self.parent.len() {
            if passes(item) {
                let root = self.root(item as u32) as usize;
                if number[root] == NONE {
                    number[root] = count;
                    count += 1;
                }
                number[item] = number[root];
            }
        }
        (number, count)
    }
}
