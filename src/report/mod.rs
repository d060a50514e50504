//! The report, `gridproof-report/2`: one value that text, JSON and the page all show.

#[cfg(feature = "pictures")]
mod html;
mod made;
mod text;
mod to_ready;

#[cfg(feature = "pictures")]
pub use html::{Pictures, html, shots};
pub use text::text;
pub use to_ready::ToReady;

use crate::brief::Axis;
use crate::draw::ShellName;
use crate::findings::{AtFault, Cause, DensityPart, Finding, FindingKind, Severity, Shell, shell_label};
use crate::measure::flat::stretch::Stretch;
use crate::measure::sheet::sharing::ShareKind;
use crate::measure::sheet::sheets::SplitBy;
use crate::model::Diagnostic;
use crate::review::{Note, Review};
use serde::Serialize;
use std::collections::BTreeMap;

/// Version of the report's shape.
pub const SCHEMA: &str = "gridproof-report/2";

/// All results on one file, checked against one brief. Numbers are finite or `None`.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Report {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Which file.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "AboutFile"))]
    pub file: File,
    /// Counts.
    pub counts: Counts,
    /// Areas.
    pub area: Area,
    /// Stretch.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "StretchReport"))]
    pub stretch: Stretch,
    /// Texel density.
    pub density: DensityReport,
    /// Handedness.
    pub handedness: HandednessReport,
    /// Use of all sheets together.
    pub sheet: SheetReport,
    /// Each sheet.
    pub sheets: SheetsReport,
    /// Seams.
    pub seams: SeamsReport,
    /// Which surface is safe for text.
    pub text: TextReport,
    /// Each shell.
    pub shells: Vec<Shell>,
    /// Overlaps. Of equal shells the first represents all.
    pub sharing: Vec<SharedShells>,
    /// Three and more shells that coincide in every triangle with the same orientation, by number.
    pub equal_shells: Vec<Vec<u32>>,
    /// The search for overlaps was cut off: `sharing` and `mirrored_share` are "at least".
    pub sharing_at_least: bool,
    /// The cause in the whole model, if there is one.
    pub cause: Option<Cause>,
    /// Worst first; those that follow from the cause come last.
    pub findings: Vec<Finding>,
    /// The verdict, without the findings that are intended.
    pub verdict: Verdict,
    /// How far it is from ready, by surface; without the findings that are intended.
    pub to_ready: ToReady,
    /// The surface at fault, by the findings it is at fault in.
    #[serde(skip)]
    at_fault: AtFault,
    /// Kinds that could not or should not be judged, rising; those that are neither here nor among the findings are
    /// clear.
    pub not_judged: Vec<FindingKind>,
    /// How many findings are intended.
    pub intended: usize,
    /// Notes on it.
    pub notes: Vec<Note>,
    /// What was wrong with the file, the first of them.
    pub warnings: Vec<Diagnostic>,
    /// All warnings by kind.
    #[cfg_attr(target_arch = "wasm32", tsify(type = "Partial<Record<DiagnosticKind, number>>"))]
    pub warning_counts: BTreeMap<crate::model::DiagnosticKind, u32>,
}

impl Report {
    /// The names of [`shell_label`], for a picture of the sheet.
    pub fn shell_names(&self) -> Vec<ShellName> {
        let name = |shell: &Shell| ShellName {
            text: shell_label(shell),
            sheet: shell.sheet as usize,
            bounds_uv: shell.bounds_uv,
        };
        self.shells.iter().map(name).collect()
    }

    /// Applies decisions and notes, and judges without what is intended.
    pub fn decide(&mut self, review: Review) {
        let Review { notes, mut decisions } = review;
        self.intended = 0;
        for finding in &mut self.findings {
            let decided = decisions.iter().position(|(id, _)| *id == finding.id);
            finding.decision = decided.map(|at| decisions.swap_remove(at).1);
            self.intended += usize::from(!finding.counts());
        }
        self.notes = notes;
        self.judge();
    }

    /// Verdict and how far from ready, by the findings that count.
    fn judge(&mut self) {
        let cause = self.cause_that_counts().map(|cause| cause.severity);
        self.verdict = Verdict::of(&self.findings, cause);
        self.to_ready = ToReady::new(&self.at_fault, self.area.surface, &self.findings, cause);
    }

    /// The cause, unless all that follows from it is intended.
    pub fn cause_that_counts(&self) -> Option<&Cause> {
        let mut following = self.findings.iter().filter(|finding| finding.follows_cause).peekable();
        let counts = following.peek().is_none() || following.any(Finding::counts);
        self.cause.as_ref().filter(|_| counts)
    }

    /// The worst problem, in a line: the cause, or else the first finding that counts; empty where there is none.
    pub fn worst_text(&self) -> String {
        if let Some(cause) = self.cause_that_counts() {
            return [cause.kind.code(), ": ", &cause.sentence].concat();
        }
        self.findings.iter().find(|finding| finding.counts()).map_or_else(String::new, |finding| {
            let limit =
                finding.limit.as_ref().map_or_else(String::new, |limit| [" (limit ", &limit.text, ")"].concat());
            [finding.kind.code(), ": ", &finding.title, ", ", &finding.number.text, &limit].concat()
        })
    }

    /// The verdict, and how many findings were left out of it: `ready, 2 intended`.
    pub fn verdict_text(&self) -> String {
        match self.intended {
            0 => self.verdict.text().to_owned(),
            meant => [self.verdict.text(), ", ", &meant.to_string(), " intended"].concat(),
        }
    }
}

/// Which file was read.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify), tsify(rename = "AboutFile"))]
pub struct File {
    /// Its name, without a folder.
    pub name: String,
    /// Its size.
    pub bytes: u64,
    /// SHA-256 of its bytes, lower-case hexadecimal.
    pub sha256: String,
}

/// Counts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub struct Counts {
    pub positions: usize,
    pub texcoords: usize,
    pub normals: usize,
    pub faces: usize,
    pub triangles: usize,
    pub objects: usize,
    pub groups: usize,
    pub materials: usize,
    pub parts: u32,
    pub shells: u32,
    pub seam_edges: usize,
    pub open_edges: usize,
    pub nonmanifold_edges: usize,
    pub faces_without_uv: usize,
    pub degenerate_3d: usize,
    pub collapsed_uv: usize,
}

/// Areas: square units and square uv.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub struct Area {
    pub surface: f64,
    pub uv: f64,
}

/// Texel density: see [`crate::measure::flat::density::Density`] for its figures.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub struct DensityReport {
    pub mean_px_per_unit: Option<f64>,
    pub min_shell: Option<f64>,
    pub max_shell: Option<f64>,
    pub max_over_min: Option<f64>,
    pub reference: Option<f64>,
    /// Objects, groups or materials, the furthest from their target first.
    pub parts: Vec<DensityPart>,
}

/// Handedness of the whole model.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub struct HandednessReport {
    pub reversed_triangles: u32,
    pub reversed_share: Option<f64>,
    pub flipped_shells: usize,
    pub folded_triangles: u32,
    pub inside_out_parts: usize,
    pub mirrored_share: Option<f64>,
}

/// All sheets of the model, and the reason for the split.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct SheetsReport {
    /// What the split is based on.
    pub by: SplitBy,
    /// At least one.
    pub list: Vec<OneSheetReport>,
}

/// One sheet; figures as in [`SheetReport`].
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub struct OneSheetReport {
    pub name: String,
    /// An empty one means faces without a material.
    pub materials: Vec<String>,
    pub width_px: u32,
    pub height_px: u32,
    pub coverage: f64,
    pub overlap_share: Option<f64>,
    pub overlap_excess: Option<f64>,
    pub coverage_sampling_error: Option<f64>,
    pub overlap_share_sampling_error: Option<f64>,
    pub overlap_excess_sampling_error: Option<f64>,
    pub outside_share: Option<f64>,
    pub padding_between_px: Option<f64>,
    pub padding_border_px: Option<f64>,
    pub gap_count: usize,
    pub tiles: Vec<u32>,
}

/// Use of all sheets: areas over all their tiles, overlaps over what is covered on all, the least padding.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub struct SheetReport {
    pub coverage: f64,
    pub overlap_share: Option<f64>,
    pub overlap_excess: Option<f64>,
    /// Standard errors of the three figures above, where the layout was too complex for exact areas and they were
    /// sampled.
    pub coverage_sampling_error: Option<f64>,
    pub overlap_share_sampling_error: Option<f64>,
    pub overlap_excess_sampling_error: Option<f64>,
    pub outside_share: Option<f64>,
    pub padding_between_px: Option<f64>,
    pub padding_border_px: Option<f64>,
    /// Places below the brief's padding, worst first; the first [`GAPS_REPORTED`].
    pub gaps: Vec<GapRow>,
    /// How many there are.
    pub gap_count: usize,
    /// The search for gaps was cut off: there are at least `gap_count`, and the least distance is at most the given
    /// one.
    pub padding_at_least: bool,
    /// Shells across the border of a tile; none on a single tile.
    pub across_tiles: Vec<u32>,
    pub tiles: Vec<u32>,
}

/// Places below the brief's padding that a report lists: more than anyone fixes one by one, a few kB.
pub const GAPS_REPORTED: usize = 200;

/// A place where two shells, or a shell and its tile's border, are too near.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct GapRow {
    /// The lower shell.
    pub a: u32,
    /// The higher one; null: the border.
    pub b: Option<u32>,
    /// Sheet, by its place in the report's list.
    pub sheet: u32,
    /// UDIM number; null outside the tiles.
    pub tile: Option<u32>,
    /// Distance, px.
    pub px: f64,
    /// The place on the outline of `a`: u, v.
    pub at_a: [f64; 2],
    /// The place on the outline of `b`, or on the border: u, v.
    pub at_b: [f64; 2],
    /// The last mip level that keeps them apart; null where none does.
    pub mip_level: Option<u32>,
}

/// Seams and their visibility; see [`crate::measure::rays::seams`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct SeamsReport {
    /// Of all seam edges, units.
    pub length: f64,
    /// The same over the diagonal of the model's box.
    pub length_over_diagonal: Option<f64>,
    /// The side it is looked at from.
    pub front: Axis,
    /// Share of seam length seen from there, 0..1.
    pub share_in_front: Option<f64>,
    /// Length of soft seams seen from there, over the diagonal of the model's box.
    pub front_over_diagonal: Option<f64>,
    /// Mean share of the hemisphere above each seam from which it can be seen, 0..1.
    pub exposure: Option<f64>,
    /// Standard error of `exposure`.
    pub sampling_error: Option<f64>,
    /// Rays cast for both.
    pub rays: usize,
}

/// Share of all surface that is safe for text.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub struct TextReport {
    pub text_share: Option<f64>,
}

/// Two shells that overlap, or one with itself.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[allow(missing_docs)]
pub struct SharedShells {
    pub a: u32,
    pub b: u32,
    pub kind: ShareKind,
    pub area_share_a: f64,
    pub area_share_b: f64,
}

/// The verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub enum Verdict {
    /// No must fix, no look.
    #[serde(rename = "ready")]
    Ready,
    /// Needs a look.
    #[serde(rename = "look")]
    Look,
    /// Has a must fix.
    #[serde(rename = "not ready")]
    NotReady,
}

impl Verdict {
    /// `cause`: of the cause that counts; it replaces the findings that follow from it.
    fn of(findings: &[Finding], cause: Option<Severity>) -> Self {
        let counting =
            findings.iter().filter(|finding| finding.counts() && !(finding.follows_cause && cause.is_some()));
        match counting.map(|finding| finding.severity).chain(cause).min() {
            Some(Severity::MustFix) => Self::NotReady,
            Some(Severity::Look) => Self::Look,
            _ => Self::Ready,
        }
    }

    /// As in the report.
    pub fn text(self) -> &'static str {
        match self {
            Verdict::Ready => "ready",
            Verdict::Look => "look",
            Verdict::NotReady => "not ready",
        }
    }
}
