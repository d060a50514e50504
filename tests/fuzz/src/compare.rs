//! Two models, with a byte between them that is no text, are compared.
#![no_main]

#[path = "../../support/fuzzed.rs"]
mod fuzzed;

mod seeds;

fn compare(bytes: &[u8]) {
    let (old, new) = fuzzed::two(bytes);
    if let (Some(old), Some(new)) = (fuzzed::version(old), fuzzed::version(new)) {
        fuzzed::versions(&old, &new);
    }
}

libfuzzer_sys::fuzz_target!(
    init: seeds::write("compare", fuzzed::pairs()),
    |bytes: &[u8]| compare(bytes)
);
