//! Utilities independent of models: sorting, corners, threads, untrusted names.

pub mod isolate;
pub mod packed;
pub mod parallel;
pub mod three;
