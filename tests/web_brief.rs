//! The brief as the page hands it over: a plain object.
#![allow(clippy::unwrap_used)]
#![cfg(target_arch = "wasm32")]

use gridproof::brief::{Brief, Policy};
use wasm_bindgen_test::{wasm_bindgen_test, wasm_bindgen_test_configure};

wasm_bindgen_test_configure!(run_in_browser);

fn brief(json: &str) -> Result<Brief, serde_wasm_bindgen::Error> {
    serde_wasm_bindgen::from_value(js_sys::JSON::parse(json).expect("the test's own JSON"))
}

#[wasm_bindgen_test]
fn an_empty_object_is_the_default_brief() {
    assert_eq!(brief("{}").expect("an empty object is a brief"), Brief::default());
}

#[wasm_bindgen_test]
fn what_is_given_is_taken_and_the_rest_keeps_its_default() {
    let brief = brief(r#"{"map":{"width_px":4096},"sharing":{"mirrored":"stop"}}"#).expect("a partial brief");
    assert_eq!((brief.map.width_px, brief.map.height_px), (4096, 2048));
    assert_eq!((brief.sharing.mirrored, brief.sharing.stacked), (Policy::Stop, Policy::Look));
}
