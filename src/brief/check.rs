//! Which keys and values a brief may have; command, page and links all check here.
//!
//! A misspelt key is refused, never ignored: a requirement must not be dropped silently. The error names a similar
//! known key.

use super::sheets::GROUP_KEYS;
use super::{Brief, MAX_SHEETS, SheetGroup};
use crate::util::packed;
use std::fmt;

/// Every key, by section, in the order in which people are shown them. `density_factor` has names of the model for keys,
/// `rubric` the kinds of findings, in the order in which the page shows its checks.
pub const KEYS: [(&str, &[&str]); 11] = [
    ("map", &["width_px", "height_px", "tiles", "sheets", "unit"]),
    ("density", &["target_px_per_unit", "tolerance_percent"]),
    ("stretch", &["max_anisotropy", "must_fix_anisotropy", "max_share_over"]),
    ("sharing", &["mirrored", "stacked", "partial_overlap"]),
    ("padding", &["between_px", "border_px"]),
    ("coverage", &["min_share"]),
    ("seams", &["front", "max_front_over_diagonal"]),
    ("tilt", &["up"]),
    ("text", &["groups"]),
    (DENSITY_FACTOR, &[]),
    (
        RUBRIC,
        &[
            RUBRIC_MAXIMUM,
            "unmapped",
            "inside-out",
            "flipped",
            "folded",
            "stretch",
            "collapsed",
            "density",
            "mirrored",
            "stacked",
            "partial-overlap",
            "self-overlap",
            "outside",
            "across-tiles",
            "padding",
            "border",
            "coverage",
            "text",
            "seams",
            "tilt",
            "sheets",
            "no-area",
            "cut-short",
            "left-out",
        ],
    ),
];

/// The section whose keys are the model's own names.
const DENSITY_FACTOR: &str = "density_factor";
/// The section that says how many points each check is worth.
const RUBRIC: &str = "rubric";
/// Its key that is not a check: the most points that a model can get.
pub const RUBRIC_MAXIMUM: &str = "maximum";
/// Key of the groups of materials.
pub(crate) const SHEETS: &str = "map.sheets";

/// Largest side of a map, px: what current graphics cards take as one texture (WebGL2 implementations report 16384 and
/// seldom more; from memory).
pub const MAX_MAP_PX: u32 = 16_384;

/// Largest magnitude of numbers, so that no share or ratio of them overflows.
const RANGE: std::ops::RangeInclusive<f64> = 1e-30..=1e30;

/// Keys this similar are taken for a misspelling, as Jaro's and Winkler's similarity, 0..1. Misspellings in the tests
/// below are above 0.86; of keys in one section, width_px and height_px are the most alike, at 0.75.
const ALIKE_MIN: f64 = 0.8;

/// What is wrong with a brief, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BriefError {
    /// The key concerned, such as `stretch.max_anisotropy`; empty where it is about the whole text.
    pub key: String,
    /// Line in the text, from 1, if there is a text.
    pub line: Option<usize>,
    /// One sentence: what is wrong, and what would be right.
    pub message: String,
}

impl BriefError {
    pub(super) fn new(key: impl Into<String>, message: impl Into<String>) -> Self {
        Self { key: key.into(), line: None, message: message.into() }
    }
}

impl fmt::Display for BriefError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        f.write_str(&self.message)
    }
}

impl std::error::Error for BriefError {}

/// Why a key is invalid; `None` if it is valid. `section` is empty for the sections themselves, and `map.sheets` for
/// the groups of materials.
pub fn unknown_key(section: &str, key: &str) -> Option<BriefError> {
    let sections = KEYS.map(|(name, _)| name);
    let known = match section {
        "" => &sections[..],
        SHEETS => &GROUP_KEYS[..],
        section => KEYS.iter().find(|(name, _)| *name == section).map_or(&[][..], |(_, keys)| keys),
    };
    if section == DENSITY_FACTOR || known.contains(&key) {
        return None;
    }
    let path = if section.is_empty() { key.to_owned() } else { [section, ".", key].concat() };
    let home = KEYS.iter().find(|(_, keys)| keys.contains(&key));
    let way_out = match (home, closest(key, known)) {
        (_, Some(name)) => [" Did you mean ", name, "?"].concat(),
        (Some((home, _)), None) => [" It belongs to the section ", home, "."].concat(),
        (None, None) if section.is_empty() => [" The sections are ", &known.join(", "), "."].concat(),
        (None, None) => [" The keys of ", section, " are ", &known.join(", "), "."].concat(),
    };
    let message = ["A brief has no key ", &path, ".", &way_out].concat();
    Some(BriefError::new(path, message))
}

/// The name most like `key`, if any is alike enough.
fn closest<'a>(key: &str, names: &[&'a str]) -> Option<&'a str> {
    names
        .iter()
        .map(|&name| (strsim::jaro_winkler(&key.to_ascii_lowercase(), name), name))
        .filter(|(alike, _)| *alike >= ALIKE_MIN)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

impl Brief {
    /// Checks that every value is in its range; the first that is not is named.
    pub fn validate(&self) -> Result<(), BriefError> {
        for (key, side) in [("map.width_px", self.map.width_px), ("map.height_px", self.map.height_px)] {
            hold(key, f64::from(side), (1..=MAX_MAP_PX).contains(&side), "a whole number of px from 1 to 16384")?;
        }
        hold_groups(self.map.sheets.groups())?;
        for (key, value) in [
            ("density.target_px_per_unit", self.density.target_px_per_unit),
            ("density.tolerance_percent", Some(self.density.tolerance_percent)),
        ] {
            hold_some(key, value, |value| value > 0.0, "a number above 0")?;
        }
        for (key, anisotropy) in [
            ("stretch.max_anisotropy", self.stretch.max_anisotropy),
            ("stretch.must_fix_anisotropy", self.stretch.must_fix_anisotropy),
        ] {
            hold(key, anisotropy, anisotropy >= 1.0, "a number from 1, which is a square, upwards")?;
        }
        for (key, share) in [
            ("stretch.max_share_over", Some(self.stretch.max_share_over)),
            ("coverage.min_share", Some(self.coverage.min_share)),
        ] {
            hold_some(key, share, |share| (0.0..=1.0).contains(&share), "a share from 0 to 1, such as 0.05 for 5 %")?;
        }
        let length = self.seams.max_front_over_diagonal;
        hold_some("seams.max_front_over_diagonal", length, |length| length >= 0.0, "a number, 0 or more")?;
        for (key, px) in
            [("padding.between_px", self.padding.between_px), ("padding.border_px", self.padding.border_px)]
        {
            hold_some(key, px, |px| px >= 0.0, "a number of px, 0 or more")?;
        }
        for (name, &factor) in &self.density_factor {
            hold(
                &[DENSITY_FACTOR, ".", name].concat(),
                factor,
                factor > 0.0,
                "a factor above 0, such as 2 for twice the density",
            )?;
        }
        self.hold_rubric()
    }

    /// What all checks are worth together is no more than the maximum, or no model could reach it.
    fn hold_rubric(&self) -> Result<(), BriefError> {
        let mut sum = 0.0;
        for (key, &points) in &self.rubric {
            // The names are values of the map here: every source but a program's own has checked them already.
            if let Some(error) = unknown_key(RUBRIC, key) {
                return Err(error);
            }
            let path = [RUBRIC, ".", key].concat();
            let is_maximum = key == RUBRIC_MAXIMUM;
            let wanted = if is_maximum { "a number of points above 0" } else { "a number of points, 0 or more" };
            hold(&path, points, points > 0.0 || (points == 0.0 && !is_maximum), wanted)?;
            sum += if is_maximum { 0.0 } else { points };
        }
        match self.rubric.get(RUBRIC_MAXIMUM) {
            Some(&maximum) if sum > maximum * (1.0 + 1e-9) => Err(BriefError::new(
                "rubric.maximum",
                [
                    "rubric.maximum is ",
                    &maximum.to_string(),
                    ", and the checks are worth ",
                    &sum.to_string(),
                    " points together; it has to be at least as much.",
                ]
                .concat(),
            )),
            _ => Ok(()),
        }
    }
}

fn hold_groups(groups: &[SheetGroup]) -> Result<(), BriefError> {
    let refuse = |what: &[&str]| Err(BriefError::new(SHEETS, [SHEETS, ": "].concat() + &what.concat() + "."));
    if groups.len() > MAX_SHEETS {
        return refuse(&["there are ", &groups.len().to_string(), " groups; at most 256 can be"]);
    }
    let mut materials: Vec<&str> = Vec::new();
    for (number, group) in groups.iter().enumerate() {
        if group.name.trim().is_empty() {
            return refuse(&["a group has no name"]);
        }
        if groups[..number].iter().any(|other| other.name == group.name) {
            return refuse(&["two groups are called ", &group.name]);
        }
        if group.materials.is_empty() {
            return refuse(&["the group ", &group.name, " names no materials"]);
        }
        for side in [group.width_px, group.height_px].into_iter().flatten() {
            if !(1..=MAX_MAP_PX).contains(&side) {
                let wanted = "; it has to be a whole number of px from 1 to 16384";
                return refuse(&["a side of the group ", &group.name, " is ", &side.to_string(), wanted]);
            }
        }
        materials.extend(group.materials.iter().map(String::as_str));
    }
    materials = packed::ordered(materials, |a, b| a.cmp(b));
    match materials.windows(2).find(|two| two[0] == two[1]) {
        Some(twice) => refuse(&["the material ", twice[0], " is named twice"]),
        None => Ok(()),
    }
}

fn hold_some(key: &str, value: Option<f64>, fits: impl Fn(f64) -> bool, wanted: &str) -> Result<(), BriefError> {
    value.map_or(Ok(()), |value| hold(key, value, fits(value), wanted))
}

fn hold(key: &str, value: f64, fits: bool, wanted: &str) -> Result<(), BriefError> {
    // Refuse what only overflows: NaN, infinities, and what is many times larger or smaller than any model.
    let in_range = value == 0.0 || RANGE.contains(&value.abs());
    if fits && in_range {
        return Ok(());
    }
    if fits && value.is_finite() {
        return Err(BriefError::new(
            key,
            [key, " is out of range; it has to be ", wanted, ", between 1e-30 and 1e30."].concat(),
        ));
    }
    Err(BriefError::new(key, [key, " is ", &value.to_string(), "; it has to be ", wanted, "."].concat()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::brief::SheetsAsked;

    #[test]
    fn the_list_of_keys_is_that_of_the_brief() {
        let brief = serde_json::to_value(Brief::default()).expect("a brief is plain data");
        let sections = brief.as_object().expect("a brief has sections");
        assert_eq!(sections.len(), KEYS.len());
        for (section, keys) in KEYS.into_iter().filter(|(section, _)| *section != RUBRIC) {
            let mut listed = keys.to_vec();
            listed.sort_unstable();
            let mut own: Vec<_> = sections[section].as_object().expect("a section has keys").keys().collect();
            own.sort_unstable();
            assert_eq!(own, listed, "{section}");
        }
    }

    #[test]
    fn misspelt_keys_are_refused_with_the_nearest_key() {
        for (section, slip, meant) in [
            ("stretch", "max_anisotropi", "max_anisotropy"),
            ("stretch", "max_anistropy", "max_anisotropy"),
            ("stretch", "maximum_anisotropy", "max_anisotropy"),
            ("map", "widht_px", "width_px"),
            ("map", "width", "width_px"),
            ("map", "Tiles", "tiles"),
            ("sharing", "mirored", "mirrored"),
            ("density", "tolerance", "tolerance_percent"),
            ("padding", "between", "between_px"),
            ("", "streching", "stretch"),
            ("", "densities", "density"),
            ("", "texts", "text"),
            ("rubric", "partial_overlap", "partial-overlap"),
            ("rubric", "max", "maximum"),
            ("", "rubrik", "rubric"),
        ] {
            let error = unknown_key(section, slip).expect("it is no key");
            assert!(error.message.ends_with(&format!("Did you mean {meant}?")), "{}", error.message);
        }
        let error = unknown_key("density", "max_anisotropy").expect("it is in the wrong section");
        assert!(error.message.ends_with("It belongs to the section stretch."), "{}", error.message);
        let error = unknown_key("tilt", "colour").expect("it is no key");
        assert!(error.message.ends_with("The keys of tilt are up."), "{}", error.message);
        assert_eq!(unknown_key("density_factor", "any name at all"), None);
        assert!(KEYS.iter().all(|(section, keys)| keys.iter().all(|key| unknown_key(section, key).is_none())));
    }

    #[test]
    fn values_out_of_range_are_refused_by_name() {
        assert_eq!(Brief::default().validate(), Ok(()));
        let refused = |change: &dyn Fn(&mut Brief)| {
            let mut brief = Brief::default();
            change(&mut brief);
            brief.validate().expect_err("it is out of range").key
        };
        for side in [0, MAX_MAP_PX + 1] {
            assert_eq!(refused(&|brief| brief.map.width_px = side), "map.width_px");
            assert_eq!(refused(&|brief| brief.map.height_px = side), "map.height_px");
        }
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0] {
            assert_eq!(refused(&|b| b.density.target_px_per_unit = Some(bad)), "density.target_px_per_unit");
            assert_eq!(refused(&|b| b.density.tolerance_percent = bad), "density.tolerance_percent");
            assert_eq!(refused(&|b| b.stretch.max_anisotropy = bad), "stretch.max_anisotropy");
            assert_eq!(refused(&|b| b.stretch.max_share_over = bad), "stretch.max_share_over");
            assert_eq!(refused(&|b| b.coverage.min_share = bad), "coverage.min_share");
            assert_eq!(refused(&|b| b.stretch.must_fix_anisotropy = bad), "stretch.must_fix_anisotropy");
            assert_eq!(refused(&|b| b.seams.max_front_over_diagonal = Some(bad)), "seams.max_front_over_diagonal");
            assert_eq!(refused(&|b| b.padding.between_px = Some(bad)), "padding.between_px");
            assert_eq!(refused(&|b| b.padding.border_px = Some(bad)), "padding.border_px");
            assert_eq!(refused(&|b| b.density_factor.extend([("handle".into(), bad)])), "density_factor.handle");
        }
        for bad in [1e31, 1e-31] {
            assert_eq!(refused(&|b| b.density.target_px_per_unit = Some(bad)), "density.target_px_per_unit");
            assert_eq!(refused(&|b| b.padding.border_px = Some(bad)), "padding.border_px");
            assert_eq!(refused(&|b| b.density_factor.extend([("handle".into(), bad)])), "density_factor.handle");
        }
        assert_eq!(refused(&|b| b.stretch.max_anisotropy = 0.99), "stretch.max_anisotropy");
        assert_eq!(refused(&|b| b.coverage.min_share = 1.01), "coverage.min_share");
        assert_eq!(refused(&|b| b.density.tolerance_percent = 0.0), "density.tolerance_percent");
        assert_eq!(refused(&|b| b.density_factor.extend([("handle".into(), 0.0)])), "density_factor.handle");
    }

    #[test]
    fn a_rubric_is_points_for_checks_and_no_more_than_its_maximum() {
        let with = |points: &[(&str, f64)]| {
            let rubric = points.iter().map(|&(key, points)| (key.to_owned(), points)).collect();
            Brief { rubric, ..Brief::default() }.validate()
        };
        assert_eq!(with(&[("stretch", 4.0), ("flipped", 0.0), ("maximum", 4.0)]), Ok(()));
        assert_eq!(with(&[("stretch", 0.1), ("flipped", 0.2), ("maximum", 0.3)]), Ok(()), "rounding is no fault");
        for (points, key, reason) in [
            (
                &[("stretch", -1.0)][..],
                "rubric.stretch",
                "rubric.stretch is -1; it has to be a number of points, 0 or more.",
            ),
            (&[("maximum", 0.0)], "rubric.maximum", "rubric.maximum is 0; it has to be a number of points above 0."),
            (&[("stretch", f64::NAN)], "rubric.stretch", "is NaN"),
            (&[("streched", 1.0)], "rubric.streched", "Did you mean stretch?"),
            (
                &[("stretch", 4.0), ("padding", 3.0), ("maximum", 6.0)],
                "rubric.maximum",
                "rubric.maximum is 6, and the checks are worth 7 points together",
            ),
        ] {
            let error = with(points).expect_err(reason);
            assert!(error.key == key && error.message.contains(reason), "{error}");
        }
    }

    #[test]
    fn groups_of_materials_have_a_name_and_each_material_once() {
        let group = |name: &str, materials: &[&str]| SheetGroup {
            name: name.to_owned(),
            materials: materials.iter().map(|&name| name.to_owned()).collect(),
            ..SheetGroup::default()
        };
        let with = |groups: Vec<SheetGroup>| {
            let mut brief = Brief::default();
            brief.map.sheets = SheetsAsked::Groups(groups);
            brief.validate()
        };
        assert_eq!(with(vec![group("metal", &["brass", "iron"]), group("glass", &["glass", ""])]), Ok(()));
        for (groups, reason) in [
            (vec![group(" ", &["brass"])], "a group has no name."),
            (vec![group("a", &["brass"]), group("a", &["iron"])], "two groups are called a."),
            (vec![group("a", &[])], "the group a names no materials."),
            (vec![group("a", &["brass"]), group("b", &["brass"])], "the material brass is named twice."),
            (vec![SheetGroup { width_px: Some(0), ..group("a", &["brass"]) }], "a side of the group a is 0; "),
            (vec![SheetGroup { height_px: Some(16_385), ..group("a", &["brass"]) }], "is 16385; "),
            ((0..257).map(|n| group(&n.to_string(), &[&n.to_string()])).collect(), "there are 257 groups"),
        ] {
            let error = with(groups).expect_err(reason);
            assert!(error.key == "map.sheets" && error.message.contains(reason), "{error}");
        }
        let error = unknown_key("map.sheets", "material").expect("it is no key");
        assert!(error.message.ends_with("Did you mean materials?"), "{}", error.message);
    }
}
