//! Draws the model on the stage and its uv on the sheet, with WebGL2, on one canvas.
//!
//! * `api`: what the page calls. `painter`: what its worker calls. `sight`: the data between them.
//! * `scene`: what is to be drawn. `arrays`: the page's data, kept by reference.
//! * `motion`: where the cameras go; plain arithmetic, tested natively.
//! * `frames`: when what is drawn; `pace`: at which quality, by how long it takes; `queue`: when a query would not
//!   block.
//! * `gl`, `programs`, `upload`, `paper`, `images`: objects in the graphics system. `renderer` draws with it.
//!
//! The mesh is not indexed: three corners a triangle, so that per-triangle data is fetched in the vertex shader by
//! `gl_VertexID / 3` and goes on flat. Each lens is its own program. Stage and sheet are drawn into pictures of four
//! samples a pixel and kept; their alpha carries the class of a surface (within or outside the limits), and the
//! composition draws the contour between classes, a line of constant width whatever the triangles are.
//!
//! So changing the lens uploads nothing. Indexed drawing would need the corners split by shell anyway.

#[cfg_attr(not(target_arch = "wasm32"), allow(dead_code, reason = "its caller needs a browser"))]
mod motion;
#[cfg_attr(not(target_arch = "wasm32"), allow(dead_code, reason = "its caller needs a browser"))]
mod scene;
#[cfg_attr(
    not(target_arch = "wasm32"),
    allow(dead_code, unused_macros, unused_imports, reason = "its caller needs a browser")
)]
mod shader_text;
#[cfg_attr(not(target_arch = "wasm32"), allow(dead_code, reason = "its caller needs a browser"))]
mod sight;

#[cfg(target_arch = "wasm32")]
mod api;
#[cfg(target_arch = "wasm32")]
mod arrays;
#[cfg(target_arch = "wasm32")]
mod frames;
#[cfg(target_arch = "wasm32")]
mod gl;
#[cfg(target_arch = "wasm32")]
mod images;
#[cfg(target_arch = "wasm32")]
mod pace;
#[cfg(target_arch = "wasm32")]
mod painter;
#[cfg(target_arch = "wasm32")]
mod paper;
#[cfg(target_arch = "wasm32")]
mod programs;
#[cfg(target_arch = "wasm32")]
mod queue;
#[cfg(target_arch = "wasm32")]
mod renderer;
#[cfg(target_arch = "wasm32")]
mod upload;

#[cfg(target_arch = "wasm32")]
pub use api::{View, clear_area};
#[cfg(target_arch = "wasm32")]
pub use painter::Painter;
