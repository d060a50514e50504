//! Writes the demo's models, `lantern-draft.obj`, `lantern-revised.obj` and their material library, beside this file:
//! `cargo run --example lantern`. With `--random FIRST COUNT FOLDER` lanterns with random faults instead, a seed each from
//! FIRST on: `lantern-SEED.obj`, and what is wrong with it as `lantern-SEED.json`.

mod lantern;

use std::error::Error;
use std::fs;
use std::path::Path;

use serde_json::json;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        [] => demo(&Path::new(env!("CARGO_MANIFEST_DIR")).join("demo")),
        ["--random", first, count, folder] => random(first.parse()?, count.parse()?, Path::new(folder)),
        _ => Err("usage: lantern [--random FIRST COUNT FOLDER]".into()),
    }
}

fn demo(folder: &Path) -> Result<(), Box<dyn Error>> {
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

fn random(first: u64, count: u64, folder: &Path) -> Result<(), Box<dyn Error>> {
    fs::create_dir_all(folder)?;
    for seed in first..first + count {
        let faulty = lantern::random(seed)?;
        let faults: Vec<_> = faulty
            .expected
            .iter()
            .map(|fault| json!({ "kind": fault.kind, "groups": fault.groups, "size": fault.size }))
            .collect();
        let told = json!({ "seed": seed, "px_per_cm": faulty.px_per_cm, "faults": faults });
        fs::write(folder.join(format!("lantern-{seed}.obj")), &faulty.obj)?;
        fs::write(folder.join(format!("lantern-{seed}.json")), told.to_string())?;
    }
    Ok(())
}
