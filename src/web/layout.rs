//! Edits of uvs on the same surface: steps, their changes for the page, and the transfer of a review.

use super::{Loaded, Session, State, buffers, review};
use crate::findings::shell_label;
use crate::measure::Stage;
use crate::model::{Change, Edit, Layout, Step, pieces};
use crate::report::Report;
use crate::review::{Followed, Review};
use crate::util::packed;
use glam::DVec2;
use js_sys::{Object, Reflect, Uint32Array};
use std::sync::Arc;
use wasm_bindgen::prelude::*;

/// Layouts that a review may still be about, when it comes: that of the report which the page has, and of one on its way.
const RECENT: usize = 4;

#[wasm_bindgen(typescript_custom_section)]
const UVS: &str = r"
/** What another layout changes of `MeshBuffers`. */
export interface UvBuffers {
    uv: Float32Array;
    bounds_uv: [number, number, number, number];
    /** A former shell and one that has faces of it, of each such pair; null where shells are the same. */
    pieces: Uint32Array | null;
    /** How many steps can be taken back. */
    undo: number;
    /** And how many again. */
    redo: number;
}
/** A review under another layout, as `Session.set_review` takes it. */
export interface Followed {
    notes: (string | null)[];
    places: Float64Array;
    decisions: (string | null)[];
    /** Findings on which decisions did not agree, and how many were decided on, of each. */
    lapsed: (string | number)[];
}
";

#[wasm_bindgen]
impl Session {
    /// Gives corners other uvs, u and v of each. Whether that changes anything; then the revision is the next one, and
    /// [`Session::set_brief`] names the stages to take again.
    ///
    /// # Errors
    /// Corners that do not exist, and uvs that no file can hold.
    pub fn edit(&mut self, corners: &[u32], uvs: &[f64]) -> Result<bool, JsError> {
        let (pairs, rest) = uvs.as_chunks();
        if !rest.is_empty() || pairs.len() != corners.len() {
            return Err(JsError::new("The edit has not one u and one v for each corner."));
        }
        let uvs = corners.iter().zip(pairs).map(|(&corner, &uv)| (corner, DVec2::from_array(uv))).collect();
        self.step(&Step::Apply(Edit { uvs, ..Edit::default() }))?.ok_or_else(|| {
            JsError::new("The edit names a corner that the model does not have, or a uv that is no number.")
        })
    }

    /// Undoes the last edit; returns whether there was one.
    pub fn undo(&mut self) -> Result<bool, JsError> {
        Ok(self.step(&Step::Undo)?.is_some())
    }

    /// Redoes the last undone edit; returns whether there was one.
    pub fn redo(&mut self) -> Result<bool, JsError> {
        Ok(self.step(&Step::Redo)?.is_some())
    }

    /// Which layout the model has: one more with each step.
    pub fn revision(&self) -> u32 {
        self.revision
    }

    /// What the last step changed of [`Session::mesh`] and [`Session::summary`]: `uv`, `bounds_uv`, `shells` and
    /// `faces_without_uv`; which shells have faces of which previous ones (`pieces`, previous and present one of each
    /// pair; nothing where shells are the same); and how many steps can be undone (`undo`) and redone (`redo`).
    #[wasm_bindgen(unchecked_return_type = "UvBuffers & { shells: number, faces_without_uv: number }")]
    pub fn uvs(&self) -> Result<Object, JsError> {
        let Loaded { model, .. } = self.loaded()?;
        let (uv, bounds_uv) = buffers::uvs(model);
        let [undo, redo] = self.history.steps().map(|steps| JsValue::from_f64(steps as f64));
        let former = self.recent.iter().rev().find(|(revision, _)| *revision < self.revision);
        let others = former.filter(|_| self.change == Change::Connectivity).map(|(_, former)| {
            let pairs = pieces(former, &model.layout).into_iter().map(packed::split_two);
            let flat: Vec<u32> = pairs.filter(|(_, old)| *old != u32::MAX).flat_map(|(new, old)| [old, new]).collect();
            Uint32Array::from(flat.as_slice())
        });
        let object = Object::new();
        for (key, value) in [
            ("uv", uv.into()),
            ("bounds_uv", bounds_uv),
            ("shells", JsValue::from_f64(model.layout.shell_count.into())),
            ("faces_without_uv", JsValue::from_f64(model.layout.unmapped_count() as f64)),
            ("pieces", others.map_or(JsValue::NULL, JsValue::from)),
            ("undo", undo),
            ("redo", redo),
        ] {
            // Setting a key of a fresh plain object cannot fail.
            let _ = Reflect::set(&object, &key.into(), &value);
        }
        Ok(object)
    }

    /// The transferred review of the last report if the layout is not the one of the review: as [`Session::set_review`]
    /// takes it, and `lapsed`, for each shell on which decisions did not agree, its finding and how many were decided
    /// on. Nothing if it is.
    #[wasm_bindgen(unchecked_return_type = "Followed | undefined")]
    pub fn followed(&self) -> JsValue {
        self.followed.as_ref().map_or(JsValue::UNDEFINED, review::followed)
    }
}

impl Session {
    /// Takes a step; returns whether it changed anything, `None` if impossible.
    fn step(&mut self, step: &Step) -> Result<Option<bool>, JsError> {
        let State::Read(loaded) = &mut self.state else { return Err(JsError::new("Nothing has been read yet.")) };
        let former = loaded.model.layout.clone();
        let Some(change) = self.history.take(step, &mut loaded.model) else { return Ok(None) };
        if Arc::ptr_eq(&former, &loaded.model.layout) {
            return Ok(Some(false));
        }
        self.recent.push((self.revision, former));
        let spare = self.recent.len().saturating_sub(RECENT);
        self.recent.drain(..spare);
        self.revision += 1;
        self.change = change;
        loaded.areas = buffers::areas(&loaded.model);
        loaded.prober = None;
        let stale = self.measures.relayout(change);
        Stage::ALL.iter().zip(&mut self.pending).for_each(|(stage, pending)| *pending |= stale.contains(stage));
        if change == Change::Connectivity {
            // Its rows are of other shells.
            self.report = None;
        }
        self.said.keep(|layout| self.history.has(layout) || Arc::ptr_eq(layout, &loaded.model.layout));
        Ok(Some(true))
    }

    /// The review as it is for this layout.
    pub(super) fn review_for(&mut self, report: &Report) -> Review {
        let review = self.review.read();
        self.followed = None;
        let State::Read(loaded) = &self.state else { return review };
        let Some(about) = self.layout_of(self.review.revision) else { return review };
        let label = |shell: u32| report.shells.get(shell as usize).map_or_else(String::new, shell_label);
        let followed = self.said.follow(&review, &about, &loaded.model, &label);
        let Followed { review, .. } = self.followed.insert(followed);
        review.clone()
    }

    /// The layout of an earlier revision, unless it is the present one or already dropped.
    fn layout_of(&self, revision: u32) -> Option<Arc<Layout>> {
        let (_, layout) = self.recent.iter().find(|(of, _)| *of == revision)?;
        Some(layout.clone())
    }
}
