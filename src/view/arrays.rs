//! The page's data: typed arrays of the model and the lines. They are kept by reference, never copied through wasm
//! memory, and are used again when a lost graphics context is restored; those of a large model are released once the
//! graphics system has them, and passed again.

use glam::{DVec2, DVec3};
use js_sys::{Array, Float32Array, Int8Array, Reflect, Uint32Array};
use wasm_bindgen::{JsCast, JsValue};

use super::gl::GlError;

/// Points looked at to fit the camera. A few thousand find the extremes of any shape to a few px.
const FIT_POINTS: u32 = 4096;

/// A model's triangles, three corners each, none shared.
pub struct MeshArrays {
    /// How many.
    pub triangles: u32,
    /// Data of their corners; `None` once released.
    pub corners: Option<CornerArrays>,
    /// Radius of the bounding sphere about the origin.
    pub radius: f64,
}

/// What is at the corners of a model's triangles.
pub struct CornerArrays {
    /// 9 a triangle.
    pub position: Float32Array,
    /// 6 a triangle.
    pub uv: Float32Array,
    /// 12 a triangle: x, y, z, 0.
    pub normal: Int8Array,
}

impl MeshArrays {
    /// Reads the page's object.
    ///
    /// # Errors
    /// A field that is missing, of another type or of another length.
    pub fn read(mesh: &JsValue) -> Result<Self, GlError> {
        let triangles = number(mesh, "triangle_count")? as u32;
        let position: Float32Array = array(mesh, "position")?;
        let uv: Float32Array = array(mesh, "uv")?;
        let normal: Int8Array = array(mesh, "normal")?;
        for (name, length, each) in
            [("position", position.length(), 9), ("uv", uv.length(), 6), ("normal", normal.length(), 12)]
        {
            if u64::from(length) != u64::from(triangles) * each {
                return Err(GlError::Argument(format!(
                    "The model's {name} array has {length} numbers for {triangles} triangles; it should have {each} each."
                )));
            }
        }
        let corners = Some(CornerArrays { position, uv, normal });
        Ok(Self { triangles, corners, radius: number(mesh, "radius")? })
    }
}

/// A model's extent.
pub struct Extent {
    /// Radius of the bounding sphere about the origin.
    pub radius: f64,
    /// Lowest and highest uv.
    pub bounds_uv: [DVec2; 2],
    /// Some corners, to fit the camera by.
    pub points: Vec<DVec3>,
}

impl Extent {
    /// Reads it from the page's object of a model.
    ///
    /// # Errors
    /// A field that is missing or of another type.
    pub fn read(mesh: &JsValue) -> Result<Self, GlError> {
        let position: Float32Array = array(mesh, "position")?;
        let bounds: Vec<f64> =
            Array::from(&get(mesh, "bounds_uv")?).iter().filter_map(|value| value.as_f64()).collect();
        let bounds_uv = match bounds[..] {
            [u0, v0, u1, v1] if bounds.iter().all(|value| value.is_finite()) => {
                [DVec2::new(u0, v0), DVec2::new(u1, v1)]
            }
            _ => [DVec2::ZERO, DVec2::ONE],
        };
        let corners = position.length() / 3;
        let step = (corners / FIT_POINTS).max(1);
        let points = (0..corners).step_by(step as usize).map(|corner| {
            let at = corner * 3;
            DVec3::from_array([at, at + 1, at + 2].map(|index| f64::from(position.get_index(index))))
        });
        Ok(Self { radius: number(mesh, "radius")?, bounds_uv, points: points.collect() })
    }
}

/// Outlines of shells.
pub struct LineArrays {
    /// 6 a segment.
    pub stage: Float32Array,
    /// 2 a segment: the shells on either side.
    pub stage_shell: Uint32Array,
    /// 4 a segment.
    pub sheet: Float32Array,
    /// 1 a segment.
    pub sheet_shell: Uint32Array,
    /// Length over area, on the sheet (uv) and on the model.
    pub density: [f64; 2],
}

impl LineArrays {
    /// Reads the page's object.
    ///
    /// # Errors
    /// A field that is missing, of another type or of another length.
    pub fn read(lines: &JsValue) -> Result<Self, GlError> {
        let read = Self {
            stage: array(lines, "stage")?,
            stage_shell: array(lines, "stage_shell")?,
            sheet: array(lines, "sheet")?,
            sheet_shell: array(lines, "sheet_shell")?,
            density: numbers(lines, "density")?.ok_or_else(|| missing("density"))?,
        };
        if read.stage.length() / 3 != read.stage_shell.length() || read.sheet.length() / 4 != read.sheet_shell.length()
        {
            return Err(GlError::Argument("The outlines' arrays do not fit together.".to_owned()));
        }
        Ok(read)
    }
}

fn get(object: &JsValue, name: &str) -> Result<JsValue, GlError> {
    Reflect::get(object, &name.into()).map_err(|_| missing(name))
}

/// The number under a name.
///
/// # Errors
/// Something else is there, or nothing.
pub fn number(object: &JsValue, name: &str) -> Result<f64, GlError> {
    get(object, name)?.as_f64().ok_or_else(|| missing(name))
}

/// The array under a name.
///
/// # Errors
/// Something else is there, or nothing.
pub fn array<T: JsCast>(object: &JsValue, name: &str) -> Result<T, GlError> {
    get(object, name)?.dyn_into().map_err(|_| missing(name))
}

fn missing(name: &str) -> GlError {
    GlError::Argument(format!("What the view was given has no \"{name}\" of the right type."))
}

/// The numbers under a name, or the one; `None` where there is nothing.
///
/// # Errors
/// Something else is there, or not as many.
pub fn numbers<const N: usize>(object: &JsValue, name: &str) -> Result<Option<[f64; N]>, GlError> {
    list(object, name)?.map(|list| list.try_into().map_err(|_| missing(name))).transpose()
}

fn list(object: &JsValue, name: &str) -> Result<Option<Vec<f64>>, GlError> {
    let value = get(object, name)?;
    if value.is_undefined() || value.is_null() {
        return Ok(None);
    }
    let values = if Array::is_array(&value) { Array::from(&value) } else { Array::of1(&value) };
    let read: Option<Vec<f64>> = values.iter().map(|value| value.as_f64()).collect();
    read.map(Some).ok_or_else(|| missing(name))
}
