//! The lenses' patterns, as the page's shaders draw them: they lie on the sheet, on a lattice whose cells are powers of
//! two of map px, stay about the same size in the picture, and fade to their mean before they could shimmer.
//!
//! The same distances as `view/shaders/patterns.glsl`, which cannot be called from here: `tests/browser/lenses.rs` compares
//! their pixels.

use super::{CIRCLE_FADES, CIRCLE_PX, FLIPPED, FOLDED, MIRRORED, Marks, PARTIAL_OVERLAP, STACKED, STRETCHED, TILTED};
use crate::grid::RING_RADIUS;
use glam::{Vec2, vec2};

/// A pattern.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shape {
    /// Short lines along a direction.
    Strokes,
    /// Wide diagonal bars.
    Bars,
    /// Fine cross-hatch.
    Hatch,
    /// Pairs of chevrons that point along a direction.
    Chevrons,
    /// Dots.
    Dots,
    /// The joints of a wall.
    Bricks,
    /// Stems with a head that point up the sheet.
    Stems,
    /// Too little.
    Minus,
    /// Too much.
    Plus,
}

impl Shape {
    /// All of them, by number.
    pub const ALL: [Self; 9] = [
        Self::Strokes,
        Self::Bars,
        Self::Hatch,
        Self::Chevrons,
        Self::Dots,
        Self::Bricks,
        Self::Stems,
        Self::Minus,
        Self::Plus,
    ];

    /// From 1; 0 is left for none.
    pub const fn number(self) -> u32 {
        self as u32 + 1
    }

    /// The pattern of this number.
    pub fn numbered(number: u32) -> Option<Self> {
        Self::ALL.get(number.checked_sub(1)? as usize).copied()
    }

    /// Its name on the page and, in capitals, in the shaders.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Strokes => "strokes",
            Self::Bars => "bars",
            Self::Hatch => "hatch",
            Self::Chevrons => "chevrons",
            Self::Dots => "dots",
            Self::Bricks => "bricks",
            Self::Stems => "stems",
            Self::Minus => "minus",
            Self::Plus => "plus",
        }
    }

    /// The colour of its kind; `None` on a scale, where it is ink or paper.
    pub const fn colour(self) -> Option<[u8; 3]> {
        match self {
            Self::Strokes => Some(STRETCHED),
            Self::Bars => Some(FLIPPED),
            Self::Hatch => Some(FOLDED),
            Self::Chevrons => Some(MIRRORED),
            Self::Dots => Some(STACKED),
            Self::Bricks => Some(PARTIAL_OVERLAP),
            Self::Stems => Some(TILTED),
            Self::Minus | Self::Plus => None,
        }
    }
}

/// Coverage 0..=1 at `px` of the map, which moves by `dx` and `dy` a pixel of the picture. `along` has length 1, `size`
/// is 0..=1.
pub fn cover(shape: Shape, px: Vec2, [dx, dy]: [Vec2; 2], along: Vec2, size: f32, marks: &Marks) -> f32 {
    // The singular values of the derivatives. The smaller one is the direction without foreshortening.
    let (a, b, c) = (dx.length_squared(), dy.length_squared(), dx.dot(dy));
    let most = (0.5 * (a + b + ((a - b) * (a - b) + 4.0 * c * c).sqrt())).sqrt();
    let least = (dx.perp_dot(dy).abs() / most.max(1e-20)).max(most * 0.125);
    let level = (least * marks.cell_px).max(1e-12).log2();
    let whole = level.floor();
    let scale = (-whole).exp2();
    let pixel = 0.5 * (most + least) * scale;
    let mut cover = at(shape, px * scale, pixel, along, size, marks);
    let next = smoothstep(0.8, 1.0, level - whole);
    if next > 0.0 {
        let coarser = at(shape, px * scale * 0.5, pixel * 0.5, along, size, marks);
        cover += (coarser - cover) * next;
    }
    cover + (marks.mean - cover) * smoothstep(0.25, 0.6, pixel)
}

/// Coverage 0..=1 of the line of the circle in a cell of the grid. `cell` is in cells, and moves by `dx` and `dy` a
/// pixel of the picture. The line keeps its width in any view; where circles are too small to distinguish, it fades.
pub fn circle(cell: Vec2, [dx, dy]: [Vec2; 2]) -> f32 {
    let inner = cell - cell.floor() - Vec2::splat(0.5);
    let off = inner.length();
    let outwards = inner / off.max(1e-4);
    let pixel = vec2(outwards.dot(dx), outwards.dot(dy)).length().max(1e-6);
    let line = (0.5 + 0.5 * CIRCLE_PX - (off - RING_RADIUS as f32).abs() / pixel).clamp(0.0, 1.0);
    line * (1.0 - smoothstep(CIRCLE_FADES.0, CIRCLE_FADES.1, pixel))
}

/// `cell` in cells of the lattice, `pixel` the width of a pixel in cells.
fn at(shape: Shape, cell: Vec2, pixel: f32, along: Vec2, size: f32, marks: &Marks) -> f32 {
    let line = marks.line;
    let fract = |v: Vec2| v - v.floor();
    let from_middle = |x: f32| (x - x.floor() - 0.5).abs();
    let brick = vec2(cell.x + 0.5 * cell.y.floor().rem_euclid(2.0), cell.y);
    let inner = fract(brick) - Vec2::splat(0.5);
    let turned = vec2(inner.dot(along), along.perp_dot(inner));
    let outside = match shape {
        Shape::Strokes => vec2((turned.x.abs() - 0.1 - 0.26 * size).max(0.0), turned.y).length() - line,
        Shape::Bars => from_middle((cell.x + cell.y) * std::f32::consts::FRAC_1_SQRT_2) - marks.bar,
        Shape::Hatch => {
            let lines = from_middle((cell.x + cell.y) * 2.1213).min(from_middle((cell.x - cell.y) * 2.1213));
            lines / 3.0 - 0.7 * line
        }
        Shape::Chevrons => {
            let front = turned.x + turned.y.abs() * 0.9;
            let arms = (front - 0.3).abs().min((front - 0.02).abs()) * 0.74 - line;
            arms.max(turned.y.abs() - 0.27)
        }
        Shape::Dots => inner.length() - 0.17,
        Shape::Bricks => {
            let wall = vec2(cell.x + 0.5 * (cell.y * 2.0).floor().rem_euclid(2.0), cell.y * 2.0);
            let joint = (fract(wall - Vec2::splat(0.5)) - Vec2::splat(0.5)).abs() * vec2(1.0, 0.5);
            joint.min_element() - 0.7 * line
        }
        Shape::Stems => {
            let stem = (inner.x.abs() - 0.8 * line).max(inner.y.abs() - 0.3);
            let head = ((inner.y - 0.3 + inner.x.abs() * 1.2).abs() * 0.64 - 0.8 * line).max(inner.x.abs() - 0.2);
            stem.min(head)
        }
        Shape::Minus | Shape::Plus => {
            let arm = 0.12 + 0.18 * size;
            let far = inner.abs();
            let across = (far.x - arm).max(far.y - line);
            if shape == Shape::Plus { across.min((far.y - arm).max(far.x - line)) } else { across }
        }
    };
    (0.5 - outside / pixel).clamp(0.0, 1.0)
}

/// Hermite's step, as GLSL defines it.
pub fn smoothstep(low: f32, high: f32, x: f32) -> f32 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}
