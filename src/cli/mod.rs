//! The command line: what a person or a pipeline may ask for, and how trouble is told.
//!
//! Each subcommand has its own file; this one holds the words of `--help`, the exit status and the one place where a
//! failure becomes text. Output goes to standard output, everything about the work itself to standard error.

mod build;
mod http;
mod project;
mod serve;
mod site;
mod trouble;

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Everything was ready, or was written.
const STATUS_FINE: u8 = 0;
/// Something could not be read, written or started; also the status of a command line nobody can understand.
const STATUS_TROUBLE: u8 = 2;
/// Whoever read our output went away; the number a shell reports for a program that the closed pipe ended
/// (128 + SIGPIPE, POSIX).
const STATUS_PIPE_CLOSED: u8 = 141;

/// Port of `serve` when none is asked for. Not registered with IANA for anything (looked at from memory).
const DEFAULT_PORT: u16 = 8137;

/// Proofs the UVs of a model: draws a calibrated grid through them and says, with numbers, what is stretched, flipped
/// or mirrored.
#[derive(Parser)]
#[command(name = "gridproof", version, about, long_about = None, after_help = "\
Examples:
  gridproof                         build the page and serve it on this computer
  gridproof site --out public       write the page to a folder for any static host

Without a command, gridproof does what `gridproof serve` does.")]
struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    /// Build the page and serve it on this computer, until stopped with Ctrl-C
    #[command(after_help = "\
Examples:
  gridproof serve
  gridproof serve --port 9000
  gridproof serve --site public      serve a folder that `gridproof site` wrote, without building")]
    Serve {
        /// Port to serve on; 0 takes any free one [default: 8137, or the next free one]
        #[arg(long)]
        port: Option<u16>,
        /// Serve this folder as it is instead of building
        #[arg(long, value_name = "DIR")]
        site: Option<PathBuf>,
    },
    /// Build the page and write it to a folder that any static host can serve
    #[command(after_help = "\
The folder must be new, empty, or one that this command wrote before; then its page is replaced and whatever else lies
in it is left alone. All addresses inside are relative, so it also works below a path.

Example:
  gridproof site --out public")]
    Site {
        /// Folder to write to
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
    },
}

/// Runs the command line and gives the exit status.
pub fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let command = arguments.command.unwrap_or(Command::Serve { port: None, site: None });
    let outcome = match command {
        Command::Serve { port, site } => serve::run(port, site.as_deref()).map(|()| STATUS_FINE),
        Command::Site { out } => site::run(&out).map(|()| STATUS_FINE),
    };
    match outcome {
        Ok(status) => ExitCode::from(status),
        Err(trouble) if trouble.is_closed_pipe() => ExitCode::from(STATUS_PIPE_CLOSED),
        Err(trouble) => {
            trouble.tell();
            ExitCode::from(STATUS_TROUBLE)
        }
    }
}
