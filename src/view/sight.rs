//! Cameras and places of model and sheet on the canvas, set by the page and used by the painter. Plain values.

use glam::{DVec2, DVec3};

use crate::draw::camera::{Camera, Up};
use crate::draw::sheet_camera::SheetCamera;

/// A rectangle of the canvas, px from its top left; never empty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rect {
    /// Left.
    pub x: i32,
    /// Top.
    pub y: i32,
    /// At least 1.
    pub width: i32,
    /// At least 1.
    pub height: i32,
}

/// Largest side of a rectangle, px: what every WebGL2 system can draw and no screen has.
const MOST_PX: f64 = 8192.0;

impl Rect {
    /// From x, y, width, height; `None` for one that is empty or not finite.
    pub fn from_numbers(numbers: &[f64]) -> Option<Self> {
        let &[x, y, width, height] = numbers else { return None };
        let sound = numbers.iter().all(|number| number.is_finite()) && width >= 1.0 && height >= 1.0;
        let px = |value: f64| value.round() as i32;
        sound.then(|| Self { x: px(x), y: px(y), width: px(width.min(MOST_PX)), height: px(height.min(MOST_PX)) })
    }

    /// Width and height.
    pub fn size(&self) -> DVec2 {
        DVec2::new(self.width.into(), self.height.into())
    }

    /// A place of the canvas, px from this rectangle's middle, y down.
    pub fn offset_from_middle(&self, x: f64, y: f64) -> DVec2 {
        DVec2::new(x, y) - DVec2::new(self.x.into(), self.y.into()) - self.size() / 2.0
    }

    /// Its lower left corner, counted from the bottom of a canvas of this height.
    pub fn origin_from_below(&self, canvas_height: i32) -> [i32; 2] {
        [self.x, canvas_height - self.y - self.height]
    }
}

/// Where things are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sight {
    /// Width and height of the canvas, px.
    pub canvas: [i32; 2],
    /// Canvas px a CSS px.
    pub ratio: f64,
    /// Where the model is drawn.
    pub stage: Option<Rect>,
    /// Where the sheet is drawn.
    pub sheet: Option<Rect>,
    /// The stage's camera.
    pub camera: Camera,
    /// The sheet's.
    pub sheet_camera: SheetCamera,
    /// Lowest and highest uv in use.
    pub bounds_uv: [DVec2; 2],
}

impl Sight {
    /// Before anything is known, for a map of this size, px.
    pub fn new(map_px: DVec2) -> Self {
        Self {
            canvas: [1, 1],
            ratio: 1.0,
            stage: None,
            sheet: None,
            camera: Camera::new(Up::nearest(DVec3::Y), 1.0),
            sheet_camera: SheetCamera::new(map_px),
            bounds_uv: [DVec2::ZERO, DVec2::ONE],
        }
    }

    /// All of it, for another thread.
    pub fn numbers(&self) -> Vec<f64> {
        let place = |rect: Option<Rect>| {
            rect.map_or([0.0; 4], |Rect { x, y, width, height }| [x, y, width, height].map(f64::from))
        };
        let Camera { target, distance, yaw, pitch, field_of_view, up, centre } = self.camera;
        let [low, high] = self.bounds_uv;
        let mut numbers = vec![self.canvas[0].into(), self.canvas[1].into(), self.ratio];
        numbers.extend([place(self.stage), place(self.sheet)].concat());
        numbers
            .extend([target, up.axis(), DVec3::new(yaw, pitch, field_of_view)].map(|point| point.to_array()).concat());
        numbers.extend([distance, self.sheet_camera.scale]);
        let pairs = [centre, self.sheet_camera.centre, self.sheet_camera.map_px, low, high];
        numbers.extend(pairs.map(|pair| pair.to_array()).concat());
        numbers
    }

    /// What [`Sight::numbers`] gave; `None` for anything else.
    pub fn from_numbers(numbers: &[f64]) -> Option<Self> {
        let (&[width, height, ratio], rest) = numbers.split_first_chunk()?;
        let (stage, rest) = rest.split_first_chunk::<4>()?;
        let (sheet, rest) = rest.split_first_chunk::<4>()?;
        let (points, rest) = rest.split_first_chunk::<9>()?;
        let (&[distance, scale], rest) = rest.split_first_chunk()?;
        let &[cx, cy, sx, sy, mx, my, u0, v0, u1, v1] = rest else { return None };
        let [target, up, [yaw, pitch, field_of_view]] = *points.as_chunks().0.first_chunk()?;
        let up = Up::nearest(DVec3::from_array(up));
        Some(Self {
            canvas: [width as i32, height as i32],
            ratio,
            stage: Rect::from_numbers(stage),
            sheet: Rect::from_numbers(sheet),
            camera: Camera {
                target: DVec3::from_array(target),
                distance,
                yaw,
                pitch,
                field_of_view,
                up,
                centre: DVec2::new(cx, cy),
            },
            sheet_camera: SheetCamera { centre: DVec2::new(sx, sy), scale, map_px: DVec2::new(mx, my) },
            bounds_uv: [DVec2::new(u0, v0), DVec2::new(u1, v1)],
        })
    }

    /// A map of another size, px. The same uv stays as wide on the screen.
    pub fn set_map(&mut self, map_px: DVec2) {
        self.sheet_camera.scale *= self.sheet_camera.map_px.x / map_px.x;
        self.sheet_camera.map_px = map_px;
    }

    /// Other places for model and sheet; both keep their view when resized.
    pub fn set_places(&mut self, stage: Option<Rect>, sheet: Option<Rect>) {
        if let (Some(before), Some(now)) = (self.sheet, sheet) {
            self.sheet_camera.scale *= (now.size() / before.size()).min_element();
        }
        if let (Some(before), Some(now)) = (self.stage, stage) {
            // What is seen of the model keeps its width where the stage grows narrower than high.
            let narrow = |rect: Rect| (f64::from(rect.width) / f64::from(rect.height)).min(1.0);
            self.camera.distance *= narrow(before) / narrow(now);
        }
        (self.stage, self.sheet) = (stage, sheet);
    }

    /// Width and height of the stage, px; 1 x 1 where it has no place.
    pub fn stage_size(&self) -> DVec2 {
        self.stage.map_or(DVec2::ONE, |rect| rect.size())
    }

    /// A place of the canvas, px from the middle of the stage, y down.
    pub fn on_stage(&self, x: f64, y: f64) -> DVec2 {
        self.stage.map_or(DVec2::ZERO, |rect| rect.offset_from_middle(x, y))
    }

    /// A place of the canvas, px from the middle of the sheet, y down.
    pub fn on_sheet(&self, x: f64, y: f64) -> DVec2 {
        self.sheet.map_or(DVec2::ZERO, |rect| rect.offset_from_middle(x, y))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_thread_sees_the_same() {
        let mut sight = Sight::new(DVec2::new(2048.0, 1024.0));
        sight.canvas = [1280, 800];
        sight.ratio = 1.5;
        sight.set_places(Rect::from_numbers(&[1.0, 2.0, 800.0, 600.0]), None);
        sight.camera.up = Up::nearest(DVec3::NEG_Z);
        sight.camera.orbit(31.0, -7.0, sight.stage_size());
        sight.camera.centre = DVec2::new(0.125, -0.25);
        sight.sheet_camera.pan(5.0, 9.0);
        sight.bounds_uv = [DVec2::new(-0.5, 0.0), DVec2::new(1.5, 2.0)];
        assert_eq!(Sight::from_numbers(&sight.numbers()), Some(sight));
        sight.set_places(None, Rect::from_numbers(&[0.0, 0.0, 300.0, 200.0]));
        assert_eq!(Sight::from_numbers(&sight.numbers()), Some(sight));
        assert_eq!(Sight::from_numbers(&sight.numbers()[1..]), None);
    }
}
