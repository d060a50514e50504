//! Makes carried links, and OBJ text of models that came in one.

use super::Session;
use crate::carried;
use crate::report::Report;
use wasm_bindgen::prelude::*;

/// The model's part of a carried link.
#[wasm_bindgen(getter_with_clone)]
pub struct CarriedModel {
    /// For [`carried_link`].
    pub model: Vec<u8>,
    /// Positions are whole multiples of it, model units.
    pub position_step: f64,
    /// Likewise, uv.
    pub uv_step: f64,
    /// How often the model was measured for it.
    pub proofs: usize,
}

#[wasm_bindgen]
impl Session {
    /// The model for a carried link with which its report, which must have been made, stays the same, whatever is decided about
    /// it. Takes as long as measuring a dozen times.
    pub fn carried_model(&self) -> Result<CarriedModel, JsError> {
        if self.report.is_none() {
            return Err(JsError::new("There is no report yet."));
        }
        let model = &self.loaded()?.model;
        let report = Report::new(model, &self.measures, &self.brief, self.file.clone());
        let carried::Encoded { model, steps, proofs, .. } =
            carried::encode(model, &self.measures, &report, &self.brief)?;
        Ok(CarriedModel { model, position_step: steps.position.size(), uv_step: steps.uv.size(), proofs })
    }

    /// The model as OBJ text.
    pub fn obj_text(&self) -> Result<String, JsError> {
        Ok(carried::obj_text(&self.loaded()?.model.document))
    }
}

/// What follows `m=`: a model as [`Session::carried_model`] gave it, and a review to go with it.
#[wasm_bindgen]
pub fn carried_link(model: &[u8], review: &[u8]) -> Result<String, JsError> {
    let bytes = carried::wrap(model, review).ok_or_else(|| JsError::new("The review is too long for a link."))?;
    Ok(carried::to_base64url(&bytes))
}

/// The model of a carried link, as it is there, for another.
#[wasm_bindgen]
pub fn model_in_link(text: &str) -> Result<Vec<u8>, JsError> {
    Ok(carried::unwrap(text)?.model)
}
