use super::*;

fn code(colour: [u8; 3]) -> u32 {
    u32::from(colour[0]) << 16 | u32::from(colour[1]) << 8 | u32::from(colour[2])
}

/// Crameri's bilbao in 9 steps, computed with the Python package cmcrameri 1.10; ours runs from the light end.
#[test]
fn stretch_uses_bilbao_from_its_light_end() {
    let published = [0x4C0001, 0x78292F, 0x994E51, 0xA36B59, 0xA9825E, 0xB09B66, 0xBFB897, 0xCECDC7, 0xFFFFFF];
    let scale = Lens::Stretch.scale().unwrap();
    for (step, expected) in published.into_iter().enumerate() {
        let at = (step as f32 * 255.0 / 8.0).round() as usize;
        assert_eq!(code(scale[255 - at]), expected, "step {step}");
    }
}

/// A surface without stretch is as neutral as paper: no hue that could be taken for a finding, up to a twentieth over.
#[test]
fn no_stretch_has_no_hue() {
    let scale = Lens::Stretch.scale().unwrap();
    let last = (Lens::Stretch.position(1.05).unwrap() * 255.0) as usize;
    for entry in &scale[..=last] {
        let (least, most) = (entry.iter().min().unwrap(), entry.iter().max().unwrap());
        assert!(*least > 215 && most - least < 6, "{entry:?} is not neutral");
    }
}

/// ColorBrewer PuOr, 11 steps, computed with matplotlib 3.11.2.
#[test]
fn density_uses_puor_with_a_neutral_middle() {
    let scale = Lens::Density.scale().unwrap();
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
    let scale = Lens::Stretch.scale().unwrap();
    for pair in scale.windows(2) {
        assert!(luminance(pair[1]) <= luminance(pair[0]) + 0.5, "{pair:?}");
    }
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
fn lenses_are_found_by_their_names_only() {
    for lens in Lens::ALL {
        assert_eq!(Lens::named(lens.name()), Some(lens));
    }
    assert_eq!(Lens::named("Grid"), None);
}

#[test]
fn every_half_float_round_trips() {
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
fn a_texel_round_trips() {
    let texel = TriangleTexel {
        anisotropy: Some(1.25),
        octaves: Some(-1.5),
        direction: Some(0.75),
        tilt_deg: Some(-90.0),
        shell: Some(0xFF_FFFE),
        flags: flag::MAPPED | flag::FOLDED | flag::PARTIAL_OVERLAP,
        chevron: Some(-0.5),
        state: state::MEASURED | state::TOO_HIGH,
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

/// Every combination of bits and a few values: all that a look depends on.
fn texels() -> impl Iterator<Item = TriangleTexel> {
    let values = [(None, None), (Some(1.03), Some(-1.9)), (Some(1.7), Some(0.1)), (Some(f32::INFINITY), Some(1.4))];
    (0..1_u32 << 13).flat_map(move |bits| {
        let state = [state::COLLAPSED, state::TILTED, state::TOO_LOW, state::TOO_HIGH, state::DIRECTED];
        let state = state.into_iter().enumerate().filter(|(at, _)| bits >> (8 + at) & 1 == 1).map(|(_, bit)| bit).sum();
        values.map(|(anisotropy, octaves)| TriangleTexel {
            anisotropy,
            octaves,
            direction: anisotropy.map(|ratio| ratio.min(2.0) - 3.0),
            shell: Some(7),
            flags: bits as u8,
            chevron: octaves,
            state,
            ..TriangleTexel::default()
        })
    })
}

fn throughs() -> impl Iterator<Item = Through> {
    Lens::ALL.into_iter().flat_map(|lens| {
        [(false, false), (true, false), (false, true), (true, true)].map(|(flags, leaning)| Through {
            lens,
            flags,
            leaning,
        })
    })
}

/// By hand: one triangle with all problems, then fewer and fewer.
#[test]
fn the_most_severe_finding_is_shown() {
    use Shape::{Bars, Bricks, Chevrons, Dots, Hatch, Minus, Stems, Strokes};
    let all = TriangleTexel {
        anisotropy: Some(3.0),
        octaves: Some(-1.0),
        flags: 255,
        state: state::DIRECTED | state::TOO_LOW | state::TILTED,
        ..TriangleTexel::default()
    };
    type Shown = (u8, Option<Shape>, f32);
    let orders: [(Lens, &[Shown]); 5] = [
        (
            Lens::Grid,
            &[
                (flag::FOLDED, Some(Hatch), 1.0),
                (flag::FLIPPED, Some(Bars), 1.0),
                (flag::MIRRORED, Some(Chevrons), 1.0),
                (flag::STRETCHED, Some(Strokes), 1.0),
                (0, Some(Stems), 0.0),
            ],
        ),
        (Lens::Stretch, &[(flag::STRETCHED, Some(Strokes), 1.0), (0, Some(Strokes), 0.0)]),
        (Lens::Density, &[(0, Some(Minus), 0.5)]),
        (Lens::Flipped, &[(flag::FOLDED, Some(Hatch), 0.5), (flag::FLIPPED, Some(Bars), 1.0), (0, None, 0.0)]),
        (
            Lens::Overlaps,
            &[
                (flag::PARTIAL_OVERLAP, Some(Bricks), 1.0),
                (flag::MIRRORED, Some(Chevrons), 0.5),
                (flag::STACKED, Some(Dots), 1.0),
                (0, None, 0.0),
            ],
        ),
    ];
    for (lens, order) in orders {
        let mut texel = all;
        for &(bit, shape, level) in order {
            let look = Through { lens, flags: true, leaning: true }.look(&texel);
            assert_eq!((look.shape, look.class.level()), (shape, level), "{lens:?} with flags {:08b}", texel.flags);
            texel.flags &= !bit;
        }
    }
    let text = |texel: &TriangleTexel| Through { lens: Lens::Text, flags: false, leaning: false }.look(texel);
    let shared = flag::MIRRORED | flag::STACKED | flag::PARTIAL_OVERLAP;
    for (gone, shape) in [
        (0, Bars),
        (flag::REVERSED, Dots),
        (flag::REVERSED | flag::MIRRORED | flag::STACKED, Dots),
        (flag::REVERSED | shared, Strokes),
        (flag::REVERSED | shared | flag::STRETCHED, Stems),
    ] {
        let look = text(&TriangleTexel { flags: !gone, ..all });
        assert_eq!((look.shape, look.veiled), (Some(shape), true));
    }
    let safe = text(&TriangleTexel { flags: flag::MAPPED, state: state::MEASURED, ..all });
    assert_eq!((safe.shape, safe.veiled, safe.base), (None, false, Base::Grid));
}

/// The shaders' text holds the rules: read back, it gives each triangle's kind.
#[test]
fn shader_and_processor_have_the_same_rules() {
    for through in throughs() {
        let text = glsl::rules(through);
        let chain = text.split("KIND_OF(bits) (").nth(1).unwrap().split('\n').next().unwrap();
        let numbers: Vec<u32> = chain
            .split(|c: char| !c.is_ascii_digit())
            .filter(|word| !word.is_empty())
            .map(|n| n.parse().unwrap())
            .collect();
        // Of each rule its bits, a zero that they are compared with, and its kind.
        let (rules, _) = numbers.as_chunks::<3>();
        for texel in texels() {
            let look = through.look(&texel);
            if matches!(look.base, Base::Unmapped | Base::Silent) {
                assert_eq!((look.shape, look.class), (None, Class::Within));
                continue;
            }
            let kind = rules.iter().find(|rule| texel.bits() & rule[0] != 0).map_or(0, |rule| rule[2]);
            assert_eq!(Shape::numbered(kind & 15), look.shape, "{through:?} {texel:?}");
            assert_eq!(
                [kind & 128 != 0, kind & 256 != 0, kind & 512 != 0],
                [look.class == Class::Outside, look.class == Class::OutsideOtherwise, look.veiled]
            );
            assert_eq!(look.shape.is_some() && kind & 1024 == 0, look.tinted);
        }
    }
}

/// The drawn sheet shows the same pattern, or where there would be a contour instead: the one beyond it; in ink or
/// paper by the one threshold; and on a scale the colour of the same place, to one of its steps.
#[test]
fn the_drawn_sheet_shows_the_same() {
    for through in throughs() {
        for texel in texels() {
            let look = through.look(&texel);
            let words = texel.encode();
            let kept = drawn::Kept { values: [f32::NAN; 2], shells: &[] };
            let [number] = drawn::looks(through, &words, 1, &kept)[..] else { panic!("one look for one triangle") };
            if look.base == Base::Unmapped {
                assert_eq!(number, drawn::look::NOWHERE);
                continue;
            }
            let style = drawn::style(through.lens, number);
            let scaled = through.lens.range().is_some();
            let shape = look.shape.filter(|_| !scaled || look.class != Class::Within);
            assert_eq!(style.shape, shape, "{through:?} {texel:?}");
            if let Base::Scale(place) = look.base {
                let scale = through.lens.scale().unwrap();
                let steps = (place * 255.0 - 2.6).max(0.0) as usize..=(place * 255.0 + 2.6).min(255.0) as usize;
                assert!(scale[steps].contains(&style.ground), "{:?} at {place}", style.ground);
                assert_eq!(style.ink, Some(ink_on(style.ground.map(f32::from))));
            } else if let Some(shape) = shape {
                let mark = shape.colour().unwrap().map(|code| (f32::from(code) * MARK).round() as u8);
                let is_light = through.lens == Lens::Grid;
                assert_eq!((style.light, style.ink == Some(mark)), (is_light, !is_light));
            }
            if matches!(shape, Some(Shape::Strokes | Shape::Chevrons)) {
                let turned = (style.turn_deg as f32 + look.direction.to_degrees()).rem_euclid(360.0);
                assert!(!(7.6..352.4).contains(&turned), "{turned} degrees off");
            }
        }
    }
}

#[test]
fn unselected_shells_fade_on_the_drawn_sheet() {
    let through = Through { lens: Lens::Stretch, flags: true, leaning: false };
    let texel =
        TriangleTexel { anisotropy: Some(2.0), shell: Some(3), flags: flag::MAPPED, ..TriangleTexel::default() };
    let shown = |texel: &TriangleTexel, values: [f32; 2], shells: &[u32]| {
        drawn::looks(through, &texel.encode(), 1, &drawn::Kept { values, shells })[0]
    };
    let any = [f32::NAN; 2];
    assert!(shown(&texel, any, &[]) > drawn::look::FADED);
    assert!(shown(&texel, [1.5, 2.0], &[1, 3]) > drawn::look::FADED);
    assert_eq!(shown(&texel, [2.1, 9.0], &[]), drawn::look::FADED);
    assert_eq!(shown(&texel, any, &[1, 4]), drawn::look::FADED);
    assert_eq!(shown(&TriangleTexel { state: state::ELSEWHERE, ..texel }, any, &[]), drawn::look::NOWHERE);
    assert_eq!(drawn::looks(through, &[], 2, &drawn::Kept { values: any, shells: &[] }), [drawn::look::UNKNOWN; 2]);
    // A collapsed triangle is beyond every end of the scale, as the greatest half is.
    assert!(shown(&TriangleTexel { anisotropy: Some(f32::INFINITY), ..texel }, [1.5, 1e9], &[]) > drawn::look::FADED);
}

/// The lens's rules name every reason that the measure knows, and no other.
#[test]
fn text_lens_shows_a_reason_exactly_where_text_is_not_safe() {
    let mut reader = crate::obj::Reader::new(None);
    reader.feed(include_bytes!("../../demo/lantern-draft.obj")).unwrap();
    let model = crate::model::Model::new(reader.finish().unwrap());
    let (brief, mut measures) = (crate::brief::Brief::default(), crate::measure::Measures::default());
    crate::measure::Stage::ALL.into_iter().for_each(|stage| measures.take(stage, &model, &brief));
    let texels = Texels::new(&model, &measures, &brief);
    let through = Through { lens: Lens::Text, flags: false, leaning: false };
    let mut unsafe_count = 0;
    for texel in (0..model.triangle_count()).map(|triangle| texels.of(triangle)) {
        let is_unsafe = texel.state & state::UNSAFE != 0;
        assert_eq!(through.look(&texel).shape.is_some(), is_unsafe, "{texel:?}");
        unsafe_count += usize::from(is_unsafe);
    }
    assert!(unsafe_count > 100 && unsafe_count < model.triangle_count() - 100, "{unsafe_count}");
}
