//! Damaged files: seeds mutated at random, with a fixed random seed, until the time is up.
//!
//! `GRIDPROOF_FUZZ_SECONDS` is the time of all targets together, 10 without it; each has its share. A failure is
//! reported with its input: shortened, it should become its own test.

#![allow(dead_code)]

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::time::{Duration, Instant};

/// What is fuzzed: reader, brief, review, links, comparison.
const TARGETS: f64 = 5.0;
/// Longest input, bytes.
const MOST_BYTES: usize = 1 << 14;
/// Longest that one input may take. Generous: other tests run beside it.
const PATIENCE: Duration = Duration::from_secs(20);

/// Numbers and signs that readers trip over.
const WORDS: [&str; 40] = [
    "0",
    "-0",
    "1",
    "-1",
    "2",
    "0.5",
    "1e30",
    "-1e30",
    "1e-30",
    "1e308",
    "-1e308",
    "5e-324",
    "1e999",
    "nan",
    "inf",
    "1,5",
    "4294967295",
    "4294967296",
    "-2147483648",
    "9007199254740993",
    "18446744073709551616",
    "1/1",
    "1//1",
    "1/1/1",
    "-1/-1",
    "\\\n",
    "#",
    "\r\n",
    "\n",
    "\0",
    "\u{feff}",
    "\u{202e}",
    "\u{1b}[31m",
    "null",
    "{}",
    "[]",
    "\"\"",
    "\\u0000",
    "\u{e9}",
    "true",
];

/// SplitMix64 (Steele, Lea & Flood 2014), with a separate seed for each target.
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Below `most`, which is above 0.
    pub fn below(&mut self, most: usize) -> usize {
        (self.next() % most as u64) as usize
    }

    fn of<'a, T: ?Sized>(&mut self, list: &[&'a T]) -> &'a T {
        list[self.below(list.len())]
    }

    /// A piece of `bytes`, perhaps empty.
    fn piece(&mut self, bytes: &[u8]) -> std::ops::Range<usize> {
        let from = self.below(bytes.len() + 1);
        let magnitude = self.below(8);
        let length = self.below(1 << magnitude);
        from..(from + length).min(bytes.len())
    }

    /// A word of `bytes`: what is between blanks and signs.
    fn word(&mut self, bytes: &[u8]) -> std::ops::Range<usize> {
        let inside = |byte: &u8| byte.is_ascii_alphanumeric() || b"+-._".contains(byte);
        let at = self.below(bytes.len() + 1);
        let from = bytes[..at].iter().rposition(|byte| !inside(byte)).map_or(0, |before| before + 1);
        from..bytes[at..].iter().position(|byte| !inside(byte)).map_or(bytes.len(), |end| at + end)
    }

    /// One of the seeds with a few changes.
    pub fn mutated(&mut self, seeds: &[&[u8]]) -> Vec<u8> {
        let mut bytes = self.of(seeds).to_vec();
        let magnitude = self.below(5);
        for _ in 0..=self.below(1 << magnitude) {
            match self.below(8) {
                0 if !bytes.is_empty() => {
                    let at = self.below(bytes.len());
                    bytes[at] ^= 1 << self.below(8);
                }
                1 => drop(bytes.drain(self.piece(&bytes.clone()))),
                2 => {
                    let (at, byte) = (self.below(bytes.len() + 1), self.next() as u8);
                    bytes.insert(at, byte);
                }
                3 => {
                    let (from, to) = (self.piece(&bytes), self.below(bytes.len() + 1));
                    let piece = bytes[from].to_vec();
                    bytes.splice(to..to, piece);
                }
                4 => {
                    let other = self.of(seeds);
                    let (from, to) = (self.piece(other), self.piece(&bytes));
                    bytes.splice(to, other[from].iter().copied());
                }
                5 => {
                    let to = self.piece(&bytes);
                    bytes.splice(to.start..to.start, self.of(&WORDS).bytes());
                }
                _ => {
                    let to = self.word(&bytes);
                    bytes.splice(to, self.of(&WORDS).bytes());
                }
            }
        }
        bytes.truncate(MOST_BYTES);
        bytes
    }
}

/// Gives the target changed seeds until its time is up, and fails where it panics or takes too long.
pub fn fuzz(name: &str, seeds: &[&[u8]], mut target: impl FnMut(&[u8], &mut Chance)) {
    let all = std::env::var("GRIDPROOF_FUZZ_SECONDS").ok().and_then(|text| text.parse().ok()).unwrap_or(10.0_f64);
    let (begun, time) = (Instant::now(), Duration::from_secs_f64(all / TARGETS));
    let mut chance = Chance::new(name.bytes().fold(0, |seed, byte| seed * 31 + u64::from(byte)));
    let mut round = 0_u64;
    while begun.elapsed() < time {
        let input = if round < seeds.len() as u64 { seeds[round as usize].to_vec() } else { chance.mutated(seeds) };
        let one = Instant::now();
        let outcome = catch_unwind(AssertUnwindSafe(|| target(&input, &mut chance)));
        let shown = || String::from_utf8_lossy(&input).escape_debug().to_string();
        assert!(outcome.is_ok(), "{name}, input {round}: \"{}\"", shown());
        assert!(one.elapsed() < PATIENCE, "{name}, input {round} took {:?}: \"{}\"", one.elapsed(), shown());
        round += 1;
    }
    println!("{name}: {round} inputs");
}
