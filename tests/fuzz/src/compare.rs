//! Two models, with a byte between them that is no text, are compared.
#![no_main]

#[path = "../../support/fuzzed.rs"]
mod fuzzed;

mod seeds;

libfuzzer_sys::fuzz_target!(
    init: seeds::write("compare", fuzzed::pairs()),
    |bytes: &[u8]| {
    let (old, new) = fuzzed::two(bytes);
    let Some(old) = fuzzed::version(old) else { return };
    let Some(new) = fuzzed::version(new) else { return };
    fuzzed::versions(&old, &new);
    }
);
