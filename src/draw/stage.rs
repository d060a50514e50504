//! The model seen from a camera, drawn on the processor: what a report shows of a finding where no graphics system is.
//!
//! First the triangle of every sample is found (`raster`), several samples a pixel; then each pixel is coloured once
//! for every triangle it sees, in the middle of the samples that see it, by perspective-correct uv. Grid, lens colours,
//! patterns, light, contours and seams are those of the page's stage.
//!
//! Degenerate: a model without extent gives an empty picture; a triangle without area is not seen; a surface without
//! place on the sheet is plain grey with dots.
//! Cost: linear in triangles and in pixels; some 16 bytes a sample, 4 a pixel and 24 a position while it is drawn.
//!
//! On the processor, so that the command and the page's worker show the same view without WebGL.

use super::camera::{Camera, Up};
use super::clear::Clear;
use super::paper::Paper;
use super::raster::{Eye, Linear, NOTHING, Rays, Seen, edges};
use super::seams::{self, Sight};
use crate::brief::Brief;
use crate::grid::{DEFAULT_CELL_PX, INK, Picture};
use crate::lens::{self, Brush, Class, Lens, Look, Texels, Through, smoothstep};
use crate::measure::Measures;
use crate::model::CornerNormals;
use crate::model::Model;
use glam::{DVec2, DVec3, Vec3};
use serde::Serialize;
use std::fmt;

/// Most pixels of a picture: a screen of 3840 x 2160, some 270 MB while it is drawn.
pub const MOST_PX: u64 = 3840 * 2160;
/// Up to this many pixels a pixel has 3 x 3 samples, above 2 x 2.
const FINE_PX: u64 = 1 << 20;
/// Behind the model, sRGB: the page's stage by day.
pub const GROUND: [u8; 3] = [0xE9, 0xE5, 0xDA];
/// Points a model is fitted by, at most: a few thousand find its outline closely.
const FIT_POINTS: usize = 4096;
/// Nearest depth that is drawn, over the distance of the target.
const NEAR_SHARE: f64 = 1e-3;
/// What a surface that is not lit keeps of its colour.
const UNLIT: f32 = 0.42;
/// How dark a contour is over the grid, and over the other lenses.
const CONTOUR: (f32, f32) = (0.5, 1.0);
/// Two directions a section through space is drawn along, where there is no place on the sheet.
const SECTION: [DVec3; 2] = [DVec3::new(0.79, -0.21, 0.58), DVec3::new(0.25, 0.94, -0.22)];

/// A place to look from, in the model's coordinates.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
pub struct Viewpoint {
    /// Where the eye is.
    pub eye: [f64; 3],
    /// What it looks at.
    pub target: [f64; 3],
    /// Radius of the sphere around the target that should fit the picture.
    pub radius: f64,
}

/// What a picture shows.
#[derive(Clone, Copy, Debug)]
pub struct View<'a> {
    /// Where from; `None` shows the whole model from the front, a little right and above.
    pub camera: Option<Viewpoint>,
    /// Width, px, at least 1.
    pub width_px: u32,
    /// Height, px, at least 1.
    pub height_px: u32,
    /// The lens.
    pub lens: Lens,
    /// Whether the Grid lens has its patterns.
    pub flags: bool,
    /// Shells that keep their colour while all else fades, ascending; none: nothing fades.
    pub lit: &'a [u32],
}

/// More pixels than [`MOST_PX`], or none.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SizeError {
    /// Requested width, px.
    pub width_px: u32,
    /// Requested height, px.
    pub height_px: u32,
}

impl fmt::Display for SizeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "A picture of {} x {} px cannot be drawn. It can have from 1 x 1 to 3840 x 2160 px, or as many in another shape.",
            self.width_px, self.height_px
        )
    }
}

impl std::error::Error for SizeError {}

/// A model made ready for pictures from any side.
pub struct Stage<'a> {
    model: &'a Model,
    measures: &'a Measures,
    brief: &'a Brief,
    texels: Texels<'a>,
    normals: CornerNormals<'a>,
    paper: &'a Paper,
    centre: DVec3,
    radius: f64,
}

impl<'a> Stage<'a> {
    /// With the grid of the brief's map; makes normals where the file gives none.
    pub fn new(model: &'a Model, measures: &'a Measures, brief: &'a Brief, paper: &'a Paper) -> Self {
        let (low, high) = model.bounds().unwrap_or_default();
        Self {
            model,
            measures,
            brief,
            texels: Texels::new(model, measures, brief),
            normals: model.corner_normals(),
            paper,
            centre: (low + high) / 2.0,
            radius: (high - low).length() / 2.0,
        }
    }

    /// Draws one picture.
    ///
    /// # Errors
    /// A size of no or too many pixels.
    pub fn picture(&self, view: &View) -> Result<Picture, SizeError> {
        let pixels = u64::from(view.width_px) * u64::from(view.height_px);
        self.drawn(view, if pixels <= FINE_PX { 3 } else { 2 })
    }

    /// The whole model with the grid and its patterns, to be shown at half this size: 2 x 2 samples a pixel are enough
    /// then.
    ///
    /// # Errors
    /// A size of no or too many pixels.
    pub fn thumbnail(&self, width_px: u32, height_px: u32) -> Result<Picture, SizeError> {
        self.drawn(&View { camera: None, width_px, height_px, lens: Lens::Grid, flags: true, lit: &[] }, 2)
    }

    fn drawn(&self, view: &View, samples: usize) -> Result<Picture, SizeError> {
        let (width_px, height_px) = (view.width_px, view.height_px);
        let pixels = u64::from(width_px) * u64::from(height_px);
        if pixels == 0 || pixels > MOST_PX {
            return Err(SizeError { width_px, height_px });
        }
        let camera = self.camera(view);
        let eye = Eye {
            at: camera.eye() + self.centre,
            axes: camera.axes(),
            half: {
                let half = (camera.field_of_view / 2.0).tan();
                [half * f64::from(width_px) / f64::from(height_px), half]
            },
            near: camera.distance * NEAR_SHARE,
        };
        let (width, height) = (width_px as usize, height_px as usize);
        let seen = Seen::new(self.model, &eye, width * samples, height * samples);
        let mut shader = Shader::new(self, view, eye, camera.up.axis(), &seen, samples);
        let mut rgba = Vec::with_capacity(width * height * 4);
        let mut classes = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                let (colour, class) = shader.pixel(&seen, x, y);
                rgba.extend(colour.round().to_array().map(|code| code.clamp(0.0, 255.0) as u8));
                rgba.push(255);
                classes.push(class);
            }
        }
        let mut picture = Picture { width: width_px, height: height_px, rgba };
        if view.lens == Lens::Seams {
            let sight = Sight { seen: &seen, eye: &eye, samples };
            inked(&mut picture, &seams::ink(self.model, self.measures, &sight, view.lit));
        }
        let plain = view.lens == Lens::Grid && !view.flags;
        Ok(if plain { picture } else { contoured(picture, &classes, view.lens) })
    }

    /// The stage's camera for this view, relative to the model's centre, as in the page.
    fn camera(&self, view: &View) -> Camera {
        let size = DVec2::new(view.width_px.into(), view.height_px.into());
        let mut camera = Camera::new(Up::nearest(self.brief.tilt.up.direction()), self.radius);
        match view.camera {
            Some(from) => {
                camera.look(DVec3::from_array(from.eye) - self.centre, DVec3::from_array(from.target) - self.centre);
                camera.show_sphere(from.radius, size, Clear::whole(size));
            }
            None => {
                let corners = &self.model.document.corners;
                let positions = &self.model.document.positions;
                let step = (corners.len() / FIT_POINTS).max(1);
                let points: Vec<DVec3> = corners
                    .iter()
                    .step_by(step)
                    .map(|corner| DVec3::from_array(positions[corner.position.0 as usize]) - self.centre)
                    .collect();
                camera.fit(&points, size, &[Clear::whole(size)]);
            }
        }
        camera
    }
}

/// A triangle made ready to be coloured.
#[derive(Clone, Copy)]
struct Surface {
    triangle: u32,
    edges: [Linear; 3],
    at: [DVec2; 3],
    light: [f32; 3],
    look: Look,
    lit: bool,
}

/// Cached surfaces: neighbouring pixels see the same few.
const KEPT: usize = 256;
/// Samples of a pixel, at most.
const MOST_SAMPLES: usize = 9;

struct Shader<'a> {
    stage: &'a Stage<'a>,
    view: &'a View<'a>,
    through: Through,
    eye: Eye,
    up: DVec3,
    key: DVec3,
    rays: Rays,
    samples: usize,
    brush: Brush,
    kept: Vec<Option<Surface>>,
}

impl<'a> Shader<'a> {
    fn new(stage: &'a Stage, view: &'a View, eye: Eye, world_up: DVec3, seen: &Seen, samples: usize) -> Self {
        let [right, up, back] = eye.axes;
        Self {
            stage,
            view,
            through: Through { lens: view.lens, flags: view.flags, leaning: false },
            eye,
            up: world_up,
            key: (back * 0.85 + up * 0.5 - right * 0.3).normalize(),
            rays: Rays::new(&eye, seen.width, seen.height),
            samples,
            brush: Brush::new(
                view.lens,
                crate::measure::flat::map_sizes::map_scale(stage.brief.map.of_sheet()),
                DEFAULT_CELL_PX.into(),
            ),
            kept: vec![None; KEPT],
        }
    }

    /// Colour, codes 0..=255, and class of a pixel.
    fn pixel(&mut self, seen: &Seen, x: usize, y: usize) -> (Vec3, f32) {
        // Triangle, how many samples see it, and the sum of their places.
        let mut found = [(NOTHING, 0.0, 0.0, 0.0); MOST_SAMPLES];
        let mut count = 0;
        for row in y * self.samples..(y + 1) * self.samples {
            let start = row * seen.width;
            for column in x * self.samples..(x + 1) * self.samples {
                let triangle = seen.triangle[start + column];
                let slot = match found[..count].iter().position(|one| one.0 == triangle) {
                    Some(slot) => slot,
                    None => {
                        found[count].0 = triangle;
                        count += 1;
                        count - 1
                    }
                };
                found[slot].1 += 1.0;
                found[slot].2 += column as f64;
                found[slot].3 += row as f64;
            }
        }
        let (mut colour, mut class) = (Vec3::ZERO, 0.0);
        for &(triangle, weight, column, row) in &found[..count] {
            let part = if triangle == NOTHING {
                (codes(GROUND), 0.0)
            } else {
                let surface = self.surface(triangle);
                self.coloured(&surface, column / weight, row / weight)
            };
            colour += part.0 * weight as f32;
            class += part.1 * weight as f32;
        }
        let all = (self.samples * self.samples) as f32;
        (colour / all, class / all)
    }

    fn surface(&mut self, triangle: u32) -> Surface {
        let slot = triangle as usize % KEPT;
        match self.kept[slot].filter(|surface| surface.triangle == triangle) {
            Some(surface) => surface,
            None => {
                let surface = self.new_surface(triangle);
                self.kept[slot] = Some(surface);
                surface
            }
        }
    }

    fn new_surface(&self, triangle: u32) -> Surface {
        let Stage { model, texels, normals, centre, radius, .. } = self.stage;
        let index = triangle as usize;
        let positions = model.positions(index);
        let corners = positions.map(|p| self.eye.sees(p));
        let front = (corners[1] - corners[0]).cross(corners[2] - corners[0]).dot(corners[0]) > 0.0;
        let light = normals.of(index, positions).map(|normal| {
            let (up, key) = (normal.dot(self.up) * 0.09, normal.dot(self.key));
            let light = if front { 0.71 + up + 0.21 * key.max(0.0) } else { 0.65 - up + 0.20 * (-key).max(0.0) };
            light as f32
        });
        let texel = texels.of(index);
        let look = self.through.look(&texel);
        let in_space = || positions.map(|p| DVec2::from(SECTION.map(|way| (p - *centre).dot(way) / radius)));
        let at = if look.in_space { in_space() } else { model.uvs(index).unwrap_or_else(in_space) };
        let lit =
            self.view.lit.is_empty() || texel.shell.is_some_and(|shell| self.view.lit.binary_search(&shell).is_ok());
        let look = if lit { look } else { Look { shape: None, class: Class::Within, ..look } };
        Surface { triangle, edges: edges(corners, &self.rays), at, light, look, lit }
    }

    /// Colour and class of a surface at a place, in samples.
    fn coloured(&self, surface: &Surface, x: f64, y: f64) -> (Vec3, f32) {
        let values = surface.edges.map(|edge| edge.at(x, y));
        let sum: f64 = values.iter().sum();
        let weights = values.map(|value| value / sum);
        // A step of one pixel along either axis changes the weights by the quotient rule.
        let step = |along: fn(&Linear) -> f64| {
            let changes = surface.edges.map(|edge| along(&edge) * self.samples as f64);
            let all: f64 = changes.iter().sum();
            [0, 1, 2].map(|corner| (changes[corner] - weights[corner] * all) / sum)
        };
        let mix = |weights: [f64; 3]| (0..3).map(|corner| surface.at[corner] * weights[corner]).sum::<DVec2>();
        let (at, dx, dy) = (mix(weights), mix(step(|edge| edge.a)), mix(step(|edge| edge.b)));
        let mut colour = self.brush.colour(&surface.look, at, [dx, dy], || self.stage.paper.at(at, dx, dy));
        let light: f32 = (0..3).map(|corner| surface.light[corner] * weights[corner] as f32).sum();
        colour *= light;
        if !surface.lit {
            colour = codes(GROUND).lerp(colour, UNLIT);
        }
        (colour, surface.look.class.level())
    }
}

/// Lays ink over a picture.
fn inked(picture: &mut Picture, ink: &[f32]) {
    for (pixel, &part) in picture.rgba.chunks_exact_mut(4).zip(ink).filter(|(_, part)| **part > 0.0) {
        let colour = Vec3::new(pixel[0].into(), pixel[1].into(), pixel[2].into()).lerp(codes(INK), part);
        pixel[..3].copy_from_slice(&colour.round().to_array().map(|code| code as u8));
    }
}

/// Draws the line between surfaces within and outside the limits, about two pixels wide whatever the triangles are.
fn contoured(mut picture: Picture, classes: &[f32], lens: Lens) -> Picture {
    let (width, height) = (picture.width as usize, picture.height as usize);
    let strength = if lens == Lens::Grid { CONTOUR.0 } else { CONTOUR.1 };
    let light: Vec<f32> =
        picture.rgba.chunks_exact(4).map(|code| lens::lightness([code[0], code[1], code[2]].map(f32::from))).collect();
    for y in 0..height {
        for x in 0..width {
            let here = y * width + x;
            let around = [
                here,
                if x > 0 { here - 1 } else { here },
                if x + 1 < width { here + 1 } else { here },
                if y > 0 { here - width } else { here },
                if y + 1 < height { here + width } else { here },
            ];
            let (least, most) = around
                .iter()
                .fold((f32::MAX, f32::MIN), |(least, most), &at| (least.min(classes[at]), most.max(classes[at])));
            let line = smoothstep(0.06, 0.62, most - least);
            if line > 0.0 {
                let pixel = &mut picture.rgba[here * 4..here * 4 + 3];
                let colour = Vec3::new(pixel[0].into(), pixel[1].into(), pixel[2].into());
                // Ink, no darker where it lies on other ink; and paper where all that lies around is dark.
                let is_dark = around.iter().all(|&at| light[at] < lens::INK_FROM);
                let paper = codes(lens::PAPER);
                let drawn =
                    if is_dark { colour.lerp(paper, strength) } else { colour.min(paper.lerp(codes(INK), strength)) };
                let drawn = colour.lerp(drawn, line);
                pixel.copy_from_slice(&drawn.round().to_array().map(|code| code as u8));
            }
        }
    }
    picture
}

fn codes(colour: [u8; 3]) -> Vec3 {
    Vec3::from(colour.map(f32::from))
}
