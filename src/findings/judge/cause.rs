//! The cause of most findings, if there is one: what to do first.
//!
//! At most one, in the order of what has to be done first. Shares are of the surface. Cost: linear, but for sorting the faces
//! of a file that has few distinct uvs.
//!
//! The cause counts whole, in the verdict and in how far the model is from ready, and the findings that follow from it
//! do not count as well. Where all of them are intended, the cause does not count either. Which kinds follow: the table
//! in `follows`.

use super::{Finding, FindingKind, Judge};
use crate::brief::{Tiles, Unit};
use crate::findings::{Cause, CauseKind};
use crate::measure::flat::map_sizes::map_scale;
use crate::measure::flat::triangles::state;
use glam::{DMat3, DVec2, DVec3};

/// A cause explains at least this much of the mapped surface, 0..1. Own choice: what is left is an exception.
const MOST: f64 = 0.9;
/// Surface without UVs from which it is the model that has none, and not a part of it, 0..1. Own choice.
const NO_UVS_LEAST: f64 = 0.5;
/// A shell is a spot where it is at most this long either way, px: its colour is one (own choice; a texel and its neighbours).
const SPOT_PX: f64 = 4.0;
/// Side of the squares in which spots count as one colour, px. Own choice.
const COLOUR_PX: f64 = 8.0;
/// Colours from which spots are a palette. Own choice: two halves of a model are no palette.
const COLOURS_LEAST: usize = 3;
/// Least extent of a palette, share of the map's side. Own choice: a layout in a dot is no palette.
const PALETTE_EXTENT: f64 = 1.0 / 16.0;
/// Faces on one place from which a model is not unwrapped: more than the triangles of a box, whose sides may well share.
const SAME_PLACE_LEAST: usize = 12;
/// Faces for each distinct uv, from which it is looked whether they all lie on one place.
const FACES_A_UV: usize = 3;
/// Area of a whole layout up to which it is a dot, uv: a thousandth of the sheet. Own choice.
const TINY_UV: f64 = 1e-3;
/// Share of flipped surface from which the cause is that everything is flipped, 0..1. Own choice.
const FLIPPED_LEAST: f64 = 0.95;
/// Surface outside the tile from which textures repeat, 0..1. Own choice.
const REPEATING_LEAST: f64 = 0.25;
/// Longest side of a shell that still fits one tile, uv. A longer one repeats the texture; some room for a shell that
/// extends beyond the tile.
const ONE_TILE: f64 = 1.05;
/// Uv area of textures that repeat, tiles: more than any layout of one tile.
const REPEATING_UV: f64 = 2.0;
/// What distinguishes a repeating texture from a layout that was scaled up: shells over one another, as a share of the
/// area in use, or one this long, uv. Own choice.
const REPEATING_OVERLAP: f64 = 0.1;
const REPEATING_SPAN: f64 = 2.0;
/// Surface of projected shells from which the projection is the cause, 0..1. Own choice.
const PROJECTED_LEAST: f64 = 0.5;
/// How far uvs may lie from a projection, as a share of their spread: the rounding of the file, and small changes by hand.
/// Own choice; on real models projections have 0.001 to 0.02, the flattest unwraps 0.08 and most 0.4 to 1.
const PROJECTED_MISS: f64 = 0.03;
/// Length of the mean normal up to which a shell is round: half a sphere has 0.5, a fold of 90 degrees 0.71 (computed).
const ROUND_NORMAL: f64 = 0.6;
/// Stretch of a flat projection where the surface is slanted by 60 degrees (computed), and the share of a shell that
/// has it: on half a sphere 0.5 (computed), on what faces the projection next to nothing.
const LEANING_STRETCH: f64 = 2.0;
const LEANING_LEAST: f64 = 0.2;

/// Sentence, share of the surface, and the shells it is about (empty: all).
type Found = Option<(String, f64, Vec<bool>)>;

/// In the order in which they have to be fixed.
const ORDER: [CauseKind; 8] = [
    CauseKind::NoUvs,
    CauseKind::Palette,
    CauseKind::NotUnwrapped,
    CauseKind::TinyLayout,
    CauseKind::Projected,
    CauseKind::AllFlipped,
    CauseKind::WrongUnit,
    CauseKind::Repeating,
];

const OF_LAYOUT: [FindingKind; 3] = [FindingKind::Coverage, FindingKind::Padding, FindingKind::Border];
const OF_FACES: [FindingKind; 15] = [
    FindingKind::Collapsed,
    FindingKind::NoArea,
    FindingKind::Stretch,
    FindingKind::Density,
    FindingKind::Flipped,
    FindingKind::Folded,
    FindingKind::Tilt,
    FindingKind::PartialOverlap,
    FindingKind::SelfOverlap,
    FindingKind::Mirrored,
    FindingKind::Stacked,
    FindingKind::Text,
    FindingKind::Coverage,
    FindingKind::Padding,
    FindingKind::Border,
];

/// What follows from a cause.
fn follows(cause: CauseKind, finding: FindingKind) -> bool {
    let kinds: &[FindingKind] = match cause {
        CauseKind::NoUvs => &[FindingKind::Unmapped, FindingKind::Text, FindingKind::Coverage],
        CauseKind::NotUnwrapped | CauseKind::Palette => &OF_FACES,
        CauseKind::Projected => &OF_FACES[..11],
        CauseKind::TinyLayout => &OF_LAYOUT,
        CauseKind::AllFlipped => &[FindingKind::Flipped],
        CauseKind::WrongUnit => &[FindingKind::Density],
        CauseKind::Repeating => &[
            FindingKind::Outside,
            FindingKind::AcrossTiles,
            FindingKind::PartialOverlap,
            FindingKind::SelfOverlap,
            FindingKind::Mirrored,
            FindingKind::Stacked,
            FindingKind::Padding,
            FindingKind::Border,
            FindingKind::Coverage,
        ],
    };
    kinds.contains(&finding)
}

impl Judge<'_> {
    /// The cause, and marks what follows from it.
    pub(super) fn cause(&self, findings: &mut [Finding]) -> Option<Cause> {
        if self.surface <= 0.0 {
            return None;
        }
        let triangles = &self.measures.triangles;
        let (mut mapped, mut collapsed, mut leaning) = (0.0, 0.0, 0.0);
        for triangle in 0..self.model.triangle_count() {
            let surface = triangles.surface[triangle];
            mapped += if triangles.is(triangle, state::MAPPED) { surface } else { 0.0 };
            collapsed += if triangles.is(triangle, state::COLLAPSED_UV) { surface } else { 0.0 };
            leaning += if self.leans(triangle) { surface } else { 0.0 };
        }
        let tiles = self.brief.map.tiles;
        let is_layout = tiles == Tiles::Single || tiles == Tiles::Udim;
        let may_be_projected = leaning >= PROJECTED_LEAST * LEANING_LEAST * self.surface;
        let of_kind = |kind: CauseKind| match kind {
            CauseKind::NoUvs => self.no_uvs(findings),
            CauseKind::Palette if is_layout => self.palette(mapped),
            CauseKind::NotUnwrapped if is_layout => self.not_unwrapped(mapped, collapsed),
            CauseKind::TinyLayout if is_layout => self.tiny_layout(mapped),
            CauseKind::Projected if may_be_projected => self.projected(),
            CauseKind::AllFlipped => self.all_flipped(findings, mapped),
            CauseKind::WrongUnit => self.wrong_unit(mapped),
            CauseKind::Repeating if tiles == Tiles::Single => self.repeating(),
            _ => None,
        };
        let (kind, (sentence, share, shells)) = ORDER.into_iter().find_map(|kind| Some((kind, of_kind(kind)?)))?;
        for finding in findings {
            finding.follows_cause = follows(kind, finding.kind)
                && (shells.is_empty() || finding.shells.iter().all(|&shell| shells[shell as usize]));
        }
        Some(Cause { kind, severity: kind.severity(), sentence, share: share.min(1.0) })
    }

    /// As stretched as a flat projection is where the surface is slanted.
    fn leans(&self, triangle: usize) -> bool {
        let triangles = &self.measures.triangles;
        triangles.is(triangle, state::COLLAPSED_UV)
            || triangles.anisotropy(triangle).is_some_and(|ratio| ratio >= LEANING_STRETCH)
    }

    fn no_uvs(&self, findings: &[Finding]) -> Found {
        let unmapped = findings.iter().find(|finding| finding.kind == FindingKind::Unmapped)?;
        let share = unmapped.harm;
        if share < NO_UVS_LEAST {
            return None;
        }
        let (faces, all) = (self.model.layout.unmapped_count(), self.model.document.face_count());
        let what = if faces == all {
            unmapped.title.clone()
        } else {
            format!("There are no UVs on {} of the faces", share_words(faces as f64 / all as f64))
        };
        let sentence = [&what, ". ", &unmapped.advice].concat();
        Some((sentence, share, Vec::new()))
    }

    fn palette(&self, mapped: f64) -> Found {
        let scale = map_scale(self.brief.map.of_sheet());
        let mut on_spots = 0.0;
        let mut colours: Vec<u64> = Vec::new();
        let (mut low, mut high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
        for shell in self.shells {
            let Some([u0, v0, u1, v1]) = shell.bounds_uv else { continue };
            if (u1 - u0) * scale.x <= SPOT_PX && (v1 - v0) * scale.y <= SPOT_PX {
                on_spots += shell.surface;
                let middle = DVec2::new(u0 + u1, v0 + v1) / 2.0;
                (low, high) = (low.min(middle), high.max(middle));
                let square = (middle * scale / COLOUR_PX).floor();
                colours.push(crate::util::packed::two(square.x as i32 as u32, square.y as i32 as u32));
            }
        }
        colours.sort_unstable();
        colours.dedup();
        let is_spread = on_spots > 0.0 && (high - low).max_element() >= PALETTE_EXTENT;
        if on_spots < MOST * mapped || colours.len() < COLOURS_LEAST || !is_spread {
            return None;
        }
        let share = on_spots / self.surface;
        let sentence = format!(
            "{} of the surface lies on single spots of the sheet, {} of them: a palette of colours. Judge it as one, or \
             unwrap the model if it is to be painted.",
            share_words(share),
            colours.len()
        );
        Some((sentence, share, Vec::new()))
    }

    fn not_unwrapped(&self, mapped: f64, collapsed: f64) -> Found {
        let is_most = |surface: f64| surface > 0.0 && surface >= MOST * mapped;
        let (share, how) = if is_most(collapsed) {
            (collapsed / self.surface, "has its UVs in points or lines")
        } else {
            let same = self.on_one_place().filter(|same| is_most(*same))?;
            (same / self.surface, "lies face by face on the same place of the sheet")
        };
        let sentence =
            format!("The model is not unwrapped: {} of the surface {how}. Unwrap it first.", share_words(share));
        Some((sentence, share, Vec::new()))
    }

    /// Surface of the faces whose uvs span the same rectangle, of the rectangle with most.
    fn on_one_place(&self) -> Option<f64> {
        let layout = &self.model.layout;
        if layout.uv_values.len() * FACES_A_UV > layout.face_shells().len() {
            return None;
        }
        // By the bits of the rectangle, folded into 96 of them, then the face.
        let mut faces: Vec<u128> = Vec::new();
        for (face, _) in layout.face_shells().enumerate().filter(|(_, shell)| shell.is_some()) {
            let (mut low, mut high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
            for uv in self.model.uvs_of_face(face) {
                (low, high) = (low.min(uv), high.max(uv));
            }
            let mut bits = 0_u128;
            for value in [low.x, low.y, high.x, high.y] {
                bits = (bits ^ u128::from(value.to_bits())).wrapping_mul(0x9E37_79B9_7F4A_7C15_F39C_C060_5CED_C835);
                bits ^= bits >> 71;
            }
            faces.push(bits >> 32 << 32 | face as u128);
        }
        faces.sort_unstable();
        let mut most = 0.0;
        for same in faces.chunk_by(|a, b| a >> 32 == b >> 32).filter(|same| same.len() > SAME_PLACE_LEAST) {
            let mut surface = 0.0;
            for &face in same {
                for triangle in self.model.triangles_of(face as u32 as usize) {
                    surface += self.measures.triangles.surface[triangle];
                }
            }
            most = f64::max(most, surface);
        }
        Some(most)
    }

    fn tiny_layout(&self, mapped: f64) -> Found {
        let area = self.measures.sheet.union_area;
        if !(area > 0.0 && area <= TINY_UV) {
            return None;
        }
        let side = area.sqrt() * map_scale(self.brief.map.of_sheet());
        let sentence = format!(
            "The whole layout covers {} of the sheet, as much as {} × {} px. Scale it up until it fills the tile.",
            share_words(area),
            side.x.ceil(),
            side.y.ceil()
        );
        let share = mapped / self.surface;
        Some((sentence, share, Vec::new()))
    }

    fn projected(&self) -> Found {
        let mut sums = vec![Projection::default(); self.shells.len()];
        for triangle in 0..self.model.triangle_count() {
            let (Some(shell), Some(uvs)) = (self.model.shell_of(triangle), self.model.uvs(triangle)) else { continue };
            let surface = self.measures.triangles.surface[triangle];
            sums[shell as usize].add(self.model.positions(triangle), uvs, surface, self.leans(triangle));
        }
        let shells: Vec<bool> = sums.iter().map(Projection::is_on_round).collect();
        let (mut surface, mut leaning) = (0.0, 0.0);
        for (sum, _) in sums.iter().zip(&shells).filter(|(_, is)| **is) {
            surface += sum.weight;
            leaning += sum.leaning;
        }
        let share = surface / self.surface;
        if share < PROJECTED_LEAST {
            return None;
        }
        let sentence = format!(
            "The UVs are a flat projection, left on round parts: {} of their surface leans away from it by more than 60°. \
             Unwrap these parts with seams.",
            share_words(leaning / surface)
        );
        Some((sentence, share, shells))
    }

    fn all_flipped(&self, findings: &[Finding], mapped: f64) -> Found {
        let mut share = 0.0;
        for finding in findings.iter().filter(|finding| finding.kind == FindingKind::Flipped) {
            share += finding.harm;
        }
        if share <= 0.0 || share < FLIPPED_LEAST * mapped / self.surface {
            return None;
        }
        let sentence = format!(
            "Everything is flipped: {} of the surface. Mirror the whole layout in u, once.",
            share_words(share)
        );
        Some((sentence, share, Vec::new()))
    }

    fn wrong_unit(&self, mapped: f64) -> Found {
        let target = self.brief.density.target_px_per_unit.filter(|target| *target > 0.0)?;
        let tolerance = 1.0 + self.brief.density.tolerance_percent / 100.0;
        let asked = self.brief.map.unit;
        let mut best: Option<(f64, Unit)> = None;
        for unit in [Unit::Mm, Unit::Cm, Unit::M, Unit::In] {
            // What all densities are multiplied with where the model is in another unit than the brief says.
            let ratio = millimetres(unit)? / millimetres(asked)?;
            let mut surface = 0.0;
            for shell in &self.measures.shell_density {
                let off = shell.factor(target).map(|factor| factor / ratio);
                if unit != asked && off.is_some_and(|off| off <= tolerance && off >= 1.0 / tolerance) {
                    surface += shell.surface;
                }
            }
            if best.is_none_or(|(most, _)| surface > most) {
                best = Some((surface, unit));
            }
        }
        let (surface, unit) = best.filter(|(surface, _)| *surface > 0.0 && *surface >= MOST * mapped)?;
        let ratio = millimetres(unit)? / millimetres(asked)?;
        let (unit, asked) = (unit.symbol(), asked.symbol());
        let sentence = format!(
            "Texel density is {} times its target on {} of the surface, which is the ratio of {unit} to {asked}: the model \
             seems to be in {unit}. Export it in {asked}, or ask in the brief for {} px/{unit}.",
            three_digits(ratio),
            share_words(surface / self.surface),
            three_digits(target * ratio)
        );
        let share = surface / self.surface;
        Some((sentence, share, Vec::new()))
    }

    fn repeating(&self) -> Found {
        let sheet = &self.measures.sheet;
        let (mut outside, mut wide, mut longest) = (0.0, 0.0, 0.0);
        for shell in self.shells {
            let Some([u0, v0, u1, v1]) = shell.bounds_uv else { continue };
            if u0 < 0.0 || v0 < 0.0 || u1 > 1.0 || v1 > 1.0 {
                outside += shell.surface;
            }
            let long = f64::max(u1 - u0, v1 - v0);
            longest = f64::max(longest, long);
            wide += if long > ONE_TILE { shell.surface } else { 0.0 };
        }
        let share = outside / self.surface;
        let is_laid_over = sheet.overlap_share.is_some_and(|share| share >= REPEATING_OVERLAP);
        let least = REPEATING_LEAST * self.surface;
        let repeats = outside >= least && wide >= least && sheet.uv_area >= REPEATING_UV;
        if !(repeats && (is_laid_over || longest > REPEATING_SPAN)) {
            return None;
        }
        let sentence = format!(
            "The texture repeats: {} of the surface is on shells that are larger than the tile or lie outside it. Judge it as \
             a repeating texture, or lay it out in the tile if it is to be painted.",
            share_words(share)
        );
        Some((sentence, share, Vec::new()))
    }
}

/// Sums over a shell, for the affine map from space to the sheet that misses its uvs least: linear least squares, corners
/// weighted by the surface around them.
#[derive(Clone, Default)]
struct Projection {
    weight: f64,
    leaning: f64,
    normal: DVec3,
    /// What coordinates are counted from: the first corner, so that sums keep their digits.
    origin: Option<(DVec3, DVec2)>,
    p: DVec3,
    q: DVec2,
    pp: [DVec3; 3],
    pu: DVec3,
    pv: DVec3,
    qq: DVec2,
}

impl Projection {
    fn add(&mut self, points: [DVec3; 3], uvs: [DVec2; 3], surface: f64, leans: bool) {
        let (origin, origin_uv) = *self.origin.get_or_insert((points[0], uvs[0]));
        self.normal += (points[1] - points[0]).cross(points[2] - points[0]) / 2.0;
        self.weight += surface;
        self.leaning += if leans { surface } else { 0.0 };
        for (point, uv) in points.into_iter().zip(uvs) {
            let (p, q) = (point - origin, uv - origin_uv);
            let weighted = p * (surface / 3.0);
            self.p += weighted;
            self.q += q * (surface / 3.0);
            self.pp[0] += weighted * p.x;
            self.pp[1] += weighted * p.y;
            self.pp[2] += weighted * p.z;
            self.pu += weighted * q.x;
            self.pv += weighted * q.y;
            self.qq += q * q * (surface / 3.0);
        }
    }

    /// Whether a round shell has the uvs of a flat projection.
    fn is_on_round(&self) -> bool {
        let is_round = self.weight > 0.0
            && self.normal.length() <= ROUND_NORMAL * self.weight
            && self.leaning >= LEANING_LEAST * self.weight;
        if !is_round {
            return false;
        }
        let (p, q) = (self.p / self.weight, self.q / self.weight);
        let weighted = p * self.weight;
        let [x, y, z] = self.pp;
        let spread = DMat3::from_cols(x - weighted * p.x, y - weighted * p.y, z - weighted * p.z);
        let (pu, pv) = (self.pu - weighted * q.x, self.pv - weighted * q.y);
        let qq = self.qq - q * q * self.weight;
        let inverse = spread.inverse();
        let missed = qq.x + qq.y - pu.dot(inverse * pu) - pv.dot(inverse * pv);
        // For a flat shell the inverse is NaN, and so is the error.
        missed <= PROJECTED_MISS * PROJECTED_MISS * (qq.x + qq.y) && qq.x + qq.y > 0.0
    }
}

/// `None` for a unit without name.
fn millimetres(unit: Unit) -> Option<f64> {
    match unit {
        Unit::Mm => Some(1.0),
        Unit::Cm => Some(10.0),
        Unit::M => Some(1000.0),
        Unit::In => Some(25.4),
        Unit::Unit => None,
    }
}

/// A share in a sentence: whole percents, small ones with two digits.
fn share_words(share: f64) -> String {
    if share < 0.1 {
        [&three_digits(share * 100.0), " %"].concat()
    } else if share < 1.0 && share > 0.995 {
        "over 99 %".to_owned()
    } else {
        format!("{:.0} %", share * 100.0)
    }
}

/// Up to three significant digits, without zeros behind the point.
fn three_digits(value: f64) -> String {
    let mut digits = 2;
    let mut least = 1.0;
    while value < least && digits < 11 {
        (digits, least) = (digits + 1, least / 10.0);
    }
    digits -= usize::from(value >= 10.0) + usize::from(value >= 100.0);
    let text = format!("{value:.digits$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests;
