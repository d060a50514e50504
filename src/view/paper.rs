//! The grid's texture: painted and brought to the graphics system in slices. The first one is small and soon there, to be
//! seen until the one of full size is; before that, plain paper.

use web_sys::WebGl2RenderingContext as Gl;

use super::gl::{Context, GlError, Quality, Sampling, Texture, most_anisotropy};
use crate::grid::{GridOptions, Painter, Picture};
use crate::lens;

/// Rows painted a slice.
const SLICE_ROWS: u32 = 32;
/// Bytes brought a slice, about.
const SLICE_BYTES: u32 = 1 << 20;
/// Longer side of the texture, least and most, px. Least: a small map's cells must not blur when zoomed in. Most: four
/// times the memory for the next size; closer than that, a cell is larger than the screen.
const TEXTURE_PX: (u32, u32) = (2048, 4096);
/// Longer side of the first texture, px: circles and pennants of the usual cells are distinguishable, and it takes a
/// frame or two.
const FIRST_TEXTURE_PX: u32 = 512;

/// The grid on its way, and the one that is drawn.
pub struct Paper {
    /// What is drawn with.
    pub texture: Texture,
    has_grid: bool,
    sharpness: Option<Quality>,
    /// How anisotropic filters may be, once queried.
    most_anisotropy: Option<Option<f32>>,
    work: Work,
    /// What comes after the work: the same grid in full size.
    then: Option<Box<Painter>>,
}

enum Work {
    Done,
    Painting(Box<Painter>),
    Painted(Vec<Picture>),
    Bringing { levels: Vec<Picture>, level: usize, row: u32, texture: Texture },
}

impl Paper {
    /// Plain paper; starts on the grid of `options`.
    pub fn new(gl: &Context, options: &GridOptions) -> Result<Self, GlError> {
        let [r, g, b] = lens::PAPER;
        let texture = Texture::with(gl, 1, 1, &[r, g, b, 255], Sampling::Linear)?;
        let mut paper =
            Self { texture, has_grid: false, sharpness: None, most_anisotropy: None, work: Work::Done, then: None };
        paper.begin(gl, options);
        Ok(paper)
    }

    /// Starts on another grid; what is drawn stays until it is ready.
    pub fn begin(&mut self, gl: &Context, options: &GridOptions) {
        let longest = options.map_width_px.max(options.map_height_px).max(1);
        let most = gl.get_parameter(Gl::MAX_TEXTURE_SIZE).ok().and_then(|most| most.as_f64()).unwrap_or(2048.0) as u32;
        let painter = |wanted: u32| {
            let side = |px: u32| ((u64::from(px) * u64::from(wanted) / u64::from(longest)) as u32).max(1);
            Box::new(Painter::new(options, side(options.map_width_px), side(options.map_height_px)))
        };
        let whole = painter(longest.clamp(TEXTURE_PX.0, TEXTURE_PX.1).min(most));
        // Where a grid is shown already, a coarse one in between would flicker.
        (self.work, self.then) = match self.has_grid {
            true => (Work::Painting(whole), None),
            false => (Work::Painting(painter(FIRST_TEXTURE_PX)), Some(whole)),
        };
    }

    /// Whether a grid is drawn, in any size.
    pub fn has_grid(&self) -> bool {
        self.has_grid
    }

    /// Whether the requested grid is drawn, in full size.
    pub fn is_whole(&self) -> bool {
        matches!(self.work, Work::Done)
    }

    /// Whether it is known how sharp filters may be.
    pub fn has_learnt(&self) -> bool {
        self.most_anisotropy.is_some()
    }

    /// Queries that, once; waits for the graphics system. Returns whether it was queried now.
    pub fn learn(&mut self, gl: &Context) -> bool {
        let unknown = self.most_anisotropy.is_none();
        self.most_anisotropy.get_or_insert_with(|| most_anisotropy(gl));
        unknown
    }

    /// Filters for a picture of this quality, as far as the system's limits are known: see [`Paper::learn`].
    pub fn sharpen(&mut self, quality: Quality) {
        if self.most_anisotropy.is_some() && self.sharpness != Some(quality) {
            if let Some(value) = self.anisotropy(quality) {
                self.texture.set_anisotropy(value);
            }
            self.sharpness = Some(quality);
        }
    }

    /// How anisotropic filters are for a picture of this quality; `None` if not supported or not queried yet.
    pub fn anisotropy(&self, quality: Quality) -> Option<f32> {
        self.most_anisotropy.flatten().map(|most| if quality == Quality::Full { most } else { 1.0 })
    }

    /// Paints one more slice without the graphics system; false when there is nothing to paint.
    pub fn paint(&mut self) -> bool {
        self.work = match std::mem::replace(&mut self.work, Work::Done) {
            Work::Painting(mut painter) => match painter.step(SLICE_ROWS) {
                true => Work::Painted(painter.finish()),
                false => Work::Painting(painter),
            },
            other => {
                self.work = other;
                return false;
            }
        };
        true
    }

    /// One more slice, painted or brought.
    pub fn step(&mut self, gl: &Context) -> Result<Step, GlError> {
        if self.paint() {
            return Ok(Step::Busy);
        }
        match std::mem::replace(&mut self.work, Work::Done) {
            Work::Done | Work::Painting(_) => Ok(Step::Idle),
            Work::Painted(levels) => {
                // The base is always there.
                let (width, height) = (levels[0].width as i32, levels[0].height as i32);
                let texture = Texture::new(gl, levels.len() as i32, Gl::RGBA8, width, height, Sampling::Trilinear)?;
                self.work = Work::Bringing { levels, level: 0, row: 0, texture };
                Ok(Step::Busy)
            }
            Work::Bringing { levels, level, row, texture } => {
                let Some(picture) = levels.get(level) else {
                    (self.texture, self.sharpness, self.has_grid) = (texture, None, true);
                    self.work = self.then.take().map_or(Work::Done, Work::Painting);
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
    /// A grid is there to be drawn with.
    Ready,
}
