//! A session as the worker drives it: bytes in, plain objects and typed arrays out.

use gridproof::brief::Brief;
use gridproof::web::Session;
use js_sys::{Array, Float32Array, JSON, Object, Reflect, Uint32Array};
use wasm_bindgen::prelude::*;
use wasm_bindgen_test::wasm_bindgen_test;

const DRAFT: &str = include_str!("../../demo/lantern-draft.obj");

/// How far a number may be from the library's own, as a share of it: as in every report.
const TOLERANCE: f64 = 1e-6;

/// Two unit squares that face +z, the second 3 units behind the first; side by side on the sheet.
const TWO_SQUARES: &str = "o near\nv 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 0.4 0\nvt 0.4 0.4\nvt 0 0.4\n\
    f 1/1 2/2 3/3 4/4\no far\nv 0 0 -3\nv 1 0 -3\nv 1 1 -3\nv 0 1 -3\nvt 0.5 0.5\nvt 0.9 0.5\nvt 0.9 0.9\nvt 0.5 0.9\n\
    f 5/5 6/6 7/7 8/8\n";

fn open(text: &str) -> Session {
    let mut session = Session::new(text.len() as f64, Object::new().into()).ok().unwrap();
    session.feed(text.as_bytes()).unwrap();
    session.finish().unwrap();
    session
}

fn measure_all(session: &mut Session) -> usize {
    let mut stage = 0;
    while session.measure(stage).ok().unwrap().is_some() {
        stage += 1;
    }
    stage + 1
}

fn get(object: &JsValue, path: &str) -> JsValue {
    path.split('.').fold(object.clone(), |at, key| Reflect::get(&at, &key.into()).unwrap())
}

fn number(object: &JsValue, path: &str) -> f64 {
    get(object, path).as_f64().unwrap_or_else(|| panic!("{path} is no number"))
}

fn message(error: impl Into<JsValue>) -> String {
    get(&error.into(), "message").as_string().unwrap()
}

/// Paths at which two plain values differ, and how many numbers were compared.
fn differences(a: &JsValue, b: &JsValue, path: &str, numbers: &mut usize, found: &mut Vec<String>) {
    if let (Some(x), Some(y)) = (a.as_f64(), b.as_f64()) {
        *numbers += 1;
        if (x - y).abs() > TOLERANCE * x.abs().max(y.abs()) {
            found.push(format!("{path}: {x}, {y}"));
        }
    } else if a.is_object() && b.is_object() {
        let keys = |object: &JsValue| Object::keys(object.unchecked_ref::<Object>()).iter().collect::<Vec<_>>();
        if keys(a).len() != keys(b).len() || Array::is_array(a) != Array::is_array(b) {
            found.push(format!("{path}: other members"));
        }
        for key in keys(b) {
            let path = format!("{path}.{}", key.as_string().unwrap());
            differences(&Reflect::get(a, &key).unwrap(), &Reflect::get(b, &key).unwrap(), &path, numbers, found);
        }
    } else if a != b {
        found.push(format!("{path}: {a:?}, {b:?}"));
    }
}

#[wasm_bindgen_test]
fn a_file_in_uneven_chunks_gives_the_librarys_report() {
    let mut session = Session::new(DRAFT.len() as f64, JsValue::UNDEFINED).ok().unwrap();
    let mut rest = DRAFT.as_bytes();
    for length in [1, 2, 3, 5, 7, 4093, 65_537].into_iter().cycle() {
        let (piece, later) = rest.split_at(rest.len().min(length));
        session.feed(piece).unwrap();
        rest = later;
        if rest.is_empty() {
            break;
        }
    }
    session.finish().unwrap();
    let stages = measure_all(&mut session);
    assert!(stages >= 3);
    session.set_file("lantern-draft.obj".to_owned(), DRAFT.len() as f64, "abc".to_owned());
    let report = session.report().ok().unwrap();
    let own =
        gridproof::check(&mut DRAFT.as_bytes(), "lantern-draft.obj", None, &Brief::default(), &mut |_| ()).unwrap();
    let own = JSON::parse(&serde_json::to_string(&own).unwrap()).unwrap();
    Reflect::set(&get(&own, "file"), &"sha256".into(), &"abc".into()).unwrap();
    let (mut numbers, mut found) = (0, Vec::new());
    differences(&report, &own, "report", &mut numbers, &mut found);
    assert!(found.is_empty(), "{found:#?}");
    assert!(numbers > 500, "{numbers} numbers");
    assert_eq!(get(&report, "verdict").as_string().unwrap(), "not ready");
    assert_eq!(session.shells().ok().unwrap().length() as f64, number(&report, "counts.shells"));
}

#[wasm_bindgen_test]
fn materials_are_runs_of_triangles() {
    let text = TWO_SQUARES.replacen("f 1", "mtllib lamp parts.mtl old.mtl\nf 3/3 2/2 1/1\nusemtl matt brass\nf 1", 1)
        + "usemtl glass\nf 5/5 6/6 7/7\nusemtl matt brass\nf 8/8 7/7 6/6\nusemtl nobody\n";
    let session = open(&text);
    let summary = session.summary().ok().unwrap();
    let words = |path: &str| get(&summary, path).unchecked_into::<Array>().join("|").as_string().unwrap();
    assert_eq!(words("libraries"), "lamp parts.mtl|old.mtl");
    let mesh: JsValue = session.mesh().ok().unwrap().into();
    let runs: Uint32Array = get(&mesh, "materials").dyn_into().unwrap();
    // The first triangle has none; brass has both squares.
    let names: Vec<String> = words("materials").split('|').map(str::to_owned).collect();
    let runs = runs.to_vec();
    let pairs: Vec<_> = runs.as_chunks().0.iter().map(|&[from, name]| (from, names[name as usize].as_str())).collect();
    assert_eq!(pairs, [(1, "matt brass"), (5, "glass"), (6, "matt brass")]);
}

#[wasm_bindgen_test]
fn summary_mesh_lines_and_triangles_agree() {
    let mut session = open(TWO_SQUARES);
    let summary = session.summary().ok().unwrap();
    for (path, expected) in [("counts.faces", 2.0), ("counts.triangles", 4.0), ("counts.shells", 2.0)] {
        assert_eq!(number(&summary, path), expected, "{path}");
    }
    let mesh: JsValue = session.mesh().ok().unwrap().into();
    assert_eq!(number(&mesh, "triangle_count"), 4.0);
    let position: Float32Array = get(&mesh, "position").dyn_into().unwrap();
    // Relative to the centre (0.5, 0.5, -1.5): the first corner of the first square.
    assert_eq!(position.subarray(0, 3).to_vec(), [-0.5, -0.5, 1.5]);
    let lines: JsValue = session.lines().ok().unwrap().into();
    let sheet_shell: Uint32Array = get(&lines, "sheet_shell").dyn_into().unwrap();
    assert_eq!(sheet_shell.to_vec(), [0, 0, 0, 0, 1, 1, 1, 1]);
    let before = session.triangles().ok().unwrap().to_vec();
    measure_all(&mut session);
    let after = session.triangles().ok().unwrap().to_vec();
    assert_eq!((before.len(), after.len()), (16, 16));
    assert_ne!(before, after, "measures reach the triangles");
}

#[wasm_bindgen_test]
fn histograms_arrive_with_their_measures_and_sum_to_one() {
    let mut session = open(TWO_SQUARES);
    assert!(session.histogram("stretch").ok().unwrap().is_undefined());
    measure_all(&mut session);
    for lens in ["stretch", "density"] {
        let histogram = session.histogram(lens).ok().unwrap();
        let sum: f64 = Array::from(&get(&histogram, "counts")).iter().filter_map(|share| share.as_f64()).sum();
        assert!((sum - 1.0).abs() < 1e-12, "{lens}: {sum}");
    }
    assert!(session.histogram("overlaps").ok().unwrap().is_undefined());
}

#[wasm_bindgen_test]
fn probes_hit_the_nearest_shell() {
    let mut session = open(TWO_SQUARES);
    measure_all(&mut session);
    session.report().ok().unwrap();
    // From the front the first square hides the second; from behind it is hidden by it.
    for (eye, direction, shell) in [(9.0, -1.0, 0.0), (-9.0, 1.0, 1.0)] {
        let hit = session.probe_ray(0.2, 0.1, eye, 0.0, 0.0, direction).ok().unwrap();
        assert_eq!(number(&hit, "shell"), shell);
        let z = if shell == 0.0 { 1.5 } else { -1.5 };
        let point: Vec<f64> = Array::from(&get(&hit, "point")).iter().filter_map(|x| x.as_f64()).collect();
        assert!(point.iter().zip([0.2, 0.1, z]).all(|(a, b)| (a - b).abs() < 1e-12), "{point:?}");
    }
    let hit = session.probe_uv(0.7, 0.6).ok().unwrap();
    assert_eq!((number(&hit, "shell"), number(&hit, "u"), number(&hit, "v")), (1.0, 0.7, 0.6));
    // 0.4 of 2048 px on one unit.
    assert!((number(&hit, "density") - 0.4 * 2048.0).abs() < 1e-9);
    assert!((number(&hit, "anisotropy") - 1.0).abs() < 1e-12);
    assert!(session.probe_uv(0.45, 0.45).ok().unwrap().is_undefined());
    assert!(session.probe_ray(5.0, 5.0, 9.0, 0.0, 0.0, -1.0).ok().unwrap().is_undefined());
}

#[wasm_bindgen_test]
fn a_probed_spot_is_found_again_by_face_triangle_and_weights() {
    let mut session = open(TWO_SQUARES);
    measure_all(&mut session);
    session.report().ok().unwrap();
    let hit = session.probe_uv(0.6, 0.8).ok().unwrap();
    assert_eq!((number(&hit, "face"), number(&hit, "triangle_of_face")), (1.0, 1.0));
    let weights: Vec<f64> = Array::from(&get(&hit, "barycentric")).iter().filter_map(|x| x.as_f64()).collect();
    let again = session.place(1, 1, weights[0], weights[1], weights[2]).ok().unwrap();
    let mut differ = Vec::new();
    differences(&hit, &again, "", &mut 0, &mut differ);
    assert!(differ.is_empty(), "{differ:?}");
    for (face, triangle) in [(1, 2), (2, 0), (usize::MAX, 0)] {
        assert!(session.place(face, triangle, 1.0, 0.0, 0.0).ok().unwrap().is_undefined());
    }
}

#[wasm_bindgen_test]
fn points_behind_a_surface_are_hidden_and_those_on_it_are_not() {
    let mut session = open(TWO_SQUARES);
    let points = [0.2, 0.1, 1.5, 0.2, 0.1, -1.5, 0.2, 0.1, 3.0];
    assert_eq!(session.hidden(0.0, 0.0, 9.0, &points), [0, 1, 0]);
    assert_eq!(session.hidden(0.0, 0.0, -9.0, &points), [1, 0, 1]);
    assert_eq!(session.hidden(0.0, 0.0, 9.0, &[]), [0; 0]);
}

#[wasm_bindgen_test]
fn a_review_is_part_of_the_next_report() {
    let text = |value: &str| JsValue::from_str(value);
    let mut session = open(TWO_SQUARES);
    measure_all(&mut session);
    let before = session.report().ok().unwrap();
    let findings = Array::from(&get(&before, "findings"));
    assert!(findings.length() > 0 && get(&before, "verdict") != "ready");
    let all = findings.iter().flat_map(|finding| [get(&finding, "id"), text("wanted")]);
    let notes = Array::of(&[text("first"), text("near, shell 0"), text("second"), JsValue::NULL]);
    let places = [0.0, 0.5, 0.5, 0.0, 0.2, 0.2, 1.0, 0.5, 0.5, -3.0, f64::NAN, f64::NAN];
    session.set_review(notes, places.to_vec(), all.collect(), None);
    let after = session.report().ok().unwrap();
    assert_eq!(get(&after, "verdict"), "ready");
    assert_eq!(number(&after, "intended"), f64::from(findings.length()));
    let [first, second] = [0, 1].map(|index| Array::from(&get(&after, "notes")).get(index));
    assert_eq!((get(&first, "text"), get(&first, "shell")), (text("first"), text("near, shell 0")));
    assert_eq!(Array::from(&get(&first, "uv")).get(0), 0.2);
    assert!(get(&second, "shell").is_null() && get(&second, "uv").is_null());
    assert_eq!(number(&second, "face"), 1.0);
    session.set_review(Array::new(), Vec::new(), Array::of(&[get(&findings.get(0), "id"), JsValue::NULL]), None);
    let todo = session.report().ok().unwrap();
    assert_eq!(get(&todo, "verdict"), get(&before, "verdict"));
    assert_eq!(get(&Array::from(&get(&todo, "findings")).get(0), "decision.kind"), "to-fix");
}

/// Takes the stages that are pending.
fn measure_pending(session: &mut Session) {
    for stage in session.set_brief(JsValue::UNDEFINED).ok().unwrap() {
        session.measure(stage as usize).ok().unwrap();
    }
}

fn report_text(session: &mut Session) -> String {
    JSON::stringify(&session.report().ok().unwrap()).unwrap().into()
}

#[wasm_bindgen_test]
fn edited_uvs_give_the_report_of_the_edited_file_and_undo_restores_the_old() {
    // The far square lies on the near one, on the sheet.
    let moved = TWO_SQUARES
        .replace("vt 0.5 0.5\nvt 0.9 0.5\nvt 0.9 0.9\nvt 0.5 0.9", "vt 0.1 0\nvt 0.5 0\nvt 0.5 0.4\nvt 0.1 0.4");
    let mut of_file = open(&moved);
    measure_all(&mut of_file);
    let expected = report_text(&mut of_file);
    let mut session = open(TWO_SQUARES);
    measure_all(&mut session);
    let before = report_text(&mut session);
    let uvs = [0.1, 0.0, 0.5, 0.0, 0.5, 0.4, 0.1, 0.4];
    assert!(session.edit(&[4, 5, 6, 7], &uvs).ok().unwrap());
    let told: JsValue = session.uvs().ok().unwrap().into();
    let mesh: JsValue = of_file.mesh().ok().unwrap().into();
    for key in ["uv", "bounds_uv"] {
        let [ours, theirs] = [&told, &mesh].map(|from| JSON::stringify(&get(from, key)).unwrap());
        assert_eq!(ours, theirs, "{key}");
    }
    assert!(get(&told, "pieces").is_null(), "shells are the same");
    assert_eq!(["undo", "redo", "shells", "faces_without_uv"].map(|key| number(&told, key)), [1.0, 0.0, 2.0, 0.0]);
    measure_pending(&mut session);
    assert!(expected.contains("partial-overlap") && !before.contains("\"kind\":\"partial-overlap\""));
    assert_eq!(report_text(&mut session), expected);
    let lines = |session: &Session| JSON::stringify(&session.lines().ok().unwrap()).unwrap();
    assert_eq!(lines(&session), lines(&of_file));
    assert_eq!(number(&session.probe_uv(0.45, 0.1).ok().unwrap(), "shell"), 1.0);

    assert!(!session.edit(&[4], &[0.1, 0.0]).ok().unwrap(), "the same place");
    assert_eq!(session.revision(), 1);
    for (corners, uvs, says) in [
        (&[4_u32][..], &[0.1][..], "one u and one v"),
        (&[8], &[0.1, 0.2], "corner that the model does not have"),
        (&[4], &[0.1, f64::NAN], "uv that is no number"),
    ] {
        let refused = message(session.edit(corners, uvs).unwrap_err());
        assert!(refused.contains(says) && refused.ends_with('.'), "{refused}");
    }
    assert!(session.undo().ok().unwrap() && !session.undo().ok().unwrap());
    measure_pending(&mut session);
    assert_eq!(report_text(&mut session), before);
    assert!(session.redo().ok().unwrap() && !session.redo().ok().unwrap());
    measure_pending(&mut session);
    assert_eq!((report_text(&mut session), session.revision()), (expected, 3));
}

#[wasm_bindgen_test]
fn a_review_follows_split_shells_and_is_restored_by_undo() {
    let text = |value: &str| JsValue::from_str(value);
    // Two squares side by side, one shell, flipped.
    let mut session = open(
        "v 0 0 0\nv 1 0 0\nv 2 0 0\nv 0 1 0\nv 1 1 0\nv 2 1 0\nvt 0.6 0\nvt 0.3 0\nvt 0 0\nvt 0.6 0.3\nvt 0.3 0.3\nvt 0 0.3\n\
         f 1/1 2/2 5/5 4/4\nf 2/2 3/3 6/6 5/5\n",
    );
    measure_all(&mut session);
    let note = Array::of2(&text("here"), &text("shell 0"));
    let places = vec![1.0, 1.5, 0.5, 0.0, 0.150_000_01, 0.15];
    let decided = Array::of2(&text("flipped-0"), &text("a reason"));
    session.set_review(note, places.clone(), decided, None);
    let before = report_text(&mut session);
    assert!(before.contains("a reason") && session.followed().is_undefined());
    assert!(session.edit(&[4, 5, 6, 7], &[0.9, 0.5, 0.6, 0.5, 0.6, 0.8, 0.9, 0.8]).ok().unwrap());
    let told: JsValue = session.uvs().ok().unwrap().into();
    let pieces: Uint32Array = get(&told, "pieces").dyn_into().unwrap();
    assert_eq!(pieces.to_vec(), [0, 0, 0, 1]);
    measure_pending(&mut session);
    let report = session.report().ok().unwrap();
    let followed = session.followed();
    let words = |of: &JsValue, key: &str| get(of, key).unchecked_into::<Array>().join("|").as_string().unwrap();
    assert_eq!(words(&followed, "decisions"), "flipped-0|a reason|flipped-1|a reason");
    assert_eq!((words(&followed, "notes"), words(&followed, "lapsed")), ("here|shell 1".to_owned(), String::new()));
    let places_now: js_sys::Float64Array = get(&followed, "places").dyn_into().unwrap();
    let uv: Vec<f64> = places_now.subarray(4, 6).to_vec();
    assert!((uv[0] - 0.75).abs() < 1e-9 && (uv[1] - 0.65).abs() < 1e-9, "{uv:?}");
    assert_eq!(number(&report, "intended"), 1.0, "one finding is about both");

    let [notes, decisions] = ["notes", "decisions"].map(|key| get(&followed, key).unchecked_into::<Array>());
    session.set_review(notes, places_now.to_vec(), decisions, None);
    assert!(session.undo().ok().unwrap());
    measure_pending(&mut session);
    assert_eq!(report_text(&mut session), before);
    let places_then: js_sys::Float64Array = get(&session.followed(), "places").dyn_into().unwrap();
    assert_eq!(places_then.to_vec(), places);
}

#[wasm_bindgen_test]
fn a_broken_file_fails_as_a_plain_object_with_code_and_line() {
    for (text, code) in [("", "empty"), ("v 0 0 0\nv 1 0 0\nf 1 2 7\n", "no-faces"), ("PK\u{3}\u{4}\0\0\0", "binary")] {
        let mut session = Session::new(text.len() as f64, JsValue::NULL).ok().unwrap();
        let failure = session.feed(text.as_bytes()).and_then(|()| session.finish()).unwrap_err();
        assert_eq!(get(&failure, "code").as_string().as_deref(), Some(code), "{text:?}");
        assert!(!failure.is_instance_of::<js_sys::Error>());
        assert!(number(&failure, "line") >= 0.0);
        assert!(message(failure).ends_with('.'));
    }
    let mut session = Session::new(9.0, JsValue::NULL).ok().unwrap();
    let failure = session.feed(b"v 0 0 0\nf 1 2 7\n").and_then(|()| session.finish()).unwrap_err();
    let warning = Array::from(&get(&failure, "warnings")).get(0);
    assert_eq!(number(&warning, "line"), 2.0);
}

#[cfg(feature = "pictures")]
#[wasm_bindgen_test]
fn a_link_reopens_the_session_it_was_made_from() {
    let mut session = open(TWO_SQUARES);
    session.set_file("two.obj".into(), TWO_SQUARES.len() as f64, "ab".repeat(32));
    assert!(session.carried_model().is_err(), "no report yet");
    measure_all(&mut session);
    let report = session.report().ok().unwrap();
    let carried = session.carried_model().ok().unwrap();
    assert!(carried.position_step > 0.0 && carried.uv_step > 0.0 && carried.proofs >= 1);
    let link = gridproof::web::carried_link(&carried.model, b"{\"note\":1}").ok().unwrap();
    assert_eq!(gridproof::web::model_in_link(&link).ok().unwrap(), carried.model);

    let mut other = Session::new(0.0, JsValue::NULL).ok().unwrap();
    let failure = other.open_link(&link[..link.len() - 5]).unwrap_err();
    assert_eq!(get(&failure, "code").as_string().as_deref(), Some("cut-short"));
    assert_eq!(other.open_link(&link).unwrap(), b"{\"note\":1}");
    assert!(message(other.open_link(&link).unwrap_err()).contains("already read"));
    assert_eq!(get(&other.file().ok().unwrap(), "name").as_string().as_deref(), Some("two.obj"));
    assert!(other.obj_text().ok().unwrap().contains("o far"));
    measure_all(&mut other);
    let (mut numbers, mut found) = (0, Vec::new());
    differences(&report, &other.report().ok().unwrap(), "report", &mut numbers, &mut found);
    assert!(found.is_empty() && numbers > 50, "{numbers}: {found:?}");
}

#[wasm_bindgen_test]
fn misuse_is_reported_and_changes_nothing() {
    let mut session = Session::new(TWO_SQUARES.len() as f64, JsValue::NULL).ok().unwrap();
    assert!(message(session.measure(0).err().unwrap()).contains("Nothing has been read"));
    assert!(message(session.report().err().unwrap()).contains("Nothing has been read"));
    assert!(session.probe_uv(0.1, 0.1).ok().unwrap().is_undefined());
    session.feed(TWO_SQUARES.as_bytes()).unwrap();
    session.finish().unwrap();
    assert!(message(session.feed(b"v 0 0 0\n").unwrap_err()).contains("already read"));
    assert!(message(session.finish().unwrap_err()).contains("already read"));
    assert!(session.shells().is_err(), "no report yet");
    assert!(session.measure(99).ok().unwrap().is_none(), "a stage that does not exist is none");
    measure_all(&mut session);
    assert_eq!(number(&session.report().ok().unwrap(), "counts.shells"), 2.0);
    let brief = JSON::parse(r#"{"map":{"width_px":"wide"}}"#).unwrap();
    assert!(message(Session::new(1.0, brief).err().unwrap()).contains("brief"));
}
