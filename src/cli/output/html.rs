//! Writes reports as HTML pages, one a model.

use std::fs;
use std::path::{Path, PathBuf};

use gridproof::Examined;
use gridproof::brief::Brief;
use gridproof::draw::{Paper, Stage, data_url};
use gridproof::report::{Pictures, html, shots};

use crate::cli::output;
use crate::cli::trouble::Trouble;

/// Where pages go.
pub enum Pages {
    /// The page of the only model.
    File(PathBuf),
    /// A page for each model, named after it.
    Folder(PathBuf),
}

impl Pages {
    /// `out` is the page itself for one model, a folder for several; the folder is made where it is missing.
    pub fn new(out: &Path, models: usize) -> Result<Self, Trouble> {
        if models == 1 && !out.is_dir() {
            return Ok(Self::File(out.to_path_buf()));
        }
        fs::create_dir_all(out).map_err(|error| Trouble::file("cannot make the folder", out, &error))?;
        Ok(Self::Folder(out.to_path_buf()))
    }

    /// Writes the page of the model that was named `path`.
    pub fn write(&self, path: &str, examined: &Examined, brief: &Brief) -> Result<(), Trouble> {
        let out = match self {
            Self::File(file) => file.clone(),
            Self::Folder(folder) => folder.join(page_name(path)),
        };
        output::write(&out, page(examined, brief)?.as_bytes())
    }
}

/// A file's name for the page of the model at `path`: its folders stay in the name, so that no two are the same.
fn page_name(path: &str) -> String {
    let parts: Vec<&str> =
        path.split(['/', '\\', ':']).filter(|part| !part.is_empty() && !matches!(*part, "." | "..")).collect();
    format!("{}.html", parts.join("-"))
}

fn page(examined: &Examined, brief: &Brief) -> Result<String, Trouble> {
    let Examined { model, measures, report } = examined;
    let paper = Paper::new(brief.map.of_sheet());
    let stage = Stage::new(model, measures, brief, &paper);
    let mut images = Vec::new();
    for view in shots(report) {
        let picture = stage.picture(&view).map_err(|error| Trouble::new(error.to_string()))?;
        images.push(data_url("image/png", &output::png(picture.width, picture.height, &picture.rgba)?));
    }
    let pictures = Pictures::new(model, measures, brief, report, images);
    Ok(html(report, &pictures, brief))
}

#[cfg(test)]
mod tests {
    use super::page_name;

    #[test]
    fn pages_are_named_after_models_and_their_folders() {
        assert_eq!(page_name("uploads/ann/lantern.obj"), "uploads-ann-lantern.obj.html");
        assert_eq!(page_name("../lantern.obj"), "lantern.obj.html");
        assert_eq!(page_name("-"), "-.html");
    }
}
