//! The command as people and pipelines use it: the built program, run.
#![cfg(not(target_arch = "wasm32"))]
#![allow(clippy::unwrap_used, reason = "a test that cannot go on fails here")]

use std::fs;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

/// A square over the whole tile: nothing about it can be wrong but its size, which nobody asked for.
const SQUARE: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 1 1\nvt 0 1\nf 1/1 2/2 3/3 4/4\n";
/// The same without UVs.
const UNMAPPED: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n";

/// A folder of the test's own, gone afterwards.
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
fn a_ready_model_exits_with_0_and_says_so() {
    let folder = Folder::new("ready");
    let (status, out, err) = run(gridproof().arg("check").arg(folder.file("square.obj", SQUARE)));
    assert_eq!(status, 0, "{out}{err}");
    assert!(out.contains("ready") && !out.contains("not ready"), "{out}");
    assert_eq!(err, "");
    assert!(!out.contains('\x1b'), "no colours where there is no terminal: {out:?}");
}

#[test]
fn a_model_that_is_not_ready_exits_with_1_whatever_else_is_ready() {
    let folder = Folder::new("not-ready");
    let square = folder.file("square.obj", SQUARE);
    let unmapped = folder.file("unmapped.obj", UNMAPPED);
    let (status, out, err) = run(gridproof().arg("check").args([&square, &unmapped, &square]));
    assert_eq!(status, 1, "{out}{err}");
    assert!(out.contains("not ready"), "{out}");
    assert!(out.ends_with("3 files: 2 ready, 1 not ready\n"), "{out}");
}

#[test]
fn a_json_line_for_each_file_in_their_order() {
    let folder = Folder::new("json");
    let square = folder.file("square.obj", SQUARE);
    let unmapped = folder.file("unmapped.obj", UNMAPPED);
    let missing = folder.0.join("missing.obj");
    let (status, out, err) = run(gridproof().args(["check", "--json"]).args([&square, &missing, &unmapped]));
    assert_eq!(status, 2, "{out}{err}");
    let lines = json_lines(&out);
    assert_eq!(lines.len(), 3, "{out}");
    for (line, file) in lines.iter().zip([&square, &missing, &unmapped]) {
        assert_eq!(line["schema"], "gridproof-report/1");
        assert_eq!(line["file"]["name"], file.to_str().unwrap());
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
fn the_hash_is_that_of_the_bytes() {
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
fn what_cannot_be_read_is_named_with_its_reason_and_the_others_still_checked() {
    let folder = Folder::new("bad");
    let binary = folder.file("picture.obj", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR");
    let empty = folder.file("empty.obj", "");
    let square = folder.file("square.obj", SQUARE);
    let (status, out, err) = run(gridproof().arg("check").args([&binary, &empty, &folder.0, &square]));
    assert_eq!(status, 2, "{out}{err}");
    for (name, line) in ["picture.obj", "empty.obj", folder.0.to_str().unwrap()].iter().zip(err.lines()) {
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
fn standard_input_that_holds_nothing_is_called_by_its_name() {
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

#[test]
fn a_command_line_nobody_understands_exits_with_2_and_shows_the_usage() {
    for arguments in [&["check"][..], &["chek", "a.obj"], &["grid"], &["serve", "--port", "99999"]] {
        let (status, _, err) = run(gridproof().args(arguments));
        assert_eq!(status, 2, "{arguments:?}: {err}");
        assert!(err.contains("--help"), "{arguments:?}: {err}");
    }
}

#[test]
fn the_grid_is_a_png_of_the_size_asked_for() {
    let folder = Folder::new("grid");
    let out = folder.0.join("grid.png");
    fs::write(&out, "what was there before is replaced").unwrap();
    let (status, _, err) = run(gridproof().args(["grid", "--width", "512", "--height", "256", "--out"]).arg(&out));
    assert_eq!(status, 0, "{err}");
    let picture = image::open(&out).unwrap();
    assert_eq!((picture.width(), picture.height()), (512, 256));
    let pixels = picture.to_rgb8();
    let first = pixels.get_pixel(5, 5);
    assert!(pixels.pixels().any(|pixel| pixel != first), "there is something on it");
    let lettered = folder.0.join("words.png");
    let (status, _, err) = run(gridproof()
        .args(["grid", "--width", "512", "--height", "256", "--words", "HARBOUR", "--words-size", "64", "--out"])
        .arg(&lettered));
    assert_eq!(status, 0, "{err}");
    assert_ne!(image::open(&lettered).unwrap().to_rgb8(), pixels, "words are set");
    fs::remove_file(&lettered).unwrap();
    let left: Vec<_> = fs::read_dir(&folder.0).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left, ["grid.png"], "nothing else is left beside it");
}

#[test]
fn a_grid_out_of_bounds_is_refused_with_a_sentence_and_writes_nothing() {
    let folder = Folder::new("grid-bounds");
    let out = folder.0.join("grid.png");
    for arguments in [&["--size", "0"][..], &["--size", "100000"], &["--cell", "0"], &["--cell", "4000000000"]] {
        let (status, _, err) = run(gridproof().args(["grid", "--out"]).arg(&out).args(arguments));
        assert_eq!(status, 2, "{arguments:?}: {err}");
        assert!(err.contains("px"), "{arguments:?}: {err}");
        assert!(!out.exists());
    }
    let nowhere = folder.0.join("missing/grid.png");
    let (status, _, err) = run(gridproof().args(["grid", "--size", "128", "--out"]).arg(&nowhere));
    assert_eq!(status, 2);
    assert!(err.contains(nowhere.to_str().unwrap()), "{err}");
}

#[test]
fn a_folder_with_something_else_in_it_is_never_overwritten() {
    let folder = Folder::new("site");
    let precious = folder.file("precious.txt", "mine");
    let (status, _, err) = run(gridproof().args(["site", "--out"]).arg(&folder.0));
    assert_eq!(status, 2);
    assert!(err.contains("left alone"), "{err}");
    let (status, _, err) = run(gridproof().args(["site", "--out"]).arg(&precious));
    assert_eq!(status, 2);
    assert!(err.contains("is a file"), "{err}");
    assert_eq!(fs::read_to_string(&precious).unwrap(), "mine");
}

/// A server of a folder, ended with the test.
struct Server {
    child: Child,
    port: u16,
}

impl Server {
    /// Serves the folder `site` in `folder`.
    fn of(folder: &Folder) -> Self {
        let mut command = gridproof();
        command.args(["serve", "--port", "0", "--site"]).arg(folder.0.join("site"));
        let mut child = command.stdout(Stdio::piped()).spawn().unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let port = line.trim_end().trim_end_matches('/').rsplit(':').next().unwrap().parse().unwrap();
        Self { child, port }
    }

    /// Sends a request as it is, so that no client tidies up its path, and gives the whole answer.
    fn ask(&self, method: &str, path: &str) -> String {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        write!(stream, "{method} {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n").unwrap();
        let mut answer = Vec::new();
        stream.read_to_end(&mut answer).unwrap_or_else(|error| panic!("{method} {path}: {error}"));
        String::from_utf8_lossy(&answer).into_owned()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn site(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.file("site/index.html", "<!doctype html><title>Test</title>");
    folder.file("site/wasm/gridproof_bg.wasm", b"\0asm\x01\0\0\0");
    folder.file("site/www/app.js", "export {};");
    folder.file("site/www/fonts/a b.woff2", "font");
    folder.file("site/demo/ä.obj", SQUARE);
    folder.file("site/.hidden", "hidden");
    folder.file("secret.txt", "secret");
    folder
}

#[test]
fn files_come_with_their_media_type_and_the_policy() {
    let folder = site("serve-types");
    let server = Server::of(&folder);
    for (path, media_type, body) in [
        ("/", "text/html; charset=utf-8", "<!doctype html><title>Test</title>"),
        ("/?demo=draft", "text/html; charset=utf-8", "<!doctype html>"),
        ("/index.html", "text/html; charset=utf-8", "<!doctype html>"),
        ("/wasm/gridproof_bg.wasm", "application/wasm", "\0asm"),
        ("/www/app.js?v=1", "text/javascript; charset=utf-8", "export {};"),
        ("/www/fonts/a%20b.woff2", "font/woff2", "font"),
        ("/demo/%C3%A4.obj", "model/obj", "v 0 0 0"),
    ] {
        let answer = server.ask("GET", path);
        let (head, found) = answer.split_once("\r\n\r\n").unwrap();
        assert!(head.starts_with("HTTP/1.1 200 "), "{path}: {head}");
        assert!(head.contains(&format!("\r\nContent-Type: {media_type}\r\n")), "{path}: {head}");
        assert!(head.contains("\r\nCache-Control: no-cache\r\n"), "{path}: {head}");
        assert!(head.contains("\r\nX-Content-Type-Options: nosniff\r\n"), "{path}: {head}");
        assert!(
            head.contains("\r\nContent-Security-Policy: default-src 'none'; script-src 'self' 'wasm-unsafe-eval';")
        );
        assert!(found.starts_with(body), "{path}: {found}");
    }
}

#[test]
fn head_gives_the_headers_alone_and_other_methods_are_refused() {
    let folder = site("serve-methods");
    let server = Server::of(&folder);
    let answer = server.ask("HEAD", "/www/app.js");
    assert!(answer.starts_with("HTTP/1.1 200 ") && answer.contains("\r\nContent-Length: 10\r\n"), "{answer}");
    assert!(answer.ends_with("\r\n\r\n"), "{answer}");
    for method in ["POST", "PUT", "DELETE", "OPTIONS"] {
        let answer = server.ask(method, "/");
        assert!(answer.starts_with("HTTP/1.1 405 ") && answer.contains("\r\nAllow: GET, HEAD\r\n"), "{answer}");
    }
}

#[test]
fn nothing_outside_the_folder_is_served() {
    let folder = site("serve-outside");
    #[cfg(unix)]
    std::os::unix::fs::symlink(folder.0.join("secret.txt"), folder.0.join("site/link.txt")).unwrap();
    let server = Server::of(&folder);
    for path in [
        "/../secret.txt",
        "/www/../../secret.txt",
        "/%2e%2e/secret.txt",
        "/..%2fsecret.txt",
        "/www%2f..%2f..%2fsecret.txt",
        "/..\\secret.txt",
        "/..%5csecret.txt",
        "//../secret.txt",
        "/link.txt",
        "/.hidden",
        "/%00",
        "/%zz",
        "/%ff",
        "/www",
        "/www/",
        "/index.html/",
        "/index.html/x",
        "/missing.js",
        "*",
    ] {
        let answer = server.ask("GET", path);
        assert!(answer.starts_with("HTTP/1.1 404 "), "{path}: {answer}");
        assert!(answer.contains("nosniff") && answer.ends_with(".\n"), "{path} gets a sentence: {answer}");
        assert!(!answer.contains("secret\n") && !answer.ends_with("secret"), "{path}: {answer}");
    }
    let long = format!("/{}", "a".repeat(300));
    assert!(server.ask("GET", &long).starts_with("HTTP/1.1 404 "));
}

#[test]
fn a_slow_reader_does_not_hold_up_the_others() {
    let folder = site("serve-parallel");
    folder.file("site/demo/big.obj", vec![b'#'; 32 << 20]);
    let server = Server::of(&folder);
    let mut slow = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
    write!(slow, "GET /demo/big.obj HTTP/1.1\r\nHost: localhost\r\n\r\n").unwrap();
    let mut first = [0; 12];
    slow.read_exact(&mut first).unwrap();
    assert_eq!(&first, b"HTTP/1.1 200");
    assert!(server.ask("GET", "/").starts_with("HTTP/1.1 200 "));
}

/// Guards against a server whose connections wait for one another's threads: one round in three hundred was enough to
/// leave a page hanging.
#[test]
fn many_connections_kept_open_at_once_are_all_answered() {
    let folder = site("serve-many");
    let server = Server::of(&folder);
    let silent: Vec<_> = (0..8).map(|_| TcpStream::connect(("127.0.0.1", server.port)).unwrap()).collect();
    for round in 0..50 {
        let mut open: Vec<_> = (0..12)
            .map(|_| {
                let mut stream = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
                stream.set_read_timeout(Some(std::time::Duration::from_secs(10))).unwrap();
                write!(stream, "GET /www/app.js HTTP/1.1\r\nHost: localhost\r\n\r\n").unwrap();
                stream
            })
            .collect();
        for stream in &mut open {
            let mut first = [0; 12];
            stream.read_exact(&mut first).unwrap_or_else(|error| panic!("round {round}: {error}"));
            assert_eq!(&first, b"HTTP/1.1 200");
        }
    }
    drop(silent);
}

#[test]
fn a_request_that_is_none_is_refused_and_an_endless_one_is_cut_off() {
    let folder = site("serve-nonsense");
    let server = Server::of(&folder);
    for nonsense in ["\r\n\r\n", "hello\r\n\r\n", "\u{16}\u{3}\u{1}\n\n"] {
        let mut stream = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
        stream.write_all(nonsense.as_bytes()).unwrap();
        let mut first = [0; 12];
        stream.read_exact(&mut first).unwrap();
        assert_eq!(&first, b"HTTP/1.1 405", "{nonsense:?}");
    }
    let endless = format!("/{}", "a".repeat(1 << 17));
    let mut stream = TcpStream::connect(("127.0.0.1", server.port)).unwrap();
    let _ = write!(stream, "GET {endless} HTTP/1.1\r\n\r\n");
    let mut first = [0; 12];
    stream.read_exact(&mut first).unwrap();
    assert_eq!(&first, b"HTTP/1.1 404");
    assert!(server.ask("GET", "/").starts_with("HTTP/1.1 200 "), "and the next one is served");
}

#[test]
fn a_taken_port_is_told_with_a_way_out() {
    let taken = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let folder = site("serve-taken");
    let (status, out, err) = run(gridproof().args(["serve", "--port", &port, "--site"]).arg(folder.0.join("site")));
    assert_eq!((status, out.as_str()), (2, ""), "{err}");
    assert!(err.contains(&port) && err.contains("--port"), "{err}");
    let (status, _, err) = run(gridproof().args(["serve", "--site"]).arg(folder.0.join("nowhere")));
    assert_eq!(status, 2);
    assert!(err.contains("index.html"), "{err}");
}

#[test]
fn sheet_picture_and_page_are_written_and_wrong_wishes_are_told() {
    let folder = Folder::new("pictures");
    let square = folder.file("square.obj", SQUARE);
    let (svg, png, stage, page) =
        (folder.0.join("s.svg"), folder.0.join("s.png"), folder.0.join("m.png"), folder.0.join("r.html"));
    let (status, _, err) = run(gridproof().arg("sheet").arg(&square).arg("--out").arg(&svg).args(["--ground", "grid"]));
    assert_eq!(status, 0, "{err}");
    assert!(fs::read_to_string(&svg).unwrap().contains("data:image/png;base64,"));
    let (status, _, err) = run(gridproof().arg("sheet").arg(&square).arg("--out").arg(&png));
    assert_eq!(status, 0, "{err}");
    let size = |file: &Path| {
        let bytes = fs::read(file).unwrap();
        // PNG: width and height stand at bytes 16 to 24.
        [16, 20].map(|at| u32::from_be_bytes(bytes[at..at + 4].try_into().unwrap()))
    };
    assert_eq!(size(&png), [2048, 2048]);
    let picture = |more: &[&str]| run(gridproof().arg("picture").arg(&square).arg("--out").arg(&stage).args(more));
    let (status, _, err) = picture(&["--size", "96x64", "--lens", "stretch"]);
    assert_eq!(status, 0, "{err}");
    assert_eq!(size(&stage), [96, 64]);
    let (status, _, err) = picture(&["--finding", "nothing-9"]);
    assert!(status == 2 && err.contains("nothing-9"), "{err}");
    let (status, _, err) = picture(&["--lens", "rainbow"]);
    assert!(status == 2 && err.contains("handedness"), "{err}");
    let (status, _, err) = run(gridproof().arg("sheet").arg(&square).args(["--out", "sheet.bmp"]));
    assert!(status == 2 && err.contains(".svg or .png"), "{err}");
    let (status, out, err) = run(gridproof().arg("check").arg(&square).arg("--html").arg(&page));
    assert!(status == 0 && out.contains("ready"), "{out}{err}");
    assert!(fs::read_to_string(&page).unwrap().contains("<h1>"));
    let (status, _, err) = run(gridproof().arg("check").args([&square, &square]).arg("--html").arg(&page));
    assert!(status == 2 && err.contains("one FILE"), "{err}");
}
