//! Serves a folder over HTTP to browsers on this computer: files only, read only, and with the headers that the page's
//! security needs.
//!
//! A request names a file below the folder or gets 404; a name is resolved in [`file_of`] before the file system is
//! accessed, and the resulting path (links followed) must still be below the folder.
//!
//! HTTP/1.1 (RFC 9112) as far as GET and HEAD of files need it, one request a connection, one thread a connection: no
//! request can wait for another one's, which a pool of threads under kept-alive connections does not grant.

use std::fs::File;
use std::io::{self, BufRead as _, BufReader, Read as _, Seek as _, Write as _};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use gridproof::printable;

use crate::cli::trouble::Trouble;

/// How long a connection may stay silent. Browsers open connections ahead of use and may never use them.
const PATIENCE: Duration = Duration::from_secs(30);
/// Pause after a connection could not be accepted, so that a lasting cause (no file handles left) burns no processor.
const ACCEPT_PAUSE: Duration = Duration::from_millis(50);
/// Longest request line with its headers, bytes; browsers stay far below.
const HEAD_LIMIT: u64 = 64 * 1024;
/// How much of an unused request body is read before the connection is closed, bytes.
const BODY_DRAINED: u64 = 64 * 1024;

/// What files may load and run. A page says for itself what it may, for hosts that send no such header; then that is sent.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; \
     img-src 'self' blob: data:; font-src 'self'; connect-src 'self' blob:; worker-src 'self'; manifest-src 'self'; \
     base-uri 'none'; form-action 'none'; require-trusted-types-for 'script'; trusted-types gridproof";

/// Where a page says its policy, and how far from its beginning that is looked for, bytes.
const POLICY_TAG: &str = r#"<meta http-equiv="Content-Security-Policy" content=""#;
const POLICY_WITHIN: u64 = 4096;

/// Files that are still being built: requests for them wait.
pub struct Late {
    /// What their paths begin with.
    begin: &'static str,
    made: Mutex<bool>,
    changed: Condvar,
}

impl Late {
    pub fn new(begin: &'static str) -> Self {
        Self { begin, made: Mutex::new(false), changed: Condvar::new() }
    }

    /// They are there, or never will be.
    pub fn settle(&self) {
        *self.made.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.changed.notify_all();
    }

    fn wait_for(&self, path: &Path) {
        if path.to_str().is_some_and(|path| path.starts_with(self.begin)) {
            let made = self.made.lock().unwrap_or_else(PoisonError::into_inner);
            let _made = self.changed.wait_while(made, |made| !*made).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

/// Answers requests on `listener` with the files below `folder`, until the process is ended.
pub fn serve(folder: &Path, listener: TcpListener, late: Option<Arc<Late>>) -> Result<(), Trouble> {
    let folder = folder.canonicalize().map_err(|error| Trouble::file("cannot open", folder, &error))?;
    let folder: Arc<Path> = folder.into();
    let port =
        listener.local_addr().map_err(|error| Trouble::new("cannot learn our own address").because(error))?.port();
    for connection in listener.incoming() {
        let Ok(stream) = connection else {
            thread::sleep(ACCEPT_PAUSE);
            continue;
        };
        let (folder, late) = (Arc::clone(&folder), late.clone());
        // Where the system gives no thread, the connection is dropped, and the browser asks again. One that breaks off
        // before its answer came is not our error either.
        let _ = thread::Builder::new().spawn(move || converse(&stream, &folder, late.as_deref(), port));
    }
    Ok(())
}

/// Reads one request and answers it.
fn converse(stream: &TcpStream, folder: &Path, late: Option<&Late>, port: u16) -> io::Result<()> {
    stream.set_read_timeout(Some(PATIENCE))?;
    stream.set_write_timeout(Some(PATIENCE))?;
    let Some(request) = read_request(stream)? else { return Ok(()) };
    answer(&request, folder, late, port).send(stream, request.method == "HEAD")?;
    // Closed with bytes unread, a connection is reset, and the answer may be lost on its way (RFC 9112, 9.6).
    stream.shutdown(Shutdown::Write)?;
    io::copy(&mut stream.take(BODY_DRAINED), &mut io::sink()).map(drop)
}

/// The first line of a request and its host, as received; other headers are not needed.
struct Request {
    method: String,
    target: String,
    hosts: Vec<String>,
}

/// Reads a request's line and its headers. `None` where the other side closed without one.
fn read_request(stream: &TcpStream) -> io::Result<Option<Request>> {
    let mut head = BufReader::new(stream.take(HEAD_LIMIT));
    let mut line = Vec::new();
    if head.read_until(b'\n', &mut line)? == 0 {
        return Ok(None);
    }
    let (mut header, mut hosts) = (Vec::new(), Vec::new());
    while head.read_until(b'\n', &mut header)? > 2 {
        let text = String::from_utf8_lossy(&header);
        if let Some((_, host)) = text.split_once(':').filter(|(name, _)| name.eq_ignore_ascii_case("host")) {
            hosts.push(host.trim().to_ascii_lowercase());
        }
        header.clear();
    }
    let line = String::from_utf8_lossy(&line);
    let mut words = line.split_ascii_whitespace().map(str::to_owned);
    let (method, target) = (words.next().unwrap_or_default(), words.next().unwrap_or_default());
    Ok(Some(Request { method, target, hosts }))
}

/// Whether a request is for this server. A page of another name that its owner lets point to this computer would
/// otherwise be of one origin with the site and could read it; so could one whose header was cut off or is there twice.
fn is_for_us(hosts: &[String], port: u16) -> bool {
    let [host] = hosts else { return false };
    ["localhost", "127.0.0.1", "[::1]"].iter().any(|name| {
        host.strip_prefix(name).is_some_and(|rest| {
            rest.strip_prefix(':').map_or(rest.is_empty() && port == 80, |said| said == port.to_string())
        })
    })
}

/// What is sent back.
struct Answer {
    status: &'static str,
    media_type: &'static str,
    policy: Option<String>,
    body: Body,
}

enum Body {
    Sentence(String),
    File { file: File, bytes: u64 },
}

impl Answer {
    /// An answer that is one sentence.
    fn sentence(status: &'static str, text: impl Into<String>) -> Self {
        Self {
            status,
            media_type: "text/plain; charset=utf-8",
            policy: None,
            body: Body::Sentence(printable(&text.into()).into_owned() + "\n"),
        }
    }

    fn send(self, mut stream: &TcpStream, head_only: bool) -> io::Result<()> {
        let Self { status, media_type, policy, body } = self;
        let policy = policy.as_deref().unwrap_or(CONTENT_SECURITY_POLICY);
        let bytes = match &body {
            Body::Sentence(text) => text.len() as u64,
            Body::File { bytes, .. } => *bytes,
        };
        let head = format!(
            "HTTP/1.1 {status}\r\n\
             Content-Type: {media_type}\r\n\
             Content-Length: {bytes}\r\n\
             Cache-Control: no-cache\r\n\
             Content-Security-Policy: {policy}\r\n\
             X-Content-Type-Options: nosniff\r\n\
             Referrer-Policy: no-referrer\r\n\
             Allow: GET, HEAD\r\n\
             Connection: close\r\n\r\n"
        );
        stream.write_all(head.as_bytes())?;
        match body {
            _ if head_only => Ok(()),
            Body::Sentence(text) => stream.write_all(text.as_bytes()),
            // A file that grows meanwhile is sent up to the length that was announced.
            Body::File { file, bytes } => io::copy(&mut file.take(bytes), &mut stream).map(drop),
        }
    }
}

fn answer(request: &Request, folder: &Path, late: Option<&Late>, port: u16) -> Answer {
    if !matches!(request.method.as_str(), "GET" | "HEAD") {
        let text = "Only GET and HEAD are answered here: this server reads files and takes none.";
        return Answer::sentence("405 Method Not Allowed", text);
    }
    if !is_for_us(&request.hosts, port) {
        let text = format!("This server answers only as http://localhost:{port}/, to this computer.");
        return Answer::sentence("421 Misdirected Request", text);
    }
    let Some(path) = file_of(&request.target) else {
        let text = "This address names no file of the site. The page itself is at /.";
        return Answer::sentence("404 Not Found", text);
    };
    late.inspect(|late| late.wait_for(&path));
    match open(folder, &path) {
        Ok((mut file, bytes)) => {
            let media_type = media_type(&path);
            let policy = if media_type.starts_with("text/html") { policy_of(&mut file) } else { None };
            Answer { status: "200 OK", media_type, policy, body: Body::File { file, bytes } }
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            Answer::sentence("404 Not Found", format!("There is no {} here. The page itself is at /.", path.display()))
        }
        Err(error) => {
            Answer::sentence("500 Internal Server Error", format!("{} could not be read: {error}.", path.display()))
        }
    }
}

/// What a page says of itself, where that can be a header's value.
fn policy_of(file: &mut File) -> Option<String> {
    let mut head = Vec::new();
    let read = file.take(POLICY_WITHIN).read_to_end(&mut head);
    file.rewind().ok()?;
    read.ok()?;
    let head = String::from_utf8_lossy(&head);
    let (_, rest) = head.split_once(POLICY_TAG)?;
    let (policy, _) = rest.split_once('"')?;
    policy.bytes().all(|byte| byte == b' ' || byte.is_ascii_graphic()).then(|| policy.to_owned())
}

/// The file a request's address names, relative to the folder: percent-decoded, a folder standing for the index.html in
/// it. `None` where it is not UTF-8, leads outside, or names something hidden.
fn file_of(address: &str) -> Option<PathBuf> {
    let path = address.split(['?', '#']).next()?.strip_prefix('/')?;
    let decoded = percent_decoded(path)?;
    let mut file = PathBuf::new();
    for step in decoded.split('/') {
        let outside = step == ".." || step.contains(['\\', ':', '\0']);
        if outside || (step.starts_with('.') && step != ".") {
            return None;
        }
        if !step.is_empty() && step != "." {
            file.push(step);
        }
    }
    if decoded.is_empty() || decoded.ends_with('/') {
        file.push("index.html");
    }
    Some(file)
}

/// RFC 3986, section 2.1. `None` where a percent sign is not followed by two hexadecimal digits, or the result is not
/// UTF-8.
fn percent_decoded(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte == b'%' {
            let digits = [rest.next()?, rest.next()?];
            let value = |digit: u8| char::from(digit).to_digit(16);
            bytes.push((value(digits[0])? * 16 + value(digits[1])?) as u8);
        } else {
            bytes.push(byte);
        }
    }
    String::from_utf8(bytes).ok()
}

/// Opens `path` below `folder`, and nothing outside it, even through a link.
fn open(folder: &Path, path: &Path) -> io::Result<(File, u64)> {
    let not_found = || io::Error::from(io::ErrorKind::NotFound);
    let real = match folder.join(path).canonicalize() {
        Ok(real) => real,
        Err(error) if matches!(error.kind(), io::ErrorKind::NotADirectory | io::ErrorKind::InvalidFilename) => {
            return Err(not_found());
        }
        Err(error) => return Err(error),
    };
    if !real.starts_with(folder) || !real.is_file() {
        return Err(not_found());
    }
    let file = File::open(real)?;
    let bytes = file.metadata()?.len();
    Ok((file, bytes))
}

/// Media type by the file's ending, as IANA registers them; browsers compile a module while it arrives only when it is
/// sent as `application/wasm`.
fn media_type(path: &Path) -> &'static str {
    match path.extension().and_then(|ending| ending.to_str()).unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" | "mjs" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "wasm" => "application/wasm",
        "json" => "application/json",
        "webmanifest" => "application/manifest+json",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "webp" => "image/webp",
        "ico" => "image/vnd.microsoft.icon",
        "woff2" => "font/woff2",
        "woff" => "font/woff",
        "ttf" => "font/ttf",
        "obj" => "model/obj",
        "mtl" => "model/mtl",
        "txt" | "md" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use std::fs;
    use std::sync::mpsc::{TryRecvError, channel};

    fn status(path: &str, folder: &Path, late: Option<&Late>) -> &'static str {
        let request = Request { method: "GET".into(), target: path.into(), hosts: vec!["localhost:80".into()] };
        answer(&request, folder, late, 80).status
    }

    #[test]
    fn a_request_for_an_unfinished_file_waits_and_others_do_not() {
        let folder = std::env::temp_dir().join(format!("gridproof-late-{}", std::process::id()));
        fs::create_dir_all(folder.join("wasm")).unwrap();
        let folder = folder.canonicalize().unwrap();
        fs::write(folder.join("wasm/page.js"), "1").unwrap();
        let late = Late::new("wasm/report");
        thread::scope(|scope| {
            let (send, receive) = channel();
            for path in ["/wasm/report.js", "/wasm/%72eport_bg.wasm"] {
                let (send, folder, late) = (send.clone(), &folder, &late);
                scope.spawn(move || send.send(status(path, folder, Some(late))).unwrap());
            }
            assert_eq!(status("/wasm/page.js", &folder, Some(&late)), "200 OK");
            assert_eq!(status("/wasm/none.js", &folder, Some(&late)), "404 Not Found");
            assert_eq!(receive.try_recv(), Err(TryRecvError::Empty));
            fs::write(folder.join("wasm/report.js"), "2").unwrap();
            late.settle();
            // One was made; the other never will be.
            let mut answers = [receive.recv().unwrap(), receive.recv().unwrap()];
            answers.sort_unstable();
            assert_eq!(answers, ["200 OK", "404 Not Found"]);
        });
        assert_eq!(status("/wasm/report.js", &folder, Some(&late)), "200 OK");
        fs::remove_dir_all(&folder).unwrap();
    }
}
