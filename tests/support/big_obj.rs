//! A large OBJ of known shape, as an exporter writes it: closed lumpy rings, each unrolled to one rectangle of the sheet.
//!
//! Ring: P(a, b) = ((R + r cos b) cos a, r sin b, -(R + r cos b) sin a), r raised and lowered by a few waves. `u` grows
//! with a and `v` with b; P_a x P_b points outwards, so no face is flipped on the sheet.

use std::f64::consts::TAU;
use std::io::{self, Write};

/// Radius of a ring's centre line, in model units.
const MAJOR: f64 = 1.0;
/// Radius of a ring's tube, in model units.
const MINOR: f64 = 0.4;
/// Height of the lumps, as a share of the tube's radius.
const LUMPS: f64 = 0.08;
/// Columns of the sheet's layout; a ring's rectangle is MAJOR : MINOR, so that a square stays nearly square.
const COLUMNS: usize = 2;
/// Width of a ring's rectangle on the sheet, in uv.
const SHELL_WIDTH: f64 = 0.46;

/// How many rings, and how finely each is divided.
#[derive(Clone, Copy, Debug)]
pub struct Shape {
    /// Rings, each its own object; at most ten fit the sheet.
    pub rings: usize,
    /// Quads around a ring.
    pub around: usize,
    /// Quads across its tube.
    pub across: usize,
}

impl Shape {
    /// One million triangles.
    pub const MILLION: Shape = Shape { rings: 10, around: 400, across: 125 };

    /// Triangles of all rings.
    pub fn triangles(self) -> usize {
        self.rings * self.around * self.across * 2
    }
}

fn point(a: f64, b: f64) -> [f64; 3] {
    let r = MINOR * (1.0 + LUMPS * (7.0 * a).sin() * (3.0 * b).cos());
    let distance = MAJOR + r * b.cos();
    [distance * a.cos(), r * b.sin(), -distance * a.sin()]
}

fn normal(a: f64, b: f64) -> [f64; 3] {
    const STEP: f64 = 1e-4;
    let along = |p: [f64; 3], q: [f64; 3]| [q[0] - p[0], q[1] - p[1], q[2] - p[2]];
    let s = along(point(a - STEP, b), point(a + STEP, b));
    let t = along(point(a, b - STEP), point(a, b + STEP));
    let n = [s[1] * t[2] - s[2] * t[1], s[2] * t[0] - s[0] * t[2], s[0] * t[1] - s[1] * t[0]];
    let length = (n[0] * n[0] + n[1] * n[1] + n[2] * n[2]).sqrt();
    n.map(|x| x / length)
}

/// Writes the file.
pub fn write(out: &mut impl Write, shape: Shape) -> io::Result<()> {
    let Shape { rings, around, across } = shape;
    writeln!(out, "# {} rings, {} triangles\nmtllib rings.mtl", rings, shape.triangles())?;
    for ring in 0..rings {
        let (column, row) = (ring % COLUMNS, ring / COLUMNS);
        let across_uv = SHELL_WIDTH * MINOR / MAJOR;
        let (u0, v0) = (0.02 + 0.5 * column as f64, 0.008 + 0.2 * row as f64);
        writeln!(out, "o Ring.{:03}", ring + 1)?;
        let angles = |i: usize, j: usize| (TAU * i as f64 / around as f64, TAU * j as f64 / across as f64);
        for j in 0..across {
            for i in 0..around {
                let (a, b) = angles(i, j);
                let [x, y, z] = point(a, b);
                writeln!(out, "v {:.6} {y:.6} {z:.6}", x + 3.0 * ring as f64)?;
            }
        }
        for j in 0..=across {
            for i in 0..=around {
                let u = u0 + SHELL_WIDTH * i as f64 / around as f64;
                let v = v0 + across_uv * j as f64 / across as f64;
                writeln!(out, "vt {u:.6} {v:.6}")?;
            }
        }
        for j in 0..across {
            for i in 0..around {
                let (a, b) = angles(i, j);
                let [x, y, z] = normal(a, b);
                writeln!(out, "vn {x:.6} {y:.6} {z:.6}")?;
            }
        }
        writeln!(out, "usemtl Paint\ns 1")?;
        let (first_v, first_vt) = (ring * around * across, ring * (around + 1) * (across + 1));
        for j in 0..across {
            for i in 0..around {
                let corner = |di: usize, dj: usize| {
                    let v = first_v + (j + dj) % across * around + (i + di) % around + 1;
                    (v, first_vt + (j + dj) * (around + 1) + i + di + 1)
                };
                let ((a, at), (b, bt), (c, ct), (d, dt)) = (corner(0, 0), corner(1, 0), corner(1, 1), corner(0, 1));
                writeln!(out, "f {a}/{at}/{a} {b}/{bt}/{b} {c}/{ct}/{c}")?;
                writeln!(out, "f {a}/{at}/{a} {c}/{ct}/{c} {d}/{dt}/{d}")?;
            }
        }
    }
    Ok(())
}
