//! The lenses for the page: colours of legends, and looks of the triangles of the sheet that is drawn without WebGL2.

use super::to_js;
use crate::grid::RING_RADIUS;
use crate::lens::drawn::{self, Inks, Kept, Style};
use crate::lens::{self, Lens, SCALE_STEPS, Shape, Through};
use serde::Serialize;
use tsify::Tsify;
use wasm_bindgen::prelude::*;

fn named(name: &str) -> Result<Lens, JsError> {
    Lens::named(name).ok_or_else(|| JsError::new(&["There is no lens \"", name, "\"."].concat()))
}

/// Red, green and blue of values on the lens's scale; nothing for a lens of kinds.
///
/// # Errors
/// No lens of this name.
#[wasm_bindgen]
pub fn lens_colours(name: &str, values: &[f32]) -> Result<Box<[u8]>, JsError> {
    let lens = named(name)?;
    let scale = lens.scale().unwrap_or([lens::PLAIN; SCALE_STEPS]);
    let step = |value: &f32| lens.position(*value).map(|place| (place * (SCALE_STEPS - 1) as f32).round() as usize);
    Ok(values.iter().filter_map(step).flat_map(|step| scale[step]).collect())
}

/// The circles of the grid's cells as Stretch shows them: radius in cells, width in CSS px, how much of the ink they take,
/// 0..1.
#[wasm_bindgen]
pub fn lens_circles() -> Box<[f32]> {
    [RING_RADIUS as f32, lens::CIRCLE_PX, lens::CIRCLE_STRENGTH].into()
}

/// A pattern's name and, unless it lies on a scale, the colours of its kind.
#[derive(Serialize, Tsify)]
#[tsify(rename = "PatternInks")]
struct Pattern {
    name: &'static str,
    /// Ground, marks, and marks where they are light; 0..255.
    inks: Option<[[u8; 3]; 3]>,
}

/// Patterns by number, from 1, and `unmapped` after them: the dots of what has no uv.
#[wasm_bindgen(unchecked_return_type = "PatternInks[]")]
pub fn lens_patterns() -> Result<JsValue, JsError> {
    let patterns = Shape::ALL.into_iter().map(|shape| (shape.name(), shape.colour()));
    let all = patterns.chain([("unmapped", Some(lens::PLAIN))]).map(|(name, colour)| {
        let inks = colour.map(Inks::of).map(|Inks { ground, mark, light_mark }| [ground, mark, light_mark]);
        Pattern { name, inks }
    });
    to_js(&all.collect::<Vec<_>>())
}

/// How much of a kind's colour lies on what is below a light pattern, 0..1.
#[wasm_bindgen]
pub fn light_tint() -> f32 {
    lens::LIGHT.tint
}

/// Numbers of the looks of so many triangles on the drawn sheet, from the four words of each, as far as there are words:
/// 0 has no place there, 2 is faded. What is outside the values `from` and `to` of the lens (NaN for any) or not of these
/// shells, ascending (none for all), is faded.
///
/// # Errors
/// No lens of this name.
#[wasm_bindgen]
#[allow(clippy::too_many_arguments, reason = "the page's numbers, one by one")]
pub fn drawn_looks(
    name: &str,
    flags: bool,
    leaning: bool,
    words: &[u32],
    count: usize,
    from: f32,
    to: f32,
    shells: &[u32],
) -> Result<Box<[u32]>, JsError> {
    let through = Through { lens: named(name)?, flags, leaning };
    Ok(drawn::looks(through, words, count, &Kept { values: [from, to], shells }).into())
}

/// What a look is drawn with under this lens: red, green and blue of its ground; number of its pattern, 0 for none; red,
/// green and blue of its ink, the first NaN for none; degrees the pattern is turned by, clockwise; 1 where it is a light one.
///
/// # Errors
/// No lens of this name.
#[wasm_bindgen]
pub fn drawn_style(name: &str, look: u32) -> Result<Box<[f32]>, JsError> {
    let Style { ground, shape, ink, turn_deg, light } = drawn::style(named(name)?, look);
    let [r, g, b] = ground.map(f32::from);
    let [ink_r, ink_g, ink_b] = ink.map_or([f32::NAN; 3], |ink| ink.map(f32::from));
    let shape = shape.map_or(0, Shape::number) as f32;
    Ok([r, g, b, shape, ink_r, ink_g, ink_b, turn_deg as f32, f32::from(u8::from(light))].into())
}
