//! What the stages of the sheet read, and measures of several sheets put together.
//!
//! Where a model has one sheet, its uvs and shells have the model's own numbers, and what is measured of it is what is
//! measured of the model. Of several, each is measured alone, with its own numbering, so that its cost depends on its
//! own triangles; then the model's numbering is restored, and the sums are those of all. Cost: linear in triangles, n
//! log n in the shells of each sheet.
//!
//! So 81 materials cost no more than one. Nothing is copied where there is one sheet.

use super::input::SheetInput;
use super::padding::{GAPS_MAX, Gap, Limits, Padding};
use super::sharing::Sharing;
use super::usage::{SamplingErrors, Sheet};
use crate::brief::SheetMap;
use crate::measure::flat::triangles::{TriangleMeasures, state};
use crate::model::Model;
use crate::util::packed;
use glam::DVec2;

/// What the stages of the sheet take of each mapped triangle of a sheet.
#[derive(Clone, Debug, Default)]
pub(in crate::measure) struct SheetRows {
    uv: Vec<[u32; 3]>,
    shell: Vec<u32>,
    reversed: Vec<bool>,
    /// Empty when none is.
    sliver: Vec<bool>,
    /// Empty when all of the model's are mapped and there is one sheet: then it is with the triangles.
    surface: Vec<f64>,
    /// Triangles of the model, rising; empty when all are mapped and there is one sheet.
    pub(in crate::measure) triangles: Vec<u32>,
    /// Own uvs and shells; `None` where there is one sheet.
    own: Option<Own>,
}

/// A sheet's own numbering.
#[derive(Clone, Debug, Default)]
struct Own {
    uv: Vec<DVec2>,
    /// Those of the model, rising.
    shells: Vec<u32>,
}

impl SheetRows {
    /// Of all mapped triangles, on one sheet.
    pub(in crate::measure) fn of_all(model: &Model, triangles: &TriangleMeasures) -> Self {
        let count = model.triangle_count();
        let mut rows = Self {
            uv: Vec::with_capacity(count),
            shell: Vec::with_capacity(count),
            reversed: Vec::with_capacity(count),
            ..Self::default()
        };
        let all_mapped = model.layout.unmapped_count() == 0;
        for triangle in 0..model.triangle_count() {
            if let Some(uv) = model.uv_value_indices(triangle) {
                rows.push(model, triangles, triangle, uv);
                if !all_mapped {
                    rows.surface.push(triangles.surface[triangle]);
                    rows.triangles.push(triangle as u32);
                }
            }
        }
        rows
    }

    /// Of `count` sheets; `sheet_of`: of a face, others than those sheets are left out.
    pub(in crate::measure) fn of_each(
        model: &Model,
        triangles: &TriangleMeasures,
        count: usize,
        sheet_of: &dyn Fn(usize) -> usize,
    ) -> Vec<Self> {
        let mut sheets = vec![Self::default(); count];
        for triangle in 0..model.triangle_count() {
            let Some(uv) = model.uv_value_indices(triangle) else { continue };
            let Some(rows) = sheets.get_mut(sheet_of(model.face_of(triangle))) else { continue };
            rows.push(model, triangles, triangle, uv);
            rows.surface.push(triangles.surface[triangle]);
            rows.triangles.push(triangle as u32);
        }
        let mut uv_numbers = vec![u32::MAX; model.layout.uv_values.len()];
        let mut shell_numbers = vec![0; model.layout.shell_count as usize];
        for rows in &mut sheets {
            rows.renumber(model, &mut uv_numbers, &mut shell_numbers);
        }
        sheets
    }

    fn push(&mut self, model: &Model, triangles: &TriangleMeasures, triangle: usize, uv: [u32; 3]) {
        let Some(shell) = model.shell_of(triangle) else { return };
        self.uv.push(uv);
        self.shell.push(shell);
        self.reversed.push(triangles.is_reversed(triangle));
        if triangles.is(triangle, state::SLIVER) {
            self.sliver.resize(self.uv.len() - 1, false);
            self.sliver.push(true);
        }
    }

    /// Numbers uvs and shells within the sheet. `uv_numbers`: all `u32::MAX`, also afterwards.
    fn renumber(&mut self, model: &Model, uv_numbers: &mut [u32], shell_numbers: &mut [u32]) {
        let mut of_model: Vec<u32> = Vec::new();
        for corner in self.uv.iter_mut().flatten() {
            let number = &mut uv_numbers[*corner as usize];
            if *number == u32::MAX {
                *number = of_model.len() as u32;
                of_model.push(*corner);
            }
            *corner = *number;
        }
        let mut shells = self.shell.clone();
        shells.sort_unstable();
        shells.dedup();
        (0..).zip(&shells).for_each(|(number, &shell)| shell_numbers[shell as usize] = number);
        self.shell.iter_mut().for_each(|shell| *shell = shell_numbers[*shell as usize]);
        let uv = of_model.iter().map(|&index| model.layout.uv_values[index as usize]).collect();
        of_model.iter().for_each(|&index| uv_numbers[index as usize] = u32::MAX);
        self.own = Some(Own { uv, shells });
    }

    /// What the measures read; `surface`: of all triangles of the model.
    pub(in crate::measure) fn input<'a>(
        &'a self,
        model: &'a Model,
        surface: &'a [f64],
        map: SheetMap,
    ) -> SheetInput<'a> {
        let (uv, shell_count) = match &self.own {
            Some(own) => (&own.uv, own.shells.len() as u32),
            None => (&model.layout.uv_values, model.layout.shell_count),
        };
        let own_surface = self.surface.len() == self.uv.len();
        SheetInput {
            uv,
            triangles: &self.uv,
            shell: &self.shell,
            shell_count,
            reversed: &self.reversed,
            sliver: &self.sliver,
            surface: if own_surface { &self.surface } else { surface },
            map,
        }
    }

    fn shell_of_model(&self, shell: u32) -> u32 {
        self.own.as_ref().map_or(shell, |own| own.shells[shell as usize])
    }
}

/// What is measured of one sheet of several.
#[derive(Clone, Debug, Default)]
pub struct Alone {
    /// Its use.
    pub sheet: Sheet,
    /// Its overlaps, with its own numbering and without its triangles.
    pub(in crate::measure) sharing: Sharing,
    /// Its padding without the list of gaps, with the model's numbers.
    pub padding: Padding,
}

/// The use of all sheets together: areas are sums, and those without area on them have no tiles.
pub(in crate::measure) fn sheet_of_all(each: &[Alone]) -> Sheet {
    let mut all = Sheet::default();
    let (mut inside, mut twice, mut over, mut outside, mut tile_count) = (0.0, 0.0, 0.0, 0.0, 0);
    let (mut errors, mut is_sampled) = ([0.0; 3], false);
    for sheet in each.iter().map(|alone| &alone.sheet).filter(|sheet| sheet.uv_area > 0.0) {
        let tiles = sheet.tiles.len() as f64;
        tile_count += sheet.tiles.len();
        all.uv_area += sheet.uv_area;
        all.union_area += sheet.union_area;
        inside += sheet.coverage * tiles;
        twice += sheet.overlap_share.unwrap_or(0.0) * sheet.union_area;
        over += sheet.overlap_excess.unwrap_or(0.0) * sheet.union_area;
        outside += sheet.outside_share.unwrap_or(0.0) * sheet.uv_area;
        if let Some(own) = sheet.sampling_errors {
            is_sampled = true;
            let own =
                [own.coverage * tiles, own.overlap_share * sheet.union_area, own.overlap_excess * sheet.union_area];
            (0..3).for_each(|kind| errors[kind] += own[kind] * own[kind]);
        }
        all.tiles.extend(&sheet.tiles);
    }
    all.tiles.sort_unstable();
    all.tiles.dedup();
    if all.tiles.is_empty() {
        (all.tiles, tile_count) = (vec![crate::brief::FIRST_TILE], 1);
    }
    let of_union = |area: f64| (all.union_area > 0.0).then(|| area / all.union_area);
    all.coverage = inside / tile_count as f64;
    all.overlap_share = of_union(twice);
    all.overlap_excess = of_union(over);
    all.outside_share = (all.uv_area > 0.0 && all.uv_area.is_finite()).then(|| outside / all.uv_area);
    all.sampling_errors = is_sampled.then(|| SamplingErrors {
        coverage: errors[0].sqrt() / tile_count as f64,
        overlap_share: of_union(errors[1].sqrt()).unwrap_or(0.0),
        overlap_excess: of_union(errors[2].sqrt()).unwrap_or(0.0),
    });
    all
}

/// The overlaps of all sheets together; what `each` keeps is without its triangles afterwards.
pub(in crate::measure) fn sharing_of_all(each: &mut [Alone], rows: &[SheetRows], triangle_count: usize) -> Sharing {
    let mut all = Sharing::of(triangle_count);
    let (mut mirrored, mut mapped) = (0.0, 0.0);
    for (alone, rows) in each.iter_mut().zip(rows) {
        let own = &mut alone.sharing;
        let triangles = std::mem::take(&mut own.triangles);
        triangles.into_iter().zip(&rows.triangles).for_each(|(shares, &at)| all.triangles[at as usize] = shares);
        all.take_shared(own, &rows.triangles);
        for pair in &own.pairs {
            let mut pair = pair.clone();
            (pair.a, pair.b) = (rows.shell_of_model(pair.a), rows.shell_of_model(pair.b));
            pair.example_a = rows.triangles[pair.example_a as usize];
            pair.example_b = rows.triangles[pair.example_b as usize];
            all.pairs.push(pair);
        }
        for group in &own.equal {
            all.equal.push(group.iter().map(|&shell| rows.shell_of_model(shell)).collect());
        }
        let surface: f64 = rows.surface.iter().sum();
        mapped += surface;
        mirrored += own.mirrored_share.unwrap_or(0.0) * surface;
        all.at_least |= own.at_least;
    }
    // Two shells may overlap on two sheets.
    all.pairs = packed::ordered(all.pairs, |x, y| (x.a, x.b, x.kind).cmp(&(y.a, y.b, y.kind)));
    all.equal = packed::ordered(std::mem::take(&mut all.equal), |x, y| x.cmp(y));
    all.mirrored_share = (mapped > 0.0).then(|| mirrored / mapped);
    all
}

/// The padding of all sheets together; what `each` keeps is without its gaps afterwards. `limits`: of each.
pub(in crate::measure) fn padding_of_all(each: &mut [Alone], rows: &[SheetRows], limits: &[Limits]) -> Padding {
    let mut all = Padding::default();
    for (number, (alone, rows)) in each.iter_mut().zip(rows).enumerate() {
        let own = &mut alone.padding;
        let to_model = |gap: &mut Gap| {
            gap.sheet = number as u32;
            gap.a = rows.shell_of_model(gap.a);
            gap.b = gap.b.map(|shell| rows.shell_of_model(shell));
            gap.triangle_a = rows.triangles[gap.triangle_a as usize];
            gap.triangle_b = gap.triangle_b.map(|triangle| rows.triangles[triangle as usize]);
        };
        for gap in &mut own.gaps {
            to_model(gap);
        }
        own.between.as_mut().map(to_model);
        own.border.as_mut().map(to_model);
        for shell in &mut own.across {
            *shell = rows.shell_of_model(*shell);
        }
        let least = |a: Option<Gap>, b: Option<Gap>| match (a, b) {
            (Some(a), Some(b)) => Some(if b.px < a.px { b } else { a }),
            (a, b) => a.or(b),
        };
        all.between = least(all.between, own.between);
        all.border = least(all.border, own.border);
        all.gaps.append(&mut own.gaps);
        all.gap_count += own.gap_count;
        all.at_least |= own.at_least;
        all.across.extend(&own.across);
    }
    let share = |gap: &Gap| gap.px / limits[gap.sheet as usize].of(gap);
    let place = |gap: &Gap| (gap.a, gap.b, gap.sheet);
    all.gaps = packed::ordered(all.gaps, |x, y| share(x).total_cmp(&share(y)).then_with(|| place(x).cmp(&place(y))));
    all.gaps.truncate(GAPS_MAX);
    all.across.sort_unstable();
    all.across.dedup();
    all
}
