//! Pictures without a browser: the sheet as SVG (and natively as PNG), the model as pixels.
//!
//! * [`sheet`]: the layout as a template to paint over; one drawing, [`sheet_svg`], whoever shows it.
//! * [`stage`]: the model seen from a camera, with the grid and the lenses' colours, patterns and lines.
//!
//! Deterministic: the same model, brief and view give the same bytes on one system; between systems the library's
//! trigonometry and logarithms may differ in a last digit, and a pixel by one code with it.

pub(crate) mod outline;
mod paper;
mod raster;
mod seams;
pub mod sheet;
#[cfg(not(target_arch = "wasm32"))]
mod sheet_png;
pub mod stage;
pub(crate) mod written;

pub use paper::Paper;
pub use sheet::{Ground, SheetError, SheetOptions, sheet_svg};
#[cfg(not(target_arch = "wasm32"))]
pub use sheet_png::sheet_pixels;
pub use stage::{SizeError, Stage, View};
pub use written::data_url;
