//! Draws the view, on its own canvas or the page's: in a worker, so that the page never waits for the graphics system.
//! All lengths are device px of the canvas from its top left; points are in the model's units from the centre of its
//! bounding sphere; times are ms.
//!
//! Nothing is drawn before [`Painter::frame`], and only what changed.
//!
//! A context, a link's result, a framebuffer's state and another size of the canvas each wait for all earlier work of
//! the graphics system: 20 to 600 ms where it draws in software. That blocked the page. The cameras stayed there
//! (`api`), since pointer, pins, scale bar and tiles need answers in the same frame; so what lies over the canvas can
//! be a frame ahead of the picture.

use std::rc::Rc;

use glam::{DVec2, DVec3};
use js_sys::{Float32Array, Uint8Array, Uint32Array};
use wasm_bindgen::prelude::*;
use web_sys::{WebGl2RenderingContext as Gl, WebglLoseContext};

use super::arrays::{LineArrays, MeshArrays, numbers};
use super::frames::Frames;
use super::gl::{Context, GlError};
use super::images::Look;
use super::motion::Change;
use super::renderer::Renderer;
use super::scene::{Hover, Scene, Theme};
use super::sight::Sight;
use crate::brief::FIRST_TILE;
use crate::grid::GridOptions;
use crate::lens::{Lens, TriangleTexel};

/// UDIM numbers that the sheet draws: ten columns, four digits.
const UDIM_NUMBERS: std::ops::RangeInclusive<u32> = FIRST_TILE..=9999;

/// The radius without a model.
const NO_RADIUS: f64 = 1.0;

/// Stage and sheet on one canvas.
#[wasm_bindgen]
pub struct Painter {
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
    frames: Frames,
}

#[wasm_bindgen]
impl Painter {
    /// In a context made as by `www/base/context.js`: without samples, since pictures are copied to it, and without
    /// alpha, which carries classes in them.
    ///
    /// # Errors
    /// A sentence where the browser refuses something.
    #[wasm_bindgen(constructor)]
    pub fn new(gl: Gl) -> Result<Painter, JsError> {
        // Asked for now: a lost context gives no extensions.
        let losing = gl.get_extension("WEBGL_lose_context").ok().flatten().map(JsCast::unchecked_into);
        let grid = GridOptions::default();
        let renderer = Renderer::new(&Context::new(&gl), &grid)?;
        Ok(Self {
            scene: Scene::new(&grid),
            losing,
            renderer: Some(renderer),
            grid,
            mesh: None,
            triangles: None,
            lines: None,
            looks: Rc::default(),
            ground: None,
            frames: Frames::new(&gl),
            gl,
        })
    }

    /// What [`super::View::sight`] gave. A canvas of another size, or with model and sheet elsewhere, has nothing on it.
    ///
    /// # Errors
    /// Other numbers.
    pub fn set_sight(&mut self, numbers: &[f64]) -> Result<(), JsError> {
        let read = numbers
            .split_first_chunk::<2>()
            .and_then(|(changes, rest)| Some((changes.map(Change::from_number), Sight::from_numbers(rest)?)));
        let Some((changes, sight)) = read else {
            return Err(GlError::Argument("These numbers are no view.".to_owned()).into());
        };
        let before = std::mem::replace(&mut self.scene.sight, sight);
        if (before.canvas, before.stage, before.sheet) != (sight.canvas, sight.stage, sight.sheet) {
            self.frames.relaid();
        }
        self.frames.moved(changes);
        Ok(())
    }

    /// Colours of the page: `stage`, `card`, `second`, `accent`, each [r, g, b] in 0..1; others are ignored.
    pub fn set_theme(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "Record<string, number[]>")] theme: JsValue,
    ) -> Result<(), JsError> {
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
    /// painted and brought in slices by [`Painter::frame`]; until it is there, the previous one stays.
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
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
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
            if let Some(renderer) = present(&mut self.renderer, &self.gl) {
                renderer.set_tiles(&tiles)?;
            }
            self.scene.tiles = tiles;
            self.frames.sheet_dirty();
        }
        Ok(())
    }

    /// Another model; its data and outlines follow.
    pub fn set_model(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "MeshBuffers")] mesh: JsValue,
    ) -> Result<(), JsError> {
        let mesh = MeshArrays::read(&mesh)?;
        self.forget_model();
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
            renderer.set_mesh(Some(&mesh))?;
            self.frames.asked();
        }
        self.mesh = Some(mesh);
        Ok(())
    }

    /// Other uvs of the same model, 6 numbers a triangle: nothing else of it is brought again. Its data and outlines follow.
    ///
    /// # Errors
    /// Another number of them than the model has, or no model.
    pub fn set_uvs(&mut self, uv: Float32Array) -> Result<(), JsError> {
        let mesh = self.mesh.as_mut().filter(|mesh| u64::from(uv.length()) == u64::from(mesh.triangles) * 6);
        let Some(mesh) = mesh else {
            return Err(GlError::Argument("The uvs are not those of the model that is shown.".to_owned()).into());
        };
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
            renderer.set_uvs(&uv)?;
            self.frames.asked();
        }
        if let Some(corners) = &mut mesh.corners {
            corners.uv = uv;
        }
        self.frames.chosen();
        Ok(())
    }

    /// Whether there is a model and all of its triangles are in the graphics system.
    pub fn has_model(&self) -> bool {
        !self.gl.is_context_lost() && self.renderer.as_ref().is_some_and(Renderer::has_mesh)
    }

    /// Releases the data of the model's corners if it is in the graphics system, and returns whether it is. After a
    /// lost context [`Painter::set_model`] has to be called again, with all that it resets.
    pub fn release_model(&mut self) -> bool {
        let has = self.has_model();
        if let Some(mesh) = self.mesh.as_mut().filter(|_| has) {
            mesh.corners = None;
        }
        has
    }

    /// Four words a triangle, as `TriangleTexel` of the lens module packs them.
    pub fn set_triangles(&mut self, data: Uint32Array) -> Result<(), JsError> {
        let triangles = self.mesh.as_ref().map_or(0, |mesh| mesh.triangles);
        if u64::from(data.length()) != u64::from(triangles) * 4 {
            let message = format!("There are {} words for {triangles} triangles; each should have 4.", data.length());
            return Err(GlError::Argument(message).into());
        }
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
            renderer.set_triangles(&data)?;
            self.frames.asked();
        }
        self.triangles = Some(data);
        self.frames.all_dirty();
        Ok(())
    }

    /// Outlines of the shells.
    pub fn set_lines(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "LineBuffers")] lines: JsValue,
    ) -> Result<(), JsError> {
        let lines = LineArrays::read(&lines)?;
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
            renderer.set_lines(&lines)?;
            self.frames.asked();
        }
        self.lines = Some(lines);
        self.frames.all_dirty();
        Ok(())
    }

    /// What the Picture lens shows of the model, a list of looks: `picture`, the number of one that
    /// [`Painter::set_picture`] brings, or -1; `colour`, sRGB 0..1, in its place, or nothing for paper; `scale` and
    /// `offset` of u and v, which lead to the place in the picture; `clamp`, 1 where it does not repeat; `runs`, first
    /// triangle and count, of each run. `ground`: which of the looks lies below the shells on the sheet; -1 for none.
    /// Pictures that none of them shows are released.
    pub fn set_looks(
        &mut self,
        #[wasm_bindgen(unchecked_param_type = "Look[]")] looks: JsValue,
        ground: i32,
    ) -> Result<(), JsError> {
        let triangles = self.mesh.as_ref().map_or(0, |mesh| mesh.triangles);
        (self.looks, self.ground) = (Look::read_all(&looks, triangles)?.into(), usize::try_from(ground).ok());
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
            renderer.set_looks(&self.looks, self.ground);
        }
        self.frames.all_dirty();
        Ok(())
    }

    /// A picture that looks show: opaque RGBA pixels, rows from the top. After a lost context it has to be set again.
    pub fn set_picture(&mut self, number: u32, width: u32, height: u32, pixels: &Uint8Array) -> Result<(), JsError> {
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
            renderer.set_image(number, [width, height], pixels)?;
            self.frames.asked();
        }
        Ok(())
    }

    /// An empty stage.
    pub fn clear_model(&mut self) -> Result<(), JsError> {
        self.forget_model();
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
            renderer.set_mesh(None)?;
        }
        Ok(())
    }

    /// Whether a model is being read or measured: where drawing takes the processors from that, only what shows it with its
    /// grid is drawn meanwhile, until another lens or part of it is chosen.
    pub fn set_measuring(&mut self, on: bool) {
        self.frames.set_measuring(on);
    }

    /// `grid`, `stretch`, `density`, `flipped`, `overlaps`, `seams`, `text` or `picture`.
    pub fn set_lens(&mut self, name: &str) -> Result<(), JsError> {
        let lens = Lens::named(name)
            .ok_or_else(|| GlError::Argument(format!("There is no lens \"{name}\". Choose one from the bar.")))?;
        if std::mem::replace(&mut self.scene.lens, lens) != lens {
            self.frames.chosen();
        }
        Ok(())
    }

    /// Whether Grid has its patterns.
    pub fn set_flags(&mut self, on: bool) {
        self.scene.flags = on;
        self.frames.chosen();
    }

    /// Whether Grid shows what is not upright.
    pub fn set_leaning(&mut self, on: bool) {
        self.scene.leaning = on;
        self.frames.chosen();
    }

    /// Fades what is outside these values of the lens; NaN and NaN fade nothing.
    pub fn set_isolate(&mut self, lo: f64, hi: f64) {
        let isolate = (!lo.is_nan() && !hi.is_nan()).then_some([lo, hi]);
        let another = std::mem::replace(&mut self.scene.isolate, isolate) != isolate;
        if another && isolate.is_some() {
            self.frames.chosen();
        }
        self.frames.all_dirty();
    }

    /// Chosen shells; none fades nothing.
    pub fn set_selected(&mut self, shells: &[u32]) -> Result<(), JsError> {
        if self.scene.chosen != shells && !shells.is_empty() {
            self.frames.chosen();
        }
        self.scene.chosen = shells.to_vec();
        self.set_states()
    }

    /// Shells that overlap the chosen ones.
    pub fn set_partner(&mut self, shells: &[u32]) -> Result<(), JsError> {
        self.scene.partners = shells.to_vec();
        self.set_states()
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

    /// Brings what is on its way, and draws what changed. True while another frame is wanted.
    pub fn frame(&mut self, now: f64) -> Result<bool, JsError> {
        let Some(renderer) = present(&mut self.renderer, &self.gl) else { return Ok(false) };
        let wanted = self.frames.next(renderer, &self.scene, radius(&self.mesh), now)?;
        if self.frames.needs_ground() {
            renderer.begin_canvas(&self.scene);
        }
        Ok(wanted)
    }

    /// Brings more of what is on its way, for some ms, and draws the first picture of a model as soon as it can;
    /// [`Painter::frame`] does so too. True while there is more to do. Frames are rare while the browser draws the page.
    pub fn work(&mut self, now: f64) -> Result<bool, JsError> {
        let Some(renderer) = present(&mut self.renderer, &self.gl) else { return Ok(false) };
        let ready = self.frames.work(renderer, &self.scene, radius(&self.mesh), now)?;
        Ok(!self.frames.rests(renderer, &self.scene) && (!ready || renderer.is_arriving()))
    }

    /// Whether the whole model with its grid has been drawn completely by the graphics system; finer grids and what is
    /// known of its triangles may follow.
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

impl Painter {
    fn forget_model(&mut self) {
        (self.mesh, self.triangles, self.lines) = (None, None, None);
        (self.looks, self.ground) = (Rc::default(), None);
        (self.scene.hover, self.scene.isolate) = (None, None);
        self.frames.begin_model();
    }

    fn set_states(&mut self) -> Result<(), JsError> {
        if let Some(renderer) = present(&mut self.renderer, &self.gl) {
            renderer.set_states(&self.scene.chosen, &self.scene.partners)?;
        }
        self.frames.all_dirty();
        Ok(())
    }
}

/// What is in the graphics system; nothing while its context is lost.
fn present<'a>(renderer: &'a mut Option<Renderer>, gl: &Gl) -> Option<&'a mut Renderer> {
    renderer.as_mut().filter(|_| !gl.is_context_lost())
}

fn radius(mesh: &Option<MeshArrays>) -> f64 {
    mesh.as_ref().map_or(NO_RADIUS, |mesh| mesh.radius)
}
