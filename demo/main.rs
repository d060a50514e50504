//! Writes the demo's models, `lantern-draft.obj`, `lantern-revised.obj` and their material library, beside this file:
//! `cargo run --example lantern`. With a folder and seeds (`… lantern -- FOLDER 1 2 3`) it writes lanterns with random
//! faults instead, `lantern-1.obj` and so on, into that folder.

mod lantern;

use std::error::Error;
use std::fs;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    match arguments.next() {
        Some(folder) => faulty(Path::new(&folder), arguments),
        None => demo(),
    }
}

fn faulty(folder: &Path, seeds: impl Iterator<Item = String>) -> Result<(), Box<dyn Error>> {
    for seed in seeds {
        let seed: u64 = seed.parse()?;
        let faulty = lantern::random(seed)?;
        let file = folder.join(format!("lantern-{seed}.obj"));
        fs::write(&file, &faulty.obj)?;
        println!("{}: {} faults", file.display(), faulty.expected.len());
    }
    Ok(())
}

fn demo() -> Result<(), Box<dyn Error>> {
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
