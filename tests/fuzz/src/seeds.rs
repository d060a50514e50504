//! What a target begins with, written instead of fuzzing where `GRIDPROOF_SEEDS` names a folder.

use std::fs;
use std::path::Path;
use std::process::exit;

/// Writes `seeds` into the folder of `target`, and ends the process.
pub fn write<S: AsRef<[u8]>>(target: &str, seeds: impl AsRef<[S]>) {
    let Some(folder) = std::env::var_os("GRIDPROOF_SEEDS") else { return };
    let folder = Path::new(&folder).join(target);
    fs::create_dir_all(&folder).expect("the folder can be made");
    for (number, seed) in seeds.as_ref().iter().enumerate() {
        fs::write(folder.join(format!("own-{number}")), seed).expect("the seed can be written");
    }
    exit(0);
}
