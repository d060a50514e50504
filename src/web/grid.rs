//! The calibrated grid for the page: its pixels in strips, the cell at a place, and the characters that its font lacks.

use crate::grid::{self, GridOptions, Strips};
use wasm_bindgen::prelude::*;

/// The sheet's pixels from the top, a strip at a time.
#[wasm_bindgen]
pub struct GridStrips {
    strips: Strips,
}

#[wasm_bindgen]
impl GridStrips {
    /// The sheet of this map, px, with cells of this side, px, and words of this size, px (or none), at its full size or,
    /// where a texture's size is given, scaled to that.
    ///
    /// # Errors
    /// What is out of its range, as a sentence.
    #[wasm_bindgen(constructor)]
    pub fn new(
        map_width: u32,
        map_height: u32,
        cell_px: u32,
        words: &str,
        words_px: f32,
        texture: Option<Box<[u32]>>,
    ) -> Result<GridStrips, JsError> {
        let options = GridOptions::asked(map_width, map_height, cell_px, words, words_px)?;
        let strips = match texture.as_deref() {
            Some(&[width, height]) => Strips::scaled(&options, width, height),
            _ => Strips::new(&options)?,
        };
        Ok(Self { strips })
    }

    /// The next rows, RGBA with alpha 255; fewer at the end, none after it.
    pub fn next(&mut self, rows: u32) -> Box<[u8]> {
        self.strips.next(rows).into()
    }
}

/// Column and row of the cell at (u, v), from the sheet's bottom left; nothing outside the tile. In a tile of a map of
/// many, u and v are counted from its own corner.
#[wasm_bindgen]
pub fn cell_at(map_width: u32, map_height: u32, cell_px: u32, u: f64, v: f64) -> Option<Box<[u32]>> {
    let options = GridOptions { cell_px, ..GridOptions::new(map_width, map_height) };
    grid::cell_at(&options, u, v).map(|(column, row)| [column, row].into())
}

/// The characters that the grid's face has no drawing for, each once, in order.
#[wasm_bindgen]
pub fn missing_glyphs(text: &str) -> String {
    grid::missing_glyphs(text).into_iter().collect()
}

/// Why this sheet cannot be made, as a sentence; nothing where it can.
#[wasm_bindgen]
pub fn grid_trouble(map_width: u32, map_height: u32, cell_px: u32, words: &str, words_px: f32) -> Option<String> {
    GridOptions::asked(map_width, map_height, cell_px, words, words_px)
        .and_then(|options| Strips::new(&options).map(drop))
        .err()
        .map(|error| error.to_string())
}
