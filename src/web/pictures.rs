//! Pictures and the page of the report, for the worker to save: it encodes what comes as pixels.

use super::{Session, to_js};
use crate::draw::{Ground, Paper, SheetOptions, View, Viewpoint, sheet_svg};
use crate::lens::Lens;
use crate::report::{self, Pictures, Report, shots};
use serde::Serialize;
use tsify::Tsify;
use wasm_bindgen::prelude::*;

/// A picture the report's page wants.
#[derive(Serialize, Tsify)]
#[tsify(rename = "PictureWanted")]
struct Wanted {
    width: u32,
    height: u32,
}

#[wasm_bindgen]
impl Session {
    /// The sheet as SVG at its map's size. `ground`: "none", "paper", or the data URL of the grid's picture; `tile`: one
    /// UDIM tile instead of all in use; `sheet`: its place in the report's list, the first where it is left out.
    pub fn sheet_svg(
        &self,
        ground: &str,
        inner_edges: bool,
        flags: bool,
        names: bool,
        tile: Option<u32>,
        sheet: Option<usize>,
    ) -> Result<String, JsError> {
        let ground = match ground {
            "none" => Ground::Transparent,
            "paper" => Ground::Paper,
            url if url.starts_with("data:image/") => Ground::Grid(url),
            other => return Err(JsError::new(&["There is no ground called ", other, "."].concat())),
        };
        let names = match &self.report {
            Some(report) if names => report.shell_names(),
            _ => Vec::new(),
        };
        let options = SheetOptions {
            ground,
            inner_edges,
            flags,
            names: &names,
            gaps: &self.measures.padding.gaps,
            tile,
            sheet: sheet.unwrap_or(0),
        };
        Ok(sheet_svg(&self.loaded()?.model, &self.measures, &self.brief, &options)?)
    }

    /// RGBA pixels, rows from the top, of the model through a lens. `camera`: a camera of the report as eye x, y, z,
    /// target x, y, z and radius; empty: the whole model. `flags`: patterns over the grid. Where `lit` names shells,
    /// rising, all others fade.
    pub fn stage_picture(
        &self,
        width: u32,
        height: u32,
        camera: &[f64],
        lens: &str,
        flags: bool,
        lit: &[u32],
    ) -> Result<Vec<u8>, JsError> {
        let lens = Lens::named(lens).ok_or_else(|| JsError::new(&["There is no lens ", lens, "."].concat()))?;
        let camera = match *camera {
            [] => None,
            [x, y, z, tx, ty, tz, radius] if camera.iter().all(|number| number.is_finite()) => {
                Some(Viewpoint { eye: [x, y, z], target: [tx, ty, tz], radius })
            }
            _ => return Err(JsError::new("A camera is seven finite numbers, or none.")),
        };
        let view = View { camera, width_px: width, height_px: height, lens, flags, lit };
        self.draw(Paper::LONGEST_PX, |stage| stage.picture(&view))
    }

    /// The pictures the report's page wants, in order: {width, height} each.
    #[wasm_bindgen(unchecked_return_type = "PictureWanted[]")]
    pub fn pictures_wanted(&self) -> Result<JsValue, JsError> {
        let wanted: Vec<Wanted> = shots(self.made_report()?)
            .iter()
            .map(|view| Wanted { width: view.width_px, height: view.height_px })
            .collect();
        to_js(&wanted)
    }

    /// RGBA pixels of the picture at this place of [`Session::pictures_wanted`].
    pub fn wanted_picture(&self, index: usize) -> Result<Vec<u8>, JsError> {
        match shots(self.made_report()?).get(index) {
            Some(view) => self.draw(Paper::LONGEST_PX, |stage| stage.picture(view)),
            None => Err(JsError::new("The page of the report wants no such picture.")),
        }
    }

    /// The report as one HTML page. `images`: PNG data URLs of the wanted pictures, in their order; empty ones are left out.
    pub fn report_html(&self, images: Vec<String>) -> Result<String, JsError> {
        let report = self.made_report()?;
        let pictures = Pictures::new(&self.loaded()?.model, &self.measures, &self.brief, report, images);
        Ok(report::html(report, &pictures, &self.brief))
    }

    fn made_report(&self) -> Result<&Report, JsError> {
        self.report.as_ref().ok_or_else(no_report)
    }
}

fn no_report() -> JsError {
    JsError::new("There is no report yet.")
}
