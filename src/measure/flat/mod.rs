//! What is measured of one triangle or one shell at a time, and summed.

pub mod density;
pub mod density_factor;
mod equals;
pub mod handedness;
pub mod jacobian;
pub mod map_sizes;
mod quantile;
pub mod sides;
pub mod stretch;
pub mod tilt;
pub mod triangles;
