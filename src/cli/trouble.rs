//! Errors for people: one sentence, the cause, and advice.

use std::fmt;
use std::io::{self, Write as _};
use std::path::Path;

use gridproof::printable;

/// Writes one line about the work to standard error. Failures are ignored.
pub fn say(line: impl fmt::Display) {
    let _ = writeln!(io::stderr().lock(), "{}", printable(&line.to_string()));
}

/// A failure of the command, ready to print.
#[derive(Debug)]
pub struct Trouble {
    sentence: String,
    cause: Option<String>,
    way_out: Option<String>,
    closed_pipe: bool,
}

impl Trouble {
    /// What happened, as one sentence.
    pub fn new(sentence: impl Into<String>) -> Self {
        Self { sentence: sentence.into(), cause: None, way_out: None, closed_pipe: false }
    }

    /// Something that could not be done to a file or folder: `what` reads like "cannot write".
    pub fn file(what: &str, path: &Path, error: &io::Error) -> Self {
        Self::new(format!("{what} {}", path.display())).because(error)
    }

    /// Output that could not be written.
    pub fn output(error: &io::Error) -> Self {
        let closed_pipe = error.kind() == io::ErrorKind::BrokenPipe;
        Self { closed_pipe, ..Self::new("cannot write to standard output").because(error) }
    }

    /// Adds why.
    #[must_use]
    pub fn because(mut self, cause: impl fmt::Display) -> Self {
        self.cause = Some(cause.to_string());
        self
    }

    /// Adds advice.
    #[must_use]
    pub fn way_out(mut self, way_out: impl Into<String>) -> Self {
        self.way_out = Some(way_out.into());
        self
    }

    /// True if our output is closed, which is no error to report.
    pub fn is_closed_pipe(&self) -> bool {
        self.closed_pipe
    }

    /// Writes it to standard error. Failures are ignored: there is no other place to report them.
    pub fn tell(&self) {
        let _ = writeln!(io::stderr().lock(), "gridproof: {self}");
    }
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Paths, keys and what a parser quotes are untrusted text.
        f.write_str(&printable(&self.sentence))?;
        if let Some(cause) = &self.cause {
            write!(f, ": {}", printable(cause))?;
        }
        if let Some(way_out) = &self.way_out {
            write!(f, "\n  {}", printable(way_out))?;
        }
        Ok(())
    }
}
