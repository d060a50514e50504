//! Between 8-bit sRGB and linear light (IEC 61966-2-1), with the same result on every machine.
//!
//! Colours are mixed in linear light, because that is what the eye and the screen do with small detail. The library's
//! power function may differ in its last digit from one platform to the next, so the exponent 2.4 is taken as
//! x^2 * (x^(1/5))^2 with the fifth root by Newton's method: only basic operations, which IEEE 754 fixes to the bit.

use std::sync::LazyLock;

/// Steps of the table that `encode` starts from. One step is narrower than the distance of two codes everywhere but in
/// the darkest few, where the search takes one or two steps more.
const GUESSES: usize = 4096;

/// The tables.
pub(super) struct Light {
    decoded: [f32; 256],
    /// Light from which on code `i + 1` is the nearest.
    thresholds: [f32; 255],
    guesses: Vec<u8>,
}

/// The one set of tables.
pub(super) static LIGHT: LazyLock<Light> = LazyLock::new(Light::new);

impl Light {
    fn new() -> Self {
        let decoded = std::array::from_fn(|code| to_linear(code as f64 / 255.0) as f32);
        let thresholds: [f32; 255] = std::array::from_fn(|code| to_linear((code as f64 + 0.5) / 255.0) as f32);
        let mut code = 0_u8;
        let guesses = (0..=GUESSES)
            .map(|step| {
                while code < 255 && thresholds[usize::from(code)] <= step as f32 / GUESSES as f32 {
                    code += 1;
                }
                code
            })
            .collect();
        Self { decoded, thresholds, guesses }
    }

    /// Linear light, 0..=1, of an sRGB code.
    #[inline]
    pub fn decode(&self, code: u8) -> f32 {
        self.decoded[usize::from(code)]
    }

    /// All three channels.
    pub fn decode_all(&self, colour: [u8; 3]) -> [f32; 3] {
        colour.map(|code| self.decode(code))
    }

    /// Nearest sRGB code of a linear light, clamped to 0..=1.
    #[inline]
    pub fn encode(&self, light: f32) -> u8 {
        let light = light.clamp(0.0, 1.0);
        let mut code = self.guesses[(light * GUESSES as f32) as usize];
        while code < 255 && self.thresholds[usize::from(code)] <= light {
            code += 1;
        }
        code
    }
}

fn to_linear(code: f64) -> f64 {
    if code <= 0.040_45 {
        return code / 12.92;
    }
    let base = (code + 0.055) / 1.055;
    let root = fifth_root(base);
    base * base * root * root
}

/// Newton's method from above, x in 0.08..=1; it decreases until it is constant to the last digit or two.
fn fifth_root(x: f64) -> f64 {
    let mut root = 1.0_f64;
    for _ in 0..24 {
        let fourth = (root * root) * (root * root);
        root -= (root - x / fourth) / 5.0;
    }
    root
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decoding_follows_the_standard() {
        for code in 0..=255_u8 {
            let x = f64::from(code) / 255.0;
            let expected = if x <= 0.040_45 { x / 12.92 } else { ((x + 0.055) / 1.055).powf(2.4) };
            assert!((f64::from(LIGHT.decode(code)) - expected).abs() < 1e-7, "{code}");
        }
    }

    #[test]
    fn encoding_gives_every_code_back_and_rounds_to_the_nearest() {
        for code in 0..=255_u8 {
            assert_eq!(LIGHT.encode(LIGHT.decode(code)), code);
        }
        let mut last = 0;
        for step in 0..=100_000 {
            let light = step as f32 / 100_000.0;
            let code = LIGHT.encode(light);
            assert!(code >= last);
            last = code;
            let x = f64::from(light);
            let exact = if x <= 0.003_130_8 { x * 12.92 } else { 1.055 * x.powf(1.0 / 2.4) - 0.055 };
            assert!((exact * 255.0 - f64::from(code)).abs() < 0.501, "{light}");
        }
    }
}
