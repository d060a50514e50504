//! What was said of shells, when a layout is replaced by another.
//!
//! A shell is named by its lowest face, its key; a key means the shell that holds that face now. Shells part and join: what was
//! said of one that parted goes to all its pieces; of what joined it holds only if all parts of it agreed, and faces that
//! had no uv agree with nobody. Linear in faces, n log n in what is said.

use super::Layout;
use crate::util::packed;
use std::collections::BTreeMap;

/// What became of what was said.
#[derive(Clone, Debug, PartialEq)]
pub struct CarriedOver<T> {
    /// By keys of the new layout, rising.
    pub kept: Vec<(u32, T)>,
    /// Shells of which it holds no more, because not all that joined agreed: the key of the new one, and those of the old ones
    /// of which something was said.
    pub lapsed: Vec<(u32, Vec<u32>)>,
}

/// Carries over what is said of shells, by the key; of two that are said of one shell the later counts.
pub fn carried_over<T: Clone + PartialEq>(old: &Layout, new: &Layout, said: &[(u32, T)]) -> CarriedOver<T> {
    let faces = old.face_shells().len();
    let mut said_of: BTreeMap<u32, &(u32, T)> = BTreeMap::new();
    for what in said.iter().filter(|(key, _)| (*key as usize) < faces) {
        if let Some(shell) = old.shell_of_face(what.0 as usize) {
            said_of.insert(shell, what);
        }
    }
    let mut carried = CarriedOver { kept: Vec::new(), lapsed: Vec::new() };
    if said_of.is_empty() {
        return carried;
    }
    let key_of = new.shell_keys();
    // New shell and old one; no old one sorts last.
    let mut pairs: Vec<u64> = Vec::new();
    for (old, new) in old.face_shells().zip(new.face_shells()) {
        let Some(new) = new else { continue };
        let pair = packed::two(new, old.unwrap_or(u32::MAX));
        if pairs.last() != Some(&pair) {
            pairs.push(pair);
        }
    }
    pairs.sort_unstable();
    pairs.dedup();
    for parts in pairs.chunk_by(|a, b| a >> 32 == b >> 32) {
        let key = key_of[packed::split_two(parts[0]).0 as usize];
        let of_parts: Vec<_> = parts.iter().map(|pair| said_of.get(&packed::split_two(*pair).1)).collect();
        match of_parts[0] {
            Some((_, what)) if of_parts.iter().all(|part| part.is_some_and(|(_, other)| other == what)) => {
                carried.kept.push((key, what.clone()));
            }
            _ => {
                let keys: Vec<u32> = of_parts.iter().flatten().map(|(key, _)| *key).collect();
                if !keys.is_empty() {
                    carried.lapsed.push((key, keys));
                }
            }
        }
    }
    carried
}
