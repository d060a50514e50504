//! The careful way: any statement of the format, and a sentence for whatever is wrong with it.

use super::DiagnosticKind as Kind;
use super::elements::{Bulk, Elements, NameKind, quoted_bytes};
use super::number::{self, Spelling};

/// Keywords remembered apart when they are passed over; a damaged file can hold any number of them.
const MOST_KEYWORDS: usize = 48;

/// Bytes of a passed-over keyword that are remembered.
const MOST_KEYWORD_BYTES: usize = 32;

/// Under this key go all keywords beyond [`MOST_KEYWORDS`]; no keyword is empty.
pub(super) const OTHER_KEYWORDS: &[u8] = b"";

/// What separates words. NUL is no blank by the format; it stands where bytes were lost.
pub(super) fn is_blank(byte: u8) -> bool {
    matches!(byte, b' ' | b'\t' | 0x0B | 0x0C | 0)
}

fn words(text: &[u8]) -> impl Iterator<Item = &[u8]> {
    text.split(|&byte| is_blank(byte)).filter(|word| !word.is_empty())
}

pub(super) fn trim(text: &[u8]) -> &[u8] {
    let start = text.iter().position(|&b| !is_blank(b)).unwrap_or(text.len());
    let end = text.iter().rposition(|&b| !is_blank(b)).map_or(start, |last| last + 1);
    &text[start..end]
}

/// Keyword and the rest of a statement.
fn split_keyword(text: &[u8]) -> (&[u8], &[u8]) {
    let text = trim(text);
    let end = text.iter().position(|&b| is_blank(b)).unwrap_or(text.len());
    text.split_at(end)
}

/// Whether a statement's words are a name, in which a `#` may stand.
pub(super) fn holds_name(text: &[u8]) -> bool {
    matches!(split_keyword(text).0, b"o" | b"g" | b"usemtl" | b"mtllib")
}

/// Removes a comment. In a name, `#` starts one only between blanks (`wall # inner` but not `wall #2`); elsewhere it
/// always does, except in what some runtimes print for no number (`1.#IND`).
pub(super) fn without_comment(text: &[u8], in_name: bool) -> (&[u8], bool) {
    for at in memchr::memchr_iter(b'#', text) {
        let before = at.checked_sub(1).map(|i| text[i]);
        let after = text.get(at + 1).copied();
        let starts = match (before, in_name) {
            (None, _) => true,
            (Some(b), true) => is_blank(b) && after.is_none_or(is_blank),
            (Some(b'.'), false) => !after.is_some_and(|b| matches!(b.to_ascii_uppercase(), b'I' | b'N' | b'Q' | b'S')),
            (Some(_), false) => true,
        };
        if starts {
            return (&text[..at], true);
        }
    }
    (text, false)
}

/// What a corner's index says.
#[derive(Clone, Copy)]
enum Index {
    /// Nothing is written.
    Absent,
    /// Counted from 1, and perhaps not there yet.
    Number(u32),
    /// The specification counts from 1.
    Zero,
    /// Before the first, or beyond what can be counted.
    OutOfRange,
    /// Not an integer.
    NotInteger,
}

impl Index {
    fn read(word: &[u8], count: usize) -> Self {
        let (negative, digits) = match word {
            [] => return Index::Absent,
            [b'-', digits @ ..] => (true, digits),
            [b'+', digits @ ..] => (false, digits),
            digits => (false, digits),
        };
        if digits.is_empty() || !digits.iter().all(u8::is_ascii_digit) {
            return Index::NotInteger;
        }
        let value =
            digits.iter().fold(0u64, |value, digit| value.saturating_mul(10).saturating_add(u64::from(digit - b'0')));
        let number = match (value, negative) {
            (0, _) => return Index::Zero,
            (_, false) => Some(value),
            (_, true) => (count as u64 + 1).checked_sub(value).filter(|&number| number > 0),
        };
        match number.and_then(|number| u32::try_from(number).ok()) {
            Some(number) if number < u32::MAX => Index::Number(number),
            _ => Index::OutOfRange,
        }
    }

    /// The number, or 0 for none; whether it is wrong.
    fn or_none(self) -> (u32, bool) {
        match self {
            Index::Number(number) => (number, false),
            Index::Absent => (0, false),
            Index::Zero | Index::OutOfRange | Index::NotInteger => (0, true),
        }
    }
}

impl Elements {
    fn raise(&mut self, line: u32, kind: Kind, message: impl FnOnce() -> String) {
        self.document.diagnostics.raise(line, kind, message);
    }

    /// Takes one statement, without its comment and line end, continued lines already joined. `line` is where it starts.
    pub fn statement(&mut self, text: &[u8], line: u32) {
        self.incomplete = false;
        if memchr::memchr(0, text).is_some() {
            self.raise(line, Kind::NulBytes, || {
                "This line holds NUL bytes: the file was damaged or only partly written; what is readable was used. Export \
                 or copy it again."
                    .to_owned()
            });
        }
        let (keyword, rest) = split_keyword(text);
        match keyword {
            b"" => {}
            b"v" => self.position(rest, text.len(), line),
            b"vt" => self.texcoord(rest, text.len(), line),
            b"vn" => self.normal(rest, text.len(), line),
            // `fo` is what version 2.11 of the format called a face.
            b"f" | b"fo" => self.face(rest, text.len(), line),
            b"o" => self.named(NameKind::Object, keyword, rest, line),
            b"usemtl" => self.named(NameKind::Material, keyword, rest, line),
            b"g" => {
                let mut name = Vec::new();
                for word in words(rest) {
                    if !name.is_empty() {
                        name.push(b' ');
                    }
                    name.extend_from_slice(word);
                }
                // The specification: faces of no group belong to the group `default`.
                self.begin(NameKind::Group, if name.is_empty() { b"default" } else { &name }, line);
            }
            b"mtllib" => self.libraries(rest, line),
            // `off`, and whatever else is no number, is no group.
            b"s" => {
                let group = std::str::from_utf8(trim(rest)).ok().and_then(|group| group.parse().ok());
                self.begin_smoothing(group.unwrap_or(0));
            }
            _ => self.pass_over(keyword, rest, line),
        }
    }

    /// The first `N` numbers of a statement that may have the given counts of them, and the most decimals that one of them is
    /// written with; NaN in all where one is unreadable.
    fn numbers<const N: usize>(
        &mut self,
        rest: &[u8],
        what: &str,
        needed: usize,
        allowed: &[usize],
        line: u32,
    ) -> ([f64; N], i32) {
        let mut values = [0.0; N];
        let (mut count, mut decimals) = (0, 0);
        let mut readable = true;
        let mut comma = None;
        for word in words(rest) {
            self.incomplete = false;
            if count < N {
                decimals = number::decimals(word).max(decimals);
                let spelling = number::parse(word);
                if matches!(spelling, Spelling::Comma(_)) {
                    comma = comma.or(Some(word));
                }
                let (value, why) = match spelling {
                    Spelling::Plain(value) | Spelling::Comma(value) => {
                        (number::measured(value), "is beyond 1e30, up to which numbers can be measured")
                    }
                    Spelling::Unreadable => (None, "is not a finite number"),
                };
                self.incomplete = matches!(spelling, Spelling::Unreadable);
                match value {
                    Some(value) => values[count] = value,
                    None => {
                        if readable {
                            self.raise(line, Kind::BadNumber, || {
                                format!(
                                    "{} {why}, so this {what} has no value and nothing that needs it can be drawn. Repair or \
                                     export the model again.",
                                    quoted_bytes(word)
                                )
                            });
                        }
                        readable = false;
                    }
                }
            }
            count += 1;
        }
        if let Some(word) = comma {
            self.raise(line, Kind::DecimalComma, || {
                format!(
                    "{} has a decimal comma and was read with a point. OBJ knows only the point: set it in the exporter's \
                     language or number settings.",
                    quoted_bytes(word)
                )
            });
        }
        if count < needed {
            readable = false;
            self.incomplete = true;
            self.raise(line, Kind::MissingNumber, || {
                format!(
                    "This {what} has {count} of the {needed} numbers it needs, so it has no value and nothing that needs \
                     it can be drawn. Repair or export the model again."
                )
            });
        } else if !allowed.contains(&count) {
            self.raise(line, Kind::ExtraNumbers, || {
                format!(
                    "This {what} has {count} numbers; the first {} were used, the others mean nothing here.",
                    N.min(count)
                )
            });
        }
        if readable { (values, decimals) } else { ([f64::NAN; N], 0) }
    }

    fn position(&mut self, rest: &[u8], bytes: usize, line: u32) {
        if self.has_room(self.document.positions.len(), line, "positions (v)") {
            let (position, decimals) = self.numbers::<3>(rest, "position (v)", 3, &[3, 4, 6, 7], line);
            self.unreadable[0] |= position[0].is_nan();
            self.spend(Bulk::Position, bytes);
            self.note_decimals(0, decimals);
            self.push_position(position);
        }
    }

    fn texcoord(&mut self, rest: &[u8], bytes: usize, line: u32) {
        if self.has_room(self.document.texcoords.len(), line, "texture coordinates (vt)") {
            let (texcoord, decimals) = self.numbers::<2>(rest, "texture coordinate (vt)", 1, &[1, 2, 3], line);
            self.unreadable[1] |= texcoord[0].is_nan();
            self.spend(Bulk::Texcoord, bytes);
            self.note_decimals(1, decimals);
            self.push_texcoord(texcoord);
        }
    }

    fn normal(&mut self, rest: &[u8], bytes: usize, line: u32) {
        if self.has_room(self.document.normals.len(), line, "normals (vn)") {
            let (normal, _) = self.numbers::<3>(rest, "normal (vn)", 3, &[3], line);
            self.unreadable[2] |= normal[0].is_nan();
            self.spend(Bulk::Normal, bytes);
            self.push_normal(normal);
        }
    }

    fn face(&mut self, rest: &[u8], bytes: usize, line: u32) {
        if !self.has_room(self.face_statements as usize, line, "faces (f)") {
            return;
        }
        self.face_statements += 1;
        let first = self.document.corners.len();
        let counts = [self.document.positions.len(), self.document.texcoords.len(), self.document.normals.len()];
        let highest = self.highest;
        let mut forms = 0u8;
        let mut bad_texcoord = None;
        let mut bad_normal = None;
        for (place, word) in (1u32..).zip(words(rest)) {
            let mut parts = word.splitn(3, |&b| b == b'/');
            let mut part = |count| Index::read(parts.next().unwrap_or_default(), count);
            let (position, texcoord, normal) = (part(counts[0]), part(counts[1]), part(counts[2]));
            let Index::Number(position) = position else {
                self.drop_open_face();
                self.highest = highest;
                self.refuse_corner(position, word, place, line);
                return;
            };
            if !self.has_room(self.document.corners.len(), line, "face corners") {
                self.drop_open_face();
                return;
            }
            self.incomplete |= word.ends_with(b"/");
            let (texcoord_number, wrong_texcoord) = texcoord.or_none();
            let (normal_number, wrong_normal) = normal.or_none();
            if wrong_texcoord {
                bad_texcoord = bad_texcoord.or(Some((place, word)));
            }
            if wrong_normal {
                bad_normal = bad_normal.or(Some((place, word)));
            }
            let textured = !matches!(texcoord, Index::Absent);
            forms |= 1 << (u8::from(textured) | u8::from(!matches!(normal, Index::Absent)) << 1);
            self.use_corner(position, texcoord_number, normal_number);
        }
        let corners = self.document.corners.len() - first;
        if corners < 3 {
            self.drop_open_face();
            self.highest = highest;
            self.incomplete = true;
            self.raise(line, Kind::TooFewCorners, || {
                format!("This face has {corners} of the at least 3 corners it needs and was left out. Export the model again, or delete the line.")
            });
            return;
        }
        if let Some((place, word)) = bad_texcoord {
            self.raise(line, Kind::BadTexcoordIndex, || {
                format!(
                    "Corner {place} of this face, {}, names a texture coordinate (vt) that does not exist, so the corner has \
                     none. Export the model again.",
                    quoted_bytes(word)
                )
            });
        }
        if let Some((place, word)) = bad_normal {
            self.raise(line, Kind::BadNormalIndex, || {
                format!(
                    "Corner {place} of this face, {}, names a normal (vn) that does not exist, so the corner has none. \
                     Export the model again.",
                    quoted_bytes(word)
                )
            });
        }
        if !forms.is_power_of_two() {
            self.incomplete = true;
            self.raise(line, Kind::MixedCorners, || {
                "The corners of this face are not written alike: some have a texture coordinate or a normal and others do \
                 not. Each was taken as it stands; a face counts as unmapped unless all its corners have texture coordinates."
                    .to_owned()
            });
        }
        let textured = forms & 0b1010 != 0;
        self.with_texcoords |= textured;
        self.without_texcoords |= !textured;
        self.spend(Bulk::Face, bytes);
        self.close_face(line);
    }

    /// Says why a face cannot be drawn.
    fn refuse_corner(&mut self, index: Index, word: &[u8], place: u32, line: u32) {
        let count = self.document.positions.len();
        match index {
            Index::Zero => self.raise(line, Kind::ZeroIndex, || {
                format!(
                    "Corner {place} of this face, {}, uses index 0, but OBJ counts from 1; the face was left out. Export \
                     the model again with indices from 1.",
                    quoted_bytes(word)
                )
            }),
            Index::OutOfRange => self.raise(line, Kind::PositionOutOfRange, || {
                format!(
                    "Corner {place} of this face, {}, asks for a position (v) that does not exist: {count} stand before \
                     this line; the face was left out. Export the model again.",
                    quoted_bytes(word)
                )
            }),
            Index::Absent | Index::NotInteger | Index::Number(_) => {
                self.incomplete = true;
                self.raise(line, Kind::BadCorner, || {
                    format!(
                        "Corner {place} of this face, {}, does not start with the number of a position; the face was left \
                         out. A corner is written v, v/vt, v//vn or v/vt/vn, without blanks inside.",
                        quoted_bytes(word)
                    )
                });
            }
        }
    }

    /// Without a name, what follows still belongs to something else than what went before: to the empty name.
    fn named(&mut self, kind: NameKind, keyword: &[u8], rest: &[u8], line: u32) {
        let name = trim(rest);
        if name.is_empty() {
            self.nameless(keyword, "the faces that follow belong to one without a name", line);
        }
        self.begin(kind, name, line);
    }

    fn nameless(&mut self, keyword: &[u8], outcome: &str, line: u32) {
        self.incomplete = true;
        self.raise(line, Kind::MissingName, || {
            format!(
                "{} stands here without a name; {outcome}. Give it one where the model was made.",
                quoted_bytes(keyword)
            )
        });
    }

    /// Names of libraries end in `.mtl`; blanks may stand inside one, with a backslash before them or without.
    fn libraries(&mut self, rest: &[u8], line: u32) {
        if trim(rest).is_empty() {
            return self.nameless(b"mtllib", "it was passed over", line);
        }
        let mut name: Vec<u8> = Vec::new();
        for word in words(rest) {
            if !name.is_empty() {
                name.push(b' ');
            }
            if let [start @ .., b'\\'] = word {
                name.extend_from_slice(start);
                continue;
            }
            name.extend_from_slice(word);
            if name.len() >= 4 && name[name.len() - 4..].eq_ignore_ascii_case(b".mtl") {
                let text = self.free_name(&name, line);
                self.document.material_libraries.push(text);
                name.clear();
            }
        }
        if !name.is_empty() {
            let text = self.free_name(&name, line);
            self.document.material_libraries.push(text);
        }
    }

    fn pass_over(&mut self, keyword: &[u8], rest: &[u8], line: u32) {
        self.incomplete = rest.is_empty() && [&b"usemtl"[..], b"mtllib"].iter().any(|whole| whole.starts_with(keyword));
        let keyword = &keyword[..keyword.len().min(MOST_KEYWORD_BYTES)];
        let place = |key: &[u8]| self.passed_over.binary_search_by(|(other, _)| other.as_slice().cmp(key));
        let (mut key, mut found) = (keyword, place(keyword));
        if found.is_err() && self.passed_over.len() >= MOST_KEYWORDS {
            (key, found) = (OTHER_KEYWORDS, place(OTHER_KEYWORDS));
        }
        let place = found.unwrap_or_else(|place| {
            self.passed_over.insert(place, (key.to_vec(), (line, 0)));
            place
        });
        self.passed_over[place].1.1 += 1;
    }
}
