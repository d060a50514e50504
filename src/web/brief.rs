//! The brief as the page passes it: a plain object with the brief's keys.

use crate::brief::{Brief, BriefError, SHEETS, unknown_key};
use js_sys::{JSON, Object, Reflect};
use wasm_bindgen::prelude::*;

/// The brief of a plain object; nothing, and `{}`, take every default. Unknown keys, which the generic conversion would
/// ignore, wrong types and values out of range are refused with a sentence.
pub fn brief(value: JsValue) -> Result<Brief, String> {
    if value.is_null() || value.is_undefined() {
        return Ok(Brief::default());
    }
    if let Some(error) = unknown_key_of(&value) {
        return Err(error.message);
    }
    let brief: Brief = serde_wasm_bindgen::from_value(value.clone()).map_err(|_| misfit(&value))?;
    brief.validate().map_err(|error| error.message)?;
    Ok(brief)
}

/// Why a brief, as a plain object, would be refused; nothing if it is valid.
#[wasm_bindgen]
pub fn brief_trouble(#[wasm_bindgen(unchecked_param_type = "Brief")] value: JsValue) -> Option<String> {
    brief(value).err()
}

fn unknown_key_of(brief: &JsValue) -> Option<BriefError> {
    keys(brief).find_map(|section| {
        let of_section = Reflect::get(brief, &JsValue::from_str(&section)).unwrap_or_default();
        unknown_key("", &section).or_else(|| {
            keys(&of_section).find_map(|key| {
                // Groups of materials are the only objects in a section.
                let groups = Reflect::get(&of_section, &JsValue::from_str(&key)).unwrap_or_default();
                let groups = groups.dyn_ref::<js_sys::Array>().map(js_sys::Array::to_vec).unwrap_or_default();
                let of_group = |group: &JsValue| keys(group).find_map(|own| unknown_key(SHEETS, &own));
                unknown_key(&section, &key).or_else(|| groups.iter().find_map(of_group))
            })
        })
    })
}

/// Which value has the wrong type for its key; the generic conversion reports neither readably.
fn misfit(brief: &JsValue) -> String {
    let alone = |name: &str, value: &JsValue| {
        let object = Object::new();
        // Setting a key of a fresh plain object cannot fail.
        let _ = Reflect::set(&object, &JsValue::from_str(name), value);
        JsValue::from(object)
    };
    let of = |object: &JsValue, name: &str| Reflect::get(object, &JsValue::from_str(name)).unwrap_or_default();
    let fits =
        |section: &str, values: &JsValue| serde_wasm_bindgen::from_value::<Brief>(alone(section, values)).is_ok();
    for section in keys(brief) {
        let values = of(brief, &section);
        let wrong = keys(&values).find(|key| !fits(&section, &alone(key, &of(&values, key))));
        let (place, value) = match wrong {
            Some(key) => ([&section, ".", &key].concat(), of(&values, &key)),
            None if fits(&section, &values) => continue,
            None => (section, values),
        };
        let value = JSON::stringify(&value).map(String::from).unwrap_or_default();
        return ["The brief was not understood: ", &place, " cannot be ", &value, ". The form says what it takes."]
            .concat();
    }
    "The brief was not understood.".to_owned()
}

/// An object's own keys; none for what is no object.
fn keys(value: &JsValue) -> impl Iterator<Item = String> + use<> {
    let keys = value.dyn_ref::<Object>().map(Object::keys).unwrap_or_default();
    keys.into_iter().filter_map(|key| key.as_string())
}
