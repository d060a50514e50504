//! Reviews that the page saved: read strictly, and laid over the report of the file they are about.
//!
//! An unknown key is refused with its path, never ignored: a decision must not be lost because it was misspelt.
//!
//! The page's reader, `www/core/review.js`, explains why it is separate; `tests/page/review-both.test.mjs` tests that
//! both agree, and the limits here are the page's too (`known.rs`).

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

use gridproof::brief::Brief;
use gridproof::grid::{MAX_WORDS_CHARS, MAX_WORDS_PX, MIN_CELL_PX, MIN_WORDS_PX};
use gridproof::lens::Lens;
use gridproof::report::Report;
use gridproof::review::{Decision, Note, REVIEW_SCHEMA, Review, SENT_SCHEMA};
use serde::Deserialize;
use serde_json::Value;

use super::review_upgrade::{by_key, upgrade};
use super::trouble::Trouble;

/// Most bytes of a review; the page's own hold less.
pub const MOST_BYTES: u64 = 4_000_000;
pub const MOST_NOTES: usize = 200;
pub const MOST_DECISIONS: usize = 2000;
/// Most characters of a note.
pub const MOST_TEXT: usize = 2000;
/// Most characters of a reason.
pub const MOST_REASON: usize = 500;
/// Most characters of a sender's name.
pub const MOST_SENDER: usize = 80;
/// Most characters of the name of a file, a finding or a shell.
pub const MOST_NAME: usize = 1000;
/// Sides of a cell that the page offers, px; the command draws larger ones.
pub const CELL_PX: [u64; 2] = [MIN_CELL_PX as u64, 256];
/// Greatest whole number of which a double keeps every digit.
const MOST_WHOLE: f64 = 9_007_199_254_740_991.0;
/// Weights that were rounded when they were written still sum up to 1 within this.
pub const WEIGHTS_OFF: f64 = 1e-3;

/// A review of a file.
pub struct Saved {
    path: PathBuf,
    file: AboutFile,
    /// The brief that the file was checked against.
    pub brief: Brief,
    review: Review,
    met: AtomicBool,
}

impl Saved {
    /// Reads a saved review.
    pub fn read(path: &Path) -> Result<Self, Trouble> {
        let unread = |error| Trouble::file("cannot read the review", path, &error);
        let refuse = |reason: String| {
            Trouble::new(format!("cannot use the review {}", path.display()))
                .because(reason)
                .way_out("The page saves reviews: Share, then Save review.")
        };
        if fs::metadata(path).map_err(unread)?.len() > MOST_BYTES {
            return Err(refuse(format!("it is larger than {} MB", MOST_BYTES / 1_000_000)));
        }
        let text = fs::read_to_string(path).map_err(unread)?;
        let shape = shape(&text).map_err(refuse)?;
        let brief = match &shape.brief {
            Some(brief) => Brief::from_json(&brief.to_string()).map_err(|error| refuse(format!("brief: {error}")))?,
            None => Brief::default(),
        };
        let (file, review) = (shape.file.clone(), shape.review().map_err(refuse)?);
        Ok(Self { path: path.to_path_buf(), file, brief, review, met: AtomicBool::new(false) })
    }

    /// Applies it to the report of its file; leaves others unchanged.
    pub fn apply(&self, report: &mut Report) {
        if report.file.sha256 == self.file.sha256 {
            self.met.store(true, Ordering::Relaxed);
            let mut review = self.review.clone();
            review.decisions.iter_mut().for_each(|(finding, _)| by_key(finding, &report.shells));
            report.decide(review);
        }
    }

    /// Fails where no checked file was the one that the review is about.
    pub fn met(&self, paths: &[PathBuf]) -> Result<(), Trouble> {
        if self.met.load(Ordering::Relaxed) {
            return Ok(());
        }
        let paths: Vec<String> = paths.iter().map(|path| path.display().to_string()).collect();
        Err(Trouble::new(format!("the review {} is about another file", self.path.display()))
            .because(format!(
                "it was made of {:?}, SHA-256 {}, which is not among {}",
                self.file.name,
                self.file.sha256,
                paths.join(", ")
            ))
            .way_out("Its decisions and notes were left out. Open both in the page to carry them over."))
    }
}

/// A saved review as it is written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Shape {
    schema: String,
    file: AboutFile,
    sender: Option<String>,
    since: Option<Since>,
    camera: Option<Eye>,
    lens: Option<String>,
    finding: Option<String>,
    note: Option<Whole>,
    brief: Option<Value>,
    grid: Option<Grid>,
    #[serde(default)]
    notes: Vec<Pinned>,
    #[serde(default)]
    decisions: Vec<Decided>,
}

#[derive(Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct AboutFile {
    name: String,
    #[serde(rename = "bytes")]
    _bytes: Whole,
    sha256: String,
}

/// What became of the findings of the upload before.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
#[expect(dead_code, reason = "read to be checked against its shape; only the page shows it")]
struct Since {
    fixed: Whole,
    still: Whole,
    new: Whole,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Eye {
    #[serde(rename = "eye")]
    _eye: [f64; 3],
    #[serde(rename = "target")]
    _target: [f64; 3],
    radius: f64,
    across: Option<[f64; 2]>,
    up: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Grid {
    cell: Option<Whole>,
    words: Option<String>,
    words_px: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Pinned {
    text: String,
    shell: Option<String>,
    face: Whole,
    triangle: Whole,
    barycentric: [f64; 3],
    point: [f64; 3],
    uv: Option<[f64; 2]>,
    camera: Option<Eye>,
    lens: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Decided {
    finding: String,
    kind: String,
    reason: Option<String>,
}

/// A number without a fraction, from 0, however JSON writes it: `2.0` is one.
#[derive(Clone, Copy, Deserialize)]
#[serde(try_from = "f64")]
struct Whole(u64);

impl TryFrom<f64> for Whole {
    type Error = &'static str;

    fn try_from(number: f64) -> Result<Self, Self::Error> {
        let is_whole = number.fract() == 0.0 && (0.0..=MOST_WHOLE).contains(&number);
        if is_whole { Ok(Self(number as u64)) } else { Err("has to be a whole number") }
    }
}

/// Where there is what the generic reader would take, and what it should be: null for a key that is left out, but in the brief;
/// and a list in the place of an object, of which it would take the entries for the keys in their order.
fn misread(review: &Value) -> Option<(&str, &'static str)> {
    fn has_null(value: &Value) -> bool {
        match value {
            Value::Null => true,
            Value::Array(entries) => entries.iter().any(has_null),
            Value::Object(entries) => entries.values().any(has_null),
            _ => false,
        }
    }
    let is_list = |value: Option<&Value>| value.is_some_and(Value::is_array);
    for (key, value) in review.as_object().into_iter().flatten() {
        let is_there = if key == "brief" { !value.is_null() } else { !has_null(value) };
        if !is_there {
            return Some((key.as_str(), "without null"));
        }
        let mut entries = value.as_array().into_iter().flatten();
        let holds_list = match key.as_str() {
            "file" | "since" | "camera" | "grid" => value.is_array(),
            "notes" => entries.any(|note| note.is_array() || is_list(note.get("camera"))),
            "decisions" => entries.any(Value::is_array),
            _ => false,
        };
        if holds_list {
            return Some((key.as_str(), "an object, or objects"));
        }
    }
    None
}

/// Text of 1 to `most` characters; a note and a reason may have lines.
fn is_text(text: &str, most: usize, lines: bool) -> bool {
    let is_blank = |letter: char| letter.is_whitespace() || letter == '\u{feff}';
    let steers = |letter: char| letter.is_control() && !(lines && matches!(letter, '\n' | '\t'));
    !text.chars().all(is_blank) && text.chars().count() <= most && !text.chars().any(steers)
}

fn shape(text: &str) -> Result<Shape, String> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut value: Value = serde_json::from_str(text).map_err(|error| error.to_string())?;
    upgrade(&mut value);
    if let Some((path, wanted)) = misread(&value) {
        return Err(format!("{path}: has to be {wanted}"));
    }
    let shape: Shape = serde_path_to_error::deserialize(value).map_err(|error| {
        let path = error.path().to_string();
        format!("{}{}", if path == "." { String::new() } else { format!("{path}: ") }, error.inner())
    })?;
    if ![REVIEW_SCHEMA, SENT_SCHEMA].contains(&shape.schema.as_str()) {
        return Err(format!("schema: {:?} is not {REVIEW_SCHEMA:?}", shape.schema));
    }
    let is_sent = shape.sender.is_some() || shape.since.is_some();
    if is_sent && shape.schema != SENT_SCHEMA {
        return Err(format!("sender and since: only {SENT_SCHEMA} has them"));
    }
    Ok(shape)
}

impl Shape {
    fn review(self) -> Result<Review, String> {
        let hold = |holds: bool, path: &str, wanted: &str| {
            if holds { Ok(()) } else { Err(format!("{path}: has to be {wanted}")) }
        };
        let lens = |name: &Option<String>, path: &str| {
            hold(name.as_deref().is_none_or(|name| Lens::named(name).is_some()), path, "the name of a lens")
        };
        let eye = |eye: &Option<Eye>, path: &str| match eye {
            Some(Eye { radius, across, up, .. }) => {
                hold(*radius > 0.0, &format!("{path}.radius"), "above 0")?;
                let sides = across.iter().flatten();
                hold(sides.copied().all(|side| side > 0.0), &format!("{path}.across"), "two numbers above 0")?;
                let axis = up.strip_prefix('-').unwrap_or(up);
                hold(matches!(axis, "x" | "y" | "z"), &format!("{path}.up"), "an axis, such as \"y\" or \"-z\"")
            }
            None => Ok(()),
        };
        let sha = &self.file.sha256;
        let hexadecimal = sha.len() == 64 && sha.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
        hold(hexadecimal, "file.sha256", "64 lower-case hexadecimal digits")?;
        let name = |name: Option<&String>, path: &str| {
            hold(name.is_none_or(|name| is_text(name, MOST_NAME, false)), path, "1 to 1000 characters on one line")
        };
        name(Some(&self.file.name), "file.name")?;
        let is_sender = |name: &str| is_text(name, MOST_SENDER, false);
        hold(self.sender.as_deref().is_none_or(is_sender), "sender", "1 to 80 characters on one line")?;
        name(self.finding.as_ref(), "finding")?;
        if let Some(Grid { cell, words, words_px }) = &self.grid {
            let [least, most] = CELL_PX;
            hold(cell.is_none_or(|cell| (least..=most).contains(&cell.0)), "grid.cell", "from 16 to 256")?;
            let fits = |words: &String| is_text(words, MAX_WORDS_CHARS, false);
            hold(words.as_ref().is_none_or(fits), "grid.words", "1 to 120 characters on one line")?;
            let sizes = f64::from(MIN_WORDS_PX)..=f64::from(MAX_WORDS_PX);
            hold(words_px.is_none_or(|px| sizes.contains(&px)), "grid.words_px", "from 8 to 512")?;
        }
        eye(&self.camera, "camera")?;
        lens(&self.lens, "lens")?;
        let is_note = |note: Whole| (1..=self.notes.len() as u64).contains(&note.0);
        hold(self.note.is_none_or(is_note), "note", "the number of a note")?;
        hold(self.note.is_none() || self.finding.is_none(), "note", "left out where a finding is chosen")?;
        hold(self.notes.len() <= MOST_NOTES, "notes", "at most 200")?;
        hold(self.decisions.len() <= MOST_DECISIONS, "decisions", "at most 2000")?;
        for (index, note) in self.notes.iter().enumerate() {
            let at = |key: &str| format!("notes[{index}].{key}");
            hold(is_text(&note.text, MOST_TEXT, true), &at("text"), "1 to 2000 characters")?;
            for (number, key) in [(note.face, "face"), (note.triangle, "triangle")] {
                hold(number.0 <= u32::MAX.into(), &at(key), "at most 4294967295")?;
            }
            let inside = note.barycentric.iter().all(|weight| (0.0..=1.0).contains(weight));
            let sum: f64 = note.barycentric.iter().sum();
            let is_spot = inside && (sum - 1.0).abs() <= WEIGHTS_OFF;
            hold(is_spot, &at("barycentric"), "three weights from 0 to 1 that sum up to 1")?;
            name(note.shell.as_ref(), &at("shell"))?;
            eye(&note.camera, &at("camera"))?;
            lens(&note.lens, &at("lens"))?;
        }
        let mut decisions: Vec<(String, Decision)> = Vec::with_capacity(self.decisions.len());
        for (index, Decided { finding, kind, reason }) in self.decisions.into_iter().enumerate() {
            let at = |key: &str| format!("decisions[{index}].{key}");
            name(Some(&finding), &at("finding"))?;
            hold(decisions.iter().all(|(other, _)| *other != finding), &at("finding"), "decided once")?;
            let decision = match (kind.as_str(), reason) {
                ("intended", Some(reason)) if is_text(&reason, MOST_REASON, true) => Decision::Intended { reason },
                ("intended", _) => return Err(format!("{}: has to be 1 to 500 characters", at("reason"))),
                ("to-fix", None) => Decision::ToFix,
                ("to-fix", Some(_)) => {
                    return Err(format!("{}: only what is intended has one", at("reason")));
                }
                _ => return Err(format!("{}: has to be intended or to-fix", at("kind"))),
            };
            decisions.push((finding, decision));
        }
        let notes = self.notes.into_iter().map(|Pinned { text, shell, face, point, uv, .. }| Note {
            text,
            shell,
            face: face.0 as u32,
            point,
            uv,
        });
        Ok(Review { notes: notes.collect(), decisions })
    }
}

/// Any bytes are a review or refused: for the tests below, and for `tests/fuzz/`.
#[cfg(any(test, fuzzing))]
pub fn read_or_refused(bytes: &[u8]) {
    let Ok(shape) = shape(&String::from_utf8_lossy(bytes)) else { return };
    if let Some(brief) = &shape.brief {
        let _ = Brief::from_json(&brief.to_string());
    }
    let Ok(review) = shape.review() else { return };
    assert!(review.notes.len() <= MOST_NOTES && review.notes.iter().all(|note| !note.text.trim().is_empty()));
    assert!(review.notes.iter().all(|note| note.point.iter().all(|x| x.is_finite())));
}

#[cfg(test)]
#[path = "../../tests/support/mutate.rs"]
mod mutate;

#[cfg(test)]
mod tests {
    use super::*;

    fn json() -> Value {
        serde_json::json!({
            "schema": REVIEW_SCHEMA,
            "file": {"name": "lantern.obj", "bytes": 12, "sha256": "0".repeat(64)},
            "camera": {"eye": [0, 0, 5], "target": [0, 0, 0], "radius": 1.5, "up": "-z"},
            "lens": "stretch",
            "finding": "stretch-3",
            "brief": {"map": {"width_px": 1024}},
            "grid": {"cell": 128, "words": "HARBOUR", "words_px": 64},
            "notes": [{
                "text": "too narrow", "shell": "drum, shell 3", "face": 4, "triangle": 1,
                "barycentric": [0.25, 0.25, 0.5], "point": [1, 2, 3], "uv": [0.5, 0.25],
                "camera": {"eye": [0, 0, 5], "target": [0, 0, 0], "radius": 1.5, "up": "y"}, "lens": "stretch"
            }],
            "decisions": [
                {"finding": "stretch-3", "kind": "intended", "reason": "a narrow strip"},
                {"finding": "text-Tür", "kind": "to-fix"}
            ]
        })
    }

    fn read(json: &Value) -> Result<Review, String> {
        shape(&json.to_string()).and_then(Shape::review)
    }

    #[test]
    fn every_field_of_a_review_is_read() {
        let review = read(&json()).expect("it is a review");
        assert_eq!(review.notes[0].text, "too narrow");
        assert_eq!(review.notes[0].uv, Some([0.5, 0.25]));
        assert_eq!(review.decisions[0].1, Decision::Intended { reason: "a narrow strip".to_owned() });
        assert_eq!(review.decisions[1], ("text-Tür".to_owned(), Decision::ToFix));
    }

    #[test]
    fn only_version_3_has_a_sender() {
        let mut sent = json();
        sent["sender"] = "Zoë".into();
        sent["since"] = serde_json::json!({"fixed": 2, "still": 0, "new": 1});
        assert_eq!(read(&sent).err().as_deref(), Some("sender and since: only gridproof-review/3 has them"));
        sent["schema"] = SENT_SCHEMA.into();
        assert_eq!(read(&sent), read(&json()));
        for bad in [String::new(), " ".to_owned(), "a\nb".to_owned(), "é".repeat(81)] {
            sent["sender"] = bad.into();
            assert_eq!(read(&sent).err().as_deref(), Some("sender: has to be 1 to 80 characters on one line"));
        }
    }

    #[test]
    fn unknown_keys_and_values_out_of_range_are_refused_with_their_path() {
        for (pointer, key, value, reason) in [
            ("", "texts", Value::from(1), "texts: unknown field `texts`"),
            ("/file", "sha256", Value::from("ABC"), "file.sha256: has to be 64"),
            ("/file", "folder", Value::from("home"), "file.folder: unknown field"),
            ("/notes/0", "txt", Value::from("x"), "notes[0].txt: unknown field"),
            ("/notes/0", "text", Value::from(""), "notes[0].text: has to be 1 to 2000"),
            ("/notes/0", "text", Value::from("é".repeat(2001)), "notes[0].text: has to be 1 to 2000"),
            ("/notes/0", "face", Value::from(-1), "notes[0].face: has to be a whole number"),
            ("/notes/0", "barycentric", Value::from(vec![2, 0, -1]), "notes[0].barycentric: has to be three"),
            ("/notes/0/camera", "radius", Value::from(0), "notes[0].camera.radius: has to be above 0"),
            (
                "/notes/0/camera",
                "across",
                Value::from(vec![1, 0]),
                "notes[0].camera.across: has to be two numbers above 0",
            ),
            ("/decisions/0", "reason", Value::from(" "), "decisions[0].reason: has to be 1 to 500"),
            ("/decisions/1", "reason", Value::from("x"), "decisions[1].reason: only what is intended"),
            ("/decisions/1", "finding", Value::from("stretch-3"), "decisions[1].finding: has to be decided once"),
            ("/decisions/1", "kind", Value::from("later"), "decisions[1].kind: has to be intended or to-fix"),
            ("", "lens", Value::from("rainbow"), "lens: has to be the name of a lens"),
            ("", "note", Value::from(2), "note: has to be the number of a note"),
            ("/camera", "up", Value::from("w"), "camera.up: has to be an axis"),
            ("", "schema", Value::from("gridproof-review/4"), "schema: \"gridproof-review/4\" is not"),
        ] {
            let mut bad = json();
            bad.pointer_mut(pointer).expect("the test's own path")[key] = value;
            let refused = read(&bad).expect_err(reason);
            assert!(refused.starts_with(reason), "{reason:?}: {refused}");
        }
    }

    #[test]
    fn any_review_is_read_or_refused() {
        let first = r#"{"schema":"gridproof-review/1","file":{"name":"a.obj","bytes":1,"sha256":""},"lens":"size","finding":"coarse-shell-3",
            "brief":{"emphasis":{"a":2},"sharing":{"crossing":"stop"}},"decisions":[{"finding":"fine-3","kind":"meant","reason":"x"}]}"#;
        let second = json().to_string();
        super::mutate::fuzz("review", &[second.as_bytes(), first.as_bytes()], |bytes, _| read_or_refused(bytes));
    }
}
