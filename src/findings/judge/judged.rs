//! Which kinds of findings were judged at all: a kind without a finding is clear only then.

use super::FindingKind as Kind;
use crate::brief::{Brief, Tiles};
use crate::measure::Measures;
use crate::measure::flat::triangles::state;
use crate::model::Model;
use crate::util::packed;

/// Kinds about how shells are placed on the sheet.
const LAYOUT: [Kind; 9] = [
    Kind::PartialOverlap,
    Kind::SelfOverlap,
    Kind::Mirrored,
    Kind::Stacked,
    Kind::Outside,
    Kind::AcrossTiles,
    Kind::Padding,
    Kind::Border,
    Kind::Coverage,
];
/// Kinds about triangles with area on surface and sheet.
const AREA: [Kind; 5] = [Kind::Flipped, Kind::Folded, Kind::Stretch, Kind::Density, Kind::Tilt];
/// Other kinds that need UVs.
const MAPPED: [Kind; 4] = [Kind::Collapsed, Kind::NoArea, Kind::Seams, Kind::Sheets];

/// Kinds that could not be judged (without UVs, or without area on the sheet), or should not be (where the texture
/// repeats or is a palette; what the brief sets no limit for), rising.
pub(crate) fn not_judged(model: &Model, measures: &Measures, brief: &Brief) -> Vec<Kind> {
    let triangles = &measures.triangles;
    let is_mapped = triangles.state.iter().any(|bits| bits & state::MAPPED != 0);
    let has_area = (0..model.triangle_count()).any(|triangle| triangles.is_regular(triangle));
    let mut kinds = Vec::new();
    if !has_area || !brief.map.tiles.is_layout() {
        kinds.extend(LAYOUT);
    } else if brief.map.tiles != Tiles::Udim {
        kinds.push(Kind::AcrossTiles);
    }
    if !has_area {
        kinds.extend(AREA);
    }
    if !is_mapped {
        kinds.extend(MAPPED);
    } else if brief.seams.max_front_over_diagonal.is_none() {
        kinds.push(Kind::Seams);
    }
    if brief.text.groups.is_empty() {
        kinds.push(Kind::Text);
    }
    packed::ordered(kinds, |a, b| a.cmp(b))
}
