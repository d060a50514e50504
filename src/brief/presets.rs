//! Ready-made briefs for usual jobs. All values: common practice, no source.

use super::{Brief, Density, Map, Policy, Sharing, Stretch, Tiles, Unit};

/// A ready-made brief.
#[derive(Clone, Copy, Debug)]
pub struct Preset {
    /// For command lines and links: lower case, digits, hyphens. Never changes.
    pub name: &'static str,
    /// For people.
    pub title: &'static str,
    /// Its values.
    pub brief: fn() -> Brief,
}

/// All presets, small maps first. The names are stable.
pub const PRESETS: [Preset; 7] = [
    Preset { name: "small-prop-512", title: "512 map, small prop", brief: small_prop_512 },
    Preset { name: "prop-1024", title: "1024 map, prop", brief: || square(1024) },
    Preset { name: "halves-1024", title: "1024 map, mirrored halves and stacks allowed", brief: halves_1024 },
    Preset { name: "prop-2048", title: "2048 map, prop (the defaults)", brief: || square(2048) },
    Preset { name: "first-person-2048", title: "2048 map, 10.24 px/cm for close views", brief: first_person_2048 },
    Preset { name: "hero-prop-4096", title: "4096 map, hero prop", brief: hero_prop_4096 },
    Preset { name: "udim-4096", title: "UDIM tiles, 4096 each", brief: udim_4096 },
];

impl Preset {
    /// The preset of that name.
    pub fn named(name: &str) -> Option<&'static Preset> {
        PRESETS.iter().find(|preset| preset.name == name)
    }
}

fn square(side_px: u32) -> Brief {
    let map = Map { width_px: side_px, height_px: side_px, ..Map::default() };
    Brief { map, ..Brief::default() }
}

/// Seen from far away: more stretch and less even density than usual are not visible.
fn small_prop_512() -> Brief {
    Brief {
        stretch: Stretch { max_anisotropy: 1.5, max_share_over: 0.1, ..Stretch::default() },
        density: Density { tolerance_percent: 25.0, ..Density::default() },
        ..square(512)
    }
}

/// Texture space is spared on purpose: only accidental overlaps are wrong.
fn halves_1024() -> Brief {
    Brief {
        sharing: Sharing { mirrored: Policy::Allow, stacked: Policy::Allow, partial_overlap: Policy::MustFix },
        ..square(1024)
    }
}

/// 1024 px a metre.
fn first_person_2048() -> Brief {
    let mut brief = square(2048);
    brief.map.unit = Unit::Cm;
    brief.density.target_px_per_unit = Some(10.24);
    brief
}

/// Looked at from all sides and close: hardly any stretch, even density, no overlaps.
fn hero_prop_4096() -> Brief {
    Brief {
        stretch: Stretch { max_anisotropy: 1.15, max_share_over: 0.02, ..Stretch::default() },
        density: Density { tolerance_percent: 10.0, ..Density::default() },
        sharing: Sharing { mirrored: Policy::MustFix, stacked: Policy::MustFix, partial_overlap: Policy::MustFix },
        ..square(4096)
    }
}

fn udim_4096() -> Brief {
    let mut brief = square(4096);
    brief.map.tiles = Tiles::Udim;
    brief
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn presets_are_valid_and_distinct() {
        for (index, preset) in PRESETS.iter().enumerate() {
            assert_eq!((preset.brief)().validate(), Ok(()), "{}", preset.name);
            assert!(preset.name.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-'));
            for other in &PRESETS[..index] {
                assert!(
                    preset.name != other.name && preset.title != other.title && (preset.brief)() != (other.brief)()
                );
            }
            assert!(Preset::named(preset.name).is_some_and(|found| found.title == preset.title));
        }
        assert!(PRESETS.is_sorted_by_key(|preset| (preset.brief)().map.width_px));
        assert_eq!(Preset::named("prop-2048").map(|preset| (preset.brief)()), Some(Brief::default()));
    }
}
