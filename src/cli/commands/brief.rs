//! Briefs on the command line: printed for people to change, and read back.

use std::fs;
use std::io::{self, Write as _};
use std::path::Path;

use clap::builder::{PossibleValue, PossibleValuesParser};
use gridproof::brief::{Brief, PRESETS, Preset};

use crate::cli::review::Saved;
use crate::cli::trouble::Trouble;

/// What `--preset` takes, each with its title.
pub fn preset_names() -> PossibleValuesParser {
    PossibleValuesParser::new(PRESETS.map(|preset| PossibleValue::new(preset.name).help(preset.title)))
}

/// Prints a preset, a given brief, or the default one; as TOML or JSON.
pub fn run(preset: Option<&str>, from: Option<&Path>, json: bool) -> Result<(), Trouble> {
    let preset = preset
        .map(|name| Preset::named(name).ok_or_else(|| Trouble::new(format!("there is no preset {name}"))))
        .transpose()?;
    let brief = match preset {
        Some(preset) => (preset.brief)(),
        None => read_or_default(from)?,
    };
    let title = preset.map_or_else(String::new, |preset| format!("# {}\n", preset.title));
    let text = if json { brief.to_json() } else { title + &brief.to_toml() };
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes()).and_then(|()| out.flush()).map_err(|error| Trouble::output(&error))
}

/// The named brief, or the default one.
pub fn read_or_default(file: Option<&Path>) -> Result<Brief, Trouble> {
    file.map_or_else(|| Ok(Brief::default()), read)
}

/// The named review, and the brief: the named one, or else the review's, or else the default one.
pub fn with_review(file: Option<&Path>, review: Option<&Path>) -> Result<(Brief, Option<Saved>), Trouble> {
    let review = review.map(Saved::read).transpose()?;
    let brief = match (file, &review) {
        (None, Some(review)) => review.brief.clone(),
        (named, _) => read_or_default(named)?,
    };
    Ok((brief, review))
}

/// Reads a brief: TOML, or JSON where the name ends in `.json`.
fn read(file: &Path) -> Result<Brief, Trouble> {
    let text = fs::read_to_string(file).map_err(|error| Trouble::file("cannot read the brief", file, &error))?;
    let json = file.extension().is_some_and(|extension| extension.eq_ignore_ascii_case("json"));
    let brief = if json { Brief::from_json(&text) } else { Brief::from_toml(&text) };
    brief.map_err(|error| {
        let line = error.line.map_or_else(String::new, |line| format!(", line {line}"));
        Trouble::new(format!("cannot use the brief {}{line}", file.display()))
            .because(error.message)
            .way_out("`gridproof brief` prints a brief with every key explained.")
    })
}
