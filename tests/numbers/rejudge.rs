//! A changed brief: measuring only stale stages gives the same report as measuring all.

use crate::lantern;
use gridproof::brief::Brief;
use gridproof::measure::{Measures, Stage};
use gridproof::model::Model;
use gridproof::report::{File, Report};
use serde_json::{Value, json};

/// Another value for every key, and whether the draft lantern's report must show that it was changed. A key that is
/// missing here fails the test.
fn another(key: &str) -> (Value, bool) {
    match key {
        "map.width_px" => (json!(1024), true),
        "map.height_px" => (json!(512), true),
        "map.tiles" => (json!("udim"), false),
        "map.sheets" => (json!([{ "name": "metal", "materials": ["brass", "steel"], "width_px": 1024 }]), true),
        "map.unit" => (json!("mm"), true),
        "density.target_px_per_unit" => (json!(3.25), true),
        "density.tolerance_percent" => (json!(60.0), true),
        "stretch.max_anisotropy" => (json!(1.6), true),
        "stretch.must_fix_anisotropy" => (json!(1.3), true),
        "stretch.max_share_over" => (json!(0.9), true),
        "sharing.mirrored" | "sharing.partial_overlap" => (json!("allow"), true),
        "sharing.stacked" => (json!("allow"), false),
        "padding.between_px" => (json!(40.0), true),
        "padding.border_px" => (json!(40.0), true),
        "coverage.min_share" => (json!(0.99), true),
        "seams.front" => (json!("-x"), true),
        "seams.max_front_over_diagonal" => (json!(0.0001), true),
        "tilt.up" => (json!("-z"), true),
        "text.groups" => (json!(["nameplate_face"]), true),
        "density_factor" => (json!({ "handle": 0.25 }), true),
        "rubric" => (json!({ "stretch": 4, "maximum": 10 }), false),
        _ => panic!("{key} has no entry here: say what it makes stale in Stage::is_stale, and give another value"),
    }
}

/// Every key of a brief, as `section.key`; `density_factor` as a whole, its keys being names of the model.
fn keys() -> Vec<String> {
    let brief = serde_json::to_value(Brief::default()).unwrap();
    let sections = brief.as_object().unwrap().iter();
    sections
        .flat_map(|(section, keys)| match keys.as_object().unwrap() {
            keys if keys.is_empty() => vec![section.clone()],
            keys => keys.keys().map(|key| format!("{section}.{key}")).collect(),
        })
        .collect()
}

#[test]
fn a_rubrics_keys_are_the_kinds_of_findings() {
    let (_, keys) = gridproof::brief::KEYS.into_iter().find(|(section, _)| *section == "rubric").unwrap();
    for key in keys.iter().filter(|key| **key != gridproof::brief::RUBRIC_MAXIMUM) {
        let kind: gridproof::findings::FindingKind = serde_json::from_value(json!(key)).unwrap();
        assert_eq!(kind.code(), *key);
    }
}

fn with(key: &str, value: &Value) -> Brief {
    let text = match key.split_once('.') {
        Some((section, key)) => json!({ section: { key: value } }),
        None => json!({ key: value }),
    };
    Brief::from_json(&text.to_string()).unwrap_or_else(|error| panic!("{key}: {error}"))
}

fn report(model: &Model, measures: &Measures, brief: &Brief) -> String {
    serde_json::to_string(&Report::new(model, measures, brief, File::default())).unwrap()
}

/// Report under `new` of a model measured under `old`, and the stages that were taken again.
fn rejudged(model: &Model, old: &Brief, new: &Brief) -> (String, Vec<Stage>) {
    let mut measures = Measures::new(model, old);
    let stale = measures.rebrief(model, old, new);
    stale.iter().for_each(|&stage| measures.take(stage, model, new));
    (report(model, &measures, new), stale)
}

#[test]
fn after_any_changed_key_measuring_the_stale_stages_equals_measuring_all() {
    let model = Model::new(gridproof::obj::read(lantern::draft().unwrap().obj.as_bytes()).unwrap());
    let usual = Brief::default();
    let usual_report = report(&model, &Measures::new(&model, &usual), &usual);
    for key in keys() {
        let (value, shows) = another(&key);
        let changed = with(&key, &value);
        assert_ne!(changed, usual, "{key} has another value");
        let anew = report(&model, &Measures::new(&model, &changed), &changed);
        assert!(!shows || anew != usual_report, "{key} shows in the report");
        for (old, new, expected) in [(&usual, &changed, &anew), (&changed, &usual, &usual_report)] {
            let (again, stale) = rejudged(&model, old, new);
            assert!(again == *expected, "{key}, after {stale:?}: {}", difference(&again, expected));
        }
    }
}

/// Where two texts differ, with some context.
fn difference(a: &str, b: &str) -> String {
    let at = a.bytes().zip(b.bytes()).take_while(|(a, b)| a == b).count();
    let around = |text: &str| {
        String::from_utf8_lossy(&text.as_bytes()[at.saturating_sub(80)..text.len().min(at + 80)]).into_owned()
    };
    format!("{:?} and {:?}", around(a), around(b))
}

#[test]
fn keys_of_limits_make_no_stage_stale() {
    let usual = Brief::default();
    for key in ["map.unit", "stretch.max_anisotropy", "sharing.mirrored", "coverage.min_share", "text.groups"] {
        let changed = with(key, &another(key).0);
        assert!(Stage::ALL.iter().all(|stage| !stage.is_stale(&usual, &changed)), "{key}");
    }
    let larger = with("map.width_px", &json!(4096));
    assert!(Stage::Triangles.is_stale(&usual, &larger) && Stage::Sheet.is_stale(&usual, &larger));
    assert!(Stage::ALL.iter().all(|stage| !stage.is_stale(&larger, &larger)));
}

#[test]
fn before_measuring_no_stage_is_stale() {
    let model = Model::new(gridproof::obj::read(lantern::draft().unwrap().obj.as_bytes()).unwrap());
    let (old, new) = (Brief::default(), with("stretch.max_anisotropy", &json!(2.0)));
    let mut measures = Measures::default();
    assert_eq!(measures.rebrief(&model, &old, &new), []);
    Stage::ALL.iter().for_each(|&stage| measures.take(stage, &model, &new));
    assert_eq!(report(&model, &measures, &new), report(&model, &Measures::new(&model, &new), &new));
}

/// The page's table measures the seams separately, after the rest.
#[test]
fn the_seams_need_the_triangles_alone_also_where_a_shell_lies_outside() {
    let obj = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 1.2 0.1\nvt 1.9 0.1\nvt 1.9 0.3\nvt 1.2 0.3\nf 1/1 2/2 3/3 4/4\n";
    let model = Model::new(gridproof::obj::read(obj.as_bytes()).unwrap());
    let brief = Brief::default();
    let mut measures = Measures::default();
    [Stage::Triangles, Stage::Seams].into_iter().for_each(|stage| measures.take(stage, &model, &brief));
    let text = report(&model, &measures, &brief);
    assert!(text.contains("\"kind\":\"stretch\""), "{text}");
}
