//! Data from elsewhere: models nobody of this project made, and what other programs computed. It is in `GRIDPROOF_OUTSIDE`
//! where that is set, else in `../shared` beside the project, else where `tests/outside/get` puts it. A test that misses some
//! says what it skips; `tests/run` counts that (`tests/support/outside.mjs` is the same for Node).
#![allow(dead_code)]

use serde_json::Value;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// The folders that are asked for each path, the first that has it answers.
fn folders() -> Vec<PathBuf> {
    let project = Path::new(env!("CARGO_MANIFEST_DIR"));
    match std::env::var_os("GRIDPROOF_OUTSIDE") {
        Some(folder) => vec![project.join(folder)],
        None => vec![project.join("../shared"), project.join("tests/outside/data")],
    }
}

/// A file or folder of the outside data, or `None` after a line that says what is skipped.
pub fn outside(path: &str) -> Option<PathBuf> {
    let found = folders().into_iter().map(|folder| folder.join(path)).find(|path| path.exists());
    if found.is_none() {
        skipped(path);
    }
    found
}

/// Says what is missing; where `tests/run` counts, in its list too.
fn skipped(path: &str) {
    println!("skipped: there is no outside data {path}; tests/outside/get fetches what can be had");
    if let Some(list) = std::env::var_os("GRIDPROOF_SKIPPED") {
        let test = std::thread::current().name().unwrap_or("a thread").to_owned();
        let mut list = OpenOptions::new().append(true).create(true).open(list).expect("the list can be written");
        list.write_all(format!("{test}: {path}\n").as_bytes()).expect("the list can be written");
    }
}

/// The files of a folder of the outside data, by name; none after a line that says so where it is not there.
pub fn outside_files(folder: &str) -> Vec<PathBuf> {
    let entries = outside(folder).into_iter().flat_map(|folder| std::fs::read_dir(folder).expect("readable"));
    let mut files: Vec<_> =
        entries.map(|entry| entry.expect("readable").path()).filter(|path| path.is_file()).collect();
    files.sort();
    files
}

/// The meshes that are at hand, each with its name and what another program found of it.
pub fn outside_meshes() -> Vec<(String, PathBuf, Value)> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/meshes.json");
    let all: Value = serde_json::from_slice(&std::fs::read(file).expect("readable")).expect("JSON");
    let all = all.as_object().expect("an object").clone();
    all.into_iter()
        .filter_map(|(name, figures)| Some((name.clone(), outside(&format!("meshes/{name}"))?, figures)))
        .collect()
}
