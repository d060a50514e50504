//! The lenses: colour scales, the data of each triangle and its look; one definition for shader, processor and drawn
//! sheet.
//!
//! * `look`: what a triangle shows, by rules. `pattern`, `brush`: the pixels of it, on the processor.
//! * [`glsl`]: the same rules, colours and thresholds for the shaders. [`drawn`]: the same for the sheet without WebGL2.
//! * `texels`: which bits a triangle has.
//!
//! Scales are published, colour-blind-safe tables, baked once here: the legend and the picture read the same bytes.
//! * Stretch: bilbao (F. Crameri, doi 10.5281/zenodo.1243862, MIT licence), run from its light, neutral end (a square
//!   stays a square: nothing to see) to its dark one, on the logarithm of the anisotropy.
//! * Density: PuOr in 11 steps (C. Brewer, ColorBrewer 2.0, Apache-2.0), interpolated linearly in sRGB, on octaves from
//!   the reference density; its neutral middle is the reference.
//! * Kinds (flipped, folded, shared ...): single colours of M. Okabe and K. Ito, *Color Universal Design*, 2008.
//!
//! A triangle's data is four 32-bit words, [`TriangleTexel`]; reals are IEEE 754 binary16, as `unpackHalf2x16` of
//! OpenGL ES 3.0 reads them.
//!
//! Bilbao's light end is white, so that a model without stretch looks like paper; a scale with a coloured light end
//! makes a good model look wrong.
//!
//! Strokes, signs and contours are ink on what is light and paper on what is dark, at full strength, with one threshold
//! (`INK_FROM`): a blend between the two would pass through the colour of the ground. A contour goes by the lightest colour
//! around it, or it would break where it borders a dark one. `tests/page/contrast.test.mjs` computes the contrasts and
//! reads the stylesheets: a colour used there has to be in its tables.

mod bilbao;
mod brush;
pub mod drawn;
pub mod glsl;
pub mod histogram;
mod look;
mod pattern;
mod texels;

pub use brush::Brush;
pub use look::{Base, Class, Look, Rule, Through};
pub use pattern::{Shape, smoothstep};
pub use texels::Texels;

use crate::grid::INK;

/// Anisotropy at the dark end of the Stretch scale, > 1; what is above takes the end's colour. 4 is two octaves, where
/// a circle has become a sliver; beyond, more colour would add nothing. Own choice.
pub const ANISOTROPY_AT_END: f32 = 4.0;
/// Octaves from the reference at either end of the Density scale: a quarter and four times. Own choice.
pub const OCTAVES_AT_END: f32 = 2.0;
/// Entries of a scale.
pub const SCALE_STEPS: usize = 256;

/// Okabe and Ito's orange: stretched over the limit.
pub const STRETCHED: [u8; 3] = [0xE6, 0x9F, 0x00];
/// Their vermillion: flipped.
pub const FLIPPED: [u8; 3] = [0xD5, 0x5E, 0x00];
/// Their reddish purple: folded.
pub const FOLDED: [u8; 3] = [0xCC, 0x79, 0xA7];
/// Their bluish green: mirrored overlap.
pub const MIRRORED: [u8; 3] = [0x00, 0x9E, 0x73];
/// Their sky blue: stacked.
pub const STACKED: [u8; 3] = [0x56, 0xB4, 0xE9];
/// Their yellow: partial overlap.
pub const PARTIAL_OVERLAP: [u8; 3] = [0xF0, 0xE4, 0x42];
/// Their blue: not upright.
pub const TILTED: [u8; 3] = [0x00, 0x72, 0xB2];
/// Paper, where there is no finding.
pub const PAPER: [u8; 3] = [0xFB, 0xF7, 0xEC];
/// A surface without measure.
pub const PLAIN: [u8; 3] = [0xCC, 0xC8, 0xC2];

/// ColorBrewer's PuOr, 11 steps, 0xRRGGBB, as published.
const PUOR: [u32; 11] =
    [0x7F3B08, 0xB35806, 0xE08214, 0xFDB863, 0xFEE0B6, 0xF7F7F7, 0xD8DAEB, 0xB2ABD2, 0x8073AC, 0x542788, 0x2D004B];

/// How a lens draws its patterns over what lies below them; widths are in cells of a pattern's lattice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Marks {
    /// Cells are between half of this and this in a picture, CSS px.
    pub cell_px: f32,
    /// Half the width of a line.
    pub line: f32,
    /// Half the width of a bar.
    pub bar: f32,
    /// Share of the surface that a pattern covers, about; what it fades to before it could shimmer.
    pub mean: f32,
    /// How much of its kind's colour lies on the surface, 0..1.
    pub tint: f32,
    /// How far marks darken what is below them, 0..1: by [`MARK`] times their kind's colour at 1. They multiply, so that
    /// ink below them stays darker than they are.
    pub strength: f32,
}

/// Where the pattern is what the lens shows. Own choice, marks 3:1 on what they darken (WCAG 2.2, 1.4.11).
pub const STRONG: Marks = Marks { cell_px: 26.0, line: 0.05, bar: 0.19, mean: 0.2, tint: 0.36, strength: 0.8 };
/// Over the grid, whose circles, pennants and addresses have to stay readable: fewer and thinner marks. Own choice, marks
/// 3:1 on what they darken (WCAG 2.2, 1.4.11).
pub const LIGHT: Marks = Marks { cell_px: 44.0, line: 0.028, bar: 0.05, mean: 0.08, tint: 0.14, strength: 0.68 };

/// Width of the circles that the Stretch lens shows, CSS px, and how much of the ink they take, 0..1: there to be
/// compared, behind the strokes. Own choice.
pub const CIRCLE_PX: f32 = 1.1;
/// See [`CIRCLE_PX`].
pub const CIRCLE_STRENGTH: f32 = 0.5;
/// A circle fades where a pixel is so much of a cell across, from the first to the second: a cell of 14 and of 7 px.
/// Own choice: below, circles are a texture.
pub const CIRCLE_FADES: (f32, f32) = (0.07, 0.14);

/// How much of the grid the Text lens hides where it is not safe for text, 0..1: words stay readable but do not look
/// safe. Own choice.
pub const VEIL: f32 = 0.72;
/// A pattern's marks over the colour of their kind, per channel, 0..1: 3:1 against the tinted paper (WCAG 2.2, 1.4.11).
pub const MARK: f32 = 0.45;
/// Ink is drawn on what is as light as this, paper on what is darker; weighted mean of the codes, 0..1. On either side both
/// keep 3:1 (WCAG 2.2, 1.4.11).
pub const INK_FROM: f32 = 0.47;
/// Weights of red, green and blue in how light a colour is; ITU-R BT.709's, here for codes.
pub const LIGHTNESS: [f32; 3] = [0.2126, 0.7152, 0.0722];
/// Stretch below which no direction is drawn: it is not visible, and in a nearly conformal map it is noise. Own choice.
pub const STROKES_FROM: f64 = 1.06;

/// Lightness of a colour, 0..=1; codes 0..=255.
pub fn lightness(colour: [f32; 3]) -> f32 {
    let [r, g, b] = LIGHTNESS;
    (colour[0] * r + colour[1] * g + colour[2] * b) / 255.0
}

/// What marks are drawn in on this colour: ink, or paper.
pub fn ink_on(colour: [f32; 3]) -> [u8; 3] {
    if lightness(colour) >= INK_FROM { INK } else { PAPER }
}

/// A lens: what the model is shown with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify), tsify(rename = "LensName"), serde(rename_all = "lowercase"))]
pub enum Lens {
    /// The calibrated grid, with patterns over it.
    Grid,
    /// Anisotropy and its direction.
    Stretch,
    /// Texel density against the reference.
    Density,
    /// Not flipped, flipped, folded.
    Flipped,
    /// Overlaps.
    Overlaps,
    /// Seams as lines, by visibility.
    Seams,
    /// Safe for text or not.
    Text,
    /// The user's textures.
    Picture,
}

impl Lens {
    /// All of them, in the order they are offered.
    pub const ALL: [Self; 8] = [
        Self::Grid,
        Self::Stretch,
        Self::Density,
        Self::Flipped,
        Self::Overlaps,
        Self::Seams,
        Self::Text,
        Self::Picture,
    ];

    /// The name in addresses and messages.
    pub fn name(self) -> &'static str {
        match self {
            Self::Grid => "grid",
            Self::Stretch => "stretch",
            Self::Density => "density",
            Self::Flipped => "flipped",
            Self::Overlaps => "overlaps",
            Self::Seams => "seams",
            Self::Text => "text",
            Self::Picture => "picture",
        }
    }

    /// The lens of this name; `None` for any other word.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|lens| lens.name() == name)
    }

    /// The 256 colours, sRGB, from the low end to the high one; `None` for a lens of kinds.
    pub fn scale(self) -> Option<[[u8; 3]; SCALE_STEPS]> {
        match self {
            Self::Stretch => Some(std::array::from_fn(|step| rgb(bilbao::BILBAO[SCALE_STEPS - 1 - step]))),
            Self::Density => Some(interpolated(&PUOR)),
            _ => None,
        }
    }

    /// How its patterns are drawn.
    pub fn marks(self) -> &'static Marks {
        if self == Self::Grid { &LIGHT } else { &STRONG }
    }

    /// Whether the grid is seen below its patterns.
    pub fn is_on_grid(self) -> bool {
        matches!(self, Self::Grid | Self::Flipped | Self::Overlaps | Self::Text)
    }

    /// The lens's own values at the ends of its scale: anisotropy, octaves; `None` for a lens of kinds.
    pub fn range(self) -> Option<(f32, f32)> {
        match self {
            Self::Stretch => Some((1.0, ANISOTROPY_AT_END)),
            Self::Density => Some((-OCTAVES_AT_END, OCTAVES_AT_END)),
            _ => None,
        }
    }

    /// The lens's own value of a triangle, finite; `None` where it has none, and for a lens of kinds.
    pub fn value_of(self, texel: &TriangleTexel) -> Option<f32> {
        match self {
            Self::Stretch => texel.anisotropy.map(|ratio| ratio.min(HALF_MAX)),
            Self::Density => texel.octaves,
            _ => None,
        }
    }

    /// The place of a value on the scale, 0..=1: logarithmic for anisotropy, linear for octaves. `None` for NaN and for
    /// a lens of kinds.
    pub fn position(self, value: f32) -> Option<f32> {
        let (low, high) = self.range()?;
        let at = match self {
            Self::Stretch => value.max(low).ln() / high.ln(),
            _ => (value - low) / (high - low),
        };
        (!value.is_nan()).then(|| at.clamp(0.0, 1.0))
    }
}

fn rgb(code: u32) -> [u8; 3] {
    [(code >> 16) as u8, (code >> 8) as u8, code as u8]
}

/// `codes` spread evenly over the scale, straight lines between them.
fn interpolated(codes: &[u32]) -> [[u8; 3]; SCALE_STEPS] {
    let last = codes.len() - 1;
    std::array::from_fn(|step| {
        let at = step as f32 / (SCALE_STEPS - 1) as f32 * last as f32;
        let left = (at as usize).min(last - 1);
        let (a, b, part) = (rgb(codes[left]), rgb(codes[left + 1]), at - left as f32);
        std::array::from_fn(|channel| {
            let (a, b) = (f32::from(a[channel]), f32::from(b[channel]));
            (a + (b - a) * part).round() as u8
        })
    })
}

/// Bits of [`TriangleTexel::flags`].
pub mod flag {
    /// Has uv.
    pub const MAPPED: u8 = 1;
    /// Its uv winding is reversed.
    pub const REVERSED: u8 = 2;
    /// Its shell is flipped.
    pub const FLIPPED: u8 = 4;
    /// Folded: orientation differs from its shell's.
    pub const FOLDED: u8 = 8;
    /// Its anisotropy is over the brief's limit.
    pub const STRETCHED: u8 = 16;
    /// Mirrored overlap.
    pub const MIRRORED: u8 = 32;
    /// Stacked.
    pub const STACKED: u8 = 64;
    /// Partial overlap or self-overlap.
    pub const PARTIAL_OVERLAP: u8 = 128;
}

/// Bits of [`TriangleTexel::state`].
pub mod state {
    /// No area on the sheet.
    pub const COLLAPSED: u16 = 1;
    /// No area on the surface.
    pub const DEGENERATE: u16 = 2;
    /// Its part's winding disagrees with its normals.
    pub const INSIDE_OUT: u16 = 4;
    /// Stretch, density and handedness are measured.
    pub const MEASURED: u16 = 8;
    /// Overlaps are measured.
    pub const SHARING_MEASURED: u16 = 16;
    /// Its density is below the brief's tolerance.
    pub const TOO_LOW: u16 = 32;
    /// Tilted by more than 15 degrees.
    pub const TILTED: u16 = 64;
    /// Not safe for text, as far as it is measured.
    pub const UNSAFE: u16 = 128;
    /// On another sheet than the one that is shown.
    pub const ELSEWHERE: u16 = 256;
    /// Its density is above the brief's tolerance.
    pub const TOO_HIGH: u16 = 512;
    /// Stretched so far that its direction is seen, see [`STROKES_FROM`](super::STROKES_FROM).
    pub const DIRECTED: u16 = 1024;
}

/// Greatest finite binary16; represents a collapsed triangle's infinite anisotropy.
const HALF_MAX: f32 = 65504.0;
/// Written where a triangle belongs to no shell; all the bits that a shell has.
pub const NO_SHELL: u32 = 0xFF_FFFF;

/// What the renderer knows of one triangle.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TriangleTexel {
    /// Largest over smallest singular value, 1..; infinite where the uv collapsed; `None` where there is none. Kept to
    /// three digits, up to 65504.
    pub anisotropy: Option<f32>,
    /// log2(density / reference).
    pub octaves: Option<f32>,
    /// Direction of most stretch on the sheet, radians in px space from u towards v.
    pub direction: Option<f32>,
    /// Texture-up against world-up, degrees, counter-clockwise seen from the front; `None` where it does not count.
    pub tilt_deg: Option<f32>,
    /// Shell, below 2^24 - 1.
    pub shell: Option<u32>,
    /// Bits of [`flag`].
    pub flags: u8,
    /// Towards the fold shared with the mirrored partner, radians in px space.
    pub chevron: Option<f32>,
    /// Bits of [`state`].
    pub state: u16,
}

impl TriangleTexel {
    /// Its flags, and above bit 8 its state.
    pub fn bits(&self) -> u32 {
        u32::from(self.flags) | u32::from(self.state) << 8
    }

    /// The four words. A shell of 2^24 - 1 or more is written as none: it is still drawn, and cannot be chosen.
    pub fn encode(&self) -> [u32; 4] {
        let half = |value: Option<f32>| u32::from(half_from_f32(value.unwrap_or(f32::NAN)));
        let anisotropy = self.anisotropy.map_or(0.0, |value| value.clamp(1.0, HALF_MAX));
        let shell = self.shell.filter(|&shell| shell < NO_SHELL).unwrap_or(NO_SHELL);
        [
            half(Some(anisotropy)) | half(self.octaves) << 16,
            half(self.direction) | half(self.tilt_deg) << 16,
            shell | u32::from(self.flags) << 24,
            half(self.chevron) | u32::from(self.state) << 16,
        ]
    }

    /// The triangle of four words.
    pub fn decode([x, y, z, w]: [u32; 4]) -> Self {
        let half = |bits: u32| Some(half_to_f32(bits as u16)).filter(|value| !value.is_nan());
        Self {
            anisotropy: half(x).filter(|&value| value > 0.0).map(|k| if k >= HALF_MAX { f32::INFINITY } else { k }),
            octaves: half(x >> 16),
            direction: half(y),
            tilt_deg: half(y >> 16),
            shell: Some(z & NO_SHELL).filter(|&shell| shell != NO_SHELL),
            flags: (z >> 24) as u8,
            chevron: half(w),
            state: (w >> 16) as u16,
        }
    }
}

/// The nearest binary16, ties to even (IEEE 754-2019, 4.3.1); overflow to infinity, any NaN to the quiet 0x7E00.
pub fn half_from_f32(value: f32) -> u16 {
    let bits = value.to_bits();
    let sign = (bits >> 16) as u16 & 0x8000;
    let magnitude = bits & 0x7FFF_FFFF;
    // 0x477F_F000 is 65520, half way from the greatest finite half to the next power of two.
    let unsigned = match magnitude {
        0x7F80_0001.. => return 0x7E00,
        0x477F_F000.. => 0x7C00,
        // From 2^-14: a normal half. Rebias the exponent by 112 and drop 13 bits.
        0x3880_0000.. => round_to_even(magnitude - (112 << 23), 13),
        // From 2^-25: subnormal, in units of 2^-24.
        0x3300_0000.. => round_to_even(magnitude & 0x7F_FFFF | 0x80_0000, 126 - (magnitude >> 23)),
        _ => 0,
    };
    sign | unsigned as u16
}

/// `value / 2^shift`, the nearest integer, ties to even; 1 <= shift <= 24.
fn round_to_even(value: u32, shift: u32) -> u32 {
    let whole = value >> shift;
    let rest = value & ((1 << shift) - 1);
    let tie = 1 << (shift - 1);
    whole + u32::from(rest > tie || (rest == tie && whole & 1 == 1))
}

/// The exact value of a binary16.
pub fn half_to_f32(bits: u16) -> f32 {
    let sign = if bits & 0x8000 == 0 { 1.0 } else { -1.0 };
    let (exponent, fraction) = (u32::from(bits >> 10 & 0x1F), u32::from(bits & 0x3FF));
    match (exponent, fraction) {
        (0, _) => sign * fraction as f32 * 2.0_f32.powi(-24),
        (31, 0) => sign * f32::INFINITY,
        (31, _) => f32::NAN,
        _ => sign * f32::from_bits((exponent + 112) << 23 | fraction << 13),
    }
}

#[cfg(test)]
mod tests;
