//! How the sheet that is drawn without WebGL2 shows a triangle: one colour and one pattern each, so that the many triangles
//! of one look are filled at once.
//!
//! There are no contours, so that under a scale patterns say what is outside the limits, and only that. Of a colour and what
//! lies below it, the darker one of each channel is seen; light patterns are multiplied with it.

use super::look::{Base, Class, Look, Through};
use super::pattern::Shape;
use super::{LIGHT, Lens, MARK, PLAIN, SCALE_STEPS, TriangleTexel, ink_on, state};
use crate::lens::flag;

/// Steps of colour along a scale, and degrees between the directions that a pattern is turned to: few, so that many
/// triangles are alike.
const COLOURS: u32 = 64;
/// See [`COLOURS`].
const TURN_DEG: u32 = 15;
/// What is not known yet, what is faded, and what a shell makes of white.
const UNKNOWN: [u8; 3] = [232, 234, 232];
const FADED: [u8; 3] = [244, 244, 240];
const SHELL: [u8; 3] = [226, 230, 228];
/// What hides words where it is not safe for text.
const HIDING: [u8; 3] = [188, 185, 180];
/// How much of a kind's colour lies on the paper of a lens of kinds.
const WASH: f32 = 0.34;

/// Special numbers of looks: not on this sheet; not known yet; faded.
pub mod look {
    /// No place on this sheet.
    pub const NOWHERE: u32 = 0;
    /// Nothing is known of it yet.
    pub const UNKNOWN: u32 = 1;
    /// Other shells are selected.
    pub const FADED: u32 = 2;
}
/// Other numbers are a ground in three bits, then a pattern in four, its turn in five, and a step of the scale.
const SILENT: u32 = 3;
const KIND: u32 = 4;
const SCALED: u32 = 5;
const SHAPE_AT: u32 = 3;
const TURN_AT: u32 = 7;
const STEP_AT: u32 = 12;

/// What is selected; all else fades.
pub struct Kept<'a> {
    /// Least and greatest of the lens's own value; NaN for any.
    pub values: [f32; 2],
    /// Shells, ascending; none for all.
    pub shells: &'a [u32],
}

/// The number of each triangle's look, from its four words; `count` of them, of which words may be lacking.
pub fn looks(through: Through, words: &[u32], count: usize, kept: &Kept) -> Vec<u32> {
    let (known, _) = words.as_chunks::<4>();
    let all = known.iter().map(|&words| number(through, &TriangleTexel::decode(words), kept));
    all.chain(std::iter::repeat(look::UNKNOWN)).take(count).collect()
}

fn number(through: Through, texel: &TriangleTexel, kept: &Kept) -> u32 {
    if texel.flags & flag::MAPPED == 0 || texel.state & state::ELSEWHERE != 0 {
        return look::NOWHERE;
    }
    // As in the shader, what has no value counts as 0.
    let value = through.lens.value_of(texel).unwrap_or(0.0);
    let isolated = through.lens.range().is_some() && (value < kept.values[0] || value > kept.values[1]);
    let chosen = kept.shells.is_empty() || texel.shell.is_some_and(|shell| kept.shells.binary_search(&shell).is_ok());
    if isolated || !chosen {
        return look::FADED;
    }
    let Look { base, shape, direction, class, .. } = through.look(texel);
    let (ground, step) = match base {
        Base::Silent => (SILENT, 0),
        Base::Scale(place) => (SCALED, (place * (COLOURS - 1) as f32).round() as u32),
        Base::Grid | Base::Paper | Base::Unmapped => (KIND, 0),
    };
    let shape = shape.filter(|_| ground != SCALED || class != Class::Within);
    let turn = match shape {
        // Clockwise on the screen.
        Some(Shape::Strokes | Shape::Chevrons) => {
            let steps = (-direction.to_degrees() / TURN_DEG as f32).round() as i32;
            steps.rem_euclid(360 / TURN_DEG as i32) as u32
        }
        _ => 0,
    };
    ground | shape.map_or(0, Shape::number) << SHAPE_AT | turn << TURN_AT | step << STEP_AT
}

/// What a look is drawn with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// Of the two, it and what lies below, the darker one of each channel is seen.
    pub ground: [u8; 3],
    /// Its pattern.
    pub shape: Option<Shape>,
    /// What patterns and circles are drawn in; `None` where there are none.
    pub ink: Option<[u8; 3]>,
    /// How far the pattern is turned clockwise, degrees.
    pub turn_deg: u32,
    /// Whether its pattern is a light one, multiplied with what lies below.
    pub light: bool,
}

/// The style of a look that [`looks`] gave for this lens.
pub fn style(lens: Lens, look: u32) -> Style {
    let field = |at: u32, bits: u32| look >> at & ((1 << bits) - 1);
    let shape = Shape::numbered(field(SHAPE_AT, 4));
    let turn_deg = field(TURN_AT, 5) * TURN_DEG;
    let bare = |ground| Style { ground, shape: None, ink: None, turn_deg: 0, light: false };
    match field(0, 3) {
        look::UNKNOWN => bare(UNKNOWN),
        SILENT => bare(PLAIN),
        SCALED => {
            let step = ((look >> STEP_AT) as f32 * ((SCALE_STEPS - 1) as f32 / (COLOURS - 1) as f32)).round();
            let scale = lens.scale().unwrap_or([PLAIN; SCALE_STEPS]);
            let ground = scale[(step as usize).min(SCALE_STEPS - 1)];
            Style { ground, shape, ink: Some(ink_on(ground.map(f32::from))), turn_deg, light: false }
        }
        KIND if lens != Lens::Seams => match shape.and_then(|shape| Some((shape, Inks::of(shape.colour()?)))) {
            None => bare(SHELL),
            Some((shape, inks)) => {
                let light = lens == Lens::Grid;
                let through = Through { lens, flags: true, leaning: true };
                let ground = match lens {
                    Lens::Grid if through.tints(shape) => multiplied(thinned(inks.ground, LIGHT.tint), SHELL),
                    Lens::Grid => SHELL,
                    Lens::Text => HIDING,
                    _ => thinned(inks.ground, WASH),
                };
                let ink = Some(if light { inks.light_mark } else { inks.mark });
                Style { ground, shape: Some(shape), ink, turn_deg, light }
            }
        },
        _ => bare(FADED),
    }
}

/// The colours of a kind's pattern, to be multiplied with what is below.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Inks {
    /// Below its marks.
    pub ground: [u8; 3],
    /// Its marks.
    pub mark: [u8; 3],
    /// Its marks where they are light.
    pub light_mark: [u8; 3],
}

impl Inks {
    /// Of a kind's colour.
    pub fn of(ground: [u8; 3]) -> Self {
        let mark = ground.map(|code| (f32::from(code) * MARK).round() as u8);
        Self { ground, mark, light_mark: thinned(mark, LIGHT.strength) }
    }
}

/// The colour that, multiplied with it, leaves `share` of a ground's distance from `colour` times the ground.
fn thinned(colour: [u8; 3], share: f32) -> [u8; 3] {
    colour.map(|code| (255.0 + (f32::from(code) - 255.0) * share).round() as u8)
}

fn multiplied(one: [u8; 3], other: [u8; 3]) -> [u8; 3] {
    [0, 1, 2].map(|channel| (f32::from(one[channel]) * f32::from(other[channel]) / 255.0).round() as u8)
}
