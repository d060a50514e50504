//! Which boxes reach a region of the sheet.
//!
//! [`RegionMask`] marks the cells a region reaches, with sums over rectangles (Crow 1984), so that one box is one
//! look-up. It may give true for a box just outside, never false for one that touches. Cost: linear in the region's
//! edges and the cells they pass.

use super::contours::{self, Contours};
use crate::util::packed;
use glam::DVec2;

/// Cells of the mask along each side: fine enough to leave out most of a sheet with few overlaps; 1 MB.
const MASK_CELLS: usize = 512;

/// A region of the sheet.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Region {
    /// Resolved polygons.
    Outline(Contours),
    /// Somewhere in two or more of these boxes, (low, high).
    InTwo(Vec<(DVec2, DVec2)>),
}

impl Default for Region {
    fn default() -> Self {
        Self::Outline(Contours::new())
    }
}

pub(super) struct RegionMask {
    low: DVec2,
    high: DVec2,
    cells_per_unit: DVec2,
    /// Marked cells left of and below each grid corner.
    sums: Vec<u32>,
}

impl RegionMask {
    /// `None` for an empty region.
    pub(super) fn new(region: &Region) -> Option<Self> {
        let (low, high) = match region {
            Region::Outline(contours) => contours::bounds(contours)?,
            Region::InTwo(boxes) => boxes.iter().copied().reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))?,
        };
        let size = (high - low).max(DVec2::splat(f64::MIN_POSITIVE));
        let mut mask = Self { low, high, cells_per_unit: DVec2::splat(MASK_CELLS as f64) / size, sums: Vec::new() };
        let marked = match region {
            Region::Outline(contours) => mask.cells_of(contours),
            Region::InTwo(boxes) => mask.cells_in_two(boxes),
        };
        let row = MASK_CELLS + 1;
        mask.sums = vec![0; row * row];
        for y in 0..MASK_CELLS {
            let mut in_row = 0;
            for x in 0..MASK_CELLS {
                in_row += u32::from(marked[y * MASK_CELLS + x]);
                mask.sums[(y + 1) * row + x + 1] = mask.sums[y * row + x + 1] + in_row;
            }
        }
        Some(mask)
    }

    /// Does the box reach a cell of the region? Never misses one that touches the region itself.
    pub(super) fn touches(&self, low: DVec2, high: DVec2) -> bool {
        if low.cmpgt(self.high).any() || high.cmplt(self.low).any() {
            return false;
        }
        let ((x0, y0), (x1, y1)) = (self.cell(low), self.cell(high));
        let row = MASK_CELLS + 1;
        let at = |x: usize, y: usize| self.sums[y * row + x];
        at(x1 + 1, y1 + 1) + at(x0, y0) > at(x0, y1 + 1) + at(x1 + 1, y0)
    }

    fn cell(&self, p: DVec2) -> (usize, usize) {
        let cell = ((p - self.low) * self.cells_per_unit).clamp(DVec2::ZERO, DVec2::splat((MASK_CELLS - 1) as f64));
        (cell.x as usize, cell.y as usize)
    }

    fn cells_of(&self, contours: &Contours) -> Vec<bool> {
        let mut marked = vec![false; MASK_CELLS * MASK_CELLS];
        for contour in contours {
            for (index, &p) in contour.iter().enumerate() {
                let next = contour[(index + 1) % contour.len()];
                self.mark_edge(DVec2::from_array(p), DVec2::from_array(next), &mut marked);
            }
        }
        self.fill_inside(contours, &mut marked);
        marked
    }

    /// Cells that two boxes reach, by differences at the boxes' corners.
    fn cells_in_two(&self, boxes: &[(DVec2, DVec2)]) -> Vec<bool> {
        let row = MASK_CELLS + 1;
        let mut steps = vec![0i32; row * row];
        for &(low, high) in boxes {
            let ((x0, y0), (x1, y1)) = (self.cell(low), self.cell(high));
            for (x, y, step) in [(x0, y0, 1), (x1 + 1, y0, -1), (x0, y1 + 1, -1), (x1 + 1, y1 + 1, 1)] {
                steps[y * row + x] += step;
            }
        }
        let mut above = vec![0; MASK_CELLS];
        let mut marked = Vec::with_capacity(MASK_CELLS * MASK_CELLS);
        for y in 0..MASK_CELLS {
            let mut in_row = 0;
            for (x, above) in above.iter_mut().enumerate() {
                in_row += steps[y * row + x];
                *above += in_row;
                marked.push(*above > 1);
            }
        }
        marked
    }

    /// Marks every cell an edge passes, and those beside it, row by row.
    fn mark_edge(&self, a: DVec2, b: DVec2, marked: &mut [bool]) {
        let (a, b) = if a.y <= b.y { (a, b) } else { (b, a) };
        let (first, last) = (self.cell(a).1, self.cell(b).1);
        for y in first..=last {
            let edge_at = |row: usize| {
                let height = self.low.y + row as f64 / self.cells_per_unit.y;
                let share = if b.y > a.y { ((height - a.y) / (b.y - a.y)).clamp(0.0, 1.0) } else { 0.0 };
                a + (b - a) * share
            };
            let from = if y == first { a } else { edge_at(y) };
            let to = if y == last { b } else { edge_at(y + 1) };
            let (x0, x1) = (self.cell(from.min(to)).0, self.cell(from.max(to)).0);
            for x in x0.saturating_sub(1)..=(x1 + 1).min(MASK_CELLS - 1) {
                marked[y * MASK_CELLS + x] = true;
            }
        }
    }

    /// Marks the cells whose middle lies inside.
    fn fill_inside(&self, region: &Contours, marked: &mut [bool]) {
        let mut crossings: Vec<Vec<f64>> = vec![Vec::new(); MASK_CELLS];
        for contour in region {
            for (index, &p) in contour.iter().enumerate() {
                let (a, b) = (DVec2::from_array(p), DVec2::from_array(contour[(index + 1) % contour.len()]));
                let (a, b) = if a.y <= b.y { (a, b) } else { (b, a) };
                for (y, row) in crossings.iter_mut().enumerate().take(self.cell(b).1 + 1).skip(self.cell(a).1) {
                    let middle = self.low.y + (y as f64 + 0.5) / self.cells_per_unit.y;
                    if a.y <= middle && middle < b.y {
                        row.push(a.x + (b.x - a.x) * (middle - a.y) / (b.y - a.y));
                    }
                }
            }
        }
        for (y, row) in crossings.iter_mut().enumerate() {
            *row = packed::ordered(std::mem::take(row), f64::total_cmp);
            for inside in row.chunks_exact(2) {
                let (x0, x1) = (self.cell(DVec2::new(inside[0], 0.0)).0, self.cell(DVec2::new(inside[1], 0.0)).0);
                marked[y * MASK_CELLS + x0..=y * MASK_CELLS + x1].fill(true);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_mask_covers_inside_and_border_and_excludes_far_triangles() {
        let corners = vec![[0.0, 0.0], [1.0, 0.0], [1.0, 0.1], [0.1, 0.1], [0.1, 1.0], [0.0, 1.0]];
        let mask = RegionMask::new(&Region::Outline(vec![corners])).unwrap();
        let touches = |x: f64, y: f64| mask.touches(DVec2::new(x, y), DVec2::new(x + 0.001, y + 0.001));
        assert!(touches(0.05, 0.05) && touches(0.999, 0.05) && touches(0.05, 0.9) && touches(0.1, 0.5));
        assert!(!touches(0.5, 0.5) && !touches(0.3, 0.2) && !touches(1.2, 0.05));
        assert!(mask.touches(DVec2::new(-1.0, -1.0), DVec2::new(2.0, 2.0)));
    }
    #[test]
    fn two_boxes_that_meet_are_found_and_one_alone_is_not() {
        let between = |low: f64, high: f64| (DVec2::splat(low), DVec2::splat(high));
        let mask = RegionMask::new(&Region::InTwo(vec![
            between(0.0, 0.3),
            between(0.2, 0.5),
            between(0.6, 0.7),
            between(0.9, 1.0),
            between(0.9, 1.0),
        ]));
        let mask = mask.unwrap();
        let touches = |at: f64| mask.touches(DVec2::splat(at), DVec2::splat(at + 0.001));
        assert!(touches(0.2) && touches(0.25) && touches(0.299) && touches(0.95));
        assert!(!touches(0.1) && !touches(0.4) && !touches(0.65) && !touches(0.8));
        assert!(RegionMask::new(&Region::InTwo(Vec::new())).is_none());
    }
}
