//! Writes the calibrated grid as a PNG, to be used as a texture anywhere.

use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::path::Path;

use super::trouble::Trouble;
use gridproof::grid::{self, GridOptions};

/// Draws the grid and writes it to `out`, whole or not at all.
pub fn run(out: &Path, options: &GridOptions) -> Result<(), Trouble> {
    if out.is_dir() {
        return Err(Trouble::new(format!("{} is a folder", out.display())).way_out("Name the PNG to write in it."));
    }
    let bytes = grid::png(options).map_err(|error| Trouble::new(error.to_string()))?;
    write_whole(out, &bytes).map_err(|error| Trouble::file("cannot write", out, &error))?;
    let GridOptions { map_width_px, map_height_px, cell_px, .. } = options;
    eprintln!("Wrote {}: {map_width_px} x {map_height_px} px, cells of {cell_px} px", out.display());
    Ok(())
}

/// Writes beside `file` first and puts it in place in one step, so that nobody ever finds half a file there.
fn write_whole(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let name = file.file_name().ok_or_else(|| io::Error::new(io::ErrorKind::InvalidInput, "it names no file"))?;
    let mut beside = std::ffi::OsString::from(".");
    beside.push(name);
    beside.push(format!(".{}.part", std::process::id()));
    let beside = file.with_file_name(beside);
    let written = OpenOptions::new().write(true).create_new(true).open(&beside).and_then(|mut part| {
        part.write_all(bytes)?;
        part.sync_all()
    });
    let outcome = written.and_then(|()| fs::rename(&beside, file));
    if outcome.is_err() {
        // Only a leftover of ours; the failure to tell about is the first one.
        let _ = fs::remove_file(&beside);
    }
    outcome
}
