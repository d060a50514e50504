//! Measures of a [`Model`]'s UVs: arrays of plain numbers beside the mesh, one file a measure.
//!
//! [`Measuring`] takes them one after another, cheap ones first, so that each can be shown as it arrives.

mod box_tree;
mod convex;
mod cover;
pub mod density;
pub mod density_factor;
mod distinct;
mod equals;
pub mod handedness;
pub mod histogram;
pub mod jacobian;
mod occlusion;
mod outline;
pub mod outside;
pub mod padding;
mod quantile;
mod region;
mod rejudge;
mod scanlines;
pub mod seams;
mod segment;
mod shared;
pub mod sharing;
pub mod sheet;
pub mod sides;
pub mod stretch;
pub mod text_safety;
mod tiles;
pub mod tilt;
pub mod triangles;
mod union;

use crate::brief::Brief;
use crate::model::Model;
use crate::parallel;
use density::{Density, ShellDensity, measure_density};
use handedness::{Handedness, measure_handedness};
use padding::{Limits, Padding, measure_padding};
use seams::{Seams, measure_seams};
use sharing::{ShareKind, Shares, Sharing, measure_sharing};
use sheet::{Sheet, SheetInput, measure_sheet};
use stretch::{ShellStretch, Stretch, measure_stretch};
use text_safety::{TextSafety, measure_text_safety};
use tilt::{Tilt, measure_tilt};
use triangles::TriangleMeasures;

/// A step of measuring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Areas, singular values, handedness, stretch, density, tilt.
    Triangles,
    /// Coverage, overlap, outside.
    Sheet,
    /// Who shares with whom, and with that where letters come out right.
    Sharing,
    /// Distances between shells and to the border.
    Padding,
    /// Who sees the seams.
    Seams,
}

impl Stage {
    /// All, in order.
    pub const ALL: [Stage; 5] = [Stage::Triangles, Stage::Sheet, Stage::Sharing, Stage::Padding, Stage::Seams];

    /// What a person is told while it runs.
    pub fn title(self) -> &'static str {
        match self {
            Stage::Triangles => "Measuring stretch, density and handedness",
            Stage::Sheet => "Measuring how the sheet is used",
            Stage::Sharing => "Finding who shares texture space",
            Stage::Padding => "Measuring the padding",
            Stage::Seams => "Looking at the seams from all sides",
        }
    }
}

/// Everything measured so far; parts not reached yet are at their defaults.
#[derive(Clone, Debug, Default)]
pub struct Measures {
    /// Per triangle.
    pub triangles: TriangleMeasures,
    /// Whole model.
    pub stretch: Stretch,
    /// Per shell.
    pub shell_stretch: Vec<ShellStretch>,
    /// Whole model.
    pub density: Density,
    /// Per shell.
    pub shell_density: Vec<ShellDensity>,
    /// Whole model, shells and parts.
    pub handedness: Handedness,
    /// Triangles and shells.
    pub tilt: Tilt,
    /// Use of the sheet.
    pub sheet: Sheet,
    /// Who shares; its `triangles` run over [`Measures::mapped`].
    pub sharing: Sharing,
    /// Distances between shells and to the border; its triangles run over [`Measures::mapped_triangle`] too.
    pub padding: Padding,
    /// Whole model and shells.
    pub text: TextSafety,
    /// Who sees the seams.
    pub seams: Seams,
    /// The mapped triangles, as indices into [`Model::triangles`]; empty when all are.
    mapped: Vec<u32>,
    /// By triangle its place among them, if it has one; empty when all have.
    place_in_mapped: Vec<u32>,
    /// Kept from [`Stage::Sheet`] to [`Stage::Padding`].
    rows: Option<SheetRows>,
}

/// What the stages of the sheet take of each mapped triangle.
#[derive(Clone, Debug)]
struct SheetRows {
    uv: Vec<[u32; 3]>,
    shell: Vec<u32>,
    reversed: Vec<bool>,
    /// Empty when none is.
    sliver: Vec<bool>,
    /// Empty when all are mapped: then it stands with the triangles.
    surface: Vec<f64>,
}

impl Measures {
    /// Takes all stages.
    pub fn new(model: &Model, brief: &Brief) -> Self {
        Self::told(model, brief, &mut |_| ())
    }

    /// Takes all stages, those of the sheet and the seams beside one another where there are threads; `tell` hears of each
    /// as it begins.
    pub fn told(model: &Model, brief: &Brief, tell: &mut dyn FnMut(Stage)) -> Self {
        let mut measures = Self::default();
        tell(Stage::Triangles);
        measures.take(Stage::Triangles, model, brief);
        let handedness = measures.handedness.clone();
        let surface = measures.triangles.surface.iter().sum();
        let of_sheet = || {
            for stage in [Stage::Sheet, Stage::Sharing, Stage::Padding] {
                tell(stage);
                measures.take(stage, model, brief);
            }
            tell(Stage::Seams);
        };
        let ((), seams) = parallel::both(of_sheet, || measure_seams(model, &handedness, surface, brief));
        measures.seams = seams;
        measures
    }

    /// Takes one stage; those before it must have been taken.
    pub fn take(&mut self, stage: Stage, model: &Model, brief: &Brief) {
        match stage {
            Stage::Triangles => {
                self.rows = None;
                self.triangles = TriangleMeasures::new(model, brief.map);
                self.handedness = measure_handedness(model, &mut self.triangles);
                (self.stretch, self.shell_stretch) = measure_stretch(model, &self.triangles, brief);
                (self.density, self.shell_density) = measure_density(model, &self.triangles, brief);
                self.tilt = measure_tilt(model, &self.triangles, brief);
            }
            Stage::Sheet => self.with_sheet_input(model, brief, |this, input| this.sheet = measure_sheet(input)),
            Stage::Sharing => {
                self.with_sheet_input(model, brief, |this, input| {
                    this.sharing = measure_sharing(input, &this.sheet);
                });
                let opposite = |triangle| self.shared_share(triangle, ShareKind::Mirrored);
                let covered = self.handedness.sides.covered(&self.triangles, &opposite);
                self.sharing.settle(&self.handedness.judge_sides(&covered, &mut self.triangles));
                self.text = measure_text_safety(model, self, brief);
            }
            Stage::Padding => {
                self.with_sheet_input(model, brief, |this, input| {
                    let limits =
                        Limits { between: brief.padding.between(brief.map), border: brief.padding.border(brief.map) };
                    this.padding = measure_padding(input, &this.sheet, &this.sharing, limits);
                });
                self.rows = None;
            }
            Stage::Seams => {
                let surface = self.triangles.surface.iter().sum();
                self.seams = measure_seams(model, &self.handedness, surface, brief);
            }
        }
    }

    fn with_sheet_input(&mut self, model: &Model, brief: &Brief, call: impl FnOnce(&mut Self, &SheetInput)) {
        let rows = self.rows.take().unwrap_or_else(|| self.sheet_rows(model));
        let all_mapped = rows.surface.len() < rows.uv.len();
        let surface = if all_mapped { std::mem::take(&mut self.triangles.surface) } else { Vec::new() };
        let input = SheetInput {
            uv: &model.uv_values,
            triangles: &rows.uv,
            shell: &rows.shell,
            shell_count: model.topology.shell_count,
            reversed: &rows.reversed,
            sliver: &rows.sliver,
            surface: if all_mapped { &surface } else { &rows.surface },
            map: brief.map,
        };
        call(self, &input);
        if all_mapped {
            self.triangles.surface = surface;
        }
        self.rows = Some(rows);
    }

    fn sheet_rows(&mut self, model: &Model) -> SheetRows {
        let all_mapped = model.face_has_uv.iter().all(|has| *has);
        self.mapped = if all_mapped {
            Vec::new()
        } else {
            (0..model.triangle_count() as u32)
                .filter(|&t| self.triangles.is(t as usize, triangles::state::MAPPED))
                .collect()
        };
        self.place_in_mapped = vec![u32::MAX; if all_mapped { 0 } else { model.triangle_count() }];
        self.mapped.iter().zip(0..).for_each(|(&triangle, place)| self.place_in_mapped[triangle as usize] = place);
        let count = if all_mapped { model.triangle_count() } else { self.mapped.len() };
        let mut rows = SheetRows {
            uv: Vec::with_capacity(count),
            shell: Vec::with_capacity(count),
            reversed: Vec::with_capacity(count),
            sliver: Vec::new(),
            surface: Vec::new(),
        };
        for index in 0..count {
            let triangle = self.mapped_triangle(index as u32) as usize;
            let (Some(uv), Some(of)) = (model.uv_value_indices(triangle), model.shell_of(triangle)) else { continue };
            rows.uv.push(uv);
            rows.shell.push(of);
            rows.reversed.push(self.triangles.is_reversed(triangle));
            if self.triangles.is(triangle, triangles::state::SLIVER) {
                rows.sliver.resize(count, false);
                rows.sliver[rows.uv.len() - 1] = true;
            }
            if !all_mapped {
                rows.surface.push(self.triangles.surface[triangle]);
            }
        }
        rows
    }

    /// The model's triangle behind the sheet measures' `index`.
    pub fn mapped_triangle(&self, index: u32) -> u32 {
        if self.mapped.is_empty() { index } else { self.mapped[index as usize] }
    }

    /// The density that a shell's triangles are held against, px per unit: the reference times the density_factor of its shell.
    pub fn reference_of(&self, shell: Option<u32>) -> Option<f64> {
        let density_factor =
            shell.and_then(|shell| self.shell_density.get(shell as usize)).map_or(1.0, |shell| shell.density_factor);
        self.density.reference.map(|reference| reference * density_factor)
    }

    /// With whom a triangle of the model shares; nobody before [`Stage::Sharing`] and where unmapped.
    pub fn shares(&self, triangle: usize) -> Shares {
        self.sharing.triangles.get(self.place_in_mapped(triangle)).copied().unwrap_or_default()
    }

    /// Share of the uv area of a triangle of the model that lies where others lie that share with it in this way; 0 before
    /// [`Stage::Sharing`] and where unmapped.
    pub fn shared_share(&self, triangle: usize, kind: ShareKind) -> f64 {
        self.sharing.shared_share(self.place_in_mapped(triangle) as u32, kind)
    }

    fn place_in_mapped(&self, triangle: usize) -> usize {
        self.place_in_mapped.get(triangle).map_or(triangle, |&place| place as usize)
    }
}
