//! Writes the calibrated grid as a PNG, to be used as a texture anywhere.

use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::ops::RangeInclusive;
use std::path::Path;

use super::standin as grid;
use super::trouble::Trouble;

/// Least and greatest side of a map, px. Below, no cell of the default size fits; above, the picture takes more than the
/// gibibyte of memory that the browser's side could hold too.
const SIDE_PX: RangeInclusive<u32> = 64..=16_384;
/// Least and greatest side of a cell, px: below, nobody can read what is in it; above, it is no grid any more.
const CELL_PX: RangeInclusive<u32> = 16..=1024;

/// Writes the grid of `width` x `height` px with cells of `cell_px` to `out`, whole or not at all.
pub fn run(out: &Path, width: u32, height: u32, cell_px: u32, words: &str) -> Result<(), Trouble> {
    within("the width", width, &SIDE_PX)?;
    within("the height", height, &SIDE_PX)?;
    within("a cell", cell_px, &CELL_PX)?;
    if out.is_dir() {
        return Err(Trouble::new(format!("{} is a folder", out.display())).way_out("Name the PNG to write in it."));
    }
    let bytes = grid::png(width, height, cell_px, words)
        .map_err(|error| Trouble::new("the grid cannot be drawn").because(error))?;
    write_whole(out, &bytes).map_err(|error| Trouble::file("cannot write", out, &error))?;
    eprintln!("Wrote {}: {width} x {height} px, cells of {cell_px} px", out.display());
    Ok(())
}

fn within(what: &str, px: u32, bounds: &RangeInclusive<u32>) -> Result<(), Trouble> {
    if bounds.contains(&px) {
        return Ok(());
    }
    let (least, greatest) = (bounds.start(), bounds.end());
    Err(Trouble::new(format!("{what} cannot be {px} px")).way_out(format!("It can be from {least} to {greatest} px.")))
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
