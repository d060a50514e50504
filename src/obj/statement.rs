//! The full parser: any statement of the format, and a sentence for each error.

use super::elements::{Bulk, Elements, NameKind, quoted_bytes};
use super::index::Index;
use super::number::{self, Spelling};
use super::scan::{MAX_LINE_BYTES, Sink, Statement, StatementKind, trim, words};
use crate::model::{DiagnosticKind as Kind, document::measured};

/// Most distinct skipped keywords that are remembered; a damaged file can hold any number of them.
const MOST_KEYWORDS: usize = 48;

/// Bytes of a skipped keyword that are remembered.
const MOST_KEYWORD_BYTES: usize = 32;

/// Under this key go all keywords beyond [`MOST_KEYWORDS`]; no keyword is empty.
pub(super) const OTHER_KEYWORDS: &[u8] = b"";

impl Sink for Elements {
    const ASKS_PLACES: bool = false;

    #[inline(always)]
    fn plain_line(&mut self, text: &[u8], at: usize, line: u32, position: u64) -> Option<usize> {
        self.offset = position;
        if self.short_way { self.plain(text, at, line) } else { None }
    }

    fn statement(&mut self, statement: &Statement<'_>) {
        self.incomplete = false;
        let &Statement { kind, line, text, .. } = statement;
        if memchr::memchr(0, text).is_some() {
            self.raise(line, Kind::NulBytes, || {
                "This line holds NUL bytes: the file was damaged or only partly written; what is readable was used. Export \
                 or copy it again."
                    .to_owned()
            });
        }
        let (keyword, rest) = statement.split();
        match kind {
            StatementKind::Nothing => {}
            StatementKind::Position => self.position(rest, text.len(), line),
            StatementKind::Texcoord => self.texcoord(rest, text.len(), line),
            StatementKind::Normal => self.normal(rest, text.len(), line),
            StatementKind::Face => self.face(rest, text.len(), line),
            StatementKind::Object => self.named(NameKind::Object, keyword, rest, line),
            StatementKind::Material => self.named(NameKind::Material, keyword, rest, line),
            StatementKind::Group => {
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
            StatementKind::Library => self.libraries(rest, line),
            // `off`, and anything else that is not a number, is no group.
            StatementKind::Smoothing => {
                let group = std::str::from_utf8(trim(rest)).ok().and_then(|group| group.parse().ok());
                self.begin_smoothing(group.unwrap_or(0));
            }
            StatementKind::TooLong => self.raise(line, Kind::LineTooLong, || {
                format!(
                    "This line is longer than {} MiB and was left out. Is this an OBJ, and is it complete?",
                    MAX_LINE_BYTES >> 20
                )
            }),
            StatementKind::Line | StatementKind::Surface | StatementKind::Outside | StatementKind::Other => {
                self.pass_over(keyword, rest, line);
            }
        }
    }

    fn is_full(&self) -> bool {
        self.failure.is_some()
    }
}

impl Elements {
    fn raise(&mut self, line: u32, kind: Kind, message: impl FnOnce() -> String) {
        self.document.diagnostics.raise(line, kind, message);
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
                        (measured(value), "is beyond 1e30, up to which numbers can be measured")
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

    /// Reports why a face cannot be drawn.
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

    /// Names of libraries end in `.mtl`; they may contain blanks, with a backslash before them or without.
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
