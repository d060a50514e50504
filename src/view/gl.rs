//! WebGL2 objects that release themselves, and the errors of making them.
//!
//! Every object keeps a handle on its context, so that dropping it is enough; on a lost context releasing does nothing,
//! as the standard asks.

mod target;

use std::cell::Cell;
use std::fmt;
use std::ops::Deref;
use std::rc::Rc;

use js_sys::Object;
use wasm_bindgen::JsValue;
use web_sys::{
    WebGl2RenderingContext as Gl, WebGlBuffer, WebGlProgram, WebGlShader, WebGlTexture, WebGlUniformLocation,
    WebGlVertexArrayObject,
};

pub use target::{Quality, Target};

/// Why the picture could not be drawn. All but [`GlError::Argument`] are the graphics system's or ours.
#[derive(Clone, Debug)]
pub enum GlError {
    /// The graphics system gave no object of this kind.
    Refused(&'static str),
    /// A shader was not accepted.
    Shader {
        /// Of this program.
        program: String,
        /// The message of compiler or linker.
        log: String,
    },
    /// A program has no uniform of this name.
    Uniform {
        /// The program.
        program: String,
        /// The name.
        name: String,
    },
    /// A framebuffer of this size is not complete.
    Incomplete {
        /// Width, px.
        width: i32,
        /// Height, px.
        height: i32,
    },
    /// A call threw.
    Thrown(String),
    /// An argument has the wrong form.
    Argument(String),
}

impl fmt::Display for GlError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Refused(what) => write!(
                f,
                "The browser's graphics system gave no {what}; it may be short of memory. Close other tabs, then reload."
            ),
            Self::Shader { program, log } => {
                write!(f, "The graphics system did not accept the program \"{program}\" ({log}). Please report this.")
            }
            Self::Uniform { program, name } => {
                write!(f, "The program \"{program}\" has no input \"{name}\". Please report this.")
            }
            Self::Incomplete { width, height } => write!(
                f,
                "The graphics system cannot draw a picture of {width} x {height} px. Make the window smaller, then reload."
            ),
            Self::Thrown(message) => {
                write!(
                    f,
                    "The browser's graphics system refused a call ({message}). Reload; if it happens again, please report it."
                )
            }
            Self::Argument(message) => f.write_str(message),
        }
    }
}

impl std::error::Error for GlError {}

impl From<JsValue> for GlError {
    fn from(thrown: JsValue) -> Self {
        let message = js_sys::Reflect::get(&thrown, &"message".into()).ok().and_then(|message| message.as_string());
        Self::Thrown(message.unwrap_or_else(|| format!("{thrown:?}")))
    }
}

/// A context, and whether its objects still exist: after a loss they are gone, also when the context is back.
#[derive(Clone)]
pub struct Context {
    gl: Gl,
    alive: Rc<Cell<bool>>,
}

impl Context {
    /// With no objects yet.
    pub fn new(gl: &Gl) -> Self {
        Self { gl: gl.clone(), alive: Rc::new(Cell::new(true)) }
    }

    /// The objects made through it were lost; there is nothing left to release.
    pub fn abandon(&self) {
        self.alive.set(false);
    }

    fn is_alive(&self) -> bool {
        self.alive.get()
    }
}

impl Deref for Context {
    type Target = Gl;

    fn deref(&self) -> &Gl {
        &self.gl
    }
}

/// A program with its uniforms' places. Compiling goes on in the background where the browser can do that.
pub struct Program {
    gl: Context,
    name: String,
    raw: WebGlProgram,
    // Kept for the compiler's messages, until the program is finished.
    shaders: Vec<Shader>,
    uniforms: Vec<(String, WebGlUniformLocation)>,
}

/// Of KHR_parallel_shader_compile.
const COMPLETION_STATUS_KHR: u32 = 0x91B1;

impl Program {
    /// Starts to compile and link. `defines` become `#define` lines right after the version.
    pub fn begin(gl: &Context, name: &str, defines: &str, vertex: &str, fragment: &str) -> Result<Self, GlError> {
        let raw = gl.create_program().ok_or(GlError::Refused("program"))?;
        let mut program =
            Self { gl: gl.clone(), name: name.to_owned(), raw, shaders: Vec::new(), uniforms: Vec::new() };
        for (kind, source) in [(Gl::VERTEX_SHADER, vertex), (Gl::FRAGMENT_SHADER, fragment)] {
            let shader = Shader::new(gl, kind, &format!("{HEADER}{defines}{source}"))?;
            gl.attach_shader(&program.raw, &shader.raw);
            program.shaders.push(shader);
        }
        gl.link_program(&program.raw);
        Ok(program)
    }

    /// Whether [`Program::finish`] would not wait. `parallel`: the context has KHR_parallel_shader_compile.
    pub fn is_compiled(&self, parallel: bool) -> bool {
        let done = || self.gl.get_program_parameter(&self.raw, COMPLETION_STATUS_KHR) != JsValue::FALSE;
        self.shaders.is_empty() || !parallel || done()
    }

    /// Whether [`Program::finish`] was called.
    pub fn is_finished(&self) -> bool {
        self.shaders.is_empty()
    }

    /// Waits for the compiler, once, and looks up the uniforms.
    pub fn finish(&mut self) -> Result<(), GlError> {
        if self.shaders.is_empty() {
            return Ok(());
        }
        let (gl, raw) = (&self.gl, &self.raw);
        if gl.get_program_parameter(raw, Gl::LINK_STATUS) != JsValue::TRUE && !gl.is_context_lost() {
            let logs = self.shaders.iter().filter_map(|shader| gl.get_shader_info_log(&shader.raw));
            let log = logs.chain(gl.get_program_info_log(raw)).collect::<Vec<_>>().join(" ");
            return Err(GlError::Shader { program: self.name.clone(), log: log.trim().to_owned() });
        }
        let count = gl.get_program_parameter(raw, Gl::ACTIVE_UNIFORMS).as_f64().unwrap_or(0.0) as u32;
        let found = (0..count).filter_map(|index| {
            let name = gl.get_active_uniform(raw, index)?.name();
            Some((gl.get_uniform_location(raw, &name)?, name))
        });
        self.uniforms = found.map(|(place, name)| (name, place)).collect();
        self.shaders.clear();
        Ok(())
    }

    /// Makes it the current one.
    pub fn bind(&self) {
        self.gl.use_program(Some(&self.raw));
    }

    fn place(&self, name: &str) -> Result<&WebGlUniformLocation, GlError> {
        let found = self.uniforms.iter().find(|(known, _)| known == name);
        found
            .map(|(_, place)| place)
            .ok_or_else(|| GlError::Uniform { program: self.name.clone(), name: name.to_owned() })
    }

    /// Sets a float, or a vector of 2, 3, 4; or a 4 x 4 matrix by columns.
    pub fn set<const N: usize>(&self, name: &str, value: [f32; N]) -> Result<(), GlError> {
        let place = Some(self.place(name)?);
        match N {
            1 => self.gl.uniform1fv_with_f32_array(place, &value),
            2 => self.gl.uniform2fv_with_f32_array(place, &value),
            3 => self.gl.uniform3fv_with_f32_array(place, &value),
            4 => self.gl.uniform4fv_with_f32_array(place, &value),
            _ => self.gl.uniform_matrix4fv_with_f32_array(place, false, &value),
        }
        Ok(())
    }

    /// Sets an unsigned integer.
    pub fn set_u32(&self, name: &str, value: u32) -> Result<(), GlError> {
        self.gl.uniform1ui(Some(self.place(name)?), value);
        Ok(())
    }

    /// Binds a texture to a unit and the sampler to it.
    pub fn set_texture(&self, name: &str, unit: u32, texture: &Texture) -> Result<(), GlError> {
        texture.bind_to(unit);
        self.gl.uniform1i(Some(self.place(name)?), unit as i32);
        Ok(())
    }
}

/// Goes before every shader.
const HEADER: &str = "#version 300 es\nprecision highp float;\nprecision highp int;\nprecision highp usampler2D;\n";

impl Drop for Program {
    fn drop(&mut self) {
        if self.gl.is_alive() {
            self.gl.delete_program(Some(&self.raw));
        }
    }
}

struct Shader {
    gl: Context,
    raw: WebGlShader,
}

impl Shader {
    fn new(gl: &Context, kind: u32, source: &str) -> Result<Self, GlError> {
        let raw = gl.create_shader(kind).ok_or(GlError::Refused("shader"))?;
        gl.shader_source(&raw, source);
        gl.compile_shader(&raw);
        Ok(Self { gl: gl.clone(), raw })
    }
}

impl Drop for Shader {
    fn drop(&mut self) {
        if self.gl.is_alive() {
            self.gl.delete_shader(Some(&self.raw));
        }
    }
}

/// A vertex buffer.
pub struct Buffer {
    gl: Context,
    raw: WebGlBuffer,
}

impl Buffer {
    /// An empty one of this many bytes.
    pub fn sized(gl: &Context, bytes: f64) -> Result<Self, GlError> {
        let raw = gl.create_buffer().ok_or(GlError::Refused("buffer"))?;
        gl.bind_buffer(Gl::ARRAY_BUFFER, Some(&raw));
        gl.buffer_data_with_f64(Gl::ARRAY_BUFFER, bytes, Gl::STATIC_DRAW);
        Ok(Self { gl: gl.clone(), raw })
    }

    /// One with these numbers.
    pub fn with(gl: &Context, values: &[f32]) -> Result<Self, GlError> {
        let buffer = Self::sized(gl, values.len() as f64 * 4.0)?;
        let bytes: Vec<u8> = values.iter().flat_map(|value| value.to_ne_bytes()).collect();
        gl.buffer_sub_data_with_i32_and_u8_array(Gl::ARRAY_BUFFER, 0, &bytes);
        Ok(buffer)
    }

    /// Copies `length` elements of a typed array from `start`, to the same place here.
    pub fn write(&self, array: &Object, start: u32, length: u32, element_bytes: u32) {
        self.bind();
        self.gl.buffer_sub_data_with_f64_and_array_buffer_view_and_src_offset_and_length(
            Gl::ARRAY_BUFFER,
            f64::from(start) * f64::from(element_bytes),
            array,
            start,
            length,
        );
    }

    /// Binds it as the array buffer.
    pub fn bind(&self) {
        self.gl.bind_buffer(Gl::ARRAY_BUFFER, Some(&self.raw));
    }
}

impl Drop for Buffer {
    fn drop(&mut self) {
        if self.gl.is_alive() {
            self.gl.delete_buffer(Some(&self.raw));
        }
    }
}

/// How a texture is sampled.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Sampling {
    /// Texel by texel.
    Nearest,
    /// Between texels, ends held.
    Linear,
    /// Between texels and levels, repeated; see [`Texture::set_anisotropy`].
    Trilinear,
}

/// A two-dimensional texture of fixed size.
pub struct Texture {
    gl: Context,
    raw: WebGlTexture,
}

impl Texture {
    /// An empty one.
    pub fn new(
        gl: &Context,
        levels: i32,
        format: u32,
        width: i32,
        height: i32,
        sampling: Sampling,
    ) -> Result<Self, GlError> {
        let raw = gl.create_texture().ok_or(GlError::Refused("texture"))?;
        let texture = Self { gl: gl.clone(), raw };
        texture.bind();
        gl.tex_storage_2d(Gl::TEXTURE_2D, levels, format, width, height);
        let (least, most, wrap) = match sampling {
            Sampling::Nearest => (Gl::NEAREST, Gl::NEAREST, Gl::CLAMP_TO_EDGE),
            Sampling::Linear => (Gl::LINEAR, Gl::LINEAR, Gl::CLAMP_TO_EDGE),
            Sampling::Trilinear => (Gl::LINEAR_MIPMAP_LINEAR, Gl::LINEAR, Gl::REPEAT),
        };
        for (name, value) in [
            (Gl::TEXTURE_MIN_FILTER, least),
            (Gl::TEXTURE_MAG_FILTER, most),
            (Gl::TEXTURE_WRAP_S, wrap),
            (Gl::TEXTURE_WRAP_T, wrap),
        ] {
            gl.tex_parameteri(Gl::TEXTURE_2D, name, value as i32);
        }
        Ok(texture)
    }

    /// A small one with these texels, RGBA.
    pub fn with(gl: &Context, width: i32, height: i32, rgba: &[u8], sampling: Sampling) -> Result<Self, GlError> {
        let texture = Self::new(gl, 1, Gl::RGBA8, width, height, sampling)?;
        texture.write(0, 0, width, height, rgba)?;
        Ok(texture)
    }

    /// Writes rows of RGBA texels.
    pub fn write(&self, level: i32, row: i32, width: i32, rows: i32, rgba: &[u8]) -> Result<(), GlError> {
        self.bind();
        self.gl.tex_sub_image_2d_with_i32_and_i32_and_u32_and_type_and_opt_u8_array(
            Gl::TEXTURE_2D,
            level,
            0,
            row,
            width,
            rows,
            Gl::RGBA,
            Gl::UNSIGNED_BYTE,
            Some(rgba),
        )?;
        Ok(())
    }

    /// Writes rows of texels out of a typed array, from its element `start`.
    pub fn write_rows(
        &self,
        format: u32,
        kind: u32,
        (row, width, rows): (i32, i32, i32),
        array: &Object,
        start: u32,
    ) -> Result<(), GlError> {
        self.bind();
        self.gl.pixel_storei(Gl::UNPACK_ALIGNMENT, 1);
        self.gl.tex_sub_image_2d_with_i32_and_i32_and_u32_and_type_and_array_buffer_view_and_src_offset(
            Gl::TEXTURE_2D,
            0,
            0,
            row,
            width,
            rows,
            format,
            kind,
            array,
            start,
        )?;
        Ok(())
    }

    /// Makes the smaller levels out of the first one.
    pub fn fill_levels(&self) {
        self.bind();
        self.gl.generate_mipmap(Gl::TEXTURE_2D);
    }

    /// Whether it ends at its borders, and its last texels go on; else it repeats.
    pub fn set_clamped(&self, clamped: bool) {
        self.bind();
        let wrap = if clamped { Gl::CLAMP_TO_EDGE } else { Gl::REPEAT };
        for name in [Gl::TEXTURE_WRAP_S, Gl::TEXTURE_WRAP_T] {
            self.gl.tex_parameteri(Gl::TEXTURE_2D, name, wrap as i32);
        }
    }

    /// How anisotropic its filter may be: 1 for not at all, up to [`most_anisotropy`].
    pub fn set_anisotropy(&self, value: f32) {
        self.bind();
        self.gl.tex_parameterf(Gl::TEXTURE_2D, TEXTURE_MAX_ANISOTROPY_EXT, value);
    }

    /// Binds it to a unit.
    pub fn bind_to(&self, unit: u32) {
        self.gl.active_texture(Gl::TEXTURE0 + unit);
        self.gl.bind_texture(Gl::TEXTURE_2D, Some(&self.raw));
    }

    fn bind(&self) {
        // Unit 7 is unused, so that writing disturbs no sampler.
        self.bind_to(7);
    }
}

/// The most a filter may be anisotropic on this system; `None` where it cannot be. Waits for the graphics system.
pub fn most_anisotropy(gl: &Gl) -> Option<f32> {
    gl.get_extension("EXT_texture_filter_anisotropic").ok()??;
    Some(gl.get_parameter(MAX_TEXTURE_MAX_ANISOTROPY_EXT).ok()?.as_f64()? as f32)
}

/// Of EXT_texture_filter_anisotropic.
const TEXTURE_MAX_ANISOTROPY_EXT: u32 = 0x84FE;
/// Of EXT_texture_filter_anisotropic.
const MAX_TEXTURE_MAX_ANISOTROPY_EXT: u32 = 0x84FF;

impl Drop for Texture {
    fn drop(&mut self) {
        if self.gl.is_alive() {
            self.gl.delete_texture(Some(&self.raw));
        }
    }
}

/// Where attributes come from.
pub struct VertexArray {
    gl: Context,
    raw: WebGlVertexArrayObject,
}

/// One attribute: location, components, and where in its buffer.
pub struct Attribute<'a> {
    /// As in the shader.
    pub location: u32,
    /// The buffer.
    pub buffer: &'a Buffer,
    /// 1 to 4.
    pub components: i32,
    /// Type of a component; unsigned integers stay integers, bytes become -1..=1.
    pub kind: u32,
    /// Bytes from one to the next; 0 where they are dense.
    pub stride: i32,
    /// Bytes before the first.
    pub offset: i32,
    /// 0: one a vertex; 1: one an instance.
    pub divisor: u32,
}

impl VertexArray {
    /// With these attributes; none is fine.
    pub fn new(gl: &Context, attributes: &[Attribute<'_>]) -> Result<Self, GlError> {
        let raw = gl.create_vertex_array().ok_or(GlError::Refused("vertex array"))?;
        let array = Self { gl: gl.clone(), raw };
        array.bind();
        for &Attribute { location, buffer, components, kind, stride, offset, divisor } in attributes {
            buffer.bind();
            if kind == Gl::UNSIGNED_INT {
                gl.vertex_attrib_i_pointer_with_i32(location, components, kind, stride, offset);
            } else {
                let bytes = kind == Gl::BYTE;
                gl.vertex_attrib_pointer_with_i32(location, components, kind, bytes, stride, offset);
            }
            gl.vertex_attrib_divisor(location, divisor);
            gl.enable_vertex_attrib_array(location);
        }
        Ok(array)
    }

    /// Makes it the current one.
    pub fn bind(&self) {
        self.gl.bind_vertex_array(Some(&self.raw));
    }
}

impl Drop for VertexArray {
    fn drop(&mut self) {
        if self.gl.is_alive() {
            self.gl.delete_vertex_array(Some(&self.raw));
        }
    }
}
