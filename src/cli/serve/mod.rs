//! Builds the page and serves it on this computer, or writes it to a folder (`site`). What only saving and comparing
//! need is built while the page is already in use; an earlier save waits for it.

mod build;
mod http;
mod offline;
mod origin;
mod project;
pub mod site;

use std::io::{self, Write as _};
use std::net::{Ipv4Addr, TcpListener};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread;

use super::DEFAULT_PORT;
use super::trouble::{Trouble, say};

/// How many ports after the usual one are tried if no particular one was requested.
const PORTS_TRIED: u16 = 20;

/// Serves until the process is ended: `folder` as it is, or else the page built from the sources.
pub fn run(port: Option<u16>, folder: Option<&Path>) -> Result<(), Trouble> {
    let (listener, built);
    let mut root = None;
    let folder = match folder {
        Some(folder) => {
            if !folder.join("index.html").is_file() {
                return Err(Trouble::new(format!("{} holds no index.html", folder.display()))
                    .way_out("Write a site with `gridproof site --out DIR` and serve that folder."));
            }
            listener = listen(port)?;
            folder
        }
        None => {
            // The port first, so that no build is wasted if it is in use.
            listener = listen(port)?;
            let root = root.insert(project::root()?);
            built = project::built(root).join("site");
            site::write(root, &built, &site::Neighbours::default(), &[build::PAGE])?;
            &built
        }
    };
    let address = listener.local_addr().map_err(|error| Trouble::new("cannot learn our own address").because(error))?;
    // If our output is closed, the page is still served.
    let _ = announce(address.port());
    let late = root.map(|root| finish(root, folder.to_path_buf()));
    http::serve(folder, listener, late)
}

/// Begins to build what the page does not need at first, and gives what requests for it wait for.
fn finish(root: PathBuf, folder: PathBuf) -> Arc<http::Late> {
    let late = Arc::new(http::Late::new("wasm/gridproof_report"));
    let made = Arc::clone(&late);
    thread::spawn(move || {
        match site::add(&root, &folder, &build::REPORT) {
            Ok(()) => say("All of the page is built."),
            Err(trouble) => trouble.tell(),
        }
        made.settle();
    });
    late
}

/// A listener on this computer only, never on the network.
fn listen(port: Option<u16>) -> Result<TcpListener, Trouble> {
    let open = |port| TcpListener::bind((Ipv4Addr::LOCALHOST, port));
    if let Some(port) = port {
        return open(port).map_err(|error| {
            Trouble::new(format!("cannot serve on port {port}")).because(error).way_out(
                "Another program may have it. Choose another with `--port N`, or any free one with `--port 0`.",
            )
        });
    }
    let last = DEFAULT_PORT + PORTS_TRIED;
    let mut outcome = open(DEFAULT_PORT);
    for port in DEFAULT_PORT + 1..=last {
        if !matches!(&outcome, Err(error) if error.kind() == io::ErrorKind::AddrInUse) {
            break;
        }
        outcome = open(port);
    }
    outcome.map_err(|error| {
        Trouble::new(format!("cannot serve on any port from {DEFAULT_PORT} to {last}"))
            .because(error)
            .way_out("Choose another with `--port N`, or any free one with `--port 0`.")
    })
}

/// Prints where the page is.
fn announce(port: u16) -> io::Result<()> {
    let text = format!(
        "Gridproof  http://localhost:{port}/\n\
         The demo   http://localhost:{port}/?demo=draft\n\
         Ctrl-C stops it.\n"
    );
    let mut out = io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()
}
