//! Which files to check: those named, and all OBJ files in the folders named, in a stable order.
//!
//! A folder is walked recursively, names in order of their bytes, folders among files. Names that begin with a dot are
//! skipped: repositories and archives keep their own things there, such as `._model.obj` beside `model.obj`. Links to
//! folders are not followed, so that no walk loops; links to files are.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// A file to check, or a folder that gave none and why.
pub enum Found {
    /// To be read; `-` is standard input.
    File(PathBuf),
    /// It cannot be listed.
    Closed(PathBuf, io::Error),
    /// It holds no OBJ file.
    Bare(PathBuf),
}

impl Found {
    /// The path for messages.
    pub fn path(&self) -> &Path {
        match self {
            Found::File(path) | Found::Closed(path, _) | Found::Bare(path) => path,
        }
    }
}

/// Replaces a folder by its OBJ files.
pub fn find(paths: &[PathBuf]) -> Vec<Found> {
    let mut found = Vec::new();
    for path in paths {
        if !path.is_dir() {
            found.push(Found::File(path.clone()));
            continue;
        }
        let before = found.len();
        walk(path, &mut found);
        if found.len() == before {
            found.push(Found::Bare(path.clone()));
        }
    }
    found
}

fn walk(folder: &Path, found: &mut Vec<Found>) {
    let entries = fs::read_dir(folder).and_then(Iterator::collect::<io::Result<Vec<_>>>);
    let mut entries = match entries {
        Ok(entries) => entries,
        Err(error) => return found.push(Found::Closed(folder.to_path_buf(), error)),
    };
    entries.sort_by_key(fs::DirEntry::file_name);
    for entry in entries {
        let path = entry.path();
        if entry.file_name().as_encoded_bytes().starts_with(b".") {
            continue;
        }
        if entry.file_type().is_ok_and(|kind| kind.is_dir()) {
            walk(&path, found);
        } else if path.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("obj")) && !path.is_dir() {
            found.push(Found::File(path));
        }
    }
}
