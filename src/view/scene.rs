//! What is to be drawn: plain values, nothing of the graphics system.

use glam::{DVec2, DVec3};

use super::camera::{Camera, Up};
use super::sheet::SheetCamera;
use crate::grid::GridOptions;
use crate::lens::Lens;

/// Colours of the page, sRGB 0..1.
#[derive(Clone, Debug)]
pub struct Theme {
    /// Behind the model.
    pub stage: [f32; 3],
    /// Behind the sheet.
    pub card: [f32; 3],
    /// Lesser writing; the sheet's ruler.
    pub second: [f32; 3],
    /// Chosen things.
    pub accent: [f32; 3],
}

impl Default for Theme {
    fn default() -> Self {
        let rgb = |code: u32| [code >> 16, code >> 8, code].map(|part| (part & 255) as f32 / 255.0);
        Self { stage: rgb(0xE9E5DA), card: rgb(0xFFFDF8), second: rgb(0x4A5A70), accent: rgb(0x0B6478) }
    }
}

/// What the brief allows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Anisotropy, at least 1.
    pub max_anisotropy: f64,
    /// Octaves from the reference, either way.
    pub octave_tolerance: f64,
}

impl Default for Limits {
    fn default() -> Self {
        let brief = crate::brief::Brief::default();
        Self {
            max_anisotropy: brief.stretch.max_anisotropy,
            octave_tolerance: (1.0 + brief.density.tolerance_percent / 100.0).log2(),
        }
    }
}

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

/// What lies under the pointer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hover {
    /// On the surface.
    pub point: DVec3,
    /// On the sheet, where it has a place there.
    pub uv: Option<DVec2>,
    /// Whose outline is drawn.
    pub shell: Option<u32>,
}

/// Everything a frame shows.
#[derive(Clone, Debug)]
pub struct Scene {
    /// The page's colours.
    pub theme: Theme,
    /// The lens.
    pub lens: Lens,
    /// Whether Grid wears flags.
    pub flags: bool,
    /// Whether Grid shows where texture-up leans away from world-up.
    pub leaning: bool,
    /// Limits of the brief.
    pub limits: Limits,
    /// Least and greatest of the lens's own value; others fade.
    pub isolate: Option<[f64; 2]>,
    /// Chosen shells; others fade.
    pub chosen: Vec<u32>,
    /// Shells that share with the chosen ones.
    pub partners: Vec<u32>,
    /// Under the pointer.
    pub hover: Option<Hover>,
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
    /// Columns and rows of cells in a tile.
    pub cells: DVec2,
    /// Lowest and highest uv in use.
    pub bounds_uv: [DVec2; 2],
    /// UDIM numbers of the map's tiles, ascending; never empty.
    pub tiles: Vec<u32>,
}

/// The UDIM number of the tile 0..1.
pub const FIRST_TILE: u32 = 1001;

/// Least luminance of an accent that is too light to draw on paper with.
const LIGHT_ACCENT: f32 = 0.4;

impl Scene {
    /// Before anything is known, for a canvas of this size, px.
    pub fn new(canvas: [i32; 2], grid: &GridOptions) -> Self {
        let map_px = DVec2::new(grid.map_width_px.into(), grid.map_height_px.into());
        Self {
            theme: Theme::default(),
            lens: Lens::Grid,
            flags: true,
            leaning: true,
            limits: Limits::default(),
            isolate: None,
            chosen: Vec::new(),
            partners: Vec::new(),
            hover: None,
            canvas,
            ratio: 1.0,
            stage: None,
            sheet: None,
            camera: Camera::new(Up::nearest(DVec3::Y), 1.0),
            sheet_camera: SheetCamera::new(map_px),
            cells: map_px / f64::from(grid.cell_px),
            bounds_uv: [DVec2::ZERO, DVec2::ONE],
            tiles: vec![FIRST_TILE],
        }
    }

    /// Another grid. The same uv stays as wide on the screen.
    pub fn set_grid(&mut self, grid: &GridOptions) {
        let map_px = DVec2::new(grid.map_width_px.into(), grid.map_height_px.into());
        self.sheet_camera.scale *= self.sheet_camera.map_px.x / map_px.x;
        self.sheet_camera.map_px = map_px;
        self.cells = map_px / f64::from(grid.cell_px);
    }

    /// Other places for model and sheet; the same of both stays in view when they grow or shrink.
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

    /// Whether some values fade.
    pub fn isolates(&self) -> bool {
        self.isolate.is_some() && self.lens.range().is_some()
    }

    /// Bounds of the values that do not fade.
    pub fn isolate_bounds(&self) -> [f32; 2] {
        match self.isolate {
            Some(bounds) if self.isolates() => bounds.map(|bound| bound as f32),
            _ => [-f32::MAX, f32::MAX],
        }
    }

    /// The accent, dark enough for paper: by night the page's is light, and surfaces are paper all the same.
    pub fn accent_on_paper(&self) -> [f32; 3] {
        let [r, g, b] = self.theme.accent;
        let light = 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let part = if light > LIGHT_ACCENT { LIGHT_ACCENT / light } else { 1.0 };
        [r * part, g * part, b * part]
    }
}
