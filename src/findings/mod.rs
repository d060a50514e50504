//! What the measures mean: findings, advice, verdict, and the report that holds them with the numbers.

#[cfg(feature = "pictures")]
mod html;
mod judge;
mod place;
mod readiness;
mod report;
mod shells;
mod text;

#[cfg(feature = "pictures")]
pub use html::{Pictures, html, shots};
pub(crate) use place::NO_SIDE;
pub use readiness::ToReady;
pub use report::{
    Area, Counts, DensityPart, DensityReport, File, GAPS_REPORTED, GapRow, HandednessReport, OneSheetReport, Report,
    SCHEMA, SeamsReport, SharedShells, SheetReport, SheetsReport, Shell, TextReport, Verdict,
};
pub(crate) use shells::part_label;
pub use shells::{Names, shell_label};
pub use text::text;

use crate::brief::Brief;
use crate::measure::Measures;
use crate::measure::padding::Gap;
use crate::measure::sharing::ShareKind;
use crate::model::{EdgeKind, Model};
use crate::review::Decision;
use glam::DVec3;
use place::Runs;
use serde::{Deserialize, Serialize};

/// How bad, worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Breaks the brief.
    MustFix,
    /// A person should decide.
    Look,
    /// Good to know.
    Info,
}

impl Severity {
    /// As a person reads it.
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
    /// Text reads backwards on the whole shell.
    Flipped,
    /// Triangles of a shell that lie the other way round.
    Folded,
    /// Anisotropy over the limit.
    Stretch,
    /// Texel density off the reference.
    Density,
    /// Same handedness, partly over one another.
    PartialOverlap,
    /// One shell over itself.
    SelfOverlap,
    /// Oppositely handed over one another.
    Mirrored,
    /// Same handedness, exactly over one another.
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
    /// Seams run where people look.
    Seams,
    /// Letters would not come out right where the brief wants them.
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

    /// How triangles share where they are at fault only as far as they do.
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

/// A number with its unit, and as a person reads it.
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

/// A place to look from, in the model's coordinates.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Camera {
    /// Where the eye is.
    pub eye: [f64; 3],
    /// What it looks at.
    pub target: [f64; 3],
    /// Radius of the sphere around the target that should fit the picture.
    pub radius: f64,
}

/// A finding is data with an address.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Finding {
    /// Stable for the same file and brief: kind, and lowest face of the lowest shell.
    pub id: String,
    /// What it is about.
    pub kind: FindingKind,
    /// How bad.
    pub severity: Severity,
    /// One line.
    pub title: String,
    /// The place in words.
    #[serde(rename = "where")]
    pub place: String,
    /// The measured number.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "Figure"))]
    pub number: Number,
    /// What it was held to.
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
    pub camera: Option<Camera>,
    /// u0, v0, u1, v1 on the sheet.
    pub region_uv: Option<[f64; 4]>,
    /// Share of the surface it concerns, 0..1: the order within a severity. What has no surface, as padding, has a measure
    /// of its own.
    pub harm: f64,
    /// Whether it follows from the [`Report::cause`] of the whole model, which speaks for it.
    pub follows_cause: bool,
    /// Where many findings are alike: what each of them was about, worst first. Empty for a finding by itself.
    pub places: Vec<FindingPlace>,
    /// What a person decided about it.
    pub decision: Option<Decision>,
    /// The triangles at fault, until the report has summed them up.
    #[serde(skip)]
    pub(crate) runs: Runs,
}

/// One of many findings that are alike.
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
    pub camera: Option<Camera>,
    /// u0, v0, u1, v1 on the sheet.
    pub region_uv: Option<[f64; 4]>,
}

/// What is the matter with the whole model, so that one step mends what many findings are about.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Cause {
    /// What it is.
    pub kind: CauseKind,
    /// Must fix, or look where it may be just what was wanted.
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
    /// Everything reads backwards.
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

    /// A fault has to be fixed; textures that repeat and palettes may be just what was wanted.
    pub fn severity(self) -> Severity {
        match self {
            Self::Repeating | Self::Palette => Severity::Look,
            _ => Severity::MustFix,
        }
    }
}

impl Report {
    /// Puts together what was measured.
    pub fn new(model: &Model, measures: &Measures, brief: &Brief, file: File) -> Self {
        let document = &model.document;
        let diagnostics = model.diagnostics();
        let names = Names::new(model);
        let shells = shells::shells(model, measures, &names);
        let judge::Judged { findings, cause, at_fault } = judge::judged(model, measures, brief, &shells);
        let state = |bits: u8| measures.triangles.state.iter().filter(|&&state| state & bits != 0).count();
        let seam_length = seam_length(model);
        let diagonal = model.bounds().map(|(low, high)| (high - low).length());
        let mut report = Self {
            schema: SCHEMA,
            file,
            counts: Counts {
                positions: document.positions.len(),
                texcoords: document.texcoords.len(),
                normals: document.normals.len(),
                faces: document.face_count(),
                triangles: model.triangle_count(),
                objects: document.objects.len(),
                groups: document.groups.len(),
                materials: document.materials.len(),
                parts: model.part_count,
                shells: model.layout.shell_count,
                seam_edges: model.layout.count(EdgeKind::Seam),
                open_edges: model.layout.count(EdgeKind::Open),
                nonmanifold_edges: model.layout.count(EdgeKind::NonManifold),
                faces_without_uv: model.layout.unmapped_count(),
                degenerate_3d: state(crate::measure::triangles::state::DEGENERATE_3D),
                collapsed_uv: state(crate::measure::triangles::state::COLLAPSED_UV),
            },
            area: Area {
                surface: measures.triangles.surface.iter().sum(),
                uv: measures.triangles.area_uv.iter().sum(),
            },
            stretch: finite(measures.stretch),
            density: DensityReport {
                mean_px_per_unit: measures.density.mean_px_per_unit,
                min_shell: measures.density.min_shell,
                max_shell: measures.density.max_shell,
                max_over_min: measures.density.max_over_min,
                reference: measures.density.reference,
                parts: shells::density_parts(measures, brief, &shells),
            },
            handedness: HandednessReport {
                reversed_triangles: measures.handedness.reversed_triangles,
                reversed_share: measures.handedness.reversed_share,
                flipped_shells: measures.handedness.flipped.iter().filter(|over| **over).count(),
                folded_triangles: measures.handedness.folded_triangles,
                inside_out_parts: measures.handedness.inside_out.iter().filter(|out| **out).count(),
                mirrored_share: measures.sharing.mirrored_share,
            },
            sheet: SheetReport {
                coverage: measures.sheet.coverage,
                overlap_share: measures.sheet.overlap_share,
                overlap_excess: measures.sheet.overlap_excess,
                coverage_sampling_error: measures.sheet.sampling_errors.map(|errors| errors.coverage),
                overlap_share_sampling_error: measures.sheet.sampling_errors.map(|errors| errors.overlap_share),
                overlap_excess_sampling_error: measures.sheet.sampling_errors.map(|errors| errors.overlap_excess),
                outside_share: measures.sheet.outside_share,
                padding_between_px: measures.padding.between.map(|gap| gap.px),
                padding_border_px: measures.padding.border.map(|gap| gap.px),
                gaps: measures.padding.gaps.iter().take(GAPS_REPORTED).map(gap_row).collect(),
                gap_count: measures.padding.gap_count,
                padding_at_least: measures.padding.at_least,
                across_tiles: measures.padding.across.clone(),
                tiles: measures.sheet.tiles.clone(),
            },
            sheets: sheets(measures),
            seams: SeamsReport {
                length: seam_length,
                length_over_diagonal: diagonal.filter(|d| *d > 0.0).map(|d| seam_length / d),
                front: brief.seams.front,
                share_in_front: measures.seams.share_in_front,
                front_over_diagonal: measures.seams.front_over_diagonal,
                exposure: measures.seams.exposure,
                sampling_error: measures.seams.sampling_error,
                rays: measures.seams.rays,
            },
            text: TextReport { text_share: measures.text.text_share },
            sharing: measures
                .sharing
                .pairs
                .iter()
                .map(|pair| SharedShells {
                    a: pair.a,
                    b: pair.b,
                    kind: pair.kind,
                    area_share_a: pair.area_share_a,
                    area_share_b: pair.area_share_b,
                })
                .collect(),
            equal_shells: measures.sharing.equal.clone(),
            sharing_at_least: measures.sharing.at_least,
            shells,
            verdict: Verdict::Ready,
            to_ready: ToReady::default(),
            at_fault,
            cause,
            findings,
            not_judged: judge::not_judged(model, measures, brief),
            intended: 0,
            notes: Vec::new(),
            warnings: diagnostics.kept,
            warning_counts: diagnostics.counts,
        };
        report.judge();
        report
    }
}

fn sheets(measures: &Measures) -> SheetsReport {
    let mut list = Vec::new();
    for (number, one) in measures.sheets.list.iter().enumerate() {
        let (sheet, padding) = measures.of_sheet(number);
        list.push(OneSheetReport {
            name: one.name.clone(),
            materials: one.materials.clone(),
            width_px: one.map.width_px,
            height_px: one.map.height_px,
            coverage: sheet.coverage,
            overlap_share: sheet.overlap_share,
            overlap_excess: sheet.overlap_excess,
            coverage_sampling_error: sheet.sampling_errors.map(|errors| errors.coverage),
            overlap_share_sampling_error: sheet.sampling_errors.map(|errors| errors.overlap_share),
            overlap_excess_sampling_error: sheet.sampling_errors.map(|errors| errors.overlap_excess),
            outside_share: sheet.outside_share,
            padding_between_px: padding.between.map(|gap| gap.px),
            padding_border_px: padding.border.map(|gap| gap.px),
            gap_count: padding.gap_count,
            tiles: sheet.tiles.clone(),
        });
    }
    SheetsReport { by: measures.sheets.by, list }
}

fn gap_row(gap: &Gap) -> GapRow {
    GapRow {
        a: gap.a,
        b: gap.b,
        sheet: gap.sheet,
        tile: gap.tile,
        px: gap.px,
        at_a: gap.at_a.to_array(),
        at_b: gap.at_b.to_array(),
        mip_level: gap.mip_level(),
    }
}

fn seam_length(model: &Model) -> f64 {
    let document = &model.document;
    let position =
        |corner: u32| DVec3::from_array(document.positions[document.corners[corner as usize].position.0 as usize]);
    model
        .layout
        .edges
        .iter()
        .filter(|edge| edge.kind == EdgeKind::Seam)
        .map(|edge| (position(model.next_corner(edge.corner)) - position(edge.corner)).length())
        // An empty sum is -0.
        .fold(0.0, |sum, length| sum + length)
}

/// How bad a number is, in its unit: more is worse. Padding and coverage are bad where there is little, density where it is
/// off in octaves. `None` where it is no finite one.
pub(crate) fn badness(kind: FindingKind, unit: &str, value: f64, limit: Option<f64>) -> Option<f64> {
    let bad = match (kind, unit) {
        (_, "px_per_unit") => (value / limit?).log2().abs(),
        (FindingKind::Padding | FindingKind::Border | FindingKind::Coverage, "px" | "share") => -value,
        _ => value.abs(),
    };
    bad.is_finite().then_some(bad)
}

/// Without what is infinite: of a triangle that is nearly collapsed on the sheet, the distortion energies say no number.
fn finite(mut stretch: crate::measure::stretch::Stretch) -> crate::measure::stretch::Stretch {
    let energies = [
        &mut stretch.sander_l2,
        &mut stretch.sander_linf,
        &mut stretch.symmetric_dirichlet_mean,
        &mut stretch.mips_mean,
    ];
    energies.into_iter().for_each(|energy| *energy = energy.filter(|value| value.is_finite()));
    stretch
}
