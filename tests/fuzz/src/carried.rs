//! Any bytes are the model of a link, or refused. The digest around them would reject every mutation, so it is
//! recomputed.
#![no_main]

#[path = "../../support/fuzzed.rs"]
mod fuzzed;

mod seeds;

libfuzzer_sys::fuzz_target!(
    init: seeds::write("carried", fuzzed::carried_models()),
    |bytes: &[u8]| fuzzed::link(&fuzzed::link_of(bytes))
);
