//! Earlier layouts of a model, so that undo restores one exactly.
//!
//! They are stored whole, not as differences: nothing has to be recomputed, and decisions on a layout are found by its
//! identity. Memory bounds how many: the ones farthest away go first.

use super::{Change, Edit, Layout, Model};
use std::sync::Arc;

/// Most memory of layouts besides the current one, bytes: that of a model of a million triangles takes 60 MB.
pub const MOST_BYTES: usize = 256 << 20;

/// What to do to a layout.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// Replace it by another.
    Apply(Edit),
    /// Undo.
    Undo,
    /// Redo.
    Redo,
}

/// Layouts to undo and to redo.
#[derive(Clone, Debug)]
pub struct History {
    /// The latest last, each with what the next one changed in it.
    before: Vec<(Arc<Layout>, Change)>,
    /// The next last, each with what it changes.
    after: Vec<(Arc<Layout>, Change)>,
    most_bytes: usize,
}

impl Default for History {
    fn default() -> Self {
        Self::bounded(MOST_BYTES)
    }
}

impl History {
    /// One that takes this much memory at most; one undo is always kept.
    pub fn bounded(most_bytes: usize) -> Self {
        Self { before: Vec::new(), after: Vec::new(), most_bytes }
    }

    /// Takes a step; gives what it changes, or `None` where it cannot be: an edit of corners that do not exist or with
    /// uvs that no file can hold, or no layout to undo or redo. An edit that changes nothing is no step.
    pub fn take(&mut self, step: &Step, model: &mut Model) -> Option<Change> {
        let (next, change) = match step {
            Step::Apply(edit) => {
                let (next, change) = model.with(edit)?;
                if change == Change::Nothing && next.layout == model.layout {
                    return Some(change);
                }
                self.after.clear();
                (next.layout, change)
            }
            Step::Undo => self.before.pop()?,
            Step::Redo => self.after.pop()?,
        };
        let left = std::mem::replace(&mut model.layout, next);
        if *step == Step::Undo { &mut self.after } else { &mut self.before }.push((left, change));
        self.bound();
        Some(change)
    }

    /// How many steps can be undone, and how many redone.
    pub fn steps(&self) -> [usize; 2] {
        [self.before.len(), self.after.len()]
    }

    /// Whether it has this layout, by identity.
    pub fn has(&self, layout: &Arc<Layout>) -> bool {
        self.before.iter().chain(&self.after).any(|(kept, _)| Arc::ptr_eq(kept, layout))
    }

    fn bound(&mut self) {
        let bytes = |list: &[(Arc<Layout>, Change)]| list.iter().map(|(kept, _)| kept.bytes()).sum::<usize>();
        let mut left = bytes(&self.before) + bytes(&self.after);
        while left > self.most_bytes && self.before.len() + self.after.len() > 1 {
            let from = if self.after.len() > self.before.len() { &mut self.after } else { &mut self.before };
            left -= from.remove(0).0.bytes();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use glam::DVec2;

    fn quad() -> Model {
        let text = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nf 1/1 2/2 3/3 4/4\n";
        Model::new(crate::obj::read(text.as_bytes()).expect("a face"))
    }

    fn corner_at(u: f64) -> Step {
        Step::Apply(Edit { uvs: vec![(0, DVec2::new(u, 0.5))], ..Edit::default() })
    }

    #[test]
    fn undo_restores_the_same_layouts_and_an_edit_clears_redo() {
        let mut model = quad();
        let mut history = History::default();
        let of_file = model.layout.clone();
        assert_eq!(history.take(&Step::Undo, &mut model), None);
        let same = Step::Apply(Edit { uvs: vec![(0, DVec2::ZERO)], ..Edit::default() });
        assert_eq!(history.take(&same, &mut model), Some(Change::Nothing));
        assert_eq!(history.steps(), [0, 0], "it is no step");
        for u in [0.25, 0.75] {
            assert_eq!(history.take(&corner_at(u), &mut model), Some(Change::Uvs));
        }
        let last = model.layout.clone();
        assert_eq!(history.take(&corner_at(f64::NAN), &mut model), None);
        assert!(Arc::ptr_eq(&model.layout, &last), "an impossible step changes nothing");
        assert_eq!(history.take(&Step::Undo, &mut model), Some(Change::Uvs));
        assert_eq!(history.take(&Step::Undo, &mut model), Some(Change::Uvs));
        assert!(Arc::ptr_eq(&model.layout, &of_file));
        assert_eq!(history.steps(), [0, 2]);
        history.take(&Step::Redo, &mut model).expect("a step again");
        history.take(&Step::Redo, &mut model).expect("a step again");
        assert!(Arc::ptr_eq(&model.layout, &last) && history.has(&of_file));
        history.take(&Step::Undo, &mut model).expect("a step back");
        history.take(&corner_at(0.125), &mut model).expect("an edit");
        assert_eq!(history.steps(), [2, 0]);
        assert_eq!(history.take(&Step::Redo, &mut model), None);
    }

    #[test]
    fn history_is_bounded_by_memory_and_keeps_at_least_one_undo() {
        let mut model = quad();
        let each = model.layout.bytes();
        for (most, kept) in [(0, 1), (3 * each, 3)] {
            let mut history = History::bounded(most);
            for turn in 1..9 {
                history.take(&corner_at(f64::from(turn) / 16.0), &mut model).expect("an edit");
            }
            assert_eq!(history.steps(), [kept, 0]);
            for _ in 0..kept {
                history.take(&Step::Undo, &mut model).expect("a step back");
            }
            assert_eq!(history.take(&Step::Undo, &mut model), None);
            assert_eq!(history.steps(), [0, kept]);
        }
    }
}
