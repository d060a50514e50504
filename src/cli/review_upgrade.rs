//! Upgrades reviews of version 1 to version 2; the page's reader (`www/core/review.js`) does the same with the same
//! table (`known.rs`), and both are tested on `tests/reviews/`.

use gridproof::findings::Shell;
use serde_json::{Map, Value};

const FIRST: &str = "gridproof-review/1";
const SECOND: &str = "gridproof-review/2";
/// Between a finding's kind and the number of its lowest shell, until [`by_key`] knows that shell's lowest face.
const BY_NUMBER: &str = "-shell-";

/// Words of version 1, and those of version 2.
pub const SECOND_WORDS: [(&str, &str); 13] = [
    ("size", "density"),
    ("handedness", "flipped"),
    ("sharing", "overlaps"),
    ("lettering", "text"),
    ("turned-over", "flipped"),
    ("crossing", "partial-overlap"),
    ("self-crossing", "self-overlap"),
    ("coarse", "low"),
    ("fine", "high"),
    ("emphasis", "density_factor"),
    ("meant", "intended"),
    ("todo", "to-fix"),
    ("stop", "must-fix"),
];

fn second(word: &str) -> &str {
    SECOND_WORDS.iter().find(|(first, _)| *first == word).map_or(word, |(_, second)| second)
}

/// Turns a review of the first version into one of the second; leaves every other value as it is.
pub fn upgrade(review: &mut Value) {
    let Some(review) = review.as_object_mut().filter(|review| review.get("schema") == Some(&FIRST.into())) else {
        return;
    };
    review.insert("schema".into(), SECOND.into());
    word(review, "lens");
    finding(review);
    if let Some(brief) = review.get_mut("brief").and_then(Value::as_object_mut) {
        rename(brief, "emphasis", "density_factor");
        rename(brief, "lettering", "text");
        if let Some(sharing) = brief.get_mut("sharing").and_then(Value::as_object_mut) {
            rename(sharing, "crossing", "partial_overlap");
            ["mirrored", "stacked", "partial_overlap"].iter().for_each(|key| word(sharing, key));
        }
        // A share of all seams: the length of soft ones is not known from it.
        if let Some(seams) = brief.get_mut("seams").and_then(Value::as_object_mut) {
            seams.remove("max_share_in_front");
        }
    }
    let entries = |value: Option<&mut Value>, change: &dyn Fn(&mut Map<String, Value>)| {
        let list = value.and_then(Value::as_array_mut).into_iter().flatten();
        list.filter_map(Value::as_object_mut).for_each(change);
    };
    entries(review.get_mut("notes"), &|note| word(note, "lens"));
    entries(review.get_mut("decisions"), &|decision| {
        word(decision, "kind");
        finding(decision);
    });
}

/// Names a finding by its shell's lowest face where it is still named by the shell's number.
pub fn by_key(finding: &mut String, shells: &[Shell]) {
    let named = finding.rsplit_once(BY_NUMBER).and_then(|(kind, number)| Some((kind, number.parse::<usize>().ok()?)));
    if let Some((kind, shell)) = named.and_then(|(kind, number)| Some((kind, shells.get(number)?))) {
        *finding = format!("{kind}-{}", shell.key);
    }
}

fn rename(map: &mut Map<String, Value>, from: &str, to: &str) {
    if let Some(value) = map.remove(from) {
        map.insert(to.into(), value);
    }
}

fn word(map: &mut Map<String, Value>, key: &str) {
    if let Some(Value::String(value)) = map.get_mut(key) {
        *value = second(value).to_owned();
    }
}

fn finding(map: &mut Map<String, Value>) {
    let Some(Value::String(id)) = map.get_mut("finding") else { return };
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    *id = match id.rsplit_once('-') {
        _ if id.starts_with("lettering-") => id.replacen("lettering", "text", 1),
        Some((kind, number)) if is_number(number) => [second(kind), BY_NUMBER, number].concat(),
        _ => second(id).to_owned(),
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn version_1_upgrades_to_an_equal_version_2() {
        let read = |text: &str| serde_json::from_str::<Value>(text).expect("the test's own file");
        let mut review = read(include_str!("../../tests/reviews/version-1.json"));
        let wanted = read(include_str!("../../tests/reviews/version-1-as-2.json"));
        upgrade(&mut review);
        assert_eq!(review, wanted);
        upgrade(&mut review);
        assert_eq!(review, wanted, "version 2 is unchanged");
    }
}
