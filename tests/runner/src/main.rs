//! Runs wasm tests in a browser: Cargo starts it with the test module as its argument.
//!
//! It is the bindings generator's runner, compiled here so that its version is the one in Cargo.lock and nothing has to
//! be installed.

use std::process::ExitCode;

fn main() -> ExitCode {
    match wasm_bindgen_cli::wasm_bindgen_test_runner::run_cli_with_args(std::env::args_os()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error:#}");
            ExitCode::FAILURE
        }
    }
}
