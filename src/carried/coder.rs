//! Entropy coding: bits through an adaptive binary range coder, and numbers made of bits.
//!
//! Coder: 32-bit range, carries kept back (G. N. N. Martin 1979, *Range encoding*; the binary form with one byte of cache is
//! common practice). A probability is the mean of what was seen, first as counted, later over the last [`MEMORY`] bits.
//! Numbers: the length in bits by a tree, the two digits below the leading one adaptively, the rest as they are.
//!
//! Reading and writing are one walk, generic over [`Coder`]: a reader ignores the value it is given and returns what it
//! read. After its end a reader reads zeros, and [`Coder::is_spent`] is true. Cost: linear in bits.
//!
//! One walk, so that writer and reader cannot disagree, and the page's module contains the reader only.
//!
//! Tried without gain: a table instead of the division in `Bit::update`, and functions that are not inlined, so that the
//! browser compiles them well while a link is read.

/// Bits over which a probability is the mean, once so many were seen.
const MEMORY: u8 = 60;
/// Probabilities keep this far from 0 and 1, of 65536.
const LEAST: u16 = 24;
/// Digits below the leading one that are coded adaptively.
const ADAPTIVE_DIGITS: u32 = 2;
/// Bytes a reader may read beyond its end: the last four that the writer leaves out where they are zero.
const SLACK: usize = 4;

/// Probability that a bit is 0.
#[derive(Clone, Copy)]
pub(super) struct Bit {
    zero: u16,
    seen: u8,
}

impl Bit {
    pub(super) const NEW: Bit = Bit { zero: 1 << 15, seen: 0 };

    fn update(&mut self, bit: bool) {
        let goal = if bit { i32::from(LEAST) } else { (1 << 16) - i32::from(LEAST) };
        let step = (goal - i32::from(self.zero)) * 2 / (2 * i32::from(self.seen) + 3);
        self.zero = (i32::from(self.zero) + step) as u16;
        self.seen = (self.seen + 1).min(MEMORY);
    }
}

/// Writes or reads bits.
pub(super) trait Coder {
    /// Writes `bit`, or reads one and returns it.
    fn bit(&mut self, model: &mut Bit, bit: bool) -> bool;
    /// Writes the low `count` bits of `value`, or reads as many; all equally likely.
    fn plain(&mut self, count: u32, value: u64) -> u64;
    /// Whether more bits were read than there are.
    fn is_spent(&self) -> bool;

    /// A number below 2^`depth` by a tree of `1 << depth` bits' models.
    fn tree(&mut self, models: &mut [Bit], value: u32) -> u32 {
        let depth = models.len().trailing_zeros();
        let mut node = 1;
        for place in (0..depth).rev() {
            let bit = self.bit(&mut models[node], value >> place & 1 == 1);
            node = node << 1 | usize::from(bit);
        }
        (node - models.len()) as u32
    }

    /// Any number.
    fn number(&mut self, models: &mut Number, value: u64) -> u64 {
        let length = self.tree(&mut models.length, bit_length(value));
        let Some(mut left) = length.checked_sub(1) else { return 0 };
        let mut read = 1;
        let mut digits = 1;
        while left > 0 && digits < 1 << ADAPTIVE_DIGITS {
            left -= 1;
            let model = &mut models.digits[length as usize][digits];
            let bit = u64::from(self.bit(model, value >> left & 1 == 1));
            read = read << 1 | bit;
            digits = digits << 1 | bit as usize;
        }
        read << left | self.plain(left, value)
    }
}

/// Digits of a number in base 2; 0 for 0.
pub(super) fn bit_length(value: u64) -> u32 {
    u64::BITS - value.leading_zeros()
}

/// The model of numbers of one kind.
#[derive(Clone)]
pub(super) struct Number {
    length: [Bit; 64],
    digits: [[Bit; 1 << ADAPTIVE_DIGITS]; 64],
}

impl Number {
    pub(super) const NEW: Number = Number { length: [Bit::NEW; 64], digits: [[Bit::NEW; 1 << ADAPTIVE_DIGITS]; 64] };
}

/// Signed numbers as unsigned ones: 0, -1, 1, -2, 2, …
pub(super) fn zigzag(value: i64) -> u64 {
    (value << 1 ^ value >> 63) as u64
}

/// The inverse of [`zigzag`].
pub(super) fn unzigzag(value: u64) -> i64 {
    (value >> 1) as i64 ^ -((value & 1) as i64)
}

/// Reads.
pub(super) struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
    range: u32,
    code: u32,
}

impl<'a> Reader<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        let mut reader = Self { bytes, at: 0, range: u32::MAX, code: 0 };
        (0..4).for_each(|_| reader.take());
        reader
    }

    fn take(&mut self) {
        self.code = self.code << 8 | u32::from(self.bytes.get(self.at).copied().unwrap_or(0));
        self.at += 1;
    }

    fn widen(&mut self) {
        while self.range < 1 << 24 {
            self.range <<= 8;
            self.take();
        }
    }
}

impl Coder for Reader<'_> {
    fn bit(&mut self, model: &mut Bit, _: bool) -> bool {
        let bound = (self.range >> 16) * u32::from(model.zero);
        let bit = self.code >= bound;
        if bit {
            self.code -= bound;
            self.range -= bound;
        } else {
            self.range = bound;
        }
        model.update(bit);
        self.widen();
        bit
    }

    fn plain(&mut self, count: u32, _: u64) -> u64 {
        let mut value = 0;
        for _ in 0..count {
            self.range >>= 1;
            let bit = self.code >= self.range;
            if bit {
                self.code -= self.range;
            }
            value = value << 1 | u64::from(bit);
            self.widen();
        }
        value
    }

    fn is_spent(&self) -> bool {
        self.at > self.bytes.len() + SLACK
    }
}

/// Writes.
pub(super) struct Writer {
    bytes: Vec<u8>,
    low: u64,
    range: u32,
    cache: u8,
    /// Bytes held back until it is known whether a carry reaches them: the cache, and 255s after it.
    held: usize,
}

impl Writer {
    pub(super) fn new() -> Self {
        Self { bytes: Vec::new(), low: 0, range: u32::MAX, cache: 0, held: 1 }
    }

    fn shift(&mut self) {
        if self.low < 0xFF00_0000 || self.low > u64::from(u32::MAX) {
            let carry = (self.low >> 32) as u8;
            let mut byte = self.cache;
            for _ in 0..self.held {
                self.bytes.push(byte.wrapping_add(carry));
                byte = 0xFF;
            }
            self.held = 0;
            self.cache = (self.low >> 24) as u8;
        }
        self.held += 1;
        self.low = self.low << 8 & 0xFFFF_FFFF;
    }

    fn widen(&mut self) {
        while self.range < 1 << 24 {
            self.range <<= 8;
            self.shift();
        }
    }

    /// The bytes; zeros among the last four are left out.
    pub(super) fn finish(mut self) -> Vec<u8> {
        // The number within the last interval that ends in most zeros.
        let high = self.low + u64::from(self.range) - 1;
        let ends = (0..=32).rev().map(|zeros| high >> zeros << zeros);
        self.low = ends.into_iter().find(|end| *end >= self.low).unwrap_or(high);
        let settled = self.bytes.len() + self.held;
        (0..5).for_each(|_| self.shift());
        let end = self.bytes.iter().rposition(|byte| *byte != 0).map_or(0, |last| last + 1).max(settled);
        // The first byte is the cache that was never filled.
        self.bytes.drain(..).take(end).skip(1).collect()
    }
}

impl Coder for Writer {
    fn bit(&mut self, model: &mut Bit, bit: bool) -> bool {
        let bound = (self.range >> 16) * u32::from(model.zero);
        if bit {
            self.low += u64::from(bound);
            self.range -= bound;
        } else {
            self.range = bound;
        }
        model.update(bit);
        self.widen();
        bit
    }

    fn plain(&mut self, count: u32, value: u64) -> u64 {
        for place in (0..count).rev() {
            self.range >>= 1;
            if value >> place & 1 == 1 {
                self.low += u64::from(self.range);
            }
            self.widen();
        }
        if count == 64 { value } else { value & ((1 << count) - 1) }
    }

    fn is_spent(&self) -> bool {
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn written_symbols_are_read_back() {
        // Numbers of all lengths, runs of bits nearly all alike, and plain bits: xorshift64, Marsaglia 2003.
        let mut state = 88_172_645_463_325_252u64;
        let mut draw = || {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            state
        };
        for length in 0..400 {
            let values: Vec<u64> = (0..length).map(|_| draw() >> (draw() % 64)).chain([0, u64::MAX]).collect();
            let mut writer = Writer::new();
            let (mut number, mut bit) = (Number::NEW, Bit::NEW);
            for value in &values {
                // Lengths up to 63: the tree has no leaf for 64.
                writer.number(&mut number, value >> 1);
                writer.bit(&mut bit, value % 64 == 0);
                writer.plain(64, *value);
            }
            let bytes = writer.finish();
            let mut reader = Reader::new(&bytes);
            let (mut number, mut bit) = (Number::NEW, Bit::NEW);
            for value in &values {
                assert_eq!(reader.number(&mut number, 0), value >> 1);
                assert_eq!(reader.bit(&mut bit, false), value % 64 == 0);
                assert_eq!(reader.plain(64, 0), *value);
            }
            assert!(!reader.is_spent());
        }
    }

    #[test]
    fn equal_symbols_compress_and_random_bits_take_a_bit_each() {
        let mut writer = Writer::new();
        let mut bit = Bit::NEW;
        for _ in 0..100_000 {
            writer.bit(&mut bit, true);
        }
        let alike = writer.finish().len();
        assert!(alike < 30, "{alike}");
        let mut writer = Writer::new();
        let mut bit = Bit::NEW;
        let mut state = 1u32;
        for _ in 0..8000 {
            // xorshift32, Marsaglia 2003.
            state ^= state << 13;
            state ^= state >> 17;
            state ^= state << 5;
            writer.bit(&mut bit, state >> 31 == 1);
        }
        let coins = writer.finish().len();
        assert!((950..1050).contains(&coins), "{coins}");
    }

    #[test]
    fn reading_past_the_end_is_reported() {
        let mut reader = Reader::new(&[0x12, 0x34]);
        let mut read = 0;
        while !reader.is_spent() {
            reader.plain(8, 0);
            read += 1;
            assert!(read < 20);
        }
    }

    #[test]
    fn signed_numbers_round_trip() {
        for value in [0, -1, 1, 77, -78, i64::MAX, i64::MIN] {
            assert_eq!(unzigzag(zigzag(value)), value);
        }
        assert_eq!([0, -1, 1, -2].map(zigzag), [0, 1, 2, 3]);
    }
}
