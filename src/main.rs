//! The command `gridproof`: check models, write the grid, write the site, serve it.
//!
//! Everything it does stands in [`cli`]; in a browser there is no command, so there it is empty.

#![forbid(unsafe_code)]

#[cfg(not(target_arch = "wasm32"))]
mod cli;

#[cfg(not(target_arch = "wasm32"))]
fn main() -> std::process::ExitCode {
    cli::main()
}

#[cfg(target_arch = "wasm32")]
fn main() {}
