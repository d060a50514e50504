//! The page's handle on the view: the cameras of model and sheet. All lengths are device px of the canvas from its top
//! left; points are in the model's units from the centre of its bounding sphere; times are ms of the page's clock.
//!
//! Nothing is drawn here: [`View::sight`] gives what a `Painter`, possibly in another thread, needs.

use glam::{DVec2, DVec3};
use js_sys::{Array, Object, Reflect};
use wasm_bindgen::prelude::*;

use super::arrays::{Extent, numbers};
use super::gl::GlError;
use super::motion::Motion;
use super::sight::{Rect, Sight};
use crate::draw::camera::{Camera, Up};
use crate::draw::clear::{Clear, clear_areas, roomiest};
use crate::grid::GridOptions;

/// How near the pointer a hovered place must be to be zoomed to, CSS px: a finger's width.
const HOVER_NEAR_PX: f64 = 40.0;

/// What the camera takes for the radius where there is no model.
const NO_RADIUS: f64 = 1.0;

#[wasm_bindgen(typescript_custom_section)]
const CAMERAS: &str = r"
/** The stage's camera, from the centre of the model. */
export interface ViewCamera {
    eye: [number, number, number];
    target: [number, number, number];
    /** World-up, a unit vector along an axis. */
    up: [number, number, number];
    /** Vertical, degrees. */
    fov: number;
}
/** Where to look from; what is left out stays as it is. */
export interface CameraAsked {
    eye: ArrayLike<number>;
    target: ArrayLike<number>;
    up?: ArrayLike<number>;
    fov?: number;
    /** Of what is to be seen around the target; without it, the eye's own distance counts. */
    radius?: number;
    /** Width and height of what was seen at the target's depth. */
    across?: ArrayLike<number>;
}
";

/// The cameras of stage and sheet.
#[wasm_bindgen]
pub struct View {
    sight: Sight,
    motion: Motion,
    extent: Option<Extent>,
    /// On the surface, under the pointer.
    under: Option<DVec3>,
    /// What was sent last.
    told: Vec<f64>,
}

#[wasm_bindgen]
impl View {
    /// Of nothing yet.
    #[wasm_bindgen(constructor)]
    #[allow(clippy::new_without_default, reason = "the page has no other way")]
    pub fn new() -> View {
        Self {
            sight: Sight::new(GridOptions::default().map_px()),
            motion: Motion::default(),
            extent: None,
            under: None,
            told: Vec::new(),
        }
    }

    /// Size of the map, px: the same uv stays as wide on the screen.
    pub fn set_map(&mut self, width: u32, height: u32) {
        self.sight.set_map(GridOptions::new(width.max(1), height.max(1)).map_px());
    }

    /// Another model, or none; the cameras are fitted to it.
    ///
    /// # Errors
    /// What it lacks.
    pub fn set_extent(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "MeshBuffers | null")] mesh: JsValue,
    ) -> Result<(), JsError> {
        let extent = mesh.is_truthy().then(|| Extent::read(&mesh)).transpose()?;
        self.sight.bounds_uv = extent.as_ref().map_or([DVec2::ZERO, DVec2::ONE], |extent| extent.bounds_uv);
        (self.extent, self.under) = (extent, None);
        self.motion.begin_model();
        Ok(())
    }

    /// The same model has other uvs, within this box; the cameras stay where they are.
    pub fn set_bounds_uv(&mut self, u0: f64, v0: f64, u1: f64, v1: f64) {
        self.sight.bounds_uv = [DVec2::new(u0, v0), DVec2::new(u1, v1)];
        self.motion.hold_sheet();
    }

    /// Where on the surface the pointer is; not finite for nowhere.
    pub fn set_under(&mut self, x: f64, y: f64, z: f64) {
        self.under = Some(DVec3::new(x, y, z)).filter(|point| point.is_finite());
    }

    /// Size of the canvas and its px a CSS px, and where on it model and sheet are: [x, y, width, height] each; an empty one
    /// is not drawn.
    pub fn set_layout(&mut self, width: u32, height: u32, ratio: f64, stage: &[f64], sheet: Option<Box<[f64]>>) {
        self.sight.canvas = [width as i32, height as i32];
        self.sight.ratio = if ratio.is_finite() { ratio.clamp(0.5, 4.0) } else { 1.0 };
        self.sight.set_places(Rect::from_numbers(stage), sheet.and_then(|sheet| Rect::from_numbers(&sheet)));
    }

    /// Moves the cameras to where they are now, and gives all that a painter needs if it has changed; else an empty
    /// list.
    pub fn sight(&mut self, now: f64) -> Box<[f64]> {
        self.motion.advance(&mut self.sight, points(&self.extent), now);
        let changes = self.motion.take_changes().map(|change| change as u8).map(f64::from);
        let numbers = [&changes, self.sight.numbers().as_slice()].concat();
        if numbers == self.told {
            return Box::default();
        }
        self.told.clone_from(&numbers);
        numbers.into()
    }

    /// Whether a camera is moving by itself.
    pub fn is_flying(&self) -> bool {
        self.motion.is_flying()
    }

    /// Turns the model with the pointer.
    pub fn orbit(&mut self, dx: f64, dy: f64) {
        self.motion.take_stage(&self.sight);
        self.sight.camera.orbit(dx, dy, self.sight.stage_size());
    }

    /// Moves the model with the pointer.
    pub fn pan(&mut self, dx: f64, dy: f64) {
        self.motion.take_stage(&self.sight);
        self.sight.camera.pan(dx, dy, self.sight.stage_size());
    }

    /// Comes closer by `factor` (> 1) to what is under (x, y): to the surface, if [`View::set_under`] set one near.
    pub fn zoom(&mut self, factor: f64, x: f64, y: f64) {
        self.motion.take_stage(&self.sight);
        let (stage, at) = (self.sight.stage_size(), self.sight.on_stage(x, y));
        let is_near = |point: &DVec3| {
            let seen = self.sight.camera.on_stage(*point, stage);
            seen.is_some_and(|seen| seen.distance(at) < HOVER_NEAR_PX * self.sight.ratio)
        };
        let surface = self.under.filter(is_near);
        let about = surface.unwrap_or_else(|| self.sight.camera.at_target_depth(at.x, at.y, stage));
        self.sight.camera.zoom(factor, about, radius(&self.extent));
    }

    /// Shows all of the model.
    pub fn fit(&mut self) {
        self.motion.fit(&mut self.sight, points(&self.extent));
    }

    /// Moves to a view of the whole model; at once for 0 ms.
    pub fn fly_fit(&mut self, milliseconds: f64, now: f64) {
        self.motion.fly_fit(&mut self.sight, points(&self.extent), milliseconds, now);
    }

    /// World-up: `x`, `y`, `z`, or one of them after `-`. Another axis shows all of the model from its front.
    pub fn set_up(&mut self, axis: &str) -> Result<(), JsError> {
        let up = Up::named(axis)
            .ok_or_else(|| GlError::Argument(format!("\"{axis}\" is no axis; up is x, y, z, -x, -y or -z.")))?;
        if up != self.sight.camera.up {
            self.sight.camera = Camera::new(up, radius(&self.extent));
            self.fit();
        }
        Ok(())
    }

    /// Moves to a camera, {eye, target} with an optional radius of what is to be seen, and how much was seen `across`
    /// at the target's depth where it was stored; at once for 0 ms.
    pub fn fly_to(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "CameraAsked")] camera: JsValue,
        milliseconds: f64,
        now: f64,
    ) -> Result<(), JsError> {
        let to = self.camera_of(camera)?;
        self.motion.fly_to(&self.sight, to, milliseconds, now);
        Ok(())
    }

    /// The camera: {eye, target, up, fov}, fov in degrees.
    #[wasm_bindgen(unchecked_return_type = "ViewCamera")]
    pub fn camera(&self) -> Object {
        let camera = &self.sight.camera;
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
    pub fn set_camera(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "CameraAsked")] camera: JsValue,
    ) -> Result<(), JsError> {
        let to = self.camera_of(camera)?;
        self.motion.take_stage(&self.sight);
        self.sight.camera = to;
        Ok(())
    }

    /// Moves the sheet with the pointer.
    pub fn sheet_pan(&mut self, dx: f64, dy: f64) {
        self.motion.take_sheet(&self.sight);
        self.sight.sheet_camera.pan(dx, dy);
    }

    /// Comes closer by `factor` (> 1) to what is under (x, y).
    pub fn sheet_zoom(&mut self, factor: f64, x: f64, y: f64) {
        self.motion.take_sheet(&self.sight);
        let at = self.sight.on_sheet(x, y);
        self.sight.sheet_camera.zoom(factor, at.x, at.y);
    }

    /// What the sheet is fitted to: its tiles and the shells near them.
    pub fn set_region(&mut self, u0: f64, v0: f64, u1: f64, v1: f64) {
        let (a, b) = (DVec2::new(u0, v0), DVec2::new(u1, v1));
        self.motion.set_region([a.min(b), a.max(b)], &mut self.sight);
    }

    /// Shows that region.
    pub fn sheet_fit(&mut self) {
        self.motion.fit_sheet(&mut self.sight);
    }

    /// Moves to a region of the sheet; at once for 0 ms.
    pub fn sheet_show(&mut self, u0: f64, v0: f64, u1: f64, v1: f64, milliseconds: f64, now: f64) {
        let (a, b) = (DVec2::new(u0, v0), DVec2::new(u1, v1));
        self.motion.fly_to_region(&self.sight, [a.min(b), a.max(b)], milliseconds, now);
    }

    /// Origin and direction (length 1) of the ray under (x, y) of the stage: 6 numbers.
    pub fn ray_at(&self, x: f64, y: f64) -> Box<[f64]> {
        let rect = self.sight.stage.unwrap_or(Rect { x: 0, y: 0, width: 1, height: 1 });
        let at = rect.offset_from_middle(x, y);
        let (origin, direction) = self.sight.camera.ray(at.x, at.y, rect.size());
        [origin.to_array(), direction.to_array()].concat().into()
    }

    /// u and v under (x, y) of the sheet.
    pub fn uv_at(&self, x: f64, y: f64) -> Box<[f64]> {
        let at = self.sight.on_sheet(x, y);
        self.sight.sheet_camera.uv_at(at.x, at.y).to_array().into()
    }

    /// Radius of the sphere around the camera's target that just fits the clear part of the stage.
    pub fn seen_radius(&self) -> f64 {
        let clear = roomiest(&self.motion.clear(&self.sight, self.sight.stage), DVec2::ONE);
        self.sight.camera.seen_radius(self.sight.stage_size(), clear)
    }

    /// Width and height of what is seen at the depth of the camera's target, in the clear part of the stage.
    pub fn seen_across(&self) -> Box<[f64]> {
        let clear = self.motion.clear(&self.sight, self.sight.stage);
        Box::new(self.sight.camera.seen_across(self.sight.stage_size(), &clear).to_array())
    }

    /// Where points (x, y, z) of the model are seen: x and y of each on the canvas; NaN for one beside or behind the eye.
    pub fn seen_at(&self, points: &[f64]) -> Box<[f64]> {
        let rect = self.sight.stage.unwrap_or(Rect { x: 0, y: 0, width: 1, height: 1 });
        let stage = rect.size();
        let corner = DVec2::new(f64::from(rect.x), f64::from(rect.y));
        let (points, _) = points.as_chunks();
        let mut seen = Vec::with_capacity(points.len() * 2);
        for &point in points {
            let offset = self.sight.camera.on_stage(DVec3::from_array(point), stage).unwrap_or(DVec2::NAN);
            seen.extend_from_slice(&(corner + stage / 2.0 + offset).to_array());
        }
        seen.into()
    }

    /// Model units that one px covers at the camera's target.
    pub fn units_per_pixel(&self) -> f64 {
        self.sight.camera.units_per_px(self.sight.stage_size())
    }

    /// What lies over the canvas: left, top, right, bottom each. The larger of the two places shows things in the
    /// uncovered part; one that still shows everything is fitted again, in this many ms.
    pub fn set_covers(&mut self, sides: &[f64], milliseconds: f64, now: f64) {
        self.motion.set_covers(sides.as_chunks().0, &self.sight, points(&self.extent), milliseconds, now);
    }
}

impl View {
    /// {eye, target}, and where they are given: up (world-up; the axis nearest to it counts), fov (vertical, degrees),
    /// radius (of what is to be seen around the target; without it, the eye's own distance counts).
    fn camera_of(&self, plain: JsValue) -> Result<Camera, JsError> {
        let point = |name: &str| Ok::<_, GlError>(numbers(&plain, name)?.map(DVec3::from_array));
        let place = |name: &str| point(name).map(|place| place.unwrap_or(DVec3::NAN));
        let (eye, target) = (place("eye")?, place("target")?);
        if !(eye.is_finite() && target.is_finite()) {
            return Err(GlError::Argument("This camera's place is not a number.".to_owned()).into());
        }
        let mut camera = self.sight.camera;
        if let Some(up) = point("up")? {
            camera.up = Up::nearest(up);
        }
        if let Some([fov]) = numbers(&plain, "fov")?.filter(|[fov]| (1.0..=120.0).contains(fov)) {
            camera.field_of_view = fov.to_radians();
        }
        camera.look(eye, target);
        if let Some([radius]) = numbers(&plain, "radius")?.filter(|[radius]| *radius > 0.0 && radius.is_finite()) {
            let clear = self.motion.clear(&self.sight, self.sight.stage);
            let (stage, from) = (self.sight.stage_size(), camera.distance);
            camera.show_sphere(radius, stage, roomiest(&clear, DVec2::ONE));
            let across = numbers(&plain, "across")?.map(DVec2::from_array);
            if let Some(across) = across.filter(|across| across.is_finite() && across.min_element() > 0.0) {
                camera.show_across(across, from, points(&self.extent).unwrap_or_default(), stage, &clear);
            }
        }
        Ok(camera)
    }
}

fn radius(extent: &Option<Extent>) -> f64 {
    extent.as_ref().map_or(NO_RADIUS, |extent| extent.radius)
}

/// Some of a model's points, to fit the camera by.
fn points(extent: &Option<Extent>) -> Option<&[DVec3]> {
    extent.as_ref().map(|extent| extent.points.as_slice())
}

/// Of a place of this size, px, the clear area under `covers` (left, top, right, bottom each, from its top left) in which
/// something `wide` to `high` is seen largest: its middle from the place's, y down, and its size.
#[wasm_bindgen]
pub fn clear_area(width: f64, height: f64, covers: &[f64], wide: f64, high: f64) -> Box<[f64]> {
    let areas = clear_areas(DVec2::new(width, height), covers.as_chunks().0);
    let Clear { middle, size } = roomiest(&areas, DVec2::new(wide, high));
    [middle.to_array(), size.to_array()].concat().into()
}
