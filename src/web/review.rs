//! A review as the page passes it, and where its notes are on this model. The page has validated it.
//!
//! Only what the report needs comes in, as flat arrays: reading objects here cost 3 kB more.

use super::{Session, probe::Hit};
use crate::review::{Decision, Followed, Lapsed, Note, Review};
use glam::DVec3;
use js_sys::{Array, Float64Array, Object, Reflect};
use wasm_bindgen::prelude::*;

/// Decisions and notes as passed, read again for each report.
#[derive(Default)]
pub(super) struct Given {
    notes: Array,
    places: Vec<f64>,
    decisions: Array,
    /// Of the layout that they are about.
    pub(super) revision: u32,
}

impl Given {
    pub(super) fn read(&self) -> Review {
        let (places, _) = self.places.as_chunks();
        let mut review = Review::default();
        for (at, &[face, x, y, z, u, v]) in (0..).zip(places) {
            review.notes.push(Note {
                text: self.notes.get(at * 2).as_string().unwrap_or_default(),
                shell: self.notes.get(at * 2 + 1).as_string(),
                face: face as u32,
                point: [x, y, z],
                uv: Some([u, v]).filter(|uv| !uv[0].is_nan()),
            });
        }
        for at in 0..self.decisions.length() / 2 {
            let reason = self.decisions.get(at * 2 + 1).as_string();
            let decision = reason.map_or(Decision::ToFix, |reason| Decision::Intended { reason });
            review.decisions.push((self.decisions.get(at * 2).as_string().unwrap_or_default(), decision));
        }
        review
    }
}

/// A transferred review, for the page; see [`Session::followed`].
pub(super) fn followed(Followed { review, lapsed }: &Followed) -> JsValue {
    let text = |text: &str| JsValue::from_str(text);
    let (notes, decisions, lost) = (Array::new(), Array::new(), Array::new());
    let mut places = Vec::new();
    for Note { text: words, shell, face, point, uv } in &review.notes {
        notes.push(&text(words));
        notes.push(&shell.as_deref().map_or(JsValue::NULL, text));
        places.push(f64::from(*face));
        places.extend(point.iter().chain(uv.as_ref().unwrap_or(&[f64::NAN; 2])));
    }
    for (id, decision) in &review.decisions {
        decisions.push(&text(id));
        decisions.push(&match decision {
            Decision::Intended { reason } => text(reason),
            Decision::ToFix => JsValue::NULL,
        });
    }
    for Lapsed { id, decided } in lapsed {
        lost.push(&text(id));
        lost.push(&JsValue::from_f64(decided.len() as f64));
    }
    let object = Object::new();
    let places = Float64Array::from(places.as_slice());
    for (key, value) in
        [("notes", notes.into()), ("places", places.into()), ("decisions", decisions.into()), ("lapsed", lost.into())]
    {
        let value: JsValue = value;
        // Setting a key of a fresh plain object cannot fail.
        let _ = Reflect::set(&object, &text(key), &value);
    }
    object.into()
}

#[wasm_bindgen]
impl Session {
    /// The review for the next report. `notes`: text and shell (a string, or null) of each; `places`: face, x, y, z, u
    /// and v of each, NaN for no u and v; `decisions`: id of the finding, and why it is intended (a string; null: to
    /// fix). `revision`: of the layout that all this is about; without it, of the present one.
    pub fn set_review(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "(string | null)[]")] notes: Array,
        places: Vec<f64>,
        #[wasm_bindgen(unchecked_param_type = "(string | null)[]")] decisions: Array,
        revision: Option<u32>,
    ) {
        self.review = Given { notes, places, decisions, revision: revision.unwrap_or(self.revision) };
    }

    /// What lies at a spot of a face: one of its triangles, and the weights of that one's corners; nothing where this model
    /// has no such triangle.
    #[wasm_bindgen(unchecked_return_type = "Probe | undefined")]
    pub fn place(&mut self, face: usize, triangle: usize, a: f64, b: f64, c: f64) -> Result<JsValue, JsError> {
        self.probe(|loaded, _, _| Hit::at(&loaded.model, face, triangle, [a, b, c]))
    }

    /// Of each point (x, y, z), like the eye from the mesh's centre: 1 where something lies between it and the eye, else 0.
    pub fn hidden(&mut self, x: f64, y: f64, z: f64, points: &[f64]) -> Vec<u8> {
        let eye = DVec3::new(x, y, z);
        self.probing(|loaded, prober, _| {
            let centre = loaded.centre;
            let (points, _) = points.as_chunks();
            let hides =
                |&point: &[f64; 3]| prober.hides(&loaded.model, eye + centre, DVec3::from_array(point) + centre);
            let mut hidden = Vec::new();
            for point in points {
                hidden.push(u8::from(hides(point)));
            }
            hidden
        })
        .unwrap_or_default()
    }
}
