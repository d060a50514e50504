//! The stage's camera: a turntable around a target. Pure arithmetic, no browser.
//!
//! The eye is at `target + distance * direction(yaw, pitch)`; yaw turns about the world's up axis, pitch rises above
//! the horizon and stops just short of the poles, so up on the screen is always well defined and the horizon stays
//! level. The target need not be seen in the middle of the stage: cards lie over parts of it, and `centre` moves the
//! whole picture to where none does, as a shifted lens would, without turning it. Lengths are model units, positions
//! are relative to the centre of the model's bounding sphere, angles are radians. All functions are total: sizes of
//! zero and models of no extent give a usable camera.

use glam::{DMat4, DVec2, DVec3, DVec4};

use super::clear::Clear;

/// Vertical field of view, radians: about what a 45 mm lens sees; wide enough for depth, without bulging edges.
pub const FIELD_OF_VIEW: f64 = 30.0 * std::f64::consts::PI / 180.0;
/// Greatest pitch, radians: at 90 degrees up and the line of sight would fall together.
const PITCH_LIMIT: f64 = 89.9 * std::f64::consts::PI / 180.0;
/// Direction of the camera after a fit: a little to the right of the front and above, so that three sides show.
const FIRST_YAW: f64 = 30.0 * std::f64::consts::PI / 180.0;
/// See [`FIRST_YAW`].
const FIRST_PITCH: f64 = 18.0 * std::f64::consts::PI / 180.0;
/// Share of the stage's half width and height that a fitted model fills.
const FIT_FILL: f64 = 0.9;
/// A drag across the shorter side of the stage turns by this, radians.
const TURN_PER_STAGE: f64 = std::f64::consts::PI;
/// Closest and farthest the eye may be from its target, in radii of the model. Closest: single texels of a map fill the
/// screen long before. Farthest: the model is a few px.
const DISTANCE_RADII: (f64, f64) = (1e-4, 200.0);
/// Near plane over far plane, at least: keeps 24 bits of depth usable.
const NEAR_OVER_FAR: f64 = 1e-4;

/// World-up: an axis of the model's coordinates.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Up {
    right: DVec3,
    up: DVec3,
    front: DVec3,
}

impl Up {
    /// `x`, `y`, `z`, or one of them after `-`; `None` for any other word.
    pub fn named(name: &str) -> Option<Self> {
        let (axis, sign) = name.strip_prefix('-').map_or((name, 1.0), |axis| (axis, -1.0));
        let (right, up) = match axis {
            "x" => (DVec3::NEG_Y, DVec3::X),
            "y" => (DVec3::X, DVec3::Y),
            "z" => (DVec3::X, DVec3::Z),
            _ => return None,
        };
        // Turning the model over about its front keeps the frame right-handed: right and up both change sign.
        Some(Self { right: right * sign, up: up * sign, front: right.cross(up) })
    }

    /// The axis nearest to a direction; y for a zero or non-finite one.
    pub fn nearest(direction: DVec3) -> Self {
        let best = ["y", "z", "x", "-y", "-z", "-x"]
            .into_iter()
            .filter_map(Self::named)
            .reduce(|best, next| if next.up.dot(direction) > best.up.dot(direction) { next } else { best });
        best.unwrap_or(Self { right: DVec3::X, up: DVec3::Y, front: DVec3::Z })
    }

    /// The axis itself.
    pub fn axis(self) -> DVec3 {
        self.up
    }
}

/// A turntable camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Camera {
    /// What the camera turns around.
    pub target: DVec3,
    /// Eye to target, > 0.
    pub distance: f64,
    /// Turn about the up axis; 0 looks at the model's front.
    pub yaw: f64,
    /// Above the horizon, within just less than a quarter turn.
    pub pitch: f64,
    /// Vertical field of view.
    pub field_of_view: f64,
    /// World-up.
    pub up: Up,
    /// Where on the stage the target is seen: from its middle, y down, in shares of the stage's width and height.
    pub centre: DVec2,
}

/// Matrices of one frame.
#[derive(Clone, Copy, Debug)]
pub struct Projection {
    /// Clip space from model space.
    pub clip_from_model: DMat4,
    /// The camera's axes in model space: right, up, and towards the viewer.
    pub axes: [DVec3; 3],
    /// Where the eye is.
    pub eye: DVec3,
}

impl Camera {
    /// A camera on a model of this radius, before anything is known of the stage.
    pub fn new(up: Up, radius: f64) -> Self {
        Self {
            target: DVec3::ZERO,
            distance: sound_radius(radius) / (FIELD_OF_VIEW / 2.0).sin() / FIT_FILL,
            yaw: FIRST_YAW,
            pitch: FIRST_PITCH,
            field_of_view: FIELD_OF_VIEW,
            up,
            centre: DVec2::ZERO,
        }
    }

    /// From the target to the eye, length 1.
    pub fn direction(&self) -> DVec3 {
        let Up { right, up, front } = self.up;
        let level = right * self.yaw.sin() + front * self.yaw.cos();
        level * self.pitch.cos() + up * self.pitch.sin()
    }

    /// Where the eye is.
    pub fn eye(&self) -> DVec3 {
        self.target + self.direction() * self.distance
    }

    /// Right, up, and towards the viewer; orthonormal.
    pub fn axes(&self) -> [DVec3; 3] {
        let Up { right, front, .. } = self.up;
        let back = self.direction();
        let right = right * self.yaw.cos() - front * self.yaw.sin();
        [right, back.cross(right), back]
    }

    /// Puts the eye at `eye`, looking at `target`. An eye on its target keeps the direction; a view along the up axis
    /// keeps the yaw.
    pub fn look(&mut self, eye: DVec3, target: DVec3) {
        let offset = eye - target;
        let distance = offset.length();
        self.target = target;
        if !(distance > 0.0 && distance.is_finite()) {
            return;
        }
        self.distance = distance;
        let Up { right, up, front } = self.up;
        self.pitch = (offset.dot(up) / distance).clamp(-1.0, 1.0).asin().clamp(-PITCH_LIMIT, PITCH_LIMIT);
        let (x, z) = (offset.dot(right), offset.dot(front));
        if x.hypot(z) > 1e-9 * distance {
            self.yaw = x.atan2(z);
        }
    }

    /// Turns by a drag of (`dx`, `dy`) px, y down, on a stage of this size: the model follows the pointer.
    pub fn orbit(&mut self, dx: f64, dy: f64, stage: DVec2) {
        let per_px = TURN_PER_STAGE / stage.min_element().max(1.0);
        self.yaw = wrapped(self.yaw - dx * per_px);
        self.pitch = (self.pitch + dy * per_px).clamp(-PITCH_LIMIT, PITCH_LIMIT);
    }

    /// Moves in the view plane: what is at the target's depth follows the pointer.
    pub fn pan(&mut self, dx: f64, dy: f64, stage: DVec2) {
        let [right, up, _] = self.axes();
        let scale = self.units_per_px(stage);
        self.target += (up * dy - right * dx) * scale;
    }

    /// Comes closer to `about` by `factor` (> 1), or leaves it; `about` stays where it is seen, and is never passed.
    pub fn zoom(&mut self, factor: f64, about: DVec3, radius: f64) {
        if !(factor > 0.0 && factor.is_finite() && about.is_finite()) {
            return;
        }
        let radius = sound_radius(radius);
        let distance = (self.distance / factor).clamp(radius * DISTANCE_RADII.0, radius * DISTANCE_RADII.1);
        self.target = about + (self.target - about) * (distance / self.distance);
        self.distance = distance;
    }

    /// What is under (`x`, `y`), px from the stage's middle, y down, as far away as the target.
    pub fn at_target_depth(&self, x: f64, y: f64, stage: DVec2) -> DVec3 {
        let [right, up, _] = self.axes();
        let at = DVec2::new(x, y) - self.centre * stage;
        self.target + (right * at.x - up * at.y) * self.units_per_px(stage)
    }

    /// Where a point is seen, px from the stage's middle, y down; `None` for one beside or behind the eye.
    pub fn on_stage(&self, point: DVec3, stage: DVec2) -> Option<DVec2> {
        let [right, up, back] = self.axes();
        let offset = point - self.eye();
        let depth = -offset.dot(back);
        let per_px = 2.0 * depth * (self.field_of_view / 2.0).tan() / stage.y.max(1.0);
        (depth > 0.0).then(|| DVec2::new(offset.dot(right), -offset.dot(up)) / per_px + self.centre * stage)
    }

    /// Model units that one px covers at the target.
    pub fn units_per_px(&self, stage: DVec2) -> f64 {
        2.0 * self.distance * (self.field_of_view / 2.0).tan() / stage.y.max(1.0)
    }

    /// Moves, without turning, so that all of `points` are seen as large as the roomiest of the `clear` areas of the stage
    /// allows, in its middle; nothing for no points or no areas.
    ///
    /// In the camera's axes a point (x, y, z) is within the frustum of half-slopes a and b at distance d from a target
    /// (cx, cy, 0) when |x - cx| <= a (d - z) and |y - cy| <= b (d - z); the least d and the centre follow from the four
    /// extremes of a z +- x and b z +- y.
    pub fn fit(&mut self, points: &[DVec3], stage: DVec2, clear: &[Clear]) {
        let [right, up, back] = self.axes();
        let per_px = 2.0 * (self.field_of_view / 2.0).tan() / stage.y.max(1.0);
        // A single point has no size; keep a distance all the same.
        let farthest = points.iter().map(|point| point.length()).fold(0.0, f64::max);
        let mut best: Option<Self> = None;
        for area in clear {
            let [a, b] = (area.size * per_px / 2.0 * FIT_FILL).to_array();
            let mut most = [f64::NEG_INFINITY; 4];
            for point in points.iter().filter(|point| point.is_finite()) {
                let (x, y, z) = (point.dot(right), point.dot(up), point.dot(back));
                for (most, value) in most.iter_mut().zip([a * z + x, a * z - x, b * z + y, b * z - y]) {
                    *most = most.max(value);
                }
            }
            if !most.iter().all(|value| value.is_finite()) {
                continue;
            }
            let distance = ((most[0] + most[1]) / (2.0 * a)).max((most[2] + most[3]) / (2.0 * b));
            let fitted = Self {
                target: right * ((most[0] - most[1]) / 2.0) + up * ((most[2] - most[3]) / 2.0),
                distance: distance.max(1e-3 * sound_radius(farthest)),
                centre: area.middle / stage.max(DVec2::ONE),
                ..*self
            };
            let beats = |best: &Self| {
                let nearer = fitted.centre.length() < best.centre.length();
                fitted.distance < best.distance * (1.0 - 1e-9)
                    || (fitted.distance < best.distance * (1.0 + 1e-9) && nearer)
            };
            if best.as_ref().is_none_or(beats) {
                best = Some(fitted);
            }
        }
        *self = best.unwrap_or(*self);
    }

    /// Keeps direction and target, and sees a sphere of this radius around the target wholly in a clear area.
    pub fn show_sphere(&mut self, radius: f64, stage: DVec2, clear: Clear) {
        self.distance = sound_radius(radius) / self.sphere_over_distance(stage, clear);
        self.centre = clear.middle / stage.max(DVec2::ONE);
    }

    /// Radius of the sphere around the target that just fits a clear area: the inverse of [`Camera::show_sphere`].
    pub fn seen_radius(&self, stage: DVec2, clear: Clear) -> f64 {
        self.distance * self.sphere_over_distance(stage, clear)
    }

    /// Width and height of what the clear area that the view is centred in shows at the target's depth.
    pub fn seen_across(&self, stage: DVec2, clear: &[Clear]) -> DVec2 {
        let off = |area: &&Clear| (area.middle - self.centre * stage).length();
        let own = clear.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        own.map_or(stage, |area| area.size) * self.units_per_px(stage)
    }

    /// Goes back from the target until some clear area has all of `points` that were seen from `distance` where a place
    /// showed this much at the target's depth; what lay beyond it counts as lying on its border.
    pub fn show_across(&mut self, across: DVec2, distance: f64, points: &[DVec3], stage: DVec2, clear: &[Clear]) {
        let [right, up, back] = self.axes();
        let seen = across / 2.0 / distance;
        let shown: Vec<(DVec2, f64)> = points
            .iter()
            .map(|&point| point - self.target)
            .map(|offset| (DVec2::new(offset.dot(right), offset.dot(up)).abs(), offset.dot(back)))
            .filter(|(_, z)| *z < distance)
            .map(|(at, z)| (at.min(seen * (distance - z)), z))
            .collect();
        let per_px = 2.0 * (self.field_of_view / 2.0).tan() / stage.y.max(1.0);
        let needed = |area: &Clear| {
            let slopes = area.size * per_px / 2.0;
            shown.iter().map(|(at, z)| z + (*at / slopes).max_element()).fold(0.0, f64::max)
        };
        let Some((least, area)) = clear.iter().map(|area| (needed(area), area)).min_by(|a, b| a.0.total_cmp(&b.0))
        else {
            return;
        };
        if least > self.distance * (1.0 + 1e-9) {
            self.distance = least;
            self.centre = area.middle / stage.max(DVec2::ONE);
        }
    }

    fn sphere_over_distance(&self, stage: DVec2, clear: Clear) -> f64 {
        let share = clear.size.min_element() / stage.y.max(1.0);
        let half = (self.field_of_view / 2.0).tan() * FIT_FILL * share;
        half.atan().sin()
    }

    /// The frame's matrices, with near and far planes around a bounding sphere of this radius about the origin.
    pub fn projection(&self, stage: DVec2, radius: f64) -> Projection {
        let radius = sound_radius(radius);
        let (eye, axes) = (self.eye(), self.axes());
        let [right, up, back] = axes;
        // Depth of the sphere's middle along the line of sight.
        let middle = eye.dot(back);
        let far = (middle + radius * 1.01).max(self.distance * 0.01);
        let near = (middle - radius * 1.01).max(far * NEAR_OVER_FAR).min(self.distance * 0.5);
        let view = DMat4::from_cols(
            DVec4::new(right.x, up.x, back.x, 0.0),
            DVec4::new(right.y, up.y, back.y, 0.0),
            DVec4::new(right.z, up.z, back.z, 0.0),
            DVec4::new(-right.dot(eye), -up.dot(eye), -back.dot(eye), 1.0),
        );
        let y = 1.0 / (self.field_of_view / 2.0).tan();
        let x = y * stage.y.max(1.0) / stage.x.max(1.0);
        // OpenGL's clip space: depth from -1 at the near plane to 1 at the far one.
        let clip = DMat4::from_cols(
            DVec4::new(x, 0.0, 0.0, 0.0),
            DVec4::new(0.0, y, 0.0, 0.0),
            // Moved by the centre at every depth: clip w is -z.
            DVec4::new(-2.0 * self.centre.x, 2.0 * self.centre.y, (far + near) / (near - far), -1.0),
            DVec4::new(0.0, 0.0, 2.0 * far * near / (near - far), 0.0),
        );
        Projection { clip_from_model: clip * view, axes, eye }
    }

    /// Origin and direction (length 1) of the ray through (`x`, `y`), px from the stage's middle, y down.
    pub fn ray(&self, x: f64, y: f64, stage: DVec2) -> (DVec3, DVec3) {
        let [right, up, back] = self.axes();
        let slope = 2.0 * (self.field_of_view / 2.0).tan() / stage.y.max(1.0);
        let at = (DVec2::new(x, y) - self.centre * stage) * slope;
        (self.eye(), (right * at.x - up * at.y - back).normalize())
    }
}

/// An animated move from one view to another, eased at both ends.
#[derive(Clone, Copy, Debug)]
pub struct Flight<T> {
    from: T,
    to: T,
    start_ms: f64,
    duration_ms: f64,
}

/// Views that can be interpolated.
pub trait Between: Copy {
    /// The view at `part`, 0..=1, of the way.
    fn between(from: Self, to: Self, part: f64) -> Self;
}

impl<T: Between> Flight<T> {
    /// Starts at `now_ms`; a duration of 0 (or less) arrives at once.
    pub fn new(from: T, to: T, duration_ms: f64, now_ms: f64) -> Self {
        Self { from, to, start_ms: now_ms, duration_ms }
    }

    /// The view at `now_ms`, and whether the move is still running.
    pub fn at(&self, now_ms: f64) -> (T, bool) {
        let part = (now_ms - self.start_ms) / self.duration_ms;
        if self.duration_ms > 0.0 && part < 1.0 {
            let t = part.max(0.0);
            (T::between(self.from, self.to, t * t * (3.0 - 2.0 * t)), true)
        } else {
            (self.to, false)
        }
    }
}

impl Between for Camera {
    /// Angles the short way round, distance by its logarithm, the target in a straight line.
    fn between(from: Self, to: Self, part: f64) -> Self {
        Self {
            target: from.target.lerp(to.target, part),
            distance: from.distance * (to.distance / from.distance).powf(part),
            yaw: from.yaw + wrapped(to.yaw - from.yaw) * part,
            pitch: from.pitch + (to.pitch - from.pitch) * part,
            field_of_view: from.field_of_view + (to.field_of_view - from.field_of_view) * part,
            up: to.up,
            centre: from.centre.lerp(to.centre, part),
        }
    }
}

/// The same angle within half a turn of zero.
fn wrapped(angle: f64) -> f64 {
    let turn = std::f64::consts::TAU;
    angle - turn * (angle / turn).round()
}

/// A usable radius: 1 for a model of no or no finite extent.
fn sound_radius(radius: f64) -> f64 {
    if radius > 0.0 && radius.is_finite() { radius } else { 1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    const STAGE: DVec2 = DVec2::new(1200.0, 800.0);

    fn camera() -> Camera {
        let (target, centre) = (DVec3::new(0.1, -0.2, 0.3), DVec2::new(0.1, -0.06));
        Camera { yaw: 0.7, pitch: -0.4, distance: 5.0, target, centre, ..Camera::new(y(), 1.0) }
    }

    fn y() -> Up {
        Up::named("y").unwrap()
    }

    /// Where a point lands, px from the stage's middle, y down.
    fn on_stage(camera: &Camera, point: DVec3) -> DVec2 {
        let clip = camera.projection(STAGE, 2.0).clip_from_model * point.extend(1.0);
        DVec2::new(clip.x, -clip.y) / clip.w * STAGE / 2.0
    }

    #[test]
    fn every_up_axis_is_a_right_handed_frame() {
        for name in ["x", "y", "z", "-x", "-y", "-z"] {
            let up = Up::named(name).unwrap();
            assert_eq!(up.right.cross(up.up), up.front, "{name}");
            assert_eq!(Up::nearest(up.axis()), up, "{name}");
        }
        assert_eq!(Up::named("w"), None);
        assert_eq!(Up::nearest(DVec3::NAN), y());
    }

    #[test]
    fn axes_are_orthonormal_and_up_points_up() {
        for pitch in [-PITCH_LIMIT, -1.0, 0.0, 1.0, PITCH_LIMIT] {
            let [right, up, back] = Camera { pitch, ..camera() }.axes();
            assert!((right.cross(up) - back).length() < 1e-12);
            assert!((up.length() - 1.0).abs() < 1e-12 && right.dot(DVec3::Y).abs() < 1e-12);
            assert!(up.y > 0.0);
        }
    }

    #[test]
    fn eye_and_target_describe_the_camera() {
        let camera = camera();
        let mut again = Camera::new(y(), 1.0);
        again.look(camera.eye(), camera.target);
        assert!((again.yaw - camera.yaw).abs() < 1e-12 && (again.pitch - camera.pitch).abs() < 1e-12);
        assert!((again.distance - camera.distance).abs() < 1e-12);
        let before = again;
        again.look(before.target, before.target);
        assert_eq!(again, before);
    }

    #[test]
    fn the_target_is_at_the_centre_and_rays_hit_their_point() {
        let camera = camera();
        assert!((on_stage(&camera, camera.target) - camera.centre * STAGE).length() < 1e-9);
        let point = DVec3::new(0.6, 0.5, -0.4);
        let at = on_stage(&camera, point);
        let (origin, direction) = camera.ray(at.x, at.y, STAGE);
        assert!((point - origin).cross(direction).length() < 1e-9);
    }

    #[test]
    fn orbit_stops_at_the_poles_and_keeps_the_distance() {
        let mut camera = camera();
        camera.orbit(37.0, 1e6, STAGE);
        assert_eq!(camera.pitch, PITCH_LIMIT);
        camera.orbit(0.0, -1e9, STAGE);
        assert_eq!(camera.pitch, -PITCH_LIMIT);
        assert!(((camera.eye() - camera.target).length() - 5.0).abs() < 1e-12);
    }

    #[test]
    fn panning_moves_the_target_with_the_pointer() {
        let mut camera = camera();
        let point = camera.target;
        camera.pan(30.0, -12.0, STAGE);
        assert!((on_stage(&camera, point) - camera.centre * STAGE - DVec2::new(30.0, -12.0)).length() < 1e-9);
    }

    #[test]
    fn zooming_keeps_what_is_under_the_pointer_and_never_passes_it() {
        let mut camera = camera();
        let point = camera.at_target_depth(120.0, -45.0, STAGE) + camera.direction() * 0.8;
        let at = on_stage(&camera, point);
        for _ in 0..25 {
            camera.zoom(1.7, point, 1.0);
            assert!((on_stage(&camera, point) - at).length() < 1e-6);
            assert!((camera.eye() - point).dot(camera.direction()) > 0.0);
        }
        assert_eq!(camera.distance, DISTANCE_RADII.0);
        let before = camera;
        camera.zoom(f64::NAN, point, 1.0);
        assert_eq!(camera, before);
    }

    #[test]
    fn the_point_at_the_targets_depth_projects_to_the_given_pixel() {
        let camera = camera();
        let point = camera.at_target_depth(-210.0, 33.0, STAGE);
        assert!((on_stage(&camera, point) - DVec2::new(-210.0, 33.0)).length() < 1e-9);
        assert!((camera.on_stage(point, STAGE).unwrap() - on_stage(&camera, point)).length() < 1e-9);
        assert_eq!(camera.on_stage(camera.eye() + camera.direction(), STAGE), None);
        assert!((point - camera.target).dot(camera.direction()).abs() < 1e-12);
    }

    /// The corners of a box, 4 x 1 x 0.4.
    fn corners() -> Vec<DVec3> {
        (0..8)
            .map(|i| {
                DVec3::new(f64::from(i & 1) * 4.0 - 2.0, f64::from(i >> 1 & 1) - 0.5, f64::from(i >> 2) * 0.4 - 0.2)
            })
            .collect()
    }

    #[test]
    fn a_fitted_model_fills_one_direction_and_exceeds_neither() {
        for stage in [STAGE, DVec2::new(300.0, 900.0)] {
            let mut camera = camera();
            camera.fit(&corners(), stage, &[Clear::whole(stage)]);
            let (mut most, half) = (DVec2::ZERO, stage / 2.0);
            for point in corners() {
                let clip = camera.projection(stage, 3.0).clip_from_model * point.extend(1.0);
                most = most.max((DVec2::new(clip.x, clip.y) / clip.w).abs() * half);
            }
            let filled = most / half;
            assert!((filled.max_element() - FIT_FILL).abs() < 1e-9, "{filled}");
            assert!(filled.min_element() > 0.0);
        }
    }

    #[test]
    fn a_model_is_fitted_into_the_uncovered_area() {
        let bar = [0.0, 0.0, 700.0, 60.0];
        let (legend, sheet) = ([0.0, 560.0, 300.0, 800.0], [900.0, 500.0, 1200.0, 800.0]);
        let upright: Vec<DVec3> = corners().into_iter().map(|point| DVec3::new(point.y, point.x, point.z)).collect();
        for (points, allowed) in [(upright, [300.0, 60.0, 900.0, 800.0]), (corners(), [0.0, 60.0, 1200.0, 500.0])] {
            let mut camera = Camera { pitch: 0.0, yaw: 0.0, ..camera() };
            let clear = crate::draw::clear::clear_areas(STAGE, &[bar, legend, sheet]);
            camera.fit(&points, STAGE, &clear);
            let (mut low, mut high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
            for &point in &points {
                let at = on_stage(&camera, point) + STAGE / 2.0;
                (low, high) = (low.min(at), high.max(at));
            }
            assert!(low.x >= allowed[0] && low.y >= allowed[1], "{low} {high}");
            assert!(high.x <= allowed[2] && high.y <= allowed[3], "{low} {high}");
            let filled = (high - low) / DVec2::new(allowed[2] - allowed[0], allowed[3] - allowed[1]);
            assert!((filled.max_element() - FIT_FILL).abs() < 1e-9, "{filled}");
        }
    }

    #[test]
    fn a_view_of_a_wide_stage_fits_a_narrow_one() {
        let (wide, narrow) = (DVec2::new(1200.0, 600.0), DVec2::new(400.0, 700.0));
        let points = [DVec3::new(-2.0, -0.2, 0.3), DVec3::new(2.0, 0.2, -0.3), DVec3::new(1.5, -0.1, 0.4)];
        let mut sender = Camera::new(y(), 2.0);
        let on_wide = [Clear::whole(wide)];
        sender.fit(&points, wide, &on_wide);
        let across = sender.seen_across(wide, &on_wide);
        let shown_on = |stage: DVec2| {
            let (mut camera, clear) = (sender, Clear::whole(stage));
            camera.show_sphere(sender.seen_radius(wide, on_wide[0]), stage, clear);
            camera.show_across(across, sender.distance, &points, stage, &[clear]);
            camera
        };
        assert!((shown_on(wide).distance / sender.distance - 1.0).abs() < 1e-9, "the same stage, the same view");
        let there = shown_on(narrow);
        for point in points {
            let at = there.on_stage(point, narrow).unwrap();
            assert!(at.abs().cmple(narrow / 2.0 + 1e-6).all(), "{point} is seen at {at}");
        }
        assert!(there.distance < 4.0 * sender.distance, "and no smaller than need be: {}", there.distance);
    }

    #[test]
    fn a_sphere_is_shown_whole_in_the_clear_area() {
        let mut camera = camera();
        let clear = Clear { middle: DVec2::new(-150.0, 60.0), size: DVec2::new(500.0, 640.0) };
        camera.show_sphere(0.5, STAGE, clear);
        assert!((camera.seen_radius(STAGE, clear) - 0.5).abs() < 1e-12);
        let [right, up, _] = camera.axes();
        // The sphere's outline: where rays through the eye touch it.
        let sine = 0.5 / camera.distance;
        let (back, reach) = (0.5 * sine, 0.5 * (1.0 - sine * sine).sqrt());
        for way in [right, -right, up, -up] {
            let edge = camera.target + camera.direction() * back + way * reach;
            let off = on_stage(&camera, edge) - clear.middle;
            assert!((off.length() - 250.0 * FIT_FILL).abs() < 1e-6, "{off}");
        }
    }

    #[test]
    fn fitting_nothing_or_one_point_leaves_a_usable_camera() {
        let mut camera = camera();
        let before = camera;
        camera.fit(&[], STAGE, &[Clear::whole(STAGE)]);
        assert_eq!(camera, before);
        camera.fit(&[DVec3::ZERO], STAGE, &[]);
        assert_eq!(camera, before);
        camera.fit(&[DVec3::ZERO], STAGE, &[Clear::whole(STAGE)]);
        assert!(camera.distance > 0.0 && camera.target.is_finite());
    }

    #[test]
    fn the_bounding_sphere_lies_between_the_planes() {
        for distance in [0.01, 0.9, 3.0, 150.0] {
            let camera = Camera { target: DVec3::ZERO, distance, ..camera() };
            let clip_from_model = camera.projection(STAGE, 1.0).clip_from_model;
            let back = camera.direction();
            let depth = |point: DVec3| {
                let clip = clip_from_model * point.extend(1.0);
                clip.z / clip.w
            };
            assert!(depth(-back) < 1.0, "{distance}");
            if distance > 1.05 {
                assert!(depth(back) > -1.0, "{distance}");
            }
        }
    }

    #[test]
    fn a_camera_move_hits_both_ends_and_turns_the_short_way() {
        let from = Camera { yaw: 3.0, ..camera() };
        let to = Camera { yaw: -3.0, distance: 20.0, ..camera() };
        let flight = Flight::new(from, to, 600.0, 1000.0);
        assert_eq!(flight.at(900.0).0.distance, from.distance);
        let (half, on) = flight.at(1300.0);
        assert!(on && (half.distance - 10.0).abs() < 1e-9);
        assert!((half.yaw.abs() - std::f64::consts::PI).abs() < 1e-9, "{}", half.yaw);
        assert_eq!(flight.at(1600.0), (to, false));
        assert_eq!(Flight::new(from, to, 0.0, 5.0).at(5.0), (to, false));
    }
}
