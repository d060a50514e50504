//! The draft's planted faults: the revised sheet, spoiled in six places by known amounts.
//!
//! Only sheet coordinates and which of them a face uses are changed; geometry, groups and the order of faces stay.
//! Shells that change their outline are taken off the sheet and set again wherever there is room; all others stay where
//! they are, so the draft's sheet has holes. Planted sizes come from the lantern's measures by closed forms; only the
//! nameplate's area and triangle count and the size of the chimney's cells are taken from the built shell.

use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};
use std::fmt;

use glam::{DVec2, dvec2};

use super::layout::{Island, Sheet};
use super::parts::{CAP_CONE, CHIMNEY_ROWS, DRUM_RADIUS, DRUM_WALL, FACETS, UPRIGHT};
use super::solid::{Face, Part};

/// What is wrong with a planted shell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Flattened by looking at it from one side: anisotropy 1/|sin a|, a the facet's angle from the silhouette.
    PlanarProjection,
    /// Mirrored on the sheet: lettering reads backwards.
    Flipped,
    /// Two mirrored halves on the same place.
    MirroredHalves,
    /// Fewer px per cm than the rest.
    LowDensity,
    /// One corner folded back over its own shell.
    FoldedCorner,
    /// Two shells of the same handedness, partly over one another.
    PartialOverlap,
}

/// One planted fault: where it is, what it is, and its sizes by name.
#[derive(Clone, Debug)]
pub struct Planted {
    /// The object.
    pub part: &'static str,
    /// The group in it.
    pub group: &'static str,
    /// The other group, where two are concerned.
    pub other: Option<&'static str>,
    /// What is wrong.
    pub kind: Kind,
    /// Name and size. Names end in their unit (`_cm2`, `_px2`, `_octaves`); counts and ratios have none.
    pub values: Vec<(&'static str, f64)>,
}

impl Planted {
    /// The size of that name, `None` if the fault has no such size.
    pub fn value(&self, name: &str) -> Option<f64> {
        self.values.iter().find(|(key, _)| *key == name).map(|&(_, value)| value)
    }
}

impl fmt::Display for Planted {
    /// A row of the table in the demo's README.
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        write!(f, "| `{}`", self.group)?;
        if let Some(other) = self.other.filter(|other| *other != self.group) {
            write!(f, ", `{other}`")?;
        }
        let sizes: Vec<String> = self
            .values
            .iter()
            .map(|(name, value)| {
                let digits = format!("{value:.4}");
                format!("{name} {}", digits.trim_end_matches('0').trim_end_matches('.'))
            })
            .collect();
        write!(f, " | {:?} | {} |", self.kind, sizes.join(", "))
    }
}

/// Linear scale of the draft's handle against the rest.
const HANDLE_SCALE: f64 = 0.25;
/// Cells along each leg of the folded corner.
const FOLD_CELLS: usize = 4;
/// How far the second upright's side is moved off the first's, as shares of its width and height.
const CROSSING_SHIFT: (f64, f64) = (0.4, 0.5);
/// The default brief's limit on anisotropy, at which the drum's stretched share is given.
const MAX_ANISOTROPY: f64 = 1.25;

/// Spoils a laid-out lantern. `None` if a changed shell finds no room or a part is missing.
pub fn plant(parts: &mut [Part], scale: f64) -> Option<Vec<Planted>> {
    let planted = vec![
        project_drum(parts, scale)?,
        turn_over_nameplate(parts, scale)?,
        mirror_cap(parts, scale)?,
        shrink_handle(parts)?,
        fold_chimney(parts, FOLD_CELLS)?,
        cross_uprights(parts, scale)?,
    ];
    let loose: [&[&str]; 3] = [&["drum_wall"], &["lug_upright_left_side", "lug_upright_right_side"], &["handle_tube"]];
    let mut sheet = Sheet::new();
    for shell in parts.iter().flat_map(|part| &part.shells) {
        if !loose.iter().flat_map(|names| names.iter()).any(|name| shell.name == *name) {
            sheet.keep(&shell.outlines());
        }
    }
    for front in [true, false] {
        let drum = part_mut(parts, "drum")?;
        let is_front = fronts(drum, "drum_wall")?;
        let wall = drum.shell_mut("drum_wall")?;
        let island: Island = pick(&wall.outlines(), &is_front, front);
        let offset = sheet.place(&island, 1.0)?;
        let moved: Vec<usize> = pick(&wall.faces, &is_front, front).into_iter().flat_map(|face| face.uvs).collect();
        for at in sorted(moved) {
            wall.uv[at] += offset;
        }
    }
    for names in &loose[1..] {
        let mut island = Island::new();
        for shell in parts.iter().flat_map(|part| &part.shells).filter(|s| names.contains(&s.name.as_str())) {
            island.extend(shell.outlines());
        }
        let offset = sheet.place(&island, 1.0)?;
        for shell in parts.iter_mut().flat_map(|part| &mut part.shells).filter(|s| names.contains(&s.name.as_str())) {
            shell.uv.iter_mut().for_each(|q| *q += offset);
        }
    }
    Some(planted)
}

/// Each half of the drum's wall as seen straight on: the front from the front, the back from the back.
fn project_drum(parts: &mut [Part], scale: f64) -> Option<Planted> {
    let drum = part_mut(parts, "drum")?;
    let is_front = fronts(drum, "drum_wall")?;
    let positions = drum.positions.clone();
    let wall = drum.shell_mut("drum_wall")?;
    let mut seen = BTreeMap::new();
    let mut flat = Vec::new();
    for (face, &front) in wall.faces.iter_mut().zip(&is_front) {
        for (uv, &point) in face.uvs.iter_mut().zip(&face.points) {
            *uv = *seen.entry((point, front)).or_insert_with(|| {
                let p = positions[point];
                flat.push(dvec2(if front { p.x } else { -p.x }, p.y) * scale);
                flat.len() - 1
            });
        }
    }
    wall.uv = flat;
    let facet = TAU / FACETS as f64;
    let anisotropy = |i: usize| 1.0 / (facet * (i as f64 + 0.5)).sin().abs();
    let over = (0..FACETS).filter(|&i| anisotropy(i) > MAX_ANISOTROPY).count();
    let half = (PI / FACETS as f64).sin();
    Some(Planted {
        part: "drum",
        group: "drum_wall",
        other: None,
        kind: Kind::PlanarProjection,
        values: vec![
            ("facets", FACETS as f64),
            // The facets beside the line of sight lean half a facet away from it.
            ("anisotropy_min", 1.0 / (PI / FACETS as f64).cos()),
            ("anisotropy_max", 1.0 / half),
            ("share_over", over as f64 / FACETS as f64),
            ("density_ratio", (2.0 / (FACETS as f64 * half)).sqrt()),
            ("surface_cm2", 2.0 * FACETS as f64 * DRUM_RADIUS * half * DRUM_WALL),
        ],
    })
}

fn turn_over_nameplate(parts: &mut [Part], scale: f64) -> Option<Planted> {
    let face = part_mut(parts, "nameplate")?.shell_mut("nameplate_face")?;
    let surface = face.area_uv() / (scale * scale);
    let triangles: usize = face.faces.iter().map(|face| face.uvs.len() - 2).sum();
    let (low, high) = face.uv.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), q| (a.min(q.x), b.max(q.x)));
    face.uv.iter_mut().for_each(|q| q.x = low + high - q.x);
    Some(Planted {
        part: "nameplate",
        group: "nameplate_face",
        other: None,
        kind: Kind::Flipped,
        values: vec![("reversed_triangles", triangles as f64), ("surface_cm2", surface)],
    })
}

/// The left half of the cap's cone takes the sheet places of the right half, one facet off, so that the halves do not
/// join along the front edge: all but one facet of each half is shared.
fn mirror_cap(parts: &mut [Part], scale: f64) -> Option<Planted> {
    let cap = part_mut(parts, "cap")?;
    let cone = cap.shell_mut("cap_cone")?;
    let stride = FACETS + 1;
    let rows = cone.faces.len() / FACETS;
    for (at, face) in cone.faces.iter_mut().enumerate() {
        if at % FACETS < FACETS / 2 {
            for uv in &mut face.uvs {
                let (row, column) = (*uv / stride, *uv % stride);
                *uv = row * stride + FACETS - 1 - column;
            }
        }
    }
    let (foot, head, rise) = CAP_CONE;
    let half = (PI / FACETS as f64).sin();
    let edge = (foot - head).hypot(rise);
    let height = (edge * edge - ((foot - head) * half).powi(2)).sqrt();
    let surface = FACETS as f64 * (foot + head) * half * height / 2.0;
    let facets = (FACETS / 2) as f64;
    let share = (facets - 1.0) / facets;
    Some(Planted {
        part: "cap",
        group: "cap_cone",
        other: Some("cap_cone"),
        kind: Kind::MirroredHalves,
        values: vec![
            ("reversed_triangles", (FACETS * rows) as f64),
            ("half_surface_cm2", surface),
            ("shared_share", share),
            ("shared_px2", surface * share * scale * scale),
        ],
    })
}

fn shrink_handle(parts: &mut [Part]) -> Option<Planted> {
    let tube = part_mut(parts, "handle")?.shell_mut("handle_tube")?;
    tube.uv.iter_mut().for_each(|q| *q *= HANDLE_SCALE);
    Some(Planted {
        part: "handle",
        group: "handle_tube",
        other: None,
        kind: Kind::LowDensity,
        values: vec![("linear_factor", HANDLE_SCALE), ("difference_octaves", HANDLE_SCALE.log2())],
    })
}

/// Folds the top right corner of the chimney's even grid along the diagonal of its cells, this many along each leg.
pub fn fold_chimney(parts: &mut [Part], cells: usize) -> Option<Planted> {
    let outside = part_mut(parts, "chimney")?.shell_mut("chimney_outside")?;
    let stride = FACETS + 1;
    let at = |left: usize, down: usize| (CHIMNEY_ROWS - down) * stride + FACETS - left;
    let cell = (outside.uv[at(0, 0)] - outside.uv[at(1, 1)]).abs();
    let line = outside.uv[at(cells, 0)];
    let along = (outside.uv[at(0, cells)] - line).normalize();
    for left in 0..cells {
        for down in 0..cells - left {
            let from_line = outside.uv[at(left, down)] - line;
            outside.uv[at(left, down)] = line + reflect(from_line, along);
        }
    }
    let triangles = (cells * cells) as f64;
    Some(Planted {
        part: "chimney",
        group: "chimney_outside",
        other: None,
        kind: Kind::FoldedCorner,
        values: vec![("folded_triangles", triangles), ("folded_px2", triangles * cell.x * cell.y / 2.0)],
    })
}

fn reflect(p: DVec2, along: DVec2) -> DVec2 {
    2.0 * along * p.dot(along) - p
}

/// The sides of the handle's two uprights, partly over one another.
fn cross_uprights(parts: &mut [Part], scale: f64) -> Option<Planted> {
    let width = 2.0 * (UPRIGHT.0 + UPRIGHT.1) * scale;
    let height = UPRIGHT.2 * scale;
    let shift = dvec2(CROSSING_SHIFT.0 * width, CROSSING_SHIFT.1 * height);
    let left = part_mut(parts, "lug_upright_left")?.shell_mut("lug_upright_left_side")?.uv.clone();
    let right = part_mut(parts, "lug_upright_right")?.shell_mut("lug_upright_right_side")?;
    right.uv = left.iter().map(|&q| q + shift).collect();
    let share = (1.0 - CROSSING_SHIFT.0) * (1.0 - CROSSING_SHIFT.1);
    Some(Planted {
        part: "lug_upright_left",
        group: "lug_upright_left_side",
        other: Some("lug_upright_right_side"),
        kind: Kind::PartialOverlap,
        values: vec![("shared_share", share), ("shared_px2", share * width * height)],
    })
}

fn part_mut<'a>(parts: &'a mut [Part], name: &str) -> Option<&'a mut Part> {
    parts.iter_mut().find(|part| part.name == name)
}

/// For each face of a shell, whether it lies in the part's front half.
fn fronts(part: &Part, shell: &str) -> Option<Vec<bool>> {
    let middle = |face: &Face| face.points.iter().map(|&p| part.positions[p].z).sum::<f64>();
    let shell = part.shells.iter().find(|candidate| candidate.name == shell)?;
    Some(shell.faces.iter().map(|face| middle(face) > 0.0).collect())
}

fn pick<T: Clone>(items: &[T], marks: &[bool], wanted: bool) -> Vec<T> {
    items.iter().zip(marks).filter(|(_, mark)| **mark == wanted).map(|(item, _)| item.clone()).collect()
}

fn sorted(mut indices: Vec<usize>) -> Vec<usize> {
    indices.sort_unstable();
    indices.dedup();
    indices
}
