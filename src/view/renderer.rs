//! Draws one frame: the stage and the sheet each into a picture of their own, kept until something on it changes, then
//! both onto the canvas with what follows the pointer. So a hover redraws no model, and an orbit no sheet.

use glam::DVec2;
use web_sys::WebGl2RenderingContext as Gl;

use super::arrays::{LineArrays, MeshArrays};
use super::camera::Projection;
use super::gl::{Attribute, Buffer, Context, GlError, Program, Quality, Sampling, Target, Texture, VertexArray};
use super::paper::{Paper, Step};
use super::programs::{Lines, Needs, Place, Programs, Readiness, SurfaceStyle};
use super::ruler;
use super::scene::{FIRST_TILE, Rect, Scene};
use super::upload::{Arriving, TriangleData};
use crate::grid::GridOptions;
use crate::lens::{self, Lens};

/// Size of a pattern's cell, CSS px: half of it to all of it on the screen.
const PATTERN_PX: f64 = 26.0;
/// Shells a row of the texture of shell states.
const STATES_WIDTH: usize = 2048;
/// Columns of UDIM tiles, and texels in a row of the texture of tiles: whole words, as uploads want them.
const UDIM_COLUMNS: usize = 10;
const TILES_WIDTH: usize = 16;
/// Upload and grid work a frame, ms: leaves some of a frame for the page.
const WORK_MS: f64 = 10.0;
/// Outline widths, CSS px: all, chosen, hovered.
const WIDTHS: [f32; 3] = [1.15, 2.6, 2.2];
/// Width of a seam that is seen from the front all along, CSS px; the others are as wide as outlines.
const SEAM_PX: f32 = 3.2;
/// How strongly outlines are drawn, and when others are chosen.
const OUTLINE: [f32; 2] = [0.72, 0.25];
/// How strong contours are on Grid, whose own lines come first; 1 elsewhere.
const GRID_CONTOUR: f32 = 0.6;
/// Texture units.
mod unit {
    pub const PAPER: u32 = 0;
    pub const TRIANGLES: u32 = 1;
    pub const STATES: u32 = 2;
    pub const SCALE: u32 = 3;
    pub const PICTURE: u32 = 4;
    pub const DEPTH: u32 = 5;
    pub const TILES: u32 = 6;
}

/// Everything that lives in the graphics system.
pub struct Renderer {
    gl: Context,
    programs: Programs,
    inputs: Inputs,
    mesh: Option<Arriving>,
    stage_lines: Option<Arriving>,
    sheet_lines: Option<Arriving>,
    nothing: VertexArray,
    stage: Picture,
    stage_depth: bool,
    sheet: Picture,
}

/// The picture of one place.
struct Picture {
    full: Option<Target>,
    draft: Option<Target>,
    shown: Quality,
}

impl Picture {
    const NONE: Self = Self { full: None, draft: None, shown: Quality::Full };

    fn shown(&self) -> Option<&Target> {
        match self.shown {
            Quality::Full => self.full.as_ref(),
            Quality::Draft => self.draft.as_ref(),
        }
    }

    /// A target to draw into: the former one where it has the rectangle's size.
    fn take(&mut self, gl: &Context, rect: Rect, quality: Quality) -> Result<Target, GlError> {
        let size = [rect.width, rect.height];
        let former = match quality {
            Quality::Full => self.full.take(),
            Quality::Draft => self.draft.take(),
        };
        match former.filter(|target| target.size == size) {
            Some(target) => Ok(target),
            None => Target::new(gl, size, quality),
        }
    }

    fn show(&mut self, target: Target, quality: Quality) {
        self.shown = quality;
        match quality {
            Quality::Full => self.full = Some(target),
            Quality::Draft => self.draft = Some(target),
        }
    }
}

/// Textures that programs read.
struct Inputs {
    paper: Paper,
    scales: [(Lens, Texture); 2],
    states: Texture,
    states_count: u32,
    tiles: Texture,
    triangles: TriangleData,
}

/// What changed through uploading.
#[derive(Default)]
pub struct Worked {
    /// There is more to do.
    pub busy: bool,
    /// What is drawn changed.
    pub changed: bool,
}

impl Renderer {
    /// With an empty scene; the grid is on its way.
    pub fn new(gl: &Context, grid: &GridOptions) -> Result<Self, GlError> {
        let scale = |lens: Lens| -> Result<_, GlError> {
            let rgba: Vec<u8> = lens.scale().iter().flat_map(|&[r, g, b]| [r, g, b, 255]).collect();
            Ok((lens, Texture::with(gl, 256, 1, &rgba, Sampling::Linear)?))
        };
        let (states, states_count) = state_texture(gl, &[], &[])?;
        Ok(Self {
            gl: gl.clone(),
            programs: Programs::new(gl),
            inputs: Inputs {
                paper: Paper::new(gl, grid)?,
                scales: [scale(Lens::Stretch)?, scale(Lens::Size)?],
                states,
                states_count,
                tiles: tile_texture(gl, &[FIRST_TILE])?,
                triangles: TriangleData::default(),
            },
            mesh: None,
            stage_lines: None,
            sheet_lines: None,
            nothing: VertexArray::new(gl, &[])?,
            stage: Picture::NONE,
            stage_depth: false,
            sheet: Picture::NONE,
        })
    }

    /// Its context was lost and everything with it.
    pub fn abandon(self) {
        self.gl.abandon();
    }

    /// Another grid.
    pub fn set_grid(&mut self, grid: &GridOptions) {
        self.inputs.paper.begin(&self.gl, grid);
    }

    /// Another model, or none; the former's data and outlines go with it.
    pub fn set_mesh(&mut self, mesh: Option<&MeshArrays>) -> Result<(), GlError> {
        self.inputs.triangles = TriangleData::default();
        (self.stage_lines, self.sheet_lines, self.mesh) = (None, None, None);
        self.mesh = mesh.map(|mesh| Arriving::mesh(&self.gl, mesh)).transpose()?;
        Ok(())
    }

    /// Triangle data.
    pub fn set_triangles(&mut self, data: &js_sys::Uint32Array) -> Result<(), GlError> {
        self.inputs.triangles.begin(&self.gl, data)
    }

    /// Outlines.
    pub fn set_lines(&mut self, lines: &LineArrays) -> Result<(), GlError> {
        (self.stage_lines, self.sheet_lines) = (None, None);
        self.stage_lines = Some(Arriving::stage_lines(&self.gl, lines)?);
        self.sheet_lines = Some(Arriving::sheet_lines(&self.gl, lines)?);
        Ok(())
    }

    /// Chosen shells and their partners.
    pub fn set_states(&mut self, chosen: &[u32], partners: &[u32]) -> Result<(), GlError> {
        (self.inputs.states, self.inputs.states_count) = state_texture(&self.gl, chosen, partners)?;
        Ok(())
    }

    /// UDIM numbers of the tiles where paper lies.
    pub fn set_tiles(&mut self, tiles: &[u32]) -> Result<(), GlError> {
        self.inputs.tiles = tile_texture(&self.gl, tiles)?;
        Ok(())
    }

    /// Brings what is on its way, for a few ms, to be called while nothing is being drawn: first the model, then what is known of it, then the grid.
    pub fn work(&mut self) -> Result<Worked, GlError> {
        let start = js_sys::Date::now();
        let mut worked = Worked::default();
        while js_sys::Date::now() - start < WORK_MS {
            let parts = [&mut self.mesh, &mut self.stage_lines, &mut self.sheet_lines];
            if let Some(part) = parts.into_iter().flatten().find(|part| !part.is_whole()) {
                // Shown when it is whole: drawing parts of a large model would only hold up the rest.
                part.step();
                worked = Worked { busy: true, changed: worked.changed | part.is_whole() };
                continue;
            }
            if let Some(whole) = self.inputs.triangles.step()? {
                worked = Worked { busy: true, changed: worked.changed | whole };
                continue;
            }
            match self.inputs.paper.step(&self.gl)? {
                Step::Idle => return Ok(Worked { busy: false, ..worked }),
                Step::Busy => worked.busy = true,
                Step::Ready => worked = Worked { busy: true, changed: true },
            }
        }
        Ok(worked)
    }

    /// Whether model and grid have arrived.
    pub fn has_model_and_grid(&self) -> bool {
        self.mesh.as_ref().is_some_and(Arriving::is_whole) && self.inputs.paper.is_whole()
    }

    /// Whether the pictures can be drawn into; to be called while the graphics system has nothing to do.
    ///
    /// # Errors
    /// One cannot.
    pub fn check_pictures(&self) -> Result<(), GlError> {
        let pictures = [&self.stage.full, &self.stage.draft, &self.sheet.full, &self.sheet.draft];
        pictures.into_iter().flatten().try_for_each(Target::check)
    }

    /// How surfaces are drawn in this scene.
    fn style(&self, scene: &Scene, place: Place) -> SurfaceStyle {
        let measured = self.inputs.triangles.texture.is_some();
        SurfaceStyle {
            place,
            lens: if measured { scene.lens } else { Lens::Grid },
            measured,
            flagged: measured && scene.flags && scene.lens == Lens::Grid,
            leaning: measured && scene.leaning && scene.lens == Lens::Grid,
            fading: measured && (!scene.chosen.is_empty() || scene.isolates()),
        }
    }

    /// Whether this scene can be drawn without waiting for the compiler; starts it where it is needed.
    pub fn is_ready(&mut self, scene: &Scene, busy: bool) -> Result<Readiness, GlError> {
        let surfaces = [self.style(scene, Place::Stage), self.style(scene, Place::Sheet)];
        self.programs.prepare(&Needs { surfaces, lines: kinds_of_lines(scene), hovered: scene.hover.is_some() }, busy)
    }

    /// Draws the stage's picture anew.
    pub fn draw_stage(&mut self, scene: &Scene, radius: f64, quality: Quality) -> Result<(), GlError> {
        let Some(rect) = scene.stage else { return Ok(()) };
        let stage = rect.size();
        let target = self.stage.take(&self.gl, rect, quality)?;
        self.inputs.paper.sharpen(quality);
        let projection = scene.camera.projection(stage, radius);
        let gl = &self.gl;
        target.begin();
        gl.depth_mask(true);
        let [r, g, b] = scene.theme.stage;
        gl.clear_color(r, g, b, 0.0);
        gl.clear(Gl::COLOR_BUFFER_BIT | Gl::DEPTH_BUFFER_BIT);
        gl.enable(Gl::DEPTH_TEST);
        gl.depth_func(Gl::LEQUAL);
        gl.disable(Gl::BLEND);
        let style = self.style(scene, Place::Stage);
        if let Some(mesh) = &self.mesh {
            let program = self.programs.surface(style)?;
            program.bind();
            program.set("clip_from_model", matrix(&projection))?;
            let [right, up, back] = projection.axes;
            let key = (back * 0.85 + up * 0.5 - right * 0.3).normalize();
            program.set("light_up", scene.camera.up.axis().as_vec3().to_array())?;
            program.set("light_key", key.as_vec3().to_array())?;
            if style.measured {
                program.set("unit_from_model", [(1.0 / radius.max(f64::MIN_POSITIVE)) as f32])?;
            }
            if style.fading {
                program.set("ground", scene.theme.stage)?;
            }
            self.inputs.of_surface(program, scene, style)?;
            mesh.vertices.bind();
            self.gl.draw_arrays(Gl::TRIANGLES, 0, (mesh.arrived() * 3) as i32);
        }
        if let Some(lines) = &self.stage_lines {
            self.gl.depth_mask(false);
            for &kind in kinds_of_lines(scene) {
                let program = self.programs.lines(Place::Stage, kind)?;
                program.bind();
                program.set("clip_from_model", matrix(&projection))?;
                program.set("eye", projection.eye.as_vec3().to_array())?;
                line_inputs(program, scene, kind, stage)?;
                if kind == Lines::Chosen {
                    self.inputs.of_states(program)?;
                }
                draw_lines(&self.gl, lines);
            }
            self.gl.depth_mask(true);
        }
        target.finish();
        self.stage.show(target, quality);
        self.stage_depth = false;
        Ok(())
    }

    /// Draws the sheet's picture anew.
    pub fn draw_sheet(&mut self, scene: &Scene, quality: Quality) -> Result<(), GlError> {
        let Some(rect) = scene.sheet else { return Ok(()) };
        let place = rect.size();
        let target = self.sheet.take(&self.gl, rect, quality)?;
        self.inputs.paper.sharpen(quality);
        let gl = &self.gl;
        target.begin();
        gl.disable(Gl::DEPTH_TEST);
        gl.depth_mask(false);
        gl.disable(Gl::BLEND);
        let (factor, offset) = scene.sheet_camera.clip_from_uv(place);
        let program = self.programs.paper()?;
        program.bind();
        program.set_texture("grid", unit::PAPER, &self.inputs.paper.texture)?;
        program.set_texture("tiles", unit::TILES, &self.inputs.tiles)?;
        let (scale, shift) = (1.0 / factor, -offset / factor);
        program.set("uv_from_clip", [scale.x as f32, scale.y as f32, shift.x as f32, shift.y as f32])?;
        program.set("ground", scene.theme.card)?;
        self.nothing.bind();
        gl.draw_arrays(Gl::TRIANGLES, 0, 3);

        let clip_from_uv = [factor.x as f32, factor.y as f32, offset.x as f32, offset.y as f32];
        let style = self.style(scene, Place::Sheet);
        gl.enable(Gl::BLEND);
        if let Some(mesh) = &self.mesh {
            // Colours multiply; of the classes the greatest stays.
            gl.blend_equation_separate(Gl::FUNC_ADD, Gl::MAX);
            gl.blend_func_separate(Gl::DST_COLOR, Gl::ZERO, Gl::ONE, Gl::ONE);
            let program = self.programs.surface(style)?;
            program.bind();
            program.set("clip_from_uv", clip_from_uv)?;
            self.inputs.of_surface(program, scene, style)?;
            mesh.vertices.bind();
            self.gl.draw_arrays(Gl::TRIANGLES, 0, (mesh.arrived() * 3) as i32);
        }
        self.ruler(scene, place, clip_from_uv)?;
        if let Some(lines) = &self.sheet_lines {
            for &kind in kinds_of_lines(scene) {
                let program = self.programs.lines(Place::Sheet, kind)?;
                program.bind();
                program.set("clip_from_uv", clip_from_uv)?;
                line_inputs(program, scene, kind, place)?;
                if kind == Lines::Chosen {
                    self.inputs.of_states(program)?;
                }
                draw_lines(&self.gl, lines);
            }
        }
        target.finish();
        self.sheet.show(target, quality);
        Ok(())
    }

    /// Tile borders and the ruler's ticks.
    fn ruler(&mut self, scene: &Scene, place: DVec2, clip_from_uv: [f32; 4]) -> Result<(), GlError> {
        let segments = ruler::segments(&scene.sheet_camera, scene.cells, scene.bounds_uv, &scene.tiles, scene.ratio);
        for (segments, width, strength) in segments {
            let count = (segments.len() / 4) as i32;
            if count == 0 {
                continue;
            }
            let ends = Buffer::with(&self.gl, &segments)?;
            let end = |location, offset| Attribute {
                location,
                buffer: &ends,
                components: 2,
                kind: Gl::FLOAT,
                stride: 16,
                offset,
                divisor: 1,
            };
            let vertices = VertexArray::new(&self.gl, &[end(0, 0), end(1, 8)])?;
            let program = self.programs.lines(Place::Sheet, Lines::All)?;
            program.bind();
            program.set("clip_from_uv", clip_from_uv)?;
            program.set("viewport", place.as_vec2().to_array())?;
            program.set("width", [width * scene.ratio as f32])?;
            let [r, g, b] = scene.theme.second;
            program.set("ink", [r, g, b, strength])?;
            blend_over(&self.gl);
            vertices.bind();
            self.gl.draw_arrays_instanced(Gl::TRIANGLE_STRIP, 0, 4, count);
        }
        Ok(())
    }

    /// Puts the pictures on the canvas, and on them what follows the pointer.
    pub fn compose(&mut self, scene: &Scene, radius: f64) -> Result<(), GlError> {
        let gl = self.gl.clone();
        gl.bind_framebuffer(Gl::FRAMEBUFFER, None);
        let [r, g, b] = scene.theme.stage;
        gl.disable(Gl::SCISSOR_TEST);
        gl.clear_color(r, g, b, 1.0);
        gl.clear(Gl::COLOR_BUFFER_BIT);
        gl.disable(Gl::DEPTH_TEST);
        let area = |rect: Option<Rect>| rect.map_or(0, |rect| i64::from(rect.width) * i64::from(rect.height));
        let mut places = [(Place::Stage, scene.stage), (Place::Sheet, scene.sheet)];
        // The smaller one lies on the larger one.
        if area(scene.stage) < area(scene.sheet) {
            places.reverse();
        }
        for (place, rect) in places {
            let Some(rect) = rect else { continue };
            let target = if place == Place::Stage { self.stage.shown() } else { self.sheet.shown() };
            let Some(target) = target else { continue };
            let origin = rect.origin_from_below(scene.canvas[1]);
            gl.viewport(origin[0], origin[1], rect.width, rect.height);
            gl.enable(Gl::SCISSOR_TEST);
            gl.scissor(origin[0], origin[1], rect.width, rect.height);
            let full = if place == Place::Stage { self.stage.shown } else { self.sheet.shown } == Quality::Full;
            let contour = full && self.style(scene, place).contoured();
            let program = self.programs.compose(contour)?;
            program.bind();
            gl.disable(Gl::BLEND);
            program.set_texture("picture", unit::PICTURE, &target.colour)?;
            program.set("origin", origin.map(|px| px as f32))?;
            if contour {
                program.set("reach", [scene.ratio.max(1.0) as f32])?;
                program.set("strength", [if scene.lens == Lens::Grid { GRID_CONTOUR } else { 1.0 }])?;
            }
            self.nothing.bind();
            gl.draw_arrays(Gl::TRIANGLES, 0, 3);
            self.pointer(scene, place, rect, radius)?;
        }
        gl.disable(Gl::SCISSOR_TEST);
        Ok(())
    }

    /// The hovered shell's outline and the ring.
    fn pointer(&mut self, scene: &Scene, place: Place, rect: Rect, radius: f64) -> Result<(), GlError> {
        let Some(hover) = &scene.hover else { return Ok(()) };
        let size = rect.size();
        let (lines, centre) = match place {
            Place::Stage => {
                let projection = scene.camera.projection(size, radius);
                let clip = projection.clip_from_model * hover.point.extend(1.0);
                (&self.stage_lines, (clip.w > 0.0).then(|| clip.truncate().truncate() / clip.w))
            }
            Place::Sheet => {
                let (factor, offset) = scene.sheet_camera.clip_from_uv(size);
                (&self.sheet_lines, hover.uv.map(|uv| uv * factor + offset))
            }
        };
        if let (Some(lines), Some(shell)) = (lines, hover.shell) {
            let program = self.programs.lines(place, Lines::Hovered)?;
            program.bind();
            line_inputs(program, scene, Lines::Hovered, size)?;
            program.set_u32("hovered", shell)?;
            match (place, self.stage.shown()) {
                (Place::Stage, Some(target)) => {
                    if !self.stage_depth {
                        self.gl.disable(Gl::SCISSOR_TEST);
                        target.finish_depth();
                        self.gl.enable(Gl::SCISSOR_TEST);
                        self.stage_depth = true;
                    }
                    let projection = scene.camera.projection(size, radius);
                    program.set("clip_from_model", matrix(&projection))?;
                    program.set("eye", projection.eye.as_vec3().to_array())?;
                    program.set_texture("depth", unit::DEPTH, &target.depth)?;
                    program.set("origin", rect.origin_from_below(scene.canvas[1]).map(|px| px as f32))?;
                }
                _ => {
                    let (factor, offset) = scene.sheet_camera.clip_from_uv(size);
                    let places = [factor.x as f32, factor.y as f32, offset.x as f32, offset.y as f32];
                    program.set("clip_from_uv", places)?;
                }
            }
            draw_lines(&self.gl, lines);
        }
        if let Some(centre) = centre {
            let program = self.programs.marker()?;
            program.bind();
            program.set("centre", centre.as_vec2().to_array())?;
            program.set("viewport", size.as_vec2().to_array())?;
            program.set("radius", [9.0 * scene.ratio as f32])?;
            program.set("width", [2.0 * scene.ratio as f32])?;
            program.set("ink", scene.accent_on_paper())?;
            blend_over(&self.gl);
            self.nothing.bind();
            self.gl.draw_arrays(Gl::TRIANGLE_STRIP, 0, 4);
        }
        Ok(())
    }
}

impl Inputs {
    /// Sets what every mesh program of this style reads.
    fn of_surface(&self, program: &Program, scene: &Scene, style: SurfaceStyle) -> Result<(), GlError> {
        if style.scaled() {
            let found = self.scales.iter().find(|(lens, _)| *lens == style.lens);
            if let Some((_, scale)) = found {
                program.set_texture("scale", unit::SCALE, scale)?;
            }
            program.set("limits", [scene.limits.max_anisotropy as f32, scene.limits.octave_tolerance as f32])?;
        } else if style.gridded() {
            program.set_texture("grid", unit::PAPER, &self.paper.texture)?;
        }
        if let (true, Some(triangles)) = (style.measured, &self.triangles.texture) {
            program.set_texture("triangles", unit::TRIANGLES, triangles)?;
            program.set("map_px", scene.sheet_camera.map_px.as_vec2().to_array())?;
            program.set("pattern_px", [(PATTERN_PX * scene.ratio) as f32])?;
        }
        if style.fading {
            self.of_states(program)?;
            program.set_u32("choosing", u32::from(!scene.chosen.is_empty()))?;
            program.set("isolate", scene.isolate_bounds())?;
        }
        Ok(())
    }

    /// Sets which shells are chosen.
    fn of_states(&self, program: &Program) -> Result<(), GlError> {
        program.set_texture("shell_states", unit::STATES, &self.states)?;
        program.set_u32("shell_count", self.states_count)
    }
}

fn kinds_of_lines(scene: &Scene) -> &'static [Lines] {
    let lit = !(scene.chosen.is_empty() && scene.partners.is_empty());
    match (scene.lens == Lens::Seams, lit) {
        (false, false) => &[Lines::All],
        (false, true) => &[Lines::All, Lines::Chosen],
        (true, false) => &[Lines::Seams],
        (true, true) => &[Lines::Seams, Lines::Chosen],
    }
}

fn line_inputs(program: &Program, scene: &Scene, kind: Lines, place: DVec2) -> Result<(), GlError> {
    let (width, strength) = match kind {
        Lines::All => (WIDTHS[0], OUTLINE[usize::from(!scene.chosen.is_empty())]),
        Lines::Chosen => (WIDTHS[1], 1.0),
        Lines::Hovered => (WIDTHS[2], 0.9),
        Lines::Seams => (SEAM_PX, OUTLINE[usize::from(!scene.chosen.is_empty())] / OUTLINE[0]),
    };
    program.set("viewport", place.as_vec2().to_array())?;
    program.set("width", [width * scene.ratio as f32])?;
    // Surfaces are paper by day and night, so lines on them are ink.
    let [r, g, b] = crate::grid::INK.map(|channel| f32::from(channel) / 255.0);
    program.set("ink", [r, g, b, strength])?;
    if kind == Lines::Chosen {
        let partner = if scene.lens == Lens::Lettering { lens::TURNED_OVER } else { lens::MIRRORED };
        program.set("chosen_colour", scene.accent_on_paper())?;
        program.set("partner_colour", partner.map(|channel| f32::from(channel) / 320.0))?;
    }
    if kind == Lines::Seams {
        program.set("isolate", scene.isolate.unwrap_or([0.0, 1.0]).map(|bound| bound as f32))?;
    }
    Ok(())
}

fn draw_lines(gl: &Context, lines: &Arriving) {
    blend_over(gl);
    lines.vertices.bind();
    gl.draw_arrays_instanced(Gl::TRIANGLE_STRIP, 0, 4, lines.arrived() as i32);
}

/// Colours cover what is below; alpha, which carries the class, stays.
fn blend_over(gl: &Context) {
    gl.enable(Gl::BLEND);
    gl.blend_equation(Gl::FUNC_ADD);
    gl.blend_func_separate(Gl::SRC_ALPHA, Gl::ONE_MINUS_SRC_ALPHA, Gl::ZERO, Gl::ONE);
}

fn matrix(projection: &Projection) -> [f32; 16] {
    projection.clip_from_model.to_cols_array().map(|value| value as f32)
}

/// A texel a tile, row by row from below: 1 where paper lies.
fn tile_texture(gl: &Context, tiles: &[u32]) -> Result<Texture, GlError> {
    let most = gl.get_parameter(Gl::MAX_TEXTURE_SIZE)?.as_f64().unwrap_or(2048.0) as usize;
    let places: Vec<usize> = tiles.iter().filter_map(|tile| Some(tile.checked_sub(FIRST_TILE)? as usize)).collect();
    let rows = places.iter().map(|place| place / UDIM_COLUMNS + 1).max().unwrap_or(1).min(most);
    let mut bytes = vec![0_u8; rows * TILES_WIDTH];
    for place in places {
        if let Some(texel) = bytes.get_mut(place / UDIM_COLUMNS * TILES_WIDTH + place % UDIM_COLUMNS) {
            *texel = 1;
        }
    }
    let texture = Texture::new(gl, 1, Gl::R8UI, TILES_WIDTH as i32, rows as i32, Sampling::Nearest)?;
    let array = js_sys::Uint8Array::from(bytes.as_slice());
    let place = (0, TILES_WIDTH as i32, rows as i32);
    texture.write_integers(Gl::RED_INTEGER, Gl::UNSIGNED_BYTE, place, &array, 0)?;
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
    texture.write_integers(Gl::RED_INTEGER, Gl::UNSIGNED_BYTE, place, &array, 0)?;
    Ok((texture, count as u32))
}
