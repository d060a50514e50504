//! Motion of the two cameras: animated moves, fits into the uncovered area, and user input that ends both. Plain
//! arithmetic, no browser.

use glam::{DVec2, DVec3};

use super::sight::{Rect, Sight};
use crate::draw::camera::{Between, Camera, Flight};
use crate::draw::clear::{Clear, clear_areas};
use crate::draw::sheet_camera::SheetCamera;

/// Change of a camera.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Change {
    /// Nothing.
    #[default]
    None,
    /// It has moved, and is at rest.
    Set,
    /// It is moving.
    Moving,
}

impl Change {
    /// From the number that it is in a list; nothing for any other.
    pub fn from_number(number: f64) -> Self {
        [Self::Set, Self::Moving].into_iter().find(|&change| f64::from(change as u8) == number).unwrap_or_default()
    }
}

/// The motion of both cameras.
pub struct Motion {
    stage: Way<Camera>,
    sheet: Way<SheetCamera>,
    /// What the sheet's camera is fitted to, lowest and highest uv.
    region: [DVec2; 2],
    /// What the page lays over the canvas: left, top, right, bottom.
    covers: Vec<[f64; 4]>,
}

impl Default for Motion {
    fn default() -> Self {
        Self { stage: Way::default(), sheet: Way::default(), region: [DVec2::ZERO, DVec2::ONE], covers: Vec::new() }
    }
}

/// The motion of one.
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
    /// The user moves it; `seen`: it has a place.
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
    /// Another model, or none, takes the place of the previous one; all of it will be shown.
    pub fn begin_model(&mut self) {
        (self.stage, self.sheet) = (Way::default(), Way::default());
    }

    /// Moves the cameras to where they are now; true while one of them is moving. `points` are some of the model's,
    /// where there is one.
    pub fn advance(&mut self, sight: &mut Sight, points: Option<&[DVec3]>, now_ms: f64) -> bool {
        let stage = self.stage.advance(&mut sight.camera, now_ms);
        let sheet = self.sheet.advance(&mut sight.sheet_camera, now_ms);
        if self.stage.fit_when_seen && sight.stage.is_some() {
            self.fit(sight, points);
        }
        if self.sheet.fit_when_seen && sight.sheet.is_some() {
            self.fit_sheet(sight);
        }
        stage || sheet
    }

    /// Whether one of the cameras is moving.
    pub fn is_flying(&self) -> bool {
        self.stage.flight.is_some() || self.sheet.flight.is_some()
    }

    /// Changes of the stage's and the sheet's camera since the last call.
    pub fn take_changes(&mut self) -> [Change; 2] {
        [std::mem::take(&mut self.stage.change), std::mem::take(&mut self.sheet.change)]
    }

    /// The user moves the stage's camera.
    pub fn take_stage(&mut self, sight: &Sight) {
        self.stage.take(sight.stage.is_some());
    }

    /// The user moves the sheet's camera.
    pub fn take_sheet(&mut self, sight: &Sight) {
        self.sheet.take(sight.sheet.is_some());
    }

    /// The sheet's camera keeps its place or target, whatever is in use.
    pub fn hold_sheet(&mut self) {
        self.sheet.fitted = false;
    }

    /// Shows all of the model.
    pub fn fit(&mut self, sight: &mut Sight, points: Option<&[DVec3]>) {
        self.take_stage(sight);
        if let Some(points) = points {
            sight.camera.fit(points, sight.stage_size(), &self.clear(sight, sight.stage));
        }
        self.stage.fitted = true;
    }

    /// Moves to a view of the whole model; at once for 0 ms. It goes on showing all of it.
    pub fn fly_fit(&mut self, sight: &mut Sight, points: Option<&[DVec3]>, milliseconds: f64, now_ms: f64) {
        let from = sight.camera;
        self.fit(sight, points);
        let to = std::mem::replace(&mut sight.camera, from);
        self.stage.flight = Some(Flight::new(from, to, milliseconds, now_ms));
    }

    /// The sheet's camera is fitted to this from now on, lowest and highest uv; at once where it shows all of it now. What is
    /// not finite changes nothing.
    pub fn set_region(&mut self, region: [DVec2; 2], sight: &mut Sight) {
        if !region.iter().all(|corner| corner.is_finite()) || region == self.region {
            return;
        }
        self.region = region;
        if self.sheet.fitted {
            self.fit_sheet(sight);
        }
    }

    /// Shows the tiles and the shells near them.
    pub fn fit_sheet(&mut self, sight: &mut Sight) {
        self.take_sheet(sight);
        sight.sheet_camera = self.fitted_sheet(sight);
        self.sheet.fitted = true;
    }

    /// Moves to a camera; at once for 0 ms.
    pub fn fly_to(&mut self, sight: &Sight, to: Camera, milliseconds: f64, now_ms: f64) {
        self.stage.leave(Flight::new(sight.camera, to, milliseconds, now_ms));
    }

    /// Moves to a region of the sheet, lowest and highest uv, where the sheet is seen; at once for 0 ms.
    pub fn fly_to_region(&mut self, sight: &Sight, [low, high]: [DVec2; 2], milliseconds: f64, now_ms: f64) {
        if sight.sheet.is_some() {
            let mut to = sight.sheet_camera;
            to.show(low, high, &self.clear(sight, sight.sheet));
            self.sheet.leave(Flight::new(sight.sheet_camera, to, milliseconds, now_ms));
        }
    }

    /// Other things lie over the canvas. A camera that still shows everything is fitted beside them.
    pub fn set_covers(
        &mut self,
        covers: &[[f64; 4]],
        sight: &Sight,
        points: Option<&[DVec3]>,
        milliseconds: f64,
        now_ms: f64,
    ) {
        self.covers = covers.to_vec();
        if let (true, Some(points)) = (self.stage.fitted, points) {
            let mut to = sight.camera;
            to.fit(points, sight.stage_size(), &self.clear(sight, sight.stage));
            if to != sight.camera {
                self.stage.flight = Some(Flight::new(sight.camera, to, milliseconds, now_ms));
            }
        }
        if self.sheet.fitted {
            let to = self.fitted_sheet(sight);
            if to != sight.sheet_camera {
                self.sheet.flight = Some(Flight::new(sight.sheet_camera, to, milliseconds, now_ms));
            }
        }
    }

    /// The clear areas of a place: under the covers where it is the larger one, whole where it lies on the other.
    pub fn clear(&self, sight: &Sight, place: Option<Rect>) -> Vec<Clear> {
        let Some(rect) = place else { return vec![Clear::whole(DVec2::ONE)] };
        let area = |rect: Rect| rect.size().element_product();
        let others = [sight.stage, sight.sheet].into_iter().flatten();
        if others.map(area).fold(0.0, f64::max) > area(rect) {
            return vec![Clear::whole(rect.size())];
        }
        let (x, y) = (f64::from(rect.x), f64::from(rect.y));
        let covers: Vec<[f64; 4]> = self.covers.iter().map(|&[a, b, c, d]| [a - x, b - y, c - x, d - y]).collect();
        clear_areas(rect.size(), &covers)
    }

    /// The sheet's camera on the region.
    fn fitted_sheet(&self, sight: &Sight) -> SheetCamera {
        let mut camera = sight.sheet_camera;
        if sight.sheet.is_some() {
            let [low, high] = self.region;
            camera.fit(low, high, &self.clear(sight, sight.sheet));
        }
        camera
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const POINTS: [DVec3; 2] = [DVec3::NEG_ONE, DVec3::ONE];
    const PLACE: Rect = Rect { x: 0, y: 0, width: 800, height: 600 };

    fn seen() -> (Motion, Sight) {
        let mut sight = Sight::new(DVec2::splat(1024.0));
        sight.set_places(Some(PLACE), None);
        let mut motion = Motion::default();
        motion.advance(&mut sight, Some(&POINTS), 0.0);
        (motion, sight)
    }

    #[test]
    fn the_whole_model_is_shown_once_the_area_is_known() {
        let mut sight = Sight::new(DVec2::splat(1024.0));
        let mut motion = Motion::default();
        let before = sight.camera;
        motion.advance(&mut sight, Some(&POINTS), 0.0);
        assert_eq!((sight.camera, motion.take_changes()), (before, [Change::None; 2]));
        sight.set_places(Some(PLACE), None);
        motion.advance(&mut sight, Some(&POINTS), 0.0);
        assert_ne!(sight.camera, before);
        assert_eq!(motion.take_changes(), [Change::Moving, Change::None]);
    }

    #[test]
    fn a_fitted_camera_makes_room_for_a_card_and_a_moved_one_stays() {
        let (mut motion, mut sight) = seen();
        let cards = [[400.0, 0.0, 800.0, 600.0]];
        let before = sight.camera;
        motion.set_covers(&cards, &sight, Some(&POINTS), 100.0, 0.0);
        assert!(motion.advance(&mut sight, Some(&POINTS), 50.0) && sight.camera != before);
        motion.take_stage(&sight);
        let taken = sight.camera;
        assert!(!motion.advance(&mut sight, Some(&POINTS), 60.0));
        motion.set_covers(&[], &sight, Some(&POINTS), 100.0, 70.0);
        motion.advance(&mut sight, Some(&POINTS), 200.0);
        assert_eq!(sight.camera, taken);
    }

    #[test]
    fn a_fitted_sheet_follows_its_region_and_a_moved_one_stays() {
        let (mut motion, mut sight) = seen();
        sight.set_places(Some(PLACE), Some(PLACE));
        motion.advance(&mut sight, Some(&POINTS), 0.0);
        motion.set_region([DVec2::ZERO, DVec2::splat(3.0)], &mut sight);
        let three = sight.sheet_camera;
        assert!((three.centre - DVec2::splat(1.5)).length() < 1e-12);
        motion.set_region([DVec2::ZERO, DVec2::NAN], &mut sight);
        assert_eq!(sight.sheet_camera, three);
        motion.take_sheet(&sight);
        motion.set_region([DVec2::ZERO, DVec2::ONE], &mut sight);
        assert_eq!(sight.sheet_camera, three);
        motion.fit_sheet(&mut sight);
        assert!((sight.sheet_camera.centre - DVec2::splat(0.5)).length() < 1e-12);
    }

    #[test]
    fn a_move_of_zero_duration_jumps_and_a_longer_one_animates() {
        let (mut motion, mut sight) = seen();
        motion.take_changes();
        let mut to = sight.camera;
        to.orbit(40.0, 0.0, sight.stage_size());
        motion.fly_to(&sight, to, 0.0, 0.0);
        assert!(!motion.advance(&mut sight, Some(&POINTS), 0.0));
        assert_eq!((sight.camera, motion.take_changes()[0]), (to, Change::Set));
        motion.fly_to(&sight, Camera { distance: to.distance * 2.0, ..to }, 100.0, 0.0);
        assert!(motion.advance(&mut sight, Some(&POINTS), 50.0));
        assert_eq!(motion.take_changes()[0], Change::Moving);
    }
}
