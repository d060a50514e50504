//! The brief for building a form: every key with its explanation, its kind of value and its default, and the presets,
//! as JSON. `gridproof site` writes it beside the page, so that the page's module need not carry it.
//!
//! The page's module only says why a brief is refused. The page asks it before a change becomes active, so that a brief
//! that reaches the worker is valid.

use super::check::{KEYS, MAX_MAP_PX, RUBRIC_MAXIMUM};
use super::text::explanation;
use super::{Brief, PRESETS, Padding, SheetMap};
use serde_json::{Value, json};

/// `{ "sections": [{ "section", "text", "keys": [{ "key", "text", … }] }], "defaults": brief, "presets": [{ "name", "title", "brief" }] }`.
///
/// Each key has a `kind`: `whole`, `number` (both with `min`, and `max` where there is one), `share` (0..1), `choice` (with
/// `choices`, pairs of value and words) or `names` (of the model). `over` says that `min` itself is too little; `absent`
/// that the key may be left out; `of_larger_side` what then applies, as a share of the map's larger side. Sections without keys have names of the model for keys and factors for values.
pub fn form() -> Value {
    let sections = KEYS.map(|(section, keys)| {
        let keys: Vec<Value> = keys.iter().map(|key| described(section, key)).collect();
        json!({ "section": section, "text": explanation(section, ""), "keys": keys })
    });
    let presets =
        PRESETS.map(|preset| json!({ "name": preset.name, "title": preset.title, "brief": (preset.brief)() }));
    json!({ "sections": sections, "defaults": Brief::default(), "presets": presets })
}

fn described(section: &str, key: &str) -> Value {
    let mut entry = kind(section, key);
    entry["key"] = key.into();
    entry["text"] = explanation(section, key).into();
    entry
}

fn kind(section: &str, key: &str) -> Value {
    let policies = json!([["allow", "Allow"], ["look", "Look"], ["must-fix", "Must fix"]]);
    let axes = ["+x", "-x", "+y", "-y", "+z", "-z"].map(|axis| [axis.to_owned(), axis.to_uppercase()]);
    match (section, key) {
        ("map", "tiles") => json!({
            "kind": "choice",
            "choices": [
                ["single", "One tile"],
                ["udim", "UDIM tiles"],
                ["repeat", "Repeating texture"],
                ["palette", "Palette of colours"],
            ],
        }),
        ("map", "sheets") => json!({
            "kind": "choice",
            "choices": [["auto", "As the file suggests"], ["one", "One for all"], ["by-material", "One for each material"]],
        }),
        ("map", "unit") => json!({
            "kind": "choice",
            "choices": [["mm", "mm"], ["cm", "cm"], ["m", "m"], ["in", "in"], ["unit", "no unit"]],
        }),
        ("map", _) => json!({ "kind": "whole", "min": 1, "max": MAX_MAP_PX }),
        ("density", "target_px_per_unit") => json!({ "kind": "number", "min": 0, "over": true, "absent": true }),
        ("density", _) => json!({ "kind": "number", "min": 0, "over": true }),
        ("stretch", "max_anisotropy" | "must_fix_anisotropy") => json!({ "kind": "number", "min": 1 }),
        ("sharing", _) => json!({ "kind": "choice", "choices": policies }),
        ("padding", key) => {
            let (map, padding) = (SheetMap::default(), Padding::default());
            let usual = if key == "border_px" { padding.border(map) } else { padding.between(map) };
            let share = usual / f64::from(map.width_px.max(map.height_px));
            json!({ "kind": "number", "min": 0, "absent": true, "of_larger_side": share })
        }
        ("seams", "max_front_over_diagonal") => json!({ "kind": "number", "min": 0, "absent": true }),
        ("rubric", key) => json!({ "kind": "number", "min": 0, "over": key == RUBRIC_MAXIMUM, "absent": true }),
        ("seams" | "tilt", _) => json!({ "kind": "choice", "choices": axes }),
        ("text", _) => json!({ "kind": "names" }),
        _ => json!({ "kind": "share", "min": 0, "max": 1 }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The default brief with one value changed, as its own reader takes it.
    fn with(section: &str, key: &str, value: Value) -> Result<Brief, crate::brief::BriefError> {
        Brief::from_json(&json!({ section: { key: value } }).to_string())
    }

    #[test]
    fn the_form_has_every_key_of_the_brief() {
        let form = form();
        let defaults = &form["defaults"];
        let mut kinds = std::collections::BTreeSet::new();
        for section in form["sections"].as_array().expect("sections") {
            let name = section["section"].as_str().expect("a name");
            assert!(section["text"].as_str().is_some_and(|text| text.len() > 20), "{name}");
            for entry in section["keys"].as_array().expect("keys") {
                let key = entry["key"].as_str().expect("a name");
                let kind = entry["kind"].as_str().expect("a kind");
                kinds.insert(kind.to_owned());
                assert_eq!(entry["absent"] == json!(true), defaults[name][key].is_null(), "{name}.{key}");
                let takes = |value: Value| with(name, key, value).is_ok();
                match kind {
                    "choice" => {
                        let choices = entry["choices"].as_array().expect("choices");
                        assert!(choices.iter().all(|choice| takes(choice[0].clone())), "{name}.{key}");
                        assert!(choices.iter().any(|choice| choice[0] == defaults[name][key]), "{name}.{key}");
                        assert!(!takes(json!("perhaps")), "{name}.{key}");
                    }
                    "names" => assert!(takes(json!(["nameplate"])) && !takes(json!("nameplate")), "{name}.{key}"),
                    _ => {
                        let min = entry["min"].as_f64().expect("a least value");
                        let number = |value: f64| if kind == "whole" { json!(value as i64) } else { json!(value) };
                        assert_eq!(takes(number(min)), entry["over"] != json!(true), "{name}.{key}");
                        assert!(takes(number(min + 1.0)) && !takes(number(min - 1.0)), "{name}.{key}");
                        assert_eq!(takes(json!(1.5)), kind == "number", "{name}.{key}");
                        match entry["max"].as_f64() {
                            Some(max) => assert!(takes(number(max)) && !takes(number(max + 1.0)), "{name}.{key}"),
                            None => assert!(takes(json!(1e9)), "{name}.{key}"),
                        }
                    }
                }
            }
        }
        assert_eq!(kinds.len(), 5, "{kinds:?}");
    }
}
