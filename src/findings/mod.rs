//! Findings with advice, and the cause that most of them may have.

mod at_fault;
mod judge;
mod place;
mod shells;

pub(crate) use at_fault::AtFault;
pub(crate) use judge::{Judged, judged, not_judged, words};
pub(crate) use place::NO_SIDE;
pub use shells::{DensityPart, Names, Shell, shell_label};
pub(crate) use shells::{density_parts, part_label, shells};

use crate::draw::Viewpoint;
use crate::measure::sheet::sharing::ShareKind;
use crate::review::Decision;
use place::Runs;
use serde::{Deserialize, Serialize};

/// Severity, worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Must be fixed.
    MustFix,
    /// Needs a look.
    Look,
    /// Good to know.
    Info,
}

impl Severity {
    /// For people.
    pub fn text(self) -> &'static str {
        match self {
            Self::MustFix => "must fix",
            Self::Look => "look",
            Self::Info => "info",
        }
    }
}

/// What a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
pub enum FindingKind {
    /// Faces without uv.
    Unmapped,
    /// The whole shell is flipped.
    Flipped,
    /// Flipped triangles of a shell that is not.
    Folded,
    /// Anisotropy over the limit.
    Stretch,
    /// Texel density off the reference.
    Density,
    /// Partial overlap, same orientation.
    PartialOverlap,
    /// Self-overlap.
    SelfOverlap,
    /// Mirrored overlap.
    Mirrored,
    /// Stacked.
    Stacked,
    /// UV area outside the tile(s).
    Outside,
    /// Surface whose uv has no area.
    Collapsed,
    /// Over the border of a tile.
    AcrossTiles,
    /// Shells too near to one another.
    Padding,
    /// Shells too near to their tile's border.
    Border,
    /// The tile is used too little.
    Coverage,
    /// Normals and winding disagree.
    InsideOut,
    /// No triangle has area both on the surface and on the sheet.
    NoArea,
    /// The file ends within a statement.
    CutShort,
    /// Faces of the file that could not be read.
    LeftOut,
    /// Texture-up is not world-up.
    Tilt,
    /// Soft seams are visible from the front.
    Seams,
    /// Not safe for text where the brief wants it.
    Text,
    /// Which materials have a sheet in common was only guessed.
    Sheets,
}

impl FindingKind {
    /// As in the report.
    pub fn code(self) -> &'static str {
        match self {
            Self::Unmapped => "unmapped",
            Self::Flipped => "flipped",
            Self::Folded => "folded",
            Self::Stretch => "stretch",
            Self::Density => "density",
            Self::PartialOverlap => "partial-overlap",
            Self::SelfOverlap => "self-overlap",
            Self::Mirrored => "mirrored",
            Self::Stacked => "stacked",
            Self::Outside => "outside",
            Self::Collapsed => "collapsed",
            Self::AcrossTiles => "across-tiles",
            Self::Padding => "padding",
            Self::Border => "border",
            Self::Coverage => "coverage",
            Self::InsideOut => "inside-out",
            Self::NoArea => "no-area",
            Self::CutShort => "cut-short",
            Self::LeftOut => "left-out",
            Self::Tilt => "tilt",
            Self::Seams => "seams",
            Self::Text => "text",
            Self::Sheets => "sheets",
        }
    }

    /// Whether it is about the layout alone and has no surface at fault.
    pub fn is_layout(self) -> bool {
        matches!(self, Self::Padding | Self::Border | Self::Coverage | Self::Seams | Self::AcrossTiles | Self::Sheets)
    }

    /// The kind of overlap, where triangles are at fault only in the overlapping part.
    pub(crate) fn share_kind(self) -> Option<ShareKind> {
        match self {
            Self::PartialOverlap => Some(ShareKind::PartialOverlap),
            Self::SelfOverlap => Some(ShareKind::SelfOverlap),
            Self::Mirrored => Some(ShareKind::Mirrored),
            Self::Stacked => Some(ShareKind::Stacked),
            _ => None,
        }
    }

    /// The lens that shows it best.
    pub fn lens(self) -> &'static str {
        match self {
            Self::Stretch | Self::Collapsed => "stretch",
            Self::Density => "density",
            Self::Flipped | Self::Folded | Self::InsideOut => "flipped",
            Self::PartialOverlap | Self::SelfOverlap | Self::Mirrored | Self::Stacked => "overlaps",
            Self::Text => "text",
            Self::Seams => "seams",
            Self::Unmapped
            | Self::Outside
            | Self::AcrossTiles
            | Self::Padding
            | Self::Border
            | Self::Coverage
            | Self::Sheets
            | Self::Tilt
            | Self::NoArea
            | Self::CutShort
            | Self::LeftOut => "grid",
        }
    }
}

/// A number with its unit, and as text.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify), tsify(rename = "Figure"))]
pub struct Number {
    /// The plain value.
    pub value: f64,
    /// `ratio`, `share`, `px`, `px_per_unit`, `deg` or `count`.
    #[cfg_attr(
        target_arch = "wasm32",
        tsify(type = "\"ratio\" | \"share\" | \"px\" | \"px_per_unit\" | \"deg\" | \"count\"")
    )]
    pub unit: &'static str,
    /// Rounded for reading, with unit.
    pub text: String,
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Finding {
    /// Stable for the same file and brief: kind, and lowest face of the lowest shell.
    pub id: String,
    /// What it is about.
    pub kind: FindingKind,
    /// Its severity.
    pub severity: Severity,
    /// One line.
    pub title: String,
    /// The place as text.
    #[serde(rename = "where")]
    pub place: String,
    /// The measured number.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "Figure"))]
    pub number: Number,
    /// The limit it was checked against.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "Figure | null"))]
    pub limit: Option<Number>,
    /// What to do about it, in any program.
    pub advice: String,
    /// Shells concerned.
    pub shells: Vec<u32>,
    /// Number of triangles concerned.
    pub triangles: usize,
    /// Line of the first face concerned.
    pub line: Option<u32>,
    /// The lens that shows it.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "LensName"))]
    pub lens: &'static str,
    /// The one sheet it is about, by its place in the report's list.
    pub sheet: Option<u32>,
    /// A camera that shows it.
    pub camera: Option<Viewpoint>,
    /// u0, v0, u1, v1 on the sheet.
    pub region_uv: Option<[f64; 4]>,
    /// Share of the surface it concerns, 0..1: the order within a severity. What has no surface, as padding, has its
    /// own measure.
    pub harm: f64,
    /// Whether it follows from the [`Report::cause`](crate::report::Report::cause) of the whole model, which counts
    /// instead.
    pub follows_cause: bool,
    /// The members of a grouped finding, worst first. Empty for a single finding.
    pub places: Vec<FindingPlace>,
    /// The user's decision about it.
    pub decision: Option<Decision>,
    /// The triangles at fault, until the report has summed them up.
    #[serde(skip)]
    pub(crate) runs: Runs,
}

impl Finding {
    /// Whether it counts in the verdict.
    pub fn counts(&self) -> bool {
        !matches!(self.decision, Some(Decision::Intended { .. }))
    }
}

/// A member of a grouped finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct FindingPlace {
    /// The object, group, material, part or shell it is about.
    pub name: String,
    /// The measured number.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "Figure"))]
    pub number: Number,
    /// Its [`Finding::harm`].
    pub share: f64,
    /// Shells concerned.
    pub shells: Vec<u32>,
    /// A camera that shows it.
    pub camera: Option<Viewpoint>,
    /// u0, v0, u1, v1 on the sheet.
    pub region_uv: Option<[f64; 4]>,
}

/// A cause in the whole model: one step fixes many findings.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Cause {
    /// What it is.
    pub kind: CauseKind,
    /// Must fix, or look where it may be intended.
    pub severity: Severity,
    /// The number, and what to do.
    pub sentence: String,
    /// Share of the surface it explains, 0..1.
    pub share: f64,
}

/// What a [`Cause`] can be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
pub enum CauseKind {
    /// Most of the surface has no UVs.
    NoUvs,
    /// UVs in points or lines, or every face on the same place.
    NotUnwrapped,
    /// The layout covers next to nothing of the sheet.
    TinyLayout,
    /// Everything is flipped.
    AllFlipped,
    /// A texture that repeats, under a brief without repetition.
    Repeating,
    /// Faces on single spots of many colours.
    Palette,
    /// All densities are off by the ratio of two units.
    WrongUnit,
    /// A flat projection left on a round part.
    Projected,
}

impl CauseKind {
    /// As in the report.
    pub fn code(self) -> &'static str {
        match self {
            Self::NoUvs => "no-uvs",
            Self::NotUnwrapped => "not-unwrapped",
            Self::TinyLayout => "tiny-layout",
            Self::AllFlipped => "all-flipped",
            Self::Repeating => "repeating",
            Self::Palette => "palette",
            Self::WrongUnit => "wrong-unit",
            Self::Projected => "projected",
        }
    }

    /// Repeating textures and palettes may be intended; other causes have to be fixed.
    pub fn severity(self) -> Severity {
        match self {
            Self::Repeating | Self::Palette => Severity::Look,
            _ => Severity::MustFix,
        }
    }
}

/// How bad a number is, in its unit: higher is worse. Padding and coverage are worse the lower, density the further off
/// in octaves. `None` if not finite.
pub(crate) fn badness(kind: FindingKind, unit: &str, value: f64, limit: Option<f64>) -> Option<f64> {
    let bad = match (kind, unit) {
        (_, "px_per_unit") => (value / limit?).log2().abs(),
        (FindingKind::Padding | FindingKind::Border | FindingKind::Coverage, "px" | "share") => -value,
        _ => value.abs(),
    };
    bad.is_finite().then_some(bad)
}
