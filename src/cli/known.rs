//! What the page has to know of the core while its module is not there: `www/core/known.js`, written from the sources
//! here. A test fails if the file differs; with `GRIDPROOF_BLESS` set it writes the file instead.
//!
//! Types need no such file: those of the module come with its bindings.

use std::fmt::Write as _;
use std::{env, fs};

use gridproof::brief::{FIRST_TILE, Map, UDIM_COLUMNS};
use gridproof::grid::{DEFAULT_CELL_PX, MAX_WORDS_CHARS, MAX_WORDS_PX, MIN_WORDS_PX};
use gridproof::lens::{Lens, NO_SHELL};
use serde_json::{Value, json};

use super::DEFAULT_WORDS_PX;
use super::output::csv;
use super::review::{
    CELL_PX, MOST_BYTES, MOST_DECISIONS, MOST_NAME, MOST_NOTES, MOST_REASON, MOST_SENDER, MOST_TEXT, WEIGHTS_OFF,
};
use super::review_upgrade::SECOND_WORDS;

const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/www/core/known.js");

const HEAD: &str = "/**
 * What page and core both have to know, and the page before the module is there. Written from the core's sources:
 * `GRIDPROOF_BLESS=1 cargo test known`.
 */
";

fn known() -> String {
    let mut js = HEAD.to_owned();
    let mut list = |about: &str, name: &str, values: &mut dyn Iterator<Item = String>| {
        let values: Vec<String> = values.map(|value| format!("  {},\n", json!(value))).collect();
        let _ =
            write!(js, "\n/** {about} */\nexport const {name} = /** @type {{const}} */ ([\n{}]);\n", values.concat());
    };
    list(
        "Lenses, in the order they are offered.",
        "LENS_NAMES",
        &mut Lens::ALL.map(|lens| lens.name().to_owned()).into_iter(),
    );
    list(
        "Numbers of the table of many files, by their places in the report.",
        "NUMBERS",
        &mut csv::names().map(str::to_owned),
    );
    let mut object = |about: &str, name: &str, entries: &[(String, Value)]| {
        let line = |(key, value): &(String, Value)| {
            let is_plain = key.chars().all(|letter| letter.is_ascii_alphanumeric() || letter == '_');
            let key = if is_plain { key.clone() } else { json!(key).to_string() };
            format!("  {key}: {value},\n")
        };
        let lines: String = entries.iter().map(line).collect();
        let _ = write!(js, "\n/** {about} */\nexport const {name} = /** @type {{const}} */ ({{\n{lines}}});\n");
    };
    let named = |entries: &[(&str, Value)]| -> Vec<(String, Value)> {
        entries.iter().map(|(key, value)| ((*key).to_owned(), value.clone())).collect()
    };
    let Map { width_px, height_px, .. } = Map::default();
    object(
        "The map of a brief that says nothing of it, px.",
        "MAP",
        &named(&[("width", json!(width_px)), ("height", json!(height_px))]),
    );
    object(
        "UDIM tiles: the first one's number, and columns.",
        "UDIM",
        &named(&[("first", json!(FIRST_TILE)), ("columns", json!(UDIM_COLUMNS))]),
    );
    object(
        "Side of a cell and size of the words where nobody chose, map px.",
        "GRID_DEFAULTS",
        &named(&[("cell", json!(DEFAULT_CELL_PX)), ("words", json!("")), ("wordsPx", json!(DEFAULT_WORDS_PX as u32))]),
    );
    object(
        "Most of what a review holds: entries, or characters (code points) of a text; `json`: of all of it, bytes.",
        "REVIEW_MOST",
        &named(&[
            ("notes", json!(MOST_NOTES)),
            ("text", json!(MOST_TEXT)),
            ("decisions", json!(MOST_DECISIONS)),
            ("reason", json!(MOST_REASON)),
            ("name", json!(MOST_NAME)),
            ("words", json!(MAX_WORDS_CHARS)),
            ("sender", json!(MOST_SENDER)),
            ("json", json!(MOST_BYTES)),
        ]),
    );
    object(
        "Least and most of its numbers; `weightsOff`: how far a spot's weights may be off 1 together.",
        "REVIEW_RANGES",
        &named(&[
            ("cell", json!(CELL_PX)),
            ("wordsPx", json!([MIN_WORDS_PX as u32, MAX_WORDS_PX as u32])),
            ("weightsOff", json!(WEIGHTS_OFF)),
        ]),
    );
    object(
        "Words of a review's first version, and what the second says instead.",
        "SECOND_WORDS",
        &named(&SECOND_WORDS.map(|(first, second)| (first, json!(second)))),
    );
    let about = "A shell's part of a triangle's third word, and of a segment's; all of it for none.";
    let _ = write!(js, "\n/** {about} */\nexport const NO_SHELL = {NO_SHELL};\n");
    js
}

#[test]
fn known_js_matches_the_core() {
    let wanted = known();
    if env::var_os("GRIDPROOF_BLESS").is_some() {
        fs::write(FILE, &wanted).expect("the page's folder is there");
    }
    let is = fs::read_to_string(FILE).unwrap_or_default();
    assert!(
        is == wanted,
        "www/core/known.js is not what the core says; `GRIDPROOF_BLESS=1 cargo test known` writes it"
    );
}
