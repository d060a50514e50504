//! The brief as the page passes it: a plain object.

use gridproof::brief::{Brief, Policy};
use gridproof::web::{Session, brief_trouble};
use wasm_bindgen::JsValue;
use wasm_bindgen_test::wasm_bindgen_test;

fn brief(json: &str) -> Result<Brief, serde_wasm_bindgen::Error> {
    serde_wasm_bindgen::from_value(js_sys::JSON::parse(json).expect("the test's own JSON"))
}

#[wasm_bindgen_test]
fn an_empty_object_is_the_default_brief() {
    assert_eq!(brief("{}").expect("an empty object is a brief"), Brief::default());
}

#[wasm_bindgen_test]
fn given_keys_are_set_and_the_rest_keep_their_default() {
    let brief = brief(r#"{"map":{"width_px":4096},"sharing":{"mirrored":"must-fix"}}"#).expect("a partial brief");
    assert_eq!((brief.map.width_px, brief.map.height_px), (4096, 2048));
    assert_eq!((brief.sharing.mirrored, brief.sharing.stacked), (Policy::MustFix, Policy::Look));
}

fn object(json: &str) -> JsValue {
    js_sys::JSON::parse(json).expect("the test's own JSON")
}

fn reason(error: wasm_bindgen::JsError) -> String {
    js_sys::Error::from(JsValue::from(error)).message().into()
}

#[wasm_bindgen_test]
fn misspelt_keys_and_values_out_of_range_are_refused_with_a_reason() {
    for (json, wanted) in [
        (r#"{"stretch":{"max_anisotropi":2}}"#, "Did you mean max_anisotropy?"),
        (r#"{"streching":{"max_anisotropy":2}}"#, "Did you mean stretch?"),
        (r#"{"map":{"max_anisotropy":2}}"#, "It belongs to the section stretch."),
        (r#"{"map":{"width_px":0}}"#, "map.width_px is 0"),
        (r#"{"stretch":{"max_anisotropy":0.5}}"#, "stretch.max_anisotropy is 0.5"),
        (
            r#"{"sharing":{"mirrored":"perhaps"}}"#,
            "The brief was not understood: sharing.mirrored cannot be \"perhaps\".",
        ),
        (r#"{"map":{"width_px":-5}}"#, "map.width_px cannot be -5."),
        (r#"{"stretch":3}"#, "stretch cannot be 3."),
        (r#"{"density_factor":{"lid":"much"}}"#, "density_factor.lid cannot be \"much\"."),
        (r#"{"rubric":{"streched":1}}"#, "A brief has no key rubric.streched. Did you mean stretch?"),
        (r#"{"rubric":{"stretch":4,"maximum":3}}"#, "rubric.maximum is 3, and the checks are worth 4 points together"),
        (r#"{"map":[1]}"#, "A brief has no key map.0."),
        ("[1]", "A brief has no key 0."),
    ] {
        let error = Session::new(0.0, object(json)).err().map(reason).expect(json);
        assert!(error.contains(wanted), "{json}: {error}");
        assert_eq!(brief_trouble(object(json)).as_deref(), Some(&*error), "{json}");
    }
    for fine in ["{}", r#"{"density_factor":{"any name":2}}"#, r#"{"density":{"target_px_per_unit":null}}"#] {
        assert!(Session::new(0.0, object(fine)).is_ok(), "{fine}");
        assert_eq!(brief_trouble(object(fine)), None, "{fine}");
    }
    assert!(Session::new(0.0, JsValue::UNDEFINED).is_ok());
}

#[wasm_bindgen_test]
fn a_changed_brief_lists_stale_stages_until_they_are_measured() {
    let square =
        "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n";
    let mut session = Session::new(0.0, object("{}")).expect("the default brief");
    session.feed(square.as_bytes()).expect("a square");
    session.finish().expect("a square");
    let all = session.set_brief(object("{}")).expect("the default brief");
    assert!(!all.is_empty(), "nothing has been measured yet");
    let take = |session: &mut Session, stages: &[u32]| {
        stages.iter().for_each(|&stage| drop(session.measure(stage as usize).expect("a stage")));
    };
    take(&mut session, &all);
    assert_eq!(session.set_brief(object(r#"{"stretch":{"max_anisotropy":2}}"#)).expect("a brief"), [0u32; 0]);
    let stale = session.set_brief(object(r#"{"map":{"width_px":1024}}"#)).expect("a brief");
    assert!(stale.contains(&0), "{stale:?}");
    assert!(session.set_brief(object(r#"{"map":{"width":1}}"#)).is_err());
    let width = r#"{"map":{"width_px":1024},"coverage":{"min_share":0.1}}"#;
    assert_eq!(session.set_brief(object(width)).expect("a brief"), stale, "they still wait");
    take(&mut session, &stale);
    assert_eq!(session.set_brief(object(width)).expect("a brief"), [0u32; 0]);
    let report = session.report().expect("all is measured");
    let density = js_sys::Reflect::get(&report, &"density".into()).expect("an object");
    let mean =
        js_sys::Reflect::get(&density, &"mean_px_per_unit".into()).expect("an object").as_f64().expect("a number");
    // A side of the square, one unit long, is 0.8 of the tile.
    assert!((mean - 0.8 * (1024.0f64 * 2048.0).sqrt()).abs() < 1e-6, "{mean}");
}
