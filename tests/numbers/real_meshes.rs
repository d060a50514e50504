//! Real models from elsewhere, checked against values by a separate program (numpy, scipy, shapely;
//! `tests/outside/README.md` has its conventions). Missing models are skipped and reported.

use crate::columns::Held;
use crate::support::outside_meshes;

#[test]
fn all_reference_columns() {
    let meshes = outside_meshes();
    let mut held = Held::default();
    for (name, path, reference) in &meshes {
        held.hold_columns(path, name, reference);
    }
    println!("{} figures compared", held.compared);
    assert!(held.compared >= meshes.len() * 40, "only {} figures were there to compare", held.compared);
    assert!(held.wrong.is_empty(), "{} differ:\n{}", held.wrong.len(), held.wrong.join("\n"));
}
