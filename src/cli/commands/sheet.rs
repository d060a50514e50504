//! Writes the sheet as a picture: the template to paint over.

use std::path::Path;

use gridproof::Examined;
use gridproof::brief::Brief;
use gridproof::draw::{Ground, SheetOptions, data_url, sheet_pixels, sheet_svg};
use gridproof::grid::{self, GridOptions};

use super::check;
use crate::cli::output;
use crate::cli::trouble::{Trouble, say};

/// What lies below the shells.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Below {
    /// Nothing: transparent
    None,
    /// The calibrated grid
    Grid,
    /// Plain paper
    Paper,
}

/// What is drawn besides outlines, seams, tiles and the gaps that are too narrow.
#[derive(Clone, Copy, Debug)]
pub struct Drawn<'a> {
    /// Below the shells.
    pub ground: Below,
    /// Flags, inner edges and tile.
    pub options: SheetOptions<'a>,
    /// Names on the shells.
    pub names: bool,
    /// Name of the sheet; the first where there is none.
    pub sheet: Option<&'a str>,
}

/// Draws the sheet of `file` to `out`, as SVG or PNG by its name.
pub fn run(file: &Path, out: &Path, drawn: Drawn, brief: &Brief) -> Result<(), Trouble> {
    let svg = output::ends_in(out, "svg");
    if !svg && !output::ends_in(out, "png") {
        return Err(Trouble::new(format!("{} is neither an SVG nor a PNG", out.display()))
            .way_out("Let the file's name end in .svg or .png."));
    }
    let Examined { model, measures, report } = check::examined(file, brief)?;
    let sheets = &measures.sheets.list;
    let sheet = match drawn.sheet {
        None => 0,
        Some(name) => sheets.iter().position(|one| one.name == name).ok_or_else(|| {
            let names: Vec<&str> = sheets.iter().map(|one| one.name.as_str()).collect();
            Trouble::new(format!("there is no sheet {name:?}")).way_out(format!("There are: {}.", names.join(", ")))
        })?,
    };
    let names = if drawn.names { report.shell_names() } else { Vec::new() };
    let mut options = SheetOptions { names: &names, gaps: &measures.padding.gaps, sheet, ..drawn.options };
    let map = measures.map_of_sheet(sheet);
    let grid = if svg && drawn.ground == Below::Grid {
        let png = grid::png(&GridOptions::new(map.width_px, map.height_px))
            .map_err(|error| Trouble::new(error.to_string()))?;
        data_url("image/png", &png)
    } else {
        String::new()
    };
    options.ground = match drawn.ground {
        Below::None => Ground::Transparent,
        Below::Grid => Ground::Grid(&grid),
        Below::Paper => Ground::Paper,
    };
    let failed = |error: gridproof::draw::SheetError| Trouble::new(error.to_string());
    let bytes = if svg {
        sheet_svg(&model, &measures, brief, &options).map_err(failed)?.into_bytes()
    } else {
        let (width, height, rgba) = sheet_pixels(&model, &measures, brief, &options).map_err(failed)?;
        output::png(width, height, &rgba)?
    };
    output::write(out, &bytes)?;
    match sheets.len() {
        1 => say(format_args!("Wrote {}: {} shells", out.display(), report.counts.shells)),
        count => say(format_args!("Wrote {}: sheet {} of {count}", out.display(), sheets[sheet].name)),
    }
    Ok(())
}
