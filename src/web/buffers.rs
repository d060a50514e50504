//! Typed arrays for the graphics card: written a slice at a time, so that no whole copy stands in the module's memory.

use crate::brief::Brief;
use crate::lens::{self, TriangleTexel, flag};
use crate::measure::Measures;
use crate::measure::jacobian::Jacobian;
use crate::measure::lettering::{reason, reasons};
use crate::measure::sharing::ShareKind;
use crate::measure::triangles::{map_scale, state};
use crate::model::{EdgeKind, Model};
use glam::{DVec2, DVec3};
use js_sys::{Array, Float32Array, Int8Array, Object, Reflect, Uint32Array};
use serde::Serialize;
use wasm_bindgen::JsValue;

/// Triangles written at once: some 300 KB of positions.
const SLICE: usize = 8192;

fn object(entries: &[(&str, JsValue)]) -> Object {
    let object = Object::new();
    for (key, value) in entries {
        // Setting a key of a fresh plain object cannot fail.
        let _ = Reflect::set(&object, &JsValue::from_str(key), value);
    }
    object
}

fn numbers(values: &[f64]) -> JsValue {
    values.iter().map(|&value| JsValue::from_f64(value)).collect::<Array>().into()
}

pub(super) fn mesh(model: &Model, centre: DVec3, radius: f64) -> Object {
    let count = model.triangle_count();
    let position = Float32Array::new_with_length(9 * count as u32);
    let uv = Float32Array::new_with_length(6 * count as u32);
    let normal = Int8Array::new_with_length(12 * count as u32);
    let normals = model.corner_normals();
    let (mut positions, mut uvs, mut normal_bytes) = (Vec::new(), Vec::new(), Vec::new());
    let (mut low, mut high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
    for first in (0..count).step_by(SLICE) {
        let end = (first + SLICE).min(count);
        positions.clear();
        uvs.clear();
        normal_bytes.clear();
        for triangle in first..end {
            let mapped = model.uvs(triangle);
            for q in mapped.into_iter().flatten() {
                (low, high) = (low.min(q), high.max(q));
            }
            let q = mapped.unwrap_or_default();
            let corners = model.positions(triangle).into_iter().zip(q).zip(normals.of(triangle));
            for ((p, q), n) in corners {
                positions.extend((p - centre).as_vec3().to_array());
                uvs.extend(q.as_vec2().to_array());
                normal_bytes.extend((n * 127.0).round().to_array().map(|x| x as i8));
                normal_bytes.push(0);
            }
        }
        let (first, end) = (first as u32, end as u32);
        position.subarray(9 * first, 9 * end).copy_from(&positions);
        uv.subarray(6 * first, 6 * end).copy_from(&uvs);
        normal.subarray(12 * first, 12 * end).copy_from(&normal_bytes);
    }
    let bounds = if low.is_finite() { [low.x, low.y, high.x, high.y] } else { [0.0, 0.0, 1.0, 1.0] };
    object(&[
        ("triangle_count", JsValue::from_f64(count as f64)),
        ("position", position.into()),
        ("uv", uv.into()),
        ("normal", normal.into()),
        ("centre", numbers(&centre.to_array())),
        ("radius", JsValue::from_f64(radius)),
        ("bounds_uv", numbers(&bounds)),
        ("up", JsValue::from_str("y")),
    ])
}

pub(super) fn lines(model: &Model, centre: DVec3) -> Object {
    const NO_SHELL: u32 = 0x00FF_FFFF;
    let document = &model.document;
    let corner_position = |corner: u32| {
        let position = document.positions[document.corners[corner as usize].position.0 as usize];
        (DVec3::from_array(position) - centre).as_vec3()
    };
    let (mut sheet, mut sheet_shell) = (Vec::new(), Vec::new());
    for face in 0..document.face_count() {
        let Some(shell) = model.topology.face_shell[face] else { continue };
        for corner in document.face_starts[face]..document.face_starts[face + 1] {
            if !model.topology.shell_border[corner as usize] {
                continue;
            }
            let ends = [corner, model.next_corner(corner)]
                .map(|corner| document.corners[corner as usize].texcoord)
                .map(|id| id.map(|id| document.texcoords[id.index()]));
            if let [Some(a), Some(b)] = ends {
                sheet.extend([a, b].into_iter().flatten().map(|x| x as f32));
                sheet_shell.push(shell.0);
            }
        }
    }
    let (mut stage, mut stage_shell) = (Vec::new(), Vec::new());
    let shell_at = |corner: u32| {
        let face = document.face_starts.partition_point(|&start| start <= corner) - 1;
        model.topology.face_shell[face].map_or(NO_SHELL, |shell| shell.0)
    };
    for edge in &model.topology.edges {
        let first = shell_at(edge.corner);
        let second = edge.other.map_or(NO_SHELL, shell_at);
        if edge.kind == EdgeKind::NonManifold && first == second {
            continue;
        }
        stage.extend(corner_position(edge.corner).to_array());
        stage.extend(corner_position(model.next_corner(edge.corner)).to_array());
        stage_shell.extend([first, second]);
    }
    object(&[
        ("stage", Float32Array::from(stage.as_slice()).into()),
        ("sheet", Float32Array::from(sheet.as_slice()).into()),
        ("sheet_shell", Uint32Array::from(sheet_shell.as_slice()).into()),
        ("stage_shell", Uint32Array::from(stage_shell.as_slice()).into()),
    ])
}

pub(super) fn texels(model: &Model, measures: &Measures, brief: &Brief) -> Uint32Array {
    let count = model.triangle_count();
    let out = Uint32Array::new_with_length(4 * count as u32);
    let fold_angles = fold_angles(model, measures, brief);
    let mut words = Vec::with_capacity(4 * SLICE);
    for first in (0..count).step_by(SLICE) {
        let end = (first + SLICE).min(count);
        words.clear();
        for triangle in first..end {
            words.extend(texel(model, measures, brief, triangle, &fold_angles).encode());
        }
        out.subarray(4 * first as u32, 4 * end as u32).copy_from(&words);
    }
    out
}

fn texel(
    model: &Model,
    measures: &Measures,
    brief: &Brief,
    triangle: usize,
    fold_angles: &[Option<f32>],
) -> TriangleTexel {
    let shell = model.shell_of(triangle);
    let mut texel = TriangleTexel { shell, ..TriangleTexel::default() };
    if shell.is_some() {
        texel.flags |= flag::MAPPED;
    }
    if measures.triangles.state.is_empty() {
        return texel;
    }
    texel.state |= lens::state::MEASURED;
    let triangles = &measures.triangles;
    let mut flag_if = |condition: bool, bit: u8| texel.flags |= if condition { bit } else { 0 };
    flag_if(triangles.is_reversed(triangle), flag::REVERSED);
    flag_if(triangles.is(triangle, state::FOLDED), flag::FOLDED);
    flag_if(shell.is_some_and(|shell| measures.handedness.turned_over[shell as usize]), flag::TURNED_OVER);
    let shares = measures.shares(triangle);
    flag_if(shares.mirrored, flag::MIRRORED);
    flag_if(shares.stacked, flag::STACKED);
    flag_if(shares.crossing || shares.self_crossing, flag::CROSSING);
    let anisotropy = triangles.anisotropy(triangle);
    flag_if(anisotropy.is_some_and(|ratio| ratio > brief.stretch.max_anisotropy), flag::STRETCHED);
    let mut state_if = |condition: bool, bit: u16| texel.state |= if condition { bit } else { 0 };
    state_if(triangles.is(triangle, state::COLLAPSED_UV), lens::state::COLLAPSED);
    state_if(triangles.is(triangle, state::DEGENERATE_3D), lens::state::DEGENERATE);
    state_if(triangles.is(triangle, state::INSIDE_OUT), lens::state::INSIDE_OUT);
    state_if(!measures.sharing.triangles.is_empty(), lens::state::SHARING_MEASURED);
    let reasons = reasons(measures, triangle, brief);
    state_if(reasons & reason::TILTED != 0, lens::state::TILTED);
    state_if(reasons != 0, lens::state::UNSAFE);
    texel.tilt_deg = measures.tilt.of(triangle).map(|tilt| tilt as f32);
    let collapsed = triangles.is(triangle, state::COLLAPSED_UV).then_some(f32::INFINITY);
    texel.anisotropy = anisotropy.map(|ratio| ratio as f32).or(collapsed);
    if let (Some(density), Some(reference)) = (triangles.density(triangle), measures.reference_of(shell))
        && density > 0.0
        && reference > 0.0
    {
        let octaves = (density / reference).log2();
        texel.octaves = Some(octaves as f32);
        let tolerance = (1.0 + brief.density.tolerance_percent / 100.0).log2();
        texel.state |= if octaves.abs() > tolerance { lens::state::OFF_DENSITY } else { 0 };
    }
    if anisotropy.is_some()
        && let Some(q) = model.uvs(triangle)
        && let Some(jacobian) = Jacobian::try_new(model.positions(triangle), q, map_scale(brief.map))
    {
        texel.direction = Some(jacobian.stretch_angle_in_map() as f32);
    }
    if let Some(shell) = shell {
        texel.chevron = fold_angles.get(shell as usize).copied().flatten();
    }
    texel
}

/// Per shell, the direction in the map (radians, px) that leads on the surface towards the shell it is mirrored with.
fn fold_angles(model: &Model, measures: &Measures, brief: &Brief) -> Vec<Option<f32>> {
    let shells = model.topology.shell_count as usize;
    let mut partner: Vec<Option<(f64, u32)>> = vec![None; shells];
    for pair in measures.sharing.pairs.iter().filter(|pair| pair.kind == ShareKind::Mirrored && pair.a != pair.b) {
        for (shell, other) in [(pair.a, pair.b), (pair.b, pair.a)] {
            let best = &mut partner[shell as usize];
            if best.is_none_or(|(area, _)| pair.area_uv > area) {
                *best = Some((pair.area_uv, other));
            }
        }
    }
    let mut angles = vec![None; shells];
    if partner.iter().all(Option::is_none) {
        return angles;
    }
    let mut centres = vec![(DVec3::ZERO, 0.0); shells];
    let regular = || (0..model.triangle_count()).filter(|&t| measures.triangles.is_regular(t));
    for triangle in regular() {
        let Some(shell) = model.shell_of(triangle) else { continue };
        let area = measures.triangles.surface[triangle];
        let centre = &mut centres[shell as usize];
        centre.0 += model.positions(triangle).iter().sum::<DVec3>() / 3.0 * area;
        centre.1 += area;
    }
    let mut sums = vec![DVec2::ZERO; shells];
    for triangle in regular() {
        let Some(shell) = model.shell_of(triangle).map(|shell| shell as usize) else { continue };
        let (Some((_, other)), Some(q)) = (partner[shell], model.uvs(triangle)) else { continue };
        let (from, to) = (centres[shell], centres[other as usize]);
        if from.1 == 0.0 || to.1 == 0.0 {
            continue;
        }
        let towards = to.0 / to.1 - from.0 / from.1;
        let p = model.positions(triangle);
        let Some(jacobian) = Jacobian::try_new(p, q, map_scale(brief.map)) else { continue };
        let x = (p[1] - p[0]).normalize();
        let y = (p[1] - p[0]).cross(p[2] - p[0]).normalize().cross(x);
        let (dx, dy) = (towards.dot(x), towards.dot(y));
        sums[shell] += DVec2::new(jacobian.a * dx + jacobian.b * dy, jacobian.c * dx + jacobian.d * dy)
            * measures.triangles.surface[triangle];
    }
    for (angle, sum) in angles.iter_mut().zip(&sums) {
        *angle = (*sum != DVec2::ZERO).then(|| sum.y.atan2(sum.x) as f32);
    }
    angles
}

/// Area shares by value.
#[derive(Serialize)]
pub(super) struct Histogram {
    lo: f64,
    hi: f64,
    log: bool,
    counts: Vec<f64>,
    limits: Vec<f64>,
}

/// Bars of a histogram: fine enough to see two humps, coarse enough for a narrow card.
const BARS: usize = 48;
/// Anisotropy at the right end of its histogram; what is beyond stands in the last bar.
const ANISOTROPY_SHOWN: f64 = 4.0;
/// Octaves at either end of the size histogram.
const OCTAVES_SHOWN: f64 = 3.0;

pub(super) fn histogram(model: &Model, measures: &Measures, brief: &Brief, lens: &str) -> Option<Histogram> {
    if measures.triangles.state.is_empty() {
        return None;
    }
    measures.density.reference?;
    let tolerance = (1.0 + brief.density.tolerance_percent / 100.0).log2();
    let (lo, hi, log, limits) = match lens {
        "stretch" => (1.0, ANISOTROPY_SHOWN, true, vec![brief.stretch.max_anisotropy]),
        "size" => (-OCTAVES_SHOWN, OCTAVES_SHOWN, false, vec![-tolerance, tolerance]),
        _ => return None,
    };
    let mut counts = vec![0.0; BARS];
    let mut total = 0.0;
    for triangle in 0..model.triangle_count() {
        let value = if log {
            measures.triangles.anisotropy(triangle).map(|ratio| ratio.ln() / hi.ln())
        } else {
            let density = measures.triangles.density(triangle).filter(|d| *d > 0.0);
            let reference = measures.reference_of(model.shell_of(triangle));
            density.zip(reference).map(|(density, reference)| ((density / reference).log2() - lo) / (hi - lo))
        };
        if let Some(value) = value {
            let bar = ((value * BARS as f64).max(0.0) as usize).min(BARS - 1);
            counts[bar] += measures.triangles.surface[triangle];
            total += measures.triangles.surface[triangle];
        }
    }
    if total > 0.0 {
        counts.iter_mut().for_each(|count| *count /= total);
    }
    Some(Histogram { lo, hi, log, counts, limits })
}
