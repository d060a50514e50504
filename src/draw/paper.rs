//! The calibrated grid as a texture: mip levels, and a filter that follows the footprint of a pixel.
//!
//! Trilinear taps along the footprint's long axis, as many as the footprint is longer than wide, at most
//! [`MOST_TAPS`]. The sheet repeats. Colours are mixed as codes, which is what the page's graphics system does with this texture;
//! the levels themselves are means in linear light (`grid`).

use crate::brief::SheetMap;
use crate::grid::{GridOptions, Painter, Picture};
use glam::{DVec2, Vec3};

/// Most taps along a footprint; 8 is what graphics systems commonly offer.
const MOST_TAPS: f64 = 8.0;

/// The sheet, ready to be looked up.
pub struct Paper {
    levels: Vec<Picture>,
}

impl Paper {
    /// Longer side of the texture, px: a pixel of a picture this size seldom needs more.
    pub const LONGEST_PX: u32 = 2048;

    /// Of a map, for pictures of any size.
    pub fn new(map: SheetMap) -> Self {
        Self::up_to(map, Self::LONGEST_PX)
    }

    /// Of a map; with its longer side at most so many px, as small pictures of whole models need it.
    pub fn up_to(map: SheetMap, longest_px: u32) -> Self {
        let options = GridOptions::new(map.width_px, map.height_px);
        let longest = map.width_px.max(map.height_px).max(1);
        let wanted = longest.min(longest_px);
        let side = |px: u32| ((u64::from(px) * u64::from(wanted) / u64::from(longest)) as u32).max(1);
        Self { levels: Painter::new(&options, side(map.width_px), side(map.height_px)).finish() }
    }

    /// Mean colour, codes 0..=255, around `uv` over a footprint that `dx` and `dy` (uv a pixel) span.
    pub fn at(&self, uv: DVec2, dx: DVec2, dy: DVec2) -> Vec3 {
        let size = DVec2::new(self.levels[0].width.into(), self.levels[0].height.into());
        let (x, y) = ((dx * size).length(), (dy * size).length());
        let (most, least, along) = if x >= y { (x, y, dx) } else { (y, x, dy) };
        let taps = (most / least.max(1e-9)).ceil().clamp(1.0, MOST_TAPS);
        let level = (most / taps).max(1e-9).log2().clamp(0.0, (self.levels.len() - 1) as f64);
        let (fine, part) = (level as usize, (level - level.floor()) as f32);
        let mut sum = Vec3::ZERO;
        for tap in 0..taps as u32 {
            let place = uv + along * ((f64::from(tap) + 0.5) / taps - 0.5);
            let colour = bilinear(&self.levels[fine], place);
            sum += match self.levels.get(fine + 1).filter(|_| part > 0.0) {
                Some(coarser) => colour.lerp(bilinear(coarser, place), part),
                None => colour,
            };
        }
        sum / taps as f32
    }
}

fn bilinear(level: &Picture, uv: DVec2) -> Vec3 {
    let (width, height) = (level.width as usize, level.height as usize);
    // Repeated, row 0 at the top.
    let x = (uv.x - uv.x.floor()) * width as f64 - 0.5;
    let y = (1.0 - (uv.y - uv.y.floor())) * height as f64 - 0.5;
    let (x0, y0) = (x.floor(), y.floor());
    let (fx, fy) = ((x - x0) as f32, (y - y0) as f32);
    // Between -1 and the side: at most one side too far. Non-finite values read the first pixel.
    let wrap = |at: f64, side: usize| ((at + side as f64) as usize) % side;
    let (xs, ys) = ([wrap(x0, width), wrap(x0 + 1.0, width)], [wrap(y0, height), wrap(y0 + 1.0, height)]);
    let pixel = |x: usize, y: usize| {
        let at = (y * width + x) * 4;
        Vec3::new(level.rgba[at].into(), level.rgba[at + 1].into(), level.rgba[at + 2].into())
    };
    let top = pixel(xs[0], ys[0]).lerp(pixel(xs[1], ys[0]), fx);
    let bottom = pixel(xs[0], ys[1]).lerp(pixel(xs[1], ys[1]), fx);
    top.lerp(bottom, fy)
}
