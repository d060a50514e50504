//! The command `gridproof`: check models, write the grid, write the site, serve it.
//!
//! Everything is in [`cli`]; empty in a browser, which has no command.

#![forbid(unsafe_code)]

#[cfg(not(target_arch = "wasm32"))]
mod cli;

#[cfg(not(target_arch = "wasm32"))]
fn main() -> std::process::ExitCode {
    cli::main()
}

#[cfg(target_arch = "wasm32")]
fn main() {}
