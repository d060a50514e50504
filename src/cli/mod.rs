//! The command line: its options, and how errors are reported.
//!
//! Each subcommand has its own file in `commands` or `serve`, and output formats are in `output`; this file holds the
//! words of `--help`, the exit status and the one place where a failure becomes text. Output goes to standard output,
//! everything about the work itself to standard error.

mod commands;
mod files;
#[cfg(test)]
mod known;
mod materials;
mod output;
mod pool;
mod review;
mod review_upgrade;
mod serve;
mod trouble;

use std::env::args_os;
use std::path::{Path, PathBuf};
use std::process::{ExitCode, exit};

use clap::{Parser, Subcommand};

use commands::check::Order;
use commands::{brief, check, compare, grid, link, picture, sheet};
use gridproof::brief::Brief;
use gridproof::draw::SheetOptions;
use gridproof::grid::{DEFAULT_CELL_PX, GridOptions, Words};
use gridproof::lens::Lens;
use gridproof::printable;
use serve::site;
use trouble::Trouble;

/// Everything was ready, or was written.
const STATUS_FINE: u8 = 0;
/// A model was read that needs a look, or that is not ready.
const STATUS_NOT_READY: u8 = 1;
/// Something could not be read, written or started; also the status of an invalid command line.
const STATUS_TROUBLE: u8 = 2;
/// The reader of our output closed the pipe; the number a shell reports for a program that the closed pipe ended (128 +
/// SIGPIPE, POSIX).
const STATUS_PIPE_CLOSED: u8 = 141;

/// Default port of `serve`. Not registered with IANA for anything (from memory, not checked against the source).
const DEFAULT_PORT: u16 = 8137;

/// Default side of the grid, px: the same as the brief's map.
const DEFAULT_SIDE_PX: u32 = 2048;

/// Default height of the words, px per em: one and a half of the default cells, to be readable from far away.
const DEFAULT_WORDS_PX: f32 = 96.0;

/// Proofs the UVs of a model: draws a calibrated grid through them and says, with numbers, what is stretched, flipped
/// or mirrored.
#[derive(Parser)]
#[command(name = "gridproof", version, about, long_about = None, after_help = "\
Examples:
  gridproof                         build the page and serve it on this computer
  gridproof check model.obj         say whether a model is ready for painting, and why not
  gridproof check uploads           the same for every .obj file in a folder
  gridproof check --json *.obj      the same for pipelines: one JSON object a line
  gridproof check a.obj --html a.html   the report as one page with pictures, to read, send or print
  gridproof compare old.obj new.obj   what was fixed, what is still there, what is new
  gridproof sheet model.obj --out sheet.svg   the template to paint over
  gridproof picture model.obj --out model.png   a picture of the model with the grid on it
  gridproof brief > class.toml      write a brief, to be changed and used with check --brief
  gridproof grid --out grid.png     write the calibrated grid as a picture
  gridproof site --out public       write the page to a folder for any static host

Without a command, gridproof does what `gridproof serve` does.")]
struct Arguments {
    #[command(subcommand)]
    command: Option<Command>,
}

#[derive(Subcommand)]
enum Command {
    /// Check models: are their UVs ready for painting, and if not, why
    #[command(after_help = "\
The report names what is stretched, flipped, folded, mirrored or overlapping, worst first, each with its number and
the limit it was checked against. Files are read as they stream in, several at once; nothing is written but the table asked for,
and nothing leaves this computer. In folders, names that begin with a dot are passed over, and links to folders.

Files are reported in the order in which they were named; one that cannot be read is a row with its reason, and the others go
on. Names are printed and written to tables without what would steer a terminal or begin a formula; JSON has them as they
are. A misspelt key in a brief is refused with its line and, where one is close, the key that was probably meant.

Exit status:
  0  every model is ready
  1  at least one needs a look or is not ready
  2  at least one could not be read, or the brief or the review could not be used

Examples:
  gridproof check lantern.obj
  gridproof check uploads --brief class.toml --csv class.csv
  gridproof check lantern.obj --review 'lantern review.json'
  gridproof check --json models/*.obj > reports.jsonl
  unzip -p upload.zip model.obj | gridproof check -")]
    Check {
        /// OBJ files, and folders with OBJ files at any depth; - reads standard input
        #[arg(required = true, value_name = "PATH")]
        paths: Vec<PathBuf>,
        /// Hold the models to this brief (TOML, or JSON in a .json file) instead of the default one
        #[arg(long, value_name = "FILE")]
        brief: Option<PathBuf>,
        /// Take over decisions and notes of a review that the page saved; they count for the file with its SHA-256, and its
        /// brief counts where --brief names none
        #[arg(long, value_name = "FILE")]
        review: Option<PathBuf>,
        /// Print one JSON object a line (schema gridproof-report/2), one for each file
        #[arg(long)]
        json: bool,
        /// Also write the report as an HTML page with pictures, to read, send or print; a folder where there are several
        #[arg(long, value_name = "OUT")]
        html: Option<PathBuf>,
        /// Write a table (CSV), a row for each file; - prints it instead of the text
        #[arg(long, value_name = "FILE")]
        csv: Option<PathBuf>,
    },
    /// Compare two versions of a model: what was fixed, what is still there, what is new
    #[command(after_help = "\
Findings are matched by kind, place and the names of their shells; where one version was exported in another unit, places
are taken relative to its box. Decisions of a review about either file count for findings that are still there.

Exit status, of the new version:
  0  it is ready
  1  it needs a look or is not ready
  2  a version could not be read, or the brief or the review could not be used

Examples:
  gridproof compare lantern-draft.obj lantern-revised.obj
  gridproof compare old.obj new.obj --review 'old review.json'
  gridproof compare --json old.obj new.obj > comparison.json")]
    Compare {
        /// The previous version, an OBJ file
        #[arg(value_name = "OLD")]
        old: PathBuf,
        /// The new version, an OBJ file
        #[arg(value_name = "NEW")]
        new: PathBuf,
        /// Hold both to this brief (TOML, or JSON in a .json file) instead of the default one
        #[arg(long, value_name = "FILE")]
        brief: Option<PathBuf>,
        /// Take over decisions of a review that the page saved of either version; its brief counts where --brief names none
        #[arg(long, value_name = "FILE")]
        review: Option<PathBuf>,
        /// Print one JSON object (schema gridproof-comparison/1)
        #[arg(long)]
        json: bool,
    },
    /// Write the sheet as a picture: the template to paint over
    #[command(after_help = "\
Outlines of all shells at the map's size, seams, and tile borders with their numbers; SVG or PNG by the name of the file.

Examples:
  gridproof sheet lantern.obj --out lantern.svg
  gridproof sheet lantern.obj --out lantern.png --ground grid
  gridproof sheet lantern.obj --out flagged.svg --ground paper --patterns --names")]
    Sheet {
        #[command(flatten)]
        drawing: Drawing,
        /// What lies below the shells
        #[arg(long, value_enum, default_value = "none")]
        ground: sheet::Below,
        /// Draw the edges of faces inside the shells
        #[arg(long)]
        inner_edges: bool,
        /// Mark what is flipped, folded, shared or stretched with its pattern
        #[arg(long)]
        patterns: bool,
        /// Write names on the shells (SVG only)
        #[arg(long)]
        names: bool,
        /// Draw one UDIM tile instead of all in use
        #[arg(long, value_name = "NUMBER")]
        tile: Option<u32>,
        /// Draw this sheet where materials are on several (their names stand in the report) [default: the first]
        #[arg(long, value_name = "NAME")]
        sheet: Option<String>,
    },
    /// Write a picture of the model with the grid or another lens on it
    #[command(after_help = "\
Examples:
  gridproof picture lantern.obj --out lantern.png
  gridproof picture lantern.obj --out drum.png --finding stretch-3 --size 1280x800
  gridproof picture lantern.obj --out densities.png --lens density")]
    Picture {
        #[command(flatten)]
        drawing: Drawing,
        /// Show the place of this finding (its id stands in the JSON report)
        #[arg(long, value_name = "ID")]
        finding: Option<String>,
        /// Size of the picture, px
        #[arg(long, value_name = "WxH", default_value = "640x400")]
        size: picture::Size,
        /// grid, stretch, density, flipped, overlaps, seams or text [default: the finding's own, or grid]
        #[arg(long, value_name = "LENS", value_parser = lens)]
        lens: Option<Lens>,
    },
    /// Print a link that carries the model: whoever opens it sees model and report, and no host ever sees either
    #[command(after_help = "\
The model stands behind the # of the address, which browsers keep to themselves. Its connectivity and names are exact, its
coordinates as fine as they must be for the same report: the link is measured before it is printed. How long it is, and for
whom too long, is told on standard error.

Examples:
  gridproof link lantern.obj --site https://example.org/gridproof/
  gridproof link lantern.obj --brief class.toml > link.txt")]
    Link {
        /// OBJ file; - reads standard input
        #[arg(value_name = "FILE")]
        file: PathBuf,
        /// Address of the page [default: the one that `gridproof serve` serves on this computer]
        #[arg(long, value_name = "URL")]
        site: Option<String>,
        /// The report that must stay the same is the one by this brief instead of the default one
        #[arg(long, value_name = "FILE")]
        brief: Option<PathBuf>,
    },
    /// Print a brief, every key explained, to be changed and used with check --brief
    #[command(after_help = "\
A brief says what a model is checked against. Every key may be left out and then takes its default.

Examples:
  gridproof brief > class.toml
  gridproof brief --preset hero-prop-4096 > hero.toml
  gridproof brief --from class.toml --json > class.json   for the page, which opens JSON")]
    Brief {
        /// Start from a ready-made brief instead of the default one
        #[arg(long, value_name = "NAME", value_parser = brief::preset_names())]
        preset: Option<String>,
        /// Start from this brief (TOML, or JSON where the name ends in .json)
        #[arg(long, value_name = "FILE", conflicts_with = "preset")]
        from: Option<PathBuf>,
        /// Print JSON, which the page opens too
        #[arg(long)]
        json: bool,
    },
    /// Write the calibrated grid as a PNG
    #[command(after_help = "\
Each cell holds a circle, which a stretched surface turns into an ellipse; a pennant that points up with its flag on the
right, which shows turned and mirrored cells; and its address, column and row from the bottom left.

Examples:
  gridproof grid --out grid.png
  gridproof grid --out wide.png --width 4096 --height 2048 --cell 128
  gridproof grid --out words.png --words 'HARBOUR MUSEUM'")]
    Grid {
        /// PNG to write; replaced if it exists
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        /// Side of a square map, px [default: 2048]
        #[arg(long, value_name = "PX", conflicts_with_all = ["width", "height"])]
        size: Option<u32>,
        /// Width of the map, px
        #[arg(long, value_name = "PX", requires = "height")]
        width: Option<u32>,
        /// Height of the map, px
        #[arg(long, value_name = "PX", requires = "width")]
        height: Option<u32>,
        /// Side of a cell, px
        #[arg(long, value_name = "PX", default_value_t = DEFAULT_CELL_PX)]
        cell: u32,
        /// Words to set across the sheet, to see how lettering comes out
        #[arg(long, value_name = "TEXT")]
        words: Option<String>,
        /// Height of the words, px
        #[arg(long, value_name = "PX", default_value_t = DEFAULT_WORDS_PX, requires = "words")]
        words_size: f32,
    },
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
in it is left alone. All addresses inside are relative, so it also works below a path, and after the first visit
without a connection.

Links open models of the same site (?src=models/lantern.obj). Those of other origins, and messages of pages that show the
site in a frame, are refused unless their origins are named here; the page's Content-Security-Policy says the same.

Examples:
  gridproof site --out public
  gridproof site --out public --allow-models-from https://models.example --allow-parent https://course.example")]
    Site {
        /// Folder to write to
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        #[command(flatten)]
        neighbours: site::Neighbours,
    },
}

/// Options of every picture of a model.
#[derive(clap::Args, Debug)]
struct Drawing {
    /// OBJ file; - reads standard input
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Picture to write; replaced if it exists
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Hold it to this brief (TOML, or JSON where the name ends in .json) instead of the default one
    #[arg(long, value_name = "FILE")]
    brief: Option<PathBuf>,
}

impl Drawing {
    fn draw(&self, draw: impl FnOnce(&Path, &Path, &Brief) -> Result<(), Trouble>) -> Result<u8, Trouble> {
        let brief = brief::read_or_default(self.brief.as_deref())?;
        draw(&self.file, &self.out, &brief).map(|()| STATUS_FINE)
    }
}

fn lens(name: &str) -> Result<Lens, String> {
    match Lens::named(name) {
        Some(Lens::Picture) => Err("a picture of one's own is shown by the page, not by the command".to_owned()),
        Some(lens) => Ok(lens),
        None => {
            let names = Lens::ALL.into_iter().filter(|&lens| lens != Lens::Picture).map(Lens::name);
            Err(format!("the lenses are {}", names.collect::<Vec<_>>().join(", ")))
        }
    }
}

/// Reports what is wrong with the command line, or prints the requested help, and exits. Arguments may be names of
/// files that a shell put there, so they are quoted as they are shown, not as they were given.
fn refuse(error: &clap::Error) -> ! {
    if error.use_stderr() {
        let shown = args_os().map(|argument| printable(&argument.to_string_lossy()).into_owned());
        match Arguments::try_parse_from(shown) {
            Err(error) => error.exit(),
            Ok(_) => Trouble::new("an argument has characters that nobody sees").tell(),
        }
        exit(STATUS_TROUBLE.into());
    }
    error.exit()
}

/// Runs the command line and gives the exit status.
pub fn main() -> ExitCode {
    let arguments = Arguments::try_parse().unwrap_or_else(|error| refuse(&error));
    let command = arguments.command.unwrap_or(Command::Serve { port: None, site: None });
    let outcome = match command {
        Command::Sheet { drawing, ground, inner_edges, patterns, names, tile, sheet } => {
            let options = SheetOptions { inner_edges, flags: patterns, tile, ..SheetOptions::default() };
            let drawn = sheet::Drawn { ground, options, names, sheet: sheet.as_deref() };
            drawing.draw(|file, out, brief| sheet::run(file, out, drawn, brief))
        }
        Command::Picture { drawing, finding, size, lens } => {
            let asked = picture::Asked { finding: finding.as_deref(), lens, size };
            drawing.draw(|file, out, brief| picture::run(file, out, asked, brief))
        }
        Command::Check { paths, brief, review, json, csv, html } => {
            check::run(&Order { paths, brief, review, json, csv, html })
        }
        Command::Compare { old, new, brief, review, json } => {
            compare::run(&compare::Order { old, new, brief, review, json })
        }
        Command::Brief { preset, from, json } => {
            brief::run(preset.as_deref(), from.as_deref(), json).map(|()| STATUS_FINE)
        }
        Command::Link { file, site, brief } => brief::read_or_default(brief.as_deref())
            .and_then(|brief| link::run(&file, site.as_deref(), &brief))
            .map(|()| STATUS_FINE),
        Command::Grid { out, size, width, height, cell, words, words_size } => {
            let side = size.unwrap_or(DEFAULT_SIDE_PX);
            let options = GridOptions {
                map_width_px: width.unwrap_or(side),
                map_height_px: height.unwrap_or(side),
                cell_px: cell,
                words: words.map(|text| Words { text, size_px: words_size }),
            };
            grid::run(&out, &options).map(|()| STATUS_FINE)
        }
        Command::Serve { port, site } => serve::run(port, site.as_deref()).map(|()| STATUS_FINE),
        Command::Site { out, neighbours } => site::run(&out, &neighbours).map(|()| STATUS_FINE),
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
