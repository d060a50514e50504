//! Pictures and the report's page: what is drawn is what was measured.

use crate::support::{Sketch, measured};
use glam::DVec2;
use gridproof::Examined;
use gridproof::brief::{Axis, Brief, Map, Seams, SheetGroup, SheetsAsked, TextSafety, Tiles};
use gridproof::draw::stage::GROUND;
use gridproof::draw::{
    Ground, Paper, SheetError, SheetOptions, Stage, View, Viewpoint, data_url, sheet_pixels, sheet_svg,
};
use gridproof::grid::{GridOptions, INK, Picture, paint};
use gridproof::lens::{CIRCLE_PX, CIRCLE_STRENGTH, Lens};
use gridproof::measure::sheet::padding::Gap;
use gridproof::report::{Pictures, html, shots, text};
use roxmltree::Document;
use std::collections::BTreeMap;
use std::fmt::Write as _;

fn examined(text: &str, brief: &Brief) -> Examined {
    gridproof::examine(&mut text.as_bytes(), "test.obj", None, brief, &mut |_| ()).unwrap()
}

fn lantern(which: &str) -> String {
    let path = format!("{}/demo/lantern-{which}.obj", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).unwrap()
}

fn brief_of(width_px: u32, height_px: u32, tiles: Tiles) -> Brief {
    let map = Map { width_px, height_px, tiles, ..Map::default() };
    Brief { map, ..Brief::default() }
}

/// A square of side 1 in the plane z, its lower left corner at x, with this uv from the lower left counter-clockwise.
fn square(sketch: &mut Sketch, [x, z]: [f64; 2], uv: [[f64; 2]; 4]) {
    let at = [[x, 0.0, z], [x + 1.0, 0.0, z], [x + 1.0, 1.0, z], [x, 1.0, z]];
    let corners: Vec<_> = at.into_iter().zip(uv).collect();
    sketch.face(&corners);
}

const UPRIGHT: [[f64; 2]; 4] = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
const MIRRORED: [[f64; 2]; 4] = [[1.0, 0.0], [0.0, 0.0], [0.0, 1.0], [1.0, 1.0]];

/// Subpaths of path data made of M, L (or a bare pair) and Z.
fn subpaths(data: &str) -> Vec<Vec<[f64; 2]>> {
    let mut paths: Vec<Vec<[f64; 2]>> = Vec::new();
    for subpath in data.split('M').filter(|part| !part.is_empty()) {
        let numbers: Vec<f64> = subpath
            .trim_end_matches('Z')
            .split([' ', 'L'])
            .map(|number| number.parse().unwrap_or_else(|_| panic!("{number:?} in {data}")))
            .collect();
        paths.push(numbers.chunks_exact(2).map(|pair| [pair[0], pair[1]]).collect());
    }
    paths
}

fn signed_area(path: &[[f64; 2]]) -> f64 {
    let next = path.iter().cycle().skip(1);
    path.iter().zip(next).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>() / 2.0
}

fn paths_of<'a>(document: &'a Document, group: &str) -> Vec<&'a str> {
    let group = document.descendants().find(|node| node.attribute("id") == Some(group)).unwrap();
    group.children().filter_map(|node| node.attribute("d")).collect()
}

#[test]
fn outlines_enclose_the_area_of_their_shells() {
    let brief = brief_of(2048, 1024, Tiles::Single);
    let Examined { model, measures, report } = examined(&lantern("revised"), &brief);
    let svg = sheet_svg(&model, &measures, &brief, &SheetOptions::default()).unwrap();
    let document = Document::parse(&svg).unwrap();
    let outlines = paths_of(&document, "outlines");
    assert_eq!(outlines.len(), report.shells.len());
    let mut compared = 0;
    for (shell, data) in report.shells.iter().zip(outlines) {
        assert!(data.ends_with('Z'), "the outline of shell {} is open", shell.id);
        let area = subpaths(data).iter().map(|path| signed_area(path)).sum::<f64>().abs();
        let measured = shell.uv * 2048.0 * 1024.0;
        // Places are rounded to 0.01 px: the area is off by at most that times the outline's length.
        let length: f64 = subpaths(data)
            .iter()
            .map(|path| {
                path.iter().zip(path.iter().cycle().skip(1)).map(|(a, b)| (a[0] - b[0]).hypot(a[1] - b[1])).sum::<f64>()
            })
            .sum();
        assert!((area - measured).abs() <= 0.01 * length, "shell {}: {area} px2, measured {measured}", shell.id);
        compared += 1;
    }
    assert!(compared > 100, "{compared}");
}

#[test]
fn the_drawing_is_valid_xml_for_any_names() {
    let mut sketch = Sketch::default();
    square(&mut sketch, [0.0, 0.0], UPRIGHT);
    let name = "<script>alert('1')</script>&\"]]>\u{1}";
    let text = sketch.text().replacen("\nf ", &format!("\no {name}\nf "), 1);
    let brief = Brief::default();
    let Examined { model, measures, report } = examined(&text, &brief);
    assert!(report.shells[0].object.as_deref().unwrap().contains("<script>"), "{:?}", report.shells[0].object);
    let options = SheetOptions { names: &report.shell_names(), ..SheetOptions::default() };
    let svg = sheet_svg(&model, &measures, &brief, &options).unwrap();
    let document = Document::parse(&svg).unwrap();
    assert!(!document.descendants().any(|node| node.has_tag_name("script")), "{svg}");
    let names: Vec<&str> =
        document.descendants().filter(|node| node.tag_name().name() == "text").filter_map(|node| node.text()).collect();
    assert_eq!(names.len(), 1);
    assert!(names[0].starts_with("<script>alert('1')</script>&\"]]>"), "{names:?}");
}

#[test]
fn every_combination_of_options_is_valid_and_has_the_map_s_size() {
    let brief = brief_of(512, 256, Tiles::Single);
    let Examined { model, measures, report } = examined(&lantern("draft"), &brief);
    let gap = Gap {
        a: 0,
        b: Some(1),
        sheet: 0,
        tile: Some(1001),
        px: 4.0,
        at_a: DVec2::new(0.25, 0.5),
        at_b: DVec2::new(0.2578125, 0.5),
        triangle_a: 0,
        triangle_b: None,
    };
    let gaps = [gap, Gap { at_a: DVec2::splat(1.25), at_b: DVec2::splat(1.5), ..gap }];
    let names = report.shell_names();
    for ground in [Ground::Transparent, Ground::Paper, Ground::Grid("data:image/png;base64,AA==")] {
        for wishes in 0..16u32 {
            let has = |bit: u32| wishes >> bit & 1 == 1;
            let options = SheetOptions {
                ground,
                inner_edges: has(0),
                flags: has(1),
                names: if has(2) { &names } else { &[] },
                gaps: if has(3) { &gaps } else { &[] },
                tile: None,
                sheet: 0,
            };
            let svg = sheet_svg(&model, &measures, &brief, &options).unwrap();
            let document = Document::parse(&svg).unwrap();
            let root = document.root_element();
            assert_eq!((root.attribute("width"), root.attribute("height")), (Some("512"), Some("256")));
            let has_group = |id: &str| document.descendants().any(|node| node.attribute("id") == Some(id));
            assert_eq!(
                [has_group("inner-edges"), has_group("flags"), has_group("names"), has_group("narrow-gaps")],
                [has(0), has(1), has(2), has(3)]
            );
            // A gap of another tile is not in the picture.
            let rings = document.descendants().filter(|node| node.has_tag_name("circle")).count();
            assert_eq!(rings, usize::from(has(3)));
            if wishes == 3 {
                let (width, height, rgba) = sheet_pixels(&model, &measures, &brief, &options).unwrap();
                assert_eq!((width, height, rgba.len()), (512, 256, 512 * 256 * 4));
            }
        }
    }
}

#[test]
fn patterns_cover_the_measured_triangles() {
    let brief = Brief::default();
    let Examined { model, measures, report } = examined(&lantern("draft"), &brief);
    let options = SheetOptions { flags: true, ..SheetOptions::default() };
    let svg = sheet_svg(&model, &measures, &brief, &options).unwrap();
    let document = Document::parse(&svg).unwrap();
    let area = |id: &str| {
        let data =
            document.descendants().find(|node| node.attribute("id") == Some(id)).unwrap().attribute("d").unwrap();
        subpaths(data).iter().map(|path| signed_area(path)).sum::<f64>().abs() / (2048.0 * 2048.0)
    };
    // In this model flipped triangles have no other pattern, except the folds.
    let flipped: f64 = report.shells.iter().filter(|shell| shell.flipped).map(|shell| shell.uv).sum();
    assert!(flipped > 0.0);
    assert!((area("flipped") / flipped - 1.0).abs() < 1e-3, "{} {flipped}", area("flipped"));
    assert!(area("folded") > 0.0 && area("mirrored") > 0.0 && area("partial-overlap") > 0.0 && area("stretched") > 0.0);
}

#[test]
fn pixels_match_the_formula() {
    let brief = brief_of(256, 128, Tiles::Single);
    let mut sketch = Sketch::default();
    // u 0.25 to 0.5, v 0.5 to 0.75: x 64 to 128, y 32 to 64 from the top.
    square(&mut sketch, [0.0, 0.0], [[0.25, 0.5], [0.5, 0.5], [0.5, 0.75], [0.25, 0.75]]);
    let (model, measures) = measured(&sketch.text(), &brief);
    let (_, _, rgba) = sheet_pixels(&model, &measures, &brief, &SheetOptions::default()).unwrap();
    let alpha = |x: usize, y: usize| rgba[(y * 256 + x) * 4 + 3];
    for (x, y) in [(64, 48), (127, 48), (96, 32), (96, 63)] {
        assert!(alpha(x, y) > 100, "no line at {x}, {y}");
    }
    for (x, y) in [(96, 48), (60, 48), (132, 48), (96, 28), (96, 68)] {
        assert_eq!(alpha(x, y), 0, "something at {x}, {y}");
    }
    // The grid below is the grid.
    let options = SheetOptions { ground: Ground::Grid(""), ..SheetOptions::default() };
    let (_, _, rgba) = sheet_pixels(&model, &measures, &brief, &options).unwrap();
    let grid = paint(&GridOptions::new(256, 128), 256, 128).rgba;
    let at = (48 * 256 + 96) * 4;
    assert_eq!(rgba[at..at + 4], grid[at..at + 4]);
}

#[test]
fn tiles_are_drawn_at_their_udim_places() {
    let brief = brief_of(128, 64, Tiles::Udim);
    let mut sketch = Sketch::default();
    // Tiles 1002 and 1021: columns 1 and 0, rows 0 and 2.
    square(&mut sketch, [0.0, 0.0], [[1.25, 0.25], [1.75, 0.25], [1.75, 0.75], [1.25, 0.75]]);
    square(&mut sketch, [2.0, 0.0], [[0.25, 2.25], [0.75, 2.25], [0.75, 2.75], [0.25, 2.75]]);
    let (model, measures) = measured(&sketch.text(), &brief);
    assert_eq!(measures.sheet.tiles, [1002, 1021]);
    let svg = sheet_svg(&model, &measures, &brief, &SheetOptions::default()).unwrap();
    let document = Document::parse(&svg).unwrap();
    assert_eq!(document.root_element().attribute("viewBox"), Some("0 0 256 192"));
    assert_eq!(
        subpaths(paths_of(&document, "outlines")[0])[0],
        [[160.0, 176.0], [224.0, 176.0], [224.0, 144.0], [160.0, 144.0]]
    );
    assert_eq!(
        subpaths(paths_of(&document, "outlines")[1])[0],
        [[32.0, 48.0], [96.0, 48.0], [96.0, 16.0], [32.0, 16.0]]
    );
    let one = SheetOptions { tile: Some(1021), ..SheetOptions::default() };
    let svg = sheet_svg(&model, &measures, &brief, &one).unwrap();
    assert_eq!(Document::parse(&svg).unwrap().root_element().attribute("viewBox"), Some("0 0 128 64"));
    let none = SheetOptions { tile: Some(1001), ..SheetOptions::default() };
    assert_eq!(
        sheet_svg(&model, &measures, &brief, &none),
        Err(SheetError::Tile { tile: 1001, in_use: vec![1002, 1021] })
    );
}

#[test]
fn one_of_several_sheets_is_drawn_with_its_own_map() {
    // A strip of two faces, one of each material, and a square of the second.
    let strip = "v 0 0 0\nv 1 0 0\nv 2 0 0\nv 2 1 0\nv 1 1 0\nv 0 1 0\nvt 0.25 0.25\nvt 0.5 0.25\nvt 0.75 0.25\nvt 0.75 0.5\nvt 0.5 \
                 0.5\nvt 0.25 0.5\nusemtl a\nf 1/1 2/2 5/5 6/6\nusemtl b\nf 2/2 3/3 4/4 5/5\nvt 0.25 0.75\nvt 0.5 0.75\nvt 0.5 \
                 1\nvt 0.25 1\nf 1/7 2/8 5/9 6/10\n";
    let mut brief = brief_of(128, 64, Tiles::Single);
    let group = |name: &str, size| SheetGroup {
        name: name.to_owned(),
        materials: vec![name.to_owned()],
        width_px: size,
        height_px: size,
    };
    brief.map.sheets = SheetsAsked::Groups(vec![group("a", None), group("b", Some(256))]);
    let (model, measures) = measured(strip, &brief);
    let drawn = |sheet: usize| {
        let options =
            SheetOptions { sheet, inner_edges: true, gaps: &measures.padding.gaps, ..SheetOptions::default() };
        sheet_svg(&model, &measures, &brief, &options)
    };
    let outlines = |svg: &str| -> Vec<Vec<[f64; 2]>> {
        let document = Document::parse(svg).unwrap();
        paths_of(&document, "outlines").into_iter().map(|path| subpaths(path)[0].clone()).collect()
    };
    let (first, second) = (drawn(0).unwrap(), drawn(1).unwrap());
    assert!(first.contains("viewBox=\"0 0 128 64\"") && second.contains("viewBox=\"0 0 256 256\""));
    // The shell of both ends where the material does.
    assert_eq!(outlines(&first), [[[32.0, 48.0], [64.0, 48.0], [64.0, 32.0], [32.0, 32.0]]]);
    let of_second = outlines(&second);
    assert_eq!(of_second.len(), 2);
    assert!(of_second[0].iter().all(|at| (128.0..=192.0).contains(&at[0]) && (128.0..=192.0).contains(&at[1])));
    // Only the square touches its border.
    assert!(!first.contains("id=\"narrow-gaps\"") && second.contains("id=\"narrow-gaps\""));
    assert_eq!(drawn(2), Err(SheetError::Sheet { count: 2 }));
    let grid = SheetOptions { sheet: 1, ground: Ground::Grid(""), ..SheetOptions::default() };
    let (width, height, _) = sheet_pixels(&model, &measures, &brief, &grid).unwrap();
    assert_eq!((width, height), (256, 256));
}

/// A camera that sees the square (0..1, 0..1) in the plane z = 0 from the front, so that it fills `fill` of the height.
fn facing(fill: f64, eye_z: f64) -> Viewpoint {
    // The stage fits a sphere of this radius to 0.9 of the half height under its own field of view.
    let half = (15.0_f64.to_radians()).tan();
    let distance = 0.5 / (half * fill);
    let radius = distance * (half * 0.9).atan().sin();
    Viewpoint { eye: [0.5, 0.5, eye_z], target: [0.5, 0.5, 0.0], radius }
}

fn seen(text: &str, camera: Viewpoint, lens: Lens, side: u32) -> Picture {
    let brief = brief_of(512, 512, Tiles::Single);
    let (model, measures) = measured(text, &brief);
    let paper = Paper::new(brief.map.of_sheet());
    let stage = Stage::new(&model, &measures, &brief, &paper);
    let view = View { camera: Some(camera), width_px: side, height_px: side, lens, flags: false, lit: &[] };
    stage.picture(&view).unwrap()
}

/// Mean distance of two pictures' colours inside a frame, codes, after scaling the second to the brightness of the first.
fn distance(a: &Picture, b: &Picture, frame: std::ops::Range<u32>, mirrored: bool) -> f64 {
    let mut pairs = Vec::new();
    for y in frame.clone() {
        for x in frame.clone() {
            let other = if mirrored { b.width - 1 - x } else { x };
            for channel in 0..3 {
                let at = |picture: &Picture, x: u32| {
                    f64::from(picture.rgba[((y * picture.width + x) * 4 + channel) as usize])
                };
                pairs.push((at(a, x), at(b, other)));
            }
        }
    }
    let scale = pairs.iter().map(|pair| pair.0).sum::<f64>() / pairs.iter().map(|pair| pair.1).sum::<f64>();
    pairs.iter().map(|(a, b)| (a - b * scale).abs()).sum::<f64>() / pairs.len() as f64
}

#[test]
fn a_square_shows_the_grid_upright_and_mirrored_when_flipped() {
    const SIDE: u32 = 512;
    let grid = paint(&GridOptions::new(512, 512), SIDE, SIDE);
    for (uv, mirrored) in [(UPRIGHT, false), (MIRRORED, true)] {
        let mut sketch = Sketch::default();
        square(&mut sketch, [0.0, 0.0], uv);
        let picture = seen(&sketch.text(), facing(1.0, 5.0), Lens::Grid, SIDE);
        let (right, wrong) =
            (distance(&picture, &grid, 8..SIDE - 8, mirrored), distance(&picture, &grid, 8..SIDE - 8, !mirrored));
        assert!(right < 1.5, "{right} codes from the grid, mirrored: {mirrored}");
        assert!(wrong > 10.0 * right, "{right} {wrong}");
    }
}

/// Codes 0..=255 of the red channel of a square that is drawn with or without problem patterns.
fn reds(uv: [[f64; 2]; 4], lens: Lens, flags: bool) -> Vec<u8> {
    let mut sketch = Sketch::default();
    square(&mut sketch, [0.0, 0.0], uv);
    let brief = brief_of(512, 512, Tiles::Single);
    let (model, measures) = measured(&sketch.text(), &brief);
    let paper = Paper::new(brief.map.of_sheet());
    let stage = Stage::new(&model, &measures, &brief, &paper);
    let view = View { camera: Some(facing(0.9, 5.0)), width_px: 512, height_px: 512, lens, flags, lit: &[] };
    let inside = |at: &usize| (64..448).contains(&(at % 512)) && (64..448).contains(&(at / 512));
    let picture = stage.picture(&view).unwrap();
    (0..512 * 512).filter(inside).map(|at| picture.rgba[at * 4]).collect()
}

#[test]
fn the_grid_is_not_hidden_by_a_problem_pattern_over_it() {
    let (bare, wearing) = (reds(MIRRORED, Lens::Grid, false), reds(MIRRORED, Lens::Grid, true));
    let is_ink = |red: &&u8| **red < 90;
    let inked = bare.iter().filter(is_ink).count();
    assert!(inked > 1000, "{inked} px of ink");
    assert!(bare.iter().zip(&wearing).all(|(bare, wearing)| wearing <= bare), "a pattern only darkens");
    let marked = bare.iter().zip(&wearing).filter(|(bare, wearing)| bare.abs_diff(**wearing) > 50).count();
    let share = marked as f64 / bare.len() as f64;
    assert!((0.01..0.15).contains(&share), "marks take {share} of the surface");
}

#[test]
fn stretch_shows_the_circles_of_the_grid() {
    // Eight by eight cells of 64 px, circles of radius 26.75 px of 512: their length times their width, half inked.
    let reds = reds(UPRIGHT, Lens::Stretch, false);
    let paper = f64::from(*reds.iter().max().unwrap());
    let ink: f64 = reds.iter().map(|&red| (paper - f64::from(red)) / (paper - f64::from(INK[0]))).sum();
    let cell_px = 0.9 * 64.0;
    let circle_px = std::f64::consts::TAU * 26.75 / 64.0 * cell_px * f64::from(CIRCLE_PX) * f64::from(CIRCLE_STRENGTH);
    let expected = circle_px * reds.len() as f64 / (cell_px * cell_px);
    assert!((ink / expected - 1.0).abs() < 0.2, "{ink} px of ink, by formula {expected}");
}

#[test]
fn a_surface_half_as_large_shows_the_grid_painted_half_as_large() {
    let mut sketch = Sketch::default();
    square(&mut sketch, [0.0, 0.0], UPRIGHT);
    let picture = seen(&sketch.text(), facing(0.5, 5.0), Lens::Grid, 512);
    let grid = paint(&GridOptions::new(512, 512), 256, 256);
    // The square is in the middle, from 128 to 384.
    let mut cut = Picture { width: 256, height: 256, rgba: Vec::new() };
    for y in 128..384usize {
        cut.rgba.extend_from_slice(&picture.rgba[(y * 512 + 128) * 4..(y * 512 + 384) * 4]);
    }
    let off = distance(&cut, &grid, 4..252, false);
    assert!(off < 4.0, "{off} codes from the grid at half size");
    // Outside there is the ground.
    assert_eq!(picture.rgba[(256 * 512 + 100) * 4..][..3], picture.rgba[..3]);
}

#[test]
fn the_nearer_surface_hides_the_farther_in_any_file_order() {
    // The nearer is flipped, which the lens shows.
    for nearer_first in [true, false] {
        let mut sketch = Sketch::default();
        let near = |sketch: &mut Sketch| square(sketch, [0.0, 0.1], MIRRORED);
        if nearer_first {
            near(&mut sketch);
        }
        square(&mut sketch, [0.0, 0.0], UPRIGHT);
        if !nearer_first {
            near(&mut sketch);
        }
        let alone = |place: [f64; 2], uv: [[f64; 2]; 4], eye: f64| {
            let mut sketch = Sketch::default();
            square(&mut sketch, place, uv);
            seen(&sketch.text(), facing(0.8, eye), Lens::Flipped, 128)
        };
        for (eye, first, second) in [(5.0, [0.0, 0.1], [0.0, 0.0]), (-5.0, [0.0, 0.0], [0.0, 0.1])] {
            let both = seen(&sketch.text(), facing(0.8, eye), Lens::Flipped, 128);
            let [shown, hidden] = [first, second].map(|place| {
                let uv = if place == [0.0, 0.1] { MIRRORED } else { UPRIGHT };
                distance(&both, &alone(place, uv, eye), 40..88, false)
            });
            assert!(shown < 0.1 && hidden > 3.0, "{nearer_first}: {shown} from the one, {hidden} from the other");
        }
    }
}

#[test]
fn triangles_that_share_an_edge_leave_no_gap() {
    // A fan of thin triangles over the square, turned, so that edges run at all angles over pixel centres.
    let mut sketch = Sketch::default();
    let rim = |i: usize| {
        let (s, c) = (i as f64 / 97.0 * std::f64::consts::TAU).sin_cos();
        ([0.5 + 0.9 * c, 0.5 + 0.9 * s, 0.0], [0.5 + 0.5 * c, 0.5 + 0.5 * s])
    };
    for i in 0..97 {
        sketch.face(&[([0.5, 0.5, 0.0], [0.5, 0.5]), rim(i), rim((i + 1) % 97)]);
    }
    let picture = seen(&sketch.text(), facing(1.2, 5.0), Lens::Picture, 200);
    let middle = picture.rgba[(100 * 200 + 100) * 4..][..3].to_vec();
    assert_ne!(middle, GROUND);
    for y in 0..200usize {
        for x in 0..200usize {
            assert_eq!(picture.rgba[(y * 200 + x) * 4..][..3], middle, "a hole at {x}, {y}");
        }
    }
}

/// Two squares with a seam between them at x = 0.5, and a plate before it or not.
fn seam(plate: bool) -> String {
    let mut sketch = Sketch::default();
    for (x, left) in [(-0.5, 0.05), (0.5, 0.55)] {
        square(&mut sketch, [x, 0.0], [[left, 0.1], [left + 0.4, 0.1], [left + 0.4, 0.5], [left, 0.5]]);
    }
    if plate {
        square(&mut sketch, [0.0, 0.1], [[0.05, 0.55], [0.45, 0.55], [0.45, 0.95], [0.05, 0.95]]);
    }
    sketch.text()
}

#[test]
fn a_seam_is_a_line_as_wide_as_it_is_seen_and_hidden_behind_a_surface() {
    let camera = facing(0.7, 5.0);
    let ink = |text: &str, front: Axis, camera: Viewpoint, lit: &[u32], side: u32| {
        let brief = Brief { seams: Seams { front, ..Seams::default() }, ..brief_of(512, 512, Tiles::Single) };
        let (model, measures) = measured(text, &brief);
        let paper = Paper::new(brief.map.of_sheet());
        let view = View { camera: Some(camera), width_px: side, height_px: side, lens: Lens::Seams, flags: false, lit };
        let picture = Stage::new(&model, &measures, &brief, &paper).picture(&view).unwrap();
        // Along the middle row, between the squares' other edges: how much ink there is, in px of full ink.
        let (row, columns) = (side as usize / 2, (side as usize * 2 / 5)..(side as usize * 3 / 5));
        let red = |x: usize| f64::from(picture.rgba[(row * side as usize + x) * 4]);
        let base = red(columns.start);
        columns.map(|x| (base - red(x)) / (base - f64::from(INK[0]))).sum::<f64>()
    };
    // By formula: 3.2 px of full ink where a seam is seen from the front, 0.36 of that where it is seen only otherwise,
    // 0.35 of the ink where others are lit; twice as wide in a picture of twice the usual height.
    let unlit: &[u32] = &[7];
    for (what, measured, expected) in [
        ("in front", ink(&seam(false), Axis::PlusZ, camera, &[], 400), 3.2),
        ("seen from elsewhere", ink(&seam(false), Axis::MinusZ, camera, &[], 400), 3.2 * 0.36),
        ("lit", ink(&seam(false), Axis::PlusZ, camera, &[0, 1], 400), 3.2),
        ("others are lit", ink(&seam(false), Axis::PlusZ, camera, unlit, 400), 3.2 * 0.35),
        ("behind a plate", ink(&seam(true), Axis::PlusZ, camera, &[], 400), 0.0),
        ("of twice the usual height", ink(&seam(false), Axis::PlusZ, camera, &[], 1600), 6.4),
    ] {
        assert!((measured - expected).abs() < 0.05, "{what}: {measured} px of ink, by formula {expected}");
    }
    let behind = ink(&seam(true), Axis::PlusZ, facing(0.7, -5.0), &[], 400);
    assert!(behind > 0.2, "{behind} px of ink on the side without the plate");
}

#[test]
fn lines_that_leave_the_picture_or_pass_behind_the_eye_are_cut() {
    let mut sketch = Sketch::default();
    for (from, to, left) in [(-50.0, 0.0, 0.05), (0.0, 50.0, 0.55)] {
        let at = [[from, -1.0, 50.0], [to, -1.0, 50.0], [to, -1.0, -50.0], [from, -1.0, -50.0]];
        let uv = [[left, 0.1], [left + 0.4, 0.1], [left + 0.4, 0.9], [left, 0.9]];
        sketch.face(&at.into_iter().zip(uv).collect::<Vec<_>>());
    }
    let camera = Viewpoint { eye: [0.0, 0.0, 2.0], target: [0.0, 0.0, 0.0], radius: 0.5 };
    let picture = seen(&sketch.text(), camera, Lens::Seams, 100);
    let red = |x: usize, y: usize| picture.rgba[(y * 100 + x) * 4];
    // The seam runs from below the picture to the horizon, in the middle all along: a line over two pixels.
    for y in 60..100 {
        assert_eq!(red(30, y), red(70, y), "row {y}");
        assert!(red(49, y) < red(30, y) - 60 && red(50, y) < red(70, y) - 60, "row {y}: {} {}", red(49, y), red(30, y));
    }
}

#[test]
fn triangles_behind_the_camera_are_skipped_and_crossing_ones_clipped() {
    let mut sketch = Sketch::default();
    // A floor from far behind the eye to far before it, below the line of sight.
    let at = [[-50.0, -1.0, 50.0], [50.0, -1.0, 50.0], [50.0, -1.0, -50.0], [-50.0, -1.0, -50.0]];
    let corners: Vec<_> = at.into_iter().zip(UPRIGHT).collect();
    sketch.face(&corners);
    let camera = Viewpoint { eye: [0.0, 0.0, 2.0], target: [0.0, 0.0, 0.0], radius: 0.5 };
    let picture = seen(&sketch.text(), camera, Lens::Flipped, 100);
    let ground = picture.rgba[..3].to_vec();
    let pixel = |x: usize, y: usize| picture.rgba[(y * 100 + x) * 4..][..3].to_vec();
    // The horizon is a little below the middle: the floor ends at z = -50.
    assert_eq!(pixel(50, 45), ground);
    assert_ne!(pixel(50, 60), ground);
    assert_ne!(pixel(2, 98), ground);
}

#[test]
fn sizes_that_cannot_be_drawn_are_refused() {
    let mut sketch = Sketch::default();
    square(&mut sketch, [0.0, 0.0], UPRIGHT);
    let brief = brief_of(64, 64, Tiles::Single);
    let (model, measures) = measured(&sketch.text(), &brief);
    let paper = Paper::new(brief.map.of_sheet());
    let stage = Stage::new(&model, &measures, &brief, &paper);
    let view = View { camera: None, width_px: 0, height_px: 9, lens: Lens::Grid, flags: true, lit: &[] };
    assert!(stage.picture(&view).unwrap_err().to_string().contains("0 x 9"));
    assert!(stage.picture(&View { width_px: 100_000, ..view }).is_ok_and(|picture| picture.height == 9));
    assert!(stage.picture(&View { width_px: u32::MAX, height_px: u32::MAX, ..view }).is_err());
}

fn page(examined: &Examined, brief: &Brief) -> String {
    let Examined { model, measures, report } = examined;
    let images = shots(report).iter().map(|_| data_url("image/png", b"png")).collect();
    html(report, &Pictures::new(model, measures, brief, report, images), brief)
}

/// Text of the page without tags, entities resolved.
fn plain(page: &str) -> String {
    let mut out = String::new();
    let body = &page[page.find("<body>").unwrap()..];
    let mut inside = false;
    for letter in body.chars() {
        match letter {
            '<' => inside = true,
            '>' => inside = false,
            letter if !inside => out.push(letter),
            _ => (),
        }
    }
    let entities = [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#39;", "'"), ("&amp;", "&")];
    entities.into_iter().fold(out, |text, (entity, letter)| text.replace(entity, letter))
}

#[test]
fn text_json_and_html_agree() {
    for which in ["draft", "revised"] {
        let brief = Brief::default();
        let examined = examined(&lantern(which), &brief);
        let (text, page) = (text("square.obj", &examined.report), plain(&page(&examined, &brief)));
        let json = serde_json::to_value(&examined.report).unwrap();
        assert!(page.contains(json["verdict"].as_str().unwrap()) && text.contains(json["verdict"].as_str().unwrap()));
        // Both list the findings in the report's order; the text has no advice beyond the worst three.
        let (mut told, mut shown) = (text.as_str(), page.as_str());
        for (index, finding) in json["findings"].as_array().unwrap().iter().enumerate() {
            let said = |value: &serde_json::Value| value.as_str().unwrap().to_owned();
            let (title, advice) = (said(&finding["title"]), said(&finding["advice"]));
            told = &told[told.find(&title).unwrap_or_else(|| panic!("the text lacks {title:?}, or has it earlier"))..];
            shown =
                &shown[shown.find(&title).unwrap_or_else(|| panic!("the page lacks {title:?}, or has it earlier"))..];
            let mut all = vec![said(&finding["number"]["text"]), said(&finding["where"])];
            all.extend(finding["limit"].get("text").map(said));
            for said in &all {
                // Of the text, the finding's own lines.
                let own: Vec<&str> = told.lines().take(if index < 3 { 3 } else { 1 }).collect();
                assert!(own.iter().any(|line| line.contains(said)), "the text has no {said:?} at {title:?}");
                assert!(shown.contains(said), "the page has no {said:?}");
            }
            assert!(shown.contains(&advice), "the page has no {advice:?}");
            let line = text.lines().find(|line| line.contains(&title)).unwrap();
            assert!(line.trim_start().starts_with(&said(&finding["severity"]).replace('-', " ")), "{line}");
            assert_eq!(told.lines().nth(2).is_some_and(|line| line.trim() == advice), index < 3, "{title}");
        }
        // The key numbers, name and value as the text has them.
        for line in text.lines().filter(|line| line.starts_with("  anisotropy") || line.starts_with("  coverage")) {
            let (name, value) = line.trim().split_at(24);
            assert!(page.contains(name.trim()) && page.contains(value.trim()), "{line}");
        }
        assert!(page.contains(&examined.report.file.sha256));
    }
}

#[test]
fn a_hostile_name_is_escaped() {
    let mut sketch = Sketch::default();
    square(&mut sketch, [0.0, 0.0], MIRRORED);
    let name = "</h3><script>alert(1)</script><img/src=x onerror=alert(1)>\" onload='alert(1)&lt;";
    let text = sketch.text().replacen("\nf ", &format!("\no {name}\ng {name}\nusemtl {name}\nf "), 1);
    let brief = Brief::default();
    let mut examined = examined(&text, &brief);
    examined.report.file.name = format!("{name}.obj");
    assert!(examined.report.findings.iter().any(|finding| finding.title.contains("<script>")));
    let page = page(&examined, &brief);
    assert!(!page.contains("<script") && !page.contains("<img/src"), "{page}");
    // No tag is left with an open attribute.
    let mut rest = page.as_str();
    while let Some(start) = rest.find('<') {
        let end = start + rest[start..].find('>').unwrap();
        let tag = &rest[start..end];
        assert!(tag.matches('"').count().is_multiple_of(2), "{tag}");
        rest = &rest[end + 1..];
    }
    assert!(plain(&page).contains(name));
}

#[test]
fn the_page_is_self_contained_and_accessible() {
    let brief = Brief::default();
    let examined = examined(&lantern("draft"), &brief);
    let page = page(&examined, &brief);
    assert!(page.starts_with("<!DOCTYPE html>\n<html lang=\"en\">"));
    for outside in ["http://", "https://", "url(", "@import", "<script", "<link", "<iframe", "javascript:"] {
        assert!(!page.contains(outside), "{outside}");
    }
    // Images have alternative text, tables have headers and captions, ids are unique, references resolve.
    assert!(page.matches("<img ").count() > 1);
    assert_eq!(page.matches("<img ").count(), page.matches(" alt=\"").count());
    assert!(!page.contains("alt=\"\""));
    assert_eq!(page.matches("<table>").count(), page.matches("<caption>").count());
    assert_eq!(page.matches("role=\"img\"").count(), page.matches("role=\"img\" viewBox").count());
    assert_eq!(page.matches("<figure>").count(), page.matches("<figcaption>").count());
    let values = |key: &str| -> Vec<String> {
        page.split(key).skip(1).map(|rest| rest[..rest.find('"').unwrap()].to_owned()).collect()
    };
    let mut ids: BTreeMap<String, u32> = BTreeMap::new();
    for id in values(" id=\"") {
        *ids.entry(id).or_default() += 1;
    }
    assert!(ids.values().all(|&count| count == 1), "{ids:?}");
    for target in values("aria-labelledby=\"").into_iter().chain(values("href=\"#")) {
        assert!(ids.contains_key(&target), "{target}");
    }
    for landmark in ["<header>", "<main>", "<footer>", "<h1>"] {
        assert_eq!(page.matches(landmark).count(), 1, "{landmark}");
    }
}

/// 3,000 objects, one square each on its own field of the sheet, one after another larger on the surface.
fn many_objects() -> String {
    let mut text = String::new();
    for object in 0..3000_u32 {
        let (x, y) = (f64::from(object % 60), f64::from(object / 60));
        let side = 0.2 + f64::from(object) * 3e-4;
        let _ = writeln!(text, "o thing_{object}");
        for [right, up] in UPRIGHT {
            let (u, v) = ((x + 0.1 + 0.8 * right) / 60.0, (y + 0.1 + 0.8 * up) / 60.0);
            let _ = writeln!(text, "v {} {} 0\nvt {u} {v}", 2.0 * x + side * right, 2.0 * y + side * up);
        }
        text.push_str("f -4/-4 -3/-3 -2/-2 -1/-1\n");
    }
    text
}

#[test]
fn with_thousands_of_findings_the_page_shows_the_worst_and_counts_the_rest() {
    let mut brief = Brief::default();
    // Names that the file does not have: findings that are never grouped.
    brief.text.groups = (0..1100).map(|number| format!("sign_{number}")).collect();
    let examined = examined(&many_objects(), &brief);
    let findings = examined.report.findings.len();
    assert!(findings > 1000, "{findings}");
    let page = page(&examined, &brief);
    assert!(page.len() < 2_000_000, "{} bytes", page.len());
    assert_eq!(page.matches("<article ").count(), 40);
    let rows_of = |table: &str| {
        let from = page.find(&format!("aria-label=\"Table of {table}\"")).unwrap();
        let table = &page[from..from + page[from..].find("</table>").unwrap()];
        (table.matches("<tr>").count() - 1, table.to_owned())
    };
    for (table, all) in [("further findings", findings - 40), ("parts", 3000), ("shells", 3000)] {
        let (rows, text) = rows_of(table);
        assert_eq!(rows, 200, "{table}");
        let grouped = |count: usize| match count {
            1000.. => format!("{}\u{A0}{:03}", count / 1000, count % 1000),
            _ => count.to_string(),
        };
        let told =
            format!("The worst 200 of {}; the JSON report has the other {} too.", grouped(all), grouped(all - 200));
        assert!(text.contains(&told), "{told} {}", &text[..300]);
    }
    // The worst shell, and its correction: the smallest has twice and more of the mean.
    let off = |shell: &gridproof::findings::Shell| shell.density_ratio.map_or(0.0, |ratio| ratio.log2().abs());
    let shells = &examined.report.shells;
    let worst = shells.iter().max_by(|a, b| off(a).total_cmp(&off(b))).unwrap();
    let (_, shells) = rows_of("shells");
    let first = &shells[shells.find("<tbody>").unwrap()..];
    assert!(first[..200].contains(&format!("{}, shell {}", worst.object.as_deref().unwrap(), worst.id)), "{first}");
    let scale = format!("<td class=\"n\">{:.2}</td>", 1.0 / worst.density_ratio.unwrap());
    assert!(first[..600].contains(&scale), "{scale}");
}

#[test]
fn bidirectional_names_are_isolated() {
    let mut sketch = Sketch::default();
    square(&mut sketch, [0.0, 0.0], MIRRORED);
    let name = "plate\u{202E}gnp.eman";
    let text = sketch.text().replacen("\nf ", &format!("\no {name}\nf "), 1);
    let brief = Brief { text: TextSafety { groups: vec![name.to_owned()] }, ..Brief::default() };
    let mut examined = examined(&text, &brief);
    examined.report.file.name = format!("{name}.obj");
    assert_eq!(examined.report.shells[0].object.as_deref(), Some(name), "data keep the name as it is");
    let page = page(&examined, &brief);
    let named = examined.report.findings.iter().filter(|finding| finding.title.contains(name)).count();
    assert!(named >= 2, "{:?}", examined.report.findings);
    // In a sentence it is always isolated; alone in its element it affects nothing.
    for at in page.match_indices(name).map(|(at, _)| at) {
        let (before, after) = (&page[..at], &page[at + name.len()..]);
        let alone = before.ends_with('>') && after.trim_start_matches(".obj").starts_with('<');
        assert!(
            alone || before.ends_with('\u{2068}') && after.trim_start_matches(".obj").starts_with('\u{2069}'),
            "{after:.80}"
        );
    }
}

/// Two squares of half a tile, 2 px of 2048 apart, and far from a third: by formula the gap's middle is at u = 0.25, and
/// the drawing has 512 units a tile and a margin of 0.02 tiles.
#[test]
fn a_finding_of_padding_shows_its_gap_on_sheet_and_page() {
    let mut sketch = Sketch::default();
    let px = 1.0 / 2048.0;
    for (x, [low, high]) in [(0.0, [0.05, 0.25 - px]), (2.0, [0.25 + px, 0.45]), (4.0, [0.7, 0.9])] {
        square(&mut sketch, [x, 0.0], [[low, 0.4], [high, 0.4], [high, 0.6], [low, 0.6]]);
    }
    let brief = Brief::default();
    let Examined { model, measures, report } = examined(&sketch.text(), &brief);
    let options = SheetOptions { gaps: &measures.padding.gaps, ..SheetOptions::default() };
    let svg = sheet_svg(&model, &measures, &brief, &options).unwrap();
    let document = Document::parse(&svg).unwrap();
    let rings: Vec<_> = document.descendants().filter(|node| node.has_tag_name("circle")).collect();
    assert_eq!(rings.len(), 1);
    assert_eq!(rings[0].attribute("cx"), Some("512.00"));
    assert_eq!(rings[0].first_element_child().and_then(|title| title.text()), Some("2.0 px"));
    let pictures = Pictures::new(&model, &measures, &brief, &report, Vec::new());
    let page = html(&report, &pictures, &brief);
    let ring = format!("<circle class=\"gap\" cx=\"{:.1}\"", (0.25 + 0.02) * 512.0);
    assert_eq!((page.matches(&ring).count(), page.matches("<circle class=\"gap\"").count()), (1, 1));
}

#[test]
fn images_that_are_not_png_are_left_out() {
    let brief = Brief::default();
    let examined = examined(&lantern("draft"), &brief);
    let Examined { model, measures, report } = &examined;
    let hostile =
        vec!["data:image/png;base64,AA\" onerror=\"alert(1)".to_owned(), "https://x.invalid/a.png".to_owned()];
    let page = html(report, &Pictures::new(model, measures, &brief, report, hostile), &brief);
    assert_eq!(page.matches("<img ").count(), 0);
}
