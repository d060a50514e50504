//! A review as the page hands it over, and where its notes are on this model. The page has read it strictly; what is no
//! review here is a fault of ours.

use super::{Session, probe::Hit};
use crate::review::{Decision, Note, Review};
use glam::DVec3;
use serde::Deserialize;
use wasm_bindgen::prelude::*;

#[derive(Deserialize)]
struct Given {
    notes: Vec<Note>,
    decisions: Vec<Decided>,
}

/// Meant so where there is a reason, otherwise to do.
#[derive(Deserialize)]
struct Decided {
    finding: String,
    reason: Option<String>,
}

#[wasm_bindgen]
impl Session {
    /// What the next report takes over: {notes, decisions}.
    pub fn set_review(&mut self, review: JsValue) -> Result<(), JsError> {
        let Given { notes, decisions } =
            serde_wasm_bindgen::from_value(review).map_err(|error| JsError::new(&error.to_string()))?;
        let decided =
            |Decided { finding, reason }| (finding, reason.map_or(Decision::Todo, |reason| Decision::Meant { reason }));
        self.review = Review { notes, decisions: decisions.into_iter().map(decided).collect() };
        Ok(())
    }

    /// What lies at a spot of a face: one of its triangles, and the weights of that one's corners; nothing where this model
    /// has no such triangle.
    pub fn place(&mut self, face: usize, triangle: usize, a: f64, b: f64, c: f64) -> Result<JsValue, JsError> {
        self.probe(|loaded, _| Hit::at(&loaded.model, face, triangle, [a, b, c]))
    }

    /// Of each point (x, y, z), like the eye from the mesh's centre: 1 where something lies between it and the eye, else 0.
    pub fn hidden(&mut self, x: f64, y: f64, z: f64, points: &[f64]) -> Vec<u8> {
        let eye = DVec3::new(x, y, z);
        self.probing(|loaded, prober| {
            let centre = loaded.centre;
            let (points, _) = points.as_chunks();
            let hides = |&point| prober.hides(&loaded.model, eye + centre, DVec3::from_array(point) + centre);
            points.iter().map(|point| u8::from(hides(point))).collect()
        })
        .unwrap_or_default()
    }
}
