//! `serve`: its headers, its limits, and many at once.

use super::*;
use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::process::{Child, Stdio};

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

    /// Sends a request as it is, so that no client normalises its path, and gives the whole answer.
    fn ask(&self, method: &str, path: &str) -> String {
        self.ask_with(method, path, &format!("Host: localhost:{}\r\n", self.port))
    }

    /// The same with these headers.
    fn ask_with(&self, method: &str, path: &str, headers: &str) -> String {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        write!(stream, "{method} {path} HTTP/1.1\r\n{headers}Connection: close\r\n\r\n").unwrap();
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
    folder.file("site/www/app/app.js", "export {};");
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
        ("/www/app/app.js?v=1", "text/javascript; charset=utf-8", "export {};"),
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
    let answer = server.ask("HEAD", "/www/app/app.js");
    assert!(answer.starts_with("HTTP/1.1 200 ") && answer.contains("\r\nContent-Length: 10\r\n"), "{answer}");
    assert!(answer.ends_with("\r\n\r\n"), "{answer}");
    for method in ["POST", "PUT", "DELETE", "OPTIONS"] {
        let answer = server.ask(method, "/");
        assert!(answer.starts_with("HTTP/1.1 405 ") && answer.contains("\r\nAllow: GET, HEAD\r\n"), "{answer}");
    }
}

#[test]
fn only_requests_for_localhost_are_answered() {
    let folder = site("serve-host");
    let server = Server::of(&folder);
    let port = server.port;
    for host in ["localhost", "LOCALHOST", "127.0.0.1", "[::1]"] {
        let answer = server.ask_with("GET", "/", &format!("host:{host}:{port}\r\n"));
        assert!(answer.starts_with("HTTP/1.1 200 "), "{host}: {answer}");
    }
    // Longer than what is read of headers, and no longer than what is read and thrown away behind them.
    let long = format!("X: {}\r\nHost: evil.example\r\n", "a".repeat(1 << 16));
    for headers in [
        format!("Host: evil.example:{port}\r\n"),
        "Host: evil.example\r\n".to_owned(),
        format!("Host: localhost.evil.example:{port}\r\n"),
        format!("Host: localhost:{}\r\n", port ^ 1),
        "Host: localhost\r\n".to_owned(),
        format!("Host: localhost:{port}\r\nHost: evil.example\r\n"),
        String::new(),
        "Host:\r\n".to_owned(),
        long,
    ] {
        let answer = server.ask_with("GET", "/", &headers);
        assert!(answer.starts_with("HTTP/1.1 421 ") && answer.contains("localhost:"), "{headers:.60}: {answer}");
        assert!(!answer.contains("<title>"), "{answer}");
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
    write!(slow, "GET /demo/big.obj HTTP/1.1\r\nHost: localhost:{}\r\n\r\n", server.port).unwrap();
    let mut first = [0; 12];
    slow.read_exact(&mut first).unwrap();
    assert_eq!(&first, b"HTTP/1.1 200");
    assert!(server.ask("GET", "/").starts_with("HTTP/1.1 200 "));
}

/// Checks that connections do not wait for one another's threads: one round in three hundred made a page hang.
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
                write!(stream, "GET /www/app/app.js HTTP/1.1\r\nHost: localhost:{}\r\n\r\n", server.port).unwrap();
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
fn invalid_requests_are_refused_and_endless_ones_cut_off() {
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
    assert_eq!(&first, b"HTTP/1.1 421", "its host is not known");
    assert!(server.ask("GET", "/").starts_with("HTTP/1.1 200 "), "and the next one is served");
}

#[test]
fn a_port_in_use_is_reported_with_advice() {
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
