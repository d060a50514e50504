//! The brief as people write it: TOML, every key explained.
//!
//! Keys are looked at first (`check`), then types, then ranges; errors name the key and its line.

use super::Brief;
use super::check::{BriefError, KEYS, SHEETS, unknown_key};
use super::json::sentence;
use serde_json::Value;
use std::fmt::Write as _;
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// The text before the first section.
const HEAD: &str = "\
# What a model is checked against: gridproof check --brief THIS-FILE model.obj
# Every key may be left out; it then takes its default, which `gridproof brief` prints.
";

/// What each section is for, and each of its keys; the only place where they are explained.
pub(super) fn explanation(section: &str, key: &str) -> &'static str {
    match (section, key) {
        ("map", "") => "The picture that will be painted.",
        ("map", "width_px") => "Its width, px: 1 to 16384, powers of two by common practice.",
        ("map", "height_px") => "Its height, px. The map need not be square; squares are judged in px.",
        ("map", "tiles") => {
            "\"single\": UVs in the 0 to 1 square. \"udim\": tiles 1001, ... \"repeat\": a tiling texture. \"palette\": colours."
        }
        ("map", "sheets") => {
            "Texture sets: \"auto\" (by pictures, or overlap), \"one\", \"by-material\", or groups: [{ name, materials }]."
        }
        ("map", "unit") => {
            "What one unit of the model is: \"mm\", \"cm\", \"m\", \"in\" or \"unit\" (OBJ itself does not say)."
        }
        ("density", "") => "Texel density: px of the map for one unit of surface.",
        ("density", "target_px_per_unit") => {
            "What is asked for; left out: the model's own median over its surface, so that only unevenness counts."
        }
        ("density", "tolerance_percent") => "How far a shell may be off, percent. Common practice.",
        ("stretch", "") => "How far a square may come out as a rectangle.",
        ("stretch", "max_anisotropy") => {
            "Longer side over shorter: 1 is a square, 1.25 is 25 % longer than wide. Common practice."
        }
        ("stretch", "must_fix_anisotropy") => {
            "Beyond this one it must be fixed, up to it is a look; never less than the first. Common practice."
        }
        ("stretch", "max_share_over") => "Share of a part's surface that may be beyond each of them, 0 to 1.",
        ("sharing", "") => {
            "Who may use the same place on the sheet: \"allow\", \"look\" (a person decides) or \"must-fix\"."
        }
        ("sharing", "mirrored") => "One of the two reads backwards, as with mirrored halves.",
        ("sharing", "stacked") => "Shells exactly over one another, the same way round.",
        ("sharing", "partial_overlap") => "Shells partly over one another; hardly ever meant.",
        ("padding", "") => "Empty px around shells, so that smaller versions of the map do not bleed. Common practice.",
        ("padding", "between_px") => {
            "Between two shells, px; left out: a 128th of the map's larger side, 16 px at 2048."
        }
        ("padding", "border_px") => "Between a shell and its tile's border, px; left out: half of that.",
        ("coverage", "") => "How much of the tile is used.",
        ("coverage", "min_share") => "Least share of it, 0 to 1. Common practice.",
        ("seams", "") => "Where seams may be seen.",
        ("seams", "front") => {
            "The side the model is looked at from: \"+x\", \"-x\", \"+y\", \"-y\", \"+z\" or \"-z\" points at the viewer."
        }
        ("seams", "max_front_over_diagonal") => {
            "Length of soft seams (not along hard edges) to be seen from there, over the model's diagonal; left out: any."
        }
        ("tilt", "") => "Which way is up, for letters that should stand upright.",
        ("tilt", "up") => "The axis that points up in the model's world, written as for seams.",
        ("text", "") => "Surfaces that carry letters: nothing mirrored, shared, stretched or tilted there.",
        ("text", "groups") => "Names of objects, groups or materials, such as [\"nameplate\"].",
        ("density_factor", "") => {
            "Parts meant to get more or less density than the rest: name = factor, such as handle = 0.5."
        }
        ("rubric", "") => {
            "Points for a class: all where a check has no finding, half where only \"look\", none where \"must fix\"."
        }
        ("rubric", "maximum") => "The most points that a model can get; left out: what the checks are worth together.",
        ("rubric", "unmapped") => "Points for surface that has UVs everywhere.",
        ("rubric", "inside-out") => "Points for normals and winding that agree.",
        ("rubric", "flipped") => "Points for shells of which none is flipped.",
        ("rubric", "folded") => "Points for shells of which none is folded.",
        ("rubric", "stretch") => "Points for squares that stay square.",
        ("rubric", "collapsed") => "Points for surface of which none is a line on the sheet.",
        ("rubric", "density") => "Points for an even texel density.",
        ("rubric", "mirrored") => "Points for shells of which none shares space mirrored.",
        ("rubric", "stacked") => "Points for shells of which none is stacked.",
        ("rubric", "partial-overlap") => "Points for shells that do not partly overlap.",
        ("rubric", "self-overlap") => "Points for shells that do not overlap themselves.",
        ("rubric", "outside") => "Points for shells inside the tile.",
        ("rubric", "across-tiles") => "Points for shells that stay within one tile.",
        ("rubric", "padding") => "Points for shells that keep their distance.",
        ("rubric", "border") => "Points for shells that keep away from the border.",
        ("rubric", "coverage") => "Points for a sheet that is used well.",
        ("rubric", "text") => "Points for text that comes out right where it must.",
        ("rubric", "seams") => "Points for seams that are out of sight.",
        ("rubric", "tilt") => "Points for shells that stand upright.",
        ("rubric", "sheets") => "Points for materials whose sheets are clear.",
        ("rubric", "no-area") => "Points for triangles with an area.",
        ("rubric", "cut-short") => "Points for a file that is complete.",
        ("rubric", "left-out") => "Points for faces that can all be read.",
        _ => "",
    }
}

/// What an absent value could be, for the line that shows how to write it.
fn example(section: &str, key: &str) -> &'static str {
    match (section, key) {
        ("density", _) => "10.24",
        ("padding", "between_px") => "16.0",
        ("padding", _) => "8.0",
        ("rubric", "maximum") => "10.0",
        _ => "0.25",
    }
}

impl Brief {
    /// The whole brief as TOML, every key with its explanation; absent values are comments. Reads back equal.
    pub fn to_toml(&self) -> String {
        // A brief is plain data of finite depth with string keys, which JSON always holds.
        let values = serde_json::to_value(self).unwrap_or_default();
        let mut text = HEAD.to_owned();
        for (section, keys) in KEYS {
            // Writing to a String cannot fail.
            let _ = write!(text, "\n# {}\n[{section}]\n", explanation(section, ""));
            for key in keys {
                let _ = writeln!(text, "# {}", explanation(section, key));
                let _ = match &values[section][key] {
                    Value::Null => writeln!(text, "# {key} = {}", example(section, key)),
                    value => writeln!(text, "{key} = {}", literal(value)),
                };
            }
            if keys.is_empty() {
                for (name, value) in values[section].as_object().into_iter().flatten() {
                    let _ = writeln!(text, "{} = {}", quoted(name), literal(value));
                }
            }
        }
        text
    }

    /// Reads TOML. Unknown keys, wrong types and values out of range are refused with their line.
    pub fn from_toml(text: &str) -> Result<Self, BriefError> {
        let syntax = |error: toml::de::Error| BriefError {
            line: error.span().map(|span| line_at(text, span.start)),
            ..BriefError::new("", sentence(error.message()))
        };
        let table = DeTable::parse(text).map_err(syntax)?;
        for (section, value) in table.get_ref() {
            let at = |span: Range<usize>| Some(line_at(text, span.start));
            if let Some(error) = unknown_key("", section.get_ref()) {
                return Err(BriefError { line: at(section.span()), ..error });
            }
            let DeValue::Table(keys) = value.get_ref() else {
                let message =
                    format!("{0} is a section: write its keys on lines of their own below [{0}].", section.get_ref());
                return Err(BriefError {
                    line: at(section.span()),
                    ..BriefError::new(section.get_ref().as_ref(), message)
                });
            };
            if let Some((key, error)) =
                keys.keys().find_map(|key| Some((key, unknown_key(section.get_ref(), key.get_ref())?)))
            {
                return Err(BriefError { line: at(key.span()), ..error });
            }
            let groups = keys.iter().filter(|(key, _)| [section.get_ref(), ".", key.get_ref()].concat() == SHEETS);
            let groups = groups.filter_map(|(_, value)| value.get_ref().as_array()).flat_map(|groups| groups.iter());
            let mut keys = groups.filter_map(|group| group.get_ref().as_table()).flat_map(|group| group.keys());
            if let Some((key, error)) = keys.find_map(|key| Some((key, unknown_key(SHEETS, key.get_ref())?))) {
                return Err(BriefError { line: at(key.span()), ..error });
            }
        }
        let brief: Self = toml::from_str(text).map_err(syntax)?;
        brief.validate().map_err(|error| {
            let (section, key) = error.key.split_once('.').unwrap_or((&error.key, ""));
            let keys = table.get_ref().get(section).and_then(|value| value.get_ref().as_table());
            let line = keys
                .and_then(|keys| keys.keys().find(|name| name.get_ref() == key))
                .map(|name| line_at(text, name.span().start));
            BriefError { line, ..error }
        })?;
        Ok(brief)
    }
}

/// The line of a byte, from 1.
fn line_at(text: &str, byte: usize) -> usize {
    text.as_bytes().iter().take(byte).filter(|&&b| b == b'\n').count() + 1
}

/// A value as TOML writes it. TOML's numbers, strings and lists are JSON's, but for the escapes of [`quoted`].
fn literal(value: &Value) -> String {
    match value {
        Value::String(text) => quoted(text),
        Value::Array(items) => format!("[{}]", items.iter().map(literal).collect::<Vec<_>>().join(", ")),
        Value::Object(keys) => {
            let keys: Vec<String> = keys.iter().map(|(key, value)| format!("{key} = {}", literal(value))).collect();
            format!("{{ {} }}", keys.join(", "))
        }
        other => other.to_string(),
    }
}

/// A basic string: quotation marks, backslashes and control characters are escaped.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => {
                let _ = write!(out, "\\u{:04X}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::brief::{Axis, PRESETS, Policy, SheetGroup, SheetsAsked, Tiles};

    #[test]
    fn printed_toml_reads_back_equal() {
        let mut odd = Brief::default();
        odd.map.height_px = 1;
        let metal = SheetGroup {
            name: "Schild \"vorn\"".into(),
            materials: vec!["brass".into(), String::new()],
            width_px: Some(512),
            height_px: None,
        };
        odd.map.sheets = SheetsAsked::Groups(vec![metal]);
        odd.density.target_px_per_unit = Some(1e-7);
        odd.padding.between_px = Some(0.0);
        odd.padding.border_px = Some(3.5);
        odd.seams.max_front_over_diagonal = Some(1.0);
        odd.seams.front = Axis::MinusX;
        odd.text.groups = vec!["Schild \"vorn\" \\ 箱".into(), String::new()];
        odd.density_factor.insert("a b.c\t\u{7f}#".into(), 0.25);
        odd.density_factor.insert(String::new(), 3.0);
        odd.rubric = [("partial-overlap".to_owned(), 2.5), ("maximum".to_owned(), 20.0)].into();
        for brief in PRESETS.iter().map(|preset| (preset.brief)()).chain([Brief::default(), odd]) {
            let text = brief.to_toml();
            assert_eq!(Brief::from_toml(&text), Ok(brief.clone()), "{text}");
            assert_eq!(Brief::from_json(&serde_json::to_string(&brief).expect("plain data")), Ok(brief));
        }
    }

    #[test]
    fn every_key_is_explained_and_every_commented_key_is_valid() {
        let text = Brief::default().to_toml();
        for (section, keys) in KEYS {
            assert!(explanation(section, "").len() > 20, "{section}");
            for key in keys {
                assert!(explanation(section, key).len() > 20, "{section}.{key}");
            }
        }
        assert!(text.lines().all(|line| line.chars().count() <= 120), "{text}");
        let switched = text.lines().map(|line| match line.strip_prefix("# ") {
            Some(rest)
                if KEYS.iter().any(|(_, keys)| keys.iter().any(|key| rest.starts_with(&format!("{key} = ")))) =>
            {
                rest
            }
            _ => line,
        });
        let brief = Brief::from_toml(&switched.collect::<Vec<_>>().join("\n")).expect("examples are good values");
        assert!(brief.density.target_px_per_unit.is_some() && brief.seams.max_front_over_diagonal.is_some());
        assert!(brief.padding.between_px.is_some() && brief.padding.border_px.is_some());
    }

    #[test]
    fn omitted_keys_keep_their_default() {
        let brief = Brief::from_toml("[map]\ntiles = 'udim'\nwidth_px = 4096\n[sharing]\nmirrored = 'must-fix'\n");
        let brief = brief.expect("a partial brief");
        assert_eq!((brief.map.width_px, brief.map.height_px, brief.map.tiles), (4096, 2048, Tiles::Udim));
        assert_eq!((brief.sharing.mirrored, brief.sharing.stacked), (Policy::MustFix, Policy::Look));
        assert_eq!(Brief::from_toml(""), Ok(Brief::default()));
        assert_eq!(Brief::from_json("{}"), Ok(Brief::default()));
        assert_eq!(Brief::from_toml("[stretch]\nmax_anisotropy = 2\n").map(|b| b.stretch.max_anisotropy), Ok(2.0));
        let groups = Brief::from_toml(
            "[[map.sheets]]\nname = 'a'\nmaterials = ['b', 'c']\n[[map.sheets]]\nname = 'd'\nmaterials = ['e']\n",
        );
        assert_eq!(groups.map(|brief| brief.map.sheets.groups().len()), Ok(2));
    }

    #[test]
    fn invalid_toml_is_refused_with_line_and_reason() {
        for (text, line, reason) in [
            ("[stretch]\nmax_anisotropi = 2\n", 2, "Did you mean max_anisotropy?"),
            ("\n\n[streching]\n", 3, "Did you mean stretch?"),
            ("width_px = 5\n", 1, "It belongs to the section map."),
            ("map = 5\n", 1, "map is a section"),
            ("[map]\n# a\nwidth_px = 0\n", 3, "map.width_px is 0; it has to be a whole number of px from 1 to 16384."),
            ("[map]\nwidth_px = \"big\"\n", 2, "expected u32"),
            ("[map]\nwidth_px = 10.5\n", 2, "expected u32"),
            ("[map]\n\ntiles = \"many\"\n", 3, "`many`"),
            ("[map]\nsheets = \"two\"\n", 2, "`two`"),
            ("[map]\nsheets = 2\n", 2, "or a list of groups"),
            ("[[map.sheets]]\nname = \"a\"\nmaterial = [\"b\"]\n", 3, "Did you mean materials?"),
            ("[map]\nunit = \"m\"\nsheets = [{ name = \"a\", materials = [] }]\n", 3, "names no materials"),
            ("[density]\ntarget_px_per_unit = nan\n", 2, "density.target_px_per_unit is NaN"),
            ("[density_factor]\n\"the lid\" = -1\n", 2, "density_factor.the lid is -1"),
            ("[rubric]\nstretch = 2\nmaximum = 1\n", 3, "the checks are worth 2 points together"),
            ("[rubric]\noverlap = 2\n", 2, "A brief has no key rubric.overlap"),
            ("[map]\nwidth_px = 1\nwidth_px = 2\n", 3, "uplicate"),
            ("[map\n", 1, "."),
        ] {
            let error = Brief::from_toml(text).expect_err(text);
            assert_eq!(error.line, Some(line), "{text:?}: {error}");
            assert!(error.message.contains(reason), "{text:?}: {error}");
            assert!(!error.message.contains('\n'), "{error:?}");
        }
    }
}
