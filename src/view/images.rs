//! What the Picture lens shows: which triangles have which picture, and the pictures' textures, brought in slices.
//!
//! A look is drawn by the runs of its triangles. Materials follow one another in a file in long runs, so that a model of
//! forty materials takes some dozens of calls; nothing is copied or sorted.
//!
//! Why no array: an array of textures would force one size on all pictures; an index of the material in each triangle's
//! words would be a choice between samplers at each pixel. A file that changes its material with every face costs a call a
//! face.
//!
//! Pixels come in slices, as the model does, since a bitmap can only be passed whole. Pictures are kept in the graphics
//! system alone: after a lost context their files are read again. Up to four have 4096 px, up to sixteen half of that,
//! and so on.

use std::rc::Rc;

use js_sys::{Array, Uint8Array};
use wasm_bindgen::prelude::*;
use web_sys::WebGl2RenderingContext as Gl;

use super::arrays::{array, number, numbers};
use super::gl::{Context, GlError, Program, Sampling, Texture};
use super::renderer::unit;
use crate::lens;

/// Bytes brought a slice, about.
const SLICE_BYTES: u32 = 1 << 20;

#[wasm_bindgen(typescript_custom_section)]
const LOOK: &str = r"
/** What some triangles show. */
export interface Look {
    /** The number of a picture, or -1. */
    picture: number;
    /** Instead of it, and until it is there: sRGB, 0..1; paper where there is none. */
    colour: [number, number, number] | null;
    /** Of u and v. */
    scale: [number, number];
    offset: [number, number];
    /** 1 where the picture does not repeat. */
    clamp: number;
    /** First triangle and count of each run. */
    runs: Uint32Array;
}
";

/// What some triangles show.
pub struct Look {
    /// The number of its picture; `None` for the colour alone, which is also used until the picture is there.
    picture: Option<u32>,
    /// sRGB, 0..1.
    colour: [f32; 3],
    /// Scale of u and v, then their offset: where in the picture a place of the sheet is.
    placed: [f32; 4],
    clamped: bool,
    /// First corner and count, of each run.
    runs: Vec<[i32; 2]>,
}

impl Look {
    /// Reads the page's list, whose runs are of triangles: first and count.
    ///
    /// # Errors
    /// A field that is missing or of another type; triangles that the model does not have.
    pub fn read_all(list: &JsValue, triangles: u32) -> Result<Vec<Self>, GlError> {
        Array::from(list).iter().map(|look| Self::read(&look, triangles)).collect()
    }

    fn read(look: &JsValue, triangles: u32) -> Result<Self, GlError> {
        let picture = number(look, "picture")?;
        let [scale_u, scale_v] = numbers(look, "scale")?.unwrap_or([1.0; 2]);
        let [offset_u, offset_v] = numbers(look, "offset")?.unwrap_or([0.0; 2]);
        let runs = array::<js_sys::Uint32Array>(look, "runs")?.to_vec();
        let runs = runs.as_chunks().0.iter().map(|&[first, count]| {
            let end = first.checked_add(count).filter(|&end| end <= triangles);
            let message = || format!("A look ends behind the last of {triangles} triangles.");
            end.map(|_| [first as i32 * 3, count as i32 * 3]).ok_or_else(|| GlError::Argument(message()))
        });
        Ok(Self {
            picture: (picture >= 0.0).then_some(picture as u32),
            colour: numbers(look, "colour")?.map_or(PAPER, |colour: [f64; 3]| colour.map(|part| part as f32)),
            placed: [scale_u, scale_v, offset_u, offset_v].map(|value| value as f32),
            clamped: number(look, "clamp")? != 0.0,
            runs: runs.collect::<Result<_, _>>()?,
        })
    }
}

const PAPER: [f32; 3] = {
    let [r, g, b] = lens::PAPER;
    [r as f32 / 255.0, g as f32 / 255.0, b as f32 / 255.0]
};

/// A picture, or one on its way.
struct Image {
    number: u32,
    texture: Texture,
    size: [u32; 2],
    /// Its pixels, RGBA by rows from the top, until all are brought.
    coming: Option<Uint8Array>,
    row: u32,
}

/// Pictures and the looks that use them.
#[derive(Default)]
pub struct Images {
    looks: Rc<[Look]>,
    ground: Option<usize>,
    images: Vec<Image>,
}

impl Images {
    /// Other looks, and which of them lies below the shells on the sheet. Pictures that none of them shows are released.
    pub fn set_looks(&mut self, looks: Rc<[Look]>, ground: Option<usize>) {
        self.images.retain(|image| looks.iter().any(|look| look.picture == Some(image.number)));
        (self.looks, self.ground) = (looks, ground);
    }

    /// The triangles are another model's; pictures stay until its looks are known.
    pub fn forget_looks(&mut self) {
        (self.looks, self.ground) = (Rc::default(), None);
    }

    /// Starts to bring a picture, in place of the one that had its number.
    pub fn begin(&mut self, gl: &Context, number: u32, size: [u32; 2], pixels: &Uint8Array) -> Result<(), GlError> {
        let [width, height] = size;
        if width == 0 || height == 0 || u64::from(pixels.length()) != u64::from(width) * u64::from(height) * 4 {
            let message = format!("A picture of {width} x {height} px came with {} bytes.", pixels.length());
            return Err(GlError::Argument(message));
        }
        self.images.retain(|image| image.number != number);
        let levels = width.max(height).ilog2() as i32 + 1;
        let texture = Texture::new(gl, levels, Gl::SRGB8_ALPHA8, width as i32, height as i32, Sampling::Trilinear)?;
        self.images.push(Image { number, texture, size, coming: Some(pixels.clone()), row: 0 });
        Ok(())
    }

    /// Whether some are on their way.
    pub fn are_arriving(&self) -> bool {
        self.images.iter().any(|image| image.coming.is_some())
    }

    /// Brings one more slice and says whether a picture is whole by it; `None` when all are there already.
    pub fn step(&mut self) -> Result<Option<bool>, GlError> {
        let Some(image) = self.images.iter_mut().find(|image| image.coming.is_some()) else { return Ok(None) };
        let [width, height] = image.size;
        let rows = (SLICE_BYTES / (width * 4)).clamp(1, height - image.row);
        if let Some(pixels) = &image.coming {
            let place = (image.row as i32, width as i32, rows as i32);
            image.texture.write_rows(Gl::RGBA, Gl::UNSIGNED_BYTE, place, pixels, image.row * width * 4)?;
        }
        image.row += rows;
        let whole = image.row == height;
        if whole {
            image.texture.fill_levels();
            image.coming = None;
        }
        Ok(Some(whole))
    }

    /// Sets what the program reads of the look below the shells: paper where there is none.
    pub fn of_ground(&self, program: &Program, stand_in: &Texture, anisotropy: Option<f32>) -> Result<(), GlError> {
        self.of_look(program, self.ground.and_then(|ground| self.looks.get(ground)), stand_in, anisotropy)
    }

    fn of_look(
        &self,
        program: &Program,
        look: Option<&Look>,
        stand_in: &Texture,
        anisotropy: Option<f32>,
    ) -> Result<(), GlError> {
        let number = look.and_then(|look| look.picture);
        let there = |image: &&Image| Some(image.number) == number && image.coming.is_none();
        let image = self.images.iter().find(there);
        if let (Some(look), Some(image)) = (look, image) {
            image.texture.set_clamped(look.clamped);
            if let Some(value) = anisotropy {
                image.texture.set_anisotropy(value);
            }
        }
        let [r, g, b] = look.map_or(PAPER, |look| look.colour);
        program.set("plain", [r, g, b, if image.is_some() { 0.0 } else { 1.0 }])?;
        program.set("placed", look.map_or([1.0, 1.0, 0.0, 0.0], |look| look.placed))?;
        program.set_texture("image", unit::PAPER, image.map_or(stand_in, |image| &image.texture))
    }

    /// Draws all triangles, whose corners are bound, by this program, each with its look.
    pub fn draw(
        &self,
        gl: &Context,
        program: &Program,
        triangles: u32,
        stand_in: &Texture,
        anisotropy: Option<f32>,
    ) -> Result<(), GlError> {
        if self.looks.is_empty() {
            self.of_look(program, None, stand_in, None)?;
            gl.draw_arrays(Gl::TRIANGLES, 0, triangles as i32 * 3);
        }
        for look in self.looks.iter() {
            self.of_look(program, Some(look), stand_in, anisotropy)?;
            for &[first, count] in &look.runs {
                gl.draw_arrays(Gl::TRIANGLES, first, count);
            }
        }
        Ok(())
    }
}
