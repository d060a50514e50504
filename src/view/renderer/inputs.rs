//! What the programs read of a scene: textures, and the values of surfaces and lines.

use glam::{DVec2, Vec3};
use web_sys::WebGl2RenderingContext as Gl;

use crate::brief::{FIRST_TILE, UDIM_COLUMNS};
use crate::grid::{self, GridOptions};
use crate::lens::{self, Lens};
use crate::view::gl::{Context, GlError, Program, Sampling, Texture};
use crate::view::paper::Paper;
use crate::view::programs::{Lines, Place, SurfaceStyle};
use crate::view::scene::Scene;
use crate::view::upload::TriangleData;

/// Shells a row of the texture of shell states.
const STATES_WIDTH: usize = 2048;
/// Columns of tiles, and texels in a row of the texture of tiles: whole words, as uploads want them.
const TILE_COLUMNS: usize = UDIM_COLUMNS as usize;
const TILES_WIDTH: usize = 16;
/// Outline widths, CSS px: all, chosen, hovered.
const WIDTHS: [f32; 3] = [1.15, 2.6, 2.2];
/// Width of a seam that is seen from the front all along, CSS px; the others are as wide as outlines.
const SEAM_PX: f32 = 3.2;
/// How strongly outlines are drawn, and when others are chosen.
const OUTLINE: [f32; 2] = [0.72, 0.25];
/// Share of an area that outlines cover at full strength, and what is left of their strength at least. Own choice: a layout of
/// a hundred shells keeps it in a card of 250 px.
const MOST_INKED: f64 = 0.4;
/// See [`MOST_INKED`].
const LEAST_KEPT: f64 = 0.3;
/// Texture units.
pub mod unit {
    pub const PAPER: u32 = 0;
    pub const TRIANGLES: u32 = 1;
    pub const STATES: u32 = 2;
    pub const SCALE: u32 = 3;
    pub const PICTURE: u32 = 4;
    pub const DEPTH: u32 = 5;
    pub const TILES: u32 = 6;
}

/// Textures that programs read.
pub struct Inputs {
    /// The grid.
    pub paper: Paper,
    /// What is known of triangles.
    pub triangles: TriangleData,
    /// Where paper lies.
    pub tiles: Texture,
    scales: [(Lens, Texture); 2],
    states: Texture,
    states_count: u32,
}

impl Inputs {
    /// Of an empty scene.
    pub fn new(gl: &Context, grid: &GridOptions) -> Result<Self, GlError> {
        let scale = |lens: Lens| -> Result<_, GlError> {
            let rgba: Vec<u8> = lens.scale().iter().flatten().flat_map(|&[r, g, b]| [r, g, b, 255]).collect();
            Ok((lens, Texture::with(gl, 256, 1, &rgba, Sampling::Linear)?))
        };
        let (states, states_count) = state_texture(gl, &[], &[])?;
        Ok(Self {
            paper: Paper::new(gl, grid)?,
            triangles: TriangleData::default(),
            tiles: tile_texture(gl, &[FIRST_TILE])?,
            scales: [scale(Lens::Stretch)?, scale(Lens::Density)?],
            states,
            states_count,
        })
    }

    /// Chosen shells and their partners.
    pub fn set_states(&mut self, gl: &Context, chosen: &[u32], partners: &[u32]) -> Result<(), GlError> {
        (self.states, self.states_count) = state_texture(gl, chosen, partners)?;
        Ok(())
    }

    /// UDIM numbers of the tiles where paper lies.
    pub fn set_tiles(&mut self, gl: &Context, tiles: &[u32]) -> Result<(), GlError> {
        self.tiles = tile_texture(gl, tiles)?;
        Ok(())
    }

    /// Sets what every mesh program of this style reads.
    pub fn of_surface(&self, program: &Program, scene: &Scene, style: SurfaceStyle) -> Result<(), GlError> {
        if style.scaled() {
            let found = self.scales.iter().find(|(lens, _)| *lens == style.lens);
            if let Some((_, scale)) = found {
                program.set_texture("scale", unit::SCALE, scale)?;
            }
        } else if style.gridded() {
            program.set_texture("grid", unit::PAPER, &self.paper.texture)?;
        }
        if let (true, Some(triangles)) = (style.measured, &self.triangles.texture) {
            program.set_texture("triangles", unit::TRIANGLES, triangles)?;
            program.set("map_px", scene.sight.sheet_camera.map_px.as_vec2().to_array())?;
            program.set("pattern_px", [style.lens.marks().cell_px * scene.sight.ratio as f32])?;
            if style.lens == Lens::Stretch {
                program.set("cell_px", [(scene.sight.sheet_camera.map_px.x / scene.cells.x) as f32])?;
            }
        }
        if style.fading {
            self.of_states(program)?;
            program.set_u32("choosing", u32::from(!scene.chosen.is_empty()))?;
            program.set("isolate", scene.isolate_bounds())?;
        }
        Ok(())
    }

    /// Sets which shells are chosen.
    pub fn of_states(&self, program: &Program) -> Result<(), GlError> {
        program.set_texture("shell_states", unit::STATES, &self.states)?;
        program.set_u32("shell_count", self.states_count)
    }
}

/// Sets what every program of lines reads.
pub fn line_inputs(program: &Program, scene: &Scene, kind: Lines, size: DVec2) -> Result<(), GlError> {
    let (width, strength) = match kind {
        Lines::All => (WIDTHS[0], OUTLINE[usize::from(!scene.chosen.is_empty())]),
        Lines::Chosen => (WIDTHS[1], 1.0),
        Lines::Hovered => (WIDTHS[2], 0.9),
        Lines::Seams => (SEAM_PX, OUTLINE[usize::from(!scene.chosen.is_empty())] / OUTLINE[0]),
    };
    program.set("viewport", size.as_vec2().to_array())?;
    program.set("width", [width * scene.sight.ratio as f32])?;
    // Surfaces are paper by day and night, so lines on them are ink.
    program.set("ink", unit_rgb(grid::INK).extend(strength).to_array())?;
    if kind == Lines::Chosen {
        let partner = if scene.lens == Lens::Text { lens::FLIPPED } else { lens::MIRRORED };
        program.set("chosen_colour", scene.accent_on_paper())?;
        program.set("partner_colour", partner.map(|channel| f32::from(channel) / 320.0))?;
    }
    if kind == Lines::Seams {
        program.set("isolate", scene.isolate.unwrap_or([0.0, 1.0]).map(|bound| bound as f32))?;
    }
    Ok(())
}

/// How much of their strength lines keep along shells whose outlines are `density` long over the area that they lie on (see
/// [`LineArrays`]), 0..1: 1, and less where they would fill it.
///
/// [`LineArrays`]: crate::view::arrays::LineArrays
pub fn kept(scene: &Scene, place: Place, density: f64) -> f32 {
    let sight = &scene.sight;
    let unit_px = match place {
        Place::Stage => 1.0 / sight.camera.units_per_px(sight.stage_size()),
        Place::Sheet => sight.sheet_camera.px_per_uv().x,
    };
    let inked = density / unit_px * f64::from(WIDTHS[0]) * sight.ratio;
    (MOST_INKED / inked.max(1e-9)).clamp(LEAST_KEPT, 1.0) as f32
}

/// Sets the ink of outlines that keep so much of their strength. Thousands may lie over one another: ink mixed with
/// paper beforehand is never darker than one line; on the model under a scale's dark colours it would be lost, and is
/// not.
pub fn outline_ink(program: &Program, scene: &Scene, place: Place, kept: f32) -> Result<(), GlError> {
    let strength = OUTLINE[usize::from(!scene.chosen.is_empty())] * kept;
    let ink = unit_rgb(grid::INK);
    let ink = if place == Place::Sheet || scene.lens.range().is_none() {
        unit_rgb(lens::PAPER).lerp(ink, OUTLINE[0]).extend(strength / OUTLINE[0])
    } else {
        ink.extend(strength)
    };
    program.set("ink", ink.to_array())
}

fn unit_rgb(colour: [u8; 3]) -> Vec3 {
    Vec3::from(colour.map(f32::from)) / 255.0
}

/// A texel a tile, row by row from below: 1 where paper lies.
fn tile_texture(gl: &Context, tiles: &[u32]) -> Result<Texture, GlError> {
    let most = gl.get_parameter(Gl::MAX_TEXTURE_SIZE)?.as_f64().unwrap_or(2048.0) as usize;
    let places: Vec<usize> = tiles.iter().filter_map(|tile| Some(tile.checked_sub(FIRST_TILE)? as usize)).collect();
    let rows = places.iter().map(|place| place / TILE_COLUMNS + 1).max().unwrap_or(1).min(most);
    let mut bytes = vec![0_u8; rows * TILES_WIDTH];
    for place in places {
        if let Some(texel) = bytes.get_mut(place / TILE_COLUMNS * TILES_WIDTH + place % TILE_COLUMNS) {
            *texel = 1;
        }
    }
    let texture = Texture::new(gl, 1, Gl::R8UI, TILES_WIDTH as i32, rows as i32, Sampling::Nearest)?;
    let array = js_sys::Uint8Array::from(bytes.as_slice());
    let place = (0, TILES_WIDTH as i32, rows as i32);
    texture.write_rows(Gl::RED_INTEGER, Gl::UNSIGNED_BYTE, place, &array, 0)?;
    Ok(texture)
}

/// 2 for chosen shells, 1 for partners, 0 for the rest; shells beyond the texture count as the rest.
fn state_texture(gl: &Context, chosen: &[u32], partners: &[u32]) -> Result<(Texture, u32), GlError> {
    let most = gl.get_parameter(Gl::MAX_TEXTURE_SIZE)?.as_f64().unwrap_or(2048.0) as usize * STATES_WIDTH;
    let known =
        |shells: &[u32]| shells.iter().map(|&shell| shell as usize).filter(|&shell| shell < most).collect::<Vec<_>>();
    let (chosen, partners) = (known(chosen), known(partners));
    let count = chosen.iter().chain(&partners).max().map_or(0, |shell| shell + 1);
    let rows = count.div_ceil(STATES_WIDTH).max(1);
    let mut bytes = vec![0_u8; rows * STATES_WIDTH];
    for shell in partners {
        bytes[shell] = 1;
    }
    for shell in chosen {
        bytes[shell] = 2;
    }
    let texture = Texture::new(gl, 1, Gl::R8UI, STATES_WIDTH as i32, rows as i32, Sampling::Nearest)?;
    let array = js_sys::Uint8Array::from(bytes.as_slice());
    let place = (0, STATES_WIDTH as i32, rows as i32);
    texture.write_rows(Gl::RED_INTEGER, Gl::UNSIGNED_BYTE, place, &array, 0)?;
    Ok((texture, count as u32))
}
