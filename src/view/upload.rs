//! Brings large arrays to the graphics system in slices, so that the thread is never blocked.

use js_sys::{Object, Uint32Array};
use web_sys::WebGl2RenderingContext as Gl;

use super::arrays::{CornerArrays, LineArrays};
use super::gl::{Attribute, Buffer, Context, GlError, Sampling, Texture, VertexArray};

/// Triangles a slice: 72 bytes each, about 2.4 MB.
const SLICE_TRIANGLES: u32 = 1 << 15;
/// Segments a slice, about 2 MB.
const SLICE_SEGMENTS: u32 = 1 << 16;
/// Rows of triangle data a slice: 32 KiB each.
const SLICE_ROWS: u32 = 64;
/// Texels a row of the triangle data's texture, a power of two; every WebGL2 system has 2048.
pub const TRIANGLES_WIDTH: u32 = 1 << TRIANGLES_WIDTH_LOG2;
/// Its logarithm.
pub const TRIANGLES_WIDTH_LOG2: u32 = 11;

/// One array on its way.
struct Stream {
    buffer: Buffer,
    array: Object,
    /// Elements of the array per triangle or segment.
    each: u32,
    element_bytes: u32,
}

impl Stream {
    fn new(gl: &Context, array: &Object, items: u32, each: u32, element_bytes: u32) -> Result<Self, GlError> {
        let buffer = Buffer::sized(gl, f64::from(items) * f64::from(each * element_bytes))?;
        Ok(Self { buffer, array: array.clone(), each, element_bytes })
    }

    fn write(&self, from: u32, items: u32) {
        self.buffer.write(&self.array, from * self.each, items * self.each, self.element_bytes);
    }
}

/// Streams that arrive side by side.
pub struct Arriving {
    streams: Vec<Stream>,
    /// Attributes of the items.
    pub vertices: VertexArray,
    items: u32,
    arrived: u32,
    slice: u32,
    /// Of a mesh, other uvs on their way, and how many of them are there; the ones before are drawn until all are.
    uvs: Option<(Stream, u32)>,
}

/// Which of a mesh's streams has its uvs.
const UV: usize = 1;

impl Arriving {
    /// A model's corners: position at location 0, uv at 1, normal at 2.
    pub fn mesh(gl: &Context, triangles: u32, corners: &CornerArrays) -> Result<Self, GlError> {
        let streams = vec![
            Stream::new(gl, &corners.position, triangles, 9, 4)?,
            Stream::new(gl, &corners.uv, triangles, 6, 4)?,
            Stream::new(gl, &corners.normal, triangles, 12, 1)?,
        ];
        let vertices = of_corners(gl, &streams)?;
        Ok(Self { streams, vertices, items: triangles, arrived: 0, slice: SLICE_TRIANGLES, uvs: None })
    }

    /// Begins to bring other uvs of the mesh; what else it has stays where it is.
    pub fn begin_uvs(&mut self, gl: &Context, uv: &Object) -> Result<(), GlError> {
        self.uvs = Some((Stream::new(gl, uv, self.items, 6, 4)?, 0));
        self.step_uvs(gl)?;
        Ok(())
    }

    /// Whether other uvs are on their way.
    pub fn awaits_uvs(&self) -> bool {
        self.uvs.is_some()
    }

    /// Brings one more slice of them, once the rest is there, and says whether that was the last.
    pub fn step_uvs(&mut self, gl: &Context) -> Result<bool, GlError> {
        let Some((stream, arrived)) = self.uvs.as_mut().filter(|_| self.arrived == self.items) else {
            return Ok(false);
        };
        let count = self.slice.min(self.items - *arrived);
        stream.write(*arrived, count);
        *arrived += count;
        if *arrived < self.items {
            return Ok(false);
        }
        if let Some((stream, _)) = self.uvs.take() {
            self.streams[UV] = Stream { array: Object::new(), ..stream };
            self.vertices = of_corners(gl, &self.streams)?;
        }
        Ok(true)
    }

    /// Outlines on the stage: ends at locations 0 and 1, shells at 2.
    pub fn stage_lines(gl: &Context, lines: &LineArrays) -> Result<Self, GlError> {
        Self::lines(gl, &lines.stage, 3, &lines.stage_shell, 2, lines.stage.length() / 6)
    }

    /// Outlines on the sheet.
    pub fn sheet_lines(gl: &Context, lines: &LineArrays) -> Result<Self, GlError> {
        Self::lines(gl, &lines.sheet, 2, &lines.sheet_shell, 1, lines.sheet_shell.length())
    }

    fn lines(gl: &Context, ends: &Object, axes: u32, shells: &Object, sides: u32, items: u32) -> Result<Self, GlError> {
        let streams = vec![Stream::new(gl, ends, items, axes * 2, 4)?, Stream::new(gl, shells, items, sides, 4)?];
        let bytes = axes as i32 * 4;
        let end = |location: u32, offset: i32| Attribute {
            location,
            buffer: &streams[0].buffer,
            components: axes as i32,
            kind: Gl::FLOAT,
            stride: bytes * 2,
            offset,
            divisor: 1,
        };
        let sides = Attribute {
            location: 2,
            buffer: &streams[1].buffer,
            components: sides as i32,
            kind: Gl::UNSIGNED_INT,
            stride: 0,
            offset: 0,
            divisor: 1,
        };
        let vertices = VertexArray::new(gl, &[end(0, 0), end(1, bytes), sides])?;
        Ok(Self { streams, vertices, items, arrived: 0, slice: SLICE_SEGMENTS, uvs: None })
    }

    /// Brings one more slice.
    pub fn step(&mut self) {
        let count = self.slice.min(self.items - self.arrived);
        for stream in self.streams.iter().filter(|_| count > 0) {
            stream.write(self.arrived, count);
        }
        self.arrived += count;
        if self.is_whole() {
            // Only what has to be sent again is kept, by the caller.
            self.streams.iter_mut().for_each(|stream| stream.array = Object::new());
        }
    }

    /// Whether all is there.
    pub fn is_whole(&self) -> bool {
        self.arrived == self.items
    }

    /// How many there are.
    pub fn items(&self) -> u32 {
        self.items
    }
}

/// Attributes of a mesh's corners.
fn of_corners(gl: &Context, streams: &[Stream]) -> Result<VertexArray, GlError> {
    let shape = [(3, Gl::FLOAT), (2, Gl::FLOAT), (4, Gl::BYTE)];
    let attributes = (0..).zip(streams).zip(shape).map(|((location, stream), (components, kind))| Attribute {
        location,
        buffer: &stream.buffer,
        components,
        kind,
        stride: 0,
        offset: 0,
        divisor: 0,
    });
    VertexArray::new(gl, &attributes.collect::<Vec<_>>())
}

/// Triangle data (`TriangleTexel`), the last complete one and the one on its way.
#[derive(Default)]
pub struct TriangleData {
    /// What can be drawn with.
    pub texture: Option<Texture>,
    next: Option<(Texture, Uint32Array, u32)>,
}

impl TriangleData {
    /// Starts to bring `data`; what is there stays until it has arrived.
    pub fn begin(&mut self, gl: &Context, data: &Uint32Array) -> Result<(), GlError> {
        let texels = data.length() / 4;
        let height = texels.div_ceil(TRIANGLES_WIDTH).max(1);
        let most = gl.get_parameter(Gl::MAX_TEXTURE_SIZE)?.as_f64().unwrap_or(2048.0) as u32;
        if height > most {
            return Err(GlError::Argument(format!(
                "The model has {texels} triangles; this graphics system can show lenses on {}.",
                most * TRIANGLES_WIDTH
            )));
        }
        let (width, height) = (TRIANGLES_WIDTH as i32, height as i32);
        let texture = Texture::new(gl, 1, Gl::RGBA32UI, width, height, Sampling::Nearest)?;
        self.next = Some((texture, data.clone(), 0));
        Ok(())
    }

    /// Whether some is on its way.
    pub fn is_arriving(&self) -> bool {
        self.next.is_some()
    }

    /// Brings one more slice and says whether that was the last; `None` when all is there already.
    pub fn step(&mut self) -> Result<Option<bool>, GlError> {
        let Some((texture, data, row)) = &mut self.next else { return Ok(None) };
        let texels = data.length() / 4;
        let whole = texels / TRIANGLES_WIDTH;
        let rows = SLICE_ROWS.min(whole - *row);
        let kind = (Gl::RGBA_INTEGER, Gl::UNSIGNED_INT);
        let width = TRIANGLES_WIDTH as i32;
        if rows > 0 {
            let start = *row * TRIANGLES_WIDTH * 4;
            texture.write_rows(kind.0, kind.1, (*row as i32, width, rows as i32), data, start)?;
            *row += rows;
        }
        if *row == whole {
            let rest = (texels - whole * TRIANGLES_WIDTH) as i32;
            if rest > 0 {
                let start = whole * TRIANGLES_WIDTH * 4;
                texture.write_rows(kind.0, kind.1, (whole as i32, rest, 1), data, start)?;
            }
            self.texture = self.next.take().map(|(texture, ..)| texture);
        }
        Ok(Some(self.next.is_none()))
    }
}
