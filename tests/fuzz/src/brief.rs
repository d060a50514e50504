//! Any text is a brief, or refused.
#![no_main]

#[path = "../../support/fuzzed.rs"]
mod fuzzed;

mod seeds;

libfuzzer_sys::fuzz_target!(
    init: seeds::write("brief", fuzzed::briefs()),
    |bytes: &[u8]| fuzzed::brief(bytes)
);
