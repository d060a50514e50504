//! `brief`, and `check --brief`.

use super::*;
use gridproof::brief::{Brief, PRESETS};

#[test]
fn the_default_brief_and_every_preset_are_printed() {
    let (status, out, err) = run(gridproof().arg("brief"));
    assert_eq!((status, err.as_str()), (0, ""));
    assert_eq!(Brief::from_toml(&out), Ok(Brief::default()));
    for preset in PRESETS {
        let (status, out, _) = run(gridproof().args(["brief", "--preset", preset.name]));
        assert_eq!((status, Brief::from_toml(&out)), (0, Ok((preset.brief)())), "{}", preset.name);
    }
    let (status, _, err) = run(gridproof().args(["brief", "--preset", "prop-3000"]));
    assert_eq!(status, 2);
    assert!(PRESETS.iter().all(|preset| err.contains(preset.name)), "{err}");
    let (_, help, _) = run(gridproof().args(["brief", "--help"]));
    assert!(PRESETS.iter().all(|preset| help.contains(preset.title)), "{help}");
}

#[test]
fn a_brief_is_printed_again_as_toml_or_json() {
    let folder = Folder::new("brief-from");
    let own = folder.file("class.toml", "[padding]\nbetween_px = 3.5\n[density_factor]\n\"Schild 箱\" = 2\n");
    let read = Brief::from_toml(&std::fs::read_to_string(&own).unwrap()).unwrap();
    let (status, json, err) = run(gridproof().args(["brief", "--json", "--from"]).arg(&own));
    assert_eq!((status, err.as_str()), (0, ""));
    assert_eq!(Brief::from_json(&json), Ok(read.clone()));
    let json = folder.file("class.json", json);
    let (_, toml, _) = run(gridproof().args(["brief", "--from"]).arg(&json));
    assert_eq!(Brief::from_toml(&toml), Ok(read));
    let wrong = folder.file("wrong.toml", "[padding]\nbetwen_px = 1\n");
    let (status, out, err) = run(gridproof().args(["brief", "--from"]).arg(&wrong));
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("line 2") && err.contains("between_px"), "{err}");
}

#[test]
fn a_brief_changes_the_limits_for_a_model() {
    let folder = Folder::new("brief");
    let square = folder.file("square.obj", SQUARE);
    let strict = folder.file("strict.toml", "[density]\ntarget_px_per_unit = 10000\n");
    let (status, out, err) = run(gridproof().arg("check").arg(&square).arg("--brief").arg(&strict));
    assert_eq!(status, 1, "{out}{err}");
    assert!(out.contains("10000 px/unit"), "{out}");
    let (_, printed, _) = run(gridproof().arg("brief"));
    let usual = folder.file("usual.toml", printed);
    assert_eq!(run(gridproof().arg("check").arg(&square).arg("--brief").arg(&usual)).0, 0);
    let json = folder.file("wide.JSON", r#"{"map":{"width_px":4096}}"#);
    let (_, out, _) = run(gridproof().args(["check", "--json"]).arg(&square).arg("--brief").arg(&json));
    let mean = json_lines(&out)[0]["density"]["mean_px_per_unit"].as_f64().unwrap();
    assert!((mean - 0.8 * (4096.0f64 * 2048.0).sqrt()).abs() < 1e-6, "{mean}");
}

#[test]
fn an_invalid_brief_is_reported_with_line_and_reason_before_any_work() {
    let folder = Folder::new("bad-brief");
    let square = folder.file("square.obj", SQUARE);
    let table = folder.0.join("table.csv");
    for (text, line, reason) in [
        ("[stretch]\n\nmax_anisotropi = 2\n", ", line 3: ", "Did you mean max_anisotropy?"),
        ("[map]\nwidth_px = 99999\n", ", line 2: ", "from 1 to 16384"),
        ("[map\n", ", line 1: ", ""),
    ] {
        let brief = folder.file("class.toml", text);
        let (status, out, err) =
            run(gridproof().arg("check").arg(&square).arg("--brief").arg(&brief).arg("--csv").arg(&table));
        assert_eq!((status, out.as_str()), (2, ""), "{err}");
        let start = format!("gridproof: cannot use the brief {}{line}", brief.display());
        assert!(err.starts_with(&start) && err.contains(reason), "{err}");
        assert!(!table.exists());
    }
    let (status, _, err) = run(gridproof().arg("check").arg(&square).arg("--brief").arg(folder.0.join("none.toml")));
    assert_eq!(status, 2);
    assert!(err.contains("none.toml"), "{err}");
}
