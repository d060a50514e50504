//! What a triangle looks like through a lens: its ground, its pattern, and on which side of the brief's limits it is.
//! Decided only here: `brush` colours by it, `glsl` writes the same lists for the shaders, `drawn` is the sheet without
//! WebGL2.
//!
//! A lens is a list of rules, the most severe first; the first whose bits a triangle has is what it shows. Limits are
//! in the bits (see `texels`), so that every lens means the same by "stretched".

use super::pattern::Shape;
use super::{Lens, TriangleTexel, flag, state};

/// A triangle that has one of these bits of [`TriangleTexel::bits`] shows this.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rule {
    /// Any of them.
    pub bits: u32,
    /// Its pattern.
    pub shape: Option<Shape>,
    /// Where it lies.
    pub class: Class,
}

/// On which side of the limits a surface is; between two classes runs a contour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Class {
    /// Within.
    Within,
    /// Outside, in one direction.
    Outside,
    /// Outside, in another direction.
    OutsideOtherwise,
}

impl Class {
    /// As pictures mix it: 0, a half, 1.
    pub fn level(self) -> f32 {
        match self {
            Self::Within => 0.0,
            Self::Outside => 0.5,
            Self::OutsideOtherwise => 1.0,
        }
    }
}

use Class::{Outside, OutsideOtherwise, Within};

const fn flagged(bits: u8, shape: Shape, class: Class) -> Rule {
    Rule { bits: bits as u32, shape: Some(shape), class }
}

const fn stated(bits: u16, shape: Option<Shape>, class: Class) -> Rule {
    Rule { bits: (bits as u32) << 8, shape, class }
}

/// What has no area on the sheet has no direction either, along which strokes could run.
const STRETCH: [Rule; 3] = [
    stated(state::COLLAPSED, None, OutsideOtherwise),
    flagged(flag::STRETCHED, Shape::Strokes, OutsideOtherwise),
    stated(state::DIRECTED, Some(Shape::Strokes), Within),
];
const DENSITY: [Rule; 2] =
    [stated(state::TOO_LOW, Some(Shape::Minus), Outside), stated(state::TOO_HIGH, Some(Shape::Plus), OutsideOtherwise)];
const FLIPPED: [Rule; 2] =
    [flagged(flag::FOLDED, Shape::Hatch, Outside), flagged(flag::FLIPPED, Shape::Bars, OutsideOtherwise)];
const OVERLAPS: [Rule; 3] = [
    flagged(flag::PARTIAL_OVERLAP, Shape::Bricks, OutsideOtherwise),
    flagged(flag::MIRRORED, Shape::Chevrons, Outside),
    flagged(flag::STACKED, Shape::Dots, OutsideOtherwise),
];
/// Why a triangle is not safe for text: flipped, overlapping, stretched, tilted. It is `UNSAFE` if any of them holds.
const TEXT: [Rule; 4] = [
    flagged(flag::REVERSED, Shape::Bars, OutsideOtherwise),
    flagged(flag::MIRRORED | flag::STACKED | flag::PARTIAL_OVERLAP, Shape::Dots, OutsideOtherwise),
    Rule {
        bits: flag::STRETCHED as u32 | (state::COLLAPSED as u32) << 8,
        shape: Some(Shape::Strokes),
        class: OutsideOtherwise,
    },
    stated(state::TILTED, Some(Shape::Stems), OutsideOtherwise),
];
/// A fold cannot be painted; text is mirrored, doubled or stretched.
const FLAGS: [Rule; 4] = [
    flagged(flag::FOLDED, Shape::Hatch, OutsideOtherwise),
    flagged(flag::FLIPPED, Shape::Bars, OutsideOtherwise),
    flagged(flag::MIRRORED, Shape::Chevrons, OutsideOtherwise),
    flagged(flag::STRETCHED, Shape::Strokes, OutsideOtherwise),
];
const LEANING: [Rule; 1] = [stated(state::TILTED, Some(Shape::Stems), Within)];

/// What lies below the pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Base {
    /// The calibrated grid.
    Grid,
    /// Plain paper; under Picture the user's texture, if any.
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
    /// Below the pattern.
    pub base: Base,
    /// Whether the base is nearly hidden: not safe for text.
    pub veiled: bool,
    /// Its pattern.
    pub shape: Option<Shape>,
    /// Whether the pattern's kind colours the base.
    pub tinted: bool,
    /// Direction of the pattern on the map, radians.
    pub direction: f32,
    /// Size of the pattern, 0..=1.
    pub size: f32,
    /// On which side of the limits.
    pub class: Class,
    /// Has no place on the sheet: patterns take a section through space.
    pub in_space: bool,
}

/// A lens with its options.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Through {
    /// The lens.
    pub lens: Lens,
    /// Whether the grid has its patterns.
    pub flags: bool,
    /// Whether the grid shows what is not upright.
    pub leaning: bool,
}

impl Through {
    /// The lens's rules, the most severe first.
    pub fn rules(self) -> impl Iterator<Item = &'static Rule> {
        let grid = self.lens == Lens::Grid;
        let (first, then): (&[Rule], &[Rule]) = match self.lens {
            Lens::Stretch => (&STRETCH, &[]),
            Lens::Density => (&DENSITY, &[]),
            Lens::Flipped => (&FLIPPED, &[]),
            Lens::Overlaps => (&OVERLAPS, &[]),
            Lens::Text => (&TEXT, &[]),
            Lens::Grid | Lens::Seams | Lens::Picture => {
                (if grid && self.flags { &FLAGS } else { &[] }, if grid && self.leaning { &LEANING } else { &[] })
            }
        };
        first.iter().chain(then)
    }

    /// Whether what a rule matches is veiled.
    pub fn veils(self) -> bool {
        self.lens == Lens::Text
    }

    /// Whether a pattern's kind colours what is below it. Tilt marks cover much of a model, whose grid keeps its
    /// colours.
    pub fn tints(self, shape: Shape) -> bool {
        !(self.lens == Lens::Grid && shape == Shape::Stems)
    }

    /// The look of a triangle.
    pub fn look(self, texel: &TriangleTexel) -> Look {
        let bits = texel.bits();
        let is_mapped = bits & u32::from(flag::MAPPED) != 0;
        let is_flat = bits & u32::from(state::COLLAPSED) << 8 != 0;
        let base = if !is_mapped {
            Base::Unmapped
        } else if self.lens.range().is_some() {
            let place = self.lens.value_of(texel).and_then(|value| self.lens.position(value));
            place.map_or(Base::Silent, Base::Scale)
        } else if self.lens.is_on_grid() && !is_flat {
            Base::Grid
        } else {
            Base::Paper
        };
        let says = !matches!(base, Base::Unmapped | Base::Silent);
        let rule = self.rules().find(|rule| says && bits & rule.bits != 0);
        let shape = rule.and_then(|rule| rule.shape);
        Look {
            base,
            veiled: self.veils() && rule.is_some(),
            shape,
            tinted: shape.is_some_and(|shape| self.tints(shape)),
            direction: if shape == Some(Shape::Chevrons) { texel.chevron } else { texel.direction }.unwrap_or(0.0),
            size: if let Base::Scale(place) = base { place } else { 1.0 },
            class: rule.map_or(Within, |rule| rule.class),
            in_space: is_flat || !is_mapped,
        }
    }
}
