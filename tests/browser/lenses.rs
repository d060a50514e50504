//! Compares shaders and processor pixel by pixel: every lens, and every combination of the bits that a lens uses.

use crate::view::{canvas_and_painter, now, object, read, settle};
use glam::{DVec2, DVec3, Vec3};
use gridproof::grid::DEFAULT_CELL_PX;
use gridproof::lens::{Base, Brush, Lens, PAPER, Through, TriangleTexel, flag, state};
use gridproof::view::View;
use js_sys::{Array, Float32Array, Int8Array, Uint32Array};
use wasm_bindgen::prelude::*;
use wasm_bindgen_test::wasm_bindgen_test;

/// Cells of the picture, of this many px; each is a square of the model with its own triangle data.
const COLUMNS: u32 = 64;
const ROWS: u32 = 65;
const CELL: u32 = 8;
/// Of the middle of a cell, px either way: a contour is drawn within one px of its border.
const INNER: f64 = 1.0;
const MAP_PX: f64 = 2048.0;
/// Codes that a pixel may be off: the grid's own is known to one, and a scale is mixed between its entries on one side only.
const TOLERANCE: f32 = 4.0;
/// One pixel of so many may be off by more: at the edge of a mark or of a pattern's cell single and half precision differ.
const FEW: usize = 1000;

/// Bits that lenses look at, apart from having uv.
const FLAGS: [u8; 7] = [
    flag::REVERSED,
    flag::FLIPPED,
    flag::FOLDED,
    flag::STRETCHED,
    flag::MIRRORED,
    flag::STACKED,
    flag::PARTIAL_OVERLAP,
];
const STATES: [u16; 5] = [state::COLLAPSED, state::TILTED, state::TOO_LOW, state::TOO_HIGH, state::DIRECTED];

/// One combination after another with values of all sizes, and with none; in the last row cells without uv.
fn texel(cell: u32) -> TriangleTexel {
    let mapped = if cell < COLUMNS * (ROWS - 1) { flag::MAPPED } else { 0 };
    let bit = |at: usize| cell >> at & 1 == 1;
    let value = |every: u32, value: f32| (!cell.is_multiple_of(every)).then_some(value);
    let texel = TriangleTexel {
        anisotropy: value(13, 1.0 + (cell % 37) as f32 / 9.0),
        octaves: value(11, (cell % 29) as f32 / 7.0 - 2.0),
        direction: value(17, cell as f32 * 0.7 % 3.0),
        tilt_deg: None,
        shell: Some(cell),
        flags: FLAGS.iter().enumerate().filter(|(at, _)| bit(*at)).map(|(_, flag)| flag).sum::<u8>() | mapped,
        chevron: value(19, cell as f32 * 1.3 % 6.0 - 3.0),
        state: STATES.iter().enumerate().filter(|(at, _)| bit(*at + FLAGS.len())).map(|(_, state)| state).sum::<u16>()
            | state::MEASURED,
    };
    TriangleTexel::decode(texel.encode())
}

/// The model is a plane of one unit a px, its middle at the origin; its uvs are turned and uneven.
fn uv(place: DVec3) -> DVec2 {
    DVec2::new(0.8 * place.x + 0.2 * place.y, 0.7 * place.y - 0.1 * place.x) / 512.0 + DVec2::new(0.53, 0.49)
}

fn corners(cell: u32) -> [DVec3; 6] {
    let low =
        DVec2::new((cell % COLUMNS).into(), (cell / COLUMNS).into()) - DVec2::new(COLUMNS.into(), ROWS.into()) / 2.0;
    [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 0.0), (1.0, 1.0), (0.0, 1.0)]
        .map(|(x, y)| ((low + DVec2::new(x, y)) * f64::from(CELL)).extend(0.0))
}

fn numbers(values: &[f64]) -> JsValue {
    values.iter().map(|&value| JsValue::from_f64(value)).collect::<Array>().into()
}

#[wasm_bindgen_test]
async fn shaders_and_processor_agree_for_every_triangle_and_lens() {
    let (width, height) = (COLUMNS * CELL, ROWS * CELL);
    let cells = || 0..COLUMNS * ROWS;
    let places: Vec<DVec3> = cells().flat_map(corners).collect();
    let positions: Vec<f32> = places.iter().flat_map(|place| place.as_vec3().to_array()).collect();
    let uvs: Vec<f32> = places.iter().flat_map(|&place| uv(place).as_vec2().to_array()).collect();
    let radius = DVec2::new(width.into(), height.into()).length() / 2.0;
    let mesh = object(&[
        ("triangle_count", (2 * COLUMNS * ROWS).into()),
        ("position", Float32Array::from(positions.as_slice()).into()),
        ("uv", Float32Array::from(uvs.as_slice()).into()),
        ("normal", Int8Array::from([0, 0, 127, 0].repeat(places.len()).as_slice()).into()),
        ("radius", radius.into()),
        ("bounds_uv", numbers(&[0.0, 0.0, 1.0, 1.0])),
    ]);
    let words: Vec<u32> = cells().flat_map(|cell| [texel(cell).encode(); 2]).flatten().collect();

    let (canvas, mut painter) = canvas_and_painter(width, height);
    let mut view = View::new();
    view.set_layout(width, height, 1.0, &[0.0, 0.0, width.into(), height.into()], None);
    view.set_extent(mesh.clone()).ok().unwrap();
    let distance = f64::from(height) / 2.0 / 20_f64.to_radians().tan();
    let camera = [("eye", numbers(&[0.0, 0.0, distance])), ("target", numbers(&[0.0; 3])), ("fov", 40.0.into())];
    view.set_camera(object(&camera)).ok().unwrap();
    painter.set_model(mesh).ok().unwrap();
    painter.set_triangles(Uint32Array::from(words.as_slice())).ok().unwrap();
    painter.set_sight(&view.sight(now())).ok().unwrap();

    // On the plane, under the middle of a pixel.
    let on_plane = |x: f64, y: f64| {
        let ray = view.ray_at(x, y);
        let (from, along) = (DVec3::from_slice(&ray[..3]), DVec3::from_slice(&ray[3..]));
        from - along * (from.z / along.z)
    };
    // Pixels, counted as the canvas is read, with their cells.
    let mut seen = Vec::new();
    for row in 0..height {
        for column in 0..width {
            let place = on_plane(f64::from(column) + 0.5, f64::from(height - row) - 0.5);
            let cell = (place.truncate() + DVec2::new(width.into(), height.into()) / 2.0) / f64::from(CELL);
            if ((cell - cell.floor()) * f64::from(CELL) - f64::from(CELL) / 2.0).abs().max_element() < INNER {
                seen.push(((row * width + column) as usize, cell.y as u32 * COLUMNS + cell.x as u32, place));
            }
        }
    }
    assert_eq!(seen.len(), 4 * (COLUMNS * ROWS) as usize);
    let step = on_plane(1.5, 0.5) - on_plane(0.5, 0.5);
    let steps = [step, DVec3::new(0.0, step.x, 0.0)];
    // Where there is no place on the sheet; see surface.vert.
    let section = |place: DVec3| {
        DVec2::new(place.dot(DVec3::new(0.79, -0.21, 0.58)), place.dot(DVec3::new(0.25, 0.94, -0.22))) / radius
    };
    // The light of surface.vert on what is seen straight on.
    let light = 0.71 + 0.21 * 0.85 / Vec3::new(0.3, 0.5, 0.85).length();

    let mut pictures = Vec::new();
    let grid = Through { lens: Lens::Grid, flags: false, leaning: false };
    for through in [grid, Through { flags: true, ..grid }, Through { leaning: true, ..grid }]
        .into_iter()
        .chain(Lens::ALL.map(|lens| Through { lens, flags: true, leaning: true }))
    {
        painter.set_lens(through.lens.name()).ok().unwrap();
        painter.set_leaning(through.leaning);
        painter.set_flags(through.flags);
        settle(&mut painter).await;
        // A canvas keeps no picture from one turn to the next.
        painter.set_flags(through.flags);
        assert!(painter.frame(now()).is_ok());
        pictures.push((through, read(&canvas)));
    }
    canvas.remove();

    let colour = |picture: &[u8], at: usize| {
        Vec3::new(picture[4 * at].into(), picture[4 * at + 1].into(), picture[4 * at + 2].into())
    };
    let bare = pictures[0].1.clone();
    for (through, picture) in &pictures {
        let brush = Brush::new(through.lens, DVec2::splat(MAP_PX), DEFAULT_CELL_PX.into());
        let (mut off, mut shown) = (Vec::new(), 0);
        for &(at, cell, place) in &seen {
            let texel = texel(cell);
            let look = through.look(&texel);
            let to_map = |step: DVec3| uv(step) - uv(DVec3::ZERO);
            let (on_map, steps) = match look.in_space {
                true => (section(place), steps.map(section)),
                false => (uv(place), steps.map(to_map)),
            };
            let expected = brush.colour(&look, on_map, steps, || colour(&bare, at) / light) * light;
            shown += usize::from(look.shape.is_some() || !matches!(look.base, Base::Grid | Base::Paper));
            if (expected - colour(picture, at)).abs().max_element() > TOLERANCE {
                off.push((cell, texel, look, expected, colour(picture, at)));
            }
        }
        let most = seen.len() / FEW;
        assert!(off.len() <= most, "{through:?}: {} of {} pixels; {:#?}", off.len(), seen.len(), &off[..3]);
        let says = !matches!(through.lens, Lens::Seams | Lens::Picture) && *through != grid;
        assert!(!says || shown > seen.len() / 4, "{through:?} shows something of {shown} pixels");
    }
    let paper = colour(&pictures.last().unwrap().1, seen[0].0);
    assert!(
        (paper - Vec3::from(PAPER.map(f32::from)) * light).abs().max_element() <= TOLERANCE,
        "the light is known: {paper}"
    );
}
