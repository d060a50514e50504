//! A model inside a link: what a *carried link* holds behind its `#`, which is never sent to a host.
//!
//! Connectivity, the order of faces and corners, names, lines and counts are exact. Positions and uvs lie on lattices whose
//! steps are chosen so that the report on what is read equals the report on the file ([`encode`] proves it by measuring
//! both; see [`SAME`]). Normals and smoothing groups are not carried, only which faces are inside out by them and along which
//! seams the shading breaks; of the warnings, how many of each
//! kind, and the first of each in full.
//!
//! # Format, version 2
//! Text: base64url (RFC 4648 section 5) without padding of these bytes:
//!
//! | bytes | what |
//! | --- | --- |
//! | 1 | [`MAGIC`] + version |
//! | 1 to 5 | length of the rest, 7 bits a byte, low ones first, the high bit set on all but the last |
//! | 4 | the first bytes of the SHA-256 (FIPS 180-4) of all that follows |
//! | 1 to 5 | length of the model, likewise |
//! | that many | the model, through the range coder of `coder`: file (name, bytes, SHA-256), both steps, decimals of the file's numbers, faces and corners (`connect`), points that no face uses, positions and uvs (`geometry`), inside-out faces, names, lines, warnings (`words`), hard seams |
//! | the rest | the review, bytes whose meaning is the page's (JSON), through their own range coder |
//!
//! Units: positions in model units, uvs in uv; each is a whole number below 2^53 times its [`Step`]. The range coder takes the
//! place of a general compressor: it knows which number it codes, and the reader is the same in page and command and needs
//! no inflater. DEFLATE (RFC 1951, zlib's level 9) over the same numbers, in byte planes, came to 6 and 8 % more on two
//! organic meshes and 6 % less on the demo, whose parts repeat.
//!
//! Version 1 had no hard seams; they are found there by the angle between faces.
//!
//! # What a reader accepts
//! [`LINK_BYTES_MAX`] bytes, `CORNERS_MAX` corners and as many points of each kind, names and texts as
//! `words` says; every number is checked before it is used or makes room. Cost: linear in corners.

mod base64url;
pub(crate) mod coder;
mod connect;
mod encode;
mod geometry;
mod obj_text;
mod same;
mod step;
#[cfg(all(test, not(target_arch = "wasm32")))]
mod tests;
mod words;

pub use base64url::{from_base64url, to_base64url};
pub use encode::{Encoded, Refused, encode};
pub use obj_text::obj_text;
pub use same::{SAME, difference};
pub use step::{DIGITS, Step};

use crate::model::{Corner, Document, NormalId, PositionId, TexcoordId};
use crate::report::File;
use coder::{Bit, Coder, Number, Reader, unzigzag, zigzag};
use connect::{CORNERS_MAX, Connected, NONE, Shape};
use glam::DVec3;
use serde::Serialize;
use sha2::{Digest as _, Sha256};
use words::Text;

/// The first byte less its version: no letter that a text or an archive begins with.
pub const MAGIC: u8 = 0xB0;
/// The version that is written.
pub const VERSION: u8 = 2;
/// Most bytes of a link, before base64url: what an address of 2 MiB holds, the longest that Chromium keeps
/// (`url::kMaxURLChars`, url/url_constants.h).
pub const LINK_BYTES_MAX: usize = (2 << 20) / 4 * 3;
/// Most bytes of a review.
pub const REVIEW_BYTES_MAX: usize = 1 << 18;

/// Bytes of the digest that are kept: a link altered by accident passes once in four thousand million times.
const DIGEST_BYTES: usize = 4;

/// Steps of both lattices.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Steps {
    /// Model units.
    pub position: Step,
    /// uv.
    pub uv: Step,
}

/// What was read from a link.
#[derive(Clone, Debug)]
pub struct Carried {
    /// As the reader of OBJ gives it, without normals; points in order of first use.
    pub document: Document,
    /// The file it was made from.
    pub file: File,
    /// How finely coordinates are stored.
    pub steps: Steps,
}

/// Stable codes of failures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[cfg_attr(target_arch = "wasm32", derive(tsify::Tsify))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum LinkFailureCode {
    /// It does not begin as a carried link does, or has characters that none has.
    NotCarried,
    /// A version that is not known here.
    Newer,
    /// It is cut short.
    CutShort,
    /// Its digest does not match.
    Altered,
    /// Beyond the limits.
    TooLarge,
    /// Complete, but invalid.
    Damaged,
}

/// Why a link gives no model, and what to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LinkFailure {
    /// Stable code.
    pub code: LinkFailureCode,
    /// Sentences for the user.
    pub message: String,
}

impl LinkFailure {
    fn new(code: LinkFailureCode, message: impl Into<String>) -> Self {
        Self { code, message: message.into() }
    }
}

impl std::fmt::Display for LinkFailure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for LinkFailure {}

/// What cannot be in a model, as the middle of a sentence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Damage(&'static str);

impl Damage {
    const END: Damage = Damage("it ends too early");
}

impl From<Damage> for LinkFailure {
    fn from(Damage(reason): Damage) -> Self {
        let message = ["The model in this link cannot be read: ", reason, ". Ask for the link again, or for the file."];
        Self::new(LinkFailureCode::Damaged, message.concat())
    }
}

/// A link taken apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Parcel {
    /// Version of the model's coding.
    pub version: u8,
    /// For [`decode`].
    pub model: Vec<u8>,
    /// As it was given to [`wrap`].
    pub review: Vec<u8>,
}

/// Puts an encoded model and a review together. `review`: at most [`REVIEW_BYTES_MAX`] bytes, else the result is
/// `None`.
pub fn wrap(model: &[u8], review: &[u8]) -> Option<Vec<u8>> {
    let mut writer = coder::Writer::new();
    Text::new().bytes(&mut writer, review, REVIEW_BYTES_MAX).ok()?;
    let mut inside = Vec::with_capacity(model.len() + 64);
    push_length(&mut inside, model.len());
    inside.extend(model);
    inside.extend(writer.finish());
    let mut bytes = vec![MAGIC + VERSION];
    push_length(&mut bytes, inside.len());
    bytes.extend(&Sha256::digest(&inside)[..DIGEST_BYTES]);
    bytes.extend(inside);
    Some(bytes)
}

/// Splits a link's text: what follows `m=`.
///
/// # Errors
/// [`LinkFailureCode`], all but `Damaged`, unless the review is.
pub fn unwrap(text: &str) -> Result<Parcel, LinkFailure> {
    use LinkFailureCode as Code;
    if text.len() / 4 * 3 > LINK_BYTES_MAX {
        return Err(LinkFailure::new(
            Code::TooLarge,
            "This link is longer than any that Gridproof makes. Ask for the file.",
        ));
    }
    let not_carried = || {
        LinkFailure::new(
            Code::NotCarried,
            "This link carries no model: what stands behind its # is not in Gridproof's form. Copy the whole link again.",
        )
    };
    // Cut in the middle of a byte, as after one letter of four, it is read up to there; the length check reports it.
    let bytes = from_base64url(text).or_else(|_| from_base64url(text.get(..text.len() / 4 * 4).unwrap_or("-")));
    let bytes =
        bytes.ok().filter(|_| text.bytes().all(|letter| letter.is_ascii_alphanumeric() || b"-_".contains(&letter)));
    let bytes = bytes.ok_or_else(not_carried)?;
    let (&first, rest) = bytes.split_first().ok_or_else(not_carried)?;
    let version = first.wrapping_sub(MAGIC);
    match version {
        VERSION => {}
        newer if newer > VERSION && newer < 16 => {
            let message = "This link was made by a newer Gridproof than this one. Open it at the address it was made for, or \
                           load this page anew.";
            return Err(LinkFailure::new(Code::Newer, message));
        }
        _ => return Err(not_carried()),
    }
    let cut_short = || {
        let message = "The link was cut short on its way: its end is missing. Chats and mails cut long links; ask for it \
                       again in another way, or for the file.";
        LinkFailure::new(Code::CutShort, message)
    };
    let (length, rest) = take_length(rest).ok_or_else(cut_short)?;
    if rest.len() < length.saturating_add(DIGEST_BYTES) {
        return Err(cut_short());
    }
    let (digest, inside) = rest.split_at(DIGEST_BYTES);
    if inside.len() != length || Sha256::digest(inside)[..DIGEST_BYTES] != *digest {
        let message = "The link was altered on its way: it is not as it was made. Copy the whole link again.";
        return Err(LinkFailure::new(Code::Altered, message));
    }
    let (length, rest) = take_length(inside).ok_or(Damage::END)?;
    if rest.len() < length {
        return Err(Damage::END.into());
    }
    let (model, review) = rest.split_at(length);
    let review = Text::new().bytes(&mut Reader::new(review), &[], REVIEW_BYTES_MAX)?;
    Ok(Parcel { version, model: model.to_vec(), review })
}

fn push_length(bytes: &mut Vec<u8>, mut length: usize) {
    while length > 0x7F {
        bytes.push(length as u8 | 0x80);
        length >>= 7;
    }
    bytes.push(length as u8);
}

/// A length of at most 5 bytes, and what follows.
fn take_length(bytes: &[u8]) -> Option<(usize, &[u8])> {
    let mut length = 0;
    for (place, byte) in bytes.iter().take(5).enumerate() {
        length |= u64::from(byte & 0x7F) << (7 * place);
        if byte & 0x80 == 0 {
            return Some((usize::try_from(length).ok()?, &bytes[place + 1..]));
        }
    }
    None
}

/// The model of a parcel. Older versions are upgraded here.
///
/// # Errors
/// [`LinkFailureCode::Damaged`]; `Newer` for a version that [`unwrap`] does not give.
pub fn decode(parcel: &Parcel) -> Result<Carried, LinkFailure> {
    match parcel.version {
        VERSION => Ok(code_model(&mut Reader::new(&parcel.model), &Given::default())?),
        _ => Err(LinkFailure::new(LinkFailureCode::Newer, "This link is of a version that is not known here.")),
    }
}

/// What is written; when reading, empty.
#[derive(Default)]
struct Given<'a> {
    document: Option<&'a Document>,
    file: Option<&'a File>,
    steps: Option<Steps>,
    shape: Shape,
    /// Of each value, in steps.
    positions: Vec<[i64; 3]>,
    uvs: Vec<[i64; 2]>,
    /// Of each face; empty where none is.
    inside_out: Vec<bool>,
    /// Corners at which seams along hard edges start, rising.
    hard_seams: Vec<u32>,
}

/// The one walk over a model, for writing and reading.
fn code_model<C: Coder>(coder: &mut C, given: &Given) -> Result<Carried, Damage> {
    let (no_document, no_file) = (Document::default(), File::default());
    let given_document = given.document.unwrap_or(&no_document);
    let mut text = Text::new();
    let file = words::code_file(coder, &mut text, given.file.unwrap_or(&no_file))?;
    let steps = Steps {
        position: code_step(coder, given.steps.map(|steps| steps.position))?,
        uv: code_step(coder, given.steps.map(|steps| steps.uv))?,
    };
    let mut number = Number::NEW;
    let decimals =
        given_document.decimals.map(|most| coder.number(&mut number, most.into()).min(u32::MAX.into()) as u32);
    let connected = connect::code(coder, &given.shape)?;
    let faces = connected.shape.starts.len() - 1;
    let used = [connected.shape.position_value.len(), connected.shape.uv_value.len(), 0];
    let all = [given_document.positions.len(), given_document.texcoords.len(), given_document.normals.len()];
    let mut counts = Number::NEW;
    let mut unused = [0; 3];
    for kind in 0..3 {
        unused[kind] = coder.number(&mut counts, (all[kind] as u64).saturating_sub(used[kind] as u64)) as usize;
        if unused[kind] > CORNERS_MAX - used[kind] {
            return Err(Damage("it has more points than any that is made"));
        }
    }
    let positions = geometry::code_positions(coder, &connected, &given.positions)?;
    let uvs = geometry::code_uvs(coder, &connected, &positions, &given.uvs)?;
    let mut document = document(&connected, steps, &positions, &uvs);
    document.decimals = decimals;
    if unused[2] > 0 {
        turn_inside_out(coder, &given.inside_out, unused[2], &mut document);
    }
    document.positions.resize(used[0] + unused[0], [f64::NAN; 3]);
    document.texcoords.resize(used[1] + unused[1], [f64::NAN; 2]);
    words::code_names(coder, &mut text, given_document, &mut document, faces)?;
    document.hard_seams = Some(code_hard_seams(coder, &given.hard_seams, document.corners.len())?);
    if coder.is_spent() {
        return Err(Damage::END);
    }
    Ok(Carried { document, file, steps })
}

fn code_step<C: Coder>(coder: &mut C, given: Option<Step>) -> Result<Step, Damage> {
    let mut number = Number::NEW;
    let times = coder.plain(4, given.map_or(1, |step| u64::from(step.times)));
    let digits = unzigzag(coder.number(&mut number, zigzag(given.map_or(0, |step| i64::from(step.digits)))));
    let digits = i8::try_from(digits).ok().filter(|digits| DIGITS.contains(digits));
    match (times, digits) {
        (1 | 2 | 5, Some(digits)) => Ok(Step { times: times as u8, digits }),
        _ => Err(Damage("its coordinates have no step")),
    }
}

/// How many, and by how many corners each is further than the first after the one before.
fn code_hard_seams<C: Coder>(coder: &mut C, given: &[u32], corners: usize) -> Result<Vec<u32>, Damage> {
    let (mut counts, mut steps) = (Number::NEW, Number::NEW);
    let count = coder.number(&mut counts, given.len() as u64);
    let mut seams = Vec::new();
    let mut least = 0;
    for place in 0..count {
        let given = given.get(place as usize).map_or(0, |&corner| u64::from(corner));
        let corner = coder.number(&mut steps, given.saturating_sub(least)).saturating_add(least);
        if corner >= corners as u64 || coder.is_spent() {
            return Err(Damage("a seam begins where there is no corner"));
        }
        seams.push(corner as u32);
        least = corner + 1;
    }
    Ok(seams)
}

/// All but names and normals.
fn document(connected: &Connected, steps: Steps, positions: &[[i64; 3]], uvs: &[[i64; 2]]) -> Document {
    let shape = &connected.shape;
    let position = |value: &u32| positions[*value as usize].map(|count| steps.position.of(count));
    let uv = |value: &u32| uvs[*value as usize].map(|count| steps.uv.of(count));
    let corner = |(&point, &uv): (&u32, &u32)| Corner {
        position: PositionId(point),
        texcoord: if uv == NONE { None } else { TexcoordId::new(uv) },
        normal: None,
    };
    Document {
        positions: shape.position_value.iter().map(position).collect(),
        texcoords: shape.uv_value.iter().map(uv).collect(),
        face_starts: shape.starts.clone(),
        corners: shape.positions.iter().zip(&shape.uvs).map(corner).collect(),
        ..Document::default()
    }
}

/// As many normals as the file has. Inside-out faces get some that point against their winding: their own as long as there
/// are enough, then the axis next to it, or where even those are too many, whichever points most that way; the rest is zero
/// and used by no face.
fn turn_inside_out<C: Coder>(coder: &mut C, given: &[bool], count: usize, document: &mut Document) {
    const AXES: usize = 6;
    let mut models = [Bit::NEW; 2];
    let mut was = false;
    let mut axes = [None; AXES];
    for face in 0..document.face_starts.len() - 1 {
        was = coder.bit(&mut models[usize::from(was)], given.get(face).copied().unwrap_or(false));
        if !was {
            continue;
        }
        let range = document.face_starts[face] as usize..document.face_starts[face + 1] as usize;
        let at = |corner: &Corner| DVec3::from_array(document.positions[corner.position.0 as usize]);
        let corners = &document.corners[range.clone()];
        let first = at(&corners[0]);
        let normal: DVec3 = corners.windows(2).map(|pair| (at(&pair[1]) - first).cross(at(&pair[0]) - first)).sum();
        let normals = &mut document.normals;
        let fresh = normals.len();
        let id = if fresh + AXES < count {
            normals.push(normal.normalize_or_zero().as_vec3().to_array());
            fresh
        } else {
            let axis = normal.abs().max_position();
            let is_negative = normal[axis] < 0.0;
            let known = &mut axes[axis * 2 + usize::from(is_negative)];
            if known.is_none() && fresh < count {
                let mut along = [0.0; 3];
                along[axis] = if is_negative { -1.0 } else { 1.0 };
                normals.push(along);
                *known = Some(fresh);
            }
            let along = |id: &usize| normal.dot(DVec3::from_array(normals[*id].map(f64::from)));
            known.or_else(|| (0..normals.len().min(AXES)).max_by(|a, b| along(a).total_cmp(&along(b)))).unwrap_or(0)
        };
        document.corners[range].iter_mut().for_each(|corner| corner.normal = NormalId::new(id as u32));
    }
    document.normals.resize(count, [0.0; 3]);
}
