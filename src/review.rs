//! What people say about a model: decisions on its findings, and notes pinned to its surface.
//!
//! A finding that is intended no longer counts in the verdict; it stays in the report with its reason. How a review is
//! written down is the business of its doors: the page's `www/core/review.js`, and `check --review`.

mod follow;

pub use follow::{Followed, Lapsed, Said};

use serde::Serialize;

/// Version of a saved review's shape.
pub const REVIEW_SCHEMA: &str = "gridproof-review/2";
/// The same of one that says who sent it, or what became of the findings of an upload before.
pub const SENT_SCHEMA: &str = "gridproof-review/3";

/// Everything said about one file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Review {
    /// In the order of their numbers, which count from 1.
    pub notes: Vec<Note>,
    /// By the id of a finding. One that the report does not have is passed over: another brief may bring it back.
    pub decisions: Vec<(String, Decision)>,
}

/// What a person decided about a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Decision {
    /// It is no fault of this model: it does not count in the verdict.
    Intended {
        /// Why.
        reason: String,
    },
    /// It will be fixed.
    ToFix,
}

/// What somebody wrote about a spot.
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
