//! The shaders, one program per way of drawing, so that none has another's branches.

use std::fmt::Write as _;

use super::gl::{Context, GlError, Program};
use super::queue::Budget;
use super::shader_text::shader;
use super::upload::{TRIANGLES_WIDTH, TRIANGLES_WIDTH_LOG2};
use crate::lens::{Lens, Through, glsl};

/// Where something is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// In space.
    Stage,
    /// Laid out.
    Sheet,
}

/// Which lines are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lines {
    /// All of them.
    All,
    /// Those of chosen shells and their partners.
    Chosen,
    /// Those of the shell under the pointer, over the finished picture.
    Hovered,
    /// All of them, seams by visibility.
    Seams,
}

/// What a surface is drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SurfaceStyle {
    /// Where.
    pub place: Place,
    /// Through which lens.
    pub lens: Lens,
    /// Whether there is triangle data; without it, only the grid can be drawn.
    pub measured: bool,
    /// Whether Grid has its patterns.
    pub flagged: bool,
    /// Whether Grid shows what is not upright.
    pub leaning: bool,
    /// Whether some surfaces are faded.
    pub fading: bool,
}

impl SurfaceStyle {
    /// The grid on the stage and nothing else.
    const PLAIN: Self =
        Self { place: Place::Stage, lens: Lens::Grid, measured: false, flagged: false, leaning: false, fading: false };

    /// Whether colours come from the lens's scale; else from the grid.
    pub fn scaled(&self) -> bool {
        self.measured && self.lens.range().is_some()
    }

    /// Whether the grid is seen.
    pub fn gridded(&self) -> bool {
        self.lens.is_on_grid()
    }

    /// Whether pictures are seen.
    pub fn pictured(&self) -> bool {
        self.measured && self.lens == Lens::Picture
    }

    /// Whether surfaces fall into classes with a contour between them.
    pub fn contoured(&self) -> bool {
        self.measured && (self.flagged || !matches!(self.lens, Lens::Grid | Lens::Seams | Lens::Picture))
    }

    /// Whether layers on the sheet darken one another down to a grey; else the darkest of each colour channel counts, so
    /// that a colour of the scale stays itself.
    pub fn layered(&self) -> bool {
        matches!(self.lens, Lens::Grid | Lens::Seams)
    }

    fn defines(&self) -> String {
        let mut text = String::new();
        let mut define = |wanted: bool, name: &str| {
            if wanted {
                text.push_str("#define ");
                text.push_str(name);
                text.push('\n');
            }
        };
        define(self.place == Place::Stage, "STAGE");
        define(self.measured, "MEASURED");
        define(self.measured && self.fading, "FADING");
        define(self.scaled(), "SCALE");
        define(self.gridded(), "GRID");
        define(self.pictured(), "PICTURE");
        define(self.measured && self.lens == Lens::Stretch, "CIRCLES");
        define(self.place == Place::Sheet && self.layered(), "LAYERED");
        text.push_str(&glsl::rules(Through { lens: self.lens, flags: self.flagged, leaning: self.leaning }));
        text
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Key {
    Plain,
    Surface(SurfaceStyle),
    Lines(Place, Lines),
    /// Whether it is a picture.
    Paper(bool),
    Contour,
    Marker,
}

struct Source {
    defines: String,
    vertex: String,
    fragment: String,
}

impl Key {
    fn source(self) -> Source {
        let source = |defines: &str, vertex: &str, fragment: &str| Source {
            defines: defines.to_owned(),
            vertex: vertex.to_owned(),
            fragment: fragment.to_owned(),
        };
        let screen = shader!("screen.vert");
        let picture = shader!("picture.glsl");
        match self {
            Self::Plain | Self::Surface(_) => {
                let patterns = shader!("patterns.glsl");
                Source {
                    defines: match self {
                        Self::Surface(style) => style.defines(),
                        _ => SurfaceStyle::PLAIN.defines() + "#define FIRST\n",
                    },
                    vertex: shader!("surface.vert").to_owned(),
                    fragment: [patterns, picture, shader!("surface.frag")].concat(),
                }
            }
            Self::Lines(place, lines) => {
                let mut defines = String::new();
                if place == Place::Stage {
                    defines.push_str("#define STAGE\n");
                }
                match lines {
                    Lines::All => {}
                    Lines::Chosen => defines.push_str("#define CHOSEN\n"),
                    Lines::Hovered if place == Place::Stage => defines.push_str("#define HOVERED\n#define OCCLUDED\n"),
                    Lines::Hovered => defines.push_str("#define HOVERED\n"),
                    Lines::Seams if place == Place::Sheet => defines.push_str("#define SEAMS\n#define DARKEST\n"),
                    Lines::Seams => defines.push_str("#define SEAMS\n"),
                }
                source(&defines, shader!("line.vert"), shader!("line.frag"))
            }
            Self::Paper(pictured) => Source {
                defines: if pictured { "#define PICTURE\n" } else { "" }.to_owned(),
                vertex: screen.to_owned(),
                fragment: [picture, shader!("paper.frag")].concat(),
            },
            Self::Contour => source("", screen, shader!("contour.frag")),
            Self::Marker => source("", shader!("marker.vert"), shader!("marker.frag")),
        }
    }
}

/// What a frame is drawn with.
pub struct Needs {
    /// The styles of the model's surfaces, where there is a model.
    pub surfaces: Vec<SurfaceStyle>,
    /// Which lines are drawn.
    pub lines: &'static [Lines],
    /// Whether something lies under the pointer.
    pub hovered: bool,
}

impl Needs {
    fn keys(&self) -> Vec<Key> {
        let contour = self.surfaces.iter().any(SurfaceStyle::contoured);
        // The sheet's ruler is made of lines too.
        let pictured = self.surfaces.iter().any(SurfaceStyle::pictured);
        let mut keys = vec![Key::Paper(pictured), Key::Lines(Place::Sheet, Lines::All)];
        keys.extend(contour.then_some(Key::Contour));
        keys.extend(self.hovered.then_some(Key::Marker));
        for &style in &self.surfaces {
            keys.push(Key::Surface(style));
            keys.extend(self.lines.iter().map(|&lines| Key::Lines(style.place, lines)));
            keys.extend(self.hovered.then_some(Key::Lines(style.place, Lines::Hovered)));
        }
        keys
    }
}

/// Programs started at once: a few, so that their sources do not fill the way to the graphics system.
const STARTED_AT_ONCE: usize = 4;

/// Programs, made on first use.
pub struct Programs {
    gl: Context,
    /// Whether the compiler works in parallel, once queried.
    parallel: Option<bool>,
    /// Some dozens at most.
    made: Vec<(Key, Program)>,
    constants: String,
}

impl Programs {
    /// None but the one that shows a model at all, which is begun at once.
    pub fn new(gl: &Context) -> Result<Self, GlError> {
        let mut programs = Self { gl: gl.clone(), parallel: None, made: Vec::new(), constants: constants() };
        programs.begun(Key::Plain)?;
        Ok(programs)
    }

    /// For a mesh on the stage with its grid and nothing else, before any query of the compiler: it takes its values as
    /// constant attributes (see surface.vert), and the grid from texture unit 0.
    pub fn plain(&mut self) -> Result<&Program, GlError> {
        self.begun(Key::Plain).map(|program| &*program)
    }

    /// For a mesh.
    pub fn surface(&mut self, style: SurfaceStyle) -> Result<&Program, GlError> {
        self.get(Key::Surface(style))
    }

    /// For outlines.
    pub fn lines(&mut self, place: Place, lines: Lines) -> Result<&Program, GlError> {
        self.get(Key::Lines(place, lines))
    }

    /// For the sheet below the shells: with a picture, or the grid.
    pub fn paper(&mut self, pictured: bool) -> Result<&Program, GlError> {
        self.get(Key::Paper(pictured))
    }

    /// For putting a picture on the canvas with the line between its classes.
    pub fn contour(&mut self) -> Result<&Program, GlError> {
        self.get(Key::Contour)
    }

    /// For the ring at the pointer's place.
    pub fn marker(&mut self) -> Result<&Program, GlError> {
        self.get(Key::Marker)
    }

    /// Starts on what this frame needs, and then on what a next one will. Each query of the compiler is a round trip,
    /// so that there is none without a `budget`: while the graphics system is busy, it would block. Returns whether the
    /// frame can be drawn without waiting, and whether programs were started.
    pub fn prepare(&mut self, needs: &Needs, next: &Needs, budget: Option<&Budget>) -> Result<(bool, bool), GlError> {
        let mut started = 0;
        let ready = self.finish(&needs.keys(), &mut started, budget)?;
        if ready {
            self.finish(&next.keys(), &mut started, budget)?;
        }
        Ok((ready, started > 0))
    }

    /// Brings these as far as it can be done without waiting; whether all are finished.
    fn finish(&mut self, keys: &[Key], started: &mut usize, budget: Option<&Budget>) -> Result<bool, GlError> {
        let mut all = true;
        for &key in keys {
            let known = self.made.iter().any(|(made, _)| *made == key);
            if !known && *started == STARTED_AT_ONCE {
                return Ok(false);
            }
            *started += usize::from(!known);
            // What was just started is not queried yet: the query would wait for its compilation.
            let budget = budget.filter(|budget| known && budget.is_left());
            let parallel = match (self.parallel, budget) {
                (None, Some(_)) => {
                    let found = matches!(self.gl.get_extension("KHR_parallel_shader_compile"), Ok(Some(_)));
                    *self.parallel.insert(found)
                }
                (known, _) => known.unwrap_or(false),
            };
            let program = self.begun(key)?;
            if !program.is_finished() {
                if budget.is_some() && program.is_compiled(parallel) {
                    program.finish()?;
                } else {
                    all = false;
                }
            }
        }
        Ok(all)
    }

    fn get(&mut self, key: Key) -> Result<&Program, GlError> {
        let program = self.begun(key)?;
        program.finish()?;
        Ok(program)
    }

    fn begun(&mut self, key: Key) -> Result<&mut Program, GlError> {
        let place = match self.made.iter().position(|(made, _)| *made == key) {
            Some(place) => place,
            None => {
                let source = key.source();
                let defines = format!("{}{}", self.constants, source.defines);
                let name = format!("{key:?}");
                let program = Program::begin(&self.gl, &name, &defines, &source.vertex, &source.fragment)?;
                self.made.push((key, program));
                self.made.len() - 1
            }
        };
        Ok(&mut self.made[place].1)
    }
}

/// How much of the grid's ink shows on the sheet where no shell lies.
const QUIET: f32 = 0.45;
/// What layers on the sheet converge to. A layer takes what lies below, `d`, to `c (d + LAYER) / (1 + LAYER)`, where
/// `c` is how light it is alone on white: by that much one layer darkens, and ever more of them come to `c LAYER / (1 +
/// LAYER - c)`: for the grid's paper, 0.9 of white alone, 0.75; for the 0.6 of a pattern's ground over a grid too small
/// to read, 0.33. Computed, so that two layers still differ from one (0.84).
pub const LAYER: f32 = 0.5;

/// What Rust knows and the shaders need, from one source.
fn constants() -> String {
    let mut text = glsl::constants();
    // Writing to a String cannot fail.
    let _ = writeln!(text, "#define TRIANGLES_WIDTH {TRIANGLES_WIDTH}");
    let _ = writeln!(text, "#define TRIANGLES_WIDTH_LOG2 {TRIANGLES_WIDTH_LOG2}");
    let _ = writeln!(text, "#define QUIET {QUIET:?}");
    let _ = writeln!(text, "#define LAYER {LAYER:?}");
    text
}
