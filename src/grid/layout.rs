//! Positions on the sheet: the cell lattice, its colours and the proportions of what a cell carries.
//!
//! All proportions are in cells (1 = the side of a cell), x to the right and y UP the sheet from the cell's own bottom
//! left. They are chosen so that at the default 64 px a cell the edges of rules, figures and shaft fall on whole
//! pixels.

use super::{GridOptions, MAX_CELL_PX, MIN_CELL_PX};

/// Cells on the side of a block.
pub const BLOCK_CELLS: u32 = 8;
/// The blocks' paper tints, sRGB: even and odd block columns of even block rows, then of odd ones.
pub const PAPER_TINTS: [[u8; 3]; 4] = [[0xFB, 0xF7, 0xEC], [0xEF, 0xE9, 0xDA], [0xE6, 0xEC, 0xEB], [0xF2, 0xEB, 0xE4]];
/// The circles' colour, sRGB.
pub const RING: [u8; 3] = [0x2F, 0x5D, 0x73];
/// The ink of rules, pennants and figures, sRGB.
pub const INK: [u8; 3] = [0x17, 0x26, 0x3B];

/// A length of the sheet in 64ths of a cell.
const fn at_64(px: f64) -> f64 {
    px / 64.0
}

/// Half the width of the fine rules between cells.
pub(super) const FINE_HALF: f64 = at_64(1.0);
/// How much of the ink a fine rule takes: it must stay weaker than the circle.
pub(super) const FINE_STRENGTH: f32 = 0.28;
/// Half the width of the rules around blocks and the sheet.
pub(super) const HEAVY_HALF: f64 = at_64(2.0);
/// How much of the ink a heavy rule and its ticks take.
pub(super) const HEAVY_STRENGTH: f32 = 0.92;
/// Half the width of the ruler's ticks.
pub(super) const TICK_HALF: f64 = at_64(1.0);
/// How far quarter ticks reach from the middle of a block's rule into the block.
pub(super) const QUARTER_TICK: f64 = at_64(7.0);
/// How far half ticks reach: to the circle's line, which comes nearest there, so that they mark where it touches.
pub(super) const HALF_TICK: f64 = at_64(5.0);
/// Inner and outer radius of the circle's line around the middle of the cell.
pub(super) const RING_RADII: (f64, f64) = (at_64(25.5), at_64(28.0));
/// Radius of the middle of the circle's line.
pub const RING_RADIUS: f64 = (RING_RADII.0 + RING_RADII.1) / 2.0;

/// The cell lattice of one map.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lattice {
    /// Map width and height, px.
    pub map: [u32; 2],
    /// Side of a cell, map px.
    pub cell_px: u32,
}

impl Lattice {
    pub fn new(options: &GridOptions) -> Self {
        Self {
            map: [options.map_width_px.max(1), options.map_height_px.max(1)],
            cell_px: options.cell_px.clamp(MIN_CELL_PX, MAX_CELL_PX),
        }
    }

    /// Columns and rows, the cut ones at the far edges included.
    pub fn cells(&self) -> [u32; 2] {
        self.map.map(|side| side.div_ceil(self.cell_px))
    }

    /// Width and height of the sheet in cells, the cut ones by their part.
    pub fn extent(&self) -> [f64; 2] {
        self.map.map(|side| f64::from(side) / f64::from(self.cell_px))
    }

    /// How many figures the addresses of this sheet have for column and row: the same in every cell, at least two.
    pub fn figures(&self) -> [usize; 2] {
        self.cells().map(|count| (count - 1).to_string().len().max(2))
    }
}

/// Column and row of the cell at (u, v), counted from 0 at the sheet's bottom left; the cell's size is clamped as when
/// painting.
///
/// The right and top edge (1.0) belong to the last cell. `None` outside 0..=1 and for NaN.
pub fn cell_at(options: &GridOptions, u: f64, v: f64) -> Option<(u32, u32)> {
    let lattice = Lattice::new(options);
    let cells = lattice.cells();
    let along = |axis: usize, t: f64| {
        (0.0..=1.0).contains(&t).then(|| {
            let index = (t * f64::from(lattice.map[axis]) / f64::from(lattice.cell_px)).floor();
            // Within u32: t is in 0..=1 and the map's side is a u32.
            (index as u32).min(cells[axis] - 1)
        })
    };
    Some((along(0, u)?, along(1, v)?))
}
