//! The shaders, one program per way of drawing, so that none carries another's branches.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;
use std::fmt::Write as _;

use web_sys::WebGl2RenderingContext as Gl;

use super::gl::{GlError, Program};
use super::upload::{TRIANGLES_WIDTH, TRIANGLES_WIDTH_LOG2};
use crate::grid;
use crate::lens::{self, Lens, flag, state};

/// Where something is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// In space.
    Stage,
    /// Laid out.
    Sheet,
}

/// Which lines are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Lines {
    /// All of them.
    All,
    /// Those of chosen shells and their partners.
    Chosen,
    /// Those of the shell under the pointer, over the finished picture.
    Hovered,
}

/// What a surface is drawn with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct SurfaceStyle {
    /// Where.
    pub place: Place,
    /// Through which lens.
    pub lens: Lens,
    /// Whether there is triangle data; without it, only the grid can be drawn.
    pub measured: bool,
    /// Whether Grid wears its flags.
    pub flagged: bool,
    /// Whether some surfaces are faded.
    pub fading: bool,
}

impl SurfaceStyle {
    /// Whether colours come from the lens's scale; else from the grid.
    pub fn scaled(&self) -> bool {
        self.measured && self.lens.range().is_some()
    }

    /// Whether surfaces fall into classes with a contour between them.
    pub fn contoured(&self) -> bool {
        self.measured && (self.flagged || self.lens != Lens::Grid)
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
        define(self.measured && self.flagged && self.lens == Lens::Grid, "FLAGS");
        define(self.scaled(), "LIMITS");
        define(self.scaled(), "SCALE");
        define(!self.scaled(), "GRID");
        let lens = match self.lens {
            Lens::Grid => None,
            Lens::Stretch => Some("LENS_STRETCH"),
            Lens::Size => Some("LENS_SIZE"),
            Lens::Handedness => Some("LENS_HANDEDNESS"),
            Lens::Sharing => Some("LENS_SHARING"),
        };
        define(self.measured && lens.is_some(), lens.unwrap_or_default());
        text
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Key {
    Surface(SurfaceStyle),
    Lines(Place, Lines),
    Paper,
    Compose { contour: bool },
    Marker,
}

/// Programs, made when first asked for.
pub struct Programs {
    gl: Gl,
    made: BTreeMap<Key, Program>,
    constants: String,
}

impl Programs {
    /// None yet.
    pub fn new(gl: &Gl) -> Self {
        Self { gl: gl.clone(), made: BTreeMap::new(), constants: constants() }
    }

    /// For a mesh.
    pub fn surface(&mut self, style: SurfaceStyle) -> Result<&Program, GlError> {
        let (tint, strength) = if style.lens == Lens::Grid { (0.30, 0.62) } else { (0.36, 0.80) };
        let mut vertex = String::new();
        let mut fragment = format!("#define TINT {tint:?}\n#define STRENGTH {strength:?}\n");
        if style.measured {
            vertex.push_str(include_str!("shaders/kinds.glsl"));
            fragment.push_str(include_str!("shaders/kinds.glsl"));
            fragment.push_str(include_str!("shaders/patterns.glsl"));
        }
        vertex.push_str(include_str!("shaders/surface.vert"));
        fragment.push_str(include_str!("shaders/surface.frag"));
        self.get(Key::Surface(style), &style.defines(), &vertex, &fragment)
    }

    /// For outlines.
    pub fn lines(&mut self, place: Place, lines: Lines) -> Result<&Program, GlError> {
        let mut defines = String::new();
        if place == Place::Stage {
            defines.push_str("#define STAGE\n");
        }
        match lines {
            Lines::All => {}
            Lines::Chosen => defines.push_str("#define CHOSEN\n"),
            Lines::Hovered if place == Place::Stage => defines.push_str("#define HOVERED\n#define OCCLUDED\n"),
            Lines::Hovered => defines.push_str("#define HOVERED\n"),
        }
        let (vertex, fragment) = (include_str!("shaders/line.vert"), include_str!("shaders/line.frag"));
        self.get(Key::Lines(place, lines), &defines, vertex, fragment)
    }

    /// For the sheet below the shells.
    pub fn paper(&mut self) -> Result<&Program, GlError> {
        self.get(Key::Paper, "", include_str!("shaders/screen.vert"), include_str!("shaders/paper.frag"))
    }

    /// For putting a picture on the canvas.
    pub fn compose(&mut self, contour: bool) -> Result<&Program, GlError> {
        let defines = if contour { "#define CONTOUR\n" } else { "" };
        let (vertex, fragment) = (include_str!("shaders/screen.vert"), include_str!("shaders/compose.frag"));
        self.get(Key::Compose { contour }, defines, vertex, fragment)
    }

    /// For the ring at the pointer's place.
    pub fn marker(&mut self) -> Result<&Program, GlError> {
        self.get(Key::Marker, "", include_str!("shaders/marker.vert"), include_str!("shaders/marker.frag"))
    }

    fn get(&mut self, key: Key, defines: &str, vertex: &str, fragment: &str) -> Result<&Program, GlError> {
        match self.made.entry(key) {
            Entry::Occupied(made) => Ok(made.into_mut()),
            Entry::Vacant(place) => {
                let defines = format!("{}{defines}", self.constants);
                Ok(place.insert(Program::new(&self.gl, &format!("{key:?}"), &defines, vertex, fragment)?))
            }
        }
    }
}

/// Stretch below which no direction is drawn: the eye sees none, and in a nearly conformal map it is noise. Own choice.
const STROKES_FROM: f32 = 1.06;
/// How much of the grid's ink shows on the sheet where no shell lies.
const QUIET: f32 = 0.45;

/// What Rust knows and the shaders need, from one source.
fn constants() -> String {
    let mut text = String::new();
    let mut line = |name: &str, value: &dyn std::fmt::Display| {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "#define {name} {value}");
    };
    line("TRIANGLES_WIDTH", &TRIANGLES_WIDTH);
    line("TRIANGLES_WIDTH_LOG2", &TRIANGLES_WIDTH_LOG2);
    for (name, bit) in [
        ("MAPPED", flag::MAPPED),
        ("TURNED_OVER", flag::TURNED_OVER),
        ("FOLDED", flag::FOLDED),
        ("STRETCHED", flag::STRETCHED),
        ("MIRRORED", flag::MIRRORED),
        ("STACKED", flag::STACKED),
        ("CROSSING", flag::CROSSING),
    ] {
        line(name, &format!("{bit}u"));
    }
    line("COLLAPSED", &format!("{}u", state::COLLAPSED));
    line("MEASURED_BIT", &format!("{}u", state::MEASURED));
    line("STRETCH_SCALE", &format!("{:?}", 1.0 / lens::ANISOTROPY_AT_END.log2()));
    line("SIZE_SCALE", &format!("{:?}", 0.5 / lens::OCTAVES_AT_END));
    line("STROKES_FROM", &format!("{STROKES_FROM:?}"));
    line("QUIET", &format!("{QUIET:?}"));
    for (name, colour) in [
        ("PAPER", lens::PAPER),
        ("INK", grid::INK),
        ("STRETCHED", lens::STRETCHED),
        ("TURNED_OVER", lens::TURNED_OVER),
        ("FOLDED", lens::FOLDED),
        ("MIRRORED", lens::MIRRORED),
        ("STACKED", lens::STACKED),
        ("CROSSING", lens::CROSSING),
    ] {
        let [r, g, b] = colour.map(|channel| f32::from(channel) / 255.0);
        line(&format!("{name}_COLOUR"), &format!("vec3({r:?}, {g:?}, {b:?})"));
    }
    text
}
