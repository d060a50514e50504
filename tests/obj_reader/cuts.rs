//! The same bytes read the same in any chunks, and any bytes are read or refused.

use super::*;
use proptest::prelude::*;

/// Everything at once, longer than what is looked at before reading starts.
fn nasty() -> Vec<u8> {
    let mut file = b"\xEF\xBB\xBF# head \\\r\n\r\nmtllib a b.mtl c.mtl\r".to_vec();
    file.extend("# padding so that reading starts before the end\n".repeat(20).bytes());
    file.extend(
        b"v 0 0 0\rv 1 0 0\r\nv +1. .5e0 -0\nv 0 1,5 0\n\nv nan 0 0\nv 1 2 3 .1 .2 .3 # colour\n\
          vt 0.5\nvt 1 0\r\n\rvt .25 .75 0\nvt x\nvn 0 0 1\nvn 0 0\n\
          o caf\xE9 # x\ng a  b\nusemtl m#1\nf 1/1/1 2/2/1 3/3/1\nf 1 \\\r\n 2 \\ \r 3 \\\n4\ns off\n\
          f -1//-2 -3//-2 -4//-2\nf 1 2 5\nf 1/4 2/1 3/1\nf 1/9/9 2/2/2 3/3/3\nf 0 1 2\nf 1 2\nf a b c\nf 9 1 2\n\
          l 1 2\nl 2 3\ncall x.obj\nwhat is this\n\0\0\nf 1 2\0 3\nusemtl\nf 7 1 2\nv 8 8 8\nv 1e400 0 0\nf 1/1 2 3//1\nf 1 2 3 \\",
    );
    file
}

#[test]
fn the_nasty_file_reads_the_same_in_any_chunks() {
    let file = nasty();
    let whole = read(&file);
    let document = whole.as_ref().expect("some of its faces are good");
    check_invariants(document);
    assert!(document.diagnostics.counts.len() >= 15, "{:?}", document.diagnostics.counts);
    for cut in 0..=file.len() {
        same(&whole, &read_in_pieces(&file, &[cut]));
    }
    let every: Vec<usize> = (0..file.len()).collect();
    same(&whole, &read_in_pieces(&file, &every));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_chunks_read_the_same(mut cuts in prop::collection::vec(0usize..2200, 0..40)) {
        cuts.sort_unstable();
        let file = nasty();
        same(&read(&file), &read_in_pieces(&file, &cuts));
    }

    #[test]
    fn any_obj_like_text_is_read_or_refused(
        text in prop::collection::vec(prop::sample::select(&b"vvtnf 123-/\\#.e,\n\n\r\t\0o"[..]), 0..400),
        mut cuts in prop::collection::vec(0usize..400, 0..6),
    ) {
        cuts.sort_unstable();
        let whole = read(&text);
        if let Ok(document) = &whole {
            check_invariants(document);
        }
        same(&whole, &read_in_pieces(&text, &cuts));
    }

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..3000)) {
        if let Ok(document) = read(&bytes) {
            check_invariants(&document);
        }
    }

    #[test]
    fn any_damage_is_read_or_refused(damage in prop::collection::vec((0usize..2200, any::<u8>(), 0u8..3), 1..12)) {
        let mut file = nasty();
        for (at, byte, how) in damage {
            let at = at % file.len();
            match how {
                0 => file[at] = byte,
                1 => file.insert(at, byte),
                _ => { file.remove(at); }
            }
        }
        let whole = read(&file);
        if let Ok(document) = &whole {
            check_invariants(document);
        }
        same(&whole, &read_in_pieces(&file, &[file.len() / 3, file.len() / 2]));
    }
}
