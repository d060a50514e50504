//! One line on standard error that says how far long work has come, on a terminal only.

use std::io::{self, IsTerminal, Write as _};
use std::time::{Duration, Instant};

use gridproof::Progress;

/// Work shorter than this says nothing: a line that flashes by explains nothing.
const PATIENCE: Duration = Duration::from_millis(300);
/// Least time between two redraws; faster than people read, slow enough to cost nothing.
const REDRAW: Duration = Duration::from_millis(100);

/// The line; it takes itself away when dropped.
pub struct ProgressLine<'a> {
    name: &'a str,
    total_bytes: Option<u64>,
    /// None where standard error is no terminal.
    next: Option<Instant>,
    shown: bool,
}

impl<'a> ProgressLine<'a> {
    /// For work on `name`, whose size may be known.
    pub fn new(name: &'a str, total_bytes: Option<u64>) -> Self {
        let next = io::stderr().is_terminal().then(|| Instant::now() + PATIENCE);
        Self { name, total_bytes, next, shown: false }
    }

    /// Shows `progress` if it is time to.
    pub fn show(&mut self, progress: Progress) {
        let now = Instant::now();
        if self.next.is_none_or(|next| now < next) {
            return;
        }
        self.next = Some(now + REDRAW);
        self.shown = true;
        let _ = write!(io::stderr().lock(), "\r\x1b[K{}: {}", self.name, sentence(progress, self.total_bytes));
    }
}

impl Drop for ProgressLine<'_> {
    fn drop(&mut self) {
        if self.shown {
            let _ = write!(io::stderr().lock(), "\r\x1b[K");
        }
    }
}

/// The progress in words.
fn sentence(progress: Progress, total_bytes: Option<u64>) -> String {
    match progress {
        Progress::Read { bytes } => match total_bytes.filter(|&total| total > 0) {
            Some(total) => {
                let percent = (bytes.min(total) as f64 / total as f64 * 100.0).floor();
                format!("Reading, {percent:.0} % of {}", megabytes(total))
            }
            None => format!("Reading, {} so far", megabytes(bytes)),
        },
        Progress::Model => "Joining faces into shells and parts".to_owned(),
        Progress::Measure { stage } => stage.title().to_owned(),
    }
}

/// Decimal, as SI has it.
fn megabytes(bytes: u64) -> String {
    format!("{:.1} MB", bytes as f64 / 1e6)
}

#[cfg(test)]
mod tests {
    use super::{Progress, sentence};

    #[test]
    fn reading_is_told_in_percent_where_the_size_is_known() {
        let half = Progress::Read { bytes: 1_000_000 };
        assert_eq!(sentence(half, Some(2_000_000)), "Reading, 50 % of 2.0 MB");
        assert_eq!(sentence(half, Some(999_999)), "Reading, 100 % of 1.0 MB", "a file that grew meanwhile");
        assert_eq!(sentence(half, None), "Reading, 1.0 MB so far");
        assert_eq!(sentence(half, Some(0)), "Reading, 1.0 MB so far", "a file of no known size");
    }
}
