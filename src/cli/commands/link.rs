//! Prints a link that carries a model, and prints on standard error how long it is and what it is too long for.

use std::io::{self, Write as _};
use std::path::Path;

use gridproof::Examined;
use gridproof::brief::Brief;
use gridproof::carried::{Encoded, encode, to_base64url, wrap};
use gridproof::measure::Measures;
use gridproof::measure::sheet::sheets::SplitBy;
use gridproof::report::Report;
use gridproof::review::REVIEW_SCHEMA;
use serde_json::{Value, json};

use super::check;
use crate::cli::DEFAULT_PORT;
use crate::cli::trouble::{Trouble, say};

/// What links are sent through, and the longest link each keeps whole, in characters; shortest first.
const CARRIERS: [(usize, &str); 4] = [
    // Common practice, no source.
    (2_000, "chats: many cut messages or links after about 2,000 characters"),
    // RFC 5322, section 2.1.1: no line of a mail is longer than 998 characters; longer ones are folded or encoded, which few
    // programs undo within a link they make clickable. Common practice, no source, for this many.
    (
        8_000,
        "mail as plain text: programs fold long lines, and the link breaks; send it as the address of a link, or as a file",
    ),
    // network.standard-url.max-length, modules/libpref/init/StaticPrefList.yaml.
    (1_048_576, "Firefox, which opens addresses up to 1 MiB"),
    // url::kMaxURLChars, url/url_constants.h.
    (2_097_152, "Chromium and browsers made of it, which open addresses up to 2 MiB: no browser will open this one"),
];

/// Prints the link of `file` to a page at `site`, or on this computer.
pub fn run(file: &Path, site: Option<&str>, brief: &Brief) -> Result<(), Trouble> {
    let Examined { model, measures, report } = check::examined(file, brief)?;
    let encoded = encode(&model, &measures, &report, brief)
        .map_err(|refused| Trouble::new(format!("cannot make a link of {}", file.display())).because(refused))?;
    let bytes = wrap(&encoded.model, &review(&measures, &report, brief)).ok_or_else(|| {
        Trouble::new(format!("cannot make a link of {}", file.display())).because("its brief is too long for a link")
    })?;
    let here = format!("http://localhost:{DEFAULT_PORT}/");
    let link = format!("{}#m={}", site.unwrap_or(&here).trim_end_matches('#'), to_base64url(&bytes));
    let mut out = io::stdout().lock();
    writeln!(out, "{link}").and_then(|()| out.flush()).map_err(|error| Trouble::output(&error))?;
    tell(&link, bytes.len(), model.triangle_count(), &encoded);
    if site.is_none() {
        say(format_args!("It opens on this computer while `gridproof serve` runs; --site names the page for others."));
    }
    Ok(())
}

/// The review that goes along: the brief, as far as it is not the default one, and which materials have a sheet in
/// common where pictures say it, which the link does not hold. Empty if all is default.
fn review(measures: &Measures, report: &Report, brief: &Brief) -> Vec<u8> {
    let mut brief = brief.clone();
    if report.sheets.by == SplitBy::Pictures {
        brief.map.sheets = measures.sheets.fixed();
    }
    // A brief is plain data of finite depth with string keys, which JSON always holds.
    let (usual, mut own) = (json!(Brief::default()), json!(brief));
    if let Value::Object(sections) = &mut own {
        for (section, keys) in sections.iter_mut() {
            if let Value::Object(keys) = keys {
                keys.retain(|key, value| usual[section][key] != *value);
            }
        }
        sections.retain(|_, keys| keys != &json!({}));
        if sections.is_empty() {
            return Vec::new();
        }
    }
    json!({ "schema": REVIEW_SCHEMA, "file": report.file, "brief": own }).to_string().into_bytes()
}

fn tell(link: &str, bytes: usize, triangles: usize, encoded: &Encoded) {
    let each = bytes as f64 / triangles as f64;
    say(format_args!("{} characters, {bytes} bytes for {triangles} triangles: {each:.2} bytes a triangle", link.len()));
    let Encoded { steps, largest_error: [position, uv], proofs, .. } = encoded;
    say(format_args!(
        "Positions in steps of {} units (off by at most {position:.1e}), uvs of {} (at most {uv:.1e}); the report from the link \
         equals the file's, measured {proofs} times",
        steps.position.size(),
        steps.uv.size(),
    ));
    CARRIERS
        .iter()
        .filter(|(most, _)| link.len() > *most)
        .for_each(|(_, who)| say(format_args!("Too long for {who}.")));
}
