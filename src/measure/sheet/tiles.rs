//! Which tiles of a sheet of many tiles are in use.
//!
//! UDIM numbers a tile 1001 + floor(u) + 10 floor(v), 0 <= floor(u) <= 9. A tile is in use when some triangle has area in
//! it; one that only touches its border, such as a shell that ends exactly on u = 1, does not use it. A triangle over
//! several tiles is cut into rows: a convex shape reaches every column between its leftmost and rightmost point in the row.
//! Cost: linear in triangles; one that spans rows costs as many cuts, at most [`CUTS_MAX`] in all.

use super::convex;
pub(super) use crate::brief::UDIM_COLUMNS;
use glam::DVec2;

/// Rows whose numbers have four digits: 1001 to 9999.
pub(super) const UDIM_ROWS: u32 = 900;
/// Cuts of triangles into rows before a triangle's box is used instead: a tenth of a second. A layout that asks for
/// more has its triangles strewn over hundreds of rows, and is not one of tiles.
const CUTS_MAX: u32 = 1_000_000;

/// Tiles in use, row by row.
#[derive(Default)]
pub(super) struct TilesInUse {
    /// Per row, its columns as bits.
    rows: Vec<u16>,
    cuts: u32,
}

impl TilesInUse {
    /// Adds a counter-clockwise triangle; `low` and `high` bound its part inside the tiles.
    pub(super) fn note(&mut self, q: [DVec2; 3], low: DVec2, high: DVec2) {
        if !(low.x < high.x && low.y < high.y) {
            return;
        }
        let (first, last) = (low.y as usize, high.y.ceil() as usize);
        if self.rows.len() < last {
            self.rows.resize(last, 0);
        }
        let boxed = columns(low.x, high.x);
        let one_tile = last - first == 1 && boxed.count_ones() == 1;
        for row in first..last {
            if self.rows[row] & boxed == boxed {
                continue;
            }
            // One tile by its box may still be none: a corner cut off outside.
            if self.cuts >= CUTS_MAX {
                self.rows[row] |= boxed;
                continue;
            }
            self.cuts += 1;
            let band = (DVec2::new(low.x, row as f64), DVec2::new(high.x, row as f64 + 1.0));
            let piece = convex::inside(q, band.0.with_x(0.0), band.1.with_x(f64::from(UDIM_COLUMNS)));
            if piece.area() > 0.0 {
                let least = piece.corners().iter().map(|p| p.x).fold(f64::INFINITY, f64::min);
                let most = piece.corners().iter().map(|p| p.x).fold(0.0, f64::max);
                self.rows[row] |= if one_tile { boxed } else { columns(least, most) };
            }
        }
    }

    /// (row, column) ascending; the first tile where none is in use.
    pub(super) fn list(&self) -> Vec<(u32, u32)> {
        let mut tiles = Vec::new();
        for (row, columns) in (0u32..).zip(&self.rows) {
            tiles.extend((0..UDIM_COLUMNS).filter(|column| columns >> column & 1 == 1).map(|column| (row, column)));
        }
        if tiles.is_empty() { vec![(0, 0)] } else { tiles }
    }
}

/// Columns with some of `from..to` inside, as bits; both in 0..=10.
fn columns(from: f64, to: f64) -> u16 {
    let below = |column: u32| (1u16 << column) - 1;
    below(to.ceil() as u32) & !below(from.floor() as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tiles(triangles: &[[[f64; 2]; 3]]) -> Vec<(u32, u32)> {
        let mut tiles = TilesInUse::default();
        let limit = DVec2::new(f64::from(UDIM_COLUMNS), f64::from(UDIM_ROWS));
        for q in triangles {
            let q = q.map(DVec2::from_array);
            let (low, high) = (q[0].min(q[1]).min(q[2]), q[0].max(q[1]).max(q[2]));
            tiles.note(q, low.max(DVec2::ZERO), high.min(limit));
        }
        tiles.list()
    }

    #[test]
    fn touching_a_tile_border_uses_the_tile_on_its_left() {
        assert_eq!(tiles(&[[[0.2, 0.0], [1.0, 0.0], [1.0, 1.0]]]), [(0, 0)]);
        assert_eq!(tiles(&[[[1.0, 0.0], [1.5, 0.0], [1.0, 1.0]]]), [(0, 1)]);
        assert_eq!(tiles(&[[[0.0, 1.0], [1.0, 1.0], [1.0, 2.0]]]), [(1, 0)]);
        assert_eq!(tiles(&[]), [(0, 0)]);
    }

    #[test]
    fn a_triangle_across_tiles_uses_the_tiles_it_has_area_in() {
        // Its slanted side passes (1, 1) and (2, 0) exactly.
        assert_eq!(tiles(&[[[0.0, 0.0], [2.0, 0.0], [0.0, 2.0]]]), [(0, 0), (0, 1), (1, 0)]);
        // A thin one along the diagonal: five tiles on it, and where it widens both beside every crossing.
        let thin = tiles(&[[[0.1, 0.1], [4.9, 4.8], [4.8, 4.9]]]);
        assert_eq!(thin.len(), 5 + 2 * 4);
        assert!(thin.iter().all(|(row, column)| row.abs_diff(*column) <= 1));
    }

    #[test]
    fn triangles_outside_all_tiles_use_none() {
        assert_eq!(
            tiles(&[[[-1.0, -1.0], [0.0, -1.0], [0.0, 0.0]], [[10.0, 0.0], [12.0, 0.0], [10.0, 2.0]]]),
            [(0, 0)]
        );
        // Its box reaches the first tile, itself it does not.
        assert_eq!(tiles(&[[[-1.0, 0.5], [0.5, -1.0], [-1.0, -1.0]], [[3.2, 0.2], [3.4, 0.2], [3.2, 0.4]]]), [(0, 3)]);
    }

    #[test]
    fn huge_triangles_are_bounded_by_the_last_row() {
        let found = tiles(&[[[-1e9, -1e9], [1e9, -1e9], [0.0, 1e9]]]);
        assert_eq!(found.len(), (UDIM_COLUMNS * UDIM_ROWS) as usize);
        assert_eq!(found.last(), Some(&(UDIM_ROWS - 1, UDIM_COLUMNS - 1)));
    }
}
