//! Any text is a review, or refused.
#![no_main]
#![allow(dead_code, reason = "of the command, only its reader of reviews is used")]

#[path = "../../../src/cli/review.rs"]
mod review;
#[path = "../../../src/cli/review_upgrade.rs"]
mod review_upgrade;
#[path = "../../../src/cli/trouble.rs"]
mod trouble;

mod seeds;

libfuzzer_sys::fuzz_target!(
    init: seeds::write("review", [&include_bytes!("../../reviews/version-1.json")[..], include_bytes!("../../reviews/version-1-as-2.json")]),
    |bytes: &[u8]| review::read_or_refused(bytes)
);
