//! Schedules drawing by frames: never more than the graphics system can take, and never anything that would block on
//! it.
//!
//! A model is shown as early as possible: plain with its grid, and everything else when its programs are compiled.
//!
//! The first frame makes no blocking GL query; even the location of a uniform is one. Its program takes its values as
//! constant attributes, whose locations are given in the shader, and shows the model with a grid of 512 px, without
//! multisampling, problem patterns and lines. Those follow once their programs are ready; the full-size grid waits for the
//! first frame, since both take the same processors where the browser draws in software.
//!
//! Frames are rare while the browser draws the page. So uploads, painting and the first frame also go on in turns of a
//! clock (`Painter::work`).

use web_sys::WebGl2RenderingContext as Gl;

use super::gl::{GlError, Quality};
use super::motion::Change;
use super::pace::Pace;
use super::queue::{Budget, Queue};
use super::renderer::{Prepared, Renderer};
use super::scene::Scene;

/// Time for answers of the graphics system, uploads and grid work in a frame, ms: leaves some of a frame for the page.
const WORK_MS: f64 = 8.0;

/// A first picture that took longer, ms, was drawn by processors that the measures of the model need: on a card it
/// takes a few, and a small model is measured before the difference shows.
const HEAVY_MS: f64 = 100.0;

/// What is drawn, and what has to be redrawn.
pub struct Frames {
    gl: Gl,
    dirty: Dirty,
    /// Of the stage's camera and of the sheet's, since their last pictures.
    changes: [Change; 2],
    stage_pace: Pace,
    sheet_pace: Pace,
    queue: Queue,
    shown: Shown,
    /// Whether a picture of the model with its grid was drawn to the end.
    grid_drawn: bool,
    drawn: u32,
    canvas: OnCanvas,
    /// Whether a model is being read or measured, and no other picture of it was requested.
    measuring: bool,
}

/// What has to be redrawn.
#[derive(Clone, Copy)]
struct Dirty {
    stage: bool,
    sheet: bool,
    canvas: bool,
}

impl Dirty {
    const NOTHING: Self = Self { stage: false, sheet: false, canvas: false };
    const ALL: Self = Self { stage: true, sheet: true, canvas: true };
}

/// What the last picture of the stage shows of the model.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Shown {
    Nothing,
    PlainGrid,
    /// All, whose grid may be on its way.
    All,
    AllWithGrid,
}

/// What is on the canvas. Another size of it takes everything away.
#[derive(Clone, Copy, PartialEq, Eq)]
enum OnCanvas {
    Nothing,
    /// The stage's ground, until there is a picture.
    Ground,
    Picture,
}

impl Frames {
    /// Nothing is drawn yet.
    pub fn new(gl: &Gl) -> Self {
        Self {
            gl: gl.clone(),
            dirty: Dirty::ALL,
            changes: [Change::None; 2],
            stage_pace: Pace::default(),
            sheet_pace: Pace::default(),
            queue: Queue::default(),
            shown: Shown::Nothing,
            grid_drawn: false,
            drawn: 0,
            canvas: OnCanvas::Nothing,
            measuring: false,
        }
    }

    /// Everything in the graphics system was lost; the count of frames continues.
    pub fn restart(&mut self) {
        *self = Self { drawn: self.drawn, measuring: self.measuring, ..Self::new(&self.gl) };
    }

    /// Whether a model is being read or measured. Where drawing takes the processors from that, a first picture is all
    /// that is drawn meanwhile, from any camera; the rest follows when measuring is done, or with [`Frames::chosen`].
    pub fn set_measuring(&mut self, on: bool) {
        self.measuring = on;
    }

    /// The user chose another lens or part of the model; it is shown at once.
    pub fn chosen(&mut self) {
        self.measuring = false;
        self.all_dirty();
    }

    /// Whether a first picture of the model is enough for now.
    fn holds(&self, renderer: &Renderer, scene: &Scene) -> bool {
        let heavy = self.stage_pace.took_ms() > HEAVY_MS;
        self.measuring && heavy && scene.sight.stage.is_some() && renderer.has_model_and_grid()
    }

    /// Whether it is enough, and is drawn.
    pub fn rests(&self, renderer: &Renderer, scene: &Scene) -> bool {
        self.holds(renderer, scene) && self.shown != Shown::Nothing && !self.stage_pace.is_pending()
    }

    /// Another model, or none.
    pub fn begin_model(&mut self) {
        (self.shown, self.grid_drawn) = (Shown::Nothing, false);
        self.all_dirty();
    }

    /// The canvas has another size or other places, and nothing on it.
    pub fn relaid(&mut self) {
        self.canvas = OnCanvas::Nothing;
        self.retake_first();
        self.all_dirty();
    }

    /// Changes of the stage's and the sheet's camera.
    pub fn moved(&mut self, changes: [Change; 2]) {
        for (known, change) in self.changes.iter_mut().zip(changes) {
            *known = change.max(*known);
        }
        if changes[0] != Change::None {
            self.retake_first();
        }
    }

    /// A first picture without a full one after it is outdated.
    fn retake_first(&mut self) {
        if self.shown == Shown::PlainGrid {
            self.shown = Shown::Nothing;
        }
    }

    /// Whether the ground has to be put on the canvas, which is black until the next picture is there.
    pub fn needs_ground(&mut self) -> bool {
        let needed = self.canvas == OnCanvas::Nothing;
        if needed {
            self.canvas = OnCanvas::Ground;
        }
        needed
    }

    /// Everything has to be redrawn.
    pub fn all_dirty(&mut self) {
        self.dirty = Dirty::ALL;
    }

    /// The sheet has.
    pub fn sheet_dirty(&mut self) {
        self.dirty.sheet = true;
    }

    /// What follows the pointer has.
    pub fn canvas_dirty(&mut self) {
        self.dirty.canvas = true;
    }

    /// Work was sent to the graphics system.
    pub fn asked(&mut self) {
        self.queue.asked(&self.gl);
    }

    /// Whether the graphics system is still busy.
    pub fn is_busy(&mut self) -> bool {
        self.queue.is_busy(&self.gl) || self.stage_pace.is_pending() || self.sheet_pace.is_pending()
    }

    /// Whether the whole model with its grid has been drawn completely by the graphics system.
    pub fn shows_grid(&self) -> bool {
        self.grid_drawn
    }

    /// Frames drawn so far; those in which nothing changed do not count.
    pub fn drawn(&self) -> u32 {
        self.drawn
    }

    /// Brings what is on its way as far as time allows, and draws the first picture of a model; whether all of this scene can
    /// be drawn without waiting.
    pub fn work(&mut self, renderer: &mut Renderer, scene: &Scene, radius: f64, now_ms: f64) -> Result<bool, GlError> {
        let drawing = [&mut self.stage_pace, &mut self.sheet_pace].map(|pace| pace.is_drawing(&self.gl, now_ms));
        // Any upload or query now would wait until that is done.
        let busy = self.queue.is_busy(&self.gl) || drawing != [false; 2];
        if self.holds(renderer, scene) {
            if self.shown == Shown::Nothing && !busy {
                self.changes[0] = Change::None;
                self.draw_first(renderer, scene, radius, now_ms)?;
            }
            self.see_grid();
            return Ok(false);
        }
        let budget = Budget::new(WORK_MS);
        let Prepared { ready, started, mut changed } = renderer.prepare(scene, (!busy).then_some(&budget))?;
        let mut asked = started;
        if busy {
            // Software rendering draws the first picture with the same processor.
            if self.shown != Shown::PlainGrid {
                changed |= renderer.work_meanwhile(&budget)?;
            }
        } else if renderer.is_arriving() {
            asked = true;
            changed |= renderer.work(&budget)?;
        }
        if changed {
            self.all_dirty();
        }
        if asked {
            self.queue.asked(&self.gl);
        }
        self.see_grid();
        if self.shown == Shown::Nothing && !ready && renderer.has_model_and_grid() {
            self.draw_first(renderer, scene, radius, now_ms)?;
        }
        Ok(ready)
    }

    /// Checks whether a picture with the grid is drawn completely.
    fn see_grid(&mut self) {
        let shown = matches!(self.shown, Shown::PlainGrid | Shown::AllWithGrid);
        self.grid_drawn |= shown && !self.stage_pace.is_pending();
    }

    /// Draws the model with its grid and nothing else, where it has a place.
    fn draw_first(&mut self, renderer: &mut Renderer, scene: &Scene, radius: f64, now_ms: f64) -> Result<(), GlError> {
        if scene.sight.stage.is_none() {
            return Ok(());
        }
        renderer.draw_plain(scene, radius)?;
        self.stage_pace.drawn(&self.gl, now_ms, Quality::Draft);
        self.shown = Shown::PlainGrid;
        self.count();
        Ok(())
    }

    /// Works, and draws what changed. True while another frame is wanted.
    pub fn next(&mut self, renderer: &mut Renderer, scene: &Scene, radius: f64, now_ms: f64) -> Result<bool, GlError> {
        let ready = self.work(renderer, scene, radius, now_ms)?;
        if self.holds(renderer, scene) {
            let changed = self.canvas != OnCanvas::Picture || self.changes != [Change::None; 2];
            let full = self.stage_pace.is_full() || self.sheet_pace.is_full();
            if changed && !full && self.shown > Shown::PlainGrid && renderer.prepare(scene, None)?.ready {
                self.draw(renderer, scene, radius, now_ms, true)?;
            }
            return Ok(!self.rests(renderer, scene));
        }
        // Later work must not delay the first picture.
        let first = self.shown == Shown::PlainGrid && self.stage_pace.is_pending();
        if first || self.stage_pace.is_full() || self.sheet_pace.is_full() {
            return Ok(true);
        }
        if !ready {
            return Ok(true);
        }
        let arriving = renderer.is_arriving();
        self.draw(renderer, scene, radius, now_ms, arriving)?;
        let waiting = self.is_busy() || self.stage_pace.waits() || self.sheet_pace.waits();
        Ok(arriving || waiting || !renderer.has_asked())
    }

    /// Draws what changed; `arriving`: more is to come, so that all of it is on the move.
    fn draw(
        &mut self,
        renderer: &mut Renderer,
        scene: &Scene,
        radius: f64,
        now_ms: f64,
        arriving: bool,
    ) -> Result<(), GlError> {
        let [stage_change, sheet_change] = std::mem::take(&mut self.changes);
        let stage = self.stage_pace.advise(now_ms, arriving || stage_change == Change::Moving);
        let sheet = self.sheet_pace.advise(now_ms, arriving || sheet_change == Change::Moving);
        let mut dirty = std::mem::replace(&mut self.dirty, Dirty::NOTHING);
        dirty.stage |= stage.refine || stage_change != Change::None;
        dirty.sheet |= sheet.refine || sheet_change != Change::None;
        if dirty.stage {
            renderer.draw_stage(scene, radius, stage.quality)?;
            self.stage_pace.drawn(&self.gl, now_ms, stage.quality);
            self.shown = match (renderer.has_model_and_grid(), renderer.has_model()) {
                (true, _) => Shown::AllWithGrid,
                (false, true) => Shown::All,
                (false, false) => Shown::Nothing,
            };
        }
        if dirty.sheet {
            renderer.draw_sheet(scene, sheet.quality)?;
            self.sheet_pace.drawn(&self.gl, now_ms, sheet.quality);
        }
        if dirty.stage || dirty.sheet || dirty.canvas {
            renderer.compose(scene, radius)?;
            self.count();
        }
        Ok(())
    }

    fn count(&mut self) {
        self.canvas = OnCanvas::Picture;
        self.queue.asked(&self.gl);
        self.drawn = self.drawn.wrapping_add(1);
    }
}
