//! Randomly damaged files: no panic, no hang, and accepted input is valid. The invariants are in
//! `tests/support/fuzzed.rs`. The review's reader is fuzzed beside its code, `src/cli/review.rs`.

use crate::fuzzed;
use crate::mutate::fuzz;
use crate::support::outside_files;
use gridproof::brief::Brief;
use gridproof::compare::Version;

/// The smaller files of the parser suite, if available.
fn suite() -> Vec<Vec<u8>> {
    const MOST_BYTES: u64 = 1 << 12;
    let mut paths = outside_files("parser-suite/tinyobjloader");
    paths.retain(|path| {
        path.extension().is_some_and(|ending| ending == "obj") && path.metadata().unwrap().len() < MOST_BYTES
    });
    paths.iter().map(|path| std::fs::read(path).unwrap()).collect()
}

#[test]
fn any_model_is_read_and_measured_or_refused() {
    let suite = suite();
    let seeds: Vec<&[u8]> =
        fuzzed::MODELS.map(str::as_bytes).into_iter().chain(suite.iter().map(Vec::as_slice)).collect();
    fuzz("reader", &seeds, |bytes, _| fuzzed::model(bytes));
}

#[test]
fn any_brief_is_read_or_refused() {
    let seeds = fuzzed::briefs();
    let seeds: Vec<&[u8]> = seeds.iter().map(String::as_bytes).collect();
    fuzz("brief", &seeds, |bytes, _| fuzzed::brief(bytes));
}

#[test]
fn any_link_is_read_or_refused() {
    let seeds = fuzzed::carried_models();
    let seeds: Vec<&[u8]> = seeds.iter().map(Vec::as_slice).collect();
    fuzz("link", &seeds, |bytes, chance| {
        let mut link = fuzzed::link_of(bytes);
        if chance.below(4) == 0 {
            link = String::from_utf8_lossy(&chance.mutated(&[link.as_bytes()])).into_owned();
        }
        fuzzed::link(&link);
    });
}

#[test]
fn any_two_versions_are_compared() {
    let mut last = Version::default();
    let seeds = [fuzzed::MODELS[0], fuzzed::MODELS[1], fuzzed::MODELS[2]];
    fuzz("comparison", &seeds.map(str::as_bytes), |bytes, _| {
        let Some(version) = fuzzed::version(bytes) else { return };
        fuzzed::versions(&last, &version);
        last = version;
    });
}

/// Nesting that would overflow the stack.
#[test]
fn deep_briefs_are_refused() {
    for deep in ["[", "{", "[map]\nsheets = [", "{\"map\":", "[map]\nsheets = {a=", "[a.", "a."] {
        let (head, piece) = deep.rsplit_once('\n').map_or(("", deep), |(head, piece)| (head, piece));
        let text = format!("{head}\n{}", piece.repeat(100_000));
        assert!(Brief::from_toml(&text).is_err() && Brief::from_json(&text).is_err(), "{deep}");
    }
    let nested = format!("[map]\nsheets = {}{}\n", "[".repeat(100_000), "]".repeat(100_000));
    assert!(Brief::from_toml(&nested).is_err());
}
