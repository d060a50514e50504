//! Invariants of any input, and the seeds: for `tests/numbers/fuzz.rs`, which mutates seeds at random, and for
//! `tests/fuzz/`, where mutations are guided by coverage.

#![allow(clippy::unwrap_used)]
#![allow(dead_code)]

use gridproof::brief::{Brief, PRESETS};
use gridproof::carried::{decode, encode, obj_text, to_base64url, unwrap, wrap};
use gridproof::compare::{Version, compare};
use gridproof::measure::Measures;
use gridproof::model::Model;
use gridproof::report::{DensityReport, Report, text};
use gridproof::{CheckError, Examined, printable};

#[path = "written.rs"]
mod written;

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
    // NaN would be null where a number has to be. Names may be anything.
    let parts = report.density.parts.iter().flat_map(|part| [part.density_px_per_unit, part.factor]);
    let density = DensityReport { parts: Vec::new(), ..report.density.clone() };
    let numbers = format!("{:?} {density:?} {:?} {:?}", report.stretch, report.sheet, parts.collect::<Vec<_>>());
    assert!(!numbers.split(|c: char| !c.is_alphanumeric()).any(|word| ["NaN", "inf"].contains(&word)), "{numbers}");
}

/// Models.
pub const MODELS: [&str; 4] = [STRIP, FAN, SQUARE, FAR];

/// A model is read, measured and written again, or refused.
pub fn model(bytes: &[u8]) {
    if let Some(Examined { model, report, .. }) = examined(bytes) {
        assert_told(&report);
        written::assert_written_again(bytes, &model.document, bytes.len() as u64);
    }
}

/// Briefs.
pub fn briefs() -> Vec<String> {
    let own = "[map]\nsheets = [{ name = 'a', materials = ['b', 'c'], width_px = 512 }]\n[text]\ngroups = ['a', 'b']\n[density_factor]\n\
               'a' = 2\nb = 0.5\n";
    let presets = PRESETS.iter().map(|preset| (preset.brief)()).flat_map(|brief| [brief.to_toml(), brief.to_json()]);
    presets.chain([own.to_owned()]).collect()
}

/// A brief is read or refused.
pub fn brief(bytes: &[u8]) {
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
}

/// Models as a link holds them.
pub fn carried_models() -> Vec<Vec<u8>> {
    let made = [STRIP, FAN, SQUARE].map(|obj| {
        let Examined { model, measures, report } = examined(obj.as_bytes()).unwrap();
        encode(&model, &measures, &report, &Brief::default()).unwrap().model
    });
    made.into()
}

/// The link that holds a coded model.
pub fn link_of(model: &[u8]) -> String {
    to_base64url(&wrap(model, b"{}").unwrap())
}

/// A link is read or refused; its document is as valid as one read from a file: it can be measured, and saved as a file
/// again.
pub fn link(link: &str) {
    let Ok(carried) = unwrap(link).and_then(|parcel| decode(&parcel)) else { return };
    let again = obj_text(&carried.document);
    let model = Model::new(carried.document);
    assert!(model.document.positions.iter().flatten().all(|x| x.abs() <= 1e30 || x.is_nan()));
    if model.triangle_count() < 2000 {
        drop(Measures::new(&model, &Brief::default()));
        if let Some(Examined { report, .. }) = examined(again.as_bytes()) {
            assert_told(&report);
        }
    }
}

/// A version of a model, if the bytes are a model.
pub fn version(bytes: &[u8]) -> Option<Version> {
    let Examined { model, report, .. } = examined(bytes)?;
    Some(Version::new(&report, model.bounds()))
}

/// Two versions are compared: every finding of each is in its place once.
pub fn versions(last: &Version, version: &Version) {
    let same = compare(version, version);
    assert_eq!((same.fixed.len(), same.new.len(), same.still_there.len()), (0, 0, version.spots.len()));
    for (old, new) in [(last, version), (version, last)] {
        let compared = compare(old, new);
        assert_eq!(compared.fixed.len() + compared.still_there.len(), old.spots.len());
        assert_eq!(compared.new.len() + compared.still_there.len(), new.spots.len());
    }
}

/// Not part of any text, so it separates two.
const BETWEEN: u8 = 0xFF;

/// Two models as one input.
pub fn pair(old: &[u8], new: &[u8]) -> Vec<u8> {
    [old, &[BETWEEN], new].concat()
}

/// The two models of an input; one is both.
pub fn two(bytes: &[u8]) -> (&[u8], &[u8]) {
    bytes.iter().position(|&byte| byte == BETWEEN).map_or((bytes, bytes), |at| (&bytes[..at], &bytes[at + 1..]))
}

/// Pairs of the models.
pub fn pairs() -> Vec<Vec<u8>> {
    MODELS.windows(2).map(|models| pair(models[0].as_bytes(), models[1].as_bytes())).collect()
}
