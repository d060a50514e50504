//! A review: decisions on findings of a model, and notes pinned to its surface.
//!
//! A finding that is intended no longer counts in the verdict; it stays in the report with its reason. Its file format
//! is handled by the page's `www/core/review.js` and by `check --review`.

mod follow;

pub use follow::{Followed, Lapsed, Said};

use serde::Serialize;

/// Version of a saved review's shape.
pub const REVIEW_SCHEMA: &str = "gridproof-review/2";
/// The same with a sender, or with the changes since an earlier upload.
pub const SENT_SCHEMA: &str = "gridproof-review/3";

/// The review of one file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Review {
    /// In the order of their numbers, which count from 1.
    pub notes: Vec<Note>,
    /// By the id of a finding. Ids that the report does not have are ignored: another brief may have them.
    pub decisions: Vec<(String, Decision)>,
}

/// A decision on a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Decision {
    /// It is intended: it does not count in the verdict.
    Intended {
        /// Why.
        reason: String,
    },
    /// It will be fixed.
    ToFix,
}

/// A note on a point of the surface.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Note {
    /// In any script; may have several lines.
    pub text: String,
    /// Label of the shell it is on; none where the surface has no uv.
    pub shell: Option<String>,
    /// Index of the face it is on, from 0, in the order of the file.
    pub face: u32,
    /// In the model's coordinates.
    pub point: [f64; 3],
    /// u and v.
    pub uv: Option<[f64; 2]>,
}
