//! Any bytes are a model that is read, measured and reported, or refused.
#![no_main]

#[path = "../../support/fuzzed.rs"]
mod fuzzed;

mod seeds;

libfuzzer_sys::fuzz_target!(
    init: seeds::write("reader", fuzzed::MODELS.map(str::as_bytes)),
    |bytes: &[u8]| fuzzed::model(bytes)
);
