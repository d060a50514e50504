//! Where the two cameras go: flights, fits that keep clear of what lies over the canvas, and hands that end both. Plain
//! arithmetic, no browser.

use glam::{DVec2, DVec3};

use super::camera::{Between, Camera, Flight};
use super::clear::{Clear, clear_areas};
use super::scene::{Rect, Scene};
use super::sheet::SheetCamera;

/// What became of a camera.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// Nothing.
    #[default]
    None,
    /// It is elsewhere, and stays there.
    Set,
    /// It is on the move.
    Moving,
}

/// The ways of both cameras.
#[derive(Default)]
pub struct Motion {
    stage: Way<Camera>,
    sheet: Way<SheetCamera>,
    /// What the page lays over the canvas: left, top, right, bottom.
    covers: Vec<[f64; 4]>,
}

/// The way of one.
struct Way<T> {
    flight: Option<Flight<T>>,
    /// Whether it is to show all of it as soon as it has a place.
    fit_when_seen: bool,
    /// Whether it shows all of it, as it was last asked to; it goes on doing so when the covers change.
    fitted: bool,
    change: Change,
}

impl<T> Default for Way<T> {
    fn default() -> Self {
        Self { flight: None, fit_when_seen: true, fitted: false, change: Change::None }
    }
}

impl<T: Between + PartialEq> Way<T> {
    /// A hand takes it; `seen`: it has a place.
    fn take(&mut self, seen: bool) {
        (self.flight, self.fitted) = (None, false);
        self.fit_when_seen &= !seen;
        self.change = Change::Moving;
    }

    /// It goes to show something, and no longer all.
    fn leave(&mut self, flight: Flight<T>) {
        (self.fit_when_seen, self.fitted) = (false, false);
        self.flight = Some(flight);
    }

    fn advance(&mut self, camera: &mut T, now_ms: f64) -> bool {
        let Some(flight) = self.flight else { return false };
        let (at, on) = flight.at(now_ms);
        *camera = at;
        self.change = self.change.max(if on { Change::Moving } else { Change::Set });
        self.flight = self.flight.filter(|_| on);
        on
    }
}

impl Motion {
    /// Another model, or none, takes the place of the former; all of it will be shown.
    pub fn begin_model(&mut self) {
        (self.stage, self.sheet) = (Way::default(), Way::default());
    }

    /// Moves the cameras to where they are now; true while one of them flies. `points` are some of the model's, where there
    /// is one.
    pub fn advance(&mut self, scene: &mut Scene, points: Option<&[DVec3]>, now_ms: f64) -> bool {
        let stage = self.stage.advance(&mut scene.camera, now_ms);
        let sheet = self.sheet.advance(&mut scene.sheet_camera, now_ms);
        if self.stage.fit_when_seen && scene.stage.is_some() {
            self.fit(scene, points);
        }
        if self.sheet.fit_when_seen && scene.sheet.is_some() {
            self.fit_sheet(scene);
        }
        stage || sheet
    }

    /// What became of the stage's and the sheet's camera since this was last asked.
    pub fn take_changes(&mut self) -> [Change; 2] {
        [std::mem::take(&mut self.stage.change), std::mem::take(&mut self.sheet.change)]
    }

    /// The person takes the stage's camera.
    pub fn take_stage(&mut self, scene: &Scene) {
        self.stage.take(scene.stage.is_some());
    }

    /// The person takes the sheet's camera.
    pub fn take_sheet(&mut self, scene: &Scene) {
        self.sheet.take(scene.sheet.is_some());
    }

    /// Shows all of the model.
    pub fn fit(&mut self, scene: &mut Scene, points: Option<&[DVec3]>) {
        self.take_stage(scene);
        if let Some(points) = points {
            scene.camera.fit(points, scene.stage_size(), &self.clear(scene, scene.stage));
        }
        self.stage.fitted = true;
    }

    /// Flies to where all of the model is seen; at once for 0 ms. It goes on showing all of it.
    pub fn fly_fit(&mut self, scene: &mut Scene, points: Option<&[DVec3]>, milliseconds: f64, now_ms: f64) {
        let from = scene.camera;
        self.fit(scene, points);
        let to = std::mem::replace(&mut scene.camera, from);
        self.stage.flight = Some(Flight::new(from, to, milliseconds, now_ms));
    }

    /// Shows the tile and all shells.
    pub fn fit_sheet(&mut self, scene: &mut Scene) {
        self.take_sheet(scene);
        scene.sheet_camera = self.fitted_sheet(scene);
        self.sheet.fitted = true;
    }

    /// Flies to a camera; at once for 0 ms.
    pub fn fly_to(&mut self, scene: &Scene, to: Camera, milliseconds: f64, now_ms: f64) {
        self.stage.leave(Flight::new(scene.camera, to, milliseconds, now_ms));
    }

    /// Flies to a region of the sheet, lowest and highest uv, where the sheet is seen; at once for 0 ms.
    pub fn fly_to_region(&mut self, scene: &Scene, [low, high]: [DVec2; 2], milliseconds: f64, now_ms: f64) {
        if scene.sheet.is_some() {
            let mut to = scene.sheet_camera;
            to.show(low, high, &self.clear(scene, scene.sheet));
            self.sheet.leave(Flight::new(scene.sheet_camera, to, milliseconds, now_ms));
        }
    }

    /// Other things lie over the canvas. A camera that still shows all of it flies to where it does so beside them.
    pub fn set_covers(
        &mut self,
        covers: &[[f64; 4]],
        scene: &Scene,
        points: Option<&[DVec3]>,
        milliseconds: f64,
        now_ms: f64,
    ) {
        self.covers = covers.to_vec();
        if let (true, Some(points)) = (self.stage.fitted, points) {
            let mut to = scene.camera;
            to.fit(points, scene.stage_size(), &self.clear(scene, scene.stage));
            if to != scene.camera {
                self.stage.flight = Some(Flight::new(scene.camera, to, milliseconds, now_ms));
            }
        }
        if self.sheet.fitted {
            let to = self.fitted_sheet(scene);
            if to != scene.sheet_camera {
                self.sheet.flight = Some(Flight::new(scene.sheet_camera, to, milliseconds, now_ms));
            }
        }
    }

    /// The clear areas of a place: under the covers where it is the larger one, whole where it lies on the other.
    pub fn clear(&self, scene: &Scene, place: Option<Rect>) -> Vec<Clear> {
        let Some(rect) = place else { return vec![Clear::whole(DVec2::ONE)] };
        let area = |rect: Rect| rect.size().element_product();
        let others = [scene.stage, scene.sheet].into_iter().flatten();
        if others.map(area).fold(0.0, f64::max) > area(rect) {
            return vec![Clear::whole(rect.size())];
        }
        let (x, y) = (f64::from(rect.x), f64::from(rect.y));
        let covers: Vec<[f64; 4]> = self.covers.iter().map(|&[a, b, c, d]| [a - x, b - y, c - x, d - y]).collect();
        clear_areas(rect.size(), &covers)
    }

    /// The sheet's camera on the tiles and all shells.
    fn fitted_sheet(&self, scene: &Scene) -> SheetCamera {
        let mut camera = scene.sheet_camera;
        if scene.sheet.is_some() {
            let [low, high] = scene.bounds_uv;
            camera.fit(low.min(DVec2::ZERO), high.max(DVec2::ONE), &self.clear(scene, scene.sheet));
        }
        camera
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::grid::GridOptions;

    const POINTS: [DVec3; 2] = [DVec3::NEG_ONE, DVec3::ONE];
    const PLACE: Rect = Rect { x: 0, y: 0, width: 800, height: 600 };

    fn seen() -> (Motion, Scene) {
        let mut scene = Scene::new([800, 600], &GridOptions::default());
        scene.set_places(Some(PLACE), None);
        let mut motion = Motion::default();
        motion.advance(&mut scene, Some(&POINTS), 0.0);
        (motion, scene)
    }

    #[test]
    fn all_of_a_model_is_shown_as_soon_as_it_has_a_place() {
        let mut scene = Scene::new([800, 600], &GridOptions::default());
        let mut motion = Motion::default();
        let before = scene.camera;
        motion.advance(&mut scene, Some(&POINTS), 0.0);
        assert_eq!((scene.camera, motion.take_changes()), (before, [Change::None; 2]));
        scene.set_places(Some(PLACE), None);
        motion.advance(&mut scene, Some(&POINTS), 0.0);
        assert_ne!(scene.camera, before);
        assert_eq!(motion.take_changes(), [Change::Moving, Change::None]);
    }

    #[test]
    fn a_fitted_camera_makes_room_for_a_card_and_a_taken_one_stays() {
        let (mut motion, mut scene) = seen();
        let cards = [[400.0, 0.0, 800.0, 600.0]];
        let before = scene.camera;
        motion.set_covers(&cards, &scene, Some(&POINTS), 100.0, 0.0);
        assert!(motion.advance(&mut scene, Some(&POINTS), 50.0) && scene.camera != before);
        motion.take_stage(&scene);
        let taken = scene.camera;
        assert!(!motion.advance(&mut scene, Some(&POINTS), 60.0));
        motion.set_covers(&[], &scene, Some(&POINTS), 100.0, 70.0);
        motion.advance(&mut scene, Some(&POINTS), 200.0);
        assert_eq!(scene.camera, taken);
    }

    #[test]
    fn a_flight_of_no_time_sets_the_camera_and_one_of_some_time_moves_it() {
        let (mut motion, mut scene) = seen();
        motion.take_changes();
        let mut to = scene.camera;
        to.orbit(40.0, 0.0, scene.stage_size());
        motion.fly_to(&scene, to, 0.0, 0.0);
        assert!(!motion.advance(&mut scene, Some(&POINTS), 0.0));
        assert_eq!((scene.camera, motion.take_changes()[0]), (to, Change::Set));
        motion.fly_to(&scene, Camera { distance: to.distance * 2.0, ..to }, 100.0, 0.0);
        assert!(motion.advance(&mut scene, Some(&POINTS), 50.0));
        assert_eq!(motion.take_changes()[0], Change::Moving);
    }
}
