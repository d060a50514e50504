//! Files with faults by chance: nothing panics, nothing hangs, and what is let in is what it says. The review's reader is
//! fuzzed beside its code, `src/cli/review.rs`.

use crate::mutate::fuzz;
use crate::support::outside;
use gridproof::brief::{Brief, PRESETS};
use gridproof::carried::{decode, encode, obj_text, to_base64url, unwrap, wrap};
use gridproof::compare::{Version, compare};
use gridproof::findings::{DensityReport, Report, text};
use gridproof::measure::Measures;
use gridproof::model::Model;
use gridproof::{CheckError, Examined, printable};

/// A strip of quads, a hole, a fan, a flipped square, names, normals, two materials.
const STRIP: &str = "mtllib a.mtl\no strip\nusemtl a\ns 1\nv 0 0 0\nv 1 0 0\nv 2 0 0.5\nv 0 1 0\nv 1 1 0\nv 2 1 0.5\nvt 0.1 0.1\n\
    vt 0.3 0.1\nvt 0.6 0.1\nvt 0.1 0.3\nvt 0.3 0.3\nvt 0.6 0.3\nvn 0 0 1\nf 1/1/1 2/2/1 5/5/1 4/4/1\nf 2/2/1 3/3/1 6/6/1 5/5/1\n\
    g back\nusemtl b\nf 4/1 5/2 2/5 1/4\nf -1/-1 -2/-2 -3/-3\n";
const FAN: &str = "# a fan\r\no fan\r\nv 0 0 0\r\nv 1 0 0 1 0.5 0.5\r\nv 1.5 .5 0\r\nv 1 1 0\r\nv 0 1 0\r\nv -.5 .5 0\r\n\
    vt 0 0\r\nvt 1 0\r\nvt 1.5 .5\r\nvt 1 1\r\nvt 0 1\r\nvt -.5 .5\r\nf 1/1 2/2 3/3 4/4 5/5 6/6\r\no copy\r\nf 1/1 2/2 3/3 \\\r\n 4/4\r\n";
/// Found: a uv so far away that Sander's stretch was infinite.
const FAR: &str = "\n# cube.obj\n#\n\nmtllib issue-162-smoothing-group.mtl\n\nv -0.500000 -0.500000 0.500000\n\
    v 0.500000 -0.500000 0.500000\nv -0.500000 0.500000 0.500000\nv 0.500000 0.500000 0.500000\n\
    v -0.500000 0.500000 -0.500000\nv 0.500000 066797 55.852001\n# 19 vertices, 0 vertices norma00000 -0.500000\n\
    v -0.500000 -0.500000 -0.500000\nv 0.500000 -0.500000 -0.500000\n\nvt 0.000000 0.000000\n\
    vt 1.000000 -2147483648 test2\n\ns o\nvt 0.000000 1.000000\nvt 1.000000 1.000000\n\n\
    vn 0.000000 0.000000 1.000000\nvn 0.000000 1.000000 0.000000\nvn 0.0 -1.000000\n\
    vn 0.000000 -1.000000 0.00nan0000\nvn 1.0 0000 0.000000 -1\nvn -1.000000 0. 00000 0.000000\n\nusemtl test1\n\
    g test1\ns 1\nf 1/1/1 2/2/1 3/3/1\nf 3/1/1 2/2/1 4/4/1\n\nusemtl test2\ng test2\n\n1/1 off\n\
    f 3/1/2 4/2/2 5/3/2\nf 5/3/2 4/2/2 6/4/2\ns 3\nf 5/4/3 6/3/3 7/2/3\nf 7/2/3 6/3/3 8/1/3\ns 4\n\
    f 7/1/4 8/2/4 1/3/4\nf 1/3/4 8/2/4 2/4/4\ns 0\nf 2/1/5 8/2/5 4/3/5\nf 4/3/5 81e308/2/5 6/4/5\ns 6\n\
    f 7/1/6 1/2/6 5/3/6\nf 5/3/6 1/2/6 3/4/6\n";
const SQUARE: &str =
    "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nvt 0.1 0.1\nvt 0.9 0.1\nvt 0.9 0.9\nvt 0.1 0.9\nf 1/1 2/2 3/3 4/4\n";

fn examined(obj: &[u8]) -> Option<Examined> {
    match gridproof::examine(&mut &*obj, "test.obj", None, &Brief::default(), &mut |_| ()) {
        Ok(examined) => Some(examined),
        Err(CheckError::Unreadable(failure)) => {
            assert!(!failure.message.is_empty());
            None
        }
        Err(CheckError::Io(error)) => panic!("{error}"),
    }
}

fn assert_told(report: &Report) {
    let told = text("test.obj", report);
    assert!(told.lines().all(|line| printable(line) == line), "{told:?}");
    // A number that is none would be null where a number has to be. Names may be anything.
    let parts = report.density.parts.iter().flat_map(|part| [part.density_px_per_unit, part.factor]);
    let density = DensityReport { parts: Vec::new(), ..report.density.clone() };
    let numbers = format!("{:?} {density:?} {:?} {:?}", report.stretch, report.sheet, parts.collect::<Vec<_>>());
    assert!(!numbers.split(|c: char| !c.is_alphanumeric()).any(|word| ["NaN", "inf"].contains(&word)), "{numbers}");
}

/// The smaller files of the suite that readers are tested on, where it is there.
fn suite() -> Vec<Vec<u8>> {
    const MOST_BYTES: u64 = 1 << 12;
    let files = outside("parser-suite/tinyobjloader").into_iter().flat_map(|folder| std::fs::read_dir(folder).unwrap());
    let mut paths: Vec<_> = files.map(|file| file.unwrap().path()).collect();
    paths.retain(|path| {
        path.extension().is_some_and(|ending| ending == "obj") && path.metadata().unwrap().len() < MOST_BYTES
    });
    paths.sort();
    paths.iter().map(|path| std::fs::read(path).unwrap()).collect()
}

#[test]
fn any_model_is_read_and_measured_or_refused() {
    let suite = suite();
    let seeds: Vec<&[u8]> =
        [STRIP, FAN, SQUARE, FAR].map(str::as_bytes).into_iter().chain(suite.iter().map(Vec::as_slice)).collect();
    fuzz("reader", &seeds, |bytes, _| {
        if let Some(Examined { report, .. }) = examined(bytes) {
            assert_told(&report);
        }
    });
}

#[test]
fn any_brief_is_read_or_refused() {
    let seeds: Vec<String> =
        PRESETS.iter().map(|preset| (preset.brief)()).flat_map(|brief| [brief.to_toml(), brief.to_json()]).collect();
    let own = "[map]\nsheets = [{ name = 'a', materials = ['b', 'c'], width_px = 512 }]\n[text]\ngroups = ['a', 'b']\n[density_factor]\n\
               'a' = 2\nb = 0.5\n";
    let seeds: Vec<&[u8]> = seeds.iter().map(String::as_bytes).chain([own.as_bytes()]).collect();
    fuzz("brief", &seeds, |bytes, _| {
        let text = String::from_utf8_lossy(bytes);
        for brief in [Brief::from_toml(&text), Brief::from_json(&text)] {
            match brief {
                Ok(brief) => {
                    assert_eq!(brief.validate(), Ok(()));
                    assert_eq!(Brief::from_toml(&brief.to_toml()), Ok(brief.clone()));
                    assert_eq!(Brief::from_json(&brief.to_json()), Ok(brief));
                }
                Err(error) => assert!(error.message.ends_with(['.', '?']), "{error}"),
            }
        }
    });
}

#[test]
fn any_link_is_read_or_refused() {
    let brief = Brief::default();
    let made = [STRIP, FAN, SQUARE].map(|obj| {
        let Examined { model, measures, report } = examined(obj.as_bytes()).unwrap();
        encode(&model, &measures, &report, &brief).unwrap().model
    });
    fuzz("link", &made.each_ref().map(Vec::as_slice), |bytes, chance| {
        let mut link = to_base64url(&wrap(bytes, b"{}").unwrap());
        if chance.below(4) == 0 {
            link = String::from_utf8_lossy(&chance.mutated(&[link.as_bytes()])).into_owned();
        }
        let Ok(carried) = unwrap(&link).and_then(|parcel| decode(&parcel)) else { return };
        // What comes out of a link is what the reader of a file promises: it can be measured, and saved as a file again.
        let again = obj_text(&carried.document);
        let model = Model::new(carried.document);
        assert!(model.document.positions.iter().flatten().all(|x| x.abs() <= 1e30 || x.is_nan()));
        if model.triangle_count() < 2000 {
            drop(Measures::new(&model, &brief));
            if let Some(Examined { report, .. }) = examined(again.as_bytes()) {
                assert_told(&report);
            }
        }
    });
}

#[test]
fn any_two_versions_are_compared() {
    let mut last = Version::default();
    fuzz("comparison", &[STRIP, FAN, SQUARE].map(str::as_bytes), |bytes, _| {
        let Some(Examined { model, report, .. }) = examined(bytes) else { return };
        let version = Version::new(&report, model.bounds());
        let same = compare(&version, &version);
        assert_eq!((same.fixed.len(), same.new.len(), same.still_there.len()), (0, 0, version.spots.len()));
        for (old, new) in [(&last, &version), (&version, &last)] {
            let compared = compare(old, new);
            assert_eq!(compared.fixed.len() + compared.still_there.len(), old.spots.len());
            assert_eq!(compared.new.len() + compared.still_there.len(), new.spots.len());
        }
        last = version;
    });
}

/// Nesting that would fill a stack.
#[test]
fn deep_briefs_are_refused() {
    for deep in ["[", "{", "[map]\nsheets = [", "{\"map\":", "[map]\nsheets = {a=", "[a.", "a."] {
        let (head, piece) = deep.rsplit_once('\n').map_or(("", deep), |(head, piece)| (head, piece));
        let text = format!("{head}\n{}", piece.repeat(100_000));
        assert!(Brief::from_toml(&text).is_err() && Brief::from_json(&text).is_err(), "{deep}");
    }
    let nested = format!("[map]\nsheets = {}{}\n", "[".repeat(100_000), "]".repeat(100_000));
    assert!(Brief::from_toml(&nested).is_err());
}
