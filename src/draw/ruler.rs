//! Tile borders and rulers of the sheet, as segments in uv.

use glam::DVec2;

use super::sheet_camera::SheetCamera;
use crate::brief::{FIRST_TILE, UDIM_COLUMNS};
use crate::grid::BLOCK_CELLS;

/// Length of a tick at a block, CSS px; halves and ends are longer.
const TICK_PX: f64 = 5.0;
/// Most ticks a side: beyond, they are closer than they are wide.
const MOST_TICKS: u32 = 128;
/// Least distance between ticks, CSS px.
const TICK_GAP_PX: f64 = 4.0;
/// Tiles that uvs reach, drawn a side, at most.
const MOST_TILES: i32 = 10;

/// Groups of segments (u v u v each) with their width in CSS px and strength 0..=1: borders of the tiles that uvs reach,
/// the ticks of the first tile, the borders of the map's own tiles. `cells` are the columns and rows of cells in a tile,
/// `bounds_uv` the lowest and highest uv in use, `tiles` the UDIM numbers of the map's tiles, `ratio` canvas px a CSS px.
pub fn segments(
    camera: &SheetCamera,
    cells: DVec2,
    bounds_uv: [DVec2; 2],
    tiles: &[u32],
    ratio: f64,
) -> [(Vec<f32>, f32, f32); 3] {
    let mut others = Vec::new();
    let last = |high: f64| (high.ceil().clamp(1.0, f64::from(MOST_TILES))) as i32;
    let (columns, rows) = (last(bounds_uv[1].x), last(bounds_uv[1].y));
    if columns > 1 || rows > 1 {
        for column in 0..=columns {
            push(&mut others, DVec2::new(column.into(), 0.0), DVec2::new(column.into(), rows.into()));
        }
        for row in 0..=rows {
            push(&mut others, DVec2::new(0.0, row.into()), DVec2::new(columns.into(), row.into()));
        }
    }
    let mut border = Vec::new();
    for number in tiles.iter().filter_map(|tile| tile.checked_sub(FIRST_TILE)) {
        let corner = DVec2::new((number % UDIM_COLUMNS).into(), (number / UDIM_COLUMNS).into());
        for (from, to) in [([0, 0], [1, 0]), ([1, 0], [1, 1]), ([1, 1], [0, 1]), ([0, 1], [0, 0])] {
            let at = |[u, v]: [i32; 2]| corner + DVec2::new(u.into(), v.into());
            push(&mut border, at(from), at(to));
        }
    }
    let mut ticks = Vec::new();
    let per_uv = camera.px_per_uv();
    for axis in 0..2 {
        let across = 1 - axis;
        let blocks = (cells[axis] / f64::from(BLOCK_CELLS)).max(1e-9);
        let mut step = 1.0;
        while step / blocks * per_uv[axis] < TICK_GAP_PX * ratio && step < blocks {
            step *= 2.0;
        }
        let count = ((blocks / step).floor() as u32).min(MOST_TICKS);
        for tick in 0..=count {
            let at = f64::from(tick) * step / blocks;
            let long = (at * 2.0).fract() == 0.0;
            let reach = if long { 1.8 } else { 1.0 } * TICK_PX * ratio / per_uv[across];
            let mut from = DVec2::ZERO;
            from[axis] = at;
            let mut to = from;
            to[across] = -reach;
            push(&mut ticks, from, to);
        }
    }
    [(others, 1.0, 0.55), (ticks, 1.0, 0.7), (border, 1.6, 0.95)]
}

fn push(segments: &mut Vec<f32>, from: DVec2, to: DVec2) {
    segments.extend([from.x, from.y, to.x, to.y].map(|value| value as f32));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draw::clear::Clear;

    #[test]
    fn one_tile_has_four_borders_and_a_tick_at_every_block() {
        let mut camera = SheetCamera::new(DVec2::splat(2048.0));
        camera.fit(DVec2::ZERO, DVec2::ONE, &[Clear::whole(DVec2::splat(800.0))]);
        let [(others, ..), (ticks, ..), (border, ..)] =
            segments(&camera, DVec2::splat(32.0), [DVec2::ZERO, DVec2::ONE], &[1001], 1.0);
        assert!(others.is_empty());
        assert_eq!(border.len(), 4 * 4);
        assert_eq!(ticks.len(), 2 * 5 * 4);
        // The first tick extends below the origin by its length on the screen.
        let reach = f64::from(-ticks[3]) * camera.px_per_uv().y;
        assert!((reach - 1.8 * TICK_PX).abs() < 1e-4);
    }

    #[test]
    fn used_tiles_have_borders_and_far_uvs_do_not_make_a_million() {
        let camera = SheetCamera::new(DVec2::splat(2048.0));
        let [(others, ..), ..] =
            segments(&camera, DVec2::splat(32.0), [DVec2::ZERO, DVec2::new(2.5, 1e9)], &[1001], 1.0);
        assert_eq!(others.len(), (4 + 11) * 4);
    }

    #[test]
    fn udim_tiles_have_borders_at_their_numbers() {
        let camera = SheetCamera::new(DVec2::splat(2048.0));
        let tiles = [1001, 1012, 7];
        let [_, _, (border, ..)] = segments(&camera, DVec2::splat(32.0), [DVec2::ZERO, DVec2::splat(2.0)], &tiles, 1.0);
        assert_eq!(border.len(), 2 * 4 * 4, "7 is no tile's number");
        assert_eq!(border[16..20], [1.0, 1.0, 2.0, 1.0]);
    }
}
