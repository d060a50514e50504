//! The demo's models against their generator and against the planted sizes, by separate arithmetic of this file.
//!
//! Sources: cylinders, cones and discs unroll exactly, and a planar projection shrinks a facet by the sine of its angle
//! from the silhouette (elementary geometry); singular values by the closed form of a 2 x 2 matrix. Gap, border and
//! coverage limits: common practice, no source.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::OnceLock;

use crate::lantern::{self, BORDER_PX, GAP_PX, Kind, Lantern, Planted, SHEET_PX};
use glam::{DVec2, DVec3, dvec2};

/// Rounding of the written numbers (1e-5 cm on edges of a few mm), as a relative size.
const ROUNDING: f64 = 1e-3;

fn revised() -> &'static Lantern {
    static MADE: OnceLock<Lantern> = OnceLock::new();
    MADE.get_or_init(|| lantern::revised().unwrap())
}

fn draft() -> &'static Lantern {
    static MADE: OnceLock<Lantern> = OnceLock::new();
    MADE.get_or_init(|| lantern::draft().unwrap())
}

fn planted(kind: Kind) -> &'static Planted {
    draft().planted.iter().find(|fault| fault.kind == kind).unwrap()
}

fn size(kind: Kind, name: &str) -> f64 {
    planted(kind).value(name).unwrap_or_else(|| panic!("{kind:?} has no {name}"))
}

#[track_caller]
fn assert_close(actual: f64, expected: f64) {
    assert!((actual - expected).abs() <= ROUNDING * expected.abs(), "{actual} is not {expected} within {ROUNDING}");
}

// --- a reader just for what the generator writes ---------------------------------------------------------------

struct Face {
    object: String,
    group: String,
    points: Vec<usize>,
    p: Vec<DVec3>,
    uv: Vec<DVec2>,
    n: Vec<DVec3>,
}

fn read(text: &str) -> Vec<Face> {
    let numbers = |rest: &str| -> Vec<f64> { rest.split(' ').map(|word| word.parse().unwrap()).collect() };
    let (mut v, mut vt, mut vn, mut faces) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let (mut object, mut group) = (String::new(), String::new());
    for line in text.lines() {
        let (keyword, rest) = line.split_once(' ').unwrap_or((line, ""));
        match keyword {
            "v" => v.push(DVec3::from_slice(&numbers(rest))),
            "vn" => vn.push(DVec3::from_slice(&numbers(rest))),
            "vt" => vt.push(DVec2::from_slice(&numbers(rest)) * SHEET_PX),
            "o" => object = rest.to_owned(),
            "g" => group = rest.to_owned(),
            "f" => {
                let corners: Vec<Vec<usize>> =
                    rest.split(' ').map(|c| c.split('/').map(|i| i.parse::<usize>().unwrap() - 1).collect()).collect();
                faces.push(Face {
                    object: object.clone(),
                    group: group.clone(),
                    points: corners.iter().map(|c| c[0]).collect(),
                    p: corners.iter().map(|c| v[c[0]]).collect(),
                    uv: corners.iter().map(|c| vt[c[1]]).collect(),
                    n: corners.iter().map(|c| vn[c[2]]).collect(),
                });
            }
            _ => {}
        }
    }
    faces
}

fn in_group<'a>(faces: &'a [Face], group: &str) -> Vec<&'a Face> {
    let found: Vec<&Face> = faces.iter().filter(|face| face.group == group).collect();
    assert!(!found.is_empty(), "no group {group}");
    found
}

/// What each group has of something, by name.
fn by_group<T>(faces: &[Face], items: impl IntoIterator<Item = T>) -> BTreeMap<&str, Vec<T>> {
    let mut groups: BTreeMap<&str, Vec<T>> = BTreeMap::new();
    for (face, item) in faces.iter().zip(items) {
        groups.entry(&face.group).or_default().push(item);
    }
    groups
}

fn newell(p: &[DVec3]) -> DVec3 {
    (1..p.len() - 1).map(|i| (p[i] - p[0]).cross(p[i + 1] - p[0])).sum()
}

fn area(uv: &[DVec2]) -> f64 {
    (1..uv.len() - 1).map(|i| (uv[i] - uv[0]).perp_dot(uv[i + 1] - uv[0])).sum::<f64>() / 2.0
}

/// Corner triples of a planar polygon, by cutting ears on the sheet.
fn triangles(face: &Face) -> Vec<[usize; 3]> {
    let sign = area(&face.uv).signum();
    let turn = |a: usize, b: usize, c: usize| sign * (face.uv[b] - face.uv[a]).perp_dot(face.uv[c] - face.uv[a]);
    let mut left: Vec<usize> = (0..face.uv.len()).collect();
    let mut found = Vec::new();
    while left.len() > 3 {
        let count = left.len();
        let around = |i: usize| [left[(i + count - 1) % count], left[i], left[(i + 1) % count]];
        let is_ear = |&i: &usize| {
            let [a, b, c] = around(i);
            let outside = |q: usize| turn(a, b, q) < 0.0 || turn(b, c, q) < 0.0 || turn(c, a, q) < 0.0;
            turn(a, b, c) > 0.0 && left.iter().all(|&q| [a, b, c].contains(&q) || outside(q))
        };
        let ear = (0..count).find(is_ear).unwrap();
        found.push(around(ear));
        left.remove(ear);
    }
    found.push([left[0], left[1], left[2]]);
    found
}

/// Surface (cm2), anisotropy and signed sheet area (px2) of one triangle.
struct Measure {
    surface: f64,
    anisotropy: f64,
    sheet: f64,
}

fn measure(face: &Face) -> Vec<Measure> {
    let of = |[a, b, c]: [usize; 3]| {
        let (e, f) = (face.p[b] - face.p[a], face.p[c] - face.p[a]);
        let (q, r) = (face.uv[b] - face.uv[a], face.uv[c] - face.uv[a]);
        let (x1, x2, y2) = (e.length(), e.dot(f) / e.length(), e.cross(f).length() / e.length());
        // J = [first second]; s1 s2 = |det J|, s1^2 + s2^2 = |J|^2.
        let first = q / x1;
        let second = (r - first * x2) / y2;
        let (det, square) = (first.perp_dot(second).abs(), first.length_squared() + second.length_squared());
        let (sum, difference) = ((square + 2.0 * det).sqrt(), (square - 2.0 * det).max(0.0).sqrt());
        let anisotropy = (sum + difference) / (sum - difference);
        Measure { surface: x1 * y2 / 2.0, anisotropy, sheet: q.perp_dot(r) / 2.0 }
    };
    triangles(face).into_iter().map(of).collect()
}

fn measures<'a>(faces: impl IntoIterator<Item = &'a Face>) -> Vec<Measure> {
    faces.into_iter().flat_map(measure).collect()
}

fn surface(of: &[Measure]) -> f64 {
    of.iter().map(|m| m.surface).sum()
}

/// px per cm.
fn density(of: &[Measure]) -> f64 {
    (of.iter().map(|m| m.sheet.abs()).sum::<f64>() / surface(of)).sqrt()
}

/// Share of the surface above an anisotropy.
fn share_over(of: &[Measure], limit: f64) -> f64 {
    of.iter().filter(|m| m.anisotropy > limit).map(|m| m.surface).sum::<f64>() / surface(of)
}

/// Faces joined over edges that agree in position and sheet place; the number of each face's shell.
fn shells(faces: &[Face]) -> Vec<usize> {
    fn root(parent: &mut [usize], mut at: usize) -> usize {
        while parent[at] != at {
            parent[at] = parent[parent[at]];
            at = parent[at];
        }
        at
    }
    let mut parent: Vec<usize> = (0..faces.len()).collect();
    let mut edges = BTreeMap::new();
    for (at, face) in faces.iter().enumerate() {
        let end = |i: usize| (face.p[i].to_array().map(f64::to_bits), face.uv[i].to_array().map(f64::to_bits));
        for i in 0..face.uv.len() {
            let mut edge = [end(i), end((i + 1) % face.uv.len())];
            edge.sort_unstable();
            let other = *edges.entry(edge).or_insert(at);
            let (a, b) = (root(&mut parent, at), root(&mut parent, other));
            parent[a.max(b)] = a.min(b);
        }
    }
    (0..faces.len()).map(|at| root(&mut parent, at)).collect()
}

fn shells_by_group(faces: &[Face]) -> BTreeMap<&str, usize> {
    let distinct = |mut shells: Vec<usize>| {
        shells.sort_unstable();
        shells.dedup();
        shells.len()
    };
    by_group(faces, shells(faces)).into_iter().map(|(group, shells)| (group, distinct(shells))).collect()
}

/// Area two triangles share on the sheet (clipping by Sutherland & Hodgman 1974).
fn shared(a: [DVec2; 3], b: [DVec2; 3]) -> f64 {
    let ordered = |t: [DVec2; 3]| if area(&t) < 0.0 { [t[0], t[2], t[1]] } else { t };
    let (mut kept, b) = (ordered(a).to_vec(), ordered(b));
    for i in 0..3 {
        let (from, along) = (b[i], b[(i + 1) % 3] - b[i]);
        let inside = |p: DVec2| along.perp_dot(p - from);
        let mut next = Vec::new();
        for (k, &p) in kept.iter().enumerate() {
            let q = kept[(k + 1) % kept.len()];
            if inside(p) >= 0.0 {
                next.push(p);
            }
            if inside(p) * inside(q) < 0.0 {
                next.push(p + (q - p) * (inside(p) / (inside(p) - inside(q))));
            }
        }
        if next.len() < 3 {
            return 0.0;
        }
        kept = next;
    }
    area(&kept)
}

/// Sheet area that each pair of groups shares, px2; slivers of rounding (under 0.01 px2) left out.
fn sharing(faces: &[Face]) -> BTreeMap<[&str; 2], f64> {
    let corners = |face: &Face| triangles(face).into_iter().map(|t| t.map(|i| face.uv[i])).collect::<Vec<_>>();
    let mut all: Vec<(f64, f64, &str, [DVec2; 3])> = faces
        .iter()
        .flat_map(|face| corners(face).into_iter().map(|t| (face.group.as_str(), t)))
        .map(|(group, t)| (t[0].x.min(t[1].x).min(t[2].x), t[0].x.max(t[1].x).max(t[2].x), group, t))
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut found = BTreeMap::new();
    for (i, &(_, high, group, t)) in all.iter().enumerate() {
        for &(_, _, other, u) in all[i + 1..].iter().take_while(|next| next.0 < high) {
            let area = shared(t, u);
            if area > 0.01 {
                *found.entry([group.min(other), group.max(other)]).or_insert(0.0) += area;
            }
        }
    }
    found
}

// --- both versions ---------------------------------------------------------------------------------------------

#[test]
fn committed_files_are_what_the_generator_writes() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    for (name, made) in [
        ("lantern-draft.obj", &draft().obj),
        ("lantern-revised.obj", &revised().obj),
        (lantern::LIBRARY, &revised().mtl),
    ] {
        let kept = fs::read_to_string(folder.join(name)).unwrap();
        assert!(kept == *made, "demo/{name} is out of date: cargo run --example lantern");
    }
    assert_eq!(draft().mtl, revised().mtl);
}

#[test]
fn readme_lists_every_planted_size() {
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo/README.md");
    let readme = fs::read_to_string(readme).unwrap();
    for fault in &draft().planted {
        assert!(readme.contains(&fault.to_string()), "demo/README.md lacks this row:\n{fault}");
    }
    assert!(readme.contains(&format!("{} px per cm", draft().px_per_cm)));
}

#[test]
fn both_versions_have_one_geometry() {
    let (draft, revised) = (read(&draft().obj), read(&revised().obj));
    assert_eq!(draft.len(), revised.len());
    for (a, b) in draft.iter().zip(&revised) {
        assert_eq!((&a.object, &a.group, &a.points), (&b.object, &b.group, &b.points));
        assert_eq!((&a.p, &a.n), (&b.p, &b.n));
    }
}

#[test]
fn every_part_is_closed_and_faces_outward() {
    let faces = read(&revised().obj);
    let mut edges = BTreeMap::new();
    let mut volume: BTreeMap<&str, f64> = BTreeMap::new();
    for face in &faces {
        for i in 0..face.points.len() {
            let (a, b) = (face.points[i], face.points[(i + 1) % face.points.len()]);
            assert_ne!(a, b, "{}", face.group);
            let before = edges.insert((face.object.as_str(), a, b), &face.group);
            assert!(before.is_none(), "{} and {before:?} run the same way along an edge", face.group);
        }
        let cones = (1..face.p.len() - 1).map(|i| face.p[0].dot(face.p[i].cross(face.p[i + 1])) / 6.0);
        *volume.entry(&face.object).or_default() += cones.sum::<f64>();
    }
    for (&(object, a, b), group) in &edges {
        assert!(edges.contains_key(&(object, b, a)), "open edge in {group}");
    }
    for (object, volume) in volume {
        assert!(volume > 0.0, "{object} encloses {volume} cm3");
    }
}

#[test]
fn normals_are_unit_and_agree_with_the_winding() {
    for face in read(&revised().obj) {
        let own = newell(&face.p).normalize();
        for n in &face.n {
            assert!((n.length() - 1.0).abs() < 2e-4, "{}", face.group);
            assert!(n.dot(own) > 0.6, "{} leans {}", face.group, n.dot(own));
        }
    }
}

#[test]
fn it_is_some_forty_centimetres_high_and_mixes_triangles_quads_and_polygons() {
    let faces = read(&revised().obj);
    let heights = || faces.iter().flat_map(|face| face.p.iter().map(|p| p.y));
    assert_eq!(heights().fold(f64::INFINITY, f64::min), 0.0);
    let top = heights().fold(0.0, f64::max);
    assert!((39.0..40.5).contains(&top), "{top} cm");
    let count: usize = faces.iter().map(|face| face.points.len() - 2).sum();
    assert!((9_000..14_000).contains(&count), "{count} triangles");
    for sides in [3, 4, 20, 80] {
        assert!(faces.iter().any(|face| face.points.len() == sides), "no polygon of {sides}");
    }
}

// --- the revised version ---------------------------------------------------------------------------------------

#[test]
fn revised_has_squares_everywhere_at_one_density() {
    let faces = read(&revised().obj);
    let all = measures(&faces);
    assert_eq!(share_over(&all, 1.1), 0.0);
    assert!(all.iter().all(|m| m.sheet > 0.0), "a triangle is flipped");
    for (group, faces) in by_group(&faces, &faces) {
        let found = density(&measures(faces)) / revised().px_per_cm;
        assert!((found - 1.0).abs() < 0.005, "{group} has {found} of the common density");
    }
}

#[test]
fn revised_cylinders_cones_and_prisms_unroll_exactly() {
    let faces = read(&revised().obj);
    let exact =
        ["drum_wall", "base_wall", "crown_wall", "cap_cone", "cowl_roof", "vent_ring_side", "lug_upright_left_side"];
    for group in exact {
        for m in measures(in_group(&faces, group)) {
            assert!(m.anisotropy < 1.0 + ROUNDING, "{group}: {}", m.anisotropy);
        }
    }
}

#[test]
fn revised_has_no_overlaps_and_keeps_its_padding() {
    let faces = read(&revised().obj);
    assert!(sharing(&faces).is_empty(), "{:?}", sharing(&faces));
    let mut edges = Vec::new();
    for (face, shell) in faces.iter().zip(shells(&faces)) {
        for i in 0..face.uv.len() {
            let (a, b) = (face.uv[i], face.uv[(i + 1) % face.uv.len()]);
            let inside = a.min_element() >= BORDER_PX && a.max_element() <= SHEET_PX - BORDER_PX;
            assert!(inside, "{} comes to {a}", face.group);
            edges.push((a.min(b), a.max(b), [a, b], shell));
        }
    }
    edges.sort_by(|a, b| a.0.x.total_cmp(&b.0.x));
    let to_edge = |p: DVec2, [a, b]: [DVec2; 2]| {
        let t = ((p - a).dot(b - a) / (b - a).length_squared()).clamp(0.0, 1.0);
        p.distance(a + (b - a) * t)
    };
    let reach = 2.0 * GAP_PX;
    let mut least = f64::INFINITY;
    for (i, a) in edges.iter().enumerate() {
        for b in edges[i + 1..].iter().take_while(|b| b.0.x < a.1.x + reach) {
            if a.3 != b.3 && b.0.y < a.1.y + reach && a.0.y < b.1.y + reach {
                let ends = [to_edge(a.2[0], b.2), to_edge(a.2[1], b.2), to_edge(b.2[0], a.2), to_edge(b.2[1], a.2)];
                least = ends.into_iter().fold(least, f64::min);
            }
        }
    }
    assert!((GAP_PX..reach).contains(&least), "{least} px between shells");
}

#[test]
fn revised_fills_its_sheet() {
    let sheet: f64 = read(&revised().obj).iter().map(|face| area(&face.uv)).sum();
    let coverage = sheet / (SHEET_PX * SHEET_PX);
    assert!(coverage > 0.6, "{coverage}");
}

#[test]
fn revised_has_one_shell_a_group() {
    for (group, count) in shells_by_group(&read(&revised().obj)) {
        assert_eq!(count, 1, "{group}");
    }
}

#[test]
fn revised_nameplate_reads_upright_and_faces_the_front() {
    for face in in_group(&read(&revised().obj), "nameplate_face") {
        assert!(newell(&face.p).normalize().z > 0.7);
        for i in 1..face.p.len() {
            let (p, q) = (face.p[i] - face.p[0], face.uv[i] - face.uv[0]);
            let upright = dvec2(p.x, p.y) * revised().px_per_cm;
            // The plate's bevel lies down by its own width, at either end.
            assert!(q.distance(upright) < 3.0, "{q} px for {upright}");
        }
    }
}

#[test]
fn revised_seams_of_upright_walls_are_at_the_back() {
    let faces = read(&revised().obj);
    for group in ["drum_wall", "base_wall", "base_cove", "chimney_outside", "cap_cone", "crown_wall", "cap_rim"] {
        let mut places: BTreeMap<usize, DVec2> = BTreeMap::new();
        let mut seams = 0;
        for face in in_group(&faces, group) {
            for (i, &p) in face.p.iter().enumerate() {
                if *places.entry(face.points[i]).or_insert(face.uv[i]) != face.uv[i] {
                    assert!(p.x.abs() < 1e-4 && p.z < 0.0, "{group} has a seam at {p}");
                    seams += 1;
                }
            }
        }
        assert!(seams > 0, "{group} has no seam at all");
    }
}

// --- the draft -------------------------------------------------------------------------------------------------

#[test]
fn draft_plants_each_kind_once() {
    let found: Vec<Kind> = draft().planted.iter().map(|fault| fault.kind).collect();
    let first_three = [Kind::PlanarProjection, Kind::Flipped, Kind::MirroredHalves];
    let last_three = [Kind::LowDensity, Kind::FoldedCorner, Kind::PartialOverlap];
    assert_eq!(found, [first_three, last_three].concat());
    assert!(revised().planted.is_empty());
    let faces = read(&draft().obj);
    for fault in &draft().planted {
        assert!(in_group(&faces, fault.group).iter().all(|face| face.object == fault.part), "{fault:?}");
        assert!(fault.other.is_none_or(|other| !in_group(&faces, other).is_empty()));
    }
}

#[test]
fn draft_drum_has_the_anisotropy_of_a_planar_projection() {
    let faces = read(&draft().obj);
    let wall = in_group(&faces, "drum_wall");
    for face in &wall {
        let normal = newell(&face.p).normalize();
        for m in measure(face) {
            assert_close(m.anisotropy, 1.0 / normal.z.abs());
            assert!(m.sheet > 0.0);
        }
    }
    let all = measures(wall);
    let anisotropy = || all.iter().map(|m| m.anisotropy);
    let kind = Kind::PlanarProjection;
    assert_close(anisotropy().fold(0.0, f64::max), size(kind, "anisotropy_max"));
    assert_close(anisotropy().fold(f64::INFINITY, f64::min), size(kind, "anisotropy_min"));
    assert_close(share_over(&all, 1.25), size(kind, "share_over"));
    assert_close(surface(&all), size(kind, "surface_cm2"));
    assert_close(density(&all) / draft().px_per_cm, size(kind, "density_ratio"));
}

#[test]
fn draft_flips_only_the_planted_shells() {
    let mut reversed: BTreeMap<String, (f64, f64, f64)> = BTreeMap::new();
    for face in read(&draft().obj) {
        for m in measure(&face).iter().filter(|m| m.sheet < 0.0) {
            let sums = reversed.entry(face.group.clone()).or_default();
            *sums = (sums.0 + 1.0, sums.1 + m.surface, sums.2 - m.sheet);
        }
    }
    let plate = reversed.remove("nameplate_face").unwrap();
    assert_eq!(plate.0, size(Kind::Flipped, "reversed_triangles"));
    assert_close(plate.1, size(Kind::Flipped, "surface_cm2"));
    let cone = reversed.remove("cap_cone").unwrap();
    assert_eq!(cone.0, size(Kind::MirroredHalves, "reversed_triangles"));
    assert_close(cone.1, size(Kind::MirroredHalves, "half_surface_cm2"));
    let corner = reversed.remove("chimney_outside").unwrap();
    assert_eq!(corner.0, size(Kind::FoldedCorner, "folded_triangles"));
    assert_close(corner.2, size(Kind::FoldedCorner, "folded_px2"));
    assert!(reversed.is_empty(), "{reversed:?}");
}

#[test]
fn draft_nameplate_is_flipped_whole() {
    let faces = read(&draft().obj);
    assert!(measures(in_group(&faces, "nameplate_face")).iter().all(|m| m.sheet < 0.0));
}

#[test]
fn draft_handle_has_a_quarter_of_the_density() {
    let faces = read(&draft().obj);
    let ratio = density(&measures(in_group(&faces, "handle_tube"))) / draft().px_per_cm;
    assert_close(ratio, size(Kind::LowDensity, "linear_factor"));
    assert_close(ratio.log2(), size(Kind::LowDensity, "difference_octaves"));
}

#[test]
fn draft_overlaps_only_the_planted_shells() {
    let faces = read(&draft().obj);
    let mut found = sharing(&faces);
    let mut take = |kind: Kind| {
        let (group, other) = (planted(kind).group, planted(kind).other.unwrap_or(planted(kind).group));
        found.remove(&[group.min(other), group.max(other)]).unwrap_or_else(|| panic!("{kind:?} shares nothing"))
    };
    assert_close(take(Kind::MirroredHalves), size(Kind::MirroredHalves, "shared_px2"));
    assert_close(take(Kind::PartialOverlap), size(Kind::PartialOverlap, "shared_px2"));
    assert_close(take(Kind::FoldedCorner), size(Kind::FoldedCorner, "folded_px2"));
    assert!(found.is_empty(), "{found:?}");
}

#[test]
fn draft_splits_only_the_drum_and_the_cap() {
    for (group, count) in shells_by_group(&read(&draft().obj)) {
        let expected = if ["drum_wall", "cap_cone"].contains(&group) { 2 } else { 1 };
        assert_eq!(count, expected, "{group}");
    }
}
