//! What the page calls, in a browser: one program, so that the browser starts once.
#![cfg(target_arch = "wasm32")]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails here")]

mod brief;
mod lenses;
mod session;
mod view;

wasm_bindgen_test::wasm_bindgen_test_configure!(run_in_browser);
