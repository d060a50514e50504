//! The calibrated grid: the proof sheet that is drawn through a model's UVs.
//!
//! One generator for the stage's texture, the sheet and the PNG. Every cell carries the same four things: fine rules,
//! an inscribed circle (under any mapping it becomes Tissot's ellipse: its axes are the stretch, its size the density),
//! a pennant (an arrow that points up the sheet with one flag on its right, so that turned, tilted and mirrored cells
//! are recognisable) and its address, column·row, counted from the sheet's bottom left. Blocks of 8 x 8 cells alternate
//! four paper tints and are bordered by heavier rules with quarter ticks.
//!
//! Everything is laid out in map pixels and drawn by exact area coverage ([`paint`]), mixed in linear light, so the
//! picture painted for a smaller texture is what the larger one becomes when it is averaged down, and no edge is hard
//! enough to cause moiré. All arithmetic is IEEE basic operations and square roots: the same bytes natively and in a
//! browser.
//!
//! Cost: linear in pixels plus 32 steps per cell and row of pixels; [`Painter`] does it in slices.
//!
//! The face is Barlow SemiBold (npm `@fontsource/barlow` 5.3.0, SIL Open Font Licence 1.1, no Reserved Font Name), cut
//! down by `www/fonts/subset.py`; the licence is `www/fonts/OFL.txt`.

mod face;
mod layout;
mod lettering;
mod light;
mod mips;
mod painter;
mod rows;
mod shapes;

#[cfg(test)]
mod tests;

use std::fmt;

use glam::DVec2;

use image::ImageEncoder as _;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};

pub use layout::{BLOCK_CELLS, INK, PAPER_TINTS, RING, RING_RADIUS, cell_at};
pub use lettering::missing_glyphs;
pub use mips::mip_levels;
pub use painter::Painter;

/// Default side of a cell, map px: 32 cells across a 2048 px map, with a readable address.
pub const DEFAULT_CELL_PX: u32 = 64;
/// Least side of a cell, map px: below, neither pennant nor circle is more than a smudge.
pub const MIN_CELL_PX: u32 = 16;
/// Greatest side of a cell, map px: above, a large map has too few cells to compare.
pub const MAX_CELL_PX: u32 = 1024;
/// Least height of the user's words, map px per em: below, no face is legible.
pub const MIN_WORDS_PX: f32 = 8.0;
/// Greatest height of the user's words, map px per em: bounds the memory for their letters.
pub const MAX_WORDS_PX: f32 = 512.0;
/// Most characters of the user's words: a few lines; bounds the memory for their letters.
pub const MAX_WORDS_CHARS: usize = 120;
/// Most pixels of a PNG: 8192 x 8192, 192 MiB while it is made, which a browser tab can still give.
pub const MAX_PNG_PX: u64 = 8192 * 8192;

/// The user's words, set across the sheet.
#[derive(Clone, Debug, PartialEq)]
pub struct Words {
    /// The text; line breaks and other control characters count as spaces. At most [`MAX_WORDS_CHARS`] are set.
    pub text: String,
    /// Size, map px per em; clamped to [`MIN_WORDS_PX`]..=[`MAX_WORDS_PX`].
    pub size_px: f32,
}

/// What the sheet shows.
#[derive(Clone, Debug, PartialEq)]
pub struct GridOptions {
    /// Width of the map, px, at least 1.
    pub map_width_px: u32,
    /// Height of the map, px, at least 1.
    pub map_height_px: u32,
    /// Side of a cell, map px; clamped to [`MIN_CELL_PX`]..=[`MAX_CELL_PX`].
    pub cell_px: u32,
    /// The user's words, or none.
    pub words: Option<Words>,
}

impl GridOptions {
    /// A sheet for a map of this size (px) with cells of [`DEFAULT_CELL_PX`] and no words.
    pub fn new(map_width_px: u32, map_height_px: u32) -> Self {
        Self { map_width_px, map_height_px, cell_px: DEFAULT_CELL_PX, words: None }
    }

    /// Width and height of the map, px.
    pub fn map_px(&self) -> DVec2 {
        DVec2::new(self.map_width_px.into(), self.map_height_px.into())
    }

    /// A sheet with words of this size, px to the em; none if they are blank, and then their size is ignored.
    ///
    /// # Errors
    /// As [`GridOptions::check`].
    pub fn asked(
        map_width_px: u32,
        map_height_px: u32,
        cell_px: u32,
        words: &str,
        words_px: f32,
    ) -> Result<Self, GridError> {
        let words = words.trim();
        let words = (!words.is_empty()).then(|| Words { text: words.to_owned(), size_px: words_px });
        let options = Self { map_width_px, map_height_px, cell_px, words };
        options.check()?;
        Ok(options)
    }

    /// Whether the sheet can be drawn exactly as requested; the drawing functions that cannot fail clamp each value
    /// instead.
    ///
    /// # Errors
    /// The first value that is out of its range.
    pub fn check(&self) -> Result<(), GridError> {
        if self.map_width_px == 0 || self.map_height_px == 0 {
            return Err(GridError::EmptyMap { width_px: self.map_width_px, height_px: self.map_height_px });
        }
        if !(MIN_CELL_PX..=MAX_CELL_PX).contains(&self.cell_px) {
            return Err(GridError::CellSize { cell_px: self.cell_px });
        }
        if let Some(words) = &self.words {
            if !(MIN_WORDS_PX..=MAX_WORDS_PX).contains(&words.size_px) {
                return Err(GridError::WordsSize { size_px: words.size_px });
            }
            let chars = words.text.chars().count();
            if chars > MAX_WORDS_CHARS {
                return Err(GridError::WordsLength { chars });
            }
        }
        Ok(())
    }
}

impl Default for GridOptions {
    /// A 2048 x 2048 px map.
    fn default() -> Self {
        Self::new(2048, 2048)
    }
}

/// An opaque picture, 8-bit sRGB with alpha 255.
///
/// Row 0 is the TOP of the sheet (v = 1); the last row is its bottom (v = 0).
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Picture {
    /// Width, px.
    pub width: u32,
    /// Height, px.
    pub height: u32,
    /// `width * height` pixels of four bytes, rows from the top.
    pub rgba: Vec<u8>,
}

/// Why a sheet cannot be made.
#[derive(Clone, Debug, PartialEq)]
pub enum GridError {
    /// The map has no pixels.
    EmptyMap {
        /// Requested width, px.
        width_px: u32,
        /// Requested height, px.
        height_px: u32,
    },
    /// More pixels than [`MAX_PNG_PX`].
    TooLarge {
        /// Requested width, px.
        width_px: u32,
        /// Requested height, px.
        height_px: u32,
    },
    /// The cell is outside [`MIN_CELL_PX`]..=[`MAX_CELL_PX`].
    CellSize {
        /// Requested side, map px.
        cell_px: u32,
    },
    /// The words' size is outside [`MIN_WORDS_PX`]..=[`MAX_WORDS_PX`].
    WordsSize {
        /// Requested size, map px per em.
        size_px: f32,
    },
    /// The words have more than [`MAX_WORDS_CHARS`] characters.
    WordsLength {
        /// Characters given.
        chars: usize,
    },
    /// The PNG encoder failed.
    Encoding {
        /// Its message.
        reason: String,
    },
}

impl fmt::Display for GridError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::EmptyMap { width_px, height_px } => {
                write!(
                    f,
                    "A map of {width_px} x {height_px} px has no pixels. Give it a width and a height of at least 1 px."
                )
            }
            Self::TooLarge { width_px, height_px } => write!(
                f,
                "A picture of {width_px} x {height_px} px is too large to make; the limit is 8192 x 8192 px or as many \
                 pixels in another shape. Ask for a smaller map: the grid keeps its look at any size."
            ),
            Self::CellSize { cell_px } => write!(
                f,
                "A cell cannot be {cell_px} px wide. It can be from {MIN_CELL_PX} to {MAX_CELL_PX} px; \
                 {DEFAULT_CELL_PX} is the usual size."
            ),
            Self::WordsSize { size_px } => {
                write!(f, "Words cannot be {size_px} px high. They can be from {MIN_WORDS_PX} to {MAX_WORDS_PX} px.")
            }
            Self::WordsLength { chars } => {
                write!(f, "The words have {chars} characters; there is room for {MAX_WORDS_CHARS}. Shorten them.")
            }
            Self::Encoding { reason } => {
                write!(f, "The picture was drawn but could not be written as a PNG ({reason}). Please report this.")
            }
        }
    }
}

impl std::error::Error for GridError {}

/// Paints the sheet for a texture of `texture_width` x `texture_height` px (each at least 1): the map's own size, or
/// the same picture smaller or larger, also with another aspect. Values out of range are clamped; see
/// [`GridOptions::check`].
pub fn paint(options: &GridOptions, texture_width: u32, texture_height: u32) -> Picture {
    Painter::without_mips(options, texture_width, texture_height).finish().swap_remove(0)
}

/// The sheet at the map's full size, from the top, a strip of rows at a time: for pictures too large to hold twice.
pub struct Strips {
    rows: rows::RowPainter,
    lettered: bool,
    width: u32,
    height: u32,
    next_row: u32,
}

impl Strips {
    /// The sheet of these options at its full size.
    ///
    /// # Errors
    /// Whatever [`GridOptions::check`] finds, and [`GridError::TooLarge`].
    pub fn new(options: &GridOptions) -> Result<Self, GridError> {
        let (width_px, height_px) = (options.map_width_px, options.map_height_px);
        options.check()?;
        if u64::from(width_px) * u64::from(height_px) > MAX_PNG_PX {
            return Err(GridError::TooLarge { width_px, height_px });
        }
        Ok(Self::scaled(options, width_px, height_px))
    }

    /// The same picture for a texture of this size, each side at least 1; values out of range are clamped.
    pub fn scaled(options: &GridOptions, width: u32, height: u32) -> Self {
        let (width, height) = (width.max(1), height.max(1));
        Self { rows: rows::RowPainter::new(options, width, height), lettered: false, width, height, next_row: 0 }
    }

    /// The next `count` rows (fewer at the end, none after it), RGBA with alpha 255.
    pub fn next(&mut self, count: u32) -> Vec<u8> {
        while !self.lettered {
            self.lettered = self.rows.prepare_letter().is_none();
        }
        let end = self.next_row.saturating_add(count).min(self.height);
        let stride = self.width as usize * 4;
        let mut strip = vec![0; (end - self.next_row) as usize * stride];
        for (y, line) in (self.next_row..end).zip(strip.chunks_exact_mut(stride)) {
            self.rows.paint(y, line);
        }
        self.next_row = end;
        strip
    }
}

/// Rows that [`png`] paints at a time.
const PNG_STRIP: u32 = 64;

/// The sheet at the map's full size as an 8-bit RGB PNG.
///
/// # Errors
/// As [`Strips::new`].
pub fn png(options: &GridOptions) -> Result<Vec<u8>, GridError> {
    let mut strips = Strips::new(options)?;
    let (width_px, height_px) = (options.map_width_px, options.map_height_px);
    let mut rgb = Vec::with_capacity(width_px as usize * height_px as usize * 3);
    loop {
        let strip = strips.next(PNG_STRIP);
        if strip.is_empty() {
            break;
        }
        rgb.extend(strip.chunks_exact(4).flat_map(|pixel| [pixel[0], pixel[1], pixel[2]]));
    }
    let mut bytes = Vec::new();
    // The rows repeat, so that plain rows with a fast match search come out smaller and sooner than filtered ones.
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Default, FilterType::NoFilter)
        .write_image(&rgb, width_px, height_px, image::ExtendedColorType::Rgb8)
        .map_err(|error| GridError::Encoding { reason: error.to_string() })?;
    Ok(bytes)
}
