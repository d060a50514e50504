//! Real models nobody here made, against values by a separate program (numpy, scipy, shapely; see SOURCES.md beside
//! them). Skips with a line where `../shared/meshes` is absent.

use crate::columns::Held;
use crate::support;
use serde_json::Value;

#[test]
fn all_reference_columns() {
    let Some(path) = support::outside("meshes/reference.json") else { return };
    let all: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    let mut held = Held::default();
    for (name, reference) in all.as_object().unwrap() {
        let Some(path) = support::outside(&format!("meshes/{name}")) else { continue };
        held.hold_columns(&path, name, reference);
    }
    println!("{} figures compared", held.compared);
    assert!(held.compared >= 12 * 40, "only {} figures were there to compare", held.compared);
    assert!(held.wrong.is_empty(), "{} differ:\n{}", held.wrong.len(), held.wrong.join("\n"));
}
