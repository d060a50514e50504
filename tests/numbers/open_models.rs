//! A public model: sponza.obj of the crate `bvh` 0.13.0 (MIT as the package states it; the building was modelled by
//! Marko Dabrovic in 2002, from memory), 66,450 triangles whose textures repeat over the sheet. Checked against
//! `reference/open_models.json` by numpy, scipy and shapely. Skipped, with a message, where `tests/outside/get` has not
//! been run.

use crate::columns::Held;
use crate::support::outside;
use serde_json::Value;
use std::path::Path;

#[test]
fn a_building_with_repeating_textures() {
    let reference = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/open_models.json");
    let reference: Value = serde_json::from_slice(&std::fs::read(reference).unwrap()).unwrap();
    let Some(path) = outside("models/sponza.obj") else { return };
    let mut held = Held::default();
    held.hold_columns(&path, "sponza.obj", &reference["models"]["sponza.obj"]);
    println!("{} figures compared", held.compared);
    assert!(held.compared >= 30, "only {} figures were there to compare", held.compared);
    assert!(held.wrong.is_empty(), "{} differ:\n{}", held.wrong.len(), held.wrong.join("\n"));
}
