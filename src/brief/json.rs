//! The brief as JSON, for links and other programs: an object with the same keys as the TOML.
//!
//! Read as TOML is: keys first (`check`), then types, then ranges. The command only: in the browser a second reader of
//! JSON beside the browser's own would cost 18 kB of the module.

use super::Brief;
use super::check::{BriefError, SHEETS, unknown_key};
use serde::Deserialize as _;
use serde_json::Value;

impl Brief {
    /// Reads JSON: an object with the same keys. Unknown keys, wrong types and values out of range are refused.
    pub fn from_json(text: &str) -> Result<Self, BriefError> {
        let value: Value = serde_json::from_str(text).map_err(|error| BriefError {
            line: Some(error.line()),
            ..BriefError::new("", format!("This is no JSON: {error}."))
        })?;
        let Value::Object(sections) = &value else {
            return Err(BriefError::new("", "A brief is an object with a section for each subject, such as \"map\"."));
        };
        for (section, keys) in sections {
            if let Some(error) = unknown_key("", section) {
                return Err(error);
            }
            let Value::Object(keys) = keys else {
                return Err(BriefError::new(
                    section,
                    format!("{section} is a section: its value has to be an object."),
                ));
            };
            if let Some(error) = keys.keys().find_map(|key| unknown_key(section, key)) {
                return Err(error);
            }
            let groups = keys.iter().filter(|(key, _)| [section, ".", key].concat() == SHEETS);
            let mut groups = groups.filter_map(|(_, value)| value.as_array()).flatten().filter_map(Value::as_object);
            if let Some(error) = groups.find_map(|group| group.keys().find_map(|key| unknown_key(SHEETS, key))) {
                return Err(error);
            }
        }
        let brief = Self::deserialize(&value).map_err(|error| BriefError::new("", sentence(&error.to_string())))?;
        brief.validate()?;
        Ok(brief)
    }

    /// Writes JSON, one key a line; absent values are left out. Ends in `\n`.
    pub fn to_json(&self) -> String {
        let mut value = serde_json::json!(self);
        for section in value.as_object_mut().into_iter().flat_map(|sections| sections.values_mut()) {
            if let Value::Object(keys) = section {
                keys.retain(|_, value| !value.is_null());
            }
        }
        format!("{value:#}\n")
    }
}

/// A parser's message as one sentence.
pub(super) fn sentence(message: &str) -> String {
    let message = message.trim().replace('\n', ", ");
    let mut letters = message.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str().trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use super::Brief;
    use crate::brief::{PRESETS, Padding};

    #[test]
    fn written_json_reads_back() {
        let padding = Padding { between_px: Some(3.5), border_px: None };
        let density_factor = [("Schild \"vorn\" \\ 箱".to_owned(), 2.0)].into();
        let mut own = Brief { padding, density_factor, ..Brief::default() };
        // Digits that an inexact parser gets wrong.
        own.stretch.max_anisotropy = 118_446_744_073_709_551_616.25;
        for brief in PRESETS.map(|preset| (preset.brief)()).into_iter().chain([own]) {
            let text = brief.to_json();
            assert!(!text.contains("null") && text.ends_with("}\n"), "{text}");
            assert_eq!(Brief::from_json(&text), Ok(brief));
        }
    }

    #[test]
    fn invalid_json_is_refused_with_a_reason() {
        for (text, reason) in [
            (r#"{"stretch":{"max_anisotropi":2}}"#, "Did you mean max_anisotropy?"),
            (r#"{"sharings":{}}"#, "Did you mean sharing?"),
            (r#"{"map":{"width_px":0}}"#, "map.width_px is 0"),
            (r#"{"map":{"width_px":"big"}}"#, "expected u32"),
            (r#"{"map":[1]}"#, "map is a section"),
            (r#"{"map":{"sheets":[{"name":"a","width":3}]}}"#, "Did you mean width_px?"),
            (r#"{"map":{"sheets":[{"name":"a"}]}}"#, "names no materials"),
            (r#"{"map":{"sheets":"some"}}"#, "`some`"),
            ("[]", "A brief is an object"),
            ("5", "A brief is an object"),
            ("{", "This is no JSON"),
        ] {
            let error = Brief::from_json(text).expect_err(text);
            assert!(error.message.contains(reason), "{text:?}: {error}");
        }
    }
}
