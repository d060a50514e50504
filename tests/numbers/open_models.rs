//! A model that anybody can have: sponza.obj of the crate `bvh` 0.13.0 (MIT as the package states it; the building was
//! modelled by Marko Dabrovic in 2002, from memory), 66,450 triangles whose textures repeat over the sheet. Cargo fetches
//! the package (`tests/models`), nothing of it is built. Held against `reference/open_models.json` by numpy, scipy and
//! shapely. Skips with a line where it cannot be had.

use crate::columns::Held;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A file in a package of `tests/models`, or `None` after a line that says what is skipped.
fn in_package(package: &str, file: &str) -> Option<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/models");
    let metadata = Command::new(env!("CARGO"))
        .args(["metadata", "--locked", "--format-version", "1", "--manifest-path"])
        .arg(folder.join("Cargo.toml"))
        .output()
        .unwrap();
    let found = || {
        let metadata: Value = serde_json::from_slice(&metadata.stdout).ok()?;
        let package = metadata["packages"].as_array()?.iter().find(|entry| entry["name"] == package)?;
        let path = Path::new(package["manifest_path"].as_str()?).with_file_name("").join(file);
        path.exists().then_some(path)
    };
    let path = found();
    if path.is_none() {
        let why = String::from_utf8_lossy(&metadata.stderr);
        println!("skipped: {file} of the package {package} cannot be had: {}", why.trim());
    }
    path
}

#[test]
fn a_building_with_repeating_textures() {
    let reference = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/open_models.json");
    let reference: Value = serde_json::from_slice(&std::fs::read(reference).unwrap()).unwrap();
    let Some(path) = in_package("bvh", "media/sponza.obj") else { return };
    let mut held = Held::default();
    held.hold_columns(&path, "sponza.obj", &reference["models"]["sponza.obj"]);
    println!("{} figures compared", held.compared);
    assert!(held.compared >= 30, "only {} figures were there to compare", held.compared);
    assert!(held.wrong.is_empty(), "{} differ:\n{}", held.wrong.len(), held.wrong.join("\n"));
}
