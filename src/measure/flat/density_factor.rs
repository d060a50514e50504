//! Density factor: which shells the brief wants finer or coarser than the rest.
//!
//! A shell's factor is the one given to the object of its first face, or else to its group, or else to its material; 1
//! without any. A face of several groups (`g a b`) takes the factor of all of them together, or else of the first that
//! has one. Linear in faces.

use crate::model::Model;
use std::collections::BTreeMap;

/// Factor on the reference density, > 0, by shell.
pub fn shell_density_factors(model: &Model, density_factor: &BTreeMap<String, f64>) -> Vec<f64> {
    let mut factors = vec![1.0; model.layout.shell_count as usize];
    if density_factor.is_empty() {
        return factors;
    }
    // Shells are numbered in the order of their first faces.
    let mut next = 0;
    for (face, shell) in model.layout.face_shells().enumerate() {
        if shell == Some(next) {
            factors[next as usize] = face_density_factor(model.document.names_of(face), density_factor).unwrap_or(1.0);
            next += 1;
        }
    }
    factors
}

fn face_density_factor(
    [object, group, material]: [Option<&str>; 3],
    density_factor: &BTreeMap<String, f64>,
) -> Option<f64> {
    let factor = |name: &str| density_factor.get(name).copied().filter(|factor| *factor > 0.0 && factor.is_finite());
    let of_group = |group: &str| factor(group).or_else(|| group.split(' ').find_map(factor));
    object.and_then(factor).or_else(|| group.and_then(of_group)).or_else(|| material.and_then(factor))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn object_comes_before_group_and_group_before_material() {
        let density_factor =
            BTreeMap::from([("lid".to_owned(), 2.0), ("inside".to_owned(), 0.5), ("brass".to_owned(), 3.0)]);
        let of = |object, group, material| face_density_factor([object, group, material], &density_factor);
        assert_eq!(of(Some("lid"), Some("inside"), Some("brass")), Some(2.0));
        assert_eq!(of(Some("box"), Some("inside"), Some("brass")), Some(0.5));
        assert_eq!(of(Some("box"), Some("outside inside"), None), Some(0.5));
        assert_eq!(of(None, Some("outside"), Some("brass")), Some(3.0));
        assert_eq!(of(Some("box"), None, None), None);
        let bad = BTreeMap::from([("lid".to_owned(), 0.0)]);
        assert_eq!(face_density_factor([Some("lid"), None, None], &bad), None);
    }
}
