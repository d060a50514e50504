//! The site's service worker: it must lie at the root of what it serves, and know all of it by name and digest.
//!
//! The digest of all files lets a browser keep one version whole. `serve` writes no service worker, or a changed page
//! would come from the browser's old cache.

use std::fs;
use std::path::Path;

use serde_json::json;
use sha2::{Digest as _, Sha256};

use crate::cli::trouble::Trouble;

/// The worker, at the root of the site.
pub const WORKER: &str = "sw.js";
/// What it is made from; it is not part of a site itself.
pub const SOURCE: &str = "service-worker.js";

/// Writes the worker of the site in `out`, which consists of `entries`; gives the number of bytes. Its version is a
/// digest of every name and byte, so that a browser finds a newer one exactly when something has changed.
pub fn write(root: &Path, out: &Path, entries: &[&str]) -> Result<u64, Trouble> {
    let mut files = Vec::new();
    for entry in entries {
        list(out, entry, &mut files)?;
    }
    files.sort_unstable();
    let mut digest = Sha256::new();
    let source = root.join("www/app").join(SOURCE);
    let source = fs::read_to_string(&source).map_err(|error| Trouble::file("cannot read", &source, &error))?;
    digest.update(&source);
    for name in &files {
        let file = out.join(name);
        let bytes = fs::read(&file).map_err(|error| Trouble::file("cannot read", &file, &error))?;
        digest.update(format!("{name}\0{}\0", bytes.len()));
        digest.update(bytes);
    }
    let version = gridproof::hexadecimal(&digest.finalize());
    // The page itself is asked for by its folder: hosts that redirect index.html there would break it.
    let names: Vec<&str> = files.iter().map(|name| if name == "index.html" { "" } else { name }).collect();
    let text = format!("const SITE = {};\n{source}", json!({ "version": version, "files": names }));
    let worker = out.join(WORKER);
    fs::write(&worker, &text).map_err(|error| Trouble::file("cannot write", &worker, &error))?;
    Ok(text.len() as u64)
}

/// Adds the files of `name` below `out`, with slashes between their parts.
fn list(out: &Path, name: &str, files: &mut Vec<String>) -> Result<(), Trouble> {
    let path = out.join(name);
    if !path.is_dir() {
        files.push(name.to_owned());
        return Ok(());
    }
    let unreadable = |error| Trouble::file("cannot look into", &path, &error);
    for entry in fs::read_dir(&path).map_err(unreadable)? {
        let inner = entry.map_err(unreadable)?.file_name();
        list(out, &format!("{name}/{}", inner.to_string_lossy()), files)?;
    }
    Ok(())
}
