//! Cargo asks for a target; only the folders of the packages are of use.
