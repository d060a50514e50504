//! Writes a report as one HTML page.

use std::path::{Path, PathBuf};

use gridproof::Examined;
use gridproof::brief::Brief;
use gridproof::findings::{Pictures, html, shots};
use gridproof::picture::{Paper, Stage, data_url};

use super::check::{self, Form};
use super::output;
use super::trouble::Trouble;

/// Checks one file, writes its page to `out`, prints the report and gives the exit status.
pub fn run(files: &[PathBuf], form: Form, out: &Path, brief: &Brief) -> Result<u8, Trouble> {
    let [file] = files else {
        return Err(Trouble::new("one HTML page reports on one file").way_out("Name one FILE with --html."));
    };
    let examined = check::examined(file, brief)?;
    output::write(out, page(&examined, brief)?.as_bytes())?;
    check::tell(examined.report, form)
}

fn page(examined: &Examined, brief: &Brief) -> Result<String, Trouble> {
    let Examined { model, measures, report } = examined;
    let paper = Paper::new(brief.map);
    let stage = Stage::new(model, measures, brief, &paper);
    let mut images = Vec::new();
    for view in shots(report) {
        let picture = stage.picture(&view).map_err(|error| Trouble::new(error.to_string()))?;
        images.push(data_url("image/png", &output::png(picture.width, picture.height, &picture.rgba)?));
    }
    let pictures = Pictures::new(model, measures, brief, report, images);
    Ok(html(report, &pictures, brief))
}
