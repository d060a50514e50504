//! A review of a model whose layout was replaced by another.

use super::{Decision, Note, Review};
use crate::model::{Layout, Model, carried_over};
use glam::{DVec2, DVec3};
use std::sync::Arc;

/// Findings about no shell, though their id may end in a number: the name of a sheet, or of a group.
const BY_NAME: [&str; 2] = ["coverage", "text"];

/// A transferred review, and what lapsed.
#[derive(Clone, Debug, PartialEq)]
pub struct Followed {
    /// What is still valid.
    pub review: Review,
    /// What lapsed.
    pub lapsed: Vec<Lapsed>,
}

/// Decisions that lapsed, because their shells were merged with others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lapsed {
    /// The finding of the shell that there is now.
    pub id: String,
    /// The findings that were decided on.
    pub decided: Vec<String>,
}

impl Review {
    /// Under another layout of the same surface. Decisions go where their shells go, see [`carried_over`]; notes stay
    /// at their point of the surface, with the uv that it has now, and `label` gives the name of its shell.
    pub fn follow(&self, old: &Layout, new: &Model, label: &dyn Fn(u32) -> String) -> Followed {
        let (mut decisions, mut lapsed) = (Vec::new(), Vec::new());
        // Decisions of one kind are about different shells, and those on one sheet apart from those on others.
        let mut by_kind: Vec<((&str, &str), Vec<_>)> = Vec::new();
        for (id, decision) in &self.decisions {
            match shell_key(id) {
                Some((kind, key, rest)) => match by_kind.iter_mut().find(|(of, _)| *of == (kind, rest)) {
                    Some((_, said)) => said.push((key, decision)),
                    None => by_kind.push(((kind, rest), vec![(key, decision)])),
                },
                None => decisions.push((id.clone(), decision.clone())),
            }
        }
        for ((kind, rest), said) in by_kind {
            let id = |key: u32| [kind, "-", &key.to_string(), rest].concat();
            let carried = carried_over(old, &new.layout, &said);
            decisions.extend(carried.kept.into_iter().map(|(key, decision)| (id(key), decision.clone())));
            lapsed.extend(
                carried
                    .lapsed
                    .into_iter()
                    .map(|(key, keys)| Lapsed { id: id(key), decided: keys.into_iter().map(id).collect() }),
            );
        }
        let notes = self.notes.iter().map(|note| note.follow(new, label)).collect();
        Followed { review: Review { notes, decisions }, lapsed }
    }
}

/// Reviews of layouts that undo may restore, where transferring would lose something: a lapsed decision, or the last
/// digits of a uv.
#[derive(Debug, Default)]
pub struct Said {
    /// Without their texts.
    notes: Vec<(Arc<Layout>, Note)>,
    lapsed: Vec<(Arc<Layout>, (String, Decision))>,
}

impl Said {
    /// As [`Review::follow`]; under a restored layout, its earlier review is restored, and what has lapsed since is
    /// valid again, unless decided otherwise.
    pub fn follow(
        &mut self,
        review: &Review,
        old: &Arc<Layout>,
        new: &Model,
        label: &dyn Fn(u32) -> String,
    ) -> Followed {
        let mut followed = review.follow(old, new, label);
        for note in &mut followed.review.notes {
            let is_it = |(layout, was): &&(Arc<Layout>, Note)| {
                Arc::ptr_eq(layout, &new.layout) && was.face == note.face && was.point == note.point
            };
            if let Some((_, was)) = self.notes.iter().find(is_it) {
                (note.shell, note.uv) = (was.shell.clone(), was.uv);
            }
        }
        self.notes.retain(|(layout, _)| !Arc::ptr_eq(layout, old));
        let without_text = |note: &Note| Note { text: String::new(), ..note.clone() };
        self.notes.extend(review.notes.iter().map(|note| (old.clone(), without_text(note))));
        for (layout, decided) in &self.lapsed {
            let is_open = followed.review.decisions.iter().all(|(id, _)| *id != decided.0);
            if Arc::ptr_eq(layout, &new.layout) && is_open {
                followed.review.decisions.push(decided.clone());
            }
        }
        self.lapsed.retain(|(layout, _)| !Arc::ptr_eq(layout, &new.layout) && !Arc::ptr_eq(layout, old));
        let ids = || followed.lapsed.iter().flat_map(|lapsed| &lapsed.decided);
        let lapsed = review.decisions.iter().filter(|(id, _)| ids().any(|lapsed| lapsed == id));
        self.lapsed.extend(lapsed.map(|decided| (old.clone(), decided.clone())));
        followed
    }

    /// Keeps only the reviews of these layouts.
    pub fn keep(&mut self, is_kept: impl Fn(&Arc<Layout>) -> bool) {
        self.notes.retain(|(layout, _)| is_kept(layout));
        self.lapsed.retain(|(layout, _)| is_kept(layout));
    }
}

impl Note {
    fn follow(&self, new: &Model, label: &dyn Fn(u32) -> String) -> Self {
        let face = self.face as usize;
        if face >= new.document.face_count() {
            return self.clone();
        }
        let shell = new.layout.shell_of_face(face).map(label);
        let point = DVec3::from_array(self.point);
        let nearest = new
            .triangles_of(face)
            .map(|triangle| (triangle, shares(new.positions(triangle), point)))
            .max_by(|(_, a), (_, b)| a.min_element().total_cmp(&b.min_element()));
        let uv = nearest.and_then(|(triangle, shares)| {
            let uvs = new.uvs(triangle)?;
            Some(uvs.into_iter().zip(shares.to_array()).map(|(uv, share)| uv * share).sum::<DVec2>().to_array())
        });
        Self { shell, uv, ..self.clone() }
    }
}

/// How much a point has of the corners of a triangle; a third of each where that has no area.
fn shares([a, b, c]: [DVec3; 3], point: DVec3) -> DVec3 {
    let normal = (b - a).cross(c - a);
    let of = |from: DVec3, to: DVec3| (to - from).cross(point - from).dot(normal) / normal.length_squared();
    let shares = DVec3::new(of(b, c), of(c, a), of(a, b));
    if shares.is_finite() { shares } else { DVec3::splat(1.0 / 3.0) }
}

/// Splits the id of a finding: the part before the key of its lowest shell, that key, and the rest.
fn shell_key(id: &str) -> Option<(&str, u32, &str)> {
    let (at, _) = id.match_indices('-').find(|(at, _)| {
        let digits = id[at + 1..].bytes().take_while(u8::is_ascii_digit).count();
        digits > 0 && matches!(id.as_bytes().get(at + 1 + digits), None | Some(b'-'))
    })?;
    let (kind, rest) = (&id[..at], &id[at + 1..]);
    let digits = rest.find('-').unwrap_or(rest.len());
    let key = rest[..digits].parse().ok()?;
    (!BY_NAME.contains(&kind)).then_some((kind, key, &rest[digits..]))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Edit;

    /// Four unit squares in a row, each with its own uvs but the first two, which are one shell.
    fn row() -> Model {
        let mut text = String::new();
        for x in 0..5 {
            text += &format!("v {x} 0 0\nv {x} 1 0\n");
        }
        for (face, left) in [0.0, 1.0, 4.0, 8.0].into_iter().enumerate() {
            for (u, v) in [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)] {
                text += &format!("vt {} {}\n", (left + u) / 16.0, v / 16.0);
            }
            let (p, t) = (2 * face + 1, 4 * face + 1);
            text += &format!("f {p}/{t} {}/{} {}/{} {}/{}\n", p + 2, t + 1, p + 3, t + 2, p + 1, t + 3);
        }
        Model::new(crate::obj::read(text.as_bytes()).expect("faces"))
    }

    /// The model with a face's uvs moved in u.
    fn with_face_at(model: &Model, face: u32, left: f64) -> Model {
        let at = [(0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)];
        let uvs = at.iter().zip(4 * face..).map(|((u, v), corner)| (corner, DVec2::new(left + u, *v) / 16.0)).collect();
        model.with(&Edit { uvs, ..Edit::default() }).expect("uvs").0
    }

    fn intended(reason: &str) -> Decision {
        Decision::Intended { reason: reason.to_owned() }
    }

    #[test]
    fn a_shells_decision_follows_its_pieces_and_lapses_on_disagreeing_merges() {
        let model = row();
        assert_eq!(model.layout.shell_keys(), [0, 2, 3]);
        let parted = with_face_at(&model, 1, 12.0);
        let (whole, pieces) = (&model.layout, &parted.layout);
        assert_eq!(pieces.shell_keys(), [0, 1, 2, 3]);
        assert_eq!(carried_over(whole, pieces, &[(0, 2.0), (3, 0.5)]).kept, [(0, 2.0), (1, 2.0), (3, 0.5)]);
        // By any face of the shell.
        assert_eq!(carried_over(whole, pieces, &[(1, 'x'), (9, 'y')]).kept, [(0, 'x'), (1, 'x')]);

        let joined = carried_over(pieces, whole, &[(0, 'a'), (1, 'a'), (2, 'b')]);
        assert_eq!((joined.kept, joined.lapsed), (vec![(0, 'a'), (2, 'b')], vec![]));
        for said in [&[(0, 'a'), (1, 'b')][..], &[(0, 'a')], &[(1, 'a')]] {
            let joined = carried_over(pieces, whole, said);
            assert_eq!(joined.kept, []);
            assert_eq!(joined.lapsed, [(0, said.iter().map(|(key, _)| *key).collect())]);
        }
    }

    #[test]
    fn a_review_follows_its_shells_and_lists_lapsed_decisions() {
        let model = row();
        let note = Note {
            text: "here".into(),
            shell: Some("shell 0".into()),
            face: 1,
            point: [1.5, 0.25, 0.0],
            uv: Some([1.5 / 16.0, 0.25 / 16.0]),
        };
        let decisions = [
            ("flipped-0", intended("a")),
            ("padding-3-metal", Decision::ToFix),
            ("coverage-3", Decision::ToFix),
            ("text-0", Decision::ToFix),
            ("stretch-on-many-2", Decision::ToFix),
            ("density-not-judged", Decision::ToFix),
            ("seams", Decision::ToFix),
        ];
        let review = Review { notes: vec![note], decisions: decisions.map(|(id, said)| (id.to_owned(), said)).into() };
        let parted = with_face_at(&model, 1, 12.0);
        let label = |shell: u32| format!("shell {shell}");
        let Followed { review: after, lapsed } = review.follow(&model.layout, &parted, &label);
        let mut ids: Vec<&str> = after.decisions.iter().map(|(id, _)| id.as_str()).collect();
        ids.sort_unstable();
        let expected = ["coverage-3", "density-not-judged", "flipped-0", "flipped-1", "padding-3-metal", "seams"];
        assert_eq!(ids, [&expected[..], &["stretch-on-many-2", "text-0"]].concat());
        assert_eq!(lapsed, []);
        assert_eq!(
            (after.notes[0].shell.as_deref(), after.notes[0].uv),
            (Some("shell 1"), Some([12.5 / 16.0, 0.25 / 16.0]))
        );

        let mut apart = after.clone();
        apart.decisions.retain(|(id, _)| id != "flipped-1");
        let Followed { review: back, lapsed } = apart.follow(&parted.layout, &model, &label);
        assert_eq!(lapsed, [Lapsed { id: "flipped-0".into(), decided: vec!["flipped-0".into()] }]);
        assert!(back.decisions.iter().all(|(id, _)| !id.starts_with("flipped")));
        assert_eq!(back.notes, review.notes);
    }

    #[test]
    fn a_restored_layout_restores_its_review() {
        let apart = with_face_at(&row(), 1, 12.0);
        let whole = with_face_at(&apart, 1, 1.0);
        // As a page writes it, rounded.
        let note = Note {
            text: "here".into(),
            shell: Some("shell 1".into()),
            face: 1,
            point: [1.4, 0.3, 0.0],
            uv: Some([0.775, 0.018_750_001]),
        };
        let decisions = vec![("flipped-1".to_owned(), intended("a")), ("padding-3".to_owned(), Decision::ToFix)];
        let before = Review { notes: vec![note], decisions };
        let label = |shell: u32| format!("shell {shell}");
        let mut said = Said::default();
        let joined = said.follow(&before, &apart.layout, &whole, &label);
        assert_eq!(joined.lapsed.len(), 1);
        assert_eq!(joined.review.decisions, [("padding-3".to_owned(), Decision::ToFix)]);
        let again = said.follow(&joined.review, &whole.layout, &apart, &label).review;
        assert_eq!(again.notes, before.notes, "exactly");
        assert!(before.decisions.iter().all(|decided| again.decisions.contains(decided)) && again.decisions.len() == 2);

        // Decisions made meanwhile count, and what was dropped is forgotten.
        let joined = said.follow(&before, &apart.layout, &whole, &label).review;
        let other = Review { decisions: vec![("flipped-0".to_owned(), Decision::ToFix)], ..joined.clone() };
        let again = said.follow(&other, &whole.layout, &apart, &label).review;
        let of_both = [("flipped-0".to_owned(), Decision::ToFix), ("flipped-1".to_owned(), Decision::ToFix)];
        assert_eq!(again.decisions, of_both);
        said.follow(&before, &apart.layout, &whole, &label);
        said.keep(|_| false);
        assert_eq!(said.follow(&joined, &whole.layout, &apart, &label).review.decisions.len(), 1);
    }
}
