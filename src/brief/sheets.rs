//! Which materials have a sheet, one texture set, in common: `sheets` of the section `map`.

use serde::de::{self, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;

/// Most sheets of a model: as many as a list can offer. Own choice; common models have 4 to 81 materials.
pub const MAX_SHEETS: usize = 256;

/// How the materials of a model are put on sheets.
#[derive(Clone, Debug, Default, PartialEq)]
#[cfg_attr(
    target_arch = "wasm32",
    derive(tsify::Tsify),
    tsify(type = "\"auto\" | \"one\" | \"by-material\" | SheetGroup[]")
)]
pub enum SheetsAsked {
    /// As the file suggests.
    #[default]
    Auto,
    /// All on one.
    One,
    /// Each on its own.
    ByMaterial,
    /// Those of each group together, all others together on one more.
    Groups(Vec<SheetGroup>),
}

/// Materials that have a sheet in common.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct SheetGroup {
    /// What people call the sheet.
    pub name: String,
    /// Names of its materials; an empty one means faces without a material.
    pub materials: Vec<String>,
    /// Width of its map, px; absent: that of the section `map`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub width_px: Option<u32>,
    /// Height of its map, px; absent: that of the section `map`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_px: Option<u32>,
}

/// Keys of a [`SheetGroup`].
pub(super) const GROUP_KEYS: [&str; 4] = ["name", "materials", "width_px", "height_px"];

/// The keyword of one of the ways.
const WORDS: [&str; 3] = ["auto", "one", "by-material"];

impl SheetsAsked {
    /// The groups, where materials are put into groups.
    pub fn groups(&self) -> &[SheetGroup] {
        match self {
            Self::Groups(groups) => groups,
            _ => &[],
        }
    }

    /// The groups, where one of them has its own map size.
    pub fn sized_groups(&self) -> &[SheetGroup] {
        let groups = self.groups();
        let is_sized = groups.iter().any(|group| group.width_px.is_some() || group.height_px.is_some());
        if is_sized { groups } else { &[] }
    }
}

impl Serialize for SheetsAsked {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Auto => serializer.serialize_str(WORDS[0]),
            Self::One => serializer.serialize_str(WORDS[1]),
            Self::ByMaterial => serializer.serialize_str(WORDS[2]),
            Self::Groups(groups) => groups.serialize(serializer),
        }
    }
}

impl<'de> Deserialize<'de> for SheetsAsked {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(Asked)
    }
}

struct Asked;

impl<'de> Visitor<'de> for Asked {
    type Value = SheetsAsked;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("\"auto\", \"one\", \"by-material\" or a list of groups")
    }

    fn visit_str<E: de::Error>(self, word: &str) -> Result<SheetsAsked, E> {
        match word {
            "auto" => Ok(SheetsAsked::Auto),
            "one" => Ok(SheetsAsked::One),
            "by-material" => Ok(SheetsAsked::ByMaterial),
            _ => Err(E::unknown_variant(word, &WORDS)),
        }
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<SheetsAsked, A::Error> {
        let mut groups = Vec::new();
        while let Some(group) = list.next_element()? {
            groups.push(group);
        }
        Ok(SheetsAsked::Groups(groups))
    }
}
