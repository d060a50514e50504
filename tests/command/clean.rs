//! Names and keys with control characters or formulas: only blanks are printed in their place.
#![cfg(unix)]

use super::*;

/// Colour, bell, end of a title, end of line, C1, direction, line separator.
const STEERING: &str = "\u{1b}[31m\u{7}\u{9c}\n\u{9b}2J\u{85}\u{202e}\u{2067}\u{2028}x";

/// A square that is called so, flipped, with a library that is missing, a word that OBJ has not, and names of two materials.
fn hostile_obj() -> String {
    let name = STEERING.replace('\n', "");
    format!(
        "mtllib {name}.mtl\n{name} 1\no {name}\nv 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 1 0\nvt .1 .1\nvt .3 .1\nvt .3 .9\nvt .1 .9\n\
         usemtl {name}\nf 4/4 3/3 2/2 1/1\nusemtl b{name}\nf 4/4 3/3 2/2\nf 1/9 2/2 {name}\n"
    )
}

/// Fails if `told` has control characters other than line ends.
fn assert_clean(what: &str, told: &str) {
    let bad = |letter: &char| {
        letter.is_control() && *letter != '\n' || matches!(letter, '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2067}')
    };
    assert_eq!(told.chars().find(bad), None, "{what}: {told:?}");
    assert!(!told.lines().any(|line| line.trim_start().starts_with("2J")), "{what} has a line of a name's: {told:?}");
}

#[test]
fn no_control_characters_reach_the_terminal() {
    let folder = Folder::new("clean");
    let obj = folder.file(&format!("a{STEERING}.obj"), hostile_obj());
    let better = folder.file(&format!("b{STEERING}.obj"), SQUARE);
    let broken = folder.file(&format!("c{STEERING}.obj"), "v 0 0 0\n");
    let escaped: String = STEERING.chars().map(|letter| format!("\\U{:08X}", u32::from(letter))).collect();
    let toml_key = folder.file(&format!("key{STEERING}.toml"), format!("[map]\n\"{escaped}\" = 1\n"));
    let json_key = folder.file("key.json", serde_json::json!({ "map": { STEERING: 1 } }).to_string());
    let value = folder.file("value.json", serde_json::json!({ "map": { "tiles": STEERING } }).to_string());
    let raw = folder.file("raw.toml", format!("[map]\ntiles = '{}\n", STEERING.replace('\n', "")));
    let factor = serde_json::json!({ "density_factor": { STEERING: 4 }, "text": { "groups": [STEERING, "none"] } });
    let factor = folder.file("factor.json", factor.to_string());
    let file = |more: serde_json::Value| {
        let file = serde_json::json!({ "name": STEERING, "bytes": 1, "sha256": "0".repeat(64) });
        let mut review = serde_json::json!({ "schema": "gridproof-review/2", "file": file });
        review.as_object_mut().unwrap().extend(more.as_object().unwrap().clone());
        review.to_string()
    };
    let foreign = folder.file("foreign.json", file(serde_json::json!({})));
    let unknown = folder.file("unknown.json", file(serde_json::json!({ STEERING: 1 })));
    let missing = folder.0.join(format!("missing{STEERING}.obj"));
    let out = folder.0.join(format!("out{STEERING}.png"));
    let paths = |paths: &[&Path]| paths.iter().map(|path| path.as_os_str().to_owned()).collect::<Vec<_>>();
    let text = |words: &[&str]| words.iter().map(std::ffi::OsString::from).collect::<Vec<_>>();
    let cases = [
        [text(&["check"]), paths(&[&obj, &better, &broken, &missing])].concat(),
        [text(&["check"]), paths(&[&obj]), text(&["--brief"]), paths(&[&factor])].concat(),
        [text(&["check"]), paths(&[&obj]), text(&["--brief"]), paths(&[&toml_key])].concat(),
        [text(&["check"]), paths(&[&obj]), text(&["--brief"]), paths(&[&json_key])].concat(),
        [text(&["check"]), paths(&[&obj]), text(&["--brief"]), paths(&[&value])].concat(),
        [text(&["check"]), paths(&[&obj]), text(&["--brief"]), paths(&[&raw])].concat(),
        [text(&["check"]), paths(&[&obj]), text(&["--review"]), paths(&[&foreign])].concat(),
        [text(&["check"]), paths(&[&obj]), text(&["--review"]), paths(&[&unknown])].concat(),
        [text(&["check"]), paths(&[&folder.0]), text(&["--csv", "-"])].concat(),
        [text(&["compare"]), paths(&[&obj, &better])].concat(),
        [text(&["compare"]), paths(&[&better, &obj])].concat(),
        [text(&["picture"]), paths(&[&obj]), text(&["--out"]), paths(&[&out])].concat(),
        [text(&["picture"]), paths(&[&obj]), text(&["--out"]), paths(&[&obj])].concat(),
        [text(&["picture"]), paths(&[&obj]), text(&["--finding", STEERING, "--out"]), paths(&[&out])].concat(),
        [text(&["sheet"]), paths(&[&obj]), text(&["--out"]), paths(&[&out])].concat(),
        [text(&["sheet"]), paths(&[&obj]), text(&["--sheet", STEERING, "--out"]), paths(&[&out])].concat(),
        [text(&["grid", "--out"]), paths(&[&out])].concat(),
        [text(&["serve", "--site"]), paths(&[&missing])].concat(),
        [text(&["site", "--out"]), paths(&[&obj])].concat(),
        text(&[STEERING]),
        text(&["brief", "--preset", STEERING]),
        text(&["check", &format!("--{STEERING}")]),
    ];
    for arguments in cases {
        let (_, out, err) = run(gridproof().args(&arguments));
        assert!(!out.is_empty() || !err.is_empty(), "{arguments:?} says nothing");
        assert_clean(&format!("{arguments:?}"), &out.replace("\r\n", "\n"));
        assert_clean(&format!("{arguments:?}"), &err);
    }
}

#[test]
fn no_cell_of_a_table_is_a_formula() {
    let folder = Folder::new("formulas");
    for name in ["=1+2.obj", "+1.obj", "-1.obj", "@sum(a).obj", "\t=1.obj", "\r=1.obj"] {
        folder.file(name, SQUARE);
    }
    let (_, out, err) = run(gridproof().current_dir(&folder.0).args([
        "check",
        "--csv",
        "-",
        "--",
        "=1+2.obj",
        "+1.obj",
        "-1.obj",
        "@sum(a).obj",
        "\t=1.obj",
        "\r=1.obj",
    ]));
    let begun: Vec<&str> = out.lines().skip(1).filter_map(|line| line.split(',').next()).collect();
    assert_eq!(begun, ["'=1+2.obj", "'+1.obj", "'-1.obj", "'@sum(a).obj", "' =1.obj", "' =1.obj"], "{err}");
}
