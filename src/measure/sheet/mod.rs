//! What is measured of the sheet as a plane: which sheets there are, areas, overlaps, padding.

mod box_tree;
pub(super) mod by_sheet;
mod contours;
mod convex;
mod cover;
mod distinct;
pub mod input;
mod outline;
pub mod outside;
pub mod padding;
mod region;
mod scanlines;
mod segment;
mod shared;
pub mod sharing;
pub mod sheets;
mod tiles;
mod union;
pub mod usage;
