//! The sheet's drawing as pixels at the map's size (native only: the page lets the browser draw the same SVG, and the
//! module it downloads stays small).
//!
//! Drawn by `resvg`, so that there is one drawing and no second rasteriser of it. Names are left out: there may be no font.

use super::sheet::{Frame, Ground, SheetError, SheetOptions, frame, sheet_svg, tile_origin};
use crate::brief::Brief;
use crate::grid::{self, GridOptions, MAX_PNG_PX};
use crate::measure::Measures;
use crate::model::Model;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

/// The picture of [`sheet_svg`] without names, on a grid painted here whatever its URL: width, height and RGBA with straight alpha, rows from the top.
///
/// # Errors
/// As [`sheet_svg`], and more than [`MAX_PNG_PX`] pixels.
pub fn sheet_pixels(
    model: &Model,
    measures: &Measures,
    brief: &Brief,
    options: &SheetOptions,
) -> Result<(u32, u32, Vec<u8>), SheetError> {
    let (frame, tiles) = frame(measures, brief, options)?;
    let (width_px, height_px) = (frame.size().x as u64, frame.size().y as u64);
    if width_px * height_px > MAX_PNG_PX {
        return Err(SheetError::TooLarge { width_px, height_px });
    }
    let failed = |reason: &dyn std::fmt::Display| SheetError::Drawing { reason: reason.to_string() };
    let (width, height) = (width_px as u32, height_px as u32);
    let mut pixels = Pixmap::new(width, height).ok_or_else(|| failed(&"no memory for the picture"))?;
    let mut own = SheetOptions { names: &[], ..*options };
    if let Ground::Grid(_) = options.ground {
        // Laid below as pixels, not carried through the drawing as an encoded picture.
        lay_grid(&mut pixels, &frame, &tiles);
        own.ground = Ground::Transparent;
    }
    let svg = sheet_svg(model, measures, brief, &own)?;
    let tree = Tree::from_str(&svg, &Options::default()).map_err(|error| failed(&error))?;
    resvg::render(&tree, Transform::identity(), &mut pixels.as_mut());
    let rgba = pixels
        .pixels()
        .iter()
        .flat_map(|pixel| {
            let plain = pixel.demultiply();
            [plain.red(), plain.green(), plain.blue(), plain.alpha()]
        })
        .collect();
    Ok((width, height, rgba))
}

fn lay_grid(pixels: &mut Pixmap, frame: &Frame, tiles: &[u32]) {
    let (width, height) = (frame.scale.x as u32, frame.scale.y as u32);
    let sheet = grid::paint(&GridOptions::new(width, height), width, height);
    let (line, stride) = (width as usize * 4, pixels.width() as usize * 4);
    for &tile in tiles {
        let at = frame.place(tile_origin(tile) + glam::DVec2::Y);
        let (x, y) = (at.x as usize, at.y as usize);
        for (row, source) in sheet.rgba.chunks_exact(line).enumerate() {
            let start = (y + row) * stride + x * 4;
            // Opaque, so that plain and premultiplied colours are the same.
            pixels.data_mut()[start..start + line].copy_from_slice(source);
        }
    }
}
