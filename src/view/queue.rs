//! Whether the graphics system has finished its work.
//!
//! Some calls wait for an answer (the result of a link, whether a framebuffer is complete, another size of the canvas),
//! and the answer comes after all earlier work. A fence behind the last work shows when that is done, so that nothing
//! waits long and no more is uploaded than is processed.
//!
//! In a worker too: while the painter waited, it would not receive what the page sends.

use web_sys::{WebGl2RenderingContext as Gl, WebGlSync};

/// The last fence, while it has not been passed.
#[derive(Default)]
pub struct Queue {
    fence: Option<WebGlSync>,
}

impl Queue {
    /// Work was sent.
    pub fn asked(&mut self, gl: &Gl) {
        let next = gl.fence_sync(Gl::SYNC_GPU_COMMANDS_COMPLETE, 0);
        if let Some(before) = std::mem::replace(&mut self.fence, next) {
            gl.delete_sync(Some(&before));
        }
        // What is not sent is not done.
        gl.flush();
    }

    /// Whether something is still to be done. Never waits.
    pub fn is_busy(&mut self, gl: &Gl) -> bool {
        let passed =
            |fence: &WebGlSync| gl.get_sync_parameter(fence, Gl::SYNC_STATUS).as_f64() == Some(f64::from(Gl::SIGNALED));
        if self.fence.as_ref().is_some_and(passed) {
            gl.delete_sync(self.fence.take().as_ref());
        }
        self.fence.is_some()
    }
}

/// Time for work within a frame.
pub struct Budget {
    end_ms: f64,
}

impl Budget {
    /// This many ms from now on.
    pub fn new(milliseconds: f64) -> Self {
        Self { end_ms: js_sys::Date::now() + milliseconds }
    }

    /// Whether there is some left.
    pub fn is_left(&self) -> bool {
        js_sys::Date::now() < self.end_ms
    }
}
