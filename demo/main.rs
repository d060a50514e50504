//! Writes the demo's models, `lantern-draft.obj`, `lantern-revised.obj` and their material library, beside this file:
//! `cargo run --example lantern`.

mod lantern;

use std::error::Error;
use std::fs;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    let (draft, revised) = (lantern::draft()?, lantern::revised()?);
    fs::write(folder.join("lantern-draft.obj"), &draft.obj)?;
    fs::write(folder.join("lantern-revised.obj"), &revised.obj)?;
    fs::write(folder.join(lantern::LIBRARY), &revised.mtl)?;
    println!(
        "{} groups at {} px per cm; planted in the draft:",
        revised.obj.matches("\ng ").count(),
        revised.px_per_cm
    );
    for fault in &draft.planted {
        println!("{fault}");
    }
    Ok(())
}
