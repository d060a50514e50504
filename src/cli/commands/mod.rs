//! The commands that read models or write pictures, a file each.

pub mod brief;
pub mod check;
pub mod compare;
pub mod grid;
pub mod link;
pub mod picture;
pub mod sheet;
