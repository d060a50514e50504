//! The page's handle on the view: what is shown and from where. All lengths are device px of the canvas from its top
//! left; points are in the model's units from the centre of its bounding sphere; times are ms of the page's clock.
//!
//! Nothing is drawn before [`View::frame`], and only what changed.

use std::rc::Rc;

use glam::{DVec2, DVec3};
use js_sys::{Array, Object, Reflect, Uint8Array, Uint32Array};
use wasm_bindgen::prelude::*;
use web_sys::{HtmlCanvasElement, WebGl2RenderingContext as Gl, WebglLoseContext};

use super::arrays::{LineArrays, MeshArrays, numbers};
use super::camera::{Camera, Up};
use super::clear::{Clear, clear_areas, roomiest};
use super::frames::Frames;
use super::gl::{Context, GlError};
use super::images::{Look, most_px};
use super::motion::Motion;
use super::renderer::Renderer;
use super::scene::{FIRST_TILE, Hover, Limits, Rect, Scene, Theme};
use crate::grid::GridOptions;
use crate::lens::{Lens, TriangleTexel};

/// UDIM numbers that the sheet draws: ten columns, four digits.
const UDIM_NUMBERS: std::ops::RangeInclusive<u32> = FIRST_TILE..=9999;

/// How near the pointer a hovered place must be to be zoomed to, CSS px: a finger's width.
const HOVER_NEAR_PX: f64 = 40.0;

/// What the camera takes for the radius where there is no model.
const NO_RADIUS: f64 = 1.0;

/// Stage and sheet on one canvas.
#[wasm_bindgen]
pub struct View {
    canvas: HtmlCanvasElement,
    gl: Gl,
    losing: Option<WebglLoseContext>,
    renderer: Option<Renderer>,
    scene: Scene,
    grid: GridOptions,
    mesh: Option<MeshArrays>,
    triangles: Option<Uint32Array>,
    lines: Option<LineArrays>,
    looks: Rc<[Look]>,
    /// Which of them lies below the shells on the sheet.
    ground: Option<usize>,
    motion: Motion,
    frames: Frames,
}

#[wasm_bindgen]
impl View {
    /// A view on a canvas whose context was asked for as `www/context.js` does: without samples, since pictures are copied
    /// to it, and without alpha, which carries classes in them.
    ///
    /// # Errors
    /// `webgl2` where the browser has none; a sentence where it has but refuses something.
    #[wasm_bindgen(constructor)]
    pub fn new(canvas: HtmlCanvasElement) -> Result<View, JsError> {
        let context = canvas.get_context("webgl2").ok().flatten();
        let gl: Gl = context.and_then(|context| context.dyn_into().ok()).ok_or_else(|| JsError::new("webgl2"))?;
        // Asked for now: a lost context gives no extensions.
        let losing = gl.get_extension("WEBGL_lose_context").ok().flatten().map(JsCast::unchecked_into);
        let grid = GridOptions::default();
        let renderer = Renderer::new(&Context::new(&gl), &grid)?;
        Ok(Self {
            scene: Scene::new([canvas.width() as i32, canvas.height() as i32], &grid),
            canvas,
            losing,
            renderer: Some(renderer),
            grid,
            mesh: None,
            triangles: None,
            lines: None,
            looks: Rc::default(),
            ground: None,
            motion: Motion::default(),
            frames: Frames::new(&gl),
            gl,
        })
    }

    /// Colours of the page: `stage`, `card`, `second`, `accent`, each [r, g, b] in 0..1; others are ignored.
    pub fn set_theme(&mut self, theme: JsValue) -> Result<(), JsError> {
        let colour = |name: &str, default: [f32; 3]| {
            Ok::<_, GlError>(numbers(&theme, name)?.map_or(default, |colour: [f64; 3]| colour.map(|part| part as f32)))
        };
        let default = Theme::default();
        self.scene.theme = Theme {
            stage: colour("stage", default.stage)?,
            card: colour("card", default.card)?,
            second: colour("second", default.second)?,
            accent: colour("accent", default.accent)?,
        };
        self.frames.all_dirty();
        Ok(())
    }

    /// The grid of this map, px, with cells of this side, px, and words of this size, px, across it (or none). It is
    /// painted and brought in slices by [`View::frame`]; until it is there, the former one stays.
    ///
    /// # Errors
    /// What is out of its range.
    pub fn set_grid(
        &mut self,
        map_width: u32,
        map_height: u32,
        cell_px: u32,
        words: &str,
        words_px: f32,
    ) -> Result<(), JsError> {
        let options = GridOptions::asked(map_width, map_height, cell_px, words, words_px)?;
        if options == self.grid {
            return Ok(());
        }
        self.scene.set_grid(&options);
        self.grid = options;
        if let Some(renderer) = &mut self.renderer {
            renderer.set_grid(&self.grid);
        }
        self.frames.all_dirty();
        Ok(())
    }

    /// UDIM numbers of the tiles that the map has: the sheet's paper lies in these. Numbers that are none are left out;
    /// without any, there is the first tile.
    pub fn set_tiles(&mut self, numbers: &[u32]) -> Result<(), JsError> {
        let mut tiles: Vec<u32> = numbers.iter().copied().filter(|number| UDIM_NUMBERS.contains(number)).collect();
        tiles.sort_unstable();
        tiles.dedup();
        if tiles.is_empty() {
            tiles.push(FIRST_TILE);
        }
        if tiles != self.scene.tiles {
            if let Some(renderer) = &mut self.renderer {
                renderer.set_tiles(&tiles)?;
            }
            self.scene.tiles = tiles;
            self.frames.sheet_dirty();
        }
        Ok(())
    }

    /// Another model; its data and outlines follow. The camera is fitted to it.
    pub fn set_model(&mut self, mesh: JsValue) -> Result<(), JsError> {
        let mesh = MeshArrays::read(&mesh)?;
        self.forget_model();
        self.scene.bounds_uv = mesh.bounds_uv;
        if let Some(renderer) = &mut self.renderer {
            renderer.set_mesh(Some(&mesh))?;
            self.frames.asked();
        }
        self.mesh = Some(mesh);
        Ok(())
    }

    /// Four words a triangle, as `TriangleTexel` of the lens module packs them.
    pub fn set_triangles(&mut self, data: Uint32Array) -> Result<(), JsError> {
        let triangles = self.mesh.as_ref().map_or(0, |mesh| mesh.triangles);
        if u64::from(data.length()) != u64::from(triangles) * 4 {
            let message = format!("There are {} words for {triangles} triangles; each should have 4.", data.length());
            return Err(GlError::Argument(message).into());
        }
        if let Some(renderer) = &mut self.renderer {
            renderer.set_triangles(&data)?;
            self.frames.asked();
        }
        self.triangles = Some(data);
        self.frames.all_dirty();
        Ok(())
    }

    /// Outlines of the shells.
    pub fn set_lines(&mut self, lines: JsValue) -> Result<(), JsError> {
        let lines = LineArrays::read(&lines)?;
        if let Some(renderer) = &mut self.renderer {
            renderer.set_lines(&lines)?;
            self.frames.asked();
        }
        self.lines = Some(lines);
        self.frames.all_dirty();
        Ok(())
    }

    /// What the Picture lens shows of the model, a list of looks: `picture`, the number of one that [`View::set_picture`]
    /// brings, or -1; `colour`, sRGB 0..1, that stands in for it, or nothing for paper; `scale` and `offset` of u and v,
    /// which lead to the place in the picture; `clamp`, 1 where it does not repeat; `runs`, first triangle and count, of
    /// each run. `ground`: which of the looks lies below the shells on the sheet; -1 for none. Pictures that none of them
    /// shows are released.
    pub fn set_looks(&mut self, looks: JsValue, ground: i32) -> Result<(), JsError> {
        let triangles = self.mesh.as_ref().map_or(0, |mesh| mesh.triangles);
        (self.looks, self.ground) = (Look::read_all(&looks, triangles)?.into(), usize::try_from(ground).ok());
        if let Some(renderer) = &mut self.renderer {
            renderer.set_looks(&self.looks, self.ground);
        }
        self.frames.all_dirty();
        Ok(())
    }

    /// A picture that looks show: opaque RGBA pixels, rows from the top. After a lost context it has to be set again.
    pub fn set_picture(&mut self, number: u32, width: u32, height: u32, pixels: &Uint8Array) -> Result<(), JsError> {
        if let Some(renderer) = &mut self.renderer {
            renderer.set_image(number, [width, height], pixels)?;
            self.frames.asked();
        }
        Ok(())
    }

    /// Longest side that a picture may have, px.
    pub fn most_picture_px(&self) -> u32 {
        most_px(&self.gl)
    }

    /// An empty stage.
    pub fn clear_model(&mut self) -> Result<(), JsError> {
        self.forget_model();
        if let Some(renderer) = &mut self.renderer {
            renderer.set_mesh(None)?;
        }
        Ok(())
    }

    /// `grid`, `stretch`, `size`, `handedness`, `sharing`, `seams`, `lettering` or `picture`.
    pub fn set_lens(&mut self, name: &str) -> Result<(), JsError> {
        self.scene.lens = Lens::named(name)
            .ok_or_else(|| GlError::Argument(format!("There is no lens \"{name}\". Choose one from the bar.")))?;
        self.frames.all_dirty();
        Ok(())
    }

    /// Limits of the brief: `max_anisotropy`, and `octave_tolerance` either way.
    pub fn set_limits(&mut self, limits: JsValue) -> Result<(), JsError> {
        let default = Limits::default();
        self.scene.limits = Limits {
            max_anisotropy: numbers(&limits, "max_anisotropy")?.map_or(default.max_anisotropy, |[ratio]| ratio),
            octave_tolerance: numbers(&limits, "octave_tolerance")?
                .map_or(default.octave_tolerance, |[octaves]| octaves),
        };
        self.frames.all_dirty();
        Ok(())
    }

    /// Whether Grid wears its flags.
    pub fn set_flags(&mut self, on: bool) {
        self.scene.flags = on;
        self.frames.all_dirty();
    }

    /// Whether Grid shows where texture-up leans away from world-up.
    pub fn set_leaning(&mut self, on: bool) {
        self.scene.leaning = on;
        self.frames.all_dirty();
    }

    /// Fades what is outside these values of the lens; NaN and NaN fade nothing.
    pub fn set_isolate(&mut self, lo: f64, hi: f64) {
        self.scene.isolate = (!lo.is_nan() && !hi.is_nan()).then_some([lo, hi]);
        self.frames.all_dirty();
    }

    /// Chosen shells; none fades nothing.
    pub fn set_selected(&mut self, shells: &[u32]) -> Result<(), JsError> {
        self.scene.chosen = shells.to_vec();
        self.set_states()
    }

    /// Shells that share with the chosen ones.
    pub fn set_partner(&mut self, shells: &[u32]) -> Result<(), JsError> {
        self.scene.partners = shells.to_vec();
        self.set_states()
    }

    fn set_states(&mut self) -> Result<(), JsError> {
        if let Some(renderer) = &mut self.renderer {
            renderer.set_states(&self.scene.chosen, &self.scene.partners)?;
        }
        self.frames.all_dirty();
        Ok(())
    }

    /// What lies under the pointer; a negative triangle for nothing. uv counts where the triangle has one.
    pub fn set_hover(&mut self, triangle: i32, x: f64, y: f64, z: f64, u: f64, v: f64) {
        let hover = u32::try_from(triangle).ok().map(|triangle| {
            let at = triangle.saturating_mul(4);
            let known = self.triangles.as_ref().filter(|data| at < data.length());
            let texel = known.map(|data| TriangleTexel::decode([0, 1, 2, 3].map(|word| data.get_index(at + word))));
            let mapped = texel.is_none_or(|texel| texel.flags & crate::lens::flag::MAPPED != 0);
            Hover {
                point: DVec3::new(x, y, z),
                uv: mapped.then_some(DVec2::new(u, v)).filter(|uv| uv.is_finite()),
                shell: texel.and_then(|texel| texel.shell),
            }
        });
        if hover != self.scene.hover {
            self.scene.hover = hover;
            self.frames.canvas_dirty();
        }
    }

    /// Size of the canvas, and where on it model and sheet are: [x, y, width, height] each; an empty one is not drawn.
    pub fn set_layout(&mut self, width: u32, height: u32, stage: &[f64], sheet: Option<Box<[f64]>>) {
        self.scene.canvas = [width as i32, height as i32];
        let css = self.canvas.client_width();
        self.scene.ratio = if css > 0 { (f64::from(width) / f64::from(css)).clamp(0.5, 4.0) } else { 1.0 };
        self.scene.set_places(Rect::from_numbers(stage), sheet.and_then(|sheet| Rect::from_numbers(&sheet)));
        self.frames.relaid();
    }

    /// What lies over the canvas: left, top, right, bottom each. The larger of the two places shows things where none
    /// does; one that still shows all of it is fitted anew, in this many ms.
    pub fn set_covers(&mut self, sides: &[f64], milliseconds: f64, now: f64) {
        self.motion.set_covers(sides.as_chunks().0, &self.scene, points(&self.mesh), milliseconds, now);
    }

    /// Turns the model after the pointer.
    pub fn orbit(&mut self, dx: f64, dy: f64) {
        self.motion.take_stage(&self.scene);
        self.scene.camera.orbit(dx, dy, self.scene.stage_size());
    }

    /// Moves the model after the pointer.
    pub fn pan(&mut self, dx: f64, dy: f64) {
        self.motion.take_stage(&self.scene);
        self.scene.camera.pan(dx, dy, self.scene.stage_size());
    }

    /// Comes closer by `factor` (> 1) to what is under (x, y): to the surface, where [`View::set_hover`] said it is near.
    pub fn zoom(&mut self, factor: f64, x: f64, y: f64) {
        self.motion.take_stage(&self.scene);
        let (stage, at) = (self.scene.stage_size(), self.scene.on_stage(x, y));
        let near = |hover: &Hover| {
            let seen = self.scene.camera.on_stage(hover.point, stage)?;
            (seen.distance(at) < HOVER_NEAR_PX * self.scene.ratio).then_some(hover.point)
        };
        let surface = self.scene.hover.as_ref().and_then(near);
        let about = surface.unwrap_or_else(|| self.scene.camera.at_target_depth(at.x, at.y, stage));
        self.scene.camera.zoom(factor, about, radius(&self.mesh));
    }

    /// Shows all of the model.
    pub fn fit(&mut self) {
        self.motion.fit(&mut self.scene, points(&self.mesh));
    }

    /// Flies to where all of the model is seen; at once for 0 ms.
    pub fn fly_fit(&mut self, milliseconds: f64, now: f64) {
        self.motion.fly_fit(&mut self.scene, points(&self.mesh), milliseconds, now);
    }

    /// World-up: `x`, `y`, `z`, or one of them after `-`. Another axis shows all of the model from its front.
    pub fn set_up(&mut self, axis: &str) -> Result<(), JsError> {
        let up = Up::named(axis)
            .ok_or_else(|| GlError::Argument(format!("\"{axis}\" is no axis; up is x, y, z, -x, -y or -z.")))?;
        if up != self.scene.camera.up {
            self.scene.camera = Camera::new(up, radius(&self.mesh));
            self.fit();
        }
        Ok(())
    }

    /// Flies to a camera, {eye, target} with an optional radius of what is to be seen; at once for 0 ms.
    pub fn fly_to(&mut self, camera: JsValue, milliseconds: f64, now: f64) -> Result<(), JsError> {
        let to = self.camera_of(camera)?;
        self.motion.fly_to(&self.scene, to, milliseconds, now);
        Ok(())
    }

    /// The camera: {eye, target, up, fov}, fov in degrees.
    pub fn camera(&self) -> Object {
        let camera = &self.scene.camera;
        let plain = Object::new();
        let points = [("eye", camera.eye()), ("target", camera.target), ("up", camera.up.axis())];
        for (name, point) in points {
            let point: Array = point.to_array().map(JsValue::from_f64).into_iter().collect();
            // Setting a key of a fresh plain object cannot fail.
            let _ = Reflect::set(&plain, &JsValue::from_str(name), &point);
        }
        let fov = JsValue::from_f64(camera.field_of_view.to_degrees());
        let _ = Reflect::set(&plain, &JsValue::from_str("fov"), &fov);
        plain
    }

    /// Sets what [`View::camera`] gave.
    pub fn set_camera(&mut self, camera: JsValue) -> Result<(), JsError> {
        let to = self.camera_of(camera)?;
        self.motion.take_stage(&self.scene);
        self.scene.camera = to;
        Ok(())
    }

    /// Moves the sheet after the pointer.
    pub fn sheet_pan(&mut self, dx: f64, dy: f64) {
        self.motion.take_sheet(&self.scene);
        self.scene.sheet_camera.pan(dx, dy);
    }

    /// Comes closer by `factor` (> 1) to what is under (x, y).
    pub fn sheet_zoom(&mut self, factor: f64, x: f64, y: f64) {
        self.motion.take_sheet(&self.scene);
        let at = self.scene.on_sheet(x, y);
        self.scene.sheet_camera.zoom(factor, at.x, at.y);
    }

    /// Shows the tile and all shells.
    pub fn sheet_fit(&mut self) {
        self.motion.fit_sheet(&mut self.scene);
    }

    /// Flies to a region of the sheet; at once for 0 ms.
    pub fn sheet_show(&mut self, u0: f64, v0: f64, u1: f64, v1: f64, milliseconds: f64, now: f64) {
        let (a, b) = (DVec2::new(u0, v0), DVec2::new(u1, v1));
        self.motion.fly_to_region(&self.scene, [a.min(b), a.max(b)], milliseconds, now);
    }

    /// Origin and direction (length 1) of the ray under (x, y) of the stage: 6 numbers.
    pub fn ray_at(&self, x: f64, y: f64) -> Box<[f64]> {
        let rect = self.scene.stage.unwrap_or(Rect { x: 0, y: 0, width: 1, height: 1 });
        let at = rect.offset_from_middle(x, y);
        let (origin, direction) = self.scene.camera.ray(at.x, at.y, rect.size());
        [origin.to_array(), direction.to_array()].concat().into()
    }

    /// u and v under (x, y) of the sheet.
    pub fn uv_at(&self, x: f64, y: f64) -> Box<[f64]> {
        let at = self.scene.on_sheet(x, y);
        self.scene.sheet_camera.uv_at(at.x, at.y).to_array().into()
    }

    /// Radius of the sphere around the camera's target that just fits the clear part of the stage.
    pub fn seen_radius(&self) -> f64 {
        let clear = roomiest(&self.motion.clear(&self.scene, self.scene.stage), DVec2::ONE);
        self.scene.camera.seen_radius(self.scene.stage_size(), clear)
    }

    /// Where points (x, y, z) of the model are seen: x and y of each on the canvas; NaN for one beside or behind the eye.
    pub fn seen_at(&self, points: &[f64]) -> Box<[f64]> {
        let rect = self.scene.stage.unwrap_or(Rect { x: 0, y: 0, width: 1, height: 1 });
        let stage = rect.size();
        let corner = DVec2::new(f64::from(rect.x), f64::from(rect.y));
        let (points, _) = points.as_chunks();
        let mut seen = Vec::with_capacity(points.len() * 2);
        for &point in points {
            let offset = self.scene.camera.on_stage(DVec3::from_array(point), stage).unwrap_or(DVec2::NAN);
            seen.extend_from_slice(&(corner + stage / 2.0 + offset).to_array());
        }
        seen.into()
    }

    /// Model units that one px covers at the camera's target.
    pub fn units_per_pixel(&self) -> f64 {
        self.scene.camera.units_per_px(self.scene.stage_size())
    }

    /// Brings what is on its way, and draws what changed. True while another frame is wanted.
    pub fn frame(&mut self, now: f64) -> Result<bool, JsError> {
        let Some(renderer) = self.renderer.as_mut().filter(|_| !self.gl.is_context_lost()) else { return Ok(false) };
        let flying = self.motion.advance(&mut self.scene, points(&self.mesh), now);
        let changes = self.motion.take_changes();
        let wanted = self.frames.next(renderer, &self.scene, radius(&self.mesh), now, changes)?;
        Ok(wanted || flying)
    }

    /// Brings more of what is on its way, for some ms, and draws the first picture of a model as soon as it can and may; [`View::frame`]
    /// does so too. Where it may not, it only paints the grid: the canvas is to have another size once the graphics system is
    /// at rest. True while there is more to do. For a page that gets no frames while it is itself being drawn.
    pub fn work(&mut self, now: f64, may_draw: bool) -> Result<bool, JsError> {
        let Some(renderer) = self.renderer.as_mut().filter(|_| !self.gl.is_context_lost()) else { return Ok(false) };
        self.motion.advance(&mut self.scene, points(&self.mesh), now);
        let ready = self.frames.work(renderer, &self.scene, radius(&self.mesh), now, may_draw)?;
        Ok(!ready || renderer.is_arriving())
    }

    /// Whether the page's frames come in time, as is supposed; where they do not, the view asks nothing of the graphics
    /// system that the page would have to wait for.
    pub fn set_calm(&mut self, calm: bool) {
        self.frames.set_calm(calm);
    }

    /// Whether the graphics system is still at what it was asked for, so that giving the canvas another size would wait.
    pub fn is_busy(&mut self) -> bool {
        !self.gl.is_context_lost() && self.frames.is_busy()
    }

    /// Whether the whole model stands on the stage with its grid, drawn to the end by the graphics system; finer grids and
    /// what is known of its triangles may follow.
    pub fn shows_grid(&self) -> bool {
        self.frames.shows_grid()
    }

    /// Frames drawn so far; those in which nothing changed do not count.
    pub fn frames_drawn(&self) -> u32 {
        self.frames.drawn()
    }

    /// For tests: makes the browser take the context away.
    pub fn lose_context(&self) {
        if let Some(losing) = &self.losing {
            losing.lose_context();
        }
    }

    /// For tests: makes the browser give it back.
    pub fn restore_context(&self) {
        if let Some(losing) = &self.losing {
            losing.restore_context();
        }
    }

    /// After the browser gave the context back: brings everything again, but pictures.
    pub fn context_restored(&mut self) -> Result<(), JsError> {
        if let Some(lost) = self.renderer.take() {
            lost.abandon();
        }
        let mut renderer = Renderer::new(&Context::new(&self.gl), &self.grid)?;
        renderer.set_mesh(self.mesh.as_ref())?;
        if let Some(data) = &self.triangles {
            renderer.set_triangles(data)?;
        }
        if let Some(lines) = &self.lines {
            renderer.set_lines(lines)?;
        }
        renderer.set_states(&self.scene.chosen, &self.scene.partners)?;
        renderer.set_tiles(&self.scene.tiles)?;
        renderer.set_looks(&self.looks, self.ground);
        self.renderer = Some(renderer);
        self.frames.restart();
        Ok(())
    }
}

impl View {
    fn forget_model(&mut self) {
        (self.mesh, self.triangles, self.lines) = (None, None, None);
        (self.looks, self.ground) = (Rc::default(), None);
        (self.scene.hover, self.scene.isolate) = (None, None);
        self.scene.bounds_uv = [DVec2::ZERO, DVec2::ONE];
        self.motion.begin_model();
        self.frames.begin_model();
    }

    /// {eye, target}, and where they are given: up (world-up; the axis nearest to it counts), fov (vertical, degrees),
    /// radius (of what is to be seen around the target; without it, the eye's own distance counts).
    fn camera_of(&self, plain: JsValue) -> Result<Camera, JsError> {
        let point = |name: &str| Ok::<_, GlError>(numbers(&plain, name)?.map(DVec3::from_array));
        let place = |name: &str| point(name).map(|place| place.unwrap_or(DVec3::NAN));
        let (eye, target) = (place("eye")?, place("target")?);
        if !(eye.is_finite() && target.is_finite()) {
            return Err(GlError::Argument("This camera's place is not a number.".to_owned()).into());
        }
        let mut camera = self.scene.camera;
        if let Some(up) = point("up")? {
            camera.up = Up::nearest(up);
        }
        if let Some([fov]) = numbers(&plain, "fov")?.filter(|[fov]| (1.0..=120.0).contains(fov)) {
            camera.field_of_view = fov.to_radians();
        }
        camera.look(eye, target);
        if let Some([radius]) = numbers(&plain, "radius")?.filter(|[radius]| *radius > 0.0 && radius.is_finite()) {
            let clear = roomiest(&self.motion.clear(&self.scene, self.scene.stage), DVec2::ONE);
            camera.show_sphere(radius, self.scene.stage_size(), clear);
        }
        Ok(camera)
    }
}

fn radius(mesh: &Option<MeshArrays>) -> f64 {
    mesh.as_ref().map_or(NO_RADIUS, |mesh| mesh.radius)
}

/// Some of a model's points, to fit the camera by.
fn points(mesh: &Option<MeshArrays>) -> Option<&[DVec3]> {
    mesh.as_ref().map(|mesh| mesh.points.as_slice())
}

/// The 256 colours of a lens, red, green, blue each; from the low end of its scale to the high one.
///
/// # Errors
/// No lens of this name.
#[wasm_bindgen]
pub fn lens_scale(name: &str) -> Result<Box<[u8]>, JsError> {
    let lens = Lens::named(name).ok_or_else(|| GlError::Argument(format!("There is no lens \"{name}\".")))?;
    Ok(lens.scale().concat().into())
}

/// Where values stand on the lens's scale, 0..1; NaN for a value that is none, and for a lens of kinds.
#[wasm_bindgen]
pub fn lens_positions(name: &str, values: &[f32]) -> Box<[f32]> {
    let lens = Lens::named(name);
    values.iter().map(|&value| lens.and_then(|lens| lens.position(value)).unwrap_or(f32::NAN)).collect()
}

/// Of a place of this size, px, the clear area under `covers` (left, top, right, bottom each, from its top left) in which
/// something `wide` to `high` is seen largest: its middle from the place's, y down, and its size.
#[wasm_bindgen]
pub fn clear_area(width: f64, height: f64, covers: &[f64], wide: f64, high: f64) -> Box<[f64]> {
    let areas = clear_areas(DVec2::new(width, height), covers.as_chunks().0);
    let Clear { middle, size } = roomiest(&areas, DVec2::new(wide, high));
    [middle.to_array(), size.to_array()].concat().into()
}

/// The lens's own values at the ends of its scale, anisotropy (the scale is logarithmic) or octaves; nothing for a lens
/// of kinds.
#[wasm_bindgen]
pub fn lens_range(name: &str) -> Option<Box<[f64]>> {
    let (low, high) = Lens::named(name)?.range()?;
    Some([f64::from(low), f64::from(high)].into())
}
