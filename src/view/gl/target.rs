//! Pictures that are drawn off the screen and then read.

use std::cell::{Cell, RefCell};

use web_sys::{WebGl2RenderingContext as Gl, WebGlFramebuffer, WebGlRenderbuffer};

use super::{Context, GlError, Sampling, Texture};
use crate::view::queue::Budget;

/// How carefully a picture is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Quality {
    /// One sample a pixel: while it moves on a slow system.
    Draft,
    /// Several samples a pixel.
    Full,
}

/// A picture that is drawn, and then read as a texture.
pub struct Target {
    gl: Context,
    /// Width and height, px.
    pub size: [i32; 2],
    // What is drawn into; without it, colour and depth are drawn directly.
    samples: Option<Surface>,
    drawn: Surface,
    /// The finished picture.
    pub colour: Texture,
    /// Depths of the finished picture.
    pub depth: Texture,
}

/// Samples a pixel; 4 is what every WebGL2 system has.
const SAMPLES: i32 = 4;

impl Target {
    /// An empty one.
    pub fn new(gl: &Context, [width, height]: [i32; 2], quality: Quality) -> Result<Self, GlError> {
        let samples = match quality {
            Quality::Draft => None,
            Quality::Full => {
                let samples = Surface::new(gl)?;
                samples.attach_samples(Gl::RGBA8, Gl::COLOR_ATTACHMENT0, width, height)?;
                samples.attach_samples(Gl::DEPTH_COMPONENT24, Gl::DEPTH_ATTACHMENT, width, height)?;
                Some(samples)
            }
        };
        let colour = Texture::new(gl, 1, Gl::RGBA8, width, height, Sampling::Nearest)?;
        let depth = Texture::new(gl, 1, Gl::DEPTH_COMPONENT24, width, height, Sampling::Nearest)?;
        let drawn = Surface::new(gl)?;
        drawn.attach(Gl::COLOR_ATTACHMENT0, &colour);
        drawn.attach(Gl::DEPTH_ATTACHMENT, &depth);
        Ok(Self { gl: gl.clone(), size: [width, height], samples, drawn, colour, depth })
    }

    /// Whether the graphics system can draw into it at all, checked once and as far as time allows. Waits until all
    /// before is done.
    ///
    /// # Errors
    /// It cannot.
    pub fn check(&self, budget: &Budget) -> Result<(), GlError> {
        let [width, height] = self.size;
        for surface in self.samples.iter().chain([&self.drawn]) {
            if budget.is_left() && !surface.checked.replace(true) {
                surface.check(width, height)?;
            }
        }
        Ok(())
    }

    /// Whether that was checked.
    pub fn is_checked(&self) -> bool {
        self.samples.iter().chain([&self.drawn]).all(|surface| surface.checked.get())
    }

    /// Draws into it from now on.
    pub fn begin(&self) {
        let [width, height] = self.size;
        self.gl.bind_framebuffer(Gl::FRAMEBUFFER, Some(&self.samples.as_ref().unwrap_or(&self.drawn).raw));
        self.gl.viewport(0, 0, width, height);
        self.gl.disable(Gl::SCISSOR_TEST);
    }

    /// Makes the colours readable.
    pub fn finish(&self) {
        self.resolve(Gl::COLOR_BUFFER_BIT);
    }

    /// Makes the depths readable.
    pub fn finish_depth(&self) {
        self.resolve(Gl::DEPTH_BUFFER_BIT);
    }

    /// Copies the finished colours to the canvas, as large as they are, with the lower left corner at this place.
    pub fn copy_to_canvas(&self, [x, y]: [i32; 2]) {
        let [width, height] = self.size;
        self.gl.bind_framebuffer(Gl::READ_FRAMEBUFFER, Some(&self.drawn.raw));
        self.gl.bind_framebuffer(Gl::DRAW_FRAMEBUFFER, None);
        let (right, top) = (x + width, y + height);
        self.gl.blit_framebuffer(0, 0, width, height, x, y, right, top, Gl::COLOR_BUFFER_BIT, Gl::NEAREST);
        self.gl.bind_framebuffer(Gl::FRAMEBUFFER, None);
    }

    fn resolve(&self, what: u32) {
        let [width, height] = self.size;
        if let Some(samples) = &self.samples {
            self.gl.bind_framebuffer(Gl::READ_FRAMEBUFFER, Some(&samples.raw));
            self.gl.bind_framebuffer(Gl::DRAW_FRAMEBUFFER, Some(&self.drawn.raw));
            self.gl.blit_framebuffer(0, 0, width, height, 0, 0, width, height, what, Gl::NEAREST);
        }
        self.gl.bind_framebuffer(Gl::FRAMEBUFFER, None);
    }
}

struct Surface {
    gl: Context,
    raw: WebGlFramebuffer,
    // Kept to be released with the framebuffer.
    renderbuffers: RefCell<Vec<WebGlRenderbuffer>>,
    checked: Cell<bool>,
}

impl Surface {
    fn new(gl: &Context) -> Result<Self, GlError> {
        let raw = gl.create_framebuffer().ok_or(GlError::Refused("framebuffer"))?;
        gl.bind_framebuffer(Gl::FRAMEBUFFER, Some(&raw));
        Ok(Self { gl: gl.clone(), raw, renderbuffers: RefCell::default(), checked: Cell::new(false) })
    }

    fn attach_samples(&self, format: u32, place: u32, width: i32, height: i32) -> Result<(), GlError> {
        let raw = self.gl.create_renderbuffer().ok_or(GlError::Refused("renderbuffer"))?;
        self.gl.bind_renderbuffer(Gl::RENDERBUFFER, Some(&raw));
        self.gl.renderbuffer_storage_multisample(Gl::RENDERBUFFER, SAMPLES, format, width, height);
        self.gl.framebuffer_renderbuffer(Gl::FRAMEBUFFER, place, Gl::RENDERBUFFER, Some(&raw));
        self.renderbuffers.borrow_mut().push(raw);
        Ok(())
    }

    fn attach(&self, place: u32, texture: &Texture) {
        self.gl.framebuffer_texture_2d(Gl::FRAMEBUFFER, place, Gl::TEXTURE_2D, Some(&texture.raw), 0);
    }

    fn check(&self, width: i32, height: i32) -> Result<(), GlError> {
        self.gl.bind_framebuffer(Gl::FRAMEBUFFER, Some(&self.raw));
        let complete = self.gl.check_framebuffer_status(Gl::FRAMEBUFFER) == Gl::FRAMEBUFFER_COMPLETE;
        self.gl.bind_framebuffer(Gl::FRAMEBUFFER, None);
        if complete || self.gl.is_context_lost() { Ok(()) } else { Err(GlError::Incomplete { width, height }) }
    }
}

impl Drop for Surface {
    fn drop(&mut self) {
        if self.gl.is_alive() {
            self.gl.delete_framebuffer(Some(&self.raw));
            for raw in self.renderbuffers.borrow_mut().drain(..) {
                self.gl.delete_renderbuffer(Some(&raw));
            }
        }
    }
}
