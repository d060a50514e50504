//! Draws the model and its sheet.
//!
//! `camera` and `sheet` are plain arithmetic and are tested natively; everything else needs a browser.

pub mod camera;
pub mod sheet;
