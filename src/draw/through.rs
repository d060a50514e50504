//! What a triangle looks like through a lens: its ground, its pattern, and on which side of the brief's limits it is.
//! The same choices as `view/shaders/surface.vert`.

use super::pattern::Shape;
use crate::lens::{ANISOTROPY_AT_END, Lens, OCTAVES_AT_END, TriangleTexel, flag, state};

/// Stretch below which no direction is drawn: the eye sees none, and in a nearly conformal map it is noise. Own choice.
const STROKES_FROM: f32 = 1.06;

/// What lies below the pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Base {
    /// The calibrated grid.
    Grid,
    /// The grid, nearly hidden: letters would not come out right.
    Veiled,
    /// Plain paper.
    Paper,
    /// Not measured: plain grey.
    Silent,
    /// No uv: grey with dots.
    Unmapped,
    /// The lens's scale at this place, 0..=1.
    Scale(f32),
}

/// A triangle's look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    pub base: Base,
    pub shape: Option<Shape>,
    /// Direction of the pattern on the map, radians.
    pub direction: f32,
    /// Size of the pattern, 0..=1.
    pub size: f32,
    /// 0 within the limits, 0.5 and 1 outside them.
    pub class: f32,
    /// Has no place on the sheet: patterns take a section through space.
    pub in_space: bool,
}

/// Greatest octaves a triangle may be off, and the lens.
#[derive(Clone, Copy, Debug)]
pub struct Through {
    pub lens: Lens,
    /// Whether the grid wears its flags.
    pub flags: bool,
    /// The brief's limit.
    pub max_anisotropy: f32,
    /// The brief's tolerance.
    pub octave_tolerance: f32,
}

impl Through {
    /// The look of a triangle.
    pub fn look(&self, texel: &TriangleTexel) -> Look {
        let is = |bit: u8| texel.flags & bit != 0;
        let flattened = texel.state & state::COLLAPSED != 0;
        let on_grid = matches!(self.lens, Lens::Grid | Lens::Text);
        let base = if on_grid { Base::Grid } else { Base::Paper };
        let mut look = Look { base, shape: None, direction: 0.0, size: 0.0, class: 0.0, in_space: flattened };
        if !is(flag::MAPPED) {
            return Look { base: Base::Unmapped, in_space: true, ..look };
        }
        match self.lens {
            Lens::Stretch => match texel.anisotropy {
                Some(ratio) => {
                    look.size = (ratio.log2() / ANISOTROPY_AT_END.log2()).clamp(0.0, 1.0);
                    look.base = Base::Scale(look.size);
                    look.direction = texel.direction.unwrap_or(0.0);
                    look.shape = (ratio > STROKES_FROM && !flattened).then_some(Shape::Strokes);
                    look.class = if ratio > self.max_anisotropy { 1.0 } else { 0.0 };
                }
                None => look.base = Base::Silent,
            },
            Lens::Density => match texel.octaves.filter(|_| !flattened) {
                Some(octaves) => {
                    look.size = (octaves * 0.5 / OCTAVES_AT_END + 0.5).clamp(0.0, 1.0);
                    look.base = Base::Scale(look.size);
                    if octaves.abs() > self.octave_tolerance {
                        (look.shape, look.class) =
                            if octaves < 0.0 { (Some(Shape::Minus), 0.5) } else { (Some(Shape::Plus), 1.0) };
                    }
                }
                None => look.base = Base::Silent,
            },
            Lens::Flipped => {
                if is(flag::FOLDED) {
                    (look.shape, look.class) = (Some(Shape::Hatch), 0.5);
                } else if is(flag::FLIPPED) {
                    (look.shape, look.class) = (Some(Shape::Bars), 1.0);
                }
            }
            Lens::Overlaps => {
                look.direction = texel.chevron.unwrap_or(0.0);
                if is(flag::PARTIAL_OVERLAP) {
                    (look.shape, look.class) = (Some(Shape::Bricks), 1.0);
                } else if is(flag::MIRRORED) {
                    (look.shape, look.class) = (Some(Shape::Chevrons), 0.5);
                } else if is(flag::STACKED) {
                    (look.shape, look.class) = (Some(Shape::Dots), 1.0);
                }
            }
            Lens::Grid if self.flags => {
                // The gravest one: a fold cannot be painted, lettering comes out backwards, doubled, or drawn out.
                look.shape = [
                    (flag::FOLDED, Shape::Hatch),
                    (flag::FLIPPED, Shape::Bars),
                    (flag::MIRRORED, Shape::Chevrons),
                    (flag::STRETCHED, Shape::Strokes),
                ]
                .into_iter()
                .find_map(|(bit, shape)| is(bit).then_some(shape));
                let chevrons = look.shape == Some(Shape::Chevrons);
                look.direction = if chevrons { texel.chevron } else { texel.direction }.unwrap_or(0.0);
                (look.size, look.class) = (1.0, if look.shape.is_some() { 1.0 } else { 0.0 });
            }
            Lens::Text if texel.state & state::UNSAFE != 0 => {
                let shared = flag::MIRRORED | flag::STACKED | flag::PARTIAL_OVERLAP;
                let shape = if is(flag::REVERSED) {
                    Shape::Bars
                } else if is(shared) {
                    Shape::Dots
                } else if is(flag::STRETCHED) || flattened {
                    Shape::Strokes
                } else {
                    Shape::Stems
                };
                look.direction = texel.direction.unwrap_or(0.0);
                (look.base, look.shape, look.size, look.class) = (Base::Veiled, Some(shape), 1.0, 1.0);
            }
            Lens::Grid | Lens::Seams | Lens::Text | Lens::Picture => (),
        }
        if flattened && matches!(look.base, Base::Grid) {
            look.base = Base::Paper;
        }
        look
    }
}
