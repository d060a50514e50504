//! Two versions of a model, compared for the page.

use super::to_js;
use crate::compare::{self, Version};
use wasm_bindgen::prelude::*;

/// Fixed, remaining and new findings. Each version is {bounds: low and high corner, spots: [{id, kind, severity,
/// number, limit, place: {centre, radius, eye}, names}]}; the answer {fixed, still_there: [{old, new, change}], new,
/// by_box}: places in `spots`. Fails if a version is invalid.
#[wasm_bindgen(unchecked_return_type = "Comparison")]
pub fn compare(
    #[wasm_bindgen(unchecked_param_type = "Version")] old: JsValue,
    #[wasm_bindgen(unchecked_param_type = "Version")] new: JsValue,
) -> Result<JsValue, JsError> {
    let version = |plain: JsValue| {
        serde_wasm_bindgen::from_value::<Version>(plain).map_err(|error| JsError::new(&error.to_string()))
    };
    to_js(&compare::compare(&version(old)?, &version(new)?))
}
