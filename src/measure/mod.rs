//! Measures of a [`Model`](crate::model::Model)'s UVs: arrays of plain numbers beside the mesh.

pub mod sharing;
pub mod sheet;
