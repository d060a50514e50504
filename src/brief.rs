//! The brief: what this model was asked to be. Everything has a default.

use serde::{Deserialize, Serialize};

/// Size of the map in pixels.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Map {
    /// Width, px.
    pub width_px: u32,
    /// Height, px.
    pub height_px: u32,
    /// One tile, or UDIM tiles.
    pub tiles: Tiles,
    /// Unit of the model's coordinates.
    pub unit: Unit,
}

/// How many tiles the sheet has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Tiles {
    /// Only u and v in 0..1.
    Single,
    /// UDIM: 1001 + floor(u) + 10 floor(v).
    Udim,
}

/// Unit of the model's coordinates; OBJ itself has none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
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

/// What to do about sharing of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Policy {
    /// Fine.
    Allow,
    /// A person should decide.
    Look,
    /// Breaks the brief.
    Stop,
}

/// Texel density.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Density {
    /// Asked density; absent: the model's own mean.
    pub target_px_per_unit: Option<f64>,
    /// How far a shell may be off, percent. Common practice, no source.
    pub tolerance_percent: f64,
}

/// Stretch.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Stretch {
    /// Largest singular value over the smallest; 1 is a square. Common practice, no source.
    pub max_anisotropy: f64,
    /// Area share that may be above it.
    pub max_share_over: f64,
}

/// Who may share texture space.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Sharing {
    /// Oppositely handed.
    pub mirrored: Policy,
    /// Same handedness, nearly all of both.
    pub stacked: Policy,
    /// Same handedness, partly.
    pub crossing: Policy,
}

/// Coverage of the tile.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Coverage {
    /// Least share of the tile that should be used.
    pub min_share: f64,
}

/// The whole brief.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Brief {
    /// The map.
    pub map: Map,
    /// Texel density.
    pub density: Density,
    /// Stretch.
    pub stretch: Stretch,
    /// Sharing.
    pub sharing: Sharing,
    /// Coverage.
    pub coverage: Coverage,
}

impl Default for Map {
    fn default() -> Self {
        Self { width_px: 2048, height_px: 2048, tiles: Tiles::Single, unit: Unit::Cm }
    }
}
impl Default for Density {
    fn default() -> Self {
        Self { target_px_per_unit: None, tolerance_percent: 15.0 }
    }
}
impl Default for Stretch {
    fn default() -> Self {
        Self { max_anisotropy: 1.25, max_share_over: 0.05 }
    }
}
impl Default for Sharing {
    fn default() -> Self {
        Self { mirrored: Policy::Look, stacked: Policy::Look, crossing: Policy::Stop }
    }
}
impl Default for Coverage {
    fn default() -> Self {
        Self { min_share: 0.5 }
    }
}
