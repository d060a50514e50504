//! A progress line on standard error, on a terminal only.

use std::io::{self, IsTerminal, Write as _};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use gridproof::{Progress, printable};

/// Shorter work shows no progress: a line that flashes by explains nothing.
const PATIENCE: Duration = Duration::from_millis(300);
/// Least time between two redraws; faster than people read, slow enough to cost nothing.
const REDRAW: Duration = Duration::from_millis(100);

/// The line, shared by all threads; cleared when dropped.
pub struct ProgressLine {
    files: usize,
    state: Mutex<State>,
}

struct State {
    /// None where standard error is no terminal.
    next: Option<Instant>,
    shown: bool,
    done: usize,
}

impl ProgressLine {
    /// For work on so many files.
    pub fn new(files: usize) -> Self {
        let next = io::stderr().is_terminal().then(|| Instant::now() + PATIENCE);
        Self { files, state: Mutex::new(State { next, shown: false, done: 0 }) }
    }

    /// Shows how far `name`, whose size may be known, has come, if it is time to.
    pub fn show(&self, name: &str, total_bytes: Option<u64>, progress: Progress) {
        let mut state = self.lock();
        let now = Instant::now();
        if state.next.is_none_or(|next| now < next) {
            return;
        }
        state.next = Some(now + REDRAW);
        state.shown = true;
        let count = if self.files > 1 { format!("{} of {} files; ", state.done, self.files) } else { String::new() };
        let _ = write!(io::stderr().lock(), "\r\x1b[K{count}{}: {}", printable(name), sentence(progress, total_bytes));
    }

    /// Counts one more file and clears the line while `tell` writes something else.
    pub fn one_done<T>(&self, tell: impl FnOnce() -> T) -> T {
        let mut state = self.lock();
        state.done += 1;
        state.take_away();
        tell()
    }

    /// The state is whole at any moment: a poisoned lock is harmless.
    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn take_away(&mut self) {
        if std::mem::take(&mut self.shown) {
            let _ = write!(io::stderr().lock(), "\r\x1b[K");
        }
    }
}

impl Drop for ProgressLine {
    fn drop(&mut self) {
        self.lock().take_away();
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
    fn progress_is_in_percent_where_the_size_is_known() {
        let half = Progress::Read { bytes: 1_000_000 };
        assert_eq!(sentence(half, Some(2_000_000)), "Reading, 50 % of 2.0 MB");
        assert_eq!(sentence(half, Some(999_999)), "Reading, 100 % of 1.0 MB", "a file that grew meanwhile");
        assert_eq!(sentence(half, None), "Reading, 1.0 MB so far");
        assert_eq!(sentence(half, Some(0)), "Reading, 1.0 MB so far", "a file of no known size");
    }
}
