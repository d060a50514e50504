//! Gridproof's core: reads a Wavefront OBJ, measures its UVs, and reports whether the model is ready for painting.
//!
//! Data goes one way: [`obj`] → [`model`] → [`measure`] → [`findings`] → [`report`]; [`draw`] draws without a browser.
//! Each module knows only those below it, in the order that `tests/rooms.test.mjs` checks. None of these uses files,
//! clocks or a browser; the renderer of [`view`] and `web` (wasm only) and the command (native only) are outside and
//! call in.

#![forbid(unsafe_code)]

pub mod brief;
pub mod carried;
mod check;
pub mod compare;
pub mod draw;
pub mod findings;
pub mod grid;
pub mod lens;
pub mod measure;
pub mod model;
pub mod obj;
pub mod report;
pub mod review;
mod util;

pub use check::{CheckError, Examined, Progress, check, examine, examine_with, hexadecimal};
pub use util::isolate::{isolated, printable};

pub mod view;
#[cfg(target_arch = "wasm32")]
pub mod web;
