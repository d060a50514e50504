//! The command as people and pipelines use it: the built program, run.
#![cfg(not(target_arch = "wasm32"))]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails here")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

mod brief;
mod check;
mod clean;
mod compare;
mod grid;
mod link;
mod many;
mod pictures;
mod review;
mod serve;
mod sheets;

/// A square well inside the tile: nothing is wrong with it but its size, for which there is no limit.
const SQUARE: &str =
    "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n";
/// The same without UVs.
const UNMAPPED: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n";

/// A temporary folder of a test.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}-{}", std::process::id()));
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    fn file(&self, name: &str, content: impl AsRef<[u8]>) -> PathBuf {
        let path = self.0.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, content).unwrap();
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

fn gridproof() -> Command {
    Command::new(env!("CARGO_BIN_EXE_gridproof"))
}

fn run(command: &mut Command) -> (i32, String, String) {
    let Output { status, stdout, stderr } = command.output().unwrap();
    (status.code().unwrap(), String::from_utf8(stdout).unwrap(), String::from_utf8(stderr).unwrap())
}

fn json_lines(text: &str) -> Vec<serde_json::Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap_or_else(|error| panic!("{error} in {line}"))).collect()
}

#[test]
fn an_invalid_command_line_exits_with_2_and_shows_the_usage() {
    for arguments in [&["check"][..], &["chek", "a.obj"], &["grid"], &["serve", "--port", "99999"]] {
        let (status, _, err) = run(gridproof().args(arguments));
        assert_eq!(status, 2, "{arguments:?}: {err}");
        assert!(err.contains("--help"), "{arguments:?}: {err}");
    }
}
