//! The sheet as a small drawing beside each finding: outlines are written once and used again by reference.

use super::Page;
use crate::brief::{Brief, FIRST_TILE};
use crate::draw::outline::{Chain, Rings};
use crate::draw::sheet::{Frame, push_places, tile_origin};
use crate::findings::{Finding, FindingKind};
use crate::measure::Measures;
use crate::measure::sheet::padding::Gap;
use crate::model::Model;
use glam::DVec2;
use std::fmt::Write as _;

/// Longer side of a tile in the drawing's units, written to a tenth: more than a printed page shows.
const TILE_UNITS: f64 = 512.0;
const STEPS: f64 = 10.0;
/// How far a drawn outline may be off, in units: not visible.
const OFF: f64 = 0.25;
/// Path data up to which findings' drawings show the outlines of all shells, bytes; beyond it, only tiles and what is lit,
/// so that a page with dozens of drawings opens at once.
const MOST_BEHIND: usize = 100_000;
/// How far beyond the tiles the drawing reaches where shells do, in tiles.
const BEYOND: f64 = 1.0;
/// Empty space around, in tiles.
const MARGIN: f64 = 0.02;
/// Shells of a finding that are drawn lit; the dashed frame holds them all.
const MOST_LIT: usize = 200;
/// Shells that are drawn lit anywhere: each is a separate shape in every drawing, and the others are one.
const MOST_LIT_IN_ALL: usize = 1000;
/// Least side of a finding's frame in units: smaller ones could not be found.
const LEAST_FRAME: f64 = 14.0;

/// Gaps drawn for a finding, the worst first: more would overlap.
const MOST_GAPS: usize = 40;
/// Radius of the ring around a gap, in units: the gap itself is often less than one.
const GAP_RING: f64 = 12.0;

/// Outlines, tiles and gaps, ready to be written.
#[derive(Clone, Debug)]
pub struct Inset {
    frame: Frame,
    tiles: Vec<u32>,
    /// Outlines of shells that are never lit, as path data.
    unlit: String,
    /// Those of the others with their shells, rising.
    lit: Vec<(u32, String)>,
    /// Too narrow ones, worst first.
    gaps: Vec<Gap>,
}

impl Inset {
    /// `findings`: those that will be drawn.
    pub fn new(model: &Model, measures: &Measures, brief: &Brief, findings: &[Finding]) -> Self {
        let map = DVec2::new(f64::from(brief.map.width_px.max(1)), f64::from(brief.map.height_px.max(1)));
        let tiles = if measures.sheet.tiles.is_empty() { vec![FIRST_TILE] } else { measures.sheet.tiles.clone() };
        let (low, high) = tiles
            .iter()
            .map(|&tile| tile_origin(tile))
            .fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at + DVec2::ONE)));
        let (mut least, mut most) = (low, high);
        for &uv in &model.layout.uv_values {
            (least, most) = (least.min(uv), most.max(uv));
        }
        let frame = Frame {
            low: least.max(low - BEYOND) - MARGIN,
            high: most.min(high + BEYOND) + MARGIN,
            scale: map * (TILE_UNITS / map.max_element()),
        };
        let rings = Rings::new(model);
        let mut is_lit = vec![false; rings.shell_count()];
        let wanted = findings.iter().flat_map(|finding| finding.shells.iter().take(MOST_LIT));
        let mut left = MOST_LIT_IN_ALL;
        for &shell in wanted {
            if let Some(lit @ false) = is_lit.get_mut(shell as usize).filter(|_| left > 0) {
                *lit = true;
                left -= 1;
            }
        }
        let (mut unlit, mut lit) = (String::new(), Vec::new());
        for (shell, is_lit) in (0u32..).zip(is_lit) {
            let outline = rings.of(shell as usize);
            if is_lit {
                let mut path = String::new();
                push_outline(&mut path, model, outline, &frame);
                lit.push((shell, path));
            } else {
                push_outline(&mut unlit, model, outline, &frame);
            }
        }
        Self { frame, tiles, unlit, lit, gaps: measures.padding.gaps.clone() }
    }

    /// Writes what the drawings refer to.
    pub(super) fn define(&self, page: &mut Page) {
        page.out.push_str(
            "<svg class=\"hidden\" width=\"0\" height=\"0\" aria-hidden=\"true\"><defs>\n<g id=\"all-tiles\">",
        );
        for &tile in &self.tiles {
            let at = self.frame.place(tile_origin(tile) + DVec2::Y);
            let size = self.frame.scale;
            let _ = write!(
                page.out,
                "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{}\" height=\"{}\"/>",
                at.x, at.y, size.x, size.y
            );
        }
        page.out.push_str("</g>\n<g id=\"all-shells\">\n");
        let _ = writeln!(page.out, "<path d=\"{}\"/>", self.unlit);
        for (shell, path) in &self.lit {
            let _ = writeln!(page.out, "<path id=\"s{shell}\" d=\"{path}\"/>");
        }
        page.out.push_str("</g>\n</defs></svg>\n");
    }

    /// Begins a drawing: tiles, and the outlines of all shells if `all`.
    fn begin(&self, page: &mut Page, label: &str, all: bool) {
        let size = self.frame.size();
        let _ = write!(
            page.out,
            "<figure><svg class=\"sheet\" role=\"img\" viewBox=\"0 0 {:.1} {:.1}\" aria-label=\"",
            size.x, size.y
        );
        page.text(label);
        page.out.push_str("\">\n");
        if all {
            page.out.push_str("<use class=\"shells\" href=\"#all-shells\"/>");
        }
        page.out.push_str("<use class=\"tiles\" href=\"#all-tiles\"/>\n");
    }

    /// A finding's place on the sheet.
    pub(super) fn of_finding(&self, page: &mut Page, finding: &Finding, [u0, v0, u1, v1]: [f64; 4]) {
        let label = format!("{}: its place on the sheet, u {u0:.3} to {u1:.3}, v {v0:.3} to {v1:.3}.", finding.title);
        self.begin(page, &label, self.unlit.len() <= MOST_BEHIND);
        let has_outline = |shell: &&u32| self.lit.binary_search_by_key(*shell, |lit| lit.0).is_ok();
        for shell in finding.shells.iter().take(MOST_LIT).filter(has_outline) {
            let _ = write!(page.out, "<use class=\"lit\" href=\"#s{shell}\"/>");
        }
        let (low, high) = (self.frame.place(DVec2::new(u0, v1)), self.frame.place(DVec2::new(u1, v0)));
        let (low, high) = (low.max(DVec2::ZERO), high.min(self.frame.size()));
        let (middle, size) = ((low + high) / 2.0, (high - low).max(DVec2::splat(LEAST_FRAME)));
        let at = middle - size / 2.0;
        let _ = write!(
            page.out,
            "<rect class=\"place\" x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>",
            at.x, at.y, size.x, size.y
        );
        self.gaps(page, finding);
        page.out.push_str("</svg>");
        page.element("figcaption", "On the sheet");
        page.out.push_str("</figure>\n");
    }

    /// The gaps a finding is about.
    fn gaps(&self, page: &mut Page, finding: &Finding) {
        let between = match finding.kind {
            FindingKind::Padding => true,
            FindingKind::Border => false,
            _ => return,
        };
        let has = |shell: u32| finding.shells.binary_search(&shell).is_ok();
        let own = |gap: &&Gap| gap.b.is_some() == between && has(gap.a) && gap.b.is_none_or(has);
        for gap in self.gaps.iter().filter(own).take(MOST_GAPS) {
            let (a, b) = (self.frame.place(gap.at_a), self.frame.place(gap.at_b));
            let middle = (a + b) / 2.0;
            let _ = write!(
                page.out,
                "<path class=\"gap\" d=\"M{:.1} {:.1}L{:.1} {:.1}\"/><circle class=\"gap\" cx=\"{:.1}\" cy=\"{:.1}\" \
                 r=\"{GAP_RING}\"/>",
                a.x, a.y, b.x, b.y, middle.x, middle.y
            );
        }
    }

    /// The whole sheet.
    pub(super) fn whole(&self, page: &mut Page) {
        self.begin(page, "The sheet: outlines of all shells in the tiles in use.", true);
        page.out.push_str("</svg>");
        let tiles: Vec<String> = self.tiles.iter().map(u32::to_string).collect();
        page.element("figcaption", &format!("The sheet. Tiles in use: {}.", tiles.join(", ")));
        page.out.push_str("</figure>\n");
    }
}

/// Writes outlines with no more corners than are visible.
fn push_outline(out: &mut String, model: &Model, chains: &[Chain], frame: &Frame) {
    for chain in chains {
        let mut places: Vec<DVec2> =
            chain.points.iter().map(|&point| frame.place(model.layout.uv_values[point as usize])).collect();
        if chain.closed {
            places.extend(places.first().copied());
        }
        let kept = simplified(&places, OFF);
        push_places(out, kept.into_iter(), chain.closed, STEPS);
    }
}

/// A line with fewer corners that is nowhere further than `off` from the original (Douglas & Peucker 1973).
fn simplified(places: &[DVec2], off: f64) -> Vec<DVec2> {
    let Some(last) = places.len().checked_sub(1) else { return Vec::new() };
    let mut is_kept = vec![false; places.len()];
    (is_kept[0], is_kept[last]) = (true, true);
    let mut spans = vec![(0, last)];
    while let Some((from, to)) = spans.pop() {
        let (a, b) = (places[from], places[to]);
        let along = b - a;
        let distance = |place: DVec2| {
            let part = ((place - a).dot(along) / along.length_squared()).clamp(0.0, 1.0);
            // NaN where both ends are one place.
            let foot = if part.is_nan() { a } else { a + along * part };
            place.distance(foot)
        };
        let inner = (from + 1..to).map(|index| (index, distance(places[index])));
        let farthest = inner.fold((from, off), |farthest, here| if here.1 > farthest.1 { here } else { farthest });
        if farthest.0 != from {
            is_kept[farthest.0] = true;
            spans.extend([(from, farthest.0), (farthest.0, to)]);
        }
    }
    places.iter().zip(is_kept).filter(|(_, is_kept)| *is_kept).map(|(place, _)| *place).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_simplified_outline_keeps_its_corners_and_stays_near() {
        let places: Vec<DVec2> = (0..400)
            .map(|i| {
                let (side, part) = (i / 100, f64::from(i % 100));
                let wave = if i % 2 == 0 { 0.2 } else { 0.0 };
                match side {
                    0 => DVec2::new(part, wave),
                    1 => DVec2::new(100.0 + wave, part),
                    2 => DVec2::new(100.0 - part, 100.0 + wave),
                    _ => DVec2::new(wave, 100.0 - part),
                }
            })
            .chain([DVec2::new(0.0, 0.2)])
            .collect();
        let kept = simplified(&places, 0.25);
        assert!(kept.len() >= 5 && kept.len() < 12, "{kept:?}");
        let near = |place: &DVec2| {
            kept.windows(2).any(|ends| {
                let along = ends[1] - ends[0];
                let part = ((*place - ends[0]).dot(along) / along.length_squared()).clamp(0.0, 1.0);
                place.distance(ends[0] + along * part) <= 0.25
            })
        };
        assert!(places.iter().all(near));
        assert_eq!(simplified(&[], 1.0), []);
        assert_eq!(simplified(&[DVec2::ONE; 3], 1.0), [DVec2::ONE; 2]);
    }
}
