//! `check` on single files.

use super::*;
use std::io::Write as _;
use std::process::Stdio;

#[test]
fn a_ready_model_exits_with_0_and_is_reported_ready() {
    let folder = Folder::new("ready");
    let (status, out, err) = run(gridproof().arg("check").arg(folder.file("square.obj", SQUARE)));
    assert_eq!(status, 0, "{out}{err}");
    assert!(out.contains("ready") && !out.contains("not ready"), "{out}");
    assert_eq!(err, "");
    assert!(!out.contains('\x1b'), "no colours where there is no terminal: {out:?}");
}

#[test]
fn one_model_that_is_not_ready_exits_with_1() {
    let folder = Folder::new("not-ready");
    let square = folder.file("square.obj", SQUARE);
    let unmapped = folder.file("unmapped.obj", UNMAPPED);
    let (status, out, err) = run(gridproof().arg("check").args([&square, &unmapped, &square]));
    assert_eq!(status, 1, "{out}{err}");
    assert!(out.contains("not ready"), "{out}");
    assert!(out.ends_with("3 files: 2 ready, 1 not ready\n"), "{out}");
}

#[test]
fn one_json_line_per_file_in_order() {
    let folder = Folder::new("json");
    let square = folder.file("square.obj", SQUARE);
    let unmapped = folder.file("unmapped.obj", UNMAPPED);
    let missing = folder.0.join("missing.obj");
    let (status, out, err) = run(gridproof().args(["check", "--json"]).args([&square, &missing, &unmapped]));
    assert_eq!(status, 2, "{out}{err}");
    let lines = json_lines(&out);
    assert_eq!(lines.len(), 3, "{out}");
    for (line, file) in lines.iter().zip([&square, &missing, &unmapped]) {
        assert_eq!(line["schema"], "gridproof-report/2");
        assert_eq!(line["path"], file.to_str().unwrap());
        assert_eq!(line["file"]["name"], file.file_name().unwrap().to_str().unwrap());
    }
    assert_eq!(lines[0]["verdict"], "ready");
    assert_eq!(lines[0]["counts"]["faces"], 1);
    assert_eq!(lines[0]["file"]["bytes"], SQUARE.len());
    assert_eq!(lines[0]["error"], serde_json::Value::Null);
    assert_eq!(lines[1]["error"]["code"], "not-found");
    assert_eq!(lines[1]["verdict"], serde_json::Value::Null);
    assert_eq!(lines[2]["verdict"], "not ready");
    assert_eq!(err.lines().count(), 1, "{err}");
    assert!(err.contains("missing.obj") && err.contains("no such file"), "{err}");
}

/// Second source: the system's own SHA-256 tool.
#[test]
fn the_hash_is_of_the_files_bytes() {
    let folder = Folder::new("hash");
    let square = folder.file("square.obj", SQUARE);
    let Ok(theirs) = Command::new("sha256sum").arg(&square).output() else {
        println!("skipped: there is no sha256sum to compare with");
        return;
    };
    let (_, out, _) = run(gridproof().args(["check", "--json"]).arg(&square));
    let ours = json_lines(&out)[0]["file"]["sha256"].as_str().unwrap().to_owned();
    assert_eq!(ours, String::from_utf8(theirs.stdout).unwrap().split_whitespace().next().unwrap());
}

#[test]
fn unreadable_files_are_reported_and_the_others_still_checked() {
    let folder = Folder::new("bad");
    let binary = folder.file("picture.obj", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR");
    let empty = folder.file("empty.obj", "");
    let square = folder.file("square.obj", SQUARE);
    let bare = folder.0.join("bare");
    fs::create_dir(&bare).unwrap();
    let (status, out, err) = run(gridproof().arg("check").args([&binary, &empty, &bare, &square]));
    assert_eq!(status, 2, "{out}{err}");
    assert_eq!(err.lines().count(), 3, "{err}");
    for (name, line) in ["picture.obj", "empty.obj", bare.to_str().unwrap()].iter().zip(err.lines()) {
        assert!(line.starts_with("gridproof: cannot read ") && line.contains(name), "{name} is not named in {line}");
    }
    assert!(out.contains("square.obj") && out.ends_with("4 files: 1 ready, 3 could not be read\n"), "{out}");
}

#[test]
fn standard_input_is_read_as_a_stream() {
    let mut child = gridproof()
        .args(["check", "--json", "-"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let (first, second) = SQUARE.split_at(20);
    input.write_all(first.as_bytes()).unwrap();
    input.flush().unwrap();
    input.write_all(second.as_bytes()).unwrap();
    drop(input);
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    let lines = json_lines(std::str::from_utf8(&output.stdout).unwrap());
    assert_eq!((lines.len(), &lines[0]["file"]["name"]), (1, &"-".into()));
}

#[test]
fn empty_standard_input_is_named_in_the_message() {
    let (status, _, err) = run(gridproof().args(["check", "-"]).stdin(Stdio::null()));
    assert_eq!(status, 2);
    assert!(err.starts_with("gridproof: cannot read standard input"), "{err}");
}

#[test]
fn a_closed_pipe_is_no_panic() {
    let folder = Folder::new("pipe");
    let square = folder.file("square.obj", SQUARE);
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    let output = gridproof().args(["check", "--json"]).arg(&square).stdout(writer).output().unwrap();
    assert_eq!(String::from_utf8(output.stderr).unwrap(), "");
    assert_eq!(output.status.code(), Some(141));
}
