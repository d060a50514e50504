//! How long pictures take, and so the quality of the next one.
//!
//! A fence after each picture shows when the graphics system has drawn it. Where a full picture takes too long, the
//! ones drawn while something moves are drafts, and a full one follows once it rests. A system that is fast enough
//! never shows a draft after its first pictures.

use std::collections::VecDeque;

use web_sys::{WebGl2RenderingContext as Gl, WebGlSync};

use super::gl::Quality;

/// A full picture that takes longer, ms, is too slow to move with: below 20 a second, dragging feels delayed.
const SLOW_MS: f64 = 50.0;
/// Rest before the full picture follows, ms: shorter, and it would come between two moves of a drag.
const REST_MS: f64 = 160.0;

/// Pictures given to the graphics system before the first of them is drawn: with one, a fast system would idle between
/// two of them; with more, a slow one would lag.
const MOST_PENDING: usize = 2;

/// The pace of one place.
pub struct Pace {
    pending: VecDeque<Pending>,
    /// Until a full picture was drawn in time: the first picture should come soon.
    slow: bool,
    moved_ms: f64,
    draft: bool,
    took_ms: f64,
}

struct Pending {
    fence: WebGlSync,
    start_ms: f64,
    quality: Quality,
}

/// What the next frame should do.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Advice {
    /// At which quality to draw, if anything is drawn.
    pub quality: Quality,
    /// Whether a draft has rested long enough to be drawn fully.
    pub refine: bool,
}

impl Default for Pace {
    fn default() -> Self {
        Self { pending: VecDeque::new(), slow: true, moved_ms: 0.0, draft: false, took_ms: 0.0 }
    }
}

impl Pace {
    /// Checks how far the last pictures are; true while one is being drawn.
    pub fn is_drawing(&mut self, gl: &Gl, now_ms: f64) -> bool {
        while let Some(Pending { fence, start_ms, quality }) = self.pending.front() {
            let took = now_ms - start_ms;
            self.took_ms = took;
            let done = gl.get_sync_parameter(fence, Gl::SYNC_STATUS).as_f64() == Some(f64::from(Gl::SIGNALED));
            // One that is not yet done has taken that long already.
            if *quality == Quality::Full && (done || took > SLOW_MS) {
                self.slow = took > SLOW_MS;
            }
            if !done {
                return true;
            }
            gl.delete_sync(Some(fence));
            self.pending.pop_front();
            // The next one had to wait for it.
            if let Some(next) = self.pending.front_mut() {
                next.start_ms = next.start_ms.max(now_ms);
            }
        }
        false
    }

    /// How long the last picture took, or takes so far, ms, whatever its quality.
    pub fn took_ms(&self) -> f64 {
        self.took_ms
    }

    /// Whether the graphics system has enough to do.
    pub fn is_full(&self) -> bool {
        self.pending.len() >= MOST_PENDING
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
        let fence = gl.fence_sync(Gl::SYNC_GPU_COMMANDS_COMPLETE, 0);
        self.pending.extend(fence.map(|fence| Pending { fence, start_ms: now_ms, quality }));
    }

    /// Whether a picture is being drawn, as far as was seen.
    pub fn is_pending(&self) -> bool {
        !self.pending.is_empty()
    }

    /// Whether another frame is wanted: to see how long this one took, or to draw it fully.
    pub fn waits(&self) -> bool {
        self.draft || self.is_pending()
    }
}
