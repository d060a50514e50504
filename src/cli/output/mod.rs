//! What the command writes: files (atomically), tables, pages and lines on a terminal.

pub mod csv;
pub mod html;
pub mod paint;
pub mod progress;

use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::path::Path;

use image::ImageEncoder as _;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};

use super::trouble::Trouble;

/// Writes a file, replacing one that is there.
pub fn write(out: &Path, bytes: &[u8]) -> Result<(), Trouble> {
    if out.is_dir() {
        return Err(Trouble::new(format!("{} is a folder", out.display())).way_out("Name the file to write in it."));
    }
    write_whole(out, bytes).map_err(|error| Trouble::file("cannot write", out, &error))
}

/// Whether a file's name ends like this, in upper or lower case.
pub fn ends_in(file: &Path, extension: &str) -> bool {
    file.extension().is_some_and(|found| found.eq_ignore_ascii_case(extension))
}

/// RGBA pixels, rows from the top, as a PNG.
pub fn png(width: u32, height: u32, rgba: &[u8]) -> Result<Vec<u8>, Trouble> {
    let mut bytes = Vec::new();
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Default, FilterType::Adaptive)
        .write_image(rgba, width, height, image::ExtendedColorType::Rgba8)
        .map_err(|error| Trouble::new("cannot encode the picture").because(error))?;
    Ok(bytes)
}

/// Writes beside `file` first and puts it in place in one step, so that a half-written file is never seen.
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
        // Only our temporary file; the failure to report is the first one.
        let _ = fs::remove_file(&beside);
    }
    outcome
}
