//! Spatial index of the sheet: which boxes touch a region, and which touch one another.
//!
//! [`RegionMask`] marks the cells a region reaches, with sums over rectangles (Crow 1984), so that one box is one look-up.
//! [`Bins`] is a grid with a level for every size, each level's cell twice as large as the next: a box stands in one cell
//! of the level whose cells are just larger than it, and meets its partners by looking at its own and the coarser levels.
//! Cost: linear in boxes and pairs; sizes may differ by any factor.

use super::cover::{self, Contours};
use glam::DVec2;
use rustc_hash::FxHashMap;

/// Cells of the mask along each side: fine enough to leave out most of a sheet that only shares in places; 1 MB.
const MASK_CELLS: usize = 512;

pub(super) struct RegionMask {
    low: DVec2,
    high: DVec2,
    cells_per_unit: DVec2,
    /// Marked cells left of and below each grid corner.
    sums: Vec<u32>,
}

impl RegionMask {
    /// `None` for an empty region.
    pub(super) fn new(region: &Contours) -> Option<Self> {
        let (low, high) = cover::bounds(region)?;
        let size = (high - low).max(DVec2::splat(f64::MIN_POSITIVE));
        let mut mask = Self { low, high, cells_per_unit: DVec2::splat(MASK_CELLS as f64) / size, sums: Vec::new() };
        let mut marked = vec![false; MASK_CELLS * MASK_CELLS];
        for contour in region {
            for (index, &p) in contour.iter().enumerate() {
                mask.mark_edge(
                    DVec2::from_array(p),
                    DVec2::from_array(contour[(index + 1) % contour.len()]),
                    &mut marked,
                );
            }
        }
        mask.fill_inside(region, &mut marked);
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
            row.sort_unstable_by(f64::total_cmp);
            for inside in row.chunks_exact(2) {
                let (x0, x1) = (self.cell(DVec2::new(inside[0], 0.0)).0, self.cell(DVec2::new(inside[1], 0.0)).0);
                marked[y * MASK_CELLS + x0..=y * MASK_CELLS + x1].fill(true);
            }
        }
    }
}

/// Levels: the finest has cells of 2^-29 of the whole, which a key has room for.
const LEVELS: u32 = 30;

pub(super) struct Bins {
    low: DVec2,
    scale: f64,
    boxes: Vec<(DVec2, DVec2)>,
    /// Boxes by key, in order of index.
    by_key: Vec<(u64, u32)>,
    ranges: FxHashMap<u64, (u32, u32)>,
    levels: Vec<u32>,
}

impl Bins {
    pub(super) fn new(count: usize, box_of: impl Fn(usize) -> (DVec2, DVec2)) -> Self {
        let boxes: Vec<_> = (0..count).map(box_of).collect();
        let (low, high) = boxes
            .iter()
            .copied()
            .reduce(|(low, high), (l, h)| (low.min(l), high.max(h)))
            .unwrap_or((DVec2::ZERO, DVec2::ONE));
        let scale = 1.0 / (high - low).max_element().max(f64::MIN_POSITIVE);
        let mut bins = Self { low, scale, boxes, by_key: Vec::new(), ranges: FxHashMap::default(), levels: Vec::new() };
        bins.by_key = (0..count).map(|index| (bins.key_of(index), index as u32)).collect();
        bins.by_key.sort_unstable();
        let mut start = 0;
        for same in bins.by_key.chunk_by(|a, b| a.0 == b.0) {
            bins.ranges.insert(same[0].0, (start, start + same.len() as u32));
            start += same.len() as u32;
            bins.levels.push((same[0].0 >> 58) as u32);
        }
        bins.levels.sort_unstable();
        bins.levels.dedup();
        bins
    }

    fn level(&self, index: usize) -> u32 {
        let (low, high) = self.boxes[index];
        let size = (high - low).max_element() * self.scale;
        // The level whose cells are at least as large: 2^-level >= size.
        if size > 0.0 { (-size.log2()).floor().clamp(0.0, f64::from(LEVELS - 1)) as u32 } else { LEVELS - 1 }
    }

    fn cell(&self, p: DVec2, level: u32) -> (i64, i64) {
        let cell = ((p - self.low) * self.scale * f64::from(1u32 << level)).floor();
        (cell.x as i64, cell.y as i64)
    }

    fn key(level: u32, x: i64, y: i64) -> u64 {
        u64::from(level) << 58 | (y as u64 & 0x1FFF_FFFF) << 29 | (x as u64 & 0x1FFF_FFFF)
    }

    fn key_of(&self, index: usize) -> u64 {
        let level = self.level(index);
        let (x, y) = self.cell(self.boxes[index].0, level);
        Self::key(level, x, y)
    }

    /// Calls with every pair of boxes whose interiors meet, once; false when `most` looks were not enough.
    pub(super) fn for_each_pair(&self, most: u64, mut call: impl FnMut(usize, usize)) -> bool {
        let mut looks = 0;
        for index in 0..self.boxes.len() {
            let (low, high) = self.boxes[index];
            let own_level = self.level(index);
            for &level in self.levels.iter().take_while(|&&level| level <= own_level) {
                let ((x0, y0), (x1, y1)) = (self.cell(low, level), self.cell(high, level));
                for y in (y0 - 1).max(0)..=y1 {
                    for x in (x0 - 1).max(0)..=x1 {
                        let Some(&(start, end)) = self.ranges.get(&Self::key(level, x, y)) else { continue };
                        for &(_, other) in &self.by_key[start as usize..end as usize] {
                            let other = other as usize;
                            if level == own_level && other <= index {
                                continue;
                            }
                            looks += 1;
                            let (l, h) = self.boxes[other];
                            if low.cmplt(h).all() && l.cmplt(high).all() {
                                call(index, other);
                            }
                        }
                        if looks > most {
                            return false;
                        }
                    }
                }
            }
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pair_of_boxes_that_meet_is_called_once() {
        let mut state = 1u64;
        let mut random = move || {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (state >> 33) as f64 / f64::from(1u32 << 31)
        };
        let boxes: Vec<_> = (0..400)
            .map(|i| {
                let low = DVec2::new(random(), random());
                let size = DVec2::new(random(), random()) * 0.5f64.powi(i % 12);
                (low, low + size)
            })
            .collect();
        let mut called = Vec::new();
        assert!(Bins::new(boxes.len(), |i| boxes[i]).for_each_pair(u64::MAX, |i, j| called.push((i.min(j), i.max(j)))));
        called.sort_unstable();
        let mut expected = Vec::new();
        for i in 0..boxes.len() {
            for j in i + 1..boxes.len() {
                let ((a, b), (c, d)) = (boxes[i], boxes[j]);
                if a.cmplt(d).all() && c.cmplt(b).all() {
                    expected.push((i, j));
                }
            }
        }
        assert_eq!(called, expected);
        assert!(expected.len() > 1000);
    }

    #[test]
    fn the_mask_reaches_inside_and_border_and_leaves_out_what_is_far() {
        let region = vec![vec![[0.0, 0.0], [1.0, 0.0], [1.0, 0.1], [0.1, 0.1], [0.1, 1.0], [0.0, 1.0]]];
        let mask = RegionMask::new(&region).unwrap();
        let touches = |x: f64, y: f64| mask.touches(DVec2::new(x, y), DVec2::new(x + 0.001, y + 0.001));
        assert!(touches(0.05, 0.05) && touches(0.999, 0.05) && touches(0.05, 0.9) && touches(0.1, 0.5));
        assert!(!touches(0.5, 0.5) && !touches(0.3, 0.2) && !touches(1.2, 0.05));
        assert!(mask.touches(DVec2::new(-1.0, -1.0), DVec2::new(2.0, 2.0)));
    }
}
