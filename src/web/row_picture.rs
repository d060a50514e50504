//! The picture of a row in the table of a class. Larger ones are drawn by the second module.
//!
//! It is here so that a class needs the page's module alone, which is compiled already; it costs 11 kB.

use super::Session;
use crate::brief::SheetMap;
use crate::draw::{Paper, SizeError, Stage};
use crate::grid::Picture;
use std::cell::Cell;
use wasm_bindgen::prelude::*;

thread_local! {
    /// What was drawn on last, and how long its longer side may be: making it takes many times as long as a picture, and most
    /// models have the same map.
    static PAPER: Cell<Option<(SheetMap, u32, Paper)>> = const { Cell::new(None) };
}

#[wasm_bindgen]
impl Session {
    /// RGBA pixels, rows from the top, of the whole model with the grid and its patterns. The stages up to overlaps
    /// must have been taken.
    pub fn row_picture(&self, width: u32, height: u32) -> Result<Vec<u8>, JsError> {
        // It shows the whole model, and few of its pixels need a finer grid.
        let paper_px = (2 * width.max(height).min(Paper::LONGEST_PX)).next_power_of_two();
        self.draw(paper_px, |stage| stage.thumbnail(width, height))
    }
}

impl Session {
    pub(super) fn draw(
        &self,
        paper_px: u32,
        draw: impl FnOnce(&Stage) -> Result<Picture, SizeError>,
    ) -> Result<Vec<u8>, JsError> {
        let loaded = self.loaded()?;
        let map = self.brief.map.of_sheet();
        let kept = PAPER.take().filter(|(of, px, _)| (*of, *px) == (map, paper_px));
        let paper = kept.map_or_else(|| Paper::up_to(map, paper_px), |(.., paper)| paper);
        let drawn = draw(&Stage::new(&loaded.model, &self.measures, &self.brief, &paper));
        PAPER.set(Some((map, paper_px, paper)));
        Ok(drawn?.rgba)
    }
}
