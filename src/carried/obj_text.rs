//! A document as OBJ again, to save a model that came by link.

use crate::model::{Document, Run};

/// More zeros are not written: no double needs more to say which of those near 1 it is.
const DECIMALS_MOST: u32 = 17;

/// OBJ text that reads back as the same document, but for lines and warnings, and normals and hard seams, which are left out. Points that
/// no face uses have no place and are written at the origin. Numbers are the shortest decimals that give the same doubles, with
/// zeros behind them up to the decimals of the file that the document was read from.
pub fn obj_text(document: &Document) -> String {
    let mut text = String::new();
    let number = |x: &f64, decimals: u32| {
        let mut text = if x.is_nan() { "0".to_owned() } else { x.to_string() };
        let written = text.find('.').map(|point| text.len() - point - 1);
        if written.is_none() && decimals > 0 {
            text.push('.');
        }
        text.extend(std::iter::repeat_n('0', (decimals as usize).saturating_sub(written.unwrap_or(0))));
        text
    };
    let [of_positions, of_uvs] = document.decimals.map(|decimals| decimals.min(DECIMALS_MOST));
    let mut line = |keyword: &str, words: &mut dyn Iterator<Item = String>| {
        text.push_str(keyword);
        words.for_each(|word| {
            text.push(' ');
            text.push_str(&word);
        });
        text.push('\n');
    };
    document.material_libraries.iter().for_each(|name| line("mtllib", &mut std::iter::once(name.clone())));
    document.positions.iter().for_each(|p| line("v", &mut p.iter().map(|x| number(x, of_positions))));
    document.texcoords.iter().for_each(|t| line("vt", &mut t.iter().map(|x| number(x, of_uvs))));
    let mut kinds = [
        ("o", &document.objects, document.object_runs.iter().peekable()),
        ("g", &document.groups, document.group_runs.iter().peekable()),
        ("usemtl", &document.materials, document.material_runs.iter().peekable()),
    ];
    for face in 0..document.face_count() {
        for (keyword, names, runs) in &mut kinds {
            if let Some(Run { name, .. }) = runs.next_if(|run| run.face as usize == face) {
                line(keyword, &mut names.get(*name as usize).cloned().into_iter());
            }
        }
        let corner = |corner: &crate::model::Corner| match corner.texcoord {
            Some(id) => format!("{}/{}", corner.position.0 + 1, id.index() + 1),
            None => (corner.position.0 + 1).to_string(),
        };
        line("f", &mut document.face(face).iter().map(corner));
    }
    text
}
