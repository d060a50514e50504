//! Checks files and prints their reports, for people or as JSON lines.
//!
//! Files are streamed one after the other; one that cannot be read is told about, and the next one is taken. In JSON mode
//! every file gives exactly one line on standard output, also one that could not be read.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use gridproof::brief::Brief;
use gridproof::findings::{Report, SCHEMA, Verdict, text};
use gridproof::obj::{Diagnostic, FailureCode};
use gridproof::{CheckError, Examined};
use serde::Serialize;

use super::progress::ProgressLine;
use super::trouble::Trouble;
use super::{STATUS_FINE, STATUS_NOT_READY, STATUS_TROUBLE, paint};

/// How reports are printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// For people.
    Text,
    /// One JSON object a line.
    JsonLines,
}

/// What stands on a JSON line instead of a report when a file could not be read.
#[derive(Serialize)]
struct FailureLine<'a> {
    schema: &'static str,
    file: NameOnly<'a>,
    error: &'a Unreadable,
}

/// Why a file gave no report: it could not be opened, or not be understood.
#[derive(Debug, Serialize)]
struct Unreadable {
    /// For programs.
    code: Code,
    /// From 1; 0 where it is about the whole file.
    line: u32,
    /// For people.
    message: String,
    /// What was found on the way, where reading went that far.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    warnings: Vec<Diagnostic>,
}

/// Stable codes: the reader's, and those of opening a file.
#[derive(Debug, Serialize)]
#[serde(untagged)]
enum Code {
    Reader(FailureCode),
    Opening(&'static str),
}

impl Unreadable {
    fn new(code: &'static str, message: impl Into<String>) -> Self {
        Self { code: Code::Opening(code), line: 0, message: message.into(), warnings: Vec::new() }
    }

    /// As standard error says it.
    fn told(&self, name: &str) -> Trouble {
        let place = if self.line == 0 { String::new() } else { format!(", line {}", self.line) };
        Trouble::new(format!("cannot read {name}{place}")).because(&self.message)
    }
}

impl From<CheckError> for Unreadable {
    fn from(error: CheckError) -> Self {
        match error {
            CheckError::Io(error) => error.into(),
            CheckError::Unreadable(failure) => Self {
                code: Code::Reader(failure.code),
                line: failure.line,
                message: failure.message,
                warnings: failure.diagnostics.kept,
            },
        }
    }
}

impl From<io::Error> for Unreadable {
    fn from(error: io::Error) -> Self {
        match error.kind() {
            io::ErrorKind::NotFound => Self::new("not-found", "there is no such file"),
            io::ErrorKind::PermissionDenied => Self::new("no-permission", "you may not read it"),
            _ => Self::new("io", error.to_string()),
        }
    }
}

/// A file's bytes and, where that is known beforehand, their number.
struct Source {
    reader: Box<dyn Read>,
    total_bytes: Option<u64>,
}

#[derive(Serialize)]
struct NameOnly<'a> {
    name: &'a str,
}

/// How the files came out, by number.
#[derive(Default)]
struct Tally {
    ready: usize,
    look: usize,
    not_ready: usize,
    unreadable: usize,
}

/// Checks `files` in their order and gives the exit status. `Err` only where the output cannot be written.
pub fn run(files: &[PathBuf], form: Form) -> Result<u8, Trouble> {
    let colours = paint::wanted(&io::stdout());
    let mut out = io::BufWriter::new(io::stdout().lock());
    let mut tally = Tally::default();
    for (index, file) in files.iter().enumerate() {
        let name = file.to_string_lossy();
        let outcome = check(file, &name);
        if let Err(unreadable) = &outcome {
            unreadable.told(spoken(&name)).tell();
        }
        tally.add(&outcome);
        let written = match form {
            Form::JsonLines => write_json(&mut out, &name, &outcome),
            Form::Text => write_text(&mut out, &outcome, index > 0, colours),
        };
        // Flushed after each file: whoever reads along should not wait for the last one.
        written.and_then(|()| out.flush()).map_err(|error| Trouble::output(&error))?;
    }
    if form == Form::Text && files.len() > 1 {
        writeln!(out, "\n{}", tally.sentence()).and_then(|()| out.flush()).map_err(|error| Trouble::output(&error))?;
    }
    Ok(tally.status())
}

fn check(file: &Path, name: &str) -> Result<Report, Unreadable> {
    Ok(examine(file, name, &Brief::default())?.report)
}

fn examine(file: &Path, name: &str, brief: &Brief) -> Result<Examined, Unreadable> {
    let Source { mut reader, total_bytes } = open(file)?;
    let mut line = ProgressLine::new(spoken(name), total_bytes);
    let mut show = |progress| line.show(progress);
    Ok(gridproof::examine(&mut *reader, name, total_bytes, brief, &mut show)?)
}

/// Reads and measures one file for whoever draws it.
pub(super) fn examined(file: &Path, brief: &Brief) -> Result<Examined, Trouble> {
    let name = file.to_string_lossy();
    examine(file, &name, brief).map_err(|unreadable| unreadable.told(spoken(&name)))
}

/// Prints one report and gives the exit status.
pub(super) fn tell(report: Report, form: Form) -> Result<u8, Trouble> {
    let mut out = io::stdout().lock();
    let colours = paint::wanted(&out);
    let name = report.file.name.clone();
    let outcome = Ok(report);
    let mut tally = Tally::default();
    tally.add(&outcome);
    match form {
        Form::JsonLines => write_json(&mut out, &name, &outcome),
        Form::Text => write_text(&mut out, &outcome, false, colours),
    }
    .and_then(|()| out.flush())
    .map_err(|error| Trouble::output(&error))?;
    Ok(tally.status())
}

/// What a file is called to a person.
fn spoken(name: &str) -> &str {
    if name == "-" { "standard input" } else { name }
}

/// Opens a file, or standard input for `-`.
fn open(file: &Path) -> Result<Source, Unreadable> {
    if file == Path::new("-") {
        return Ok(Source { reader: Box::new(io::stdin().lock()), total_bytes: None });
    }
    let opened = File::open(file)?;
    let metadata = opened.metadata()?;
    if metadata.is_dir() {
        return Err(Unreadable::new("folder", "it is a folder; name the OBJ files in it"));
    }
    let total_bytes = metadata.is_file().then_some(metadata.len());
    Ok(Source { reader: Box::new(opened), total_bytes })
}

fn write_json(out: &mut dyn Write, name: &str, outcome: &Result<Report, Unreadable>) -> io::Result<()> {
    match outcome {
        Ok(report) => serde_json::to_writer(&mut *out, report)?,
        Err(error) => {
            let line = FailureLine { schema: SCHEMA, file: NameOnly { name }, error };
            serde_json::to_writer(&mut *out, &line)?;
        }
    }
    out.write_all(b"\n")
}

fn write_text(
    out: &mut dyn Write,
    outcome: &Result<Report, Unreadable>,
    follows: bool,
    colours: bool,
) -> io::Result<()> {
    let Ok(report) = outcome else { return Ok(()) };
    if follows {
        writeln!(out)?;
    }
    let plain = text(report);
    out.write_all(if colours { paint::report(&plain) } else { plain }.as_bytes())
}

impl Tally {
    fn add(&mut self, outcome: &Result<Report, Unreadable>) {
        *match outcome.as_ref().map(|report| report.verdict) {
            Ok(Verdict::Ready) => &mut self.ready,
            Ok(Verdict::Look) => &mut self.look,
            Ok(Verdict::NotReady) => &mut self.not_ready,
            Err(_) => &mut self.unreadable,
        } += 1;
    }

    fn status(&self) -> u8 {
        if self.unreadable > 0 {
            STATUS_TROUBLE
        } else if self.look + self.not_ready > 0 {
            STATUS_NOT_READY
        } else {
            STATUS_FINE
        }
    }

    fn sentence(&self) -> String {
        let all = self.ready + self.look + self.not_ready + self.unreadable;
        let parts = [
            (self.ready, "ready"),
            (self.look, "to look at"),
            (self.not_ready, "not ready"),
            (self.unreadable, "could not be read"),
        ];
        let parts: Vec<_> = parts.iter().filter(|(n, _)| *n > 0).map(|(n, how)| format!("{n} {how}")).collect();
        format!("{all} files: {}", parts.join(", "))
    }
}
