//! What the shaders have of the lenses, as text: bits, colours, thresholds, and each lens's rules (see `look`). The
//! shaders only look up.

use super::look::{Class, Through};
use super::pattern::Shape;
use super::{
    ANISOTROPY_AT_END, CIRCLE_FADES, CIRCLE_PX, CIRCLE_STRENGTH, INK_FROM, LIGHTNESS, Lens, MARK, Marks,
    OCTAVES_AT_END, PAPER, PLAIN, VEIL, flag, state,
};
use crate::grid;
use std::fmt::Write as _;

/// A kind is a pattern's number in four bits, and bits for more.
const SHAPE: u32 = 15;
/// No value, or none yet.
const SILENT: u32 = 16;
/// No area on the sheet.
const FLATTENED: u32 = 32;
const UNMAPPED: u32 = 64;
const OUTSIDE: u32 = 128;
const OUTSIDE_OTHERWISE: u32 = 256;
/// The grid is nearly hidden.
const VEILED: u32 = 512;
/// The pattern's kind does not colour what is below.
const UNTINTED: u32 = 1024;

/// What is the same for all lenses.
pub fn constants() -> String {
    let mut text = String::new();
    // Writing to a String cannot fail, here and below.
    let mut number = |name: &str, value: u32| {
        let _ = writeln!(text, "#define {name} {value}u");
    };
    for (name, bits) in [
        ("MAPPED", u32::from(flag::MAPPED)),
        ("COLLAPSED", u32::from(state::COLLAPSED) << 8),
        ("ELSEWHERE", u32::from(state::ELSEWHERE) << 8),
        ("NOTHING", 0),
        ("SHAPE", SHAPE),
        ("SILENT", SILENT),
        ("FLATTENED", FLATTENED),
        ("UNMAPPED", UNMAPPED),
        ("OUTSIDE", OUTSIDE),
        ("OUTSIDE_OTHERWISE", OUTSIDE_OTHERWISE),
        ("VEILED", VEILED),
        ("UNTINTED", UNTINTED),
    ] {
        number(name, bits);
    }
    for shape in Shape::ALL {
        number(&shape.name().to_ascii_uppercase(), shape.number());
    }
    let mut real = |name: &str, value: f32| {
        let _ = writeln!(text, "#define {name} {value:?}");
    };
    real("RING_RADIUS", grid::RING_RADIUS as f32);
    // Of the px that a pattern's cell has.
    real("CIRCLE_WIDTH", CIRCLE_PX / Lens::Stretch.marks().cell_px);
    real("CIRCLE_STRENGTH", CIRCLE_STRENGTH);
    real("VEIL", VEIL);
    real("MARK", MARK);
    real("INK_FROM", INK_FROM);
    let _ = writeln!(text, "#define CIRCLE_FADES vec2({:?}, {:?})", CIRCLE_FADES.0, CIRCLE_FADES.1);
    let _ = writeln!(text, "#define LIGHTNESS(colour) dot(colour, {})", vector(LIGHTNESS));
    for (name, colour) in [("PAPER", PAPER), ("INK", grid::INK), ("PLAIN", PLAIN)] {
        let _ = writeln!(text, "#define {name}_COLOUR {}", unit(colour));
    }
    text.push_str("#define COLOUR_OF(shape) (");
    for (shape, colour) in Shape::ALL.into_iter().filter_map(|shape| Some((shape, shape.colour()?))) {
        let _ = write!(text, "(shape) == {}u ? {} : ", shape.number(), unit(colour));
    }
    text.push_str("vec3(1.0))\n");
    text
}

/// What a lens shows: `KIND_OF` a triangle's bits, how its patterns are drawn, and under a scale the triangle's value in
/// its first word, whether there `IS` one, and its `PLACE` on the scale before that is cut off at the ends.
pub fn rules(through: Through) -> String {
    let Marks { line, bar, mean, tint, strength, .. } = through.lens.marks();
    let mut text = String::new();
    for (name, value) in [("LINE", line), ("BAR", bar), ("MEAN", mean), ("TINT", tint), ("STRENGTH", strength)] {
        let _ = writeln!(text, "#define {name} {value:?}");
    }
    text.push_str("#define KIND_OF(bits) (");
    for rule in through.rules() {
        let class = match rule.class {
            Class::Within => 0,
            Class::Outside => OUTSIDE,
            Class::OutsideOtherwise => OUTSIDE_OTHERWISE,
        };
        let veil = if through.veils() { VEILED } else { 0 };
        let (shape, untinted) =
            rule.shape.map_or((0, 0), |shape| (shape.number(), if through.tints(shape) { 0 } else { UNTINTED }));
        let _ = write!(text, "((bits) & {}u) != 0u ? {}u : ", rule.bits, shape | class | veil | untinted);
    }
    text.push_str("0u)\n");
    match through.lens {
        Lens::Stretch => {
            let steps = ANISOTROPY_AT_END.log2().recip();
            text.push_str("#define VALUE(word) unpackHalf2x16(word).x\n#define IS(value) (value > 0.0)\n");
            let _ = writeln!(text, "#define PLACE(value) (log2(value) * {steps:?})");
        }
        Lens::Density => {
            let steps = 0.5 / OCTAVES_AT_END;
            text.push_str("#define VALUE(word) unpackHalf2x16(word).y\n#define IS(value) !isnan(value)\n");
            let _ = writeln!(text, "#define PLACE(value) (value * {steps:?} + 0.5)");
        }
        _ => {}
    }
    text
}

fn unit(colour: [u8; 3]) -> String {
    vector(colour.map(|code| f32::from(code) / 255.0))
}

fn vector([x, y, z]: [f32; 3]) -> String {
    format!("vec3({x:?}, {y:?}, {z:?})")
}
