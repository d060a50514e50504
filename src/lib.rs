//! Gridproof's core: reads a Wavefront OBJ, measures what its UVs do to a picture, and says whether the model is
//! ready for painting.
//!
//! Dependencies point one way: [`obj`] → [`model`] → [`measure`] → [`findings`]. Nothing here knows a file, a clock or
//! a browser; `view` and `web` (wasm only) and the command (native only) stand outside and call in.

pub mod brief;
mod check;
pub mod findings;
pub mod grid;
pub mod lens;
pub mod measure;
pub mod model;
pub mod obj;
mod packed;

pub use check::{CheckError, Progress, check, hexadecimal};

#[cfg(any(target_arch = "wasm32", test))]
pub mod view;
#[cfg(target_arch = "wasm32")]
pub mod web;
