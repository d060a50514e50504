//! What the library measures, against closed forms, other programs, planted faults and itself: one program, so that the library
//! is linked once and its tests run beside one another.
#![cfg(not(target_arch = "wasm32"))]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails here")]

#[path = "../support/columns.rs"]
mod columns;
#[path = "../support/fuzzed.rs"]
mod fuzzed;
#[path = "../../demo/lantern/mod.rs"]
mod lantern;
#[path = "../support/mutate.rs"]
mod mutate;
#[path = "../support/processor.rs"]
mod processor;
#[path = "../support/mod.rs"]
mod support;

mod carried;
mod closed_forms;
mod demo;
mod demo_report;
mod density;
mod extremes;
mod fuzz;
mod generated_models;
mod grades;
mod invariance;
mod layouts;
mod map_projections;
mod odd_files;
mod open_models;
mod padding;
mod pictures;
mod planted_faults;
mod real_meshes;
mod reference;
mod rejudge;
mod seams;
mod sheet_measures;
mod sheets;
mod slivers_and_sides;
mod tilt_and_text;
mod worst_cases;
