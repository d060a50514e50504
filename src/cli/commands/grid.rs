//! Writes the calibrated grid as a PNG, to be used as a texture anywhere.

use std::path::Path;

use crate::cli::output;
use crate::cli::trouble::{Trouble, say};
use gridproof::grid::{self, GridOptions};

/// Draws the grid and writes it to `out` atomically.
pub fn run(out: &Path, options: &GridOptions) -> Result<(), Trouble> {
    let bytes = grid::png(options).map_err(|error| Trouble::new(error.to_string()))?;
    output::write(out, &bytes)?;
    let GridOptions { map_width_px, map_height_px, cell_px, .. } = options;
    say(format_args!("Wrote {}: {map_width_px} x {map_height_px} px, cells of {cell_px} px", out.display()));
    Ok(())
}
