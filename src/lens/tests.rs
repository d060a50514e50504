use super::*;

fn code(colour: [u8; 3]) -> u32 {
    u32::from(colour[0]) << 16 | u32::from(colour[1]) << 8 | u32::from(colour[2])
}

/// Crameri's bilbao in 9 steps, computed with the Python package cmcrameri 1.10; ours runs from the light end.
#[test]
fn stretch_is_bilbao_from_its_light_end() {
    let published = [0x4C0001, 0x78292F, 0x994E51, 0xA36B59, 0xA9825E, 0xB09B66, 0xBFB897, 0xCECDC7, 0xFFFFFF];
    let scale = Lens::Stretch.scale();
    for (step, expected) in published.into_iter().enumerate() {
        let at = (step as f32 * 255.0 / 8.0).round() as usize;
        assert_eq!(code(scale[255 - at]), expected, "step {step}");
    }
}

/// A surface without stretch is as neutral as paper: no hue that could be taken for a finding, up to a twentieth over.
#[test]
fn no_stretch_has_no_hue() {
    let scale = Lens::Stretch.scale();
    let last = (Lens::Stretch.position(1.05).unwrap() * 255.0) as usize;
    for entry in &scale[..=last] {
        let (least, most) = (entry.iter().min().unwrap(), entry.iter().max().unwrap());
        assert!(*least > 215 && most - least < 6, "{entry:?} is not neutral");
    }
}

/// ColorBrewer PuOr, 11 steps, computed with matplotlib 3.11.2.
#[test]
fn size_is_puor_with_a_neutral_middle() {
    let scale = Lens::Density.scale();
    for (step, &expected) in PUOR.iter().enumerate() {
        let at = step as f32 * 25.5;
        if at.fract() == 0.0 {
            assert_eq!(code(scale[at as usize]), expected, "step {step}");
        }
    }
    for entry in [scale[127], scale[128]] {
        let (least, most) = (entry.iter().min().unwrap(), entry.iter().max().unwrap());
        assert!(*least > 240 && most - least < 8, "{entry:?} is not neutral");
    }
}

/// Darker is worse, also in print: relative luminance never rises along Stretch.
#[test]
fn stretch_darkens_steadily() {
    let luminance = |[r, g, b]: [u8; 3]| 0.2126 * f64::from(r) + 0.7152 * f64::from(g) + 0.0722 * f64::from(b);
    let scale = Lens::Stretch.scale();
    for pair in scale.windows(2) {
        assert!(luminance(pair[1]) <= luminance(pair[0]) + 0.5, "{pair:?}");
    }
}

#[test]
fn kinds_are_bands_in_the_order_named() {
    let scale = Lens::Flipped.scale();
    assert_eq!([scale[0], scale[128], scale[255]], [PAPER, FLIPPED, FOLDED]);
    let scale = Lens::Overlaps.scale();
    assert_eq!([scale[0], scale[64], scale[128], scale[255]], [PAPER, MIRRORED, STACKED, PARTIAL_OVERLAP]);
}

#[test]
fn positions_run_from_end_to_end() {
    assert_eq!(Lens::Stretch.position(1.0), Some(0.0));
    assert_eq!(Lens::Stretch.position(2.0), Some(0.5));
    assert_eq!(Lens::Stretch.position(f32::INFINITY), Some(1.0));
    assert_eq!(Lens::Stretch.position(f32::NAN), None);
    assert_eq!(Lens::Density.position(0.0), Some(0.5));
    assert_eq!(Lens::Density.position(-9.0), Some(0.0));
    assert_eq!(Lens::Density.position(1.0), Some(0.75));
    assert_eq!(Lens::Overlaps.position(1.0), None);
}

#[test]
fn names_find_their_lens_and_nothing_else() {
    for lens in Lens::ALL {
        assert_eq!(Lens::named(lens.name()), Some(lens));
    }
    assert_eq!(Lens::named("Grid"), None);
}

#[test]
fn every_half_survives_the_way_there_and_back() {
    for bits in 0..=u16::MAX {
        let value = half_to_f32(bits);
        let back = half_from_f32(value);
        if value.is_nan() {
            assert_eq!(back, 0x7E00);
        } else {
            assert_eq!(back, bits, "{bits:#06x} is {value}");
        }
    }
}

/// Nearest, ties to even: checked against the two neighbours of each half, and at their exact middle.
#[test]
fn halves_round_to_the_nearest_and_ties_to_even() {
    for bits in 0..0x7BFF_u16 {
        let (low, high) = (half_to_f32(bits), half_to_f32(bits + 1));
        let middle = low + (high - low) / 2.0;
        let even = if bits & 1 == 0 { bits } else { bits + 1 };
        assert_eq!(half_from_f32(middle), even, "{middle}");
        assert_eq!(half_from_f32(f32::from_bits(middle.to_bits() - 1)), bits);
        assert_eq!(half_from_f32(f32::from_bits(middle.to_bits() + 1)), bits + 1);
    }
    assert_eq!(half_from_f32(65519.99), 0x7BFF);
    assert_eq!(half_from_f32(65520.0), 0x7C00);
    assert_eq!(half_from_f32(-1e30), 0xFC00);
    assert_eq!(half_from_f32(f32::from_bits(0x3300_0000)), 0, "2^-25 is a tie with zero");
    assert_eq!(half_from_f32(f32::from_bits(0x3300_0001)), 1);
}

/// Bit patterns of IEEE 754 binary16.
#[test]
fn halves_have_the_standards_bits() {
    for (value, bits) in
        [(1.0, 0x3C00), (-2.0, 0xC000), (65504.0, 0x7BFF), (0.333_251_95, 0x3555), (6.103_515_6e-5, 0x0400)]
    {
        assert_eq!(half_from_f32(value), bits);
    }
}

#[test]
fn a_texel_comes_back_as_it_went() {
    let texel = TriangleTexel {
        anisotropy: Some(1.25),
        octaves: Some(-1.5),
        direction: Some(0.75),
        tilt_deg: Some(-90.0),
        shell: Some(0xFF_FFFE),
        flags: flag::MAPPED | flag::FOLDED | flag::PARTIAL_OVERLAP,
        chevron: Some(-0.5),
        state: state::MEASURED | state::OFF_DENSITY,
    };
    assert_eq!(TriangleTexel::decode(texel.encode()), texel);
    assert_eq!(texel.encode()[2], 0x89FF_FFFE);
    let none = TriangleTexel::default();
    assert_eq!(TriangleTexel::decode(none.encode()), none);
    assert_eq!(none.encode()[0] & 0xFFFF, 0, "no anisotropy is written as zero");
}

#[test]
fn a_collapsed_triangle_stays_infinite_and_a_large_shell_becomes_none() {
    let texel = TriangleTexel { anisotropy: Some(f32::INFINITY), shell: Some(1 << 24), ..Default::default() };
    assert_eq!(texel.encode()[0] & 0xFFFF, 0x7BFF);
    let back = TriangleTexel::decode(texel.encode());
    assert_eq!((back.anisotropy, back.shell), (Some(f32::INFINITY), None));
}
