//! The grid's texture: painted and brought to the graphics system in slices; until it is ready, plain paper.

use web_sys::WebGl2RenderingContext as Gl;

use super::gl::{Context, GlError, Quality, Sampling, Texture, most_anisotropy};
use crate::grid::{GridOptions, Painter, Picture};
use crate::lens;

/// Rows painted a slice.
const SLICE_ROWS: u32 = 32;
/// Bytes brought a slice, about.
const SLICE_BYTES: u32 = 1 << 20;
/// Longer side of the texture, least and most, px. Least: a small map's cells must not blur when one comes close. Most:
/// four times the memory for the next size; closer than that, a cell is larger than the screen.
const TEXTURE_PX: (u32, u32) = (2048, 4096);

/// The grid on its way, and the one that is drawn.
pub struct Paper {
    /// What is drawn with.
    pub texture: Texture,
    sharpness: Option<Quality>,
    most_anisotropy: Option<f32>,
    work: Work,
}

enum Work {
    Done,
    Painting(Box<Painter>),
    Bringing { levels: Vec<Picture>, level: usize, row: u32, texture: Texture },
}

impl Paper {
    /// Plain paper; starts on the grid of `options`.
    pub fn new(gl: &Context, options: &GridOptions) -> Result<Self, GlError> {
        let [r, g, b] = lens::PAPER;
        let texture = Texture::with(gl, 1, 1, &[r, g, b, 255], Sampling::Linear)?;
        let mut paper = Self { texture, sharpness: None, most_anisotropy: most_anisotropy(gl), work: Work::Done };
        paper.begin(gl, options);
        Ok(paper)
    }

    /// Starts on another grid; what is drawn stays until it is ready.
    pub fn begin(&mut self, gl: &Context, options: &GridOptions) {
        let longest = options.map_width_px.max(options.map_height_px).max(1);
        let most = gl.get_parameter(Gl::MAX_TEXTURE_SIZE).ok().and_then(|most| most.as_f64()).unwrap_or(2048.0) as u32;
        let wanted = longest.clamp(TEXTURE_PX.0, TEXTURE_PX.1).min(most);
        let side = |px: u32| ((u64::from(px) * u64::from(wanted) / u64::from(longest)) as u32).max(1);
        let (width, height) = (side(options.map_width_px), side(options.map_height_px));
        self.work = Work::Painting(Box::new(Painter::new(options, width, height)));
    }

    /// Whether the grid asked for is the one drawn with.
    pub fn is_whole(&self) -> bool {
        matches!(self.work, Work::Done)
    }

    /// Filters for a picture of this quality.
    pub fn sharpen(&mut self, quality: Quality) {
        if self.sharpness != Some(quality) {
            if let Some(most) = self.most_anisotropy {
                self.texture.set_anisotropy(if quality == Quality::Full { most } else { 1.0 });
            }
            self.sharpness = Some(quality);
        }
    }

    /// One more slice.
    pub fn step(&mut self, gl: &Context) -> Result<Step, GlError> {
        match std::mem::replace(&mut self.work, Work::Done) {
            Work::Done => Ok(Step::Idle),
            Work::Painting(mut painter) => {
                self.work = if painter.step(SLICE_ROWS) {
                    let levels = painter.finish();
                    let (width, height) = (levels[0].width as i32, levels[0].height as i32);
                    let count = levels.len() as i32;
                    let texture = Texture::new(gl, count, Gl::RGBA8, width, height, Sampling::Trilinear)?;
                    Work::Bringing { levels, level: 0, row: 0, texture }
                } else {
                    Work::Painting(painter)
                };
                Ok(Step::Busy)
            }
            Work::Bringing { levels, level, row, texture } => {
                let Some(picture) = levels.get(level) else {
                    (self.texture, self.sharpness) = (texture, None);
                    return Ok(Step::Ready);
                };
                let stride = picture.width * 4;
                let rows = (SLICE_BYTES / stride).max(1).min(picture.height - row);
                let bytes = &picture.rgba[(row * stride) as usize..((row + rows) * stride) as usize];
                texture.write(level as i32, row as i32, picture.width as i32, rows as i32, bytes)?;
                let whole = row + rows == picture.height;
                let (level, row) = if whole { (level + 1, 0) } else { (level, row + rows) };
                self.work = Work::Bringing { levels, level, row, texture };
                Ok(Step::Busy)
            }
        }
    }
}

/// How far a slice came.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// Nothing to do.
    Idle,
    /// There is more.
    Busy,
    /// The new grid is there.
    Ready,
}
