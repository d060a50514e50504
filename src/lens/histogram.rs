//! How a lens's value is spread over the surface: area-weighted shares in bars of equal width.
//!
//! Anisotropy on a logarithmic axis, density in octaves from the reference. Over the regular triangles; what lies
//! beyond an end counts in the last bar there. Of the seams, exposure by length. `None` for a lens without a value and
//! before it is measured. Linear.

use super::{ANISOTROPY_AT_END, Lens};
use crate::brief::Brief;
use crate::measure::Measures;
use crate::model::Model;

/// Bars: fine enough to see two humps, coarse enough for a narrow card. Own choice.
pub const BARS: usize = 48;
/// Octaves at either end of the density's axis: an eighth and eight times the reference. Own choice.
pub const OCTAVES_SHOWN: f64 = 3.0;

/// Area shares by value.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Histogram {
    /// Value at the left end: anisotropy, or octaves.
    pub lo: f64,
    /// Value at the right end.
    pub hi: f64,
    /// Whether the axis is logarithmic.
    pub log: bool,
    /// Share of the measured surface, or of the seams' length, per bar, 0..1, [`BARS`] of them; their sum is 1 where anything is measured.
    pub counts: Vec<f64>,
    /// The brief's limits on the same axis, rising.
    pub limits: Vec<f64>,
}

impl Histogram {
    /// Of the value `lens` shows.
    pub fn new(model: &Model, measures: &Measures, brief: &Brief, lens: Lens) -> Option<Self> {
        if measures.triangles.state.is_empty() {
            return None;
        }
        let tolerance = (1.0 + brief.density.tolerance_percent / 100.0).log2();
        let end = f64::from(ANISOTROPY_AT_END);
        let (lo, hi, log, mut limits) = match lens {
            Lens::Stretch => (1.0, end, true, vec![brief.stretch.max_anisotropy, brief.stretch.must_fix()]),
            Lens::Density => (-OCTAVES_SHOWN, OCTAVES_SHOWN, false, vec![-tolerance, tolerance]),
            Lens::Seams => (0.0, 1.0, false, Vec::new()),
            _ => return None,
        };
        if lens == Lens::Seams {
            measures.seams.exposure?;
        } else {
            measures.density.reference?;
        }
        limits.dedup();
        let mut histogram = Self { lo, hi, log, counts: vec![0.0; BARS], limits };
        let mut total = 0.0;
        for seam in measures.seams.edges.iter().filter(|_| lens == Lens::Seams) {
            histogram.add(seam.exposure.into(), seam.length, &mut total);
        }
        for triangle in 0..model.triangle_count() {
            let value = match lens {
                Lens::Stretch => measures.triangles.anisotropy(triangle),
                Lens::Seams => None,
                _ => {
                    let density = measures.triangles.density(triangle).filter(|d| *d > 0.0);
                    density
                        .zip(measures.reference_of(model.shell_of(triangle)))
                        .map(|(d, reference)| (d / reference).log2())
                }
            };
            if let Some(value) = value {
                histogram.add(value, measures.triangles.surface[triangle], &mut total);
            }
        }
        if total > 0.0 {
            histogram.counts.iter_mut().for_each(|count| *count /= total);
        }
        Some(histogram)
    }

    fn add(&mut self, value: f64, weight: f64, total: &mut f64) {
        let bar = ((self.position(value) * BARS as f64) as usize).min(BARS - 1);
        self.counts[bar] += weight;
        *total += weight;
    }

    /// What is within the limits, as places on the axis, 0..=1: of a ratio that is 1 at best all up to the first limit, of what
    /// may be off either way all between both.
    pub fn allowed(&self) -> (f64, f64) {
        match self.limits[..] {
            [low, high] if !self.log => (self.position(low), self.position(high)),
            [high, ..] => (0.0, self.position(high)),
            [] => (0.0, 1.0),
        }
    }

    /// The place of a value on the axis, 0..=1; the ends for what is beyond them.
    pub fn position(&self, value: f64) -> f64 {
        let at = if self.log {
            (value / self.lo).ln() / (self.hi / self.lo).ln()
        } else {
            (value - self.lo) / (self.hi - self.lo)
        };
        at.clamp(0.0, 1.0)
    }
}
