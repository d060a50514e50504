//! What is to be drawn: plain values, nothing of the graphics system.

use glam::{DVec2, DVec3};

use super::sight::Sight;
use crate::brief::FIRST_TILE;
use crate::grid::GridOptions;
use crate::lens::Lens;

/// Colours of the page, sRGB 0..1.
#[derive(Clone, Debug)]
pub struct Theme {
    /// Behind the model.
    pub stage: [f32; 3],
    /// Behind the sheet.
    pub card: [f32; 3],
    /// Secondary text; the sheet's ruler.
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

/// What lies under the pointer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hover {
    /// On the surface.
    pub point: DVec3,
    /// On the sheet, where it has a place there.
    pub uv: Option<DVec2>,
    /// The shell whose outline is drawn.
    pub shell: Option<u32>,
}

/// Everything a frame shows.
#[derive(Clone, Debug)]
pub struct Scene {
    /// The page's colours.
    pub theme: Theme,
    /// The lens.
    pub lens: Lens,
    /// Whether Grid has patterns.
    pub flags: bool,
    /// Whether Grid shows what is not upright.
    pub leaning: bool,
    /// Least and greatest of the lens's own value; others fade.
    pub isolate: Option<[f64; 2]>,
    /// Chosen shells; others fade.
    pub chosen: Vec<u32>,
    /// Shells that overlap the chosen ones.
    pub partners: Vec<u32>,
    /// Under the pointer.
    pub hover: Option<Hover>,
    /// From where.
    pub sight: Sight,
    /// Columns and rows of cells in a tile.
    pub cells: DVec2,
    /// UDIM numbers of the map's tiles, ascending; never empty.
    pub tiles: Vec<u32>,
}

/// Least luminance of an accent that is too light to draw on paper with.
const LIGHT_ACCENT: f32 = 0.4;

impl Scene {
    /// Before anything is known.
    pub fn new(grid: &GridOptions) -> Self {
        Self {
            theme: Theme::default(),
            lens: Lens::Grid,
            flags: true,
            leaning: false,
            isolate: None,
            chosen: Vec::new(),
            partners: Vec::new(),
            hover: None,
            sight: Sight::new(grid.map_px()),
            cells: grid.map_px() / f64::from(grid.cell_px),
            tiles: vec![FIRST_TILE],
        }
    }

    /// Another grid.
    pub fn set_grid(&mut self, grid: &GridOptions) {
        let map_px = grid.map_px();
        self.sight.set_map(map_px);
        self.cells = map_px / f64::from(grid.cell_px);
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

    /// The accent, dark enough for paper: the dark theme's is light, but surfaces are still paper.
    pub fn accent_on_paper(&self) -> [f32; 3] {
        let [r, g, b] = self.theme.accent;
        let light = 0.2126 * r + 0.7152 * g + 0.0722 * b;
        let part = if light > LIGHT_ACCENT { LIGHT_ACCENT / light } else { 1.0 };
        [r * part, g * part, b * part]
    }
}
