//! Writes the sheet as a picture: the template to paint over.

use std::path::Path;

use gridproof::Examined;
use gridproof::brief::Brief;
use gridproof::picture::{SheetOptions, sheet_pixels, sheet_svg};

use super::trouble::Trouble;
use super::{check, output};

/// What is drawn besides outlines, seams and tiles.
#[derive(Clone, Copy, Debug)]
pub struct Drawn<'a> {
    /// Ground, flags, inner edges and tile.
    pub options: SheetOptions<'a>,
    /// Names on the shells.
    pub names: bool,
}

/// Draws the sheet of `file` to `out`, as SVG or PNG by its name.
pub fn run(file: &Path, out: &Path, drawn: Drawn, brief: &Brief) -> Result<(), Trouble> {
    let svg = output::ends_in(out, "svg");
    if !svg && !output::ends_in(out, "png") {
        return Err(Trouble::new(format!("{} is neither an SVG nor a PNG", out.display()))
            .way_out("Let the file's name end in .svg or .png."));
    }
    let Examined { model, measures, report } = check::examined(file, brief)?;
    let mut options = drawn.options;
    if drawn.names {
        options.names = &report.shells;
    }
    let failed = |error: gridproof::picture::SheetError| Trouble::new(error.to_string());
    let bytes = if svg {
        sheet_svg(&model, &measures, brief, &options).map_err(failed)?.into_bytes()
    } else {
        let (width, height, rgba) = sheet_pixels(&model, &measures, brief, &options).map_err(failed)?;
        output::png(width, height, &rgba)?
    };
    output::write(out, &bytes)?;
    eprintln!("Wrote {}: {} shells", out.display(), report.counts.shells);
    Ok(())
}
