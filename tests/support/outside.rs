//! Data from elsewhere: models not made by this project, and results of other programs. It is in `GRIDPROOF_OUTSIDE`
//! where that is set, else in `../shared` beside the project, else where `tests/outside/get` puts it. A test that
//! misses some reports what it skips; `tests/run` counts that (`tests/support/outside.mjs` is the same for Node).
#![allow(dead_code)]

use serde_json::Value;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// The folders searched for each path, in order.
fn folders() -> Vec<PathBuf> {
    let project = Path::new(env!("CARGO_MANIFEST_DIR"));
    match std::env::var_os("GRIDPROOF_OUTSIDE") {
        Some(folder) => vec![project.join(folder)],
        None => vec![project.join("../shared"), project.join("tests/outside/data")],
    }
}

/// A file or folder of the outside data, or `None` after a line that reports what is skipped.
pub fn outside(path: &str) -> Option<PathBuf> {
    let found = folders().into_iter().map(|folder| folder.join(path)).find(|path| path.exists());
    if found.is_none() {
        skipped(path);
    }
    found
}

/// Reports what is missing, also in the list of `tests/run`.
fn skipped(path: &str) {
    println!("skipped: there is no outside data {path}; tests/outside/get fetches what can be had");
    if let Some(list) = std::env::var_os("GRIDPROOF_SKIPPED") {
        let test = std::thread::current().name().unwrap_or("a thread").to_owned();
        let mut list = OpenOptions::new().append(true).create(true).open(list).expect("the list can be written");
        list.write_all(format!("{test}: {path}\n").as_bytes()).expect("the list can be written");
    }
}

/// The files of a folder of the outside data, by name; none, after a line that reports it, if it is missing.
pub fn outside_files(folder: &str) -> Vec<PathBuf> {
    let entries = outside(folder).into_iter().flat_map(|folder| std::fs::read_dir(folder).expect("readable"));
    let mut files: Vec<_> =
        entries.map(|entry| entry.expect("readable").path()).filter(|path| path.is_file()).collect();
    files.sort();
    files
}

/// The available meshes, each with its name and the results of another program.
pub fn outside_meshes() -> Vec<(String, PathBuf, Value)> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/meshes.json");
    let all: Value = serde_json::from_slice(&std::fs::read(file).expect("readable")).expect("JSON");
    let all = all.as_object().expect("an object").clone();
    all.into_iter()
        .filter_map(|(name, figures)| Some((name.clone(), outside(&format!("meshes/{name}"))?, figures)))
        .collect()
}
