//! Several sheets: libraries beside the model, one sheet's picture, links.

use super::*;
use gridproof::brief::Brief;
use gridproof::carried::unwrap;
use serde_json::{Value, json};

/// Two squares of one material each, on one another.
fn two_materials() -> String {
    let square = |material: &str, z: &str| {
        let corners = SQUARE.strip_suffix("f 1/1 2/2 3/3 4/4\n").unwrap().replace(" 0\n", z);
        format!("usemtl {material}\n{corners}f -4/-4 -3/-3 -2/-2 -1/-1\n")
    };
    format!("mtllib maps\\two.mtl\n{}{}", square("brass", " 0\n"), square("glass", " 5\n"))
}

const LIBRARY: &str = "newmtl brass\nKd 1 1 0\nmap_Kd -s 1 1 1 brass.png\nnewmtl glass\nmap_Kd glass.png\n";

fn checked(file: &Path) -> (i32, Value, String) {
    let (status, out, err) = run(gridproof().args(["check", "--json"]).arg(file));
    (status, json_lines(&out).remove(0), err)
}

#[test]
fn textures_in_material_libraries_decide_the_sheets() {
    let folder = Folder::new("sheets");
    let file = folder.file("two.obj", two_materials());
    let (status, report, err) = checked(&file);
    assert_eq!((status, &report["sheets"]["by"]), (1, &json!("materials")));
    assert!(err.contains(r"names maps\two.mtl, which cannot be read beside it"), "{err}");
    assert_eq!(report["findings"][0]["kind"], "sheets");

    folder.file("maps/two.mtl", LIBRARY);
    let (status, report, err) = checked(&file);
    assert_eq!((status, &report["sheets"]["by"], err.as_str()), (0, &json!("pictures"), ""));
    let names: Vec<_> = report["sheets"]["list"].as_array().unwrap().iter().map(|sheet| &sheet["name"]).collect();
    assert_eq!(names, ["brass.png", "glass.png"]);
    let (status, out, _) = run(gridproof().arg("check").arg(&file));
    assert!(status == 0 && out.contains("\n  sheet brass.png: coverage 64.0 %, overlap 0.0 %\n"), "{out}");

    // If the brief decides, no library is needed.
    let brief = folder.file("one.toml", "[map]\nsheets = \"one\"\n");
    fs::remove_file(folder.0.join("maps/two.mtl")).unwrap();
    let (_, out, err) = run(gridproof().args(["check", "--json"]).arg(&file).arg("--brief").arg(brief));
    assert_eq!((&json_lines(&out)[0]["sheets"]["by"], err.as_str()), (&json!("brief"), ""));
}

#[test]
fn one_of_several_sheets_is_drawn_by_name() {
    let folder = Folder::new("sheet-of-several");
    let file = folder.file("two.obj", two_materials());
    folder.file("two.mtl", LIBRARY);
    let svg = folder.0.join("glass.svg");
    let drawn = |name: &str| run(gridproof().arg("sheet").arg(&file).arg("--out").arg(&svg).args(["--sheet", name]));
    let (status, _, err) = drawn("glass.png");
    assert!(status == 0 && err.contains("sheet glass.png of 2"), "{err}");
    let text = fs::read_to_string(&svg).unwrap();
    assert!(text.contains("id=\"shell-1\"") && !text.contains("id=\"shell-0\""));
    let (status, _, err) = drawn("wood.png");
    assert!(status == 2 && err.contains("There are: brass.png, glass.png."), "{err}");
}

#[test]
fn a_link_carries_the_sheets_and_the_brief() {
    let folder = Folder::new("link-sheets");
    let file = folder.file("two.obj", two_materials());
    folder.file("two.mtl", LIBRARY);
    let review = |more: &[&str]| {
        let (status, out, err) = run(gridproof().arg("link").arg(&file).args(more));
        assert_eq!(status, 0, "{err}");
        let review = unwrap(out.trim_end().split_once("#m=").unwrap().1).unwrap().review;
        (!review.is_empty()).then(|| serde_json::from_slice::<Value>(&review).unwrap())
    };
    let own = review(&[]).unwrap();
    assert_eq!((&own["schema"], &own["file"]["name"]), (&json!("gridproof-review/2"), &json!("two.obj")));
    let groups =
        json!([{ "name": "brass.png", "materials": ["brass"] }, { "name": "glass.png", "materials": ["glass"] }]);
    assert_eq!(own["brief"], json!({ "map": { "sheets": groups } }));
    assert!(Brief::from_json(&own["brief"].to_string()).is_ok());
    let brief = folder.file("b.toml", "[map]\nsheets = \"one\"\n[coverage]\nmin_share = 0.25\n");
    let own = review(&["--brief", brief.to_str().unwrap()]).unwrap();
    assert_eq!(own["brief"], json!({ "map": { "sheets": "one" }, "coverage": { "min_share": 0.25 } }));
    // Overlaps are found again where the link is opened.
    fs::remove_file(folder.0.join("two.mtl")).unwrap();
    assert_eq!(review(&[]), None);
}
