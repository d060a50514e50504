//! The sheet's camera: where on the canvas which uv is. Pure arithmetic, no browser.
//!
//! A map pixel is a square on the screen, whatever the map's aspect: px of the canvas = (uv - centre) * map * scale, u to
//! the right, v up. All functions are total.

use glam::DVec2;

use super::camera::Between;
use super::clear::{Clear, roomiest};

/// Share of the place that the fitted tile fills; the rest is for the ruler.
const FIT_FILL: f64 = 0.88;
/// Screen px per map px, least and most: a whole sheet of tiles in a corner; single texels several cm wide.
const SCALE_LIMITS: (f64, f64) = (1e-6, 512.0);
/// Room around a region that is shown, in its own sizes.
const SHOW_MARGIN: f64 = 0.35;
/// A region is shown no closer than this share of the tile, so that its surroundings are visible.
const SHOW_LEAST: f64 = 0.04;

/// What the sheet shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SheetCamera {
    /// uv in the middle of the place.
    pub centre: DVec2,
    /// Canvas px per map px, > 0.
    pub scale: f64,
    /// Map width and height, px.
    pub map_px: DVec2,
}

impl SheetCamera {
    /// The tile 0..1, before anything is known of the place.
    pub fn new(map_px: DVec2) -> Self {
        Self { centre: DVec2::splat(0.5), scale: 1.0, map_px: map_px.max(DVec2::ONE) }
    }

    /// Canvas px per unit of u and of v.
    pub fn px_per_uv(&self) -> DVec2 {
        self.map_px * self.scale
    }

    /// Clip space from uv: factor and offset, for a place of this size, px.
    pub fn clip_from_uv(&self, place: DVec2) -> (DVec2, DVec2) {
        let factor = self.px_per_uv() * 2.0 / place.max(DVec2::ONE);
        (factor, -self.centre * factor)
    }

    /// uv under (`x`, `y`), px from the place's middle, y down.
    pub fn uv_at(&self, x: f64, y: f64) -> DVec2 {
        self.centre + DVec2::new(x, -y) / self.px_per_uv()
    }

    /// The sheet follows a drag, px, y down.
    pub fn pan(&mut self, dx: f64, dy: f64) {
        self.centre -= DVec2::new(dx, -dy) / self.px_per_uv();
    }

    /// Comes closer by `factor` (> 1); the uv under (`x`, `y`), px from the place's middle, y down, stays there.
    pub fn zoom(&mut self, factor: f64, x: f64, y: f64) {
        if !(factor > 0.0 && factor.is_finite()) {
            return;
        }
        let fixed = self.uv_at(x, y);
        self.scale = (self.scale * factor).clamp(SCALE_LIMITS.0, SCALE_LIMITS.1);
        self.centre += fixed - self.uv_at(x, y);
    }

    /// Shows all of a region of uv, as large as the roomiest of the place's clear areas allows, in its middle.
    pub fn fit(&mut self, low: DVec2, high: DVec2, clear: &[Clear]) {
        let size = ((high - low) * self.map_px).max(DVec2::splat(1e-6));
        let area = roomiest(clear, size);
        let scale = (area.size * FIT_FILL / size).min_element();
        if scale.is_finite() && low.is_finite() && high.is_finite() {
            self.scale = scale.clamp(SCALE_LIMITS.0, SCALE_LIMITS.1);
            self.centre = (low + high) / 2.0 - area.middle * DVec2::new(1.0, -1.0) / self.px_per_uv();
        }
    }

    /// Shows a region with its surroundings.
    pub fn show(&mut self, low: DVec2, high: DVec2, clear: &[Clear]) {
        let middle = (low + high) / 2.0;
        let half = ((high - low).abs() * (0.5 + SHOW_MARGIN)).max(DVec2::splat(SHOW_LEAST / 2.0));
        self.fit(middle - half, middle + half, clear);
    }
}

impl Between for SheetCamera {
    /// The scale by its logarithm; the centre so that the target region moves evenly on the screen.
    fn between(from: Self, to: Self, part: f64) -> Self {
        let ratio = to.scale / from.scale;
        let scale = from.scale * ratio.powf(part);
        // Centre moves with 1/scale, which is what a zoom about a fixed point does; evenly where nothing is zoomed.
        let way = if (ratio - 1.0).abs() < 1e-3 {
            part
        } else {
            (1.0 / from.scale - 1.0 / scale) / (1.0 / from.scale - 1.0 / to.scale)
        };
        Self { centre: from.centre.lerp(to.centre, way), scale, map_px: to.map_px }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLACE: DVec2 = DVec2::new(400.0, 300.0);

    fn whole() -> [Clear; 1] {
        [Clear::whole(PLACE)]
    }

    #[test]
    fn a_region_is_shown_in_the_middle_of_the_clear_area() {
        let mut sheet = SheetCamera::new(DVec2::splat(1024.0));
        let clear = Clear { middle: DVec2::new(70.0, -25.0), size: DVec2::new(200.0, 150.0) };
        sheet.fit(DVec2::new(0.2, 0.4), DVec2::new(0.6, 0.5), &[clear]);
        assert!((sheet.uv_at(70.0, -25.0) - DVec2::new(0.4, 0.45)).length() < 1e-12);
        assert!((sheet.px_per_uv().x * 0.4 - 200.0 * FIT_FILL).abs() < 1e-9);
    }

    #[test]
    fn a_map_px_is_square_on_the_screen() {
        let mut sheet = SheetCamera::new(DVec2::new(2048.0, 512.0));
        sheet.fit(DVec2::ZERO, DVec2::ONE, &whole());
        assert_eq!(sheet.px_per_uv().x, sheet.px_per_uv().y * 4.0);
        assert!((sheet.px_per_uv().x - PLACE.x * FIT_FILL).abs() < 1e-9);
    }

    #[test]
    fn clip_space_and_px_agree() {
        let mut sheet = SheetCamera::new(DVec2::new(2048.0, 1024.0));
        sheet.fit(DVec2::new(-0.5, 0.25), DVec2::new(1.5, 1.25), &whole());
        let (factor, offset) = sheet.clip_from_uv(PLACE);
        let uv = sheet.uv_at(120.0, -40.0);
        let px = (uv * factor + offset) * PLACE / 2.0;
        assert!((px - DVec2::new(120.0, 40.0)).length() < 1e-9);
    }

    #[test]
    fn zooming_keeps_what_is_under_the_pointer() {
        let mut sheet = SheetCamera::new(DVec2::splat(2048.0));
        sheet.fit(DVec2::ZERO, DVec2::ONE, &whole());
        let before = sheet.uv_at(77.0, 31.0);
        sheet.zoom(3.0, 77.0, 31.0);
        assert!((sheet.uv_at(77.0, 31.0) - before).length() < 1e-12);
        sheet.zoom(f64::INFINITY, 0.0, 0.0);
        assert!(sheet.scale.is_finite());
    }

    #[test]
    fn panning_moves_the_sheet_with_the_pointer() {
        let mut sheet = SheetCamera::new(DVec2::splat(1024.0));
        let uv = sheet.uv_at(10.0, 20.0);
        sheet.pan(5.0, -7.0);
        assert!((sheet.uv_at(15.0, 13.0) - uv).length() < 1e-12);
    }

    #[test]
    fn a_flight_ends_on_the_region_and_a_region_that_is_not_finite_changes_nothing() {
        let from = SheetCamera::new(DVec2::splat(2048.0));
        let mut to = from;
        to.show(DVec2::new(0.1, 0.1), DVec2::new(0.2, 0.3), &whole());
        assert!((to.centre - DVec2::new(0.15, 0.2)).length() < 1e-12);
        assert!((SheetCamera::between(from, to, 1.0).centre - to.centre).length() < 1e-9);
        assert!((SheetCamera::between(from, to, 0.0).centre - from.centre).length() < 1e-9);
        let before = to;
        to.fit(DVec2::NAN, DVec2::ONE, &whole());
        assert_eq!(to, before);
    }
}
