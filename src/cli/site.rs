//! The static site: the page's files, the module with its bindings, and the demo's models, in one folder.

use std::fs;
use std::io;
use std::path::Path;

use gridproof::brief;

use super::trouble::Trouble;
use super::{build, project};

/// Marks a folder that this command wrote and may write again.
const MARKER: &str = ".gridproof-site";
/// What the marker says to whoever finds it.
const MARKER_TEXT: &str =
    "Written by `gridproof site`, which replaces index.html, brief.json, www, wasm and demo beside this file.\n";
/// What a site consists of; only these are ever replaced.
const OWN: [&str; 5] = ["index.html", BRIEF, "www", "wasm", "demo"];
/// What the page's form of the brief is made from.
const BRIEF: &str = "brief.json";

/// Endings of files beside the page's that only its makers need.
const NOT_FOR_BROWSERS: [&str; 3] = [".d.ts", ".md", ".py"];

/// Builds the site into `out` and says so.
pub fn run(out: &Path) -> Result<(), Trouble> {
    ensure_ours(out)?;
    let root = project::root()?;
    let bytes = write(&root, out)?;
    eprintln!("Wrote the site to {} ({} kB)", out.display(), bytes.div_ceil(1000));
    Ok(())
}

/// Builds what is missing and writes the site into `out`, which must be new, empty or a former site. Gives the number
/// of bytes written.
pub fn write(root: &Path, out: &Path) -> Result<u64, Trouble> {
    ensure_ours(out)?;
    ensure_complete(root)?;
    let bindings = build::bindings(root)?;
    assemble(root, &bindings, out)
}

/// Refuses a folder that holds something else.
fn ensure_ours(out: &Path) -> Result<(), Trouble> {
    if !out.exists() || out.join(MARKER).is_file() {
        return Ok(());
    }
    if !out.is_dir() {
        return Err(Trouble::new(format!("{} is a file, and the site needs a folder", out.display()))
            .way_out("Name a folder that does not exist yet."));
    }
    let mut entries = fs::read_dir(out).map_err(|error| Trouble::file("cannot look into", out, &error))?;
    if entries.next().is_none() {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "{} is not empty and was not written by `gridproof site`, so it is left alone",
        out.display()
    ))
    .way_out("Name a folder that is new or empty."))
}

/// Refuses to build for minutes when the page's own files are missing.
fn ensure_complete(root: &Path) -> Result<(), Trouble> {
    let missing = ["index.html", "www", "demo"].into_iter().find(|name| !root.join(name).exists());
    missing.map_or(Ok(()), |name| {
        Err(Trouble::new(format!("{name} is missing from the project's folder {}", root.display()))
            .way_out("The page is made from it; fetch the project again, whole."))
    })
}

/// Puts the site together from the project's files and the bindings.
fn assemble(root: &Path, bindings: &Path, out: &Path) -> Result<u64, Trouble> {
    fs::create_dir_all(out).map_err(|error| Trouble::file("cannot make the folder", out, &error))?;
    let marker = out.join(MARKER);
    fs::write(&marker, MARKER_TEXT).map_err(|error| Trouble::file("cannot write", &marker, &error))?;
    for name in OWN {
        remove(&out.join(name))?;
    }
    let mut bytes = copy_file(&root.join("index.html"), &out.join("index.html"))?;
    let for_browsers = |name: &str| !NOT_FOR_BROWSERS.iter().any(|ending| name.ends_with(ending));
    let (brief, form) = (out.join(BRIEF), brief::form().to_string());
    fs::write(&brief, &form).map_err(|error| Trouble::file("cannot write", &brief, &error))?;
    bytes += form.len() as u64;
    bytes += copy_folder(&root.join("www"), &out.join("www"), &for_browsers)?;
    bytes += copy_folder(bindings, &out.join("wasm"), &for_browsers)?;
    bytes += copy_folder(&root.join("demo"), &out.join("demo"), &|name| name.ends_with(".obj"))?;
    Ok(bytes)
}

fn remove(path: &Path) -> Result<(), Trouble> {
    let removed = if path.is_dir() {
        fs::remove_dir_all(path)
    } else if path.exists() {
        fs::remove_file(path)
    } else {
        Ok(())
    };
    removed.map_err(|error| Trouble::file("cannot replace", path, &error))
}

/// Copies what `wanted` says by its name, and the folders inside; hidden entries are no part of a site. Gives the
/// number of bytes.
fn copy_folder(from: &Path, to: &Path, wanted: &dyn Fn(&str) -> bool) -> Result<u64, Trouble> {
    let unreadable = |error: io::Error| Trouble::file("cannot look into", from, &error);
    let mut bytes = 0;
    for entry in fs::read_dir(from).map_err(unreadable)? {
        let entry = entry.map_err(unreadable)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let path = entry.path();
        if name.starts_with('.') {
            continue;
        }
        if path.is_dir() {
            // A former site below one of its own sources is not a source.
            if path.join(MARKER).is_file() {
                continue;
            }
            bytes += copy_folder(&path, &to.join(&name), wanted)?;
        } else if wanted(&name) {
            fs::create_dir_all(to).map_err(|error| Trouble::file("cannot make the folder", to, &error))?;
            bytes += copy_file(&path, &to.join(&name))?;
        }
    }
    Ok(bytes)
}

fn copy_file(from: &Path, to: &Path) -> Result<u64, Trouble> {
    fs::copy(from, to)
        .map_err(|error| Trouble::new(format!("cannot copy {} to {}", from.display(), to.display())).because(error))
}
