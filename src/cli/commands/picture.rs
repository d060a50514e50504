//! Writes a picture of the model: the whole of it, or the place of a finding.

use std::path::Path;
use std::str::FromStr;

use gridproof::Examined;
use gridproof::brief::Brief;
use gridproof::draw::{Paper, Stage, View};
use gridproof::lens::Lens;

use super::check;
use crate::cli::output;
use crate::cli::trouble::{Trouble, say};

/// Width and height of a picture, px, as people write it: 640x400.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Size {
    /// Width.
    pub width: u32,
    /// Height.
    pub height: u32,
}

impl FromStr for Size {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let (width, height) = text.split_once(['x', 'X']).ok_or("write it as width and height, like 640x400")?;
        let side = |text: &str| text.trim().parse().map_err(|_| format!("{text:?} is not a number of px"));
        Ok(Self { width: side(width)?, height: side(height)? })
    }
}

/// What is looked at, and through what.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// The finding; none: the whole model.
    pub finding: Option<&'a str>,
    /// The lens; none: the finding's own, or the grid.
    pub lens: Option<Lens>,
    /// The picture's size.
    pub size: Size,
}

/// Draws `file` to `out`.
pub fn run(file: &Path, out: &Path, asked: Asked, brief: &Brief) -> Result<(), Trouble> {
    if !output::ends_in(out, "png") {
        return Err(Trouble::new(format!("{} is no PNG", out.display())).way_out("Let the file's name end in .png."));
    }
    let Examined { model, measures, report } = check::examined(file, brief)?;
    let finding = match asked.finding {
        None => None,
        Some(id) => Some(report.findings.iter().find(|finding| finding.id == id).ok_or_else(|| {
            let ids: Vec<&str> = report.findings.iter().map(|finding| finding.id.as_str()).collect();
            let there =
                if ids.is_empty() { "There is none.".to_owned() } else { format!("There are: {}.", ids.join(", ")) };
            Trouble::new(format!("there is no finding {id:?} in this file")).way_out(there)
        })?),
    };
    let lens = asked.lens.or_else(|| Lens::named(finding?.lens)).unwrap_or(Lens::Grid);
    let paper = Paper::new(brief.map.of_sheet());
    let stage = Stage::new(&model, &measures, brief, &paper);
    let picture = stage
        .picture(&View {
            camera: finding.and_then(|finding| finding.camera),
            width_px: asked.size.width,
            height_px: asked.size.height,
            lens,
            flags: true,
            lit: finding.map_or(&[], |finding| finding.shells.as_slice()),
        })
        .map_err(|error| Trouble::new(error.to_string()))?;
    output::write(out, &output::png(picture.width, picture.height, &picture.rgba)?)?;
    say(format_args!("Wrote {}: {} x {} px, lens {}", out.display(), picture.width, picture.height, lens.name()));
    Ok(())
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_parsed_in_usual_notations() {
        assert_eq!("640x400".parse(), Ok(Size { width: 640, height: 400 }));
        assert_eq!("640 X 400".parse(), Ok(Size { width: 640, height: 400 }));
        assert!("640".parse::<Size>().unwrap_err().contains("640x400"));
        assert!("axb".parse::<Size>().is_err() && "-1x2".parse::<Size>().is_err());
    }
}
