//! How far a shell reaches beyond the tiles, px of the map.
//!
//! The greatest distance of its corners beyond a side: of all corners that is the one of their box. What is collapsed has no
//! place on the map. Cost: none beyond the box.

use super::tiles::{UDIM_COLUMNS, UDIM_ROWS};
use crate::brief::{SheetMap, Tiles};
use crate::measure::flat::map_sizes::map_scale;
use glam::DVec2;

/// Less than this beyond the tiles is nothing: no texel's middle lies there. px, computed.
pub const NOTHING_PX: f64 = 0.5;

/// The upper right corner of the tiles there are, uv; the lower left is 0.
pub fn tiles_end(tiles: Tiles) -> DVec2 {
    match tiles {
        Tiles::Udim => DVec2::new(f64::from(UDIM_COLUMNS), f64::from(UDIM_ROWS)),
        Tiles::Single | Tiles::Repeat | Tiles::Palette => DVec2::ONE,
    }
}

/// How far a box of uvs reaches beyond the tiles, px, along the axis on which it is more; 0 inside.
pub fn beyond_px(low: DVec2, high: DVec2, map: SheetMap) -> f64 {
    let beyond = (-low).max(high - tiles_end(map.tiles)) * map_scale(map);
    beyond.max_element().max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_are_in_px_of_each_axis() {
        let map = SheetMap { width_px: 1000, height_px: 100, ..SheetMap::default() };
        let beyond = |map, low: [f64; 2], high: [f64; 2]| beyond_px(low.into(), high.into(), map);
        assert_eq!(beyond(map, [0.0, 0.0], [1.0, 1.0]), 0.0);
        assert_eq!(beyond(map, [0.25, -0.0625], [0.5, 0.5]), 6.25);
        assert_eq!(beyond(map, [0.25, -0.0625], [1.25, 0.5]), 250.0);
        assert_eq!(beyond(map, [-3.0, 2.0], [-2.0, 3.0]), 3000.0);
        let udim = SheetMap { tiles: Tiles::Udim, ..map };
        assert_eq!(beyond(udim, [0.5, 0.5], [3.5, 12.0]), 0.0);
        assert_eq!(beyond(udim, [9.5, 0.5], [10.25, 12.0]), 250.0);
    }
}
