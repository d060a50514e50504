//! A changed brief: which measures it makes stale, and which only have to be held against another limit.
//!
//! Most keys only judge, and judging happens when the report is made. A stage is stale when something it *computed* with
//! has changed; limits that are merely counted against are taken again at once, in one or two passes over the triangles.

use super::density::measure_density;
use super::padding::Limits;
use super::stretch::hold_stretch;
use super::text_safety::measure_text_safety;
use super::tilt::measure_tilt;
use super::{Measures, Stage};
use crate::brief::Brief;
use crate::model::Model;

impl Stage {
    /// Whether what this stage gave under `old` is stale under `new`.
    pub fn is_stale(self, old: &Brief, new: &Brief) -> bool {
        let (old_map, new_map) = (&old.map, &new.map);
        match self {
            Stage::Triangles => {
                (old_map.width_px, old_map.height_px) != (new_map.width_px, new_map.height_px)
                    || old_map.sheets.sized_groups() != new_map.sheets.sized_groups()
            }
            // Sharing looks where the sheet is covered twice: it goes with the sheet.
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
}

impl Measures {
    /// Turns from `old` to `new`: takes again what is only held against another limit, and gives the stages that have to
    /// be [taken](Measures::take) again, in order. Before [`Stage::Triangles`] was taken there is nothing to hold.
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
        // Before sharing was looked for there are no shares of lettering, and its stage takes them.
        let lettered = self.text.shells.len() == model.layout.shell_count as usize;
        let safe_changes = old.tilt != new.tilt || old.stretch.max_anisotropy != new.stretch.max_anisotropy;
        if taken && lettered && safe_changes && !stale.contains(&Stage::Sharing) {
            self.text = measure_text_safety(model, self, new);
        }
        stale
    }
}
