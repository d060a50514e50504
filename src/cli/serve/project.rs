//! Where the project's sources are, and which Cargo builds them.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::cli::trouble::Trouble;

/// The project's folder, as it was when this command was compiled. `Err` where it has been moved or deleted since, or
/// never was on this computer.
pub fn root() -> Result<PathBuf, Trouble> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    if root.join("Cargo.toml").is_file() && root.join("src/lib.rs").is_file() {
        return Ok(root.to_path_buf());
    }
    Err(Trouble::new(format!(
        "the project's sources, from which the page is built, are no longer in {}",
        root.display()
    ))
    .way_out(
        "Run `cargo run --release` in the project's folder where it is now, or serve a page that is already built: \
             `gridproof serve --site DIR`. `gridproof check` and `gridproof grid` work without the sources.",
    ))
}

/// Where things built from the project go that are not Cargo's own.
pub fn built(root: &Path) -> PathBuf {
    root.join("target")
}

/// The Cargo that runs us, or the one on the search path, in the project's folder.
pub fn cargo(root: &Path) -> Command {
    tool("CARGO", "cargo", root)
}

/// The compiler Cargo would use.
pub fn rustc(root: &Path) -> Command {
    tool("RUSTC", "rustc", root)
}

/// `name` from the environment variable `variable`, else from the search path; started in the project's folder, so that
/// a toolchain chosen for that folder is the one that answers.
fn tool(variable: &str, name: &str, root: &Path) -> Command {
    let program = std::env::var_os(variable).filter(|value| !value.is_empty()).unwrap_or_else(|| name.into());
    let mut command = Command::new(program);
    command.current_dir(root);
    command
}
