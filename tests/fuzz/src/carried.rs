//! Any bytes are the model of a link, or refused. Around them stands a digest, which no change by chance would get past, so it
//! is made anew.
#![no_main]

#[path = "../../support/fuzzed.rs"]
mod fuzzed;

mod seeds;

libfuzzer_sys::fuzz_target!(
    init: seeds::write("carried", fuzzed::carried_models()),
    |bytes: &[u8]| fuzzed::link(&fuzzed::link_of(bytes))
);
