use super::*;

#[test]
fn dump() {
    let dir = std::env::var("GRID_OUT").unwrap_or_default();
    if dir.is_empty() {
        return;
    }
    let t = std::time::Instant::now();
    let levels = Painter::new(&GridOptions::default(), 2048, 2048).finish();
    eprintln!("2048 with mips {:?}", t.elapsed());
    for (i, l) in levels.iter().enumerate().take(6) {
        std::fs::write(format!("{dir}/mip{i}.rgba"), &l.rgba).unwrap();
    }
    let t = std::time::Instant::now();
    let p = png(&GridOptions::default()).unwrap();
    eprintln!("png {:?} {} bytes", t.elapsed(), p.len());
    std::fs::write(format!("{dir}/full.png"), p).unwrap();
    for (name, w, h, cell, words) in [
        ("odd", 1000, 700, 64, None),
        ("words", 1024, 1024, 64, Some(("Harbour 28 Ω", 56.0))),
        ("small", 512, 512, 64, Some(("left to right", 24.0))),
        ("c32", 512, 512, 32, None),
        ("many", 8192, 512, 32, None),
        ("tall", 512, 2048, 64, None),
    ] {
        let o = GridOptions {
            map_width_px: w,
            map_height_px: h,
            cell_px: cell,
            words: words.map(|(t, s): (&str, f32)| Words { text: t.into(), size_px: s }),
        };
        std::fs::write(format!("{dir}/{name}.png"), png(&o).unwrap()).unwrap();
    }
    let half = paint(&GridOptions::default(), 1024, 1024);
    std::fs::write(format!("{dir}/half.rgba"), &half.rgba).unwrap();
}
