//! Builds the browser's side: the wasm modules by Cargo, their JavaScript bindings by the bindings generator's library.
//!
//! Two modules of the same sources: what every visitor loads, and the same with the feature `pictures`, which is loaded
//! when the user saves. Each has its own profile and thus its own folder. `serve` builds the first alone, serves, and
//! then builds the second: on two cores, from nothing, both at once would take twice as long for the first.
//!
//! Cargo decides what has to be compiled again; the bindings take a fraction of a second and are always made again.
//! Needs nothing but Cargo, and rustup where the target is missing.
//!
//! The generator's library, `wasm-bindgen-cli-support`, is a dependency at the locked version; Cargo.toml has it compiled
//! quickly instead of well, since its work is short. The second module is separate because the report's page and its pictures are a tenth of the code, and few
//! visitors save.
//!
//! `opt-level = "z"` alone inlines next to nothing and took nearly twice as long as `s` for the whole report. With LLVM's
//! inlining threshold at 50 (`INLINED`) it was as fast as `s` and 30 kB smaller (378 kB instead of 407); 100 gained nothing
//! for another 27 kB. The threshold is given to the last crate alone, where all code is linked and optimised as one.
//!
//! To find slow code, profile the module with its names: leave out `remove_name_section` here and run the calls of
//! `tests/bench/worker.mjs` in Node with `--cpu-prof`.

use std::fs;
use std::io::{BufRead as _, BufReader};
use std::panic::resume_unwind;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;

use super::project;
use crate::cli::trouble::{Trouble, say};

/// The browser's target.
const TARGET: &str = "wasm32-unknown-unknown";
/// The library, as Cargo names it.
const LIBRARY: &str = "gridproof";
/// How large a function may be that is copied to where it is called, in the optimiser's own measure. Where size decides it
/// takes 5, and with that even taking an element out of a list is a call; 50 is what it takes one step nearer to speed.
const INLINED: &str = "llvm-args=-inline-threshold=50";

/// A module of the page.
pub struct Module {
    /// Name of its bindings, as the page imports them.
    name: &'static str,
    /// What it is for.
    purpose: &'static str,
    /// What follows where it cannot be built.
    consequence: &'static str,
    profile: &'static str,
    features: &'static [&'static str],
}

/// What every visitor loads.
pub const PAGE: Module = Module {
    name: LIBRARY,
    purpose: "the page's module",
    consequence: "Nothing is served, because it would be an older page than the sources.",
    profile: "wasm",
    features: &["--no-default-features"],
};

/// What is loaded to save and to compare.
pub const REPORT: Module = Module {
    name: "gridproof_report",
    purpose: "the module that makes pictures and reports to save",
    consequence: "Without it the page cannot save, compare or open a link with the model inside.",
    profile: "wasm-report",
    features: &["--no-default-features", "--features", "pictures"],
};

/// Builds modules and gives the folder with `gridproof.js` and `gridproof_bg.wasm` of each, and their types for the
/// type check of the page (tests/tsconfig.json names that folder). Logs to standard error.
pub fn bindings(root: &Path, modules: &[Module]) -> Result<PathBuf, Trouble> {
    ensure_target(root)?;
    // Most of a build is one thread's optimising of the whole module; separate folders let Cargo do both at once.
    let files = thread::scope(|scope| {
        let builds: Vec<_> = modules.iter().map(|module| scope.spawn(|| compile(root, module))).collect();
        builds
            .into_iter()
            .map(|build| build.join().unwrap_or_else(|panic| resume_unwind(panic)))
            .collect::<Result<Vec<_>, _>>()
    })?;
    let folder = project::built(root).join("bindings/wasm");
    if folder.exists() {
        fs::remove_dir_all(&folder).map_err(|error| Trouble::file("cannot empty", &folder, &error))?;
    }
    fs::create_dir_all(&folder).map_err(|error| Trouble::file("cannot make the folder", &folder, &error))?;
    for (module, file) in modules.iter().zip(&files) {
        generate(module.name, file, &folder)?;
    }
    Ok(folder)
}

/// Builds one more module beside those in `folder`, and names the files it consists of.
pub fn add(root: &Path, module: &Module, folder: &Path) -> Result<[String; 2], Trouble> {
    generate(module.name, &compile(root, module)?, folder)?;
    Ok([format!("{}.js", module.name), format!("{}_bg.wasm", module.name)])
}

/// Adds the wasm target where the compiler has no standard library for it.
fn ensure_target(root: &Path) -> Result<(), Trouble> {
    let mut ask = project::rustc(root);
    ask.args(["--print", "target-libdir", "--target", TARGET]);
    let answer = ask.output().map_err(|error| cannot_start(&ask, &error))?;
    let folder = String::from_utf8_lossy(&answer.stdout);
    if answer.status.success() && Path::new(folder.trim()).is_dir() {
        return Ok(());
    }
    say(format_args!("Adding the compiler's target {TARGET} (once)"));
    let mut add = Command::new("rustup");
    add.args(["target", "add", TARGET]).current_dir(root).stdout(Stdio::null());
    let way_out = format!(
        "The page needs Rust's target {TARGET}. With rustup (https://rustup.rs): `rustup target add {TARGET}`; \
         with a Rust from elsewhere, install its package for that target."
    );
    match add.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(Trouble::new("rustup could not add a target")
            .because(format!("it ended with {status}"))
            .way_out(way_out)),
        Err(error) => Err(Trouble::new("cannot start rustup").because(error).way_out(way_out)),
    }
}

/// Compiles a module and gives its file, as Cargo names it.
fn compile(root: &Path, module: &Module) -> Result<PathBuf, Trouble> {
    say(format_args!("Building {}", module.purpose));
    let mut cargo = project::cargo(root);
    cargo.args([
        "rustc",
        "--lib",
        "--crate-type",
        "cdylib",
        "--target",
        TARGET,
        "--profile",
        module.profile,
        "--message-format",
        "json-render-diagnostics",
    ]);
    cargo.args(module.features).args(["--", "-C", INLINED]);
    cargo.stdin(Stdio::null()).stdout(Stdio::piped());
    let mut child = cargo.spawn().map_err(|error| cannot_start(&cargo, &error))?;
    let mut file = None;
    if let Some(messages) = child.stdout.take() {
        for line in BufReader::new(messages).lines() {
            let line = line.map_err(|error| Trouble::new("cannot read what Cargo says").because(error))?;
            file = file_in(&line).or(file);
        }
    }
    let status = child.wait().map_err(|error| Trouble::new("lost sight of Cargo").because(error))?;
    if !status.success() {
        return Err(Trouble::new(format!("{} could not be built", module.purpose))
            .because(format!("Cargo ended with {status}"))
            .way_out(format!("Cargo's messages above say why. {}", module.consequence)));
    }
    file.ok_or_else(|| {
        Trouble::new("Cargo built the library but names no wasm file for it")
            .way_out("Fetch the project again, whole; then run `cargo clean` and build again.")
    })
}

/// The module's file, where a line of Cargo's JSON messages announces it.
fn file_in(line: &str) -> Option<PathBuf> {
    let message: serde_json::Value = serde_json::from_str(line).ok()?;
    if message["reason"] != "compiler-artifact" || message["target"]["name"] != LIBRARY {
        return None;
    }
    let files = message["filenames"].as_array()?;
    files.iter().filter_map(|file| file.as_str()).find(|file| file.ends_with(".wasm")).map(PathBuf::from)
}

/// Makes the bindings of the module in `file`, called `name`, in `folder`.
fn generate(name: &str, file: &Path, folder: &Path) -> Result<(), Trouble> {
    let bytes = fs::read(file).map_err(|error| Trouble::file("cannot read", file, &error))?;
    let mut generator = wasm_bindgen_cli_support::Bindgen::new();
    generator.input_bytes(name, bytes).out_name(name).typescript(true);
    // So that `init()` without arguments loads the module that lies beside its bindings.
    generator.omit_default_module_path(false);
    generator.remove_name_section(true).remove_producers_section(true);
    generator.web(true).and_then(|generator| generator.generate(folder)).map_err(|error| {
        Trouble::new("the bindings of the page's module could not be made").because(format!("{error:#}")).way_out(
            "In Cargo.toml, wasm-bindgen and wasm-bindgen-cli-support must be of the same version; \
             after a change there, run `cargo clean` and build again.",
        )
    })
}

fn cannot_start(command: &Command, error: &std::io::Error) -> Trouble {
    Trouble::new(format!("cannot start {}", command.get_program().to_string_lossy()))
        .because(error)
        .way_out("Building the page needs Rust; https://rustup.rs installs it. Afterwards open a new terminal.")
}
