//! `compare`.

use super::*;
use serde_json::{Value, json};

fn demo(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo").join(name)
}

fn compare(old: &Path, new: &Path, more: &[&str]) -> (i32, String, String) {
    run(gridproof().arg("compare").arg(old).arg(new).args(more))
}

fn json_of(old: &Path, new: &Path) -> Value {
    let (_, out, err) = compare(old, new, &["--json"]);
    json_lines(&out).pop().unwrap_or_else(|| panic!("{err}"))
}

#[test]
fn the_revised_lantern_has_every_planted_fault_fixed_and_nothing_new() {
    let (draft, revised) = (demo("lantern-draft.obj"), demo("lantern-revised.obj"));
    let (status, text, err) = compare(&draft, &revised, &[]);
    assert_eq!(status, 0, "{text}{err}");
    let head = format!("{} (not ready) -> {}: ready\n", draft.display(), revised.display());
    assert!(text.starts_with(&head), "{text}");

    let told = json_of(&draft, &revised);
    assert_eq!(told["schema"], json!("gridproof-comparison/1"));
    assert_eq!((&told["old"]["verdict"], &told["new"]["verdict"]), (&json!("not ready"), &json!("ready")));
    let count = |list: &str| told["findings"][list].as_array().unwrap().len();
    let (_, out, _) = run(gridproof().args(["check", "--json"]).arg(&draft));
    let all = json_lines(&out).remove(0)["findings"].as_array().unwrap().len();
    assert_eq!((count("fixed"), count("still_there"), count("new")), (all, 0, 0), "{text}");
    assert!(text.contains(&format!("\n  {all} fixed, 0 still there, 0 new\n")), "{text}");
    let kinds: Vec<&str> =
        told["findings"]["fixed"].as_array().unwrap().iter().map(|finding| finding["kind"].as_str().unwrap()).collect();
    for planted in ["stretch", "density", "flipped", "partial-overlap", "folded", "mirrored"] {
        assert!(kinds.contains(&planted), "{planted}: {text}");
    }
    // Changes are the differences between the two reports.
    let number = |name: &str, side: &str| {
        let row = told["numbers"].as_array().unwrap().iter().find(|row| row["name"] == name);
        row.unwrap_or_else(|| panic!("no {name}"))[side].clone()
    };
    for (side, path) in [("old", &draft), ("new", &revised)] {
        let (_, out, _) = run(gridproof().args(["check", "--json"]).arg(path));
        let report = json_lines(&out).remove(0);
        assert_eq!(number("sheet.coverage", side), report["sheet"]["coverage"]);
        assert_eq!(number("counts.shells", side), report["counts"]["shells"]);
    }

    let (status, back, _) = compare(&revised, &draft, &[]);
    let line = format!("\n  0 fixed, 0 still there, {all} new\n");
    assert!(status == 1 && back.contains(&line), "{back}");
    assert!(back.contains("\nnew\n  must fix  ") && !back.contains("\nmended\n"), "{back}");
}

/// A strip that is stretched and uses little of the sheet; `width` is its on the sheet, `unit` the unit's length.
fn strip(width: f64, unit: f64) -> String {
    let (x, y, u) = (4.0 * unit, unit, 0.1 + width);
    format!(
        "o strip\nv 0 0 0\nv {x} 0 0\nv {x} {y} 0\nv 0 {y} 0\nvt 0.1 0.1\nvt {u} 0.1\nvt {u} 0.3\nvt 0.1 0.3\nf 1/1 2/2 3/3 4/4\n"
    )
}

#[test]
fn remaining_findings_have_both_numbers_in_any_unit() {
    let folder = Folder::new("compare");
    let old = folder.file("old.obj", strip(0.2, 1.0));
    let new = folder.file("new.obj", strip(0.4, 100.0));
    let (status, text, _) = compare(&old, &new, &[]);
    assert_eq!(status, 1, "{text}");
    assert!(text.contains("\nstill there\n") && text.contains("4.00 -> 2.00") && text.contains(", better"), "{text}");
    assert!(text.contains("\n  0 fixed, 2 still there, 0 new\n"), "{text}");
    assert!(text.contains("relative to each one's own"), "{text}");
    let row = text.lines().find(|line| line.contains("stretch.anisotropy_p95")).unwrap_or_else(|| panic!("{text}"));
    assert_eq!(row.split_whitespace().collect::<Vec<_>>(), ["stretch.anisotropy_p95", "4.000", "->", "2.000"]);
    assert!(!text.contains("counts.faces"), "equal numbers are not printed: {text}");

    let told = json_of(&old, &new);
    assert_eq!(told["by_box"], json!(true));
    let stretch = &told["findings"]["still_there"][0];
    assert_eq!(
        (&stretch["change"], &stretch["old"]["number"]["text"]),
        (&json!("better"), &json!("4.00")),
        "{stretch}"
    );

    let (_, text, _) = compare(&old, &old, &[]);
    assert!(text.contains("\n  0 fixed, 2 still there, 0 new\n") && !text.contains("numbers that changed"), "{text}");
}

#[test]
fn decisions_on_either_version_apply_to_the_new_one() {
    let folder = Folder::new("compare-review");
    let old = folder.file("old.obj", strip(0.2, 1.0));
    let new = folder.file("new.obj", strip(0.3, 1.0));
    for (about, other) in [(&old, "previous"), (&new, "newer")] {
        let (_, out, _) = run(gridproof().args(["check", "--json"]).arg(about));
        let report = json_lines(&out).remove(0);
        let ids = report["findings"].as_array().unwrap().iter().map(|finding| finding["id"].clone());
        let meant: Vec<Value> =
            ids.map(|id| json!({"finding": id, "kind": "intended", "reason": "a ribbon"})).collect();
        let value = json!({"schema": "gridproof-review/2", "file": report["file"], "decisions": meant});
        let saved = folder.file(&format!("{other} review.json"), value.to_string());
        let (status, text, err) = compare(&old, &new, &["--review", saved.to_str().unwrap()]);
        assert_eq!(status, 0, "{other}: {text}{err}");
        assert!(text.lines().next().unwrap().ends_with(": ready, 2 intended"), "{text}");
    }
    let square = folder.file("square.obj", SQUARE);
    let saved = folder.0.join("previous review.json");
    let (status, _, err) = compare(&square, &new, &["--review", saved.to_str().unwrap()]);
    assert!(status == 2 && err.contains("is about another file"), "{err}");
}

#[test]
fn unreadable_files_are_reported_and_nothing_is_printed() {
    let folder = Folder::new("compare-unreadable");
    let square = folder.file("square.obj", SQUARE);
    let empty = folder.file("empty.obj", "");
    let missing = folder.0.join("missing.obj");
    for (old, new, named) in [(&missing, &square, &missing), (&square, &empty, &empty)] {
        for more in [&[][..], &["--json"]] {
            let (status, out, err) = compare(old, new, more);
            assert_eq!((status, out.as_str()), (2, ""), "{err}");
            assert!(err.contains(&format!("cannot read {}", named.display())), "{err}");
        }
    }
    let brief = folder.file("brief.toml", "[map]\nwidth = 3\n");
    let (status, out, err) = compare(&square, &square, &["--brief", brief.to_str().unwrap()]);
    assert!(status == 2 && out.is_empty() && err.contains("cannot use the brief"), "{err}");
}
