//! The sheet and its mip levels in slices, for a thread that must not be blocked.

use super::mips::NextLevel;
use super::rows::RowPainter;
use super::{GridOptions, Picture};

/// Paints the sheet and its mip levels a few rows at a time.
///
/// A row of 2048 px takes some 60 microseconds natively and 100 in a browser, so slices of 64 rows stay below a frame. The
/// result does not depend on the slices.
///
/// ```
/// use gridproof::grid::{GridOptions, Painter};
///
/// let mut painter = Painter::new(&GridOptions::new(256, 128), 256, 128);
/// while !painter.step(64) { /* give the thread back to the page */ }
/// let levels = painter.finish();
/// assert_eq!((levels[0].width, levels[0].height), (256, 128));
/// assert_eq!(levels.len(), 9);
/// ```
pub struct Painter {
    rows: RowPainter,
    lettered: bool,
    next_row: u32,
    with_mips: bool,
    levels: Vec<Picture>,
    level: Option<NextLevel>,
}

impl Painter {
    /// A painter of the sheet and all its mip levels for a texture of this size, px, each side at least 1.
    pub fn new(options: &GridOptions, texture_width: u32, texture_height: u32) -> Self {
        Self { with_mips: true, ..Self::without_mips(options, texture_width, texture_height) }
    }

    /// A painter of the sheet alone.
    pub(super) fn without_mips(options: &GridOptions, texture_width: u32, texture_height: u32) -> Self {
        let (width, height) = (texture_width.max(1), texture_height.max(1));
        Self {
            rows: RowPainter::new(options, width, height),
            lettered: false,
            next_row: 0,
            with_mips: false,
            levels: vec![Picture { width, height, rgba: Vec::with_capacity(width as usize * height as usize * 4) }],
            level: None,
        }
    }

    /// Paints about `rows_budget` rows (at least one) of whatever comes next: letters, the sheet, then each mip level.
    /// True once everything is painted.
    pub fn step(&mut self, rows_budget: u32) -> bool {
        let mut left = rows_budget.max(1);
        while left > 0 {
            if !self.lettered {
                match self.rows.prepare_letter() {
                    Some(height) => left = left.saturating_sub(height.max(1)),
                    None => self.lettered = true,
                }
                continue;
            }
            if self.next_row < self.levels[0].height {
                let base = &mut self.levels[0];
                // Grown row by row: clearing the memory of a large texture at once would block the thread.
                let start = base.rgba.len();
                base.rgba.resize(start + base.width as usize * 4, 0);
                self.rows.paint(self.next_row, &mut base.rgba[start..]);
                self.next_row += 1;
                left -= 1;
                continue;
            }
            if !self.step_mips() {
                return true;
            }
            left -= 1;
        }
        false
    }

    /// One more row of the mip levels; false when there is none.
    fn step_mips(&mut self) -> bool {
        if !self.with_mips {
            return false;
        }
        // Never empty: it starts with the base and only grows.
        let above = &self.levels[self.levels.len() - 1];
        if self.level.is_none() {
            self.level = NextLevel::after(above);
        }
        let Some(level) = &mut self.level else { return false };
        if !level.paint_row(above) {
            self.levels.extend(self.level.take().map(|level| level.picture));
        }
        true
    }

    /// Paints what is left in one go and gives the levels, the base first; after [`Painter::step`] said true there is
    /// nothing left.
    pub fn finish(mut self) -> Vec<Picture> {
        while !self.step(u32::MAX) {}
        self.levels
    }
}
