//! Which surface is safe for text.
//!
//! A triangle is *safe for text* when it has uv, is not reversed, has no overlap, is within the brief's anisotropy, and
//! is upright: |tilt| <= 15 degrees. A face too near to horizontal to have a tilt counts as upright: text on a table
//! top has no wrong direction. `text_share` is the share of surface that is safe, of the whole model (unmapped surface
//! included) and of each shell. Collapsed uv counts as stretched without limit. Triangles without surface weigh
//! nothing. `None` without surface. Where the search for overlaps was cut off, the shares are "at most". Cost: one
//! pass.

use super::flat::tilt::UPRIGHT_DEG;
use super::flat::triangles::state;
use super::{Measures, Shares};
use crate::brief::Brief;
use crate::model::Model;

/// Why a triangle is not safe for text: bits of [`reasons`].
pub mod reason {
    /// Has no uv.
    pub const UNMAPPED: u8 = 1;
    /// Flipped.
    pub const REVERSED: u8 = 2;
    /// Overlaps: the same text would appear elsewhere too.
    pub const SHARED: u8 = 4;
    /// Stretched: anisotropy over the brief's limit, or no area on the sheet.
    pub const STRETCHED: u8 = 8;
    /// Tilted by more than 15 degrees.
    pub const TILTED: u8 = 16;
    /// All of them.
    pub const ALL: [u8; 5] = [UNMAPPED, REVERSED, SHARED, STRETCHED, TILTED];
}

/// Safe shares of surface, 0..1.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TextSafety {
    /// Of the whole model.
    pub text_share: Option<f64>,
    /// Of each shell.
    pub shells: Vec<Option<f64>>,
}

/// Bits of [`reason`]; 0 is safe. Everything but overlaps is known after the first stage, overlaps after theirs.
pub fn reasons(measures: &Measures, triangle: usize, brief: &Brief) -> u8 {
    let triangles = &measures.triangles;
    if !triangles.is(triangle, state::MAPPED) {
        return reason::UNMAPPED;
    }
    let bit = |condition: bool, bit: u8| if condition { bit } else { 0 };
    let stretched = triangles.anisotropy(triangle).is_some_and(|ratio| ratio > brief.stretch.max_anisotropy)
        || triangles.is(triangle, state::COLLAPSED_UV);
    bit(triangles.is_reversed(triangle), reason::REVERSED)
        | bit(measures.shares(triangle) != Shares::default(), reason::SHARED)
        | bit(stretched, reason::STRETCHED)
        | bit(measures.tilt.of(triangle).is_some_and(|tilt| tilt.abs() > UPRIGHT_DEG), reason::TILTED)
}

/// Whole model and shells, after all that [`reasons`] looks at.
pub(super) fn measure_text_safety(model: &Model, measures: &Measures, brief: &Brief) -> TextSafety {
    let mut whole = Sums::default();
    let mut shells = vec![Sums::default(); model.layout.shell_count as usize];
    for triangle in 0..model.triangle_count() {
        let surface = measures.triangles.surface[triangle];
        let safe = reasons(measures, triangle, brief) == 0;
        whole.add(surface, safe);
        if let Some(shell) = model.shell_of(triangle) {
            shells[shell as usize].add(surface, safe);
        }
    }
    TextSafety { text_share: whole.share(), shells: shells.into_iter().map(Sums::share).collect() }
}

#[derive(Clone, Copy, Default)]
struct Sums {
    safe: f64,
    all: f64,
}

impl Sums {
    fn add(&mut self, surface: f64, safe: bool) {
        self.all += surface;
        self.safe += if safe { surface } else { 0.0 };
    }

    fn share(self) -> Option<f64> {
        (self.all > 0.0).then(|| self.safe / self.all)
    }
}
