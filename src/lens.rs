//! Colour scales of the lenses.
