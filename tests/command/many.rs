//! `check` on a class of files: folders, order, tables.

use super::*;

/// A class: some ready, some not, one that is no model, in folders.
fn class(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.file("b/ada.obj", SQUARE);
    folder.file("b/Zoe.OBJ", UNMAPPED);
    folder.file("a.obj", SQUARE);
    folder.file("c, \"d\"/deep/er/箱.obj", UNMAPPED);
    folder.file("c, \"d\"/broken.obj", "nothing like a model\n");
    folder.file("b/notes.txt", "not a model");
    folder.file("b/._ada.obj", "what an archive left there");
    folder.file(".hidden/x.obj", SQUARE);
    folder
}

const IN_ORDER: [&str; 5] = ["a.obj", "b/Zoe.OBJ", "b/ada.obj", "c, \"d\"/broken.obj", "c, \"d\"/deep/er/箱.obj"];

fn paths(folder: &Folder) -> Vec<String> {
    IN_ORDER.map(|name| folder.0.join(name).to_str().unwrap().to_owned()).to_vec()
}

#[test]
fn a_folder_expands_to_its_models_in_a_stable_order() {
    let folder = class("class");
    for _ in 0..5 {
        let (status, out, err) = run(gridproof().args(["check", "--json"]).arg(&folder.0));
        assert_eq!(status, 2, "{err}");
        let told: Vec<_> = json_lines(&out).iter().map(|line| line["path"].as_str().unwrap().to_owned()).collect();
        assert_eq!(told, paths(&folder));
    }
    let (status, out, err) = run(gridproof().arg("check").arg(&folder.0));
    assert_eq!(status, 2);
    assert!(out.ends_with("\n\n5 files: 2 ready, 2 not ready, 1 could not be read\n"), "{out}");
    assert!(err.contains("broken.obj"), "{err}");
    let firsts: Vec<_> = out.split("\n\n").map(|report| report.lines().next().unwrap()).collect();
    assert_eq!(firsts.len(), 5, "{out}");
    for (first, index) in firsts.iter().zip([0, 1, 2, 4]) {
        assert!(first.starts_with(&paths(&folder)[index]), "{first}");
    }
}

#[cfg(unix)]
#[test]
fn links_to_files_are_followed_and_links_to_folders_are_not() {
    let folder = Folder::new("links");
    folder.file("real/a.obj", SQUARE);
    std::os::unix::fs::symlink(&folder.0, folder.0.join("real/round")).unwrap();
    std::os::unix::fs::symlink(folder.0.join("real/a.obj"), folder.0.join("real/b.obj")).unwrap();
    std::os::unix::fs::symlink(folder.0.join("nowhere"), folder.0.join("real/c.obj")).unwrap();
    let (status, out, err) = run(gridproof().args(["check", "--json"]).arg(folder.0.join("real")));
    assert_eq!(status, 2, "the third link is broken");
    assert_eq!(json_lines(&out).len(), 3, "{out}");
    assert!(err.contains("c.obj") && err.contains("no such file"), "{err}");
}

#[test]
fn files_are_reported_in_argument_order_whatever_their_size() {
    let folder = Folder::new("order");
    let large: String = (0..40_000).map(|i| format!("v {i} 0 0\nv {i} 1 0\nv {i} 0 1\nf -3 -2 -1\n")).collect();
    let files: Vec<_> = (0..60)
        .map(|i| folder.file(&format!("{:03}.obj", 999 - i), if i % 20 == 0 { &large[..] } else { SQUARE }))
        .collect();
    let (status, out, _) = run(gridproof().args(["check", "--json"]).args(&files));
    assert_eq!(status, 1);
    let told: Vec<_> = json_lines(&out).iter().map(|line| line["path"].as_str().unwrap().to_owned()).collect();
    assert!(told.iter().eq(files.iter().map(|file| file.to_str().unwrap())), "{told:?}");
}

/// Cells of a table in RFC 4180, read by the format's own grammar.
fn cells(text: &str) -> Vec<Vec<String>> {
    let (mut rows, mut row, mut cell, mut quoted) = (Vec::new(), Vec::new(), String::new(), false);
    let mut letters = text.chars().peekable();
    while let Some(c) = letters.next() {
        match (c, quoted) {
            ('"', true) if letters.peek() == Some(&'"') => cell.extend(letters.next()),
            ('"', _) => quoted = !quoted,
            (',', false) => row.push(std::mem::take(&mut cell)),
            ('\r', false) => {
                assert_eq!(letters.next(), Some('\n'), "rows end in CR LF");
                row.push(std::mem::take(&mut cell));
                rows.push(std::mem::take(&mut row));
            }
            _ => cell.push(c),
        }
    }
    assert!(row.is_empty() && cell.is_empty() && !quoted, "the table ends with a line end");
    rows
}

#[test]
fn a_table_has_a_row_for_every_file_with_the_numbers_of_the_report() {
    let folder = class("table");
    let table = folder.0.join("class.csv");
    let (status, out, _) = run(gridproof().args(["check", "--json"]).arg(&folder.0).arg("--csv").arg(&table));
    assert_eq!(status, 2);
    let reports = json_lines(&out);
    let rows = cells(&fs::read_to_string(&table).unwrap());
    let header = &rows[0];
    assert_eq!(header[..4], ["path", "verdict", "worst_finding", "error"]);
    assert_eq!(rows.len(), 1 + reports.len());
    for (row, report) in rows[1..].iter().zip(&reports) {
        assert_eq!(row.len(), header.len());
        assert_eq!(row[0], report["path"].as_str().unwrap());
        if let Some(message) = report["error"]["message"].as_str() {
            let code = report["error"]["code"].as_str().unwrap();
            assert_eq!((row[1].as_str(), row[2].as_str()), ("unreadable", ""));
            assert!(row[3].starts_with(code) && row[3].contains(message), "{row:?}");
            assert!(row[4..].iter().all(String::is_empty), "{row:?}");
            continue;
        }
        assert_eq!((row[1].as_str(), row[3].as_str()), (report["verdict"].as_str().unwrap(), ""));
        let cause = &report["cause"];
        match report["findings"].get(0) {
            Some(_) if cause.is_object() => {
                let words = [&cause["kind"], &cause["sentence"]].map(|words| words.as_str().unwrap());
                assert_eq!(row[2], format!("{}: {}", words[0], words[1]));
            }
            Some(worst) => {
                let kind = worst["kind"].as_str().unwrap();
                assert!(row[2].starts_with(&format!("{kind}: {}", worst["title"].as_str().unwrap())), "{row:?}");
            }
            None => assert_eq!(row[2], ""),
        }
        for (name, cell) in header.iter().zip(row).skip(4) {
            let value = report.pointer(&format!("/{}", name.replace('.', "/"))).unwrap();
            assert_eq!(cell.parse().ok(), value.as_f64(), "{name}: {cell:?} and {value}");
        }
    }
}

#[test]
fn a_table_on_standard_output_excludes_json_lines() {
    let folder = class("table-out");
    let (status, out, err) = run(gridproof().args(["check", "--csv", "-"]).arg(&folder.0));
    assert_eq!(status, 2);
    assert_eq!(cells(&out).len(), 6, "{out}");
    assert!(err.contains("broken.obj"), "{err}");
    let (status, out, err) = run(gridproof().args(["check", "--json", "--csv", "-"]).arg(&folder.0));
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(err.contains("--csv"), "{err}");
    let nowhere = folder.0.join("missing/table.csv");
    let (status, out, err) = run(gridproof().arg("check").arg(&folder.0).arg("--csv").arg(&nowhere));
    assert_eq!((status, out.as_str()), (2, ""), "an unwritable table is reported before the work");
    assert!(err.contains(nowhere.to_str().unwrap()), "{err}");
}
