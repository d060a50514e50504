//! Mip levels: each pixel is the mean, in linear light, of the area it covers one level up.
//!
//! Sizes halve and round down to 1 x 1, as OpenGL ES 3.0 (section 3.8.10.4) asks. An odd side makes a pixel cover two
//! whole pixels and parts of a third; the parts are weighed by area, so no row or column is dropped and means are kept.
//! Cost: linear in pixels, a third more than the base in all.

use super::Picture;
use super::light::LIGHT;

/// The picture and all smaller levels down to 1 x 1. Alpha is 255 everywhere, as [`Picture`] guarantees.
pub fn mip_levels(base: Picture) -> Vec<Picture> {
    let mut levels = vec![base];
    let mut next = NextLevel::after(&levels[0]);
    while let Some(mut level) = next {
        // Never empty: it starts with the base and only grows.
        let above = &levels[levels.len() - 1];
        while level.paint_row(above) {}
        next = NextLevel::after(&level.picture);
        levels.push(level.picture);
    }
    levels
}

/// A level being painted.
pub(super) struct NextLevel {
    pub picture: Picture,
    row: u32,
    columns: Vec<Taps>,
    light: Vec<f32>,
}

impl NextLevel {
    /// The empty level below `above`; `None` when that is 1 x 1 already.
    pub fn after(above: &Picture) -> Option<Self> {
        if above.width <= 1 && above.height <= 1 {
            return None;
        }
        let (width, height) = ((above.width / 2).max(1), (above.height / 2).max(1));
        Some(Self {
            picture: Picture { width, height, rgba: Vec::with_capacity(width as usize * height as usize * 4) },
            row: 0,
            columns: (0..width).map(|x| Taps::new(x, above.width, width)).collect(),
            light: vec![0.0; above.width as usize * 3],
        })
    }

    /// Paints the next row out of the level above; false once there is none left to paint.
    pub fn paint_row(&mut self, above: &Picture) -> bool {
        if self.row >= self.picture.height {
            return false;
        }
        let light = &*LIGHT;
        let stride = above.width as usize * 4;
        let rows = Taps::new(self.row, above.height, self.picture.height);
        for (tap, &weight) in rows.weights[..rows.count].iter().enumerate() {
            let source = &above.rgba[(rows.first + tap) * stride..][..stride];
            for (sum, pixel) in self.light.chunks_exact_mut(3).zip(source.chunks_exact(4)) {
                for channel in 0..3 {
                    let part = light.decode(pixel[channel]) * weight;
                    sum[channel] = if tap == 0 { part } else { sum[channel] + part };
                }
            }
        }
        for taps in &self.columns {
            let mut mean = [0.0; 3];
            let source = &self.light[taps.first * 3..][..taps.count * 3];
            for (pixel, &weight) in source.chunks_exact(3).zip(&taps.weights) {
                for channel in 0..3 {
                    mean[channel] += pixel[channel] * weight;
                }
            }
            self.picture.rgba.extend(mean.map(|channel| light.encode(channel)));
            self.picture.rgba.push(255);
        }
        self.row += 1;
        true
    }
}

/// The pixels one pixel is made of, along one axis, and how much of it each is. Sides at least halve, to no less than a
/// third (3 to 1), so there are never more than three.
struct Taps {
    first: usize,
    count: usize,
    weights: [f32; 3],
}

impl Taps {
    fn new(index: u32, from: u32, to: u32) -> Self {
        let (from, to, index) = (u64::from(from), u64::from(to), u64::from(index));
        // In units of 1/to of a source pixel, so that every border is a whole number.
        let (start, end) = (index * from, (index + 1) * from);
        let first = start / to;
        let count = (end.div_ceil(to) - first).min(3);
        let mut weights = [0.0; 3];
        for (tap, weight) in weights.iter_mut().enumerate().take(count as usize) {
            let left = (first + tap as u64) * to;
            let overlap = (left + to).min(end) - left.max(start);
            *weight = overlap as f32 / (end - start) as f32;
        }
        Self { first: first as usize, count: count as usize, weights }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn taps_tile_the_level_above() {
        for from in 1..200_u32 {
            let to = (from / 2).max(1);
            let mut covered = vec![0.0; from as usize];
            for index in 0..to {
                let taps = Taps::new(index, from, to);
                let sum: f32 = taps.weights[..taps.count].iter().sum();
                assert!((sum - 1.0).abs() < 1e-6);
                for (tap, weight) in taps.weights[..taps.count].iter().enumerate() {
                    covered[taps.first + tap] += weight * from as f32 / to as f32;
                }
            }
            assert!(covered.iter().all(|share| (share - 1.0).abs() < 1e-5), "{from}");
        }
    }

    #[test]
    fn black_and_white_average_in_light_not_in_codes() {
        let base = Picture { width: 2, height: 1, rgba: vec![0, 0, 0, 255, 255, 255, 255, 255] };
        let levels = mip_levels(base);
        assert_eq!(levels.len(), 2);
        assert_eq!(levels[1].rgba, [188, 188, 188, 255]);
    }
}
