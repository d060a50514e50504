//! Checks files and prints their reports: for people, as JSON lines, and as a table.
//!
//! Files are streamed, one on each core at a time, and reported in the order of the arguments. An unreadable file is
//! reported and the others go on; it has its own JSON line or row, with the reason.

use std::fs::File;
use std::io::{self, Read, Write};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use gridproof::brief::{Brief, SheetsAsked};
use gridproof::model::{Diagnostic, Document};
use gridproof::obj::FailureCode;
use gridproof::report::{Report, SCHEMA, Verdict, text};
use gridproof::{CheckError, Examined};
use serde::Serialize;

use super::brief;
use crate::cli::files::{self, Found};
use crate::cli::output::progress::ProgressLine;
use crate::cli::output::{csv, html, paint};
use crate::cli::trouble::Trouble;
use crate::cli::{STATUS_FINE, STATUS_NOT_READY, STATUS_TROUBLE, materials, pool};

/// What to check, and what to print.
pub struct Order {
    /// Files and folders; `-` is standard input.
    pub paths: Vec<PathBuf>,
    /// The brief to check against; the default one if `None`.
    pub brief: Option<PathBuf>,
    /// A review of one of them.
    pub review: Option<PathBuf>,
    /// One JSON object a line instead of text.
    pub json: bool,
    /// Where a table goes; `-` is standard output, instead of text.
    pub csv: Option<PathBuf>,
    /// Where pages with pictures go: a file for one model, a folder for several.
    pub html: Option<PathBuf>,
}

/// How reports are printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    /// For people.
    Text,
    /// One JSON object a line.
    JsonLines,
    /// Not at all: standard output has the table.
    Nothing,
}

/// A report as a JSON line: the file's path, and what the page has too.
#[derive(Serialize)]
struct ReportLine<'a> {
    path: &'a str,
    #[serde(flatten)]
    report: &'a Report,
}

/// The JSON line of a file that could not be read.
#[derive(Serialize)]
struct FailureLine<'a> {
    path: &'a str,
    schema: &'static str,
    file: NameOnly<'a>,
    error: &'a Unreadable,
}

/// Why a file gave no report: it could not be opened or parsed.
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

    /// As a cell of the table says it: the code first.
    fn cell(&self) -> String {
        // Both kinds of code are written as one word.
        let code = serde_json::to_value(&self.code).ok().and_then(|code| code.as_str().map(str::to_owned));
        let place = if self.line == 0 { String::new() } else { format!(" (line {})", self.line) };
        format!("{}: {}{place}", code.unwrap_or_default(), self.message)
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

/// One file, checked and formatted; the report and the model are dropped.
struct Told {
    verdict: Result<Verdict, Trouble>,
    /// For standard output.
    printed: Vec<u8>,
    /// For the table.
    row: String,
    /// Whether its page could be written, if requested.
    page: Result<(), Trouble>,
    /// What is missing beside it.
    missing: Option<Trouble>,
}

/// Checks everything in its order and gives the exit status. `Err` where the brief cannot be used or the output cannot be
/// written.
pub fn run(order: &Order) -> Result<u8, Trouble> {
    let (brief, review) = brief::with_review(order.brief.as_deref(), order.review.as_deref())?;
    let table_on_output = order.csv.as_deref() == Some(Path::new("-"));
    let form = match (order.json, table_on_output) {
        (true, true) => {
            return Err(Trouble::new("the table and the JSON lines cannot both go to standard output")
                .way_out("Name a file after --csv, or leave one of the two out."));
        }
        (true, false) => Form::JsonLines,
        (false, true) => Form::Nothing,
        (false, false) => Form::Text,
    };
    let mut table = order.csv.as_deref().map(Table::create).transpose()?;
    let colours = paint::wanted(&io::stdout());
    let mut out = io::BufWriter::new(io::stdout().lock());
    let found = files::find(&order.paths);
    let pages = order.html.as_deref().map(|out| html::Pages::new(out, found.len())).transpose()?;
    let line = ProgressLine::new(found.len());
    let mut tally = Tally::default();
    // A blank line between reports.
    let mut gap: &[u8] = b"";
    if let Some(table) = &mut table {
        table.write(&mut out, &csv::header())?;
    }
    let work = |index: usize| {
        let path = found[index].path().to_string_lossy();
        let (mut examined, missing) = check(&found[index], &path, &brief, &line);
        if let (Some(review), Ok(examined)) = (&review, &mut examined) {
            review.apply(&mut examined.report);
        }
        let page = match (&pages, &examined) {
            (Some(pages), Ok(examined)) => pages.write(&path, examined, &brief),
            _ => Ok(()),
        };
        Told { page, missing, ..tell(&path, &examined.map(|examined| examined.report), form, colours) }
    };
    let take = |told: Told| {
        line.one_done(|| {
            tally.add(&told.verdict);
            if let Err(trouble) = &told.verdict {
                trouble.tell();
            }
            if let Some(missing) = &told.missing {
                missing.tell();
            }
            if form == Form::Text && !told.printed.is_empty() {
                out.write_all(std::mem::replace(&mut gap, b"\n")).map_err(|error| Trouble::output(&error))?;
            }
            // Flushed after each file, so that a reader need not wait for the last one.
            out.write_all(&told.printed).and_then(|()| out.flush()).map_err(|error| Trouble::output(&error))?;
            table.as_mut().map_or(Ok(()), |table| table.write(&mut out, &told.row))?;
            told.page
        })
    };
    pool::in_order(found.len(), work, take)?;
    if form == Form::Text && found.len() > 1 {
        writeln!(out, "\n{}", tally.sentence()).and_then(|()| out.flush()).map_err(|error| Trouble::output(&error))?;
    }
    review.map_or(Ok(()), |review| review.met(&order.paths))?;
    Ok(tally.status())
}

/// Where the table goes; written row by row, so that finished rows are kept if the work is stopped.
enum Table {
    Output,
    File(File, PathBuf),
}

impl Table {
    fn create(path: &Path) -> Result<Self, Trouble> {
        if path == Path::new("-") {
            return Ok(Self::Output);
        }
        let file = File::create(path).map_err(|error| Trouble::file("cannot write the table", path, &error))?;
        Ok(Self::File(file, path.to_path_buf()))
    }

    fn write(&mut self, out: &mut dyn Write, row: &str) -> Result<(), Trouble> {
        match self {
            Self::Output => {
                out.write_all(row.as_bytes()).and_then(|()| out.flush()).map_err(|error| Trouble::output(&error))
            }
            Self::File(file, path) => {
                file.write_all(row.as_bytes()).map_err(|error| Trouble::file("cannot write the table", path, &error))
            }
        }
    }
}

type Outcome = (Result<Examined, Unreadable>, Option<Trouble>);

fn check(found: &Found, path: &str, brief: &Brief, line: &ProgressLine) -> Outcome {
    let file = match found {
        Found::File(file) => file,
        Found::Closed(_, error) => return (Err(io::Error::from(error.kind()).into()), None),
        Found::Bare(_) => return (Err(Unreadable::new("no-obj", "there is no .obj file in this folder")), None),
    };
    let checked = catch_unwind(AssertUnwindSafe(|| examine(file, path, brief, line)));
    // A panic affects one file, not the others; its message is already on standard error.
    checked.unwrap_or_else(|_| {
        let message = "gridproof failed on this file. That is a fault of gridproof: please report it with the file.";
        (Err(Unreadable::new("fault", message)), None)
    })
}

fn examine(file: &Path, path: &str, brief: &Brief, line: &ProgressLine) -> Outcome {
    let Source { mut reader, total_bytes } = match open(file) {
        Ok(source) => source,
        Err(error) => return (Err(error), None),
    };
    let mut show = |progress| line.show(spoken(path), total_bytes, progress);
    let mut missing = Vec::new();
    let mut pictures = |document: &Document| {
        let found = materials::find(file, document);
        // Nothing depends on it.
        if brief.map.sheets == SheetsAsked::Auto && document.materials.len() > 1 {
            missing = found.missing;
        }
        found.pictures
    };
    let name = file_name(file);
    let examined = gridproof::examine_with(&mut *reader, &name, total_bytes, brief, &mut pictures, &mut show);
    let missing = (!missing.is_empty()).then(|| {
        Trouble::new(format!("{path} names {}, which cannot be read beside it", missing.join(", "))).way_out(
            "Which materials have a sheet in common is then judged by how they overlap; a brief can say it (map.sheets).",
        )
    });
    (examined.map_err(Unreadable::from), missing)
}

/// Reads and measures one file to draw it.
pub(super) fn examined(file: &Path, brief: &Brief) -> Result<Examined, Trouble> {
    let path = file.to_string_lossy();
    let line = ProgressLine::new(1);
    let (examined, missing) = examine(file, &path, brief, &line);
    line.one_done(|| {
        missing.iter().for_each(Trouble::tell);
        examined.map_err(|unreadable| unreadable.told(spoken(&path)))
    })
}

/// The name without its folder; standard input keeps its sign.
fn file_name(file: &Path) -> String {
    file.file_name().unwrap_or(file.as_os_str()).to_string_lossy().into_owned()
}

fn tell(path: &str, outcome: &Result<Report, Unreadable>, form: Form, colours: bool) -> Told {
    let mut printed = Vec::new();
    match (form, outcome) {
        (Form::Text, Ok(report)) => {
            let plain = text(path, report);
            printed.extend_from_slice(if colours { paint::report(&plain) } else { plain }.as_bytes());
        }
        (Form::JsonLines, _) => {
            // Plain data of finite depth with string keys always serialises to JSON.
            let _ = match outcome {
                Ok(report) => serde_json::to_writer(&mut printed, &ReportLine { path, report }),
                Err(error) => {
                    let name = file_name(Path::new(path));
                    let line = FailureLine { path, schema: SCHEMA, file: NameOnly { name: &name }, error };
                    serde_json::to_writer(&mut printed, &line)
                }
            };
            printed.push(b'\n');
        }
        (Form::Text, Err(_)) | (Form::Nothing, _) => {}
    }
    let row = match outcome {
        Ok(report) => csv::measured(path, report),
        Err(error) => csv::unreadable(path, &error.cell()),
    };
    let verdict = outcome.as_ref().map(|report| report.verdict).map_err(|error| error.told(spoken(path)));
    Told { verdict, printed, row, page: Ok(()), missing: None }
}

/// A file's name in messages.
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
    let total_bytes = metadata.is_file().then_some(metadata.len());
    Ok(Source { reader: Box::new(opened), total_bytes })
}

impl Tally {
    fn add(&mut self, verdict: &Result<Verdict, Trouble>) {
        *match verdict {
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
