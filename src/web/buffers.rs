//! Typed arrays for the graphics card: written a slice at a time, so that the module's memory has no whole copy.

use crate::brief::Brief;
use crate::lens::{NO_SHELL, Texels, flag, state};
use crate::measure::Measures;
use crate::measure::rays::seams::SeamEdge;
use crate::model::{EdgeKind, Model};
use crate::util::three;
use glam::{DVec2, DVec3};
use js_sys::{Array, Float32Array, Int8Array, Object, Reflect, Uint32Array};
use serde::Serialize;
use tsify::Tsify;
use wasm_bindgen::prelude::*;

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

#[wasm_bindgen(typescript_custom_section)]
const MESH: &str = r"
/** The model's triangles as the view draws them, corners unshared. */
export interface MeshBuffers {
    triangle_count: number;
    /** 9 a triangle; file coordinates minus `centre`. */
    position: Float32Array;
    /** 6 a triangle; 0 where unmapped. */
    uv: Float32Array;
    /** 12 a triangle: x, y, z, 0 per corner, times 127. */
    normal: Int8Array;
    /**
     * Two a run of triangles: the first of them, and its material by `Summary.materials`, or 2³² − 1; before the first run
     * there is none.
     */
    materials: Uint32Array;
    centre: [number, number, number];
    /** Of the bounding sphere, model units. */
    radius: number;
    /** u0, v0, u1, v1. */
    bounds_uv: [number, number, number, number];
    up: string;
}
";

pub(super) fn mesh(model: &Model, centre: DVec3, radius: f64) -> Object {
    let count = model.triangle_count();
    let position = Float32Array::new_with_length(9 * count as u32);
    let normal = Int8Array::new_with_length(12 * count as u32);
    let normals = model.corner_normals();
    let (mut positions, mut bytes) = (vec![0.0; 9 * SLICE], vec![0; 12 * SLICE]);
    for first in (0..count).step_by(SLICE) {
        let end = (first + SLICE).min(count);
        let mut corners = positions.as_chunks_mut().0.iter_mut().zip(bytes.as_chunks_mut().0);
        for triangle in first..end {
            let p = model.positions(triangle);
            let [a, b, c] = normals.of(triangle, p);
            let [pa, pb, pc] = p;
            for (p, n) in [(pa, a), (pb, b), (pc, c)] {
                let Some((position, normal)) = corners.next() else { break };
                *position = (p - centre).as_vec3().to_array();
                let [x, y, z] = three::each((n * 127.0).to_array(), |x| x.round_ties_even() as i8);
                *normal = [x, y, z, 0];
            }
        }
        let of = end - first;
        let (first, end) = (first as u32, end as u32);
        position.subarray(9 * first, 9 * end).copy_from(&positions[..9 * of]);
        normal.subarray(12 * first, 12 * end).copy_from(&bytes[..12 * of]);
    }
    let (uv, bounds) = uvs(model);
    object(&[
        ("triangle_count", JsValue::from_f64(count as f64)),
        ("position", position.into()),
        ("uv", uv.into()),
        ("normal", normal.into()),
        ("materials", Uint32Array::from(materials(model).as_slice()).into()),
        ("centre", numbers(&centre.to_array())),
        ("radius", JsValue::from_f64(radius)),
        ("bounds_uv", bounds),
        ("up", JsValue::from_str("y")),
    ])
}

/// The uvs of all triangles, 0 where unmapped, and the box around them: lowest u and v, highest u and v.
pub(super) fn uvs(model: &Model) -> (Float32Array, JsValue) {
    let count = model.triangle_count();
    let uv = Float32Array::new_with_length(6 * count as u32);
    let mut slice = vec![0.0; 6 * SLICE];
    let (mut low, mut high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
    for first in (0..count).step_by(SLICE) {
        let end = (first + SLICE).min(count);
        let mut corners = slice.as_chunks_mut().0.iter_mut();
        for triangle in first..end {
            let mapped = model.uvs(triangle);
            for q in mapped.into_iter().flatten() {
                (low, high) = (low.min(q), high.max(q));
            }
            for (q, out) in mapped.unwrap_or_default().into_iter().zip(&mut corners) {
                *out = q.as_vec2().to_array();
            }
        }
        uv.subarray(6 * first as u32, 6 * end as u32).copy_from(&slice[..6 * (end - first)]);
    }
    let bounds = if low.is_finite() { [low.x, low.y, high.x, high.y] } else { [0.0, 0.0, 1.0, 1.0] };
    (uv, numbers(&bounds))
}

/// Two numbers a run of triangles: the first of them, and its material by the document's list, `u32::MAX` for one without a
/// name. Triangles before the first run have no material.
fn materials(model: &Model) -> Vec<u32> {
    let document = &model.document;
    let runs = document.material_runs.iter().filter(|run| (run.face as usize) < document.face_count());
    runs.flat_map(|run| {
        let named = document.materials.get(run.name as usize).is_some_and(|name| !name.is_empty());
        [model.triangles_of(run.face as usize).start as u32, if named { run.name } else { u32::MAX }]
    })
    .collect()
}

#[wasm_bindgen(typescript_custom_section)]
const LINES: &str = r"
/**
 * Outlines of shells, as segments. A shell is the lower 24 bits. The byte above is 0 where the segment is no seam, or
 * nobody has looked at it yet; else its share in front in thirds (2 bits), and one more than its exposure in 62nds.
 */
export interface LineBuffers {
    /** Length over the area that they lie on: on the sheet, uv, and on the stage, units of the model. */
    density: [sheet: number, stage: number];
    /** x y z, x y z a segment, minus the mesh's centre. */
    stage: Float32Array;
    /** u v, u v a segment. */
    sheet: Float32Array;
    /** Shell of each sheet segment, and the byte. */
    sheet_shell: Uint32Array;
    /** Two a segment: the shells on either side, and the byte with the first. */
    stage_shell: Uint32Array;
}
";

/// Borders of shells, on the sheet those of one sheet. Above the 24 bits of a segment's shell is its seam's visibility:
/// see [`seen`]. `areas`: what [`areas`] says of the model.
pub(super) fn lines(model: &Model, measures: &Measures, areas: [f64; 2], centre: DVec3, shown: usize) -> Object {
    let document = &model.document;
    let mut seen_at = vec![0_u8; document.corners.len()];
    for seam in &measures.seams.edges {
        let edge = &model.layout.edges[seam.edge as usize];
        for corner in std::iter::once(edge.corner).chain(edge.other) {
            seen_at[corner as usize] = seen(seam);
        }
    }
    let with_seen = |shell: u32, corner: u32| shell.min(NO_SHELL) | u32::from(seen_at[corner as usize]) << 24;
    let corner_position = |corner: u32| {
        let position = document.positions[document.corners[corner as usize].position.0 as usize];
        (DVec3::from_array(position) - centre).as_vec3()
    };
    let (mut sheet, mut sheet_shell) = (Vec::new(), Vec::new());
    for face in 0..document.face_count() {
        let Some(shell) = model.layout.shell_of_face(face) else { continue };
        if measures.sheets.of_face(face) != shown {
            continue;
        }
        for corner in document.face_starts[face]..document.face_starts[face + 1] {
            if !model.layout.is_border(corner) {
                continue;
            }
            let ends = [corner, model.next_corner(corner)].map(|corner| model.layout.uv_of_corner(corner));
            if let [Some(a), Some(b)] = ends {
                sheet.extend([a, b].into_iter().flat_map(|uv| uv.to_array()).map(|x| x as f32));
                sheet_shell.push(with_seen(shell, corner));
            }
        }
    }
    let (mut stage, mut stage_shell) = (Vec::new(), Vec::new());
    let shell_at = |corner: u32| {
        let face = document.face_starts.partition_point(|&start| start <= corner) - 1;
        model.layout.shell_of_face(face).unwrap_or(NO_SHELL)
    };
    for edge in &model.layout.edges {
        let first = shell_at(edge.corner);
        let second = edge.other.map_or(NO_SHELL, shell_at);
        if edge.kind == EdgeKind::NonManifold && first == second {
            continue;
        }
        stage.extend(corner_position(edge.corner).to_array());
        stage.extend(corner_position(model.next_corner(edge.corner)).to_array());
        stage_shell.extend([with_seen(first, edge.corner), second.min(NO_SHELL)]);
    }
    let [area_uv, surface] = areas;
    let density = [line_density(&sheet, 2, area_uv), line_density(&stage, 3, surface)];
    object(&[
        ("density", numbers(&density)),
        ("stage", Float32Array::from(stage.as_slice()).into()),
        ("sheet", Float32Array::from(sheet.as_slice()).into()),
        ("sheet_shell", Uint32Array::from(sheet_shell.as_slice()).into()),
        ("stage_shell", Uint32Array::from(stage_shell.as_slice()).into()),
    ])
}

/// Length of segments, `axes` numbers an end, over `area`; 0 where there is none.
fn line_density(ends: &[f32], axes: usize, area: f64) -> f64 {
    let mut length = 0.0;
    for segment in ends.chunks_exact(2 * axes) {
        let (a, b) = segment.split_at(axes);
        let mut squared = 0.0;
        for axis in 0..axes {
            let along = f64::from(b[axis] - a[axis]);
            squared += along * along;
        }
        length += squared.sqrt();
    }
    if area > 0.0 { length / area } else { 0.0 }
}

/// Area of all triangles on the sheet, uv, and of the model. On the sheet, where they may overlap, it is no more than
/// that of the box around them.
pub(super) fn areas(model: &Model) -> [f64; 2] {
    let (mut sheet, mut surface) = (0.0, 0.0);
    let (mut low, mut high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
    for triangle in 0..model.triangle_count() {
        let [a, b, c] = model.positions(triangle);
        surface += (b - a).cross(c - a).length() / 2.0;
        let Some([a, b, c]) = model.uvs(triangle) else { continue };
        sheet += (b - a).perp_dot(c - a).abs() / 2.0;
        (low, high) = (low.min(a).min(b).min(c), high.max(a).max(b).max(c));
    }
    let size = high - low;
    [if size.x * size.y < sheet { size.x * size.y } else { sheet }, surface]
}

/// A seam in 8 bits, never 0: its share in front in thirds, and above 0 in 6 bits its exposure in 62nds.
fn seen(seam: &SeamEdge) -> u8 {
    (seam.front * 3.0).round() as u8 * 64 + 1 + (seam.exposure * 62.0).round() as u8
}

/// Share of all surface, 0..1, of each kind.
#[derive(Serialize, Tsify)]
pub(super) struct Areas {
    mapped: f64,
    reversed: f64,
    flipped: f64,
    folded: f64,
    /// Or collapsed on the sheet.
    stretched: f64,
    mirrored: f64,
    stacked: f64,
    partial_overlap: f64,
    /// Any of the three before.
    shared: f64,
    tilted: f64,
    /// For text.
    r#unsafe: f64,
}

/// What is measured so far, but whether densities are off.
pub(super) fn areas_by_kind(model: &Model, measures: &Measures, brief: &Brief) -> Areas {
    const SHARED: u8 = flag::MIRRORED | flag::STACKED | flag::PARTIAL_OVERLAP;
    let texels = Texels::new(model, measures, brief);
    let mut sums = [0.0; 11];
    let mut all = 0.0;
    for (triangle, surface) in measures.triangles.surface.iter().enumerate() {
        let (flags, states) = texels.bits_of(triangle);
        let is = |bits: u8| flags & bits != 0;
        let is_in = |bits: u16| states & bits != 0;
        let kinds = [
            is(flag::MAPPED),
            is(flag::REVERSED),
            is(flag::FLIPPED),
            is(flag::FOLDED),
            is(flag::STRETCHED) || is_in(state::COLLAPSED),
            is(flag::MIRRORED),
            is(flag::STACKED),
            is(flag::PARTIAL_OVERLAP),
            is(SHARED),
            is_in(state::TILTED),
            is_in(state::UNSAFE),
        ];
        all += surface;
        sums.iter_mut().zip(kinds).filter(|(_, is_one)| *is_one).for_each(|(sum, _)| *sum += surface);
    }
    let [mapped, reversed, flipped, folded, stretched, mirrored, stacked, partial_overlap, shared, tilted, r#unsafe] =
        sums.map(|sum| if all > 0.0 { sum / all } else { 0.0 });
    Areas { mapped, reversed, flipped, folded, stretched, mirrored, stacked, partial_overlap, shared, tilted, r#unsafe }
}

pub(super) fn texels(model: &Model, measures: &Measures, brief: &Brief, sheet: usize) -> Uint32Array {
    let count = model.triangle_count();
    let out = Uint32Array::new_with_length(4 * count as u32);
    let texels = Texels::new(model, measures, brief).on_sheet(sheet);
    let mut words = Vec::with_capacity(4 * SLICE);
    for first in (0..count).step_by(SLICE) {
        let end = (first + SLICE).min(count);
        words.clear();
        for triangle in first..end {
            words.extend(texels.of(triangle).encode());
        }
        out.subarray(4 * first as u32, 4 * end as u32).copy_from(&words);
    }
    out
}
