//! Which sheets a model has: the evidence, and the split as a value of the brief.

use super::{Session, State, to_js};
use crate::measure::Stage;
use js_sys::Array;
use wasm_bindgen::prelude::*;

#[wasm_bindgen]
impl Session {
    /// Shows another sheet, by its place in the report's list: [`Session::triangles`], [`Session::lines`] and
    /// [`Session::probe_uv`] go by it. The first one until then.
    pub fn set_sheet(&mut self, sheet: usize) {
        self.sheet = sheet;
    }

    /// The pictures that libraries name: of each material of [`Session::summary`] a path as it is written there, or null. What
    /// was measured of the sheets before is stale then; [`Session::set_brief`] names the stages.
    pub fn set_pictures(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "(string | null)[]")] names: Array,
    ) -> Result<(), JsError> {
        let State::Read(loaded) = &mut self.state else { return Err(JsError::new("Nothing has been read yet.")) };
        loaded.model.pictures = names.iter().map(|name| name.as_string()).collect();
        for (stage, pending) in Stage::ALL.iter().zip(&mut self.pending) {
            *pending |= matches!(stage, Stage::Sheet | Stage::Sharing | Stage::Padding);
        }
        Ok(())
    }

    /// The split into sheets as `map.sheets` of a brief says it, so that it stays as it is: "one", "by-material" or groups of
    /// materials. Nothing before it is known.
    #[wasm_bindgen(unchecked_return_type = "SheetsAsked | undefined")]
    pub fn fixed_sheets(&self) -> Result<JsValue, JsError> {
        if self.measures.sheets.list.is_empty() {
            return Ok(JsValue::UNDEFINED);
        }
        to_js(&self.measures.sheets.fixed())
    }
}
