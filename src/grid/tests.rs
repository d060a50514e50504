//! Properties of the whole grid, however it is painted.

use super::light::LIGHT;
use super::*;

fn pixel(picture: &Picture, x: u32, from_bottom: u32) -> [u8; 3] {
    let y = picture.height - 1 - from_bottom;
    let at = ((y * picture.width + x) * 4) as usize;
    [picture.rgba[at], picture.rgba[at + 1], picture.rgba[at + 2]]
}

/// How dark a pixel is, 0..=1: what ink takes of the paper's light.
fn darkness(colour: [u8; 3]) -> f64 {
    1.0 - f64::from(LIGHT.decode(colour[1]))
}

/// Mean linear light of each channel.
fn mean_light(picture: &Picture) -> [f64; 3] {
    let mut sum = [0.0; 3];
    for pixel in picture.rgba.chunks_exact(4) {
        for channel in 0..3 {
            sum[channel] += f64::from(LIGHT.decode(pixel[channel]));
        }
    }
    sum.map(|sum| sum / f64::from(picture.width) / f64::from(picture.height))
}

/// The picture of one cell, rows from the bottom.
fn cell_of(picture: &Picture, column: u32, row: u32, side: u32) -> Vec<[u8; 3]> {
    (0..side).flat_map(|y| (0..side).map(move |x| pixel(picture, column * side + x, row * side + y))).collect()
}

fn with_words(width: u32, height: u32, text: &str, size_px: f32) -> GridOptions {
    GridOptions { words: Some(Words { text: text.into(), size_px }), ..GridOptions::new(width, height) }
}

#[test]
fn sizes_are_as_requested_on_any_map() {
    for (map, texture) in
        [((512, 2048), (512, 2048)), ((1000, 700), (1000, 700)), ((2048, 2048), (300, 17)), ((7, 5), (64, 64))]
    {
        let picture = paint(&GridOptions::new(map.0, map.1), texture.0, texture.1);
        assert_eq!((picture.width, picture.height), texture);
        assert_eq!(picture.rgba.len(), (texture.0 * texture.1 * 4) as usize);
        assert!(picture.rgba.chunks_exact(4).all(|pixel| pixel[3] == 255));
    }
    let nothing = GridOptions { cell_px: 0, ..GridOptions::new(0, 0) };
    assert_eq!(paint(&nothing, 0, 0).rgba.len(), 4);
}

/// Squared difference of two cells within the part of the address that names the column or the row.
fn address_difference(a: &[[u8; 3]], b: &[[u8; 3]], columns: std::ops::Range<usize>) -> f64 {
    let mut sum = 0.0;
    for y in 10..23 {
        for x in columns.clone() {
            sum += (darkness(a[y * 64 + x]) - darkness(b[y * 64 + x])).powi(2);
        }
    }
    sum
}

#[test]
fn addresses_count_from_the_bottom_left() {
    let picture = paint(&GridOptions::new(1024, 1024), 1024, 1024);
    let cells: Vec<Vec<_>> = (0..16).map(|index| cell_of(&picture, index, 9, 64)).collect();
    // Within one row the row's figures stay and the column's change; up one column it is the other way round.
    assert_eq!(address_difference(&cells[2], &cells[3], 33..56), 0.0);
    assert!(address_difference(&cells[2], &cells[3], 10..31) > 1.0);
    let (low, high) = (cell_of(&picture, 5, 2, 64), cell_of(&picture, 5, 3, 64));
    assert_eq!(address_difference(&low, &high, 10..31), 0.0);
    assert!(address_difference(&low, &high, 33..56) > 1.0);
    // 00·00 is at the bottom left: its four figures are one and the same drawing, 7 px apart, 3 px more over the dot.
    let origin = cell_of(&picture, 0, 0, 64);
    for y in 12..22 {
        for x in 17..23 {
            for step in [7, 17, 24] {
                assert_eq!(origin[y * 64 + x], origin[y * 64 + x + step], "{x} {y}");
            }
        }
    }
    let last = cell_of(&picture, 15, 15, 64);
    assert!(address_difference(&origin, &last, 10..31) > 1.0 && address_difference(&origin, &last, 33..56) > 1.0);
}

#[test]
fn cell_at_agrees_with_the_lattice() {
    let options = GridOptions::new(1000, 700);
    assert_eq!(cell_at(&options, 0.0, 0.0), Some((0, 0)));
    assert_eq!(cell_at(&options, 0.0639, 0.0), Some((0, 0)));
    assert_eq!(cell_at(&options, 0.0641, 0.0915), Some((1, 1)));
    assert_eq!(cell_at(&options, 1.0, 1.0), Some((15, 10)));
    for (u, v) in [(-1e-9, 0.5), (0.5, 1.0 + 1e-9), (f64::NAN, 0.5), (0.5, f64::INFINITY)] {
        assert_eq!(cell_at(&options, u, v), None);
    }
}

#[test]
fn the_pennant_points_right_and_up_at_every_size() {
    for (texture, side) in [(1024, 64), (512, 32), (256, 16), (128, 8)] {
        let picture = paint(&GridOptions::new(1024, 1024), texture, texture);
        // A cell away from block borders; the address, below the pennant, is the same distance from both sides.
        let cell = cell_of(&picture, 3, 3, side);
        let paper = darkness(PAPER_TINTS[0]);
        let (mut left, mut right, mut up, mut down) = (0.0, 0.0, 0.0, 0.0);
        for y in 0..side {
            for x in 0..side {
                let (cx, cy) = ((f64::from(x) + 0.5) / f64::from(side), (f64::from(y) + 0.5) / f64::from(side));
                if (cx - 0.5).hypot(cy - 0.5) > 0.38 || cy < 0.37 {
                    continue;
                }
                let ink = darkness(cell[(y * side + x) as usize]) - paper;
                *(if cx < 0.4 {
                    &mut left
                } else if cx > 0.47 {
                    &mut right
                } else {
                    continue;
                }) += ink;
                *(if cy > 0.58 { &mut up } else { &mut down }) += ink;
            }
        }
        assert!(right > 4.0 * left.max(0.0), "{side}: {left} {right}");
        assert!(up > 1.5 * down, "{side}: {down} {up}");
    }
}

#[test]
fn tints_alternate_by_blocks_of_eight_cells() {
    let picture = paint(&GridOptions::new(2048, 2048), 2048, 2048);
    for row in 0..32 {
        for column in 0..32 {
            let tint = PAPER_TINTS[(column / BLOCK_CELLS % 2 + 2 * (row / BLOCK_CELLS % 2)) as usize];
            // The top left corner of a cell, outside its circle and its rules.
            assert_eq!(pixel(&picture, column * 64 + 4, row * 64 + 58), tint, "{column} {row}");
        }
    }
}

#[test]
fn rules_are_heavy_at_blocks_and_fine_between() {
    let picture = paint(&GridOptions::new(1024, 1024), 1024, 1024);
    // At 7/64 of a cell there is no tick.
    let at = |x: u32| darkness(pixel(&picture, x, 64 * 3 + 7)) - darkness(PAPER_TINTS[0]);
    assert!(at(0) > 0.7 && at(512) > 0.7 && at(1023) > 0.7);
    assert!((0.1..0.35).contains(&at(64)) && (0.1..0.35).contains(&at(63)));
    assert_eq!(at(66), 0.0);
    let tick = |y: u32| darkness(pixel(&picture, 517, 64 * 3 + y)) - darkness(PAPER_TINTS[1]);
    assert!(tick(16) > 0.7 && tick(48) > 0.7 && tick(8) == 0.0);
}

#[test]
fn cells_at_the_far_edges_are_cropped_whole_cells() {
    let (cut, whole) = (paint(&GridOptions::new(1000, 700), 1000, 700), paint(&GridOptions::new(1024, 704), 1024, 704));
    for y in 0..698 {
        for x in 0..998 {
            assert_eq!(pixel(&cut, x, y), pixel(&whole, x, y), "{x} {y}");
        }
    }
    assert!(darkness(pixel(&cut, 999, 71)) > 0.7 && darkness(pixel(&cut, 71, 699)) > 0.7, "the sheet's own border");
}

#[test]
fn circles_are_round_in_map_pixels_on_any_map() {
    for (width, height) in [(512, 2048), (2048, 512)] {
        let picture = paint(&GridOptions::new(width, height), width, height);
        let square = paint(&GridOptions::new(512, 512), 512, 512);
        for y in 0..500 {
            for x in 0..500 {
                assert_eq!(pixel(&picture, x, y), pixel(&square, x, y));
            }
        }
    }
}

#[test]
fn mip_levels_keep_the_mean_light() {
    for (width, height) in [(512, 2048), (1000, 700), (333, 1)] {
        let levels = mip_levels(paint(&GridOptions::new(width, height), width, height));
        let sizes: Vec<_> = levels.iter().map(|level| (level.width, level.height)).collect();
        assert_eq!(sizes.last(), Some(&(1, 1)));
        assert_eq!(sizes.len(), width.max(height).ilog2() as usize + 1);
        let base = mean_light(&levels[0]);
        for level in &levels[1..] {
            assert_eq!(level.rgba.len(), (level.width * level.height * 4) as usize);
            for (mean, base) in mean_light(level).into_iter().zip(base) {
                // Half a code of rounding is up to 1/220 of light in these tints; a pixel alone can be off by all of it.
                assert!(
                    (mean - base).abs() < 1.0 / 220.0,
                    "{width}x{height} at {}x{}: {mean} {base}",
                    level.width,
                    level.height
                );
            }
        }
    }
}

#[test]
fn from_far_away_the_grid_stays_light() {
    let levels = mip_levels(paint(&GridOptions::new(1024, 1024), 1024, 1024));
    // 2 x 2 px: one per block.
    let blocks = &levels[9];
    assert_eq!((blocks.width, blocks.height), (2, 2));
    let luminance = |c: [u8; 3]| {
        let [r, g, b] = LIGHT.decode_all(c).map(f64::from);
        0.2126 * r + 0.7152 * g + 0.0722 * b
    };
    for (index, tint) in PAPER_TINTS.into_iter().enumerate() {
        let seen = luminance(pixel(blocks, index as u32 % 2, index as u32 / 2));
        let share = seen / luminance(tint);
        // Ink and circles take between a seventh and a quarter of the light, the same share of each tint.
        assert!((0.75..0.86).contains(&share), "{index}: {share}");
        assert!(seen > 0.6);
    }
}

#[test]
fn painted_at_half_size_it_is_the_first_mip_level() {
    for options in [GridOptions::new(1024, 512), with_words(1024, 512, "Harbour", 96.0)] {
        let levels = mip_levels(paint(&options, 1024, 512));
        let half = paint(&options, 512, 256);
        let differences = || half.rgba.iter().zip(&levels[1].rgba).map(|(a, b)| u32::from(a.abs_diff(*b)));
        let mean = f64::from(differences().sum::<u32>()) / half.rgba.len() as f64;
        assert!(mean < 0.4, "{mean}");
        // Letters of words are set to the nearest 1/4 px at either size: up to 3/16 px of an edge apart, which at the dark
        // end of an edge is many codes, but nowhere near an edge missed altogether (230).
        assert!(differences().max() < Some(80), "{:?}", differences().max());
    }
}

#[test]
fn painting_in_slices_gives_the_same_pixels() {
    let options = with_words(1000, 700, "Light 7 – Ω", 40.0);
    let expected = mip_levels(paint(&options, 1000, 700));
    for budget in [1, 13, 256] {
        let mut painter = Painter::new(&options, 1000, 700);
        let mut steps = 0;
        while !painter.step(budget) {
            steps += 1;
        }
        assert!(steps >= 1300 / budget);
        assert!(painter.finish() == expected, "{budget}");
    }
    assert!(Painter::new(&options, 1000, 700).finish() == expected);
}

#[test]
fn the_png_decodes_to_the_same_pixels() {
    let options = with_words(1000, 700, "Proof", 48.0);
    let bytes = png(&options).unwrap();
    let decoded = image::load_from_memory(&bytes).unwrap().to_rgba8();
    assert_eq!(decoded.dimensions(), (1000, 700));
    assert!(decoded.into_raw() == paint(&options, 1000, 700).rgba);
}

#[test]
fn impossible_sizes_are_refused_with_a_sentence() {
    let sound = GridOptions::default();
    let refused = |options: GridOptions| png(&options).unwrap_err().to_string();
    assert!(refused(GridOptions::new(0, 64)).contains("0 x 64 px has no pixels"));
    assert!(refused(GridOptions::new(16384, 16384)).contains("limit is 8192 x 8192"));
    assert!(refused(GridOptions { cell_px: 15, ..sound.clone() }).contains("15 px"));
    assert!(refused(with_words(64, 64, "a", f32::NAN)).contains("px high"));
    assert!(refused(with_words(64, 64, &"a".repeat(121), 20.0)).contains("121 characters"));
    assert_eq!(sound.check(), Ok(()));
}

#[test]
fn words_are_upright_on_the_lattice_and_leave_every_other_row_alone() {
    let (plain, worded) =
        (paint(&GridOptions::new(1024, 512), 1024, 512), paint(&with_words(1024, 512, "HEM", 64.0), 1024, 512));
    // Capitals of 64 px are 45 px high and are on every odd rule; even rows of cells are unchanged.
    for row in [0, 2, 4, 6] {
        for column in 0..16 {
            assert!(cell_of(&plain, column, row, 64) == cell_of(&worded, column, row, 64), "{column} {row}");
        }
    }
    let inked = |y: u32| (0..1024).filter(|x| pixel(&worded, *x, y) == INK).count();
    assert!(inked(64 + 4) > 100 && inked(64 + 43) > 100);
    // An E has an arm at its foot and its head but is thin in between; upright, the H's bar is between the two.
    assert!(inked(64 + 12) < inked(64 + 3));
}

#[test]
fn any_text_and_size_can_be_painted() {
    for (text, size) in
        [("", 20.0), (" \n\t", 20.0), ("日本語 🦀", 1e9), ("a".repeat(500).as_str(), -3.0), ("gjpqy", f32::NAN)]
    {
        let picture = paint(&with_words(200, 130, text, size), 100, 190);
        assert_eq!(picture.rgba.len(), 100 * 190 * 4);
    }
    let blank = paint(&with_words(256, 256, " \r\n ", 40.0), 256, 256);
    assert!(blank == paint(&GridOptions::new(256, 256), 256, 256));
}

/// The picture is the same on every machine: a digest of it (FNV-1a, 64 bit) is kept here and compared wherever the tests
/// run. A change of the design changes it; look at the new picture, then put its digest here.
#[test]
fn the_picture_is_the_same_on_every_machine() {
    let picture = paint(&with_words(500, 300, "Ægir 12", 40.0), 333, 222);
    let digest = picture
        .rgba
        .iter()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3));
    assert_eq!(format!("{digest:016x}"), "20404ba49be51562");
}
