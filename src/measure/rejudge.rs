//! A changed brief or layout: which measures it makes stale, and which only have to be checked against another limit.
//!
//! Most keys only judge, and judging happens when the report is made. A stage is stale when something it *computed* with
//! has changed; limits that are merely counted against are taken again at once, in one or two passes over the triangles.
//!
//! With another layout all is stale but the visibility of seams, which does not depend on uvs: of these only new seams
//! are measured. Moving a shell makes its stretch stale too: numbers are rounded again, and the report has to equal
//! that of the written file.

use super::flat::density::measure_density;
use super::flat::stretch::hold_stretch;
use super::flat::tilt::measure_tilt;
use super::sheet::padding::Limits;
use super::text_safety::measure_text_safety;
use super::{Measures, Stage};
use crate::brief::Brief;
use crate::model::{Change, Model};

impl Stage {
    /// Whether what this stage gave under `old` is stale under `new`.
    pub fn is_stale(self, old: &Brief, new: &Brief) -> bool {
        let (old_map, new_map) = (&old.map, &new.map);
        match self {
            Stage::Triangles => {
                (old_map.width_px, old_map.height_px) != (new_map.width_px, new_map.height_px)
                    || old_map.sheets.sized_groups() != new_map.sheets.sized_groups()
            }
            // Overlaps are searched where the sheet is covered twice: they go stale with the sheet.
            Stage::Sheet | Stage::Sharing => {
                Stage::Triangles.is_stale(old, new)
                    || old_map.tiles != new_map.tiles
                    || old_map.sheets != new_map.sheets
            }
            Stage::Padding => {
                let limits = |brief: &Brief| Limits::new(brief, brief.map.of_sheet());
                Stage::Sharing.is_stale(old, new) || limits(old) != limits(new)
            }
            Stage::Seams => old.seams.front != new.seams.front,
        }
    }

    /// Whether another layout makes stale what this stage gave.
    pub fn is_stale_by(self, change: Change) -> bool {
        match self {
            Stage::Triangles | Stage::Sheet | Stage::Sharing | Stage::Padding => change != Change::Nothing,
            Stage::Seams => change == Change::Connectivity,
        }
    }
}

impl Measures {
    /// Turns to another layout of the same surface, which changes this, and gives the stages that have to be
    /// [taken](Measures::take) again, in order. Where shells are others nothing is left to show before they are; what is known
    /// of seams that stay is kept for their stage.
    pub fn relayout(&mut self, change: Change) -> Vec<Stage> {
        self.rows = None;
        if change == Change::Connectivity {
            let seams = std::mem::take(&mut self.seams).of_no_layout();
            *self = Self { seams, ..Self::default() };
        }
        Stage::ALL.into_iter().filter(|stage| stage.is_stale_by(change)).collect()
    }

    /// Turns from `old` to `new`: takes again what is only checked against another limit, and gives the stages that
    /// have to be [taken](Measures::take) again, in order. Before [`Stage::Triangles`] was taken there is nothing to
    /// check.
    pub fn rebrief(&mut self, model: &Model, old: &Brief, new: &Brief) -> Vec<Stage> {
        let stale: Vec<Stage> = Stage::ALL.into_iter().filter(|stage| stage.is_stale(old, new)).collect();
        let taken = self.triangles.state.len() == model.triangle_count();
        if taken && !stale.contains(&Stage::Triangles) {
            if old.stretch != new.stretch {
                hold_stretch(model, &self.triangles, &new.stretch, &mut self.stretch, &mut self.shell_stretch);
            }
            if old.density.target_px_per_unit != new.density.target_px_per_unit
                || old.density_factor != new.density_factor
            {
                (self.density, self.shell_density) = measure_density(model, &self.triangles, &self.sizes, new);
            }
            if old.tilt != new.tilt {
                self.tilt = measure_tilt(model, &self.triangles, new);
            }
        }
        // Before overlaps are measured there are no shares of text safety; that stage takes them.
        let lettered = self.text.shells.len() == model.layout.shell_count as usize;
        let safe_changes = old.tilt != new.tilt || old.stretch.max_anisotropy != new.stretch.max_anisotropy;
        if taken && lettered && safe_changes && !stale.contains(&Stage::Sharing) {
            self.text = measure_text_safety(model, self, new);
        }
        stale
    }
}
