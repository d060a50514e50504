//! What knows nothing of models: sorting, corners, threads, other people's names.

pub mod isolate;
pub mod packed;
pub mod parallel;
pub mod three;
