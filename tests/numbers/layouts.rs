//! Edited layouts: equal to that of the written file, and only stale stages are measured again.

use crate::lantern;
use crate::support::{Sketch, measured};
use glam::DVec2;
use gridproof::brief::{Axis, Brief};
use gridproof::measure::rays::seams::{SeamEdge, Seams};
use gridproof::measure::{Measures, Stage};
use gridproof::model::{Change, Document, Edit, Model};
use gridproof::obj::read;
use gridproof::obj::write::{Edits, MAX_DECIMALS, write};
use gridproof::report::{File, Report};
use serde_json::Value;

struct Random(u64);

impl Random {
    fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % end.max(1)
    }

    fn uv(&mut self) -> DVec2 {
        DVec2::new(self.below(1000) as f64, self.below(1000) as f64) / 1000.0
    }
}

/// A report without what the lines of a file say, and how many `vt` there are.
fn report(model: &Model, measures: &Measures, brief: &Brief) -> Value {
    fn strip(value: &mut Value) {
        match value {
            Value::Object(fields) => {
                ["line", "texcoords", "warnings", "warning_counts"].iter().for_each(|key| drop(fields.remove(*key)));
                fields.values_mut().for_each(strip);
            }
            Value::Array(values) => values.iter_mut().for_each(strip),
            Value::String(text) => text.truncate(text.find(" on line ").unwrap_or(text.len())),
            _ => {}
        }
    }
    let mut report = serde_json::to_value(Report::new(model, measures, brief, File::default())).unwrap();
    strip(&mut report);
    report
}

/// One step of an edit, as users and edit tools make them.
fn step(random: &mut Random, model: &Model, edit: &mut Edit) {
    let layout = &model.layout;
    let document = &model.document;
    let corners = document.corners.len();
    let corner = random.below(corners) as u32;
    let of_face = |face: usize| document.face_starts[face]..document.face_starts[face + 1];
    let face = model.face_of_corner(corner);
    let moved = |corner: u32, by: DVec2| layout.uv_of_corner(corner).map(|uv| (corner, uv + by));
    let by = random.uv() - random.uv();
    match (random.below(5), layout.shell_of_face(face)) {
        (_, None) => edit.uvs.extend(of_face(face).map(|corner| (corner, random.uv()))),
        (0, Some(shell)) => {
            let faces = (0..document.face_count()).filter(|&face| layout.shell_of_face(face) == Some(shell));
            edit.uvs.extend(faces.flat_map(of_face).filter_map(|corner| moved(corner, by)));
        }
        (1, _) => {
            let value = layout.uv_value_of_corner(corner);
            let same = (0..corners as u32).filter(|&corner| layout.uv_value_of_corner(corner) == value);
            edit.uvs.extend(same.filter_map(|corner| moved(corner, by / 50.0)));
        }
        (2, _) => edit.uvs.extend(of_face(face).filter_map(|corner| moved(corner, by))),
        (3, _) => edit.uvs.extend(moved(corner, by)),
        _ => {
            // As another corner at the same place: joins, where both ends of an edge agree.
            let place = |corner: usize| model.position_value[document.corners[corner].position.0 as usize];
            let other = (0..corners).filter(|&other| place(other) == place(corner as usize));
            let uvs: Vec<DVec2> = other.filter_map(|corner| layout.uv_of_corner(corner as u32)).collect();
            edit.uvs.push((corner, uvs[random.below(uvs.len())]));
        }
    }
}

/// Random edits, each upon the last: layout and report equal those of the written file, whether all or only stale
/// stages are measured.
fn assert_edits(text: &str, seed: u64, count: usize, brief: &Brief) -> [usize; 3] {
    let mut random = Random(seed);
    let document: Document = read(text.as_bytes()).unwrap();
    let mut edits = Edits::new(&document);
    let mut model = Model::new(document.clone());
    let mut measures = Measures::new(&model, brief);
    let mut changes = [0; 3];
    for turn in 0..count {
        let mut edit = Edit::default();
        (0..=random.below(3)).for_each(|_| step(&mut random, &model, &mut edit));
        // Rounded as they are written.
        for (corner, uv) in &mut edit.uvs {
            let new = edits.texcoord(uv.to_array(), MAX_DECIMALS).unwrap();
            edits.set(&document, *corner as usize, new);
            *uv = DVec2::from_array(edits.uv(&document, *corner as usize).unwrap());
        }
        let written = read(&write(text.as_bytes(), &document, &edits).unwrap()).unwrap();
        edit.decimals = Some(written.decimals[1]);
        let (after, change) = model.with(&edit).unwrap();
        let from_file = Model::new(written);
        assert_eq!(after.layout, from_file.layout, "{seed}, {turn}: {edit:?}");
        let stale = measures.relayout(change);
        stale.iter().for_each(|&stage| measures.take(stage, &after, brief));
        let expected = report(&from_file, &Measures::new(&from_file, brief), brief);
        let ours = report(&after, &measures, brief);
        for (key, expected) in expected.as_object().unwrap() {
            assert!(ours[key] == *expected, "{seed}, {turn}, {change:?}, {key}: {} for {expected}", ours[key]);
        }
        assert_eq!(stale.contains(&Stage::Seams), change == Change::Connectivity);
        changes[change as usize] += 1;
        model = after;
    }
    changes
}

/// A small model with all special cases: no uvs, uvs at some corners, faces that meet at one edge by three, a collapsed
/// edge, the same uv under many numbers, one number at many places, shells on one another.
const ODD: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 2 0 0\nv 2 1 0\nv 1 1 1\nv 1 0 1\nv 1 0 0\n\
    vt 9 9\nvt 0.1 0.1\nvt 0.3 0.1\nvt 0.3 0.3\nvt 0.1 0.3\nvt 0.5 0.1\nvt 0.5 0.3\nvt 0.3 0.1\nvt -0 0.3\n\
    f 1/2 2/3 3/4 4/5\nf 2/8 5/6 6/7 3/4\nf 2/3 3/4 7/5 8/2\nf 3 7 6\nf 1/2 4/5 7\nf 2/3 9/8 5/6\nf 1/2 2/3 3/4 4/5\n\
    f 5/9 2/2 8/2\nf 8/2 5/9 6/7\n";

#[test]
fn an_edited_layout_and_its_report_equal_the_written_files() {
    let brief = Brief::default();
    let mut changes = [0; 3];
    let mut add = |more: [usize; 3]| (0..3).for_each(|at| changes[at] += more[at]);
    (0..40).for_each(|seed| add(assert_edits(ODD, seed, 6, &brief)));
    for seed in 40..60 {
        add(assert_edits(&cells(5).text(), seed, 4, &brief));
    }
    add(assert_edits(&lantern::draft().unwrap().obj, 60, 4, &brief));
    assert!(changes.iter().all(|&count| count > 10), "{changes:?}");
}

/// A bent sheet of n × n quads; every uv is shared.
fn cells(n: usize) -> Sketch {
    let mut sketch = Sketch::default();
    let at = |x: usize, y: usize| {
        let (x, y) = (x as f64, y as f64);
        ([x, y, (x * 1.7).sin() + (y * 1.3).cos()], [(x + 0.25) / 8.0, (y + 0.25) / 8.0])
    };
    for y in 0..=n {
        for x in 0..=n {
            let (position, uv) = at(x, y);
            sketch.positions.push(position);
            sketch.uvs.push(uv);
        }
    }
    for y in 0..n {
        for x in 0..n {
            let a = y * (n + 1) + x;
            sketch.faces.push([a, a + 1, a + n + 2, a + n + 1].map(|at| (at, at)).into());
        }
    }
    sketch
}

/// Moves the uvs of some faces away.
fn moved_away(model: &Model, faces: &[usize], by: f64) -> (Model, Change) {
    let starts = &model.document.face_starts;
    let corners = faces.iter().flat_map(|&face| starts[face]..starts[face + 1]);
    let uvs = corners.map(|corner| (corner, model.layout.uv_of_corner(corner).unwrap() + by)).collect();
    model.with(&Edit { uvs, ..Edit::default() }).unwrap()
}

#[test]
fn only_rays_of_new_seams_are_cast() {
    // Squares in a plane, under a screen: all edges are alike, so that one more leaves the others as they are.
    let mut sketch = cells(12);
    sketch.positions.iter_mut().for_each(|position| position[2] = 0.0);
    let text = sketch.text() + "v 3 3 1\nv 9 3 1\nv 9 9 1\nv 3 9 1\nf -4 -3 -2 -1\n";
    let brief = Brief::default();
    let (model, mut measures) = measured(&text, &brief);
    let take = |measures: &mut Measures, model: &Model, change: Change| {
        measures.relayout(change).into_iter().for_each(|stage| measures.take(stage, model, &brief));
    };
    let apart: Vec<usize> = [1, 3].into_iter().flat_map(|y| [1, 3, 5, 7, 9].map(|x| 12 * y + x)).collect();
    let (some, change) = moved_away(&model, &apart, 2.0);
    take(&mut measures, &some, change);
    let first = measures.seams.clone();
    assert_eq!((change, first.edges.len(), first.cast), (Change::Connectivity, 40, first.rays));
    assert!(first.edges.iter().any(|edge| (0.05..0.95).contains(&edge.exposure)));

    // Of others, only their own; the results of the first stay exactly, and equal those measured from scratch.
    let (more, change) = moved_away(&some, &[12 * 7 + 5, 12 * 9 + 7, 12 * 9 + 8], 4.0);
    take(&mut measures, &more, change);
    let second = measures.seams.clone();
    assert_eq!((second.edges.len(), second.cast), (50, second.rays - first.rays));
    let by_corner = |seams: &Seams, model: &Model| -> Vec<(u32, f32, f32)> {
        let corner = |edge: &SeamEdge| model.layout.edges[edge.edge as usize].corner;
        seams.edges.iter().map(|edge| (corner(edge), edge.front, edge.exposure)).collect()
    };
    let among = by_corner(&second, &more);
    assert!(by_corner(&first, &some).iter().all(|edge| among.contains(edge)));
    let mut anew = Measures::new(&more, &brief).seams;
    anew.cast = second.cast;
    assert_eq!(anew, second);

    // A shell that is moved as it is: none at all.
    let (moved, change) = moved_away(&more, &apart[..1], -1.0);
    take(&mut measures, &moved, change);
    assert_eq!((change, &measures.seams), (Change::Uvs, &second));
    // Another front, and back: only rays to it.
    let mut from_behind = brief.clone();
    from_behind.seams.front = Axis::MinusZ;
    for (brief, share) in [(&from_behind, 0.0), (&brief, second.share_in_front.unwrap())] {
        measures.take(Stage::Seams, &moved, brief);
        assert_eq!(measures.seams.share_in_front, Some(share));
        assert!(4 * measures.seams.cast < second.rays, "{:?}", measures.seams.cast);
    }
    // Fewer seams: the rest is known.
    let (change, fewer) = (Change::Connectivity, some);
    take(&mut measures, &fewer, change);
    assert_eq!(std::mem::replace(&mut measures.seams.cast, first.cast), 0);
    assert_eq!(measures.seams, first);
}

#[test]
fn cuts_are_kept_until_their_sides_move_apart() {
    let model = Model::new(read(cells(3).text().as_bytes()).unwrap());
    // Face 4 is the middle one; its corners start its edges. The border of the sheet is no place to cut.
    let cut = |model: &Model, cuts: Vec<u32>| model.with(&Edit { cuts, ..Edit::default() }).unwrap();
    let (open, change) = cut(&model, vec![17, 0, 17]);
    assert_eq!((change, open.layout.open_cuts.len(), open.layout.shell_count), (Change::Nothing, 1, 1));
    let (again, _) = cut(&open, open.layout.open_cuts.clone());
    assert_eq!(again.layout.open_cuts, open.layout.open_cuts);
    let (parted, change) = moved_away(&open, &[4], 1.0);
    assert_eq!((change, parted.layout.open_cuts.len(), parted.layout.shell_count), (Change::Connectivity, 0, 2));
    let (elsewhere, _) = moved_away(&open, &[0], 1.0);
    assert_eq!(elsewhere.layout.open_cuts, open.layout.open_cuts);
}

#[test]
fn an_edit_that_no_file_can_hold_is_refused() {
    let model = Model::new(read(ODD.as_bytes()).unwrap());
    for (corner, uv) in [(0, DVec2::NAN), (0, DVec2::new(0.0, 1e31)), (1_000, DVec2::ZERO)] {
        assert!(model.with(&Edit { uvs: vec![(corner, uv)], ..Edit::default() }).is_none());
    }
    assert!(model.with(&Edit { cuts: vec![1_000], ..Edit::default() }).is_none());
}
