//! Serves a folder over HTTP to browsers on this computer: files only, read only, and with the headers that the page's
//! safety rests on.
//!
//! A request names a file below the folder or gets 404; what a name means is settled in [`file_of`] before the file
//! system is asked, and the answer of the file system (links followed) must still lie below the folder.

use std::fs::File;
use std::io::{self, Cursor};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread;

use tiny_http::{Header, Method, Request, Response, Server, StatusCode};

use super::trouble::Trouble;

/// Requests answered at the same time. A page asks for about six things at once.
const WORKERS: usize = 6;

/// What the page may load and run; the same words stand in index.html for hosts that send no such header.
pub const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; \
     img-src 'self' blob: data:; font-src 'self'; connect-src 'self' blob:; worker-src 'self'; manifest-src 'self'; \
     base-uri 'none'; form-action 'none'";

/// Answers requests on `listener` with the files below `folder`, until the process is ended.
pub fn serve(folder: &Path, listener: TcpListener) -> Result<(), Trouble> {
    let folder = folder.canonicalize().map_err(|error| Trouble::file("cannot open", folder, &error))?;
    let server = Server::from_listener(listener, None)
        .map_err(|error| Trouble::new("the server could not be started").because(error))?;
    let (server, folder) = (Arc::new(server), Arc::new(folder));
    let workers: Vec<_> = (0..WORKERS)
        .map(|_| {
            let (server, folder) = (Arc::clone(&server), Arc::clone(&folder));
            thread::spawn(move || {
                while let Ok(request) = server.recv() {
                    // A browser that went away before its answer came is no trouble of ours.
                    let _ = answer(request, &folder);
                }
            })
        })
        .collect();
    for worker in workers {
        if worker.join().is_err() {
            return Err(Trouble::new("a server thread ended unexpectedly").way_out("Start it again, and report this."));
        }
    }
    Err(Trouble::new("the server stopped listening").way_out("Start it again."))
}

fn answer(request: Request, folder: &Path) -> io::Result<()> {
    if !matches!(request.method(), Method::Get | Method::Head) {
        let text = "Only GET and HEAD are answered here: this server reads files and takes none.\n";
        return request.respond(sentence(405, text).with_header(header("Allow", "GET, HEAD")));
    }
    let Some(path) = file_of(request.url()) else {
        return request.respond(sentence(404, "This address names no file of the site. The page itself is at /.\n"));
    };
    match open(folder, &path) {
        Ok((file, length)) => {
            let headers = common_headers(media_type(&path));
            request.respond(
                Response::new(StatusCode(200), headers, file, Some(length), None).with_chunked_threshold(usize::MAX),
            )
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => {
            request.respond(sentence(404, &format!("There is no {} here. The page itself is at /.\n", path.display())))
        }
        Err(error) => request.respond(sentence(500, &format!("{} could not be read: {error}.\n", path.display()))),
    }
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
fn open(folder: &Path, path: &Path) -> io::Result<(File, usize)> {
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
    let length = usize::try_from(file.metadata()?.len()).map_err(io::Error::other)?;
    Ok((file, length))
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

/// An answer that is one sentence.
fn sentence(status: u16, text: &str) -> Response<Cursor<Vec<u8>>> {
    let bytes = text.as_bytes().to_vec();
    let length = bytes.len();
    Response::new(
        StatusCode(status),
        common_headers("text/plain; charset=utf-8"),
        Cursor::new(bytes),
        Some(length),
        None,
    )
}

fn common_headers(media_type: &str) -> Vec<Header> {
    vec![
        header("Content-Type", media_type),
        header("Cache-Control", "no-cache"),
        header("Content-Security-Policy", CONTENT_SECURITY_POLICY),
        header("X-Content-Type-Options", "nosniff"),
        header("Referrer-Policy", "no-referrer"),
    ]
}

fn header(name: &str, value: &str) -> Header {
    // Both are constants of this file in printable ASCII, which is all that makes a header.
    Header::from_bytes(name, value).expect("a header of printable ASCII")
}
