//! How long pictures take, and so how carefully the next one is drawn.
//!
//! A fence after each picture tells when the graphics system has drawn it. Where a full picture takes too long, the ones
//! drawn while something moves are drafts, and a full one follows once it rests. A system that is fast enough never
//! shows a draft.

use web_sys::{WebGl2RenderingContext as Gl, WebGlSync};

use super::gl::Quality;

/// A full picture that takes longer, ms, is too slow to move with: below 20 a second, dragging stops feeling attached.
const SLOW_MS: f64 = 50.0;
/// Rest before the full picture follows, ms: shorter, and it would come between two moves of a hand.
const REST_MS: f64 = 160.0;

/// The pace of one place.
#[derive(Default)]
pub struct Pace {
    pending: Option<(WebGlSync, f64, Quality)>,
    slow: bool,
    moved_ms: f64,
    draft: bool,
}

/// What the next frame should do.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Advice {
    /// How carefully to draw, if anything is drawn.
    pub quality: Quality,
    /// Whether a draft has rested long enough to be drawn fully.
    pub refine: bool,
}

impl Pace {
    /// Looks how far the last picture is; true while it is being drawn.
    pub fn is_drawing(&mut self, gl: &Gl, now_ms: f64) -> bool {
        let Some((fence, start_ms, quality)) = &self.pending else { return false };
        let took = now_ms - start_ms;
        let done = gl.get_sync_parameter(fence, Gl::SYNC_STATUS).as_f64() == Some(f64::from(Gl::SIGNALED));
        // One that is not yet done has taken that long already.
        if *quality == Quality::Full && (done || took > SLOW_MS) {
            self.slow = took > SLOW_MS;
        }
        if done {
            gl.delete_sync(Some(fence));
            self.pending = None;
        }
        !done
    }

    /// What to do now; `moving`: what is to be drawn is on the move.
    pub fn advise(&mut self, now_ms: f64, moving: bool) -> Advice {
        if moving {
            self.moved_ms = now_ms;
        }
        let resting = now_ms - self.moved_ms >= REST_MS;
        let quality = if self.slow && (moving || (self.draft && !resting)) { Quality::Draft } else { Quality::Full };
        Advice { quality, refine: self.draft && resting && !moving }
    }

    /// A picture was just drawn.
    pub fn drawn(&mut self, gl: &Gl, now_ms: f64, quality: Quality) {
        self.draft = quality == Quality::Draft;
        if let Some((fence, ..)) = self.pending.take() {
            gl.delete_sync(Some(&fence));
        }
        self.pending = gl.fence_sync(Gl::SYNC_GPU_COMMANDS_COMPLETE, 0).map(|fence| (fence, now_ms, quality));
    }

    /// Whether another frame is wanted: to see how long this one took, or to draw it fully.
    pub fn waits(&self) -> bool {
        self.draft || self.pending.is_some()
    }
}
