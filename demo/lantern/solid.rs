//! Closed solids whose faces arrive together with their exact flattening.
//!
//! A [`Part`] owns welded positions and a list of [`Shell`]s; a shell owns faces and its own sheet coordinates, here
//! still in centimetres, so that one centimetre on the surface is one centimetre on the sheet. Three makers cover the
//! whole lantern: [`Part::lathe`] (profiles turned about an axis), [`Part::prism`] (outlines pushed along one) and
//! [`Part::tube`] (a torus section).
//!
//! How each is flattened, with N facets about the axis, so that a facet keeps its true shape wherever that is possible:
//! * cylinder: facet width 2 r sin(pi/N), exact;
//! * cone: slant distance from the apex, facet angle 2 asin(|dr| sin(pi/N) / slant), exact;
//! * disc and ring: as seen from above, exact; a bevel on its rim lies down by its own width;
//! * barrel, cove and torus: straight strips. A row of radius r becomes mean/r as wide; `Flat::Strip` shares that
//!   error between both directions (square root each), `Flat::Even` leaves all rows at their own height.
//!
//! Every shell is finally scaled to its own surface area, so all shells have one density, and turned by right angles so
//! that what is painted upright stands upright, where the shell as a whole has an up. Cost: linear in faces, and
//! a logarithm for welding.

use std::collections::BTreeMap;
use std::f64::consts::{PI, TAU};

use glam::{DVec2, DVec3, dvec2, dvec3};

/// Positions closer than this weld, in cm. It is the step the file is written in.
pub const WELD_CM: f64 = 1e-5;
/// A face is level when its unit normal is this much up or down: cos 10 degrees.
const LEVEL: f64 = 0.9848;
/// A shell points all ways about when no more than this share of it is left after adding its directions.
const ASTRAY: f64 = 0.1;

/// A right-handed frame: `across` x `along` = `front`.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    origin: DVec3,
    across: DVec3,
    along: DVec3,
    front: DVec3,
}

impl Frame {
    /// The world's own axes, moved to `origin`.
    pub fn upright(origin: DVec3) -> Self {
        Self::new(origin, DVec3::Y, DVec3::Z)
    }

    /// `along` and `front` are unit vectors at right angles.
    pub fn new(origin: DVec3, along: DVec3, front: DVec3) -> Self {
        Self { origin, across: along.cross(front), along, front }
    }

    /// The same place seen from behind.
    fn turned_round(self) -> Self {
        Self { across: -self.across, front: -self.front, ..self }
    }

    fn at(&self, x: f64, y: f64, z: f64) -> DVec3 {
        self.origin + self.across * x + self.along * y + self.front * z
    }
}

/// A polygon, counter-clockwise seen from outside; both lists run alongside.
#[derive(Clone, Debug)]
pub struct Face {
    /// Indices into the part's positions.
    pub points: Vec<usize>,
    /// Indices into the shell's `uv`.
    pub uvs: Vec<usize>,
}

/// Faces that lie together on the sheet.
#[derive(Clone, Debug)]
pub struct Shell {
    /// The group it is written as.
    pub name: String,
    /// The material it is written with.
    pub material: &'static str,
    /// Sheet coordinates: cm while building, px once laid out.
    pub uv: Vec<DVec2>,
    /// The faces.
    pub faces: Vec<Face>,
}

impl Shell {
    /// Every face as a polygon on the sheet.
    pub fn outlines(&self) -> Vec<Vec<DVec2>> {
        self.faces.iter().map(|face| face.uvs.iter().map(|&i| self.uv[i]).collect()).collect()
    }

    /// Area on the sheet, signed, in the square of the current unit.
    pub fn area_uv(&self) -> f64 {
        self.outlines().iter().map(|outline| polygon_area(outline)).sum()
    }

    /// The turn by right angles (a unit vector, as a complex number) that stands it most upright about +y. None is needed
    /// where it lies level or points all ways about.
    fn quarter_turns(&self, positions: &[DVec3]) -> DVec2 {
        let (mut sum, mut weight) = (DVec2::ZERO, 0.0);
        for face in &self.faces {
            let normal = newell(positions, &face.points);
            let front = normal.normalize();
            if front.y.abs() > LEVEL {
                continue;
            }
            let [e1, e2] = [1, 2].map(|i| positions[face.points[i]] - positions[face.points[0]]);
            let [d1, d2] = [1, 2].map(|i| self.uv[face.uvs[i]] - self.uv[face.uvs[0]]);
            let stem = (e2 * d1.x - e1 * d2.x) / d1.perp_dot(d2);
            sum += dvec2(stem.y, front.dot(DVec3::Y.cross(stem))).normalize_or_zero() * normal.length();
            weight += normal.length();
        }
        match sum {
            _ if sum.length() <= weight * ASTRAY => DVec2::X,
            sum if sum.x.abs() >= sum.y.abs() => dvec2(sum.x.signum(), 0.0),
            sum => dvec2(0.0, sum.y.signum()),
        }
    }
}

/// One object of the model.
#[derive(Clone, Debug)]
pub struct Part {
    /// The object's name.
    pub name: String,
    /// Welded positions, cm.
    pub positions: Vec<DVec3>,
    /// The shells, in the order they are written.
    pub shells: Vec<Shell>,
    weld: BTreeMap<[i64; 3], usize>,
    material: &'static str,
}

/// How a turned profile is laid flat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flat {
    /// A straight strip; radius error shared between both directions.
    Strip,
    /// A straight strip on an even grid, cut into triangles along the falling diagonal of each cell.
    Even,
    /// A straight profile as a sector about its apex.
    Cone,
    /// A ring seen from above or below.
    Ring,
    /// A ring whose hole is closed by one n-gon.
    Disc,
    /// One n-gon facing down; the profile is one point.
    Floor,
    /// One n-gon facing up; the profile is one point.
    Roof,
}

/// A stretch of profile that becomes one shell.
pub struct Span<'a> {
    name: &'a str,
    flat: Flat,
    profile: Vec<DVec2>,
}

/// Profile points are (radius, height), cm; the outside lies to the right of the direction of travel.
pub fn span<'a>(name: &'a str, flat: Flat, profile: &[(f64, f64)]) -> Span<'a> {
    Span { name, flat, profile: profile.iter().map(|&p| p.into()).collect() }
}

impl Part {
    /// An empty part.
    pub fn new(name: &str, material: &'static str) -> Self {
        Self { name: name.to_owned(), positions: Vec::new(), shells: Vec::new(), weld: BTreeMap::new(), material }
    }

    /// The shell of that name, which the lantern's own code gave it.
    pub fn shell_mut(&mut self, name: &str) -> Option<&mut Shell> {
        self.shells.iter_mut().find(|shell| shell.name == name)
    }

    /// Turns profiles about `frame`'s `along` axis in `facets` steps. Strips start and end at the frame's back.
    pub fn lathe(&mut self, frame: Frame, facets: usize, spans: &[Span]) {
        for span in spans {
            self.turn(frame, facets, span);
        }
    }

    fn turn(&mut self, frame: Frame, facets: usize, span: &Span) {
        let rows = &span.profile;
        let count = rows.len() - 1;
        let point = |i: usize, j: usize| {
            let angle = TAU * (i % facets) as f64 / facets as f64;
            frame.at(-rows[j].x * angle.sin(), rows[j].y, -rows[j].x * angle.cos())
        };
        let half_facet = (PI / facets as f64).sin();
        let mut travelled = vec![0.0; rows.len()];
        for j in 0..count {
            travelled[j + 1] = travelled[j] + rows[j].distance(rows[j + 1]);
        }
        let inward = rows[count].x < rows[0].x;
        let fan = |rho: f64, turn: f64| dvec2(rho * turn.sin(), if inward { -rho } else { rho } * turn.cos());
        let from_front = |i: usize| i as f64 - facets as f64 / 2.0;
        match span.flat {
            Flat::Strip | Flat::Even => {
                let mean =
                    (0..count).map(|j| (rows[j].x + rows[j + 1].x) / 2.0 * rows[j].distance(rows[j + 1])).sum::<f64>()
                        / travelled[count];
                let mut v = vec![0.0; rows.len()];
                for j in 0..count {
                    let share =
                        if span.flat == Flat::Even { 1.0 } else { (mean / ((rows[j].x + rows[j + 1].x) / 2.0)).sqrt() };
                    v[j + 1] = v[j] + share * (travelled[j + 1] - travelled[j]);
                }
                let width = 2.0 * mean * half_facet;
                let uv = |i: usize, j: usize| dvec2(width * i as f64, v[j]);
                self.grid(span.name, facets, count, Wrap::Open, span.flat == Flat::Even, point, uv);
            }
            Flat::Cone => {
                let (slope, slant) = ((rows[count].x - rows[0].x).abs(), rows[0].distance(rows[count]));
                let facet = 2.0 * (slope * half_facet / slant).asin();
                let uv = |i: usize, j: usize| fan(rows[j].x * slant / slope, facet * from_front(i));
                self.grid(span.name, facets, count, Wrap::Open, false, point, uv);
            }
            Flat::Ring | Flat::Disc => {
                let inner = if inward { count } else { 0 };
                let rho = |j: usize| rows[inner].x + (travelled[j] - travelled[inner]).abs();
                let uv = |i: usize, j: usize| fan(rho(j), TAU / facets as f64 * from_front(i));
                self.grid(span.name, facets, count, Wrap::Closed, false, point, uv);
                if span.flat == Flat::Disc {
                    // Seen from outside a disc met going inward turns the way the columns do.
                    let order: Vec<usize> = if inward { (0..facets).collect() } else { (0..facets).rev().collect() };
                    let corners = order.iter().map(|&i| (point(i, inner), uv(i, inner))).collect();
                    self.polygon(corners);
                }
            }
            Flat::Floor | Flat::Roof => {
                let up = span.flat == Flat::Roof;
                let turn = |i: usize| TAU * i as f64 / facets as f64;
                let flat = |i: usize| rows[0].x * dvec2(-turn(i).sin(), if up { 1.0 } else { -1.0 } * turn(i).cos());
                let order: Vec<usize> = if up { (0..facets).collect() } else { (0..facets).rev().collect() };
                self.open_shell(span.name);
                self.polygon(order.iter().map(|&i| (point(i, 0), flat(i))).collect());
            }
        }
        self.even_out();
    }

    /// Pushes `outline` (counter-clockwise, in the frame's across/along plane) from `low` to `high` along the frame's
    /// front. A lid is a list of (inset, height) from its rim to its middle, which one n-gon closes.
    pub fn prism(&mut self, frame: Frame, outline: &[DVec2], low: &[(f64, f64)], high: &[(f64, f64)]) {
        let name = self.name.clone();
        let count = outline.len();
        let heights = [low[0].1, high[0].1];
        let mut along = vec![0.0];
        for i in 0..count {
            along.push(along[i] + outline[i].distance(outline[(i + 1) % count]));
        }
        let point = |i: usize, j: usize| frame.at(outline[i % count].x, outline[i % count].y, heights[j]);
        self.grid(&format!("{name}_side"), count, 1, Wrap::Open, false, point, |i, j| dvec2(along[i], heights[j]));
        self.even_out();
        self.face_lid(&format!("{name}_face"), frame, outline, high);
        let mirrored: Vec<DVec2> = outline.iter().rev().map(|p| dvec2(-p.x, p.y)).collect();
        let low: Vec<(f64, f64)> = low.iter().map(|&(inset, height)| (inset, -height)).collect();
        self.face_lid(&format!("{name}_back"), frame.turned_round(), &mirrored, &low);
    }

    fn face_lid(&mut self, name: &str, frame: Frame, outline: &[DVec2], rings: &[(f64, f64)]) {
        let count = outline.len();
        let last = rings.len() - 1;
        let solid: Vec<Vec<DVec2>> = rings.iter().map(|&(inset, _)| inset_outline(outline, inset)).collect();
        // Laid down from the middle outward, each ring by its own slant width.
        let mut flat_inset = vec![rings[last].0; rings.len()];
        for j in (0..last).rev() {
            let (a, b) = (rings[j], rings[j + 1]);
            flat_inset[j] = flat_inset[j + 1] - (b.0 - a.0).hypot(b.1 - a.1);
        }
        let flat: Vec<Vec<DVec2>> = flat_inset.iter().map(|&inset| inset_outline(outline, inset)).collect();
        let point = |i: usize, j: usize| frame.at(solid[j][i % count].x, solid[j][i % count].y, rings[j].1);
        let uv = |i: usize, j: usize| flat[j][i % count];
        if last > 0 {
            self.grid(name, count, last, Wrap::Closed, false, point, uv);
        } else {
            self.open_shell(name);
        }
        self.polygon((0..count).map(|i| (point(i, last), uv(i, last))).collect());
        self.even_out();
    }

    /// A torus section in the frame's across/along plane: `start` and `end` are angles from `across`, the tube runs
    /// clockwise. The seam lies on the inner side; both ends are closed by n-gons.
    pub fn tube(
        &mut self,
        frame: Frame,
        ring: f64,
        tube: f64,
        (start, end): (f64, f64),
        (long, round): (usize, usize),
    ) {
        let name = self.name.clone();
        let turn = |i: usize| start + (end - start) * i as f64 / long as f64;
        let around = |j: usize| TAU * (j % round) as f64 / round as f64;
        let point = |i: usize, j: usize| {
            let out = ring - tube * around(j).cos();
            frame.at(out * turn(i).cos(), out * turn(i).sin(), tube * around(j).sin())
        };
        let half_step = ((start - end) / long as f64 / 2.0).sin();
        let side = 2.0 * tube * (PI / round as f64).sin();
        let mut v = vec![0.0];
        for j in 0..round {
            let out = ring - tube * (around(j) + PI / round as f64).cos() * (PI / round as f64).cos();
            v.push(v[j] + side * (ring / out).sqrt());
        }
        let uv = |i: usize, j: usize| dvec2(2.0 * ring * half_step * i as f64, v[j]);
        self.grid(&format!("{name}_tube"), long, round, Wrap::Open, false, point, uv);
        self.even_out();
        for (i, suffix, flip) in [(0, "start", false), (long, "end", true)] {
            self.open_shell(&format!("{name}_{suffix}"));
            let order: Vec<usize> = if flip { (0..round).rev().collect() } else { (0..round).collect() };
            let across = if flip { -1.0 } else { 1.0 };
            let flat = |j: usize| tube * dvec2(across * around(j).cos(), around(j).sin());
            self.polygon(order.iter().map(|&j| (point(i, j), flat(j))).collect());
            self.even_out();
        }
    }

    fn open_shell(&mut self, name: &str) {
        self.shells.push(Shell { name: name.to_owned(), material: self.material, uv: Vec::new(), faces: Vec::new() });
    }

    fn weld(&mut self, p: DVec3) -> usize {
        let key = p.to_array().map(|x| (x / WELD_CM).round() as i64);
        *self.weld.entry(key).or_insert_with(|| {
            self.positions.push(p);
            self.positions.len() - 1
        })
    }

    #[expect(clippy::too_many_arguments, reason = "two counts, two switches and two maps are what a grid is")]
    fn grid(
        &mut self,
        name: &str,
        columns: usize,
        rows: usize,
        wrap: Wrap,
        triangles: bool,
        point: impl Fn(usize, usize) -> DVec3,
        uv: impl Fn(usize, usize) -> DVec2,
    ) {
        self.open_shell(name);
        let stride = if wrap == Wrap::Closed { columns } else { columns + 1 };
        let flat = (0..=rows).flat_map(|j| (0..stride).map(move |i| (i, j))).map(|(i, j)| uv(i, j)).collect();
        let mut faces = Vec::with_capacity(columns * rows);
        for j in 0..rows {
            for i in 0..columns {
                let cell = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
                let corner = cell.map(|(i, j)| (self.weld(point(i, j)), j * stride + i % stride));
                let split: &[&[usize]] = if triangles { &[&[0, 1, 3], &[1, 2, 3]] } else { &[&[0, 1, 2, 3]] };
                for face in split {
                    faces.push(Face {
                        points: face.iter().map(|&c| corner[c].0).collect(),
                        uvs: face.iter().map(|&c| corner[c].1).collect(),
                    });
                }
            }
        }
        if let Some(shell) = self.shells.last_mut() {
            shell.uv = flat;
            shell.faces = faces;
        }
    }

    /// Adds one polygon to the open shell, using its sheet points where they are there already.
    fn polygon(&mut self, corners: Vec<(DVec3, DVec2)>) {
        let points = corners.iter().map(|&(p, _)| self.weld(p)).collect();
        if let Some(shell) = self.shells.last_mut() {
            let uvs = corners
                .iter()
                .map(|&(_, q)| match shell.uv.iter().position(|&have| have.distance(q) < WELD_CM) {
                    Some(at) => at,
                    None => {
                        shell.uv.push(q);
                        shell.uv.len() - 1
                    }
                })
                .collect();
            shell.faces.push(Face { points, uvs });
        }
    }

    /// Scales the open shell so that its area on the sheet is its area in space, and turns it upright.
    fn even_out(&mut self) {
        if let Some(shell) = self.shells.last_mut() {
            let surface: f64 =
                shell.faces.iter().map(|face| newell(&self.positions, &face.points).length() / 2.0).sum();
            let factor = (surface / shell.area_uv()).sqrt();
            shell.uv.iter_mut().for_each(|q| *q *= factor);
            let turn = shell.quarter_turns(&self.positions);
            shell.uv.iter_mut().for_each(|q| *q = turn.rotate(*q));
        }
    }
}

/// Whether a grid's last column is its first.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Wrap {
    Open,
    Closed,
}

/// Newell's normal of a polygon: its direction, as long as twice the area.
pub fn newell(positions: &[DVec3], points: &[usize]) -> DVec3 {
    let first = positions[points[0]];
    let mut sum = DVec3::ZERO;
    for pair in points.windows(2) {
        sum += (positions[pair[0]] - first).cross(positions[pair[1]] - first);
    }
    sum
}

/// Signed area of a polygon, positive counter-clockwise.
pub fn polygon_area(outline: &[DVec2]) -> f64 {
    let first = outline[0];
    outline.windows(2).map(|pair| (pair[0] - first).perp_dot(pair[1] - first)).sum::<f64>() / 2.0
}

/// The outline moved inward by `inset` (outward if negative), corners mitred.
fn inset_outline(outline: &[DVec2], inset: f64) -> Vec<DVec2> {
    let count = outline.len();
    (0..count)
        .map(|i| {
            let before = (outline[i] - outline[(i + count - 1) % count]).normalize().perp();
            let after = (outline[(i + 1) % count] - outline[i]).normalize().perp();
            outline[i] + (before + after) * (inset / (1.0 + before.dot(after)))
        })
        .collect()
}

/// A box outline about the origin, starting top right.
pub fn rectangle(width: f64, height: f64) -> Vec<DVec2> {
    let (x, y) = (width / 2.0, height / 2.0);
    vec![dvec2(x, y), dvec2(-x, y), dvec2(-x, -y), dvec2(x, -y)]
}

/// A plaque: a box outline whose corners are scooped out by quarter circles of `scoop`, in `steps` each.
pub fn plaque(width: f64, height: f64, scoop: f64, steps: usize) -> Vec<DVec2> {
    let mut outline = Vec::new();
    // Bottom right, top right, top left, bottom left: each scoop runs clockwise about the corner it takes away.
    let corners = [(1.0, -1.0, PI), (1.0, 1.0, 1.5 * PI), (-1.0, 1.0, TAU), (-1.0, -1.0, PI / 2.0)];
    for (x, y, start) in corners {
        let centre = dvec2(x * width / 2.0, y * height / 2.0);
        for step in 0..=steps {
            let angle = start - PI / 2.0 * step as f64 / steps as f64;
            outline.push(centre + scoop * DVec2::from_angle(angle));
        }
    }
    outline
}

/// A toothed circle: `teeth` blocks from radius `root` to `tip`, each side of a tooth radial.
pub fn toothed(teeth: usize, root: f64, tip: f64) -> Vec<DVec2> {
    let step = TAU / teeth as f64;
    (0..teeth)
        .flat_map(|tooth| {
            let at = PI / 2.0 + step * tooth as f64;
            [(at, tip), (at + step / 2.0, tip), (at + step / 2.0, root), (at + step, root)]
        })
        .map(|(angle, radius)| radius * DVec2::from_angle(angle))
        .collect()
}

/// A unit vector in the horizontal plane, `degrees` from the front (+z) towards +x.
pub fn bearing(degrees: f64) -> DVec3 {
    let angle = degrees.to_radians();
    dvec3(angle.sin(), 0.0, angle.cos())
}
