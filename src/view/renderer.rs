//! Draws one frame: the stage and the sheet each into its own picture, kept until something on it changes, then both
//! onto the canvas with what follows the pointer. So a hover redraws no model, and an orbit no sheet.

mod compose;
mod inputs;
mod picture;

use std::rc::Rc;

use glam::DVec2;
use web_sys::WebGl2RenderingContext as Gl;

use super::arrays::{LineArrays, MeshArrays};
use super::gl::{Attribute, Buffer, Context, GlError, Program, Quality, Target, VertexArray};
use super::images::{Images, Look};
use super::paper::Step;
use super::programs::{LAYER, Lines, Needs, Place, Programs, SurfaceStyle};
use super::queue::Budget;
use super::scene::Scene;
use super::upload::{Arriving, TriangleData};
use crate::draw::camera::Projection;
use crate::draw::ruler;
use crate::grid::GridOptions;
use crate::lens::Lens;
pub(super) use inputs::unit;
use inputs::{Inputs, kept, line_inputs, outline_ink};
use picture::Picture;

/// All objects in the graphics system.
pub struct Renderer {
    gl: Context,
    programs: Programs,
    inputs: Inputs,
    images: Images,
    mesh: Option<Arriving>,
    stage_lines: Option<Arriving>,
    sheet_lines: Option<Arriving>,
    /// Length of outlines over area, on the sheet (uv) and on the model.
    line_density: [f64; 2],
    nothing: VertexArray,
    stage: Picture,
    stage_depth: bool,
    sheet: Picture,
}

/// What was prepared for a frame.
pub struct Prepared {
    /// Whether it can be drawn without waiting.
    pub ready: bool,
    /// Whether programs were started.
    pub started: bool,
    /// Whether what is drawn changed.
    pub changed: bool,
}

impl Renderer {
    /// With an empty scene; the grid is on its way.
    pub fn new(gl: &Context, grid: &GridOptions) -> Result<Self, GlError> {
        Ok(Self {
            gl: gl.clone(),
            programs: Programs::new(gl)?,
            inputs: Inputs::new(gl, grid)?,
            images: Images::default(),
            mesh: None,
            stage_lines: None,
            sheet_lines: None,
            line_density: [0.0; 2],
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

    /// Another model, or none; the previous one's data and outlines are dropped.
    pub fn set_mesh(&mut self, mesh: Option<&MeshArrays>) -> Result<(), GlError> {
        self.inputs.triangles = TriangleData::default();
        self.images.forget_looks();
        (self.stage_lines, self.sheet_lines, self.mesh) = (None, None, None);
        if let Some(MeshArrays { triangles, corners: Some(corners), .. }) = mesh {
            self.mesh = Some(Arriving::mesh(&self.gl, *triangles, corners)?);
        }
        // A small model is uploaded at once.
        self.mesh.iter_mut().for_each(Arriving::step);
        Ok(())
    }

    /// Other uvs of the model that is there.
    pub fn set_uvs(&mut self, uv: &js_sys::Object) -> Result<(), GlError> {
        self.mesh.as_mut().map_or(Ok(()), |mesh| mesh.begin_uvs(&self.gl, uv))
    }

    /// What the Picture lens shows of the model, and which of it lies below the shells on the sheet.
    pub fn set_looks(&mut self, looks: &Rc<[Look]>, ground: Option<usize>) {
        self.images.set_looks(looks.clone(), ground);
    }

    /// A picture for it.
    pub fn set_image(&mut self, number: u32, size: [u32; 2], pixels: &js_sys::Uint8Array) -> Result<(), GlError> {
        self.images.begin(&self.gl, number, size, pixels)
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
        self.line_density = lines.density;
        Ok(())
    }

    /// Chosen shells and their partners.
    pub fn set_states(&mut self, chosen: &[u32], partners: &[u32]) -> Result<(), GlError> {
        self.inputs.set_states(&self.gl, chosen, partners)
    }

    /// UDIM numbers of the tiles where paper lies.
    pub fn set_tiles(&mut self, tiles: &[u32]) -> Result<(), GlError> {
        self.inputs.set_tiles(&self.gl, tiles)
    }

    /// Whether there is a model and all of its triangles are in the graphics system.
    pub fn has_mesh(&self) -> bool {
        self.mesh.as_ref().is_some_and(|mesh| mesh.is_whole() && !mesh.awaits_uvs())
    }

    /// Whether something is on its way.
    pub fn is_arriving(&self) -> bool {
        let parts = [&self.mesh, &self.stage_lines, &self.sheet_lines];
        let whole = parts.into_iter().flatten().all(|part| part.is_whole() && !part.awaits_uvs());
        !whole || self.inputs.triangles.is_arriving() || self.images.are_arriving() || !self.inputs.paper.is_whole()
    }

    /// Paints the grid as far as time allows, without the graphics system.
    pub fn paint(&mut self, budget: &Budget) {
        while budget.is_left() && self.inputs.paper.paint() {}
    }

    /// Does what can be done while the graphics system is busy: paints the grid, and brings the first one, which is small.
    /// Whether what is drawn changed.
    pub fn work_meanwhile(&mut self, budget: &Budget) -> Result<bool, GlError> {
        self.paint(budget);
        let paper = &mut self.inputs.paper;
        Ok(budget.is_left() && !paper.has_grid() && paper.step(&self.gl)? == Step::Ready)
    }

    /// Brings what is on its way as far as time allows, to be called while nothing is being drawn: what shows the model
    /// with its grid comes first, then what is known of it, then the grid in full size. Whether what is drawn changed.
    pub fn work(&mut self, budget: &Budget) -> Result<bool, GlError> {
        let mut changed = false;
        while budget.is_left() {
            let mesh = self.mesh.as_mut().filter(|mesh| !mesh.is_whole());
            if let (None, false) = (&mesh, self.inputs.paper.has_grid()) {
                changed |= self.inputs.paper.step(&self.gl)? == Step::Ready;
                continue;
            }
            let lines = [&mut self.stage_lines, &mut self.sheet_lines].into_iter().flatten();
            if let Some(part) = mesh.into_iter().chain(lines).find(|part| !part.is_whole()) {
                // Shown when it is whole: drawing parts of a large model would delay the rest.
                part.step();
                changed |= part.is_whole();
                continue;
            }
            if let Some(mesh) = self.mesh.as_mut().filter(|mesh| mesh.awaits_uvs()) {
                changed |= mesh.step_uvs(&self.gl)?;
                continue;
            }
            if let Some(whole) = self.inputs.triangles.step()? {
                changed |= whole;
                continue;
            }
            if let Some(whole) = self.images.step()? {
                changed |= whole;
                continue;
            }
            match self.inputs.paper.step(&self.gl)? {
                Step::Idle => break,
                Step::Busy => {}
                Step::Ready => changed = true,
            }
        }
        Ok(changed)
    }

    /// Whether the model has arrived.
    pub fn has_model(&self) -> bool {
        self.mesh.as_ref().is_some_and(Arriving::is_whole)
    }

    /// Whether it has, and a grid to draw it with.
    pub fn has_model_and_grid(&self) -> bool {
        self.has_model() && self.inputs.paper.has_grid()
    }

    /// How much of their strength outlines and contours keep there.
    fn kept(&self, scene: &Scene, place: Place) -> f32 {
        kept(scene, place, self.line_density[usize::from(place == Place::Stage)])
    }

    /// How surfaces are drawn in this scene, `measured`: where there is triangle data.
    fn style(&self, scene: &Scene, place: Place, measured: bool) -> SurfaceStyle {
        let grid = measured && scene.lens == Lens::Grid;
        SurfaceStyle {
            place,
            lens: if measured { scene.lens } else { Lens::Grid },
            measured,
            flagged: grid && scene.flags,
            leaning: grid && scene.leaning,
            fading: measured && (!scene.chosen.is_empty() || scene.isolates()),
        }
    }

    /// How they are drawn with the triangle data that is there.
    fn measured_style(&self, scene: &Scene, place: Place) -> SurfaceStyle {
        self.style(scene, place, self.inputs.triangles.texture.is_some())
    }

    /// Starts programs and makes the needed queries, as far as possible without waiting: where the graphics system is
    /// busy, there is no `budget`.
    pub fn prepare(&mut self, scene: &Scene, budget: Option<&Budget>) -> Result<Prepared, GlError> {
        let mut changed = false;
        if let Some(budget) = budget.filter(|_| !self.is_arriving()) {
            self.stage.targets().chain(self.sheet.targets()).try_for_each(|target| target.check(budget))?;
            changed = self.inputs.paper.learn(&self.gl);
        }
        let needs = |measured: bool, model: bool, hovered: bool| Needs {
            surfaces: [Place::Stage, Place::Sheet]
                .into_iter()
                .filter(|_| model)
                .map(|place| self.style(scene, place, measured))
                .collect(),
            lines: kinds_of_lines(scene),
            hovered,
        };
        let now = needs(self.inputs.triangles.texture.is_some(), self.mesh.is_some(), scene.hover.is_some());
        // A model comes, its triangles are measured, a pointer goes over it.
        let next = needs(true, true, true);
        let (ready, started) = self.programs.prepare(&now, &next, budget)?;
        Ok(Prepared { ready, started, changed })
    }

    /// Whether [`Renderer::prepare`] has queried all that a finished picture needs.
    pub fn has_asked(&self) -> bool {
        self.inputs.paper.has_learnt() && self.stage.targets().chain(self.sheet.targets()).all(Target::is_checked)
    }

    /// Draws the model on the stage with its grid and nothing else, and puts that on the canvas.
    pub fn draw_plain(&mut self, scene: &Scene, radius: f64) -> Result<(), GlError> {
        let Some(stage) = scene.sight.stage else { return Ok(()) };
        let target = self.stage.take(&self.gl, stage, Quality::Draft)?;
        self.inputs.paper.sharpen(Quality::Draft);
        target.begin();
        self.begin_stage(scene);
        if let Some(mesh) = self.mesh.as_ref().filter(|mesh| mesh.is_whole()) {
            self.programs.plain()?.bind();
            self.inputs.paper.texture.bind_to(unit::PAPER);
            let projection = scene.sight.camera.projection(scene.sight.stage_size(), radius);
            let [up, key] = lights(scene, &projection).map(|[x, y, z]| [x, y, z, 0.0]);
            let columns = matrix(&projection);
            for (location, value) in (3..).zip(columns.as_chunks::<4>().0.iter().chain(&[up, key])) {
                self.gl.vertex_attrib4fv_with_f32_array(location, value);
            }
            mesh.vertices.bind();
            self.gl.draw_arrays(Gl::TRIANGLES, 0, (mesh.items() * 3) as i32);
        }
        target.finish();
        self.stage.show(target, Quality::Draft);
        self.stage_depth = false;
        self.begin_canvas(scene);
        self.put(scene, Place::Stage, stage)?;
        Ok(())
    }

    /// Redraws the stage's picture.
    pub fn draw_stage(&mut self, scene: &Scene, radius: f64, quality: Quality) -> Result<(), GlError> {
        let Some(rect) = scene.sight.stage else { return Ok(()) };
        let stage = rect.size();
        let target = self.stage.take(&self.gl, rect, quality)?;
        self.inputs.paper.sharpen(quality);
        target.begin();
        self.begin_stage(scene);
        let projection = scene.sight.camera.projection(stage, radius);
        self.surface_on_stage(scene, &projection, radius, quality)?;
        let kept = self.kept(scene, Place::Stage);
        if let Some(lines) = &self.stage_lines {
            self.gl.depth_mask(false);
            for &kind in kinds_of_lines(scene) {
                let program = self.programs.lines(Place::Stage, kind)?;
                program.bind();
                program.set("clip_from_model", matrix(&projection))?;
                program.set("eye", projection.eye.as_vec3().to_array())?;
                line_inputs(program, scene, kind, stage)?;
                if kind == Lines::All {
                    outline_ink(program, scene, Place::Stage, kept)?;
                }
                if kind == Lines::Chosen {
                    self.inputs.of_states(program)?;
                }
                draw_lines(&self.gl, lines, Gl::FUNC_ADD);
            }
            self.gl.depth_mask(true);
        }
        target.finish();
        self.stage.show(target, quality);
        self.stage_depth = false;
        Ok(())
    }

    /// The stage's ground, to draw the model on.
    fn begin_stage(&self, scene: &Scene) {
        let gl = &self.gl;
        gl.depth_mask(true);
        let [r, g, b] = scene.theme.stage;
        gl.clear_color(r, g, b, 0.0);
        gl.clear(Gl::COLOR_BUFFER_BIT | Gl::DEPTH_BUFFER_BIT);
        gl.enable(Gl::DEPTH_TEST);
        gl.depth_func(Gl::LEQUAL);
        gl.disable(Gl::BLEND);
    }

    /// The model's surfaces.
    fn surface_on_stage(
        &mut self,
        scene: &Scene,
        projection: &Projection,
        radius: f64,
        quality: Quality,
    ) -> Result<(), GlError> {
        let style = self.measured_style(scene, Place::Stage);
        if let Some(mesh) = self.mesh.as_ref().filter(|mesh| mesh.is_whole()) {
            let program = self.programs.surface(style)?;
            program.bind();
            program.set("clip_from_model", matrix(projection))?;
            let [up, key] = lights(scene, projection);
            program.set("light_up", up)?;
            program.set("light_key", key)?;
            if style.measured {
                program.set("unit_from_model", [(1.0 / radius.max(f64::MIN_POSITIVE)) as f32])?;
            }
            if style.fading {
                program.set("ground", scene.theme.stage)?;
            }
            self.inputs.of_surface(program, scene, style)?;
            draw_surfaces(&self.gl, program, style, mesh, &self.inputs, &self.images, quality)?;
        }
        Ok(())
    }

    /// Redraws the sheet's picture.
    pub fn draw_sheet(&mut self, scene: &Scene, quality: Quality) -> Result<(), GlError> {
        let Some(rect) = scene.sight.sheet else { return Ok(()) };
        let place = rect.size();
        let target = self.sheet.take(&self.gl, rect, quality)?;
        self.inputs.paper.sharpen(quality);
        let gl = &self.gl;
        target.begin();
        gl.disable(Gl::DEPTH_TEST);
        gl.depth_mask(false);
        gl.disable(Gl::BLEND);
        let (factor, offset) = scene.sight.sheet_camera.clip_from_uv(place);
        let style = self.measured_style(scene, Place::Sheet);
        let program = self.programs.paper(style.pictured())?;
        program.bind();
        let paper = &self.inputs.paper;
        if style.pictured() {
            self.images.of_ground(program, &paper.texture, paper.anisotropy(quality))?;
        } else {
            program.set_texture("grid", unit::PAPER, &paper.texture)?;
        }
        program.set_texture("tiles", unit::TILES, &self.inputs.tiles)?;
        let (scale, shift) = (1.0 / factor, -offset / factor);
        program.set("uv_from_clip", [scale.x as f32, scale.y as f32, shift.x as f32, shift.y as f32])?;
        program.set("ground", scene.theme.card)?;
        self.nothing.bind();
        gl.draw_arrays(Gl::TRIANGLES, 0, 3);

        let clip_from_uv = [factor.x as f32, factor.y as f32, offset.x as f32, offset.y as f32];
        if !style.pictured() {
            gl.enable(Gl::BLEND);
        }
        if let Some(mesh) = self.mesh.as_ref().filter(|mesh| mesh.is_whole()) {
            // Of the classes the greatest stays.
            gl.blend_equation_separate(if style.layered() { Gl::FUNC_ADD } else { Gl::MIN }, Gl::MAX);
            gl.blend_color(LAYER, LAYER, LAYER, 1.0);
            gl.blend_func_separate(Gl::CONSTANT_COLOR, Gl::SRC_COLOR, Gl::ONE, Gl::ONE);
            let program = self.programs.surface(style)?;
            program.bind();
            program.set("clip_from_uv", clip_from_uv)?;
            self.inputs.of_surface(program, scene, style)?;
            draw_surfaces(&self.gl, program, style, mesh, &self.inputs, &self.images, quality)?;
        }
        self.ruler(scene, place, clip_from_uv)?;
        let kept = self.kept(scene, Place::Sheet);
        if let Some(lines) = &self.sheet_lines {
            for &kind in kinds_of_lines(scene) {
                let program = self.programs.lines(Place::Sheet, kind)?;
                program.bind();
                program.set("clip_from_uv", clip_from_uv)?;
                line_inputs(program, scene, kind, place)?;
                if kind == Lines::All {
                    outline_ink(program, scene, Place::Sheet, kept)?;
                }
                if kind == Lines::Chosen {
                    self.inputs.of_states(program)?;
                }
                draw_lines(&self.gl, lines, if kind == Lines::Seams { Gl::MIN } else { Gl::FUNC_ADD });
            }
        }
        target.finish();
        self.sheet.show(target, quality);
        Ok(())
    }

    /// Tile borders and the ruler's ticks.
    fn ruler(&mut self, scene: &Scene, place: DVec2, clip_from_uv: [f32; 4]) -> Result<(), GlError> {
        let segments = ruler::segments(
            &scene.sight.sheet_camera,
            scene.cells,
            scene.sight.bounds_uv,
            &scene.tiles,
            scene.sight.ratio,
        );
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
            program.set("width", [width * scene.sight.ratio as f32])?;
            let [r, g, b] = scene.theme.second;
            program.set("ink", [r, g, b, strength])?;
            blend_over(&self.gl);
            vertices.bind();
            self.gl.draw_arrays_instanced(Gl::TRIANGLE_STRIP, 0, 4, count);
        }
        Ok(())
    }
}

/// Directions of the light from above and of the one beside the eye.
fn lights(scene: &Scene, projection: &Projection) -> [[f32; 3]; 2] {
    let [right, up, back] = projection.axes;
    let key = (back * 0.85 + up * 0.5 - right * 0.3).normalize();
    [scene.sight.camera.up.axis(), key].map(|direction| direction.as_vec3().to_array())
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

/// All triangles by this program, which is bound.
fn draw_surfaces(
    gl: &Context,
    program: &Program,
    style: SurfaceStyle,
    mesh: &Arriving,
    inputs: &Inputs,
    images: &Images,
    quality: Quality,
) -> Result<(), GlError> {
    mesh.vertices.bind();
    if style.pictured() {
        let paper = &inputs.paper;
        return images.draw(gl, program, mesh.items(), &paper.texture, paper.anisotropy(quality));
    }
    gl.draw_arrays(Gl::TRIANGLES, 0, (mesh.items() * 3) as i32);
    Ok(())
}

/// All lines by this program, which is bound; `equation`: how their colours are blended.
fn draw_lines(gl: &Context, lines: &Arriving, equation: u32) {
    if !lines.is_whole() {
        return;
    }
    blend_over(gl);
    gl.blend_equation_separate(equation, Gl::FUNC_ADD);
    lines.vertices.bind();
    gl.draw_arrays_instanced(Gl::TRIANGLE_STRIP, 0, 4, lines.items() as i32);
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
