//! The demo scenario: a brass signal lantern for a harbour museum's kiosk, in two versions of the same geometry.
//!
//! [`revised`] is ready for painting; [`draft`] has six faults of known size in its UVs, given as [`Planted`] data.
//! Everything is computed from the measures in `parts`; two runs give the same bytes.

#![allow(
    dead_code,
    unused_imports,
    reason = "the generator and the tests include this module, and neither uses all of it"
)]

mod faults;
mod layout;
mod parts;
mod random;
mod solid;
mod write;

use std::fmt;

pub use faults::{Kind, Planted};
pub use layout::{BORDER_PX, GAP_PX, SHEET_PX};
pub use random::{Expected, Faulty, random};
use solid::Part;

/// Name of the material library both versions use.
pub const LIBRARY: &str = "lantern.mtl";

/// One version of the lantern.
pub struct Lantern {
    /// The OBJ text.
    pub obj: String,
    /// The MTL text, the same for both versions.
    pub mtl: String,
    /// What is wrong with it; empty for the revised version.
    pub planted: Vec<Planted>,
    /// Texel density of everything without a planted fault, sheet px per cm.
    pub px_per_cm: f64,
}

/// The lantern's shells found no room on the sheet: its measures have outgrown the layout.
#[derive(Debug)]
pub struct NoRoom;

impl fmt::Display for NoRoom {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        f.write_str("the lantern's shells do not fit on the sheet; make parts smaller or fewer")
    }
}

impl std::error::Error for NoRoom {}

/// The lantern with everything right.
pub fn revised() -> Result<Lantern, NoRoom> {
    let (parts, px_per_cm) = laid_out()?;
    Ok(finished(&parts, "Signal lantern, revised UVs", Vec::new(), px_per_cm))
}

/// The lantern with planted faults.
pub fn draft() -> Result<Lantern, NoRoom> {
    let (mut parts, px_per_cm) = laid_out()?;
    let planted = faults::plant(&mut parts, px_per_cm).ok_or(NoRoom)?;
    Ok(finished(&parts, "Signal lantern, draft UVs", planted, px_per_cm))
}

fn laid_out() -> Result<(Vec<Part>, f64), NoRoom> {
    let mut parts = parts::parts();
    let islands: Vec<_> = parts.iter().flat_map(|part| &part.shells).map(solid::Shell::outlines).collect();
    let arrangement = layout::arrange(&islands).ok_or(NoRoom)?;
    let shells = parts.iter_mut().flat_map(|part| &mut part.shells);
    for (shell, offset) in shells.zip(arrangement.offsets) {
        shell.uv.iter_mut().for_each(|q| *q = *q * arrangement.scale + offset);
    }
    Ok((parts, arrangement.scale))
}

fn finished(parts: &[Part], title: &str, planted: Vec<Planted>, px_per_cm: f64) -> Lantern {
    Lantern { obj: write::obj(parts, title, LIBRARY), mtl: write::mtl(), planted, px_per_cm }
}
