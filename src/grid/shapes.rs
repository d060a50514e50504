//! The shapes in a cell, as spans on a horizontal line, and how much of a pixel they cover.
//!
//! A shape gives the spans it covers at a height. Painting evaluates it at [`SUBLINES`] heights within a row of pixels
//! and adds the spans up exactly along x, so coverage is exact along x and to 1/16 along y, whatever the scale. Rules
//! and ticks are rectangles and exact in both.

use super::layout::RING_RADII;

/// Heights at which shapes are evaluated within one row of pixels.
pub(super) const SUBLINES: u32 = 16;
/// Units a whole pixel counts on one such height.
pub(super) const UNITS: i32 = 256;
/// Units of a whole pixel over the whole row.
pub(super) const FULL: i32 = UNITS * SUBLINES as i32;

/// At most two spans (from, to), in cells.
pub(super) type Spans = [Option<(f64, f64)>; 2];

/// The circle's line at height `y` (cells) of its cell.
pub(super) fn ring(y: f64) -> Spans {
    let (inner, outer) = RING_RADII;
    let rise = y - 0.5;
    let reach = |radius: f64| (radius * radius - rise * rise).max(0.0).sqrt();
    let (near, far) = (reach(inner), reach(outer));
    if far <= 0.0 {
        [None, None]
    } else if near <= 0.0 {
        [Some((0.5 - far, 0.5 + far)), None]
    } else {
        [Some((0.5 - far, 0.5 - near)), Some((0.5 + near, 0.5 + far))]
    }
}

/// Left edge of the pennant's shaft.
pub(super) const STEM_LEFT: f64 = 26.0 / 64.0;
/// Right edge of the pennant's shaft.
pub(super) const STEM_RIGHT: f64 = 30.0 / 64.0;
/// Foot of the shaft.
pub(super) const PENNANT_FOOT: f64 = 24.0 / 64.0;
/// The tip, at the shaft's left edge.
pub(super) const PENNANT_TIP: f64 = 55.0 / 64.0;
/// How far the flag reaches to the right of the shaft's left edge.
const FLAG_REACH: f64 = 19.0 / 64.0;
/// Height of the flag's point.
const FLAG_POINT: f64 = 35.0 / 64.0;
/// Height at which the flag's underside meets the shaft.
const FLAG_ROOT: f64 = 38.0 / 64.0;
/// How far the flag's outer edge bulges from a straight one, 0 (straight) to 1.
const FLAG_BULGE: f64 = 0.4;

/// The pennant at height `y` (cells) of its cell: a shaft whose left edge runs straight to the tip, and one solid flag
/// that falls away from the tip to the right and is cut back below. Nearly all its weight is up and to the right of the
/// shaft, so that even at four pixels it shows up, down, left and right.
pub(super) fn pennant(y: f64) -> Spans {
    if !(PENNANT_FOOT..PENNANT_TIP).contains(&y) {
        return [None, None];
    }
    if y < FLAG_POINT {
        return [Some((STEM_LEFT, STEM_RIGHT)), None];
    }
    let fall = (PENNANT_TIP - y) / (PENNANT_TIP - FLAG_POINT);
    let outer = STEM_LEFT + FLAG_REACH * fall * (1.0 + FLAG_BULGE * (1.0 - fall));
    if y >= FLAG_ROOT {
        return [Some((STEM_LEFT, outer)), None];
    }
    let cut = (FLAG_ROOT - y) / (FLAG_ROOT - FLAG_POINT);
    let under = STEM_RIGHT + (STEM_LEFT + FLAG_REACH - STEM_RIGHT) * cut;
    [Some((STEM_LEFT, STEM_RIGHT)), (under < outer).then_some((under, outer))]
}

/// Adds a span (px) to a row of edges; the running sum of the row is then its coverage, `weight` per whole pixel.
/// `edges` has one entry more than the row has pixels; what lies outside is cut off.
#[inline]
pub(super) fn add_span(edges: &mut [i32], from: f64, to: f64, weight: i32) {
    let width = (edges.len() - 1) as f64;
    let from = from.clamp(0.0, width);
    let to = to.clamp(0.0, width);
    add_edge(edges, from, weight);
    add_edge(edges, to, -weight);
}

#[inline]
fn add_edge(edges: &mut [i32], x: f64, weight: i32) {
    // Not negative and at most the row's length, by the clamp above; the fraction is rounded to 1/256 px.
    let fixed = (x * f64::from(UNITS) + 0.5) as usize;
    let pixel = fixed / UNITS as usize;
    let part = (fixed % UNITS as usize) as i32 * weight / UNITS;
    edges[pixel] += weight - part;
    if let Some(next) = edges.get_mut(pixel + 1) {
        *next += part;
    }
}

/// Share of the stretch from `a` to `b` (a < b) that lies in bands starting at `start` + k * `period`, each `width` wide
/// (0 <= width <= period), for all whole k. Exact at any scale.
pub(super) fn bands(a: f64, b: f64, period: f64, start: f64, width: f64) -> f32 {
    let covered_until = |t: f64| {
        let turns = (t - start) / period;
        let whole = turns.floor();
        whole * width + ((turns - whole) * period).min(width)
    };
    (((covered_until(b) - covered_until(a)) / (b - a)) as f32).clamp(0.0, 1.0)
}

/// Share of the stretch from `a` to `b` (a < b) that lies between `from` and `to`.
pub(super) fn band(a: f64, b: f64, from: f64, to: f64) -> f32 {
    (((b.min(to) - a.max(from)) / (b - a)) as f32).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_add_up_to_their_length() {
        let mut edges = vec![0; 11];
        add_span(&mut edges, 2.25, 6.5, UNITS);
        add_span(&mut edges, -3.0, 0.5, UNITS);
        add_span(&mut edges, 9.75, 40.0, UNITS);
        let mut sum = 0;
        let row: Vec<i32> = edges[..10]
            .iter()
            .map(|edge| {
                sum += edge;
                sum
            })
            .collect();
        assert_eq!(row, [128, 0, 192, 256, 256, 256, 128, 0, 0, 64]);
    }

    #[test]
    fn bands_cover_what_they_should() {
        assert_eq!(bands(0.0, 1.0, 8.0, -0.25, 0.5), 0.25);
        assert_eq!(bands(7.5, 8.5, 8.0, -0.25, 0.5), 0.5);
        assert_eq!(bands(0.0, 80.0, 8.0, -0.25, 0.5), 0.0625);
        assert_eq!(bands(3.0, 4.0, 8.0, -0.25, 0.5), 0.0);
        assert_eq!(band(1.0, 3.0, 2.5, 9.0), 0.25);
    }

    #[test]
    fn the_rings_area_is_that_of_an_annulus() {
        let steps = 20_000;
        let area: f64 = (0..steps)
            .flat_map(|step| ring((f64::from(step) + 0.5) / f64::from(steps)))
            .flatten()
            .map(|(from, to)| (to - from) / f64::from(steps))
            .sum();
        let (inner, outer) = RING_RADII;
        let expected = std::f64::consts::PI * (outer * outer - inner * inner);
        assert!((area / expected - 1.0).abs() < 1e-4, "{area} {expected}");
    }

    #[test]
    fn the_pennant_stays_inside_the_circle_and_points_up_and_right() {
        let (mut mass, mut right, mut up) = (0.0, 0.0, 0.0);
        let steps = 4096;
        for step in 0..steps {
            let y = (f64::from(step) + 0.5) / f64::from(steps);
            for (from, to) in pennant(y).into_iter().flatten() {
                assert!(from < to);
                for x in [from, to] {
                    assert!((x - 0.5).hypot(y - 0.5) < RING_RADII.0);
                }
                mass += to - from;
                right += (to - from) * (f64::midpoint(from, to) - STEM_LEFT);
                up += (to - from) * (y - f64::midpoint(PENNANT_FOOT, PENNANT_TIP));
            }
        }
        assert!(right / mass > 0.07, "{}", right / mass);
        assert!(up / mass > 0.0, "{}", up / mass);
    }
}
