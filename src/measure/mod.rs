//! Measures of a [`Model`]'s UVs: arrays of plain numbers beside the mesh, one file a measure. [`flat`] takes one triangle or
//! shell at a time, [`sheet`] the sheet as a plane, [`rays`] what is seen of the surface.
//!
//! [`Measures::take`] takes them one after another, cheap ones first, so that each can be shown as it arrives.
//!
//! No measure may depend on how points are numbered: a link with the model inside renumbers them, and every exporter
//! has its own numbering. Edges are taken in the order of corners, near places by face.
//!
//! Every page loads this code, built for size (`opt-level = "z"`), where even an array's `map` and the index of a `Vec`
//! are calls. What is done to every triangle uses `three::each` and slices, plain comparisons instead of `f64::max`,
//! and loops instead of chains of iterators: both smaller and faster.

pub mod flat;
pub mod rays;
mod rejudge;
pub mod sheet;
pub mod text_safety;

use crate::brief::{Brief, SheetMap};
use crate::model::Model;
use crate::util::parallel;
use flat::density::{Density, ShellDensity, measure_density};
use flat::handedness::{Handedness, measure_handedness};
use flat::map_sizes::MapSizes;
use flat::stretch::{ShellStretch, Stretch, measure_stretch};
use flat::tilt::{Tilt, measure_tilt};
use flat::triangles::TriangleMeasures;
use rays::seams::{Seams, measure_seams};
use sheet::by_sheet::{self, Alone, SheetRows};
use sheet::padding::{Limits, Padding, measure_padding};
use sheet::sharing::{ShareKind, Shares, Sharing, measure_sharing};
use sheet::sheets::{Draft, Lapped, Lying, Sheets};
use sheet::usage::{Sheet, measure_sheet};
use text_safety::{TextSafety, measure_text_safety};

/// A step of measuring.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// Areas, singular values, handedness, stretch, density, tilt.
    Triangles,
    /// Coverage, overlap, outside.
    Sheet,
    /// Overlaps, and from them which surface is safe for text.
    Sharing,
    /// Distances between shells and to the border.
    Padding,
    /// Visibility of seams.
    Seams,
}

impl Stage {
    /// All, in order.
    pub const ALL: [Stage; 5] = [Stage::Triangles, Stage::Sheet, Stage::Sharing, Stage::Padding, Stage::Seams];

    /// Shown to the user while it runs.
    pub fn title(self) -> &'static str {
        match self {
            Stage::Triangles => "Measuring stretch, density and handedness",
            Stage::Sheet => "Measuring how the sheet is used",
            Stage::Sharing => "Finding who shares texture space",
            Stage::Padding => "Measuring the padding",
            Stage::Seams => "Looking at the seams from all sides",
        }
    }

    /// What the lenses show of what it measures: whether of triangles, and whether of lines.
    pub fn shows(self) -> [bool; 2] {
        match self {
            Stage::Triangles | Stage::Sheet | Stage::Sharing => [true, false],
            Stage::Padding => [false, false],
            Stage::Seams => [false, true],
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
    /// The size of each face's map.
    pub sizes: MapSizes,
    /// Which sheets there are.
    pub sheets: Sheets,
    /// Use of all sheets together.
    pub sheet: Sheet,
    /// Overlaps on all sheets; its `triangles` run over `Measures::mapped`.
    pub sharing: Sharing,
    /// Distances between shells and to the border, on all sheets; its triangles run over [`Measures::mapped_triangle`] too.
    pub padding: Padding,
    /// Whole model and shells.
    pub text: TextSafety,
    /// Visibility of seams.
    pub seams: Seams,
    /// Each sheet alone, where there are several.
    each: Vec<Alone>,
    /// The mapped triangles, as indices into [`Surface::triangles`](crate::model::Surface::triangles); empty when all are, or where there are several sheets.
    mapped: Vec<u32>,
    /// By triangle its place among them, if it has one; empty when `mapped` is.
    place_in_mapped: Vec<u32>,
    /// Of each sheet, kept from [`Stage::Sheet`] to [`Stage::Padding`].
    rows: Option<Vec<SheetRows>>,
}

impl Measures {
    /// Takes all stages.
    pub fn new(model: &Model, brief: &Brief) -> Self {
        Self::told(model, brief, &mut |_| ())
    }

    /// Takes all stages, those of the sheet and the seams in parallel where there are threads; `tell` is called as each
    /// begins.
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
        let ((), seams) =
            parallel::both(of_sheet, || measure_seams(model, &handedness, surface, brief, &Seams::default()));
        measures.seams = seams;
        measures
    }

    /// Takes one stage; those before it must have been taken. The seams need the triangles alone.
    pub fn take(&mut self, stage: Stage, model: &Model, brief: &Brief) {
        match stage {
            Stage::Triangles => {
                self.rows = None;
                self.sizes = MapSizes::new(model, brief);
                self.triangles = TriangleMeasures::new(model, &self.sizes);
                self.handedness = measure_handedness(model, &mut self.triangles);
                (self.stretch, self.shell_stretch) = measure_stretch(model, &self.triangles, &self.sizes, brief);
                (self.density, self.shell_density) = measure_density(model, &self.triangles, &self.sizes, brief);
                self.tilt = measure_tilt(model, &self.triangles, brief);
            }
            Stage::Sheet => self.take_sheet(model, brief),
            Stage::Sharing => {
                self.take_sharing(model);
                let opposite = |triangle| self.shared_share(triangle, ShareKind::Mirrored);
                let covered = self.handedness.sides.covered(&self.triangles, &opposite);
                self.sharing.settle(&self.handedness.judge_sides(&covered, &mut self.triangles));
                self.text = measure_text_safety(model, self, brief);
            }
            Stage::Padding => self.take_padding(model, brief),
            Stage::Seams => {
                let surface = self.triangles.surface.iter().sum();
                self.seams = measure_seams(model, &self.handedness, surface, brief, &self.seams);
            }
        }
    }

    /// Decides which sheets there are, and measures their use.
    fn take_sheet(&mut self, model: &Model, brief: &Brief) {
        self.rows = None;
        let draft = Draft::new(model, brief);
        let (mut evidence, mut as_one) = (None, None);
        if !draft.open().is_empty() {
            let lying = Lying::new(model, &self.triangles, draft.open());
            let mut most = Lapped::default();
            // Mostly they are side by side: then the measured use of one sheet shows that none needs a search.
            if draft.is_all_open() && !lying.is_crowded() {
                let rows = SheetRows::of_all(model, &self.triangles);
                let sheet = measure_sheet(&rows.input(model, &self.triangles.surface, brief.map.of_sheet()));
                most = Lapped { overlap: sheet.overlap_at_most(), excess: sheet.excess_at_most() };
                as_one = Some((rows, sheet));
            }
            evidence = lying.find(most);
        }
        self.sheets = draft.settled(evidence);
        self.each.clear();
        if self.sheets.are_several() {
            let rows = self.rows(model);
            for (rows, one) in rows.iter().zip(&self.sheets.list) {
                let sheet = measure_sheet(&rows.input(model, &self.triangles.surface, one.map));
                self.each.push(Alone { sheet, ..Alone::default() });
            }
            self.sheet = by_sheet::sheet_of_all(&self.each);
            self.rows = Some(rows);
            return;
        }
        let (rows, sheet) = as_one.map_or((None, None), |(rows, sheet)| (Some(vec![rows]), Some(sheet)));
        self.rows = rows;
        let rows = self.rows(model);
        self.sheet = sheet
            .unwrap_or_else(|| measure_sheet(&rows[0].input(model, &self.triangles.surface, self.map_of_sheet(0))));
        self.rows = Some(rows);
    }

    fn take_sharing(&mut self, model: &Model) {
        let rows = self.rows(model);
        if self.sheets.are_several() {
            for (number, alone) in self.each.iter_mut().enumerate() {
                let map = self.sheets.list[number].map;
                alone.sharing = measure_sharing(&rows[number].input(model, &self.triangles.surface, map), &alone.sheet);
            }
            self.sharing = by_sheet::sharing_of_all(&mut self.each, &rows, model.triangle_count());
        } else {
            let input = rows[0].input(model, &self.triangles.surface, self.map_of_sheet(0));
            self.sharing = measure_sharing(&input, &self.sheet);
        }
        self.rows = Some(rows);
    }

    fn take_padding(&mut self, model: &Model, brief: &Brief) {
        let rows = self.rows(model);
        if self.sheets.are_several() {
            let mut limits = Vec::new();
            for (number, alone) in self.each.iter_mut().enumerate() {
                let map = self.sheets.list[number].map;
                let input = rows[number].input(model, &self.triangles.surface, map);
                limits.push(Limits::new(brief, map));
                alone.padding = measure_padding(&input, &alone.sheet, &alone.sharing, limits[number]);
            }
            self.padding = by_sheet::padding_of_all(&mut self.each, &rows, &limits);
        } else {
            let map = self.map_of_sheet(0);
            let input = rows[0].input(model, &self.triangles.surface, map);
            self.padding = measure_padding(&input, &self.sheet, &self.sharing, Limits::new(brief, map));
        }
        self.rows = None;
    }

    /// What is kept for the next stage, or made again.
    fn rows(&mut self, model: &Model) -> Vec<SheetRows> {
        let mut rows = self.rows.take().unwrap_or_else(|| {
            if self.sheets.are_several() {
                let sheets = &self.sheets;
                SheetRows::of_each(model, &self.triangles, sheets.list.len(), &|face| sheets.of_face(face))
            } else {
                vec![SheetRows::of_all(model, &self.triangles)]
            }
        });
        let fresh = if self.sheets.are_several() { Vec::new() } else { std::mem::take(&mut rows[0].triangles) };
        if self.sheets.are_several() || !fresh.is_empty() {
            self.mapped = fresh;
            self.place_in_mapped = vec![u32::MAX; if self.mapped.is_empty() { 0 } else { model.triangle_count() }];
            self.mapped.iter().zip(0..).for_each(|(&triangle, place)| self.place_in_mapped[triangle as usize] = place);
        }
        rows
    }

    /// A sheet's map.
    pub fn map_of_sheet(&self, sheet: usize) -> SheetMap {
        self.sheets.list.get(sheet).map_or_else(SheetMap::default, |one| one.map)
    }

    /// The use of one sheet, and the padding on it without the list of gaps; those of the only one where there is one.
    pub fn of_sheet(&self, sheet: usize) -> (&Sheet, &Padding) {
        self.each.get(sheet).map_or((&self.sheet, &self.padding), |alone| (&alone.sheet, &alone.padding))
    }

    /// The model's triangle behind the sheet measures' `index`.
    pub fn mapped_triangle(&self, index: u32) -> u32 {
        if self.mapped.is_empty() { index } else { self.mapped[index as usize] }
    }

    /// The density that a shell's triangles are checked against, px per unit: the reference times the density_factor of
    /// its shell.
    pub fn reference_of(&self, shell: Option<u32>) -> Option<f64> {
        let density_factor =
            shell.and_then(|shell| self.shell_density.get(shell as usize)).map_or(1.0, |shell| shell.density_factor);
        self.density.reference.map(|reference| reference * density_factor)
    }

    /// The overlaps of a triangle of the model; none before [`Stage::Sharing`] and where unmapped.
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
