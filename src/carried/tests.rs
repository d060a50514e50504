//! Models of any shape round-trip, and no bytes cause a panic.

use super::coder::Writer;
use super::connect::CORNERS_MAX;
use super::encode::Source;
use super::*;
use crate::brief::Brief;
use crate::measure::{Measures, Stage};
use crate::model::{Model, Run};
use crate::obj::read;
use crate::report::Report;
use proptest::prelude::*;

const STEPS: Steps = Steps { position: Step { times: 1, digits: 3 }, uv: Step { times: 1, digits: 4 } };

/// Text of a model: values on a coarse lattice so that some repeat, faces with or without uvs, names of any letters.
fn model_text() -> impl Strategy<Value = String> {
    let position = prop::array::uniform3(-40i32..40);
    let uv = prop::array::uniform2(-20i32..20);
    let name = prop_oneof![Just("wall".to_owned()), "[a-zA-Z0-9_äöüßΩ漢字🏮]{1,12}"];
    let face =
        (prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>()), 3..9), 0..10u8, name);
    let lists = (
        prop::collection::vec(position, 1..40),
        prop::collection::vec(uv, 1..40),
        prop::collection::vec(face, 1..40),
        any::<bool>(),
    );
    lists.prop_map(|(positions, uvs, faces, normals)| {
        let mut text = String::from("mtllib any.mtl\n");
        positions.iter().for_each(|p| text += &format!("v {} {} {}\n", p[0], p[1], f64::from(p[2]) / 8.0));
        uvs.iter().for_each(|q| text += &format!("vt {} {}\n", f64::from(q[0]) / 16.0, f64::from(q[1]) / 8.0));
        if normals {
            text += "vn 0 0 1\nvn 0 0 -1\n";
        }
        for (corners, way, name) in faces {
            match way {
                0 => text += &format!("o {name}\n"),
                1 => text += &format!("g {name} all\n"),
                2 => text += &format!("usemtl {name}\n# a line\n"),
                _ => {}
            }
            text.push('f');
            for (number, (position, uv)) in corners.iter().enumerate() {
                let (position, uv) = (position.index(positions.len()) + 1, uv.index(uvs.len()) + 1);
                text += &match way {
                    3 => format!(" {position}"),
                    4 if number == 1 => format!(" {position}"),
                    5 if normals => format!(" {position}/{uv}/2"),
                    _ => format!(" {position}/{uv}"),
                };
            }
            text.push('\n');
        }
        text
    })
}

/// A model with its handedness and seams, which is all of the measures that is carried.
struct Made {
    model: Model,
    measures: Measures,
    file: File,
}

impl Made {
    fn new(text: &str) -> Self {
        let model = Model::new(read(text.as_bytes()).expect("faces"));
        let mut measures = Measures::default();
        for stage in [Stage::Triangles, Stage::Seams] {
            measures.take(stage, &model, &Brief::default());
        }
        let file =
            File { name: "Λατέρνα.obj".into(), bytes: text.len() as u64, sha256: "0123456789abcdef".repeat(4) };
        Self { model, measures, file }
    }

    fn encoded(&self, steps: Steps) -> Option<Vec<u8>> {
        Source::new(&self.model, &self.measures, &self.file).encoded(steps)
    }
}

fn decoded(model: &[u8]) -> Result<Carried, LinkFailure> {
    decode(&Parcel { version: VERSION, model: model.to_vec(), review: Vec::new() })
}

/// A grid of quads over a bowl, every face's corners from another start.
fn bowl(side: usize) -> String {
    let mut text = String::new();
    let at = |x: usize| x as f64 / side as f64;
    for y in 0..=side {
        for x in 0..=side {
            let (u, v) = (at(x), at(y));
            text +=
                &format!("v {:.4} {:.4} {:.4}\nvt {:.5} {:.5}\n", u * 10.0, v * 10.0, u * u + v * v, u * 0.9, v * 0.9);
        }
    }
    for y in 0..side {
        for x in 0..side {
            let first = y * (side + 1) + x + 1;
            let mut corners = [first, first + 1, first + side + 2, first + side + 1];
            corners.rotate_left((x * 7 + y) % 4);
            text += &format!("f {}\n", corners.map(|c| format!("{c}/{c}")).join(" "));
        }
    }
    text
}

#[test]
fn a_grid_of_quads_takes_less_than_three_bytes_a_triangle() {
    let made = Made::new(&bowl(60));
    let steps = Steps { position: Step { times: 1, digits: 4 }, uv: Step { times: 1, digits: 5 } };
    let bytes = made.encoded(steps).expect("in range").len();
    let each = bytes as f64 / made.model.triangle_count() as f64;
    assert!(each < 3.0, "{each}");
}

#[test]
fn a_link_carries_the_review_with_the_model() {
    let made = Made::new(&bowl(3));
    let model = made.encoded(Steps { position: Step { times: 1, digits: 4 }, ..STEPS }).expect("in range");
    let review = "{\"finding\":\"stretch-0\",\"note\":\"größer, bitte\"}".as_bytes();
    let text = to_base64url(&wrap(&model, review).expect("short"));
    assert_eq!(unwrap(&text), Ok(Parcel { version: VERSION, model, review: review.to_vec() }));
    assert_eq!(wrap(&[], &vec![b'x'; REVIEW_BYTES_MAX + 1]), None);
}

#[test]
fn each_kind_of_broken_link_has_its_own_error() {
    let bytes = wrap(&Made::new(&bowl(3)).encoded(STEPS).unwrap_or(vec![7; 99]), b"{}").expect("short");
    let code = |text: &str| unwrap(text).map_err(|failure| failure.code);
    let text = to_base64url(&bytes);
    assert!(code(&text).is_ok());
    use LinkFailureCode as Code;
    for (changed, expected) in [
        (String::new(), Code::NotCarried),
        ("hello world".to_owned(), Code::NotCarried),
        (format!("{text}!"), Code::NotCarried),
        (to_base64url(b"PK\x03\x04"), Code::NotCarried),
        (to_base64url(&[&[MAGIC + VERSION + 1], &bytes[1..]].concat()), Code::Newer),
        (text[..text.len() - 40].to_owned(), Code::CutShort),
        (text[..3].to_owned(), Code::CutShort),
        (format!("{text}AAAA"), Code::Altered),
        ("s".repeat(LINK_BYTES_MAX * 2), Code::TooLarge),
    ] {
        assert_eq!(code(&changed), Err(expected), "{}", &changed[..changed.len().min(40)]);
    }
    // All cuts, and all bytes changed.
    for end in 0..text.len() {
        assert!(matches!(code(&text[..end]), Err(Code::CutShort | Code::NotCarried | Code::Altered)), "{end}");
    }
    for place in 1..bytes.len() {
        let mut bytes = bytes.clone();
        bytes[place] ^= 0x10;
        assert!(matches!(code(&to_base64url(&bytes)), Err(Code::CutShort | Code::Altered)), "{place}");
    }
}

#[test]
fn counts_beyond_the_limits_are_refused_before_allocation() {
    let mut writer = Writer::new();
    let mut text = Text::new();
    let file = File::default();
    words::code_file(&mut writer, &mut text, &file).expect("short");
    code_step(&mut writer, Some(STEPS.position)).expect("a step");
    code_step(&mut writer, Some(STEPS.uv)).expect("a step");
    let mut model = Number::NEW;
    writer.number(&mut model, CORNERS_MAX as u64);
    let failure = decoded(&writer.finish()).expect_err("too many faces");
    assert_eq!(failure.code, LinkFailureCode::Damaged);
    assert!(failure.message.contains("number of faces"), "{failure}");
}

#[test]
fn inside_out_parts_stay_inside_out_without_normals() {
    let text = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt .5 0\nvt .5 .5\nvt 0 .5\nvn 0 0 -1\nvn 0 0 1\n\
                f 1/1/1 2/2/1 3/3/1 4/4/1\n";
    let made = Made::new(text);
    assert_eq!(made.measures.handedness.inside_out, [true]);
    let carried = decoded(&made.encoded(STEPS).expect("in range")).expect("whole");
    assert_eq!(carried.document.normals.len(), 2);
    assert_eq!(carried.document.corners[0].normal, NormalId::new(0));
    let mut measures = Measures::default();
    measures.take(Stage::Triangles, &Model::new(carried.document), &Brief::default());
    assert_eq!(measures.handedness.inside_out, [true]);
}

/// Two squares that share an edge at a right angle, each its own shell, and a third in the plane of the second.
fn corner_with(first_square: &str, others: &str) -> String {
    format!(
        "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 1 0 -1\nv 1 1 -1\nv 1 0 -2\nv 1 1 -2\n\
         vt 0 0\nvt .2 0\nvt .2 .2\nvt 0 .2\nvt .4 0\nvt .6 0\nvt .6 .2\nvt .4 .2\nvt .7 0\nvt .9 0\nvt .9 .2\nvt .7 .2\n\
         {first_square}f 1/1 2/2 3/3 4/4\n{others}f 2/5 5/6 6/7 3/8\nf 5/9 7/10 8/11 6/12\n"
    )
}

#[test]
fn soft_and_hard_seams_are_kept_without_smoothing_groups() {
    for (text, soft) in [
        (corner_with("s 1\n", ""), [true, true]),
        (corner_with("s 1\n", "s 2\n"), [false, true]),
        (corner_with("", ""), [false, true]),
    ] {
        let made = Made::new(&text);
        let carried = decoded(&made.encoded(STEPS).expect("in range")).expect("whole");
        let measures = Measures::new(&Model::new(carried.document), &Brief::default());
        assert_eq!(measures.seams.edges.iter().map(|seam| seam.soft).collect::<Vec<_>>(), soft, "{text}");
    }
}

#[test]
fn values_out_of_range_are_refused_with_a_reason() {
    let refused = |text: &str| {
        let (model, brief) = (Model::new(read(text.as_bytes()).expect("faces")), Brief::default());
        let measures = Measures::new(&model, &brief);
        let report = Report::new(&model, &measures, &brief, File::default());
        encode(&model, &measures, &report, &brief).expect_err("refused").0
    };
    let far = refused("v 0 0 0\nv 1e13 0 0\nv 0 1 0\nf 1 2 3\n");
    assert!(far.contains("beyond"), "{far}");
    let long = format!("v 0 0 0\nv 1 0 0\nv 0 1 0\no {}\nf 1 2 3\n", "n".repeat(words::NAME_BYTES_MAX + 1));
    let long = refused(&long);
    assert!(long.contains("name"), "{long}");
}

/// The same but for the numbers of points: values of corners, faces, names, lines.
fn same_but_numbers(a: &Document, b: &Document) {
    assert_eq!(a.face_starts, b.face_starts);
    assert_eq!((&a.objects, &a.groups, &a.materials), (&b.objects, &b.groups, &b.materials));
    assert_eq!((&a.object_runs, &a.group_runs), (&b.object_runs, &b.group_runs));
    assert_eq!((&a.material_runs, &a.material_libraries), (&b.material_runs, &b.material_libraries));
    let counts = |d: &Document| [d.positions.len(), d.texcoords.len(), d.normals.len(), d.corners.len()];
    assert_eq!(counts(a), counts(b));
    // Points are distinguished as before, not only values.
    let mut points = std::collections::BTreeMap::new();
    for (x, y) in a.corners.iter().zip(&b.corners) {
        assert_eq!(a.positions[x.position.0 as usize], b.positions[y.position.0 as usize]);
        assert_eq!(points.entry(("v", x.position.0)).or_insert(y.position.0), &y.position.0);
        assert_eq!(x.texcoord.is_some(), y.texcoord.is_some());
        if let (Some(x), Some(y)) = (x.texcoord, y.texcoord) {
            assert_eq!(a.texcoords[x.index()], b.texcoords[y.index()]);
            assert_eq!(points.entry(("vt", x.index() as u32)).or_insert(y.index() as u32), &(y.index() as u32));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_model_round_trips(text in model_text()) {
        let made = Made::new(&text);
        let model = made.encoded(STEPS).expect("in range");
        let carried = decoded(&model).expect("whole");
        prop_assert_eq!(&carried.file, &made.file);
        prop_assert_eq!(carried.steps, STEPS);
        let given = &made.model.document;
        prop_assert_eq!(&carried.document.face_lines, &given.face_lines);
        prop_assert_eq!(&carried.document.diagnostics.counts, &given.diagnostics.counts);
        same_but_numbers(given, &carried.document);
        // And as a file again.
        let again = read(obj_text(&carried.document).as_bytes()).expect("faces");
        let without_normals = Document { normals: Vec::new(), ..carried.document };
        same_but_numbers(&without_normals, &again);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn changed_bytes_never_panic(
        text in model_text(),
        changes in prop::collection::vec((any::<prop::sample::Index>(), 0..4u8, any::<u8>()), 500),
    ) {
        let model = Made::new(&text).encoded(STEPS).expect("in range");
        for (place, way, byte) in changes {
            let mut bytes = model.clone();
            let place = place.index(bytes.len());
            match way {
                0 => bytes[place] ^= byte | 1,
                1 => bytes.truncate(place),
                2 => bytes.insert(place, byte),
                _ => drop(bytes.drain(place..(place + usize::from(byte) % 8).min(model.len()))),
            }
            if let Ok(carried) = decoded(&bytes) {
                check(&carried.document);
            }
        }
    }

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..3000)) {
        if let Ok(carried) = decoded(&bytes) {
            check(&carried.document);
        }
        drop(unwrap(&to_base64url(&bytes)));
        drop(unwrap(&to_base64url(&wrap(&bytes, &bytes).expect("short"))));
    }
}

/// What the OBJ reader guarantees of a document.
fn check(document: &Document) {
    assert!(document.face_starts.windows(2).all(|pair| pair[0] + 3 <= pair[1]));
    assert_eq!(document.face_starts.len(), document.face_count() + 1);
    assert_eq!(document.face_starts.last().copied(), Some(document.corners.len() as u32));
    let lists = [document.positions.len(), document.texcoords.len(), document.normals.len(), document.corners.len()];
    assert!(lists.iter().all(|length| *length <= 2 * CORNERS_MAX));
    for corner in &document.corners {
        assert!(document.positions[corner.position.0 as usize].iter().all(|x| x.is_finite()));
        assert!(corner.texcoord.is_none_or(|id| document.texcoords[id.index()].iter().all(|x| x.is_finite())));
        assert!(corner.normal.is_none_or(|id| id.index() < document.normals.len()));
    }
    let runs_hold = |runs: &[Run], names: &[String]| {
        runs.windows(2).all(|pair| pair[0].face < pair[1].face)
            && runs.iter().all(|run| (run.face as usize) < document.face_count() && (run.name as usize) < names.len())
    };
    assert!(runs_hold(&document.object_runs, &document.objects));
    assert!(runs_hold(&document.group_runs, &document.groups));
    assert!(runs_hold(&document.material_runs, &document.materials));
    let hard = document.hard_seams.as_deref().unwrap_or_default();
    assert!(hard.windows(2).all(|pair| pair[0] < pair[1]));
    assert!(hard.iter().all(|corner| (*corner as usize) < document.corners.len()));
    assert!(document.diagnostics.total() >= document.diagnostics.kept.len() as u64);
}
