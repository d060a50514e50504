//! The colour of a surface's pixel, before it is lit: what `view/shaders/surface.frag` computes.

use super::look::{Base, Look};
use super::pattern::{Shape, circle, cover};
use super::{CIRCLE_STRENGTH, Lens, MARK, PAPER, PLAIN, SCALE_STEPS, VEIL, ink_on};
use glam::{DVec2, Vec2, Vec3};

/// Colours surfaces as one lens shows them.
pub struct Brush {
    lens: Lens,
    scale: Option<[[u8; 3]; SCALE_STEPS]>,
    /// Of the map.
    px: DVec2,
    cell_px: f64,
}

impl Brush {
    /// For a map of `px` a tile, with cells of the grid of this side.
    pub fn new(lens: Lens, px: DVec2, cell_px: f64) -> Self {
        Self { lens, scale: lens.scale(), px, cell_px }
    }

    /// Codes 0..=255 of a look at `at`, which moves by `dx` and `dy` a pixel of the picture, in uv. `grid` is what the grid
    /// shows there.
    pub fn colour(&self, look: &Look, at: DVec2, [dx, dy]: [DVec2; 2], grid: impl FnOnce() -> Vec3) -> Vec3 {
        let marks = self.lens.marks();
        let steps = [dx, dy].map(|step| (step * self.px).as_vec2());
        let px = (at * self.px).as_vec2();
        let mut colour = match look.base {
            Base::Grid => grid(),
            Base::Paper => codes(PAPER),
            Base::Silent => codes(PLAIN),
            Base::Unmapped => {
                let dots = cover(Shape::Dots, px * 0.7, steps.map(|step| step * 0.7), Vec2::X, 0.0, marks);
                codes(PLAIN).lerp(codes(PLAIN) * MARK, dots)
            }
            Base::Scale(place) => self
                .scale
                .map_or(codes(PAPER), |scale| codes(scale[(place * (SCALE_STEPS - 1) as f32).round() as usize])),
        };
        if look.veiled {
            colour = colour.lerp(codes(PLAIN), VEIL);
        }
        let ink = codes(ink_on(colour.to_array()));
        let is_scaled = matches!(look.base, Base::Scale(_));
        if self.lens == Lens::Stretch && is_scaled && !look.in_space {
            let place = (at - at.floor()) * self.px / self.cell_px;
            let line = circle(place.as_vec2(), steps.map(|step| step / self.cell_px as f32));
            colour = colour.lerp(ink, line * CIRCLE_STRENGTH);
        }
        let Some(shape) = look.shape else { return colour };
        let cover = cover(shape, px, steps, Vec2::from_angle(look.direction), look.size, marks);
        match shape.colour() {
            Some(kind) if !is_scaled => {
                let hue = codes(kind) / 255.0;
                let tint = if look.tinted { marks.tint } else { 0.0 };
                colour * Vec3::ONE.lerp(hue, tint) * Vec3::ONE.lerp(hue * MARK, cover * marks.strength)
            }
            _ => colour.lerp(ink, cover),
        }
    }
}

fn codes(colour: [u8; 3]) -> Vec3 {
    Vec3::from(colour.map(f32::from))
}
