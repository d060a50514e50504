//! Each shell's row of the report, and its name for people.

use crate::brief::Brief;
use crate::measure::Measures;
use crate::measure::flat::density::{DensityGrade, density};
use crate::model::{Model, Run};
use crate::util::isolate::isolated;
use crate::util::packed;
use glam::DVec2;
use serde::Serialize;

/// One shell.
#[derive(Clone, Debug, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Shell {
    /// From 0, in order of its first face.
    pub id: u32,
    /// Its lowest face, from 0: its id in findings, decisions and notes.
    pub key: u32,
    /// Part of its first face.
    pub part: u32,
    /// Sheet of its first face, by its place in the report's list.
    pub sheet: u32,
    /// Object of its first face.
    pub object: Option<String>,
    /// Group of its first face.
    pub group: Option<String>,
    /// Material of its first face.
    pub material: Option<String>,
    /// Number of faces.
    pub faces: usize,
    /// Area on the surface, square units.
    pub surface: f64,
    /// Sum of |uv area|.
    pub uv: f64,
    /// px per unit.
    pub density: Option<f64>,
    /// density / (reference * density_factor): 1 is right; `None` without area.
    pub density_ratio: Option<f64>,
    /// Median of s1/s2.
    pub anisotropy_median: Option<f64>,
    /// Surface share over the brief's limit.
    pub share_over: Option<f64>,
    /// More than half reversed.
    pub flipped: bool,
    /// Triangles that disagree with it.
    pub folded: u32,
    /// Angle from world-up to texture-up, degrees in (-180, 180], counter-clockwise seen from the front.
    pub tilt_deg: Option<f64>,
    /// Share of its surface that is safe for text.
    pub text_share: Option<f64>,
    /// u0, v0, u1, v1.
    pub bounds_uv: Option<[f64; 4]>,
}

/// Density of what belongs to one name (or, without any, one part), has one density factor and is judged alike.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct DensityPart {
    /// Its object, or else group, or else material, or else `part` and its number.
    pub name: String,
    /// Area on the surface, square units.
    pub surface: f64,
    /// Of all its shells together.
    pub density_px_per_unit: f64,
    /// Factor on the reference that the brief gives it; 1 where it gives none.
    pub density_factor: f64,
    /// density / (reference * density_factor): 1 is right.
    pub factor: f64,
    /// How its shells are judged.
    pub grade: DensityGrade,
    /// Its shells, rising.
    pub shells: Vec<u32>,
}

/// Names of faces, looked up by run.
pub struct Names<'a> {
    model: &'a Model,
}

impl<'a> Names<'a> {
    /// For one model.
    pub fn new(model: &'a Model) -> Self {
        Self { model }
    }

    /// Object, group and material of a face.
    pub fn of(&self, face: usize) -> [Option<&'a str>; 3] {
        self.model.document.names_of(face)
    }

    /// Per face, whether its object, a group or its material has this name; `None` where no face does. A face of several
    /// groups (`g a b`) has each of their names, and all of them together.
    pub fn faces_named(&self, name: &str) -> Option<Vec<bool>> {
        let document = &self.model.document;
        let mut faces = vec![false; document.face_count()];
        let mut mark = |runs: &[Run], is: &dyn Fn(&Run) -> bool| {
            for (index, run) in runs.iter().enumerate().filter(|(_, run)| is(run)) {
                let end = runs.get(index + 1).map_or(faces.len(), |next| next.face as usize);
                faces[run.face as usize..end].fill(true);
            }
        };
        let named = |names: &[String], run: &Run| names.get(run.name as usize).is_some_and(|own| own == name);
        mark(&document.object_runs, &|run| named(&document.objects, run));
        mark(&document.material_runs, &|run| named(&document.materials, run));
        mark(&document.group_runs, &|run| {
            let group = document.groups.get(run.name as usize);
            group.is_some_and(|group| group == name || group.split(' ').any(|word| word == name))
        });
        faces.contains(&true).then_some(faces)
    }

    /// All names of objects, groups and materials, each once, in the order of their code points.
    pub fn all(&self) -> Vec<&'a str> {
        let document = &self.model.document;
        let names = [&document.objects, &document.groups, &document.materials].into_iter().flatten();
        let mut names: Vec<&str> = names.map(String::as_str).filter(|name| !name.is_empty()).collect();
        names = packed::ordered(names, |a, b| a.cmp(b));
        names.dedup();
        names
    }
}

/// A shell's name for people: its object, group or material, whichever the file has, and its number.
pub fn shell_label(shell: &Shell) -> String {
    match part_label(shell) {
        Some(name) => format!("{}, shell {}", isolated(name), shell.id),
        None => format!("shell {}", shell.id),
    }
}

/// Object, or else group, or else material.
pub(crate) fn part_label(shell: &Shell) -> Option<&str> {
    [&shell.object, &shell.group, &shell.material].into_iter().flatten().map(String::as_str).next()
}

pub(crate) fn shells(model: &Model, measures: &Measures, names: &Names) -> Vec<Shell> {
    let count = model.layout.shell_count as usize;
    let mut first_face = vec![None; count];
    let mut faces = vec![0usize; count];
    let mut bounds: Vec<Option<(DVec2, DVec2)>> = vec![None; count];
    for (face, shell) in model.layout.face_shells().enumerate() {
        let Some(shell) = shell.map(|shell| shell as usize) else { continue };
        first_face[shell].get_or_insert(face);
        faces[shell] += 1;
        for uv in model.uvs_of_face(face) {
            let (low, high) = bounds[shell].get_or_insert((uv, uv));
            (*low, *high) = (low.min(uv), high.max(uv));
        }
    }
    (0..count)
        .map(|shell| {
            let face = first_face[shell].unwrap_or(0);
            let sheet = measures.sheets.of_face(face) as u32;
            let [object, group, material] = names.of(face).map(|name| name.map(str::to_owned));
            let density = measures.shell_density.get(shell).copied().unwrap_or_default();
            let stretch = measures.shell_stretch.get(shell).copied().unwrap_or_default();
            Shell {
                id: shell as u32,
                key: face as u32,
                sheet,
                part: model.face_part.get(face).copied().unwrap_or(0),
                object,
                group,
                material,
                faces: faces[shell],
                surface: density.surface,
                uv: density.area_uv,
                density: density.density,
                density_ratio: measures.density.reference.and_then(|reference| density.factor(reference)),
                anisotropy_median: stretch.anisotropy_median,
                share_over: stretch.share_over,
                flipped: measures.handedness.flipped.get(shell).copied().unwrap_or(false),
                folded: measures.handedness.folded.get(shell).copied().unwrap_or(0),
                tilt_deg: measures.tilt.shells.get(shell).copied().flatten(),
                text_share: measures.text.shells.get(shell).copied().flatten(),
                bounds_uv: bounds[shell].map(|(low, high)| [low.x, low.y, high.x, high.y]),
            }
        })
        .collect()
}

/// Density by name, density factor and grade, the furthest from 1 in octaves first; only what has area on surface and sheet.
pub(crate) fn density_parts(measures: &Measures, brief: &Brief, shells: &[Shell]) -> Vec<DensityPart> {
    let Some(reference) = measures.density.reference.filter(|reference| *reference > 0.0) else { return Vec::new() };
    let mut judged = Vec::new();
    for ((row, density), stretch) in shells.iter().zip(&measures.shell_density).zip(&measures.shell_stretch) {
        let Some(factor) = density.factor(reference) else { continue };
        let name = part_label(row).map_or_else(|| format!("part {}", row.part), str::to_owned);
        // Bits of positive numbers are in the order of the numbers.
        let kind = (name, density.density_factor.to_bits(), DensityGrade::of(factor, stretch, brief));
        judged.push((kind, row.id));
    }
    let judged = packed::ordered(judged, |a, b| a.0.cmp(&b.0));
    let parts: Vec<DensityPart> = judged
        .chunk_by(|a, b| a.0 == b.0)
        .filter_map(|same| {
            let (name, density_factor, grade) = same[0].0.clone();
            let density_factor = f64::from_bits(density_factor);
            let shells: Vec<u32> = same.iter().map(|(_, shell)| *shell).collect();
            let (mut surface, mut area_px) = (0.0, 0.0);
            for &shell in &shells {
                let sums = measures.shell_density[shell as usize];
                (surface, area_px) = (surface + sums.surface, area_px + sums.area_px);
            }
            let density = density(area_px, surface)?;
            let factor = density / (reference * density_factor);
            Some(DensityPart { name, surface, density_px_per_unit: density, density_factor, factor, grade, shells })
        })
        .collect();
    let off = |part: &DensityPart| part.factor.log2().abs();
    packed::ordered(parts, |a, b| off(b).total_cmp(&off(a)).then_with(|| a.name.cmp(&b.name)))
}
