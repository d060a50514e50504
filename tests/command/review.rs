//! `check --review`.

use super::*;
use serde_json::{Value, json};

/// A strip that is wide on the surface and square on the sheet: stretched, and little of the sheet is used.
const STRIP: &str =
    "v 0 0 0\nv 4 0 0\nv 4 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.3 0.1\nvt 0.3 0.3\nvt 0.1 0.3\nf 1/1 2/2 3/3 4/4\n";

fn report(model: &Path) -> Value {
    let (_, out, _) = run(gridproof().args(["check", "--json"]).arg(model));
    json_lines(&out).remove(0)
}

/// A review in which every finding of `model` is intended, with a note.
fn review(model: &Path) -> Value {
    let report = report(model);
    let ids = report["findings"].as_array().unwrap().iter().map(|finding| finding["id"].clone());
    let meant = ids.map(|id| json!({"finding": id, "kind": "intended", "reason": "a <strip> for a ribbon"}));
    json!({
        "schema": "gridproof-review/2",
        "file": report["file"],
        "notes": [{"text": "two\nlines", "face": 0, "triangle": 1, "barycentric": [0.2, 0.3, 0.5], "point": [1, 0.5, 0]}],
        "decisions": meant.collect::<Vec<_>>(),
    })
}

#[test]
fn every_format_lists_intended_findings() {
    let folder = Folder::new("review");
    let strip = folder.file("strip.obj", STRIP);
    let square = folder.file("square.obj", SQUARE);
    let value = review(&strip);
    let meant = value["decisions"].as_array().unwrap().len();
    let saved = folder.file("strip review.json", value.to_string());
    assert_eq!(run(gridproof().arg("check").arg(&strip)).0, 1);

    let (table, page) = (folder.0.join("table.csv"), folder.0.join("pages"));
    let check = || {
        let mut command = gridproof();
        command.arg("check").arg(&strip).arg(&square).arg("--review").arg(&saved);
        command
    };
    let (status, text, err) = run(check().arg("--csv").arg(&table).arg("--html").arg(&page));
    assert_eq!((status, err.lines().filter(|line| line.starts_with("gridproof:")).count()), (0, 0), "{err}");
    let verdict = format!("ready, {meant} intended");
    assert!(text.starts_with(&format!("{}: {verdict}\n", strip.display())), "{text}");
    assert_eq!(text.matches("\n        | a <strip> for a ribbon\n").count(), meant, "{text}");
    assert!(text.contains("\n  note 1\n        | two\n        | lines\n"), "{text}");
    assert!(text.contains(&format!("\n{}: ready\n", square.display())), "the other file has no review: {text}");

    let (_, lines, _) = run(check().arg("--json"));
    let lines = json_lines(&lines);
    assert_eq!((&lines[0]["verdict"], &lines[0]["intended"]), (&json!("ready"), &json!(meant)));
    assert_eq!(lines[0]["findings"][0]["decision"], json!({"kind": "intended", "reason": "a <strip> for a ribbon"}));
    assert_eq!(
        lines[0]["notes"],
        json!([{"text": "two\nlines", "shell": null, "face": 0, "point": [1.0, 0.5, 0.0], "uv": null}])
    );
    assert_eq!((&lines[1]["intended"], &lines[1]["notes"]), (&json!(0), &json!([])));

    let rows: Vec<String> = fs::read_to_string(&table).unwrap().lines().map(str::to_owned).collect();
    assert!(rows[0].ends_with(",intended") && rows[1].ends_with(&format!(",{meant}")), "{rows:?}");
    assert!(rows[1].contains(",ready,,,"), "no worst finding is left: {rows:?}");

    let html = fs::read_dir(&page).unwrap().map(|entry| fs::read_to_string(entry.unwrap().path()).unwrap());
    let html = html.into_iter().find(|html| html.contains("<h1>strip.obj</h1>")).unwrap();
    assert!(html.contains(&format!("<strong class=\"ready\">{verdict}</strong>")));
    assert_eq!(html.matches("a &lt;strip&gt; for a ribbon").count(), meant);
    assert!(html.contains("<p class=\"written\" dir=\"auto\">two<br>lines</p>"), "{html}");
}

#[test]
fn without_a_named_brief_the_reviews_brief_applies() {
    let folder = Folder::new("review-brief");
    let strip = folder.file("strip.obj", STRIP);
    let mut value = review(&strip);
    value["decisions"] = json!([]);
    value["brief"] = json!({"stretch": {"max_anisotropy": 8}, "coverage": {"min_share": 0.01}});
    let saved = folder.file("review.json", value.to_string());
    assert_eq!(run(gridproof().arg("check").arg(&strip).arg("--review").arg(&saved)).0, 0);
    let brief = folder.file("usual.toml", "");
    let (status, ..) = run(gridproof().arg("check").arg(&strip).arg("--review").arg(&saved).arg("--brief").arg(&brief));
    assert_eq!(status, 1);
}

#[test]
fn an_invalid_review_or_one_of_another_file_is_reported() {
    let folder = Folder::new("bad-review");
    let strip = folder.file("strip.obj", STRIP);
    let square = folder.file("square.obj", SQUARE);
    let good = review(&strip);
    for (pointer, key, wrong, reason) in [
        ("/notes/0", "texts", json!("x"), "notes[0].texts: unknown field `texts`"),
        ("/decisions/0", "kind", json!("later"), "decisions[0].kind: has to be intended or to-fix"),
        ("", "brief", json!({"map": {"width": 5}}), "brief: A brief has no key map.width. Did you mean width_px?"),
        ("", "schema", json!("gridproof-review/0"), "schema: \"gridproof-review/0\" is not"),
    ] {
        let mut bad = good.clone();
        bad.pointer_mut(pointer).unwrap()[key] = wrong;
        let saved = folder.file("bad.json", bad.to_string());
        let (status, out, err) = run(gridproof().arg("check").arg(&strip).arg("--review").arg(&saved));
        assert_eq!((status, out.as_str()), (2, ""), "{err}");
        let start = format!("gridproof: cannot use the review {}: {reason}", saved.display());
        assert!(err.starts_with(&start), "{err}");
    }
    for text in ["{", "[]", "{} x"] {
        let saved = folder.file("bad.json", text);
        let (status, _, err) = run(gridproof().arg("check").arg(&strip).arg("--review").arg(&saved));
        assert!(status == 2 && err.contains("cannot use the review"), "{err}");
    }
    let saved = folder.file("review.json", good.to_string());
    let (status, out, err) = run(gridproof().arg("check").arg(&square).arg("--review").arg(&saved));
    assert!(status == 2 && out.contains("square.obj: ready\n"), "{out}{err}");
    assert!(err.contains("is about another file") && err.contains("\"strip.obj\""), "{err}");
}
