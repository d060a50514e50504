//! Writes parts as Wavefront OBJ and MTL text: one `o` for each part, one `g` for each shell.
//!
//! Corner normals are area-weighted over the faces at a point that lean less than [`SMOOTH_DEG`] from the corner's own
//! face, so bevels shine and edges stay hard. Indices are positive and run through the whole file. Positions have five
//! decimals (cm), texture coordinates six, normals four. Cost: linear, and a logarithm for finding equal lines again.

use std::collections::BTreeMap;
use std::fmt::Write;

use glam::{DVec2, DVec3};

use super::layout::SHEET_PX;
use super::solid::{Part, newell};

/// Faces that lean further apart meet in a hard edge, degrees: more than a bevel's 45, less than a corner's 90.
const SMOOTH_DEG: f64 = 50.0;
/// A shell none of whose corner normals differ more than this from their face's is written flat (`s off`), degrees.
const FLAT_DEG: f64 = 0.5;

struct Material {
    name: &'static str,
    diffuse: [f64; 3],
    specular: [f64; 3],
    /// MTL's `Ns`, 0..1000.
    shininess: f64,
    /// 0..1.
    opacity: f64,
}

const MATERIALS: [Material; 4] = [
    Material {
        name: "brass",
        diffuse: [0.71, 0.53, 0.24],
        specular: [0.8, 0.68, 0.42],
        shininess: 180.0,
        opacity: 1.0,
    },
    Material {
        name: "steel",
        diffuse: [0.42, 0.44, 0.46],
        specular: [0.55, 0.55, 0.56],
        shininess: 120.0,
        opacity: 1.0,
    },
    Material {
        name: "enamel",
        diffuse: [0.1, 0.24, 0.22],
        specular: [0.35, 0.35, 0.35],
        shininess: 90.0,
        opacity: 1.0,
    },
    Material { name: "glass", diffuse: [0.8, 0.88, 0.86], specular: [0.9, 0.9, 0.9], shininess: 600.0, opacity: 0.35 },
];

/// Lines of one kind, each written once.
struct Lines {
    keyword: &'static str,
    decimals: usize,
    known: BTreeMap<String, usize>,
    written: usize,
}

impl Lines {
    fn new(keyword: &'static str, decimals: usize) -> Self {
        Self { keyword, decimals, known: BTreeMap::new(), written: 0 }
    }

    /// The index of a line in the file, which is appended to `text` when it is new since [`Self::forget`].
    fn index(&mut self, text: &mut String, numbers: &[f64]) -> usize {
        let mut line = self.keyword.to_owned();
        for &number in numbers {
            let word = format!("{number:.*}", self.decimals);
            let zero = word.trim_start_matches('-').chars().all(|c| c == '0' || c == '.');
            line.push(' ');
            line.push_str(if zero { word.trim_start_matches('-') } else { &word });
        }
        let next = self.written + 1;
        match self.known.get(&line) {
            Some(&index) => index,
            None => {
                text.push_str(&line);
                text.push('\n');
                self.written = next;
                self.known.insert(line, next);
                next
            }
        }
    }

    fn forget(&mut self) {
        self.known.clear();
    }
}

/// The OBJ text. `title` goes into its first comment, `library` is the MTL file's name; sheet coordinates are in px.
pub fn obj(parts: &[Part], title: &str, library: &str) -> String {
    let mut text = format!("# {title}\n# Units: cm. Up: +y. Front: +z.\nmtllib {library}\n");
    let mut v = Lines::new("v", 5);
    let mut vt = Lines::new("vt", 6);
    let mut vn = Lines::new("vn", 4);
    for part in parts {
        let mut faces = String::new();
        let [mut points, mut uvs, mut normals] = [String::new(), String::new(), String::new()];
        let corners = CornerNormals::new(part);
        let mut material = "";
        let mut smooth = None;
        for (at, shell) in part.shells.iter().enumerate() {
            // Equal texture coordinates of different shells stay apart, as their shells do.
            vt.forget();
            let flat = corners.is_flat(part, at);
            line(&mut faces, format_args!("g {}", shell.name));
            if material != shell.material {
                material = shell.material;
                line(&mut faces, format_args!("usemtl {material}"));
            }
            if smooth != Some(!flat) {
                smooth = Some(!flat);
                line(&mut faces, format_args!("s {}", if flat { "off" } else { "1" }));
            }
            for face in &shell.faces {
                faces.push('f');
                let own = corners.face_normal(part, &face.points);
                for (corner, &p) in face.points.iter().enumerate() {
                    let position: DVec3 = part.positions[p];
                    let a = v.index(&mut points, &position.to_array());
                    let c = vn.index(&mut normals, &corners.at(p, own).to_array());
                    let b = face.uvs.get(corner).map(|&q| {
                        let uv: DVec2 = shell.uv[q] / SHEET_PX;
                        vt.index(&mut uvs, &uv.to_array()).to_string()
                    });
                    faces.push_str(&format!(" {a}/{}/{c}", b.unwrap_or_default()));
                }
                faces.push('\n');
            }
        }
        v.forget();
        line(&mut text, format_args!("o {}", part.name));
        for block in [&points, &uvs, &normals, &faces] {
            text.push_str(block);
        }
    }
    text
}

/// The MTL text.
pub fn mtl() -> String {
    let mut text = String::from("# Materials of the signal lantern\n");
    for Material { name, diffuse, specular, shininess, opacity } in MATERIALS {
        let triple = |c: [f64; 3]| format!("{:.3} {:.3} {:.3}", c[0], c[1], c[2]);
        line(&mut text, format_args!("\nnewmtl {name}"));
        line(&mut text, format_args!("Ka {}", triple(diffuse.map(|c| c * 0.1))));
        line(&mut text, format_args!("Kd {}", triple(diffuse)));
        line(&mut text, format_args!("Ks {}", triple(specular)));
        line(&mut text, format_args!("Ns {shininess:.1}"));
        line(&mut text, format_args!("d {opacity:.2}"));
        line(&mut text, format_args!("illum {}", if opacity < 1.0 { 4 } else { 2 }));
    }
    text
}

fn line(text: &mut String, content: std::fmt::Arguments) {
    // Writing to a string reports no errors.
    let _ = writeln!(text, "{content}");
}

/// Area-weighted face normals by the point they meet in.
struct CornerNormals {
    meeting: Vec<Vec<DVec3>>,
}

impl CornerNormals {
    fn new(part: &Part) -> Self {
        let mut meeting = vec![Vec::new(); part.positions.len()];
        for face in part.shells.iter().flat_map(|shell| &shell.faces) {
            let normal = newell(&part.positions, &face.points);
            for &point in &face.points {
                meeting[point].push(normal);
            }
        }
        Self { meeting }
    }

    fn face_normal(&self, part: &Part, points: &[usize]) -> DVec3 {
        newell(&part.positions, points).normalize_or_zero()
    }

    fn at(&self, point: usize, own: DVec3) -> DVec3 {
        let limit = SMOOTH_DEG.to_radians().cos();
        let near = self.meeting[point].iter().filter(|normal| normal.normalize_or_zero().dot(own) > limit);
        near.sum::<DVec3>().normalize_or_zero()
    }

    fn is_flat(&self, part: &Part, shell: usize) -> bool {
        let limit = FLAT_DEG.to_radians().cos();
        part.shells[shell].faces.iter().all(|face| {
            let own = self.face_normal(part, &face.points);
            face.points.iter().all(|&point| self.at(point, own).dot(own) > limit)
        })
    }
}
