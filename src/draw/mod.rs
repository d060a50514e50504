//! Where things are in a picture, and pictures without a browser: the sheet as SVG (and natively as PNG), the model as pixels.
//!
//! * [`camera`], [`sheet_camera`], [`clear`], `ruler`: where things are; plain arithmetic.
//! * [`sheet`]: the layout as a template to paint over; one drawing, [`sheet_svg`], for all uses.
//! * [`stage`]: the model seen from a camera, with the grid and the lenses' colours, patterns and lines.
//!
//! Deterministic: the same model, brief and view give the same bytes on one system; between systems the library's
//! trigonometry and logarithms may differ in a last digit, and a pixel by one code with it.

pub mod camera;
pub mod clear;
pub(crate) mod outline;
mod paper;
mod raster;
#[cfg_attr(not(target_arch = "wasm32"), allow(dead_code, reason = "its caller needs a browser"))]
pub(crate) mod ruler;
mod seams;
pub mod sheet;
pub mod sheet_camera;
#[cfg(not(target_arch = "wasm32"))]
mod sheet_png;
pub mod stage;
pub(crate) mod written;

pub use paper::Paper;
pub use sheet::{Ground, SheetError, SheetOptions, ShellName, sheet_svg};
#[cfg(not(target_arch = "wasm32"))]
pub use sheet_png::sheet_pixels;
pub use stage::{SizeError, Stage, View, Viewpoint};
pub use written::data_url;
