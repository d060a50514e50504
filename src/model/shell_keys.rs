//! Transfers data on shells when a layout is replaced by another.
//!
//! A shell is named by its lowest face, its key; a key means the shell that holds that face now. Shells split and
//! merge: data on a split shell go to all its pieces; on a merged shell they stay only if all its parts agreed, and
//! faces without uv agree with none. Linear in faces, n log n in the data.

use super::Layout;
use crate::util::packed;

/// The transferred data.
#[derive(Clone, Debug, PartialEq)]
pub struct CarriedOver<T> {
    /// By keys of the new layout, rising.
    pub kept: Vec<(u32, T)>,
    /// Shells whose data lapsed because merged parts did not agree: the key of the new one, and those of the old ones
    /// with data.
    pub lapsed: Vec<(u32, Vec<u32>)>,
}

/// Which shell has faces of which: new one and old one, the new one in the upper half of each number, rising. The old one is
/// `u32::MAX` for faces that had no uv.
pub fn pieces(old: &Layout, new: &Layout) -> Vec<u64> {
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
    pairs
}

/// Transfers data on shells, by key; of two for one shell the later counts.
pub fn carried_over<T: Clone + PartialEq>(old: &Layout, new: &Layout, said: &[(u32, T)]) -> CarriedOver<T> {
    let faces = old.face_shells().len();
    let mut said_of: Vec<Option<&(u32, T)>> = vec![None; old.shell_count as usize];
    for what in said.iter().filter(|(key, _)| (*key as usize) < faces) {
        if let Some(shell) = old.shell_of_face(what.0 as usize) {
            said_of[shell as usize] = Some(what);
        }
    }
    let mut carried = CarriedOver { kept: Vec::new(), lapsed: Vec::new() };
    if said_of.iter().all(Option::is_none) {
        return carried;
    }
    let key_of = new.shell_keys();
    let pairs = pieces(old, new);
    for parts in pairs.chunk_by(|a, b| a >> 32 == b >> 32) {
        let key = key_of[packed::split_two(parts[0]).0 as usize];
        let of = |pair: &u64| said_of.get(packed::split_two(*pair).1 as usize).copied().flatten();
        let of_parts: Vec<_> = parts.iter().map(of).collect();
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
