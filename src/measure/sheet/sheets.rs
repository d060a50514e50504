//! Which sheets a model has. A *sheet* is one texture set: its own 0..1 tile or tiles, its own map.
//!
//! The brief may decide: one sheet, one for each material, or groups of materials; materials that no group names have
//! one more together. With "auto", it depends on the file as loaded:
//!
//! 1. Materials whose library names a picture: one sheet for each distinct picture.
//! 2. All others (without libraries that is all): where any two of them overlap ([`LYING_SHARE`] of the smaller
//!    one's area on the sheet, unions of triangles), one sheet each, or else one together. A smaller overlap is a
//!    finding, not a reason. Overlaps are ignored where the texture repeats or is a palette.
//!
//! Faces without a material count as one more. Only materials of faces make sheets, in the order of their first face;
//! beyond [`MAX_SHEETS`] the last one takes the rest. Pictures are the same when their paths are, without regard to the
//! case of Latin letters and to the slash that separates folders. Cost: linear in faces; for the question whether
//! materials overlap see `Lying`.
//!
//! Whether materials overlap is checked last: where the model as one sheet overlaps by less than half of the smallest
//! material, none can.

use super::by_sheet::SheetRows;
use super::contours::{self, Contours};
use super::cover;
use super::input::has_area;
use crate::brief::{Brief, MAX_SHEETS, SheetGroup, SheetMap, SheetsAsked};
use crate::measure::flat::map_sizes::{MapSizes, map_scale};
use crate::measure::flat::triangles::TriangleMeasures;
use crate::model::{Document, Model};
use crate::util::packed;
use glam::DVec2;

/// Share of the smaller one's area from which two materials overlap. By definition.
pub const LYING_SHARE: f64 = 0.5;
/// What rounding of doubles takes from a share.
const ROUNDING: f64 = 1e-9;
/// Work before materials are taken to lie side by side, about nanoseconds of a desktop computer of 2020. A count, not a
/// clock, so that results are the same everywhere.
const EFFORT_MAX: u64 = 1_000_000_000;
/// Effort of comparing the boxes of two materials.
const EFFORT_BOXES: u64 = 10;
/// The name of the only sheet.
const ONLY: &str = "sheet";
/// The name of the sheet of materials in no group.
const REST: &str = "the rest";
/// The name of the sheet of faces without a material.
const NO_MATERIAL: &str = "no material";

/// What the split into sheets is based on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "lowercase")]
pub enum SplitBy {
    /// No reason for more than one.
    #[default]
    One,
    /// Pictures that material libraries name.
    Pictures,
    /// Overlapping materials.
    Materials,
    /// The brief.
    Brief,
}

/// One sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OneSheet {
    /// Its name for people, unique.
    pub name: String,
    /// Its materials, in the order of their first face; an empty one means faces without a material.
    pub materials: Vec<String>,
    /// Its map.
    pub map: SheetMap,
}

/// Two overlapping materials.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// Indices into [`Document::materials`]; its length for faces without a material.
    pub materials: [u32; 2],
    /// Area that both cover over the smaller one's, 0..1.
    pub share: f64,
}

/// All sheets of a model.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sheets {
    /// What the split is based on.
    pub by: SplitBy,
    /// The sheets; at least one once [`Stage::Sheet`](crate::measure::Stage::Sheet) was taken.
    pub list: Vec<OneSheet>,
    /// The evidence for a sheet each, if only an overlap.
    pub evidence: Option<Evidence>,
    /// Groups of the brief and materials in them that the file does not have, by name.
    pub unknown: Vec<String>,
    /// Of each face; empty where there is one sheet.
    of_face: Vec<u16>,
}

impl Sheets {
    /// The sheet of a face.
    pub fn of_face(&self, face: usize) -> usize {
        self.of_face.get(face).copied().unwrap_or(0).into()
    }

    /// Whether there is more than one.
    pub fn are_several(&self) -> bool {
        self.list.len() > 1
    }

    /// The same split as a value of the brief, so that it can be fixed.
    pub fn fixed(&self) -> SheetsAsked {
        if !self.are_several() {
            return SheetsAsked::One;
        }
        if self.by == SplitBy::Materials {
            return SheetsAsked::ByMaterial;
        }
        let group = |sheet: &OneSheet| SheetGroup {
            name: sheet.name.clone(),
            materials: sheet.materials.clone(),
            width_px: None,
            height_px: None,
        };
        SheetsAsked::Groups(self.list.iter().map(group).collect())
    }
}

impl MapSizes {
    /// For a model under a brief.
    pub fn new(model: &Model, brief: &Brief) -> Self {
        let usual = map_scale(brief.map.of_sheet());
        if brief.map.sheets.sized_groups().is_empty() {
            return Self { usual, of_face: Vec::new(), sizes: Vec::new() };
        }
        let Sheets { list, of_face, .. } = Draft::new(model, brief).settled(None);
        let sizes: Vec<DVec2> = list.iter().map(|sheet| map_scale(sheet.map)).collect();
        // A single group may have its own size too.
        let usual = if list.len() == 1 { sizes[0] } else { usual };
        Self { usual, of_face, sizes }
    }
}

/// A split being built: sheets that are decided, and materials that get one each or one together.
pub(in crate::measure) struct Draft<'a> {
    document: &'a Document,
    brief: &'a Brief,
    by: SplitBy,
    /// Name and materials, by their index.
    sheets: Vec<(String, Vec<u32>)>,
    rest: Vec<u32>,
    unknown: Vec<String>,
}

impl<'a> Draft<'a> {
    pub(in crate::measure) fn new(model: &'a Model, brief: &'a Brief) -> Self {
        let document = &model.document;
        let used = used_materials(document);
        let mut draft =
            Self { document, brief, by: SplitBy::Brief, sheets: Vec::new(), rest: used, unknown: Vec::new() };
        match &brief.map.sheets {
            SheetsAsked::Auto => {
                draft.by = SplitBy::One;
                if draft.rest.len() > 1 {
                    draft.by_pictures(&model.pictures);
                }
            }
            SheetsAsked::One => draft.together(ONLY),
            SheetsAsked::ByMaterial => draft.apart(),
            SheetsAsked::Groups(groups) => draft.by_groups(groups),
        }
        draft
    }

    /// Materials that have a sheet each if two of them overlap; none where overlaps are ignored.
    pub(in crate::measure) fn open(&self) -> &[u32] {
        let asks = self.by != SplitBy::Brief && self.rest.len() > 1 && self.brief.map.tiles.is_layout();
        if asks { &self.rest } else { &[] }
    }

    /// Whether there are only materials that are [open](Self::open).
    pub(in crate::measure) fn is_all_open(&self) -> bool {
        self.sheets.is_empty()
    }

    /// The split; `evidence` that those which are [open](Self::open) overlap.
    pub(in crate::measure) fn settled(mut self, evidence: Option<Evidence>) -> Sheets {
        if evidence.is_some() {
            self.by = if self.by == SplitBy::One { SplitBy::Materials } else { self.by };
            self.apart();
        }
        let only = self.sheets.is_empty();
        self.together(if only { ONLY } else { REST });
        let usual = self.brief.map.of_sheet();
        let mut sheet_of = vec![0; self.document.materials.len() + 1];
        let mut list: Vec<OneSheet> = Vec::new();
        for (mut name, materials) in std::mem::take(&mut self.sheets) {
            for &material in &materials {
                sheet_of[material as usize] = list.len() as u16;
            }
            let group = self.brief.map.sheets.groups().iter().find(|group| group.name == name);
            let map = group.map_or(usual, |group| SheetMap {
                width_px: group.width_px.unwrap_or(usual.width_px),
                height_px: group.height_px.unwrap_or(usual.height_px),
                ..usual
            });
            while list.iter().any(|other| other.name == name) {
                name.push('\'');
            }
            let materials = materials.iter().map(|&material| name_of(self.document, material).to_owned()).collect();
            list.push(OneSheet { name, materials, map });
        }
        let mut of_face = vec![0; if list.len() > 1 { self.document.face_count() } else { 0 }];
        if !of_face.is_empty() {
            for (start, end, material) in runs(self.document) {
                of_face[start..end].fill(sheet_of[material as usize]);
            }
        }
        Sheets { by: self.by, list, evidence, unknown: self.unknown, of_face }
    }

    /// All that is left on one sheet, if there is any, or no sheet yet.
    fn together(&mut self, name: &str) {
        if !self.rest.is_empty() || self.sheets.is_empty() {
            self.sheets.push((name.to_owned(), std::mem::take(&mut self.rest)));
        }
    }

    /// All that is left on a sheet each.
    fn apart(&mut self) {
        let mut rest = std::mem::take(&mut self.rest);
        let room = MAX_SHEETS - self.sheets.len();
        let beyond = if rest.len() > room { rest.split_off(room.saturating_sub(1)) } else { Vec::new() };
        for material in rest {
            let name = Some(name_of(self.document, material)).filter(|name| !name.is_empty()).unwrap_or(NO_MATERIAL);
            self.sheets.push((name.to_owned(), vec![material]));
        }
        self.rest = beyond;
    }

    fn by_pictures(&mut self, pictures: &[Option<String>]) {
        // Own path and materials, in the order of their first face.
        let mut found: Vec<(String, Vec<u32>)> = Vec::new();
        let mut rest = Vec::new();
        // One place is left for what has none.
        for material in std::mem::take(&mut self.rest) {
            let Some(Some(path)) = pictures.get(material as usize) else {
                rest.push(material);
                continue;
            };
            let path = same_path(path);
            match found.iter().position(|(own, _)| *own == path) {
                Some(known) => found[known].1.push(material),
                None if found.len() + 1 < MAX_SHEETS => found.push((path, vec![material])),
                None => rest.push(material),
            }
        }
        self.rest = rest;
        if !found.is_empty() {
            self.by = SplitBy::Pictures;
        }
        for number in 0..found.len() {
            let path = &found[number].0;
            let base = base_name(path);
            let is_alone = found.iter().filter(|(other, _)| base_name(other) == base).count() == 1;
            let name = if is_alone { base.to_owned() } else { path.clone() };
            let materials = std::mem::take(&mut found[number].1);
            self.sheets.push((name, materials));
        }
    }

    fn by_groups(&mut self, groups: &[SheetGroup]) {
        let document = self.document;
        for group in groups {
            let has = |material: u32| group.materials.iter().any(|name| *name == name_of(document, material));
            let (own, rest) = std::mem::take(&mut self.rest).into_iter().partition(|&material| has(material));
            self.rest = rest;
            for name in group.materials.iter().filter(|name| !name.is_empty()) {
                if !document.materials.contains(name) {
                    self.unknown.push(name.clone());
                }
            }
            let own: Vec<u32> = own;
            if !own.is_empty() {
                self.sheets.push((group.name.clone(), own));
            }
        }
    }
}

/// A path by which pictures are compared.
fn same_path(path: &str) -> String {
    let mut same = String::with_capacity(path.len());
    for letter in path.chars() {
        same.push(if letter == '\\' { '/' } else { letter.to_ascii_lowercase() });
        if same == "./" {
            same.clear();
        }
    }
    same
}

/// The part of a path behind its last slash.
fn base_name(path: &str) -> &str {
    let start = path.bytes().rposition(|byte| byte == b'/').map_or(0, |slash| slash + 1);
    path.get(start..).unwrap_or(path)
}

fn name_of(document: &Document, material: u32) -> &str {
    document.materials.get(material as usize).map_or("", String::as_str)
}

/// Runs of faces of one material, from its first face to before its end.
fn runs(document: &Document) -> Vec<(usize, usize, u32)> {
    let (none, faces) = (document.materials.len() as u32, document.face_count());
    let mut runs = Vec::new();
    let (mut start, mut material) = (0, none);
    for run in &document.material_runs {
        runs.push((start, (run.face as usize).min(faces), material));
        start = (run.face as usize).min(faces);
        material = if name_of(document, run.name).is_empty() { none } else { run.name };
    }
    runs.push((start, faces, material));
    runs.retain(|(start, end, _)| start < end);
    runs
}

/// Materials that faces have, in the order of their first face.
fn used_materials(document: &Document) -> Vec<u32> {
    let mut seen = vec![false; document.materials.len() + 1];
    let mut used = Vec::new();
    for (_, _, material) in runs(document) {
        if !std::mem::replace(&mut seen[material as usize], true) {
            used.push(material);
        }
    }
    used
}

/// Of each face its place in `materials`, or their number for any other material.
fn places_of_faces(document: &Document, materials: &[u32]) -> Vec<u32> {
    let mut place_of = vec![materials.len() as u32; document.materials.len() + 1];
    for (place, &material) in materials.iter().enumerate() {
        place_of[material as usize] = place as u32;
    }
    let mut places = vec![0; document.face_count()];
    for (start, end, material) in runs(document) {
        places[start..end].fill(place_of[material as usize]);
    }
    places
}

/// The most that can lie over one another on the sheet, uv area.
#[derive(Clone, Copy)]
pub(in crate::measure) struct Lapped {
    /// In common to any two parts.
    pub overlap: f64,
    /// What the triangles of any part have beyond what they cover.
    pub excess: f64,
}

impl Default for Lapped {
    fn default() -> Self {
        Self { overlap: f64::INFINITY, excess: f64::INFINITY }
    }
}

/// Where a material lies on the sheet.
struct Cast {
    material: u32,
    /// Its place among the materials that are compared.
    place: usize,
    low: DVec2,
    high: DVec2,
    /// Of all its triangles, and of the largest.
    area: f64,
    largest: f64,
    /// What they cover and its area, once that was needed; `None` where it takes too much work.
    union: Option<Option<(Contours, f64)>>,
}

/// Whether materials overlap: their boxes first, then exactly, the largest ones first, up to the first two that do.
/// Cost: linear in triangles and pairs of boxes; for pairs that may, n log n in the edges of what they cover; bounded
/// by [`EFFORT_MAX`].
pub(in crate::measure) struct Lying<'a> {
    model: &'a Model,
    triangles: &'a TriangleMeasures,
    /// Of each face.
    places: Vec<u32>,
    casts: Vec<Cast>,
    /// Of each material, once they are needed.
    rows: Vec<SheetRows>,
    left: u64,
}

impl<'a> Lying<'a> {
    pub(in crate::measure) fn new(model: &'a Model, triangles: &'a TriangleMeasures, materials: &[u32]) -> Self {
        let places = places_of_faces(&model.document, materials);
        let cast = |(place, &material): (usize, &u32)| {
            let (low, high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
            Cast { material, place, low, high, area: 0.0, largest: 0.0, union: None }
        };
        let mut casts: Vec<Cast> = materials.iter().enumerate().map(cast).collect();
        for triangle in 0..model.triangle_count() {
            let Some(cast) = casts.get_mut(places[model.face_of(triangle)] as usize) else { continue };
            let Some(q) = model.uvs(triangle).filter(|q| has_area(*q)) else { continue };
            let area = triangles.area_uv[triangle];
            (cast.low, cast.high) = (cast.low.min(q[0]).min(q[1]).min(q[2]), cast.high.max(q[0]).max(q[1]).max(q[2]));
            cast.area += area;
            cast.largest = if area > cast.largest { area } else { cast.largest };
        }
        casts.retain(|cast| cast.area > 0.0);
        let name = |cast: &Cast| name_of(&model.document, cast.material);
        let casts = packed::ordered(casts, |a, b| b.area.total_cmp(&a.area).then_with(|| name(a).cmp(name(b))));
        Self { model, triangles, places, casts, rows: Vec::new(), left: EFFORT_MAX }
    }

    /// Whether there is more area than there is room, so that some must overlap.
    pub(in crate::measure) fn is_crowded(&self) -> bool {
        let (mut low, mut high, mut area) = (DVec2::INFINITY, DVec2::NEG_INFINITY, 0.0);
        for cast in &self.casts {
            (low, high, area) = (low.min(cast.low), high.max(cast.high), area + cast.area);
        }
        let room = high - low;
        area > room.x * room.y
    }

    /// Two that overlap, if any do.
    pub(in crate::measure) fn find(mut self, most: Lapped) -> Option<Evidence> {
        for second in 1..self.casts.len() {
            for first in 0..second {
                self.left = self.left.checked_sub(EFFORT_BOXES)?;
                if !self.may_lie(first, second, most) {
                    continue;
                }
                if let Some(share) = self.share(first, second).filter(|share| *share >= LYING_SHARE - ROUNDING) {
                    let materials = [self.casts[first].material, self.casts[second].material];
                    return Some(Evidence { materials, share });
                }
            }
        }
        None
    }

    fn may_lie(&self, first: usize, second: usize, most: Lapped) -> bool {
        let (a, b) = (&self.casts[first], &self.casts[second]);
        let common = (a.high.min(b.high) - a.low.max(b.low)).max(DVec2::ZERO);
        let least = |cast: &Cast| match &cast.union {
            Some(Some((_, area))) => *area,
            _ => f64::max(cast.largest, cast.area - most.excess),
        };
        let smaller = if least(a) < least(b) { least(a) } else { least(b) };
        let common = f64::min(common.x * common.y, most.overlap);
        common >= smaller * (LYING_SHARE - ROUNDING)
    }

    /// Common area over the smaller one's; `None` where that takes more effort than is left.
    fn share(&mut self, first: usize, second: usize) -> Option<f64> {
        if self.rows.is_empty() {
            let count = self.casts.iter().map(|cast| cast.place + 1).max().unwrap_or(0);
            let place = |face: usize| self.places[face] as usize;
            self.rows = SheetRows::of_each(self.model, self.triangles, count, &place);
        }
        for number in [first, second] {
            let cast = &mut self.casts[number];
            if cast.union.is_none() {
                let input = self.rows[cast.place].input(self.model, &[], SheetMap::default());
                let union = cover::union_of(&input, &mut self.left);
                cast.union = Some(union.map(|region| {
                    let area = contours::area(&region);
                    (region, area)
                }));
            }
        }
        let union = |number: usize| self.casts[number].union.as_ref()?.as_ref();
        let ((a, area_a), (b, area_b)) = (union(first)?, union(second)?);
        let smaller = if area_a < area_b { *area_a } else { *area_b };
        let share = cover::area_in_both(a, b, &mut self.left)? / smaller;
        Some(if share < 1.0 { share } else { 1.0 })
    }
}
