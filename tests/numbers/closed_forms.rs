//! Shapes whose answers are known in closed form. Formulas: the table 'Distortion of a piecewise-linear map' of the
//! literature named beside each; the shapes are remade here, number by number.

use crate::support::{Sketch, close, measured, report, report_with};
use gridproof::brief::{Brief, Map};
use gridproof::measure::sheet::sharing::ShareKind;

const SQUARE: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];

/// The unit square placed by `place` with uv by `map`, as two triangles.
fn square(place: impl Fn([f64; 2]) -> [f64; 3], map: impl Fn([f64; 2]) -> [f64; 2]) -> Sketch {
    Sketch {
        positions: SQUARE.iter().map(|&p| place(p)).collect(),
        uvs: SQUARE.iter().map(|&p| map(p)).collect(),
        faces: vec![vec![(0, 0), (1, 1), (2, 2)], vec![(0, 0), (2, 2), (3, 3)]],
    }
}

/// Expected measures of a uniform map with singular values s1 >= s2 (in uv): Sander et al. 2001 sec. 3, Smith & Schaefer
/// 2015, Hormann & Greiner 2000, each after scaling to equal area.
fn expect_uniform(text: &str, s1: f64, s2: f64) {
    let report = report(text);
    let stretch = report.stretch;
    let root = (s1 * s2).sqrt();
    let (a, b) = (s1 / root, s2 / root);
    let near = |value: Option<f64>, expected: f64, what: &str| {
        let value = value.unwrap_or(f64::NAN);
        assert!(close(value, expected, 1e-12), "{what}: {value} instead of {expected}");
    };
    near(stretch.anisotropy_median, s1 / s2, "anisotropy_median");
    near(stretch.anisotropy_p95, s1 / s2, "anisotropy_p95");
    near(stretch.sander_l2, ((1.0 / (a * a) + 1.0 / (b * b)) / 2.0).sqrt(), "sander_l2");
    near(stretch.sander_linf, 1.0 / b, "sander_linf");
    near(stretch.symmetric_dirichlet_mean, a * a + b * b + 1.0 / (a * a) + 1.0 / (b * b), "symmetric_dirichlet_mean");
    near(stretch.mips_mean, s1 / s2 + s2 / s1, "mips_mean");
    near(report.density.mean_px_per_unit, 2048.0 * root, "mean_px_per_unit");
    assert_eq!(stretch.share_over, Some(if s1 / s2 > 1.25 { 1.0 } else { 0.0 }));
}

#[test]
fn a_tilted_plane_projected_flat_has_anisotropy_one_over_cosine() {
    for degrees in [0.0f64, 30.0, 45.0, 60.0, 75.0, 80.0] {
        let (s, c) = degrees.to_radians().sin_cos();
        let sketch = square(|[x, y]| [x, y * c, y * s], |[x, y]| [x, y * c]);
        expect_uniform(&sketch.text(), 1.0, c);
    }
}

#[test]
fn a_shear_has_its_closed_form() {
    for k in [0.5f64, 1.0, 2.0] {
        let root = (k * k + 4.0).sqrt();
        let sketch = square(|[x, y]| [x, y, 0.0], |[x, y]| [(x + k * y) / 4.0, y / 4.0]);
        expect_uniform(&sketch.text(), (root + k) / 8.0, (root - k) / 8.0);
    }
}

#[test]
fn scaling_in_one_and_both_directions() {
    expect_uniform(&square(|[x, y]| [x, y, 0.0], |[x, y]| [2.0 * x, y]).text(), 2.0, 1.0);
    expect_uniform(&square(|[x, y]| [x, y, 0.0], |[x, y]| [x / 2.0, y / 2.0]).text(), 0.5, 0.5);
}

#[test]
fn a_square_on_a_map_of_two_to_one_is_stretched_in_px() {
    let map = Map { width_px: 2048, height_px: 1024, ..Map::default() };
    let brief = Brief { map, ..Brief::default() };
    let text = square(|[x, y]| [x, y, 0.0], |[x, y]| [x, y]).text();
    let report = report_with(&text, &brief);
    assert!(close(report.stretch.anisotropy_median.unwrap(), 2.0, 1e-12));
    // Sander's measure is of the uv square, whatever the map's size.
    assert!(close(report.stretch.sander_l2.unwrap(), 1.0, 1e-12));
    let text = square(|[x, y]| [x, y, 0.0], |[x, y]| [x / 2.0, y]).text();
    assert!(close(report_with(&text, &brief).stretch.anisotropy_median.unwrap(), 1.0, 1e-12));
}

#[test]
fn mirroring_flips_a_shell() {
    let report = report(&square(|[x, y]| [x, y, 0.0], |[x, y]| [1.0 - x, y]).text());
    assert_eq!(report.handedness.reversed_triangles, 2);
    assert_eq!(report.handedness.reversed_share, Some(1.0));
    assert_eq!(report.handedness.flipped_shells, 1);
    assert_eq!(report.handedness.folded_triangles, 0);
    assert!(report.findings.iter().any(|finding| finding.id == "flipped-0"));
}

#[test]
fn a_corner_pulled_over_the_edge_folds_two_triangles() {
    let mut sketch = Sketch::default();
    for y in 0..3 {
        for x in 0..3 {
            sketch.positions.push([f64::from(x), f64::from(y), 0.0]);
            sketch.uvs.push([0.25 + 0.25 * f64::from(x), 0.25 + 0.25 * f64::from(y)]);
        }
    }
    sketch.uvs[4] = [0.85, 0.5];
    for y in 0..2 {
        for x in 0..2 {
            let (a, b, c, d) = (y * 3 + x, y * 3 + x + 1, (y + 1) * 3 + x + 1, (y + 1) * 3 + x);
            sketch.faces.push(vec![(a, a), (b, b), (c, c)]);
            sketch.faces.push(vec![(a, a), (c, c), (d, d)]);
        }
    }
    let signed = |face: &Vec<(usize, usize)>| {
        let [a, b, c] = [sketch.uvs[face[0].1], sketch.uvs[face[1].1], sketch.uvs[face[2].1]];
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
    };
    let folded = sketch.faces.iter().filter(|face| signed(face) < 0.0).count();
    let report = report(&sketch.text());
    assert_eq!(report.handedness.folded_triangles as usize, folded);
    assert_eq!(folded, 2);
    assert_eq!(report.handedness.flipped_shells, 0);
    assert_eq!(report.counts.shells, 1);
    // The fold is not a pair of two shells.
    assert!(report.sharing.iter().all(|pair| pair.kind != ShareKind::Mirrored || pair.a == pair.b));
}

const CUBE: [[f64; 3]; 8] =
    [[0., 0., 0.], [1., 0., 0.], [0., 1., 0.], [1., 1., 0.], [0., 0., 1.], [1., 0., 1.], [0., 1., 1.], [1., 1., 1.]];
/// front, right, back, left, top, bottom, counter-clockwise from outside.
const CUBE_FACES: [[usize; 4]; 6] =
    [[4, 5, 7, 6], [5, 1, 3, 7], [1, 0, 2, 3], [0, 4, 6, 2], [6, 7, 3, 2], [0, 1, 5, 4]];

fn cube(map: impl Fn(usize, [f64; 2]) -> [f64; 2]) -> Sketch {
    let mut sketch = Sketch::default();
    for (index, face) in CUBE_FACES.iter().enumerate() {
        let corners: Vec<_> = face.iter().zip(SQUARE).map(|(&corner, q)| (CUBE[corner], map(index, q))).collect();
        sketch.face(&corners);
    }
    sketch
}

#[test]
fn a_cross_net_of_a_cube_covers_three_eighths_and_is_one_shell() {
    let cell = [[1., 1.], [2., 1.], [3., 1.], [0., 1.], [1., 2.], [1., 0.]];
    let report = report(&cube(|face, [x, y]| [(cell[face][0] + x) / 4.0, (cell[face][1] + y) / 4.0]).text());
    assert_eq!(report.counts.shells, 1);
    assert_eq!(report.counts.parts, 1);
    assert_eq!(report.counts.open_edges, 0);
    // A cube has 12 edges; a net keeps 5 of them.
    assert_eq!(report.counts.seam_edges, 7);
    assert_eq!(report.seams.length, 7.0);
    assert_eq!(report.area.surface, 6.0);
    assert_eq!(report.area.uv, 0.375);
    assert!(close(report.sheet.coverage, 0.375, 1e-9));
    assert_eq!(report.density.mean_px_per_unit, Some(512.0));
    assert!(report.sharing.is_empty());
    assert!(report.sheet.overlap_share.unwrap() < 1e-9);
}

#[test]
fn a_cube_with_all_faces_on_the_whole_square_is_stacked_six_deep() {
    let report = report(&cube(|_, q| q).text());
    assert_eq!(report.counts.shells, 6);
    assert!(close(report.sheet.coverage, 1.0, 1e-9));
    assert!(close(report.sheet.overlap_share.unwrap(), 1.0, 1e-9));
    assert!(close(report.sheet.overlap_excess.unwrap(), 5.0, 1e-9));
    assert_eq!(report.equal_shells, [(0..6).collect::<Vec<u32>>()]);
    let [pair] = &report.sharing[..] else { panic!("{:?}", report.sharing) };
    assert_eq!((pair.a, pair.b, pair.kind), (0, 1, ShareKind::Stacked));
}

#[test]
fn a_cone_unrolls_without_stretch() {
    // 48 flat facets, radius 1, slant 2: facets keep their shape, the sector spans 48 * 2 asin(sin(pi/48)/2).
    let (n, r, l, scale) = (48, 1.0f64, 2.0f64, 0.2);
    let height = (l * l - r * r).sqrt();
    let step = 2.0 * ((std::f64::consts::PI / f64::from(n)).sin() * r / l).asin();
    let mut sketch = Sketch::default();
    let rim = |i: i32| {
        let (s, c) = (std::f64::consts::TAU * f64::from(i % n) / f64::from(n)).sin_cos();
        [r * c, r * s, 0.0]
    };
    let unrolled = |i: i32| {
        let (s, c) = (step * f64::from(i)).sin_cos();
        [0.5 + scale * l * c, 0.5 + scale * l * s]
    };
    for i in 0..n {
        sketch.face(&[([0.0, 0.0, height], [0.5, 0.5]), (rim(i), unrolled(i)), (rim(i + 1), unrolled(i + 1))]);
    }
    expect_uniform(&sketch.text(), scale, scale);
    assert_eq!(report(&sketch.text()).counts.shells, 1);
}

#[test]
fn a_cylinder_projected_from_the_front_is_stretched_by_one_over_sine() {
    let n = 32;
    let mut sketch = Sketch::default();
    let at = |i: i32, y: f64| {
        let (s, c) = (std::f64::consts::PI * f64::from(i) / f64::from(n)).sin_cos();
        ([c, y, s], [(1.0 + c) / 2.0, y / 2.0])
    };
    for i in 0..n {
        sketch.face(&[at(i, 0.0), at(i, 1.0), at(i + 1, 1.0), at(i + 1, 0.0)]);
    }
    let (model, measures) = measured(&sketch.text(), &Brief::default());
    for triangle in 0..model.triangle_count() {
        let facet = model.face_of(triangle) as f64;
        let exact = 1.0 / (std::f64::consts::PI * (facet + 0.5) / f64::from(n)).sin();
        assert!(close(measures.triangles.anisotropy(triangle).unwrap(), exact, 1e-9));
    }
}

#[test]
fn two_squares_that_share_a_rectangle_overlap_partially() {
    let mut sketch = Sketch::default();
    for (offset, origin) in [(0.0, [0.1, 0.1]), (2.0, [0.4, 0.3])] {
        let corners: Vec<_> =
            SQUARE.iter().map(|&[x, y]| ([x + offset, y, 0.0], [origin[0] + 0.4 * x, origin[1] + 0.4 * y])).collect();
        sketch.face(&corners);
    }
    let report = report(&sketch.text());
    assert!(close(report.sheet.coverage, 0.30, 1e-8));
    assert!(close(report.sheet.overlap_share.unwrap(), 0.02 / 0.30, 1e-7));
    assert!(close(report.sheet.overlap_excess.unwrap(), 0.02 / 0.30, 1e-7));
    let [pair] = &report.sharing[..] else { panic!("{:?}", report.sharing) };
    assert_eq!((pair.a, pair.b, pair.kind), (0, 1, ShareKind::PartialOverlap));
    assert!(close(pair.area_share_a, 0.125, 1e-9) && close(pair.area_share_b, 0.125, 1e-9));
}

#[test]
fn shells_that_touch_along_an_edge_do_not_overlap() {
    let mut sketch = Sketch::default();
    for (offset, u) in [(0.0, 0.1), (2.0, 0.5)] {
        let corners: Vec<_> =
            SQUARE.iter().map(|&[x, y]| ([x + offset, y, 0.0], [u + 0.4 * x, 0.1 + 0.4 * y])).collect();
        sketch.face(&corners);
    }
    let report = report(&sketch.text());
    assert!(report.sharing.is_empty());
    assert!(close(report.sheet.coverage, 0.32, 1e-8));
    assert!(report.sheet.overlap_share.unwrap() < 1e-8);
}

#[test]
fn a_mirrored_half_is_half_the_surface_and_more() {
    // A 2 x 1 sheet of two squares; the second lies mirrored over the left half of the first.
    let mut sketch = Sketch::default();
    sketch.face(&[
        ([0., 0., 0.], [0.0, 0.0]),
        ([1., 0., 0.], [0.5, 0.0]),
        ([1., 1., 0.], [0.5, 0.5]),
        ([0., 1., 0.], [0.0, 0.5]),
    ]);
    sketch.face(&[
        ([2., 0., 0.], [0.25, 0.0]),
        ([3., 0., 0.], [0.0, 0.0]),
        ([3., 1., 0.], [0.0, 0.5]),
        ([2., 1., 0.], [0.25, 0.5]),
    ]);
    let report = report(&sketch.text());
    assert!(close(report.handedness.mirrored_share.unwrap(), 0.75, 1e-9), "{:?}", report.handedness);
    assert_eq!(report.handedness.flipped_shells, 1);
    let [pair] = &report.sharing[..] else { panic!("{:?}", report.sharing) };
    assert_eq!(pair.kind, ShareKind::Mirrored);
    assert!(close(pair.area_share_a, 0.5, 1e-9) && close(pair.area_share_b, 1.0, 1e-9));
}

#[test]
fn normals_against_the_winding_make_a_part_inside_out_and_judge_its_handedness() {
    let text = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nvn 0 0 -1\n\
                f 1/1/1 2/2/1 3/3/1 4/4/1\n";
    let report = report(text);
    assert_eq!(report.handedness.inside_out_parts, 1);
    assert_eq!(report.handedness.reversed_triangles, 2);
    assert!(report.findings.iter().any(|finding| finding.id == "inside-out-part-0"));
}

#[test]
fn a_partly_mapped_face_counts_as_unmapped_and_zero_areas_are_counted_apart() {
    let text = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0.5 0 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\n\
                f 1/1 2/2 3/3\nf 1/1 3/3 4\nf 1/1 5/2 2/3\nf 1/1 3/1 4/1\n";
    let report = report(text);
    assert_eq!(report.counts.faces_without_uv, 1);
    assert_eq!(report.counts.degenerate_3d, 1);
    assert_eq!(report.counts.collapsed_uv, 1);
    let unmapped = report.findings.iter().find(|finding| finding.id == "unmapped").expect("a finding");
    assert_eq!(unmapped.line, Some(11));
}

#[test]
fn quads_in_six_tiles_are_numbered_as_udim() {
    let tiles = [(0, 0), (1, 0), (9, 0), (0, 1), (2, 1), (9, 9)];
    let mut sketch = Sketch::default();
    for (index, &(i, j)) in tiles.iter().enumerate() {
        let corners: Vec<_> = SQUARE
            .iter()
            .map(|&[x, y]| {
                let uv = [f64::from(i) + 0.25 + 0.5 * x, f64::from(j) + 0.25 + 0.5 * y];
                ([x + 2.0 * index as f64, y, 0.0], uv)
            })
            .collect();
        sketch.face(&corners);
    }
    let mut brief = Brief::default();
    let single = report_with(&sketch.text(), &brief);
    assert!(close(single.sheet.outside_share.unwrap(), 5.0 / 6.0, 1e-9));
    assert!(close(single.sheet.coverage, 0.25, 1e-8));
    brief.map.tiles = gridproof::brief::Tiles::Udim;
    let udim = report_with(&sketch.text(), &brief);
    assert_eq!(udim.sheet.tiles, [1001, 1002, 1010, 1011, 1013, 1100]);
    assert_eq!(udim.sheet.outside_share, Some(0.0));
    assert!(close(udim.sheet.coverage, 0.25, 1e-8));
}
