//! The static site: the page's files, the module with its bindings, and the demo's models, in one folder.
//!
//! Which other origins a site lets in is written in its index.html, in the policy and in `meta` tags beside it, and nowhere
//! else.

use std::fs;
use std::io;
use std::path::Path;

use gridproof::brief;

use super::origin::Origin;
use super::{build, offline, project};
use crate::cli::trouble::{Trouble, say};

/// Marks a folder that this command wrote and may write again.
const MARKER: &str = ".gridproof-site";
/// The marker's text.
const MARKER_TEXT: &str =
    "Written by `gridproof site`, which replaces index.html, brief.json, sw.js, www, wasm and demo beside this file.\n";
/// What a site consists of, besides its service worker; only these are ever replaced.
const OWN: [&str; 5] = [PAGE, BRIEF, "www", "wasm", "demo"];
/// The page itself.
const PAGE: &str = "index.html";
/// What the page's form of the brief is made from.
const BRIEF: &str = "brief.json";

/// Endings of what a site takes of the demo: the models, and the example of a page that shows the site in a frame.
const DEMO: [&str; 3] = [".obj", ".html", ".js"];

/// Endings of files beside the page's that only its makers need.
const NOT_FOR_BROWSERS: [&str; 3] = [".d.ts", ".md", ".py"];

/// Where a site's page connects it with others, each beside what the page's policy says of it.
const CONNECT: &str = "connect-src 'self' blob:";
const MODELS_FROM: &str = r#"<meta name="gridproof-models-from" content="">"#;
const PARENTS: &str = r#"<meta name="gridproof-parents" content="">"#;
const OFFLINE: &str = r#"<meta name="gridproof-offline" content="">"#;

/// Other origins that a site connects with.
#[derive(clap::Args, Debug, Default)]
pub struct Neighbours {
    /// Let links open models from this origin too (like https://models.example); may be repeated
    #[arg(long = "allow-models-from", value_name = "ORIGIN")]
    models_from: Vec<Origin>,
    /// Heed messages of pages of this origin that show the site in a frame; may be repeated
    #[arg(long = "allow-parent", value_name = "ORIGIN")]
    parents: Vec<Origin>,
}

/// Builds the site into `out` and reports it.
pub fn run(out: &Path, neighbours: &Neighbours) -> Result<(), Trouble> {
    ensure_ours(out)?;
    let root = project::root()?;
    let mut bytes = write(&root, out, neighbours, &[build::PAGE, build::REPORT])?;
    // Last, and only here: a page served while its sources change should never come from a cache.
    replace(&out.join(PAGE), &[(OFFLINE, &filled(OFFLINE, offline::WORKER))])?;
    bytes += offline::write(&root, out, &OWN)?;
    say(format_args!("Wrote the site to {} ({} kB)", out.display(), bytes.div_ceil(1000)));
    Ok(())
}

/// Builds what is missing and writes the site with these modules into `out`, which must be new, empty or an earlier
/// site. Gives the number of bytes written.
pub fn write(root: &Path, out: &Path, neighbours: &Neighbours, modules: &[build::Module]) -> Result<u64, Trouble> {
    ensure_ours(out)?;
    ensure_complete(root)?;
    let bindings = build::bindings(root, modules)?;
    let bytes = assemble(root, &bindings, out)?;
    let listed = |origins: &[Origin]| origins.iter().map(Origin::to_string).collect::<Vec<_>>().join(" ");
    let [models_from, parents] = [&neighbours.models_from, &neighbours.parents].map(|origins| listed(origins));
    let policy = format!("{CONNECT} {models_from}");
    replace(
        &out.join(PAGE),
        &[
            (CONNECT, policy.trim_end()),
            (MODELS_FROM, &filled(MODELS_FROM, &models_from)),
            (PARENTS, &filled(PARENTS, &parents)),
        ],
    )?;
    Ok(bytes)
}

/// Builds one more module of a site that `write` wrote to `out`, and puts it there.
pub fn add(root: &Path, out: &Path, module: &build::Module) -> Result<(), Trouble> {
    let bindings = project::built(root).join("bindings/wasm");
    for name in build::add(root, module, &bindings)? {
        copy_file(&bindings.join(&name), &out.join("wasm").join(&name))?;
    }
    Ok(())
}

/// A tag whose content is empty, filled.
fn filled(tag: &str, text: &str) -> String {
    tag.replace(r#"content="""#, &format!(r#"content="{text}""#))
}

/// Replaces words of a file, each of which must occur once.
fn replace(file: &Path, changes: &[(&str, &str)]) -> Result<(), Trouble> {
    let mut text = fs::read_to_string(file).map_err(|error| Trouble::file("cannot read", file, &error))?;
    for (from, to) in changes {
        if text.matches(from).count() != 1 {
            return Err(Trouble::new(format!("{} should say once: {from}", file.display()))
                .way_out("The page and the command do not fit together; fetch the project again, whole."));
        }
        text = text.replacen(from, to, 1);
    }
    fs::write(file, text).map_err(|error| Trouble::file("cannot write", file, &error))
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
    let missing = [PAGE, "www", "demo"].into_iter().find(|name| !root.join(name).exists());
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
    for name in OWN.into_iter().chain([offline::WORKER]) {
        remove(&out.join(name))?;
    }
    let mut bytes = copy_file(&root.join(PAGE), &out.join(PAGE))?;
    let for_browsers =
        |name: &str| name != offline::SOURCE && !NOT_FOR_BROWSERS.iter().any(|ending| name.ends_with(ending));
    let (brief, form) = (out.join(BRIEF), brief::form().to_string());
    fs::write(&brief, &form).map_err(|error| Trouble::file("cannot write", &brief, &error))?;
    bytes += form.len() as u64;
    bytes += copy_folder(&root.join("www"), &out.join("www"), &for_browsers)?;
    bytes += copy_folder(bindings, &out.join("wasm"), &for_browsers)?;
    bytes +=
        copy_folder(&root.join("demo"), &out.join("demo"), &|name| DEMO.iter().any(|ending| name.ends_with(ending)))?;
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

/// Copies files whose name is `wanted`, and the folders inside; hidden entries are no part of a site. Gives the number
/// of bytes.
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
            // An earlier site below one of its sources is not a source.
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
