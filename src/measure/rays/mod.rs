//! What rays find: who sees the seams.

mod occlusion;
pub mod seams;
mod stations;
