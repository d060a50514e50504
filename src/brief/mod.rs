//! The brief: the requirements for a model. Everything has a default.
//!
//! This module has its data. Which keys and values are allowed: `check`. How people and programs write it: `text` and
//! `json`; how a form shows it: `form` (these three for the command only). Ready-made ones: [`PRESETS`].

mod check;
#[cfg(not(target_arch = "wasm32"))]
mod form;
#[cfg(not(target_arch = "wasm32"))]
mod json;
mod presets;
mod sheets;
#[cfg(not(target_arch = "wasm32"))]
mod text;

#[cfg(target_arch = "wasm32")]
pub(crate) use check::SHEETS;
pub use check::{BriefError, KEYS, MAX_MAP_PX, RUBRIC_MAXIMUM, unknown_key};
#[cfg(not(target_arch = "wasm32"))]
pub use form::form;
pub use presets::{PRESETS, Preset};
pub use sheets::{MAX_SHEETS, SheetGroup, SheetsAsked};

use glam::DVec3;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The map, and how the model's materials are put on sheets.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify), tsify(rename = "BriefMap"))]
#[serde(default, deny_unknown_fields)]
pub struct Map {
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
    /// What a sheet consists of.
    pub tiles: Tiles,
    /// Which materials have a sheet in common.
    pub sheets: SheetsAsked,
    /// Unit of the model's coordinates.
    pub unit: Unit,
}

/// The map of one sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SheetMap {
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
    /// What the sheet consists of.
    pub tiles: Tiles,
}

/// The UDIM number of the tile 0..1.
pub const FIRST_TILE: u32 = 1001;
/// Columns of UDIM tiles.
pub const UDIM_COLUMNS: u32 = 10;

/// What a sheet consists of, and how it is used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
pub enum Tiles {
    /// Only u and v in 0..1.
    Single,
    /// UDIM: [`FIRST_TILE`] + floor(u) + [`UDIM_COLUMNS`] floor(v).
    Udim,
    /// One tile that repeats: overlaps and UVs outside are not findings.
    Repeat,
    /// One tile of single colours: shells on single points are not findings either.
    Palette,
}

impl Tiles {
    /// Whether every part of the surface should have its own area on the sheet.
    pub fn is_layout(self) -> bool {
        matches!(self, Self::Single | Self::Udim)
    }
}

/// Unit of the model's coordinates; OBJ itself has none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "lowercase")]
pub enum Unit {
    /// Millimetre.
    Mm,
    /// Centimetre.
    Cm,
    /// Metre.
    M,
    /// Inch.
    In,
    /// Unnamed.
    Unit,
}

impl Unit {
    /// As written after a number.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Mm => "mm",
            Unit::Cm => "cm",
            Unit::M => "m",
            Unit::In => "in",
            Unit::Unit => "unit",
        }
    }
}

/// What to do about overlaps of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
pub enum Policy {
    /// Allowed.
    Allow,
    /// Reported for a look.
    Look,
    /// Must be fixed.
    MustFix,
}

/// Texel density.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct Density {
    /// Target density; absent: the model's own, by a median over its surface.
    pub target_px_per_unit: Option<f64>,
    /// How far a shell may be off, percent. Common practice, no source.
    pub tolerance_percent: f64,
}

/// Stretch.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct Stretch {
    /// Largest singular value over the smallest; 1 is a square. Common practice, no source.
    pub max_anisotropy: f64,
    /// The same, from which it must be fixed; [`Stretch::must_fix`] is the one that counts. Common practice, no source.
    pub must_fix_anisotropy: f64,
    /// Area share that may be above it.
    pub max_share_over: f64,
}

/// Which overlaps are allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct Sharing {
    /// Opposite orientation.
    pub mirrored: Policy,
    /// Same orientation, nearly all of both.
    pub stacked: Policy,
    /// Same orientation, partly.
    pub partial_overlap: Policy,
}

/// Coverage of the tile.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct Coverage {
    /// Least share of the tile that should be used.
    pub min_share: f64,
}

/// Padding: empty px between shells, and between a shell and its tile's border.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct Padding {
    /// Least distance between two shells, px; absent: [`SheetMap::usual_padding_px`].
    pub between_px: Option<f64>,
    /// Least distance to the tile's border, px; absent: half of [`SheetMap::usual_padding_px`].
    pub border_px: Option<f64>,
}

/// One of the model's axes, with its sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub enum Axis {
    #[serde(rename = "+x")]
    PlusX,
    #[serde(rename = "-x")]
    MinusX,
    #[serde(rename = "+y")]
    PlusY,
    #[serde(rename = "-y")]
    MinusY,
    #[serde(rename = "+z")]
    PlusZ,
    #[serde(rename = "-z")]
    MinusZ,
}

impl Axis {
    /// Unit vector along it.
    pub fn direction(self) -> DVec3 {
        match self {
            Axis::PlusX => DVec3::X,
            Axis::MinusX => DVec3::NEG_X,
            Axis::PlusY => DVec3::Y,
            Axis::MinusY => DVec3::NEG_Y,
            Axis::PlusZ => DVec3::Z,
            Axis::MinusZ => DVec3::NEG_Z,
        }
    }
}

/// Where seams may be seen.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct Seams {
    /// The side the model is looked at from: the axis that points at the viewer.
    pub front: Axis,
    /// Greatest length of soft seams that may be seen from there, over the model's diagonal; absent: any.
    pub max_front_over_diagonal: Option<f64>,
}

/// Which way is up.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct Tilt {
    /// The axis that points up in the model's world.
    pub up: Axis,
}

/// Surfaces that must carry text.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct TextSafety {
    /// Objects, groups or materials that must be safe for text.
    pub groups: Vec<String>,
}

/// The whole brief.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(default, deny_unknown_fields)]
pub struct Brief {
    /// The map.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "BriefMap"))]
    pub map: Map,
    /// Texel density.
    pub density: Density,
    /// Stretch.
    pub stretch: Stretch,
    /// Sharing.
    pub sharing: Sharing,
    /// Padding.
    pub padding: Padding,
    /// Coverage.
    pub coverage: Coverage,
    /// Seams.
    pub seams: Seams,
    /// Which way is up.
    pub tilt: Tilt,
    /// What must be safe for text.
    pub text: TextSafety,
    /// Objects, groups or materials that are meant to get more or less density than the rest: factor on the reference, > 0.
    pub density_factor: BTreeMap<String, f64>,
    /// Points for each check, by the kind of its findings, and [`RUBRIC_MAXIMUM`]; judges nothing.
    pub rubric: BTreeMap<String, f64>,
}

impl Map {
    /// The map of a sheet without its own size.
    pub fn of_sheet(&self) -> SheetMap {
        SheetMap { width_px: self.width_px, height_px: self.height_px, tiles: self.tiles }
    }
}

impl SheetMap {
    /// Padding that keeps shells apart at this size, px: a 128th of the larger side, 16 px at 2048. Common practice, no source.
    pub fn usual_padding_px(self) -> f64 {
        f64::from(self.width_px.max(self.height_px)) / 128.0
    }
}

impl Padding {
    /// The least distance between shells in effect, px.
    pub fn between(self, map: SheetMap) -> f64 {
        self.between_px.unwrap_or_else(|| map.usual_padding_px())
    }

    /// The least distance to the border in effect, px.
    pub fn border(self, map: SheetMap) -> f64 {
        self.border_px.unwrap_or_else(|| map.usual_padding_px() / 2.0)
    }
}

impl Stretch {
    /// The anisotropy from which stretch must be fixed, never below `max_anisotropy`.
    pub fn must_fix(&self) -> f64 {
        self.must_fix_anisotropy.max(self.max_anisotropy)
    }
}

impl Default for Map {
    fn default() -> Self {
        let SheetMap { width_px, height_px, tiles } = SheetMap::default();
        Self { width_px, height_px, tiles, sheets: SheetsAsked::Auto, unit: Unit::Unit }
    }
}
impl Default for SheetMap {
    fn default() -> Self {
        Self { width_px: 2048, height_px: 2048, tiles: Tiles::Single }
    }
}
impl Default for Density {
    fn default() -> Self {
        Self { target_px_per_unit: None, tolerance_percent: 15.0 }
    }
}
impl Default for Stretch {
    fn default() -> Self {
        Self { max_anisotropy: 1.25, must_fix_anisotropy: 2.0, max_share_over: 0.05 }
    }
}
impl Default for Sharing {
    fn default() -> Self {
        Self { mirrored: Policy::Look, stacked: Policy::Look, partial_overlap: Policy::MustFix }
    }
}
impl Default for Seams {
    fn default() -> Self {
        Self { front: Axis::PlusZ, max_front_over_diagonal: None }
    }
}
impl Default for Tilt {
    fn default() -> Self {
        Self { up: Axis::PlusY }
    }
}
impl Default for Coverage {
    fn default() -> Self {
        Self { min_share: 0.5 }
    }
}
