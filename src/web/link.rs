//! Carried links: a session from what follows the `#` of an address. Links are made only by the second module: that
//! takes long anyway, and few visits do it.
//!
//! Reading links costs every visitor 23 kB in the page's module, and saves those who come by a link from loading the second
//! module.

use super::{Loaded, Session, State, to_js};
use crate::carried::{self, LinkFailure, LinkFailureCode};
use serde::Serialize;
use tsify::Tsify;
use wasm_bindgen::prelude::*;

/// A link that gives no model, as a plain object; `line` and `warnings` are there to show a reader's failure.
#[derive(Serialize, Tsify)]
#[tsify(rename = "LinkFailure")]
struct Failure {
    code: LinkFailureCode,
    line: u32,
    message: String,
    warnings: [(); 0],
}

fn failure(LinkFailure { code, message }: LinkFailure) -> JsValue {
    to_js(&Failure { code, line: 0, message, warnings: [] }).unwrap_or_else(JsValue::from)
}

#[wasm_bindgen]
impl Session {
    /// Instead of [`Session::feed`] and [`Session::finish`]: the model of a carried link, and its file. `text` is what
    /// follows `m=`. Gives the bytes of the review that came with it. A refused link leaves the session as it was.
    pub fn open_link(&mut self, text: &str) -> Result<Vec<u8>, JsValue> {
        if !matches!(self.state, State::Reading(_)) {
            return Err(JsError::new("The file was already read to its end.").into());
        }
        let parcel = carried::unwrap(text).map_err(failure)?;
        let carried = carried::decode(&parcel).map_err(failure)?;
        self.file = carried.file;
        self.state = State::Read(Box::new(Loaded::new(carried.document)));
        Ok(parcel.review)
    }
}
