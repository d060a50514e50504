//! Measures by ray casting: the visibility of seams.

mod occlusion;
pub mod seams;
mod stations;
