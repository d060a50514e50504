//! Pictures and the page of the report, for the worker to save: it encodes what comes as pixels.

use super::{Session, to_js};
use crate::findings::{self, Pictures, Report, shots};
use crate::lens::Lens;
use crate::picture::{Gap, Ground, Paper, SheetOptions, Stage, View, sheet_svg};
use serde::{Deserialize, Serialize};
use wasm_bindgen::prelude::*;

/// What the sheet's picture shows, as the page asks for it; every key has a default.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
struct SheetWishes {
    /// "none", "paper", or the URL of the grid's picture.
    ground: String,
    inner_edges: bool,
    flags: bool,
    names: bool,
    tile: Option<u32>,
}

/// A picture the report's page wants.
#[derive(Serialize)]
struct Wanted {
    width: u32,
    height: u32,
}

/// A camera as the report has it, in the model's coordinates.
#[derive(Deserialize)]
struct PlainCamera {
    eye: [f64; 3],
    target: [f64; 3],
    radius: f64,
}

#[wasm_bindgen]
impl Session {
    /// The sheet as SVG at the map's size. `wishes`: {ground: "none" | "paper" | data URL of the
    /// grid's picture, inner_edges, flags, names, tile}.
    pub fn sheet_svg(&self, wishes: JsValue) -> Result<String, JsError> {
        let wishes: SheetWishes = if wishes.is_undefined() {
            SheetWishes::default()
        } else {
            serde_wasm_bindgen::from_value(wishes).map_err(|error| JsError::new(&error.to_string()))?
        };
        let ground = match wishes.ground.as_str() {
            "" | "none" => Ground::Transparent,
            "paper" => Ground::Paper,
            url if url.starts_with("data:image/") => Ground::Grid(url),
            other => return Err(JsError::new(&["There is no ground called ", other, "."].concat())),
        };
        let names = match &self.report {
            Some(report) if wishes.names => report.shells.as_slice(),
            _ => &[],
        };
        let gaps: &[Gap] = &[];
        let SheetWishes { inner_edges, flags, tile, .. } = wishes;
        let options = SheetOptions { ground, inner_edges, flags, names, gaps, tile };
        Ok(sheet_svg(&self.loaded()?.model, &self.measures, &self.brief, &options)?)
    }

    /// RGBA pixels, rows from the top, of the model from a camera of the report ({eye, target, radius}; nothing: the
    /// whole model) through a lens; where `lit` names shells, all others fade.
    pub fn stage_picture(
        &mut self,
        width: u32,
        height: u32,
        camera: JsValue,
        lens: &str,
        mut lit: Vec<u32>,
    ) -> Result<Vec<u8>, JsError> {
        let lens = Lens::named(lens).ok_or_else(|| JsError::new(&["There is no lens ", lens, "."].concat()))?;
        let camera = if camera.is_undefined() || camera.is_null() {
            None
        } else {
            let plain: PlainCamera =
                serde_wasm_bindgen::from_value(camera).map_err(|error| JsError::new(&error.to_string()))?;
            Some(findings::Camera { eye: plain.eye, target: plain.target, radius: plain.radius })
        };
        lit.sort_unstable();
        self.draw(&View { camera, width_px: width, height_px: height, lens, flags: true, lit: &lit })
    }

    /// The pictures the report's page wants, in order: {width, height} each.
    pub fn pictures_wanted(&self) -> Result<JsValue, JsError> {
        let wanted: Vec<Wanted> = shots(self.made_report()?)
            .iter()
            .map(|view| Wanted { width: view.width_px, height: view.height_px })
            .collect();
        to_js(&wanted)
    }

    /// RGBA pixels of the picture at this place of [`Session::pictures_wanted`].
    pub fn wanted_picture(&mut self, index: usize) -> Result<Vec<u8>, JsError> {
        let report = self.report.take().ok_or_else(no_report)?;
        let drawn = match shots(&report).get(index) {
            Some(view) => self.draw(view),
            None => Err(JsError::new("The page of the report wants no such picture.")),
        };
        self.report = Some(report);
        drawn
    }

    /// The report as one HTML page. `images`: PNG data URLs of the wanted pictures, in their order; empty ones are left out.
    pub fn report_html(&self, images: Vec<String>) -> Result<String, JsError> {
        let report = self.made_report()?;
        let pictures = Pictures::new(&self.loaded()?.model, &self.measures, &self.brief, report, images);
        Ok(findings::html(report, &pictures, &self.brief))
    }

    fn made_report(&self) -> Result<&Report, JsError> {
        self.report.as_ref().ok_or_else(no_report)
    }

    fn draw(&mut self, view: &View) -> Result<Vec<u8>, JsError> {
        let paper = match self.paper.take() {
            Some(paper) => paper,
            None => Paper::new(self.brief.map),
        };
        let drawn = self.loaded().and_then(|loaded| {
            let stage = Stage::new(&loaded.model, &self.measures, &self.brief, &paper);
            Ok(stage.picture(view)?.rgba)
        });
        self.paper = Some(paper);
        drawn
    }
}

fn no_report() -> JsError {
    JsError::new("There is no report yet.")
}
