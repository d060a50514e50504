//! Puts the pictures of both places on the canvas, and on them what follows the pointer.

use web_sys::WebGl2RenderingContext as Gl;

use super::inputs::{line_inputs, unit};
use super::{Renderer, blend_over, draw_lines, matrix};
use crate::lens::Lens;
use crate::view::gl::GlError;
use crate::view::programs::{Lines, Place};
use crate::view::scene::Scene;
use crate::view::sight::Rect;

/// How strong contours are on Grid, whose own lines come first; 1 elsewhere.
const GRID_CONTOUR: f32 = 0.6;

impl Renderer {
    /// Puts the pictures on the canvas, and on them what follows the pointer.
    pub fn compose(&mut self, scene: &Scene, radius: f64) -> Result<(), GlError> {
        self.begin_canvas(scene);
        let area = |rect: Option<Rect>| rect.map_or(0, |rect| i64::from(rect.width) * i64::from(rect.height));
        let mut places = [(Place::Stage, scene.sight.stage), (Place::Sheet, scene.sight.sheet)];
        // The smaller one lies on the larger one.
        if area(scene.sight.stage) < area(scene.sight.sheet) {
            places.reverse();
        }
        for (place, rect) in places {
            let Some(rect) = rect else { continue };
            if self.put(scene, place, rect)? {
                self.pointer(scene, place, rect, radius)?;
            }
        }
        self.gl.disable(Gl::SCISSOR_TEST);
        Ok(())
    }

    /// Draws on the canvas from now on, which is empty.
    pub fn begin_canvas(&self, scene: &Scene) {
        let gl = &self.gl;
        gl.bind_framebuffer(Gl::FRAMEBUFFER, None);
        let [r, g, b] = scene.theme.stage;
        gl.disable(Gl::SCISSOR_TEST);
        gl.clear_color(r, g, b, 1.0);
        gl.clear(Gl::COLOR_BUFFER_BIT);
        gl.disable(Gl::DEPTH_TEST);
    }

    /// Puts the picture of a place there, and draws nowhere else from now on; false where there is none.
    pub(super) fn put(&mut self, scene: &Scene, place: Place, rect: Rect) -> Result<bool, GlError> {
        let gl = &self.gl;
        let picture = if place == Place::Stage { &self.stage } else { &self.sheet };
        let Some(target) = picture.shown() else { return Ok(false) };
        let origin = rect.origin_from_below(scene.sight.canvas[1]);
        gl.viewport(origin[0], origin[1], rect.width, rect.height);
        gl.enable(Gl::SCISSOR_TEST);
        gl.scissor(origin[0], origin[1], rect.width, rect.height);
        if !(picture.is_full() && self.measured_style(scene, place).contoured()) {
            target.copy_to_canvas(origin);
            return Ok(true);
        }
        let kept = self.kept(scene, place);
        let program = self.programs.contour()?;
        program.bind();
        gl.disable(Gl::BLEND);
        program.set_texture("picture", unit::PICTURE, &target.colour)?;
        program.set("origin", origin.map(|px| px as f32))?;
        program.set("reach", [scene.sight.ratio.max(1.0) as f32])?;
        let strength = if scene.lens == Lens::Grid { GRID_CONTOUR } else { 1.0 };
        program.set("strength", [strength * kept])?;
        self.nothing.bind();
        gl.draw_arrays(Gl::TRIANGLES, 0, 3);
        Ok(true)
    }

    /// The hovered shell's outline and the ring.
    fn pointer(&mut self, scene: &Scene, place: Place, rect: Rect, radius: f64) -> Result<(), GlError> {
        let Some(hover) = &scene.hover else { return Ok(()) };
        let size = rect.size();
        let (lines, centre) = match place {
            Place::Stage => {
                let projection = scene.sight.camera.projection(size, radius);
                let clip = projection.clip_from_model * hover.point.extend(1.0);
                (&self.stage_lines, (clip.w > 0.0).then(|| clip.truncate().truncate() / clip.w))
            }
            Place::Sheet => {
                let (factor, offset) = scene.sight.sheet_camera.clip_from_uv(size);
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
                    let projection = scene.sight.camera.projection(size, radius);
                    program.set("clip_from_model", matrix(&projection))?;
                    program.set("eye", projection.eye.as_vec3().to_array())?;
                    program.set_texture("depth", unit::DEPTH, &target.depth)?;
                    program.set("origin", rect.origin_from_below(scene.sight.canvas[1]).map(|px| px as f32))?;
                }
                _ => {
                    let (factor, offset) = scene.sight.sheet_camera.clip_from_uv(size);
                    let places = [factor.x as f32, factor.y as f32, offset.x as f32, offset.y as f32];
                    program.set("clip_from_uv", places)?;
                }
            }
            draw_lines(&self.gl, lines, Gl::FUNC_ADD);
        }
        if let Some(centre) = centre {
            let program = self.programs.marker()?;
            program.bind();
            program.set("centre", centre.as_vec2().to_array())?;
            program.set("viewport", size.as_vec2().to_array())?;
            program.set("radius", [9.0 * scene.sight.ratio as f32])?;
            program.set("width", [2.0 * scene.sight.ratio as f32])?;
            program.set("ink", scene.accent_on_paper())?;
            blend_over(&self.gl);
            self.nothing.bind();
            self.gl.draw_arrays(Gl::TRIANGLE_STRIP, 0, 4);
        }
        Ok(())
    }
}
