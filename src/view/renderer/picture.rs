//! The picture of one place, kept until something on it changes.

use crate::view::gl::{Context, GlError, Quality, Target};
use crate::view::sight::Rect;

/// The picture of one place.
pub struct Picture {
    full: Option<Target>,
    draft: Option<Target>,
    shown: Quality,
}

impl Picture {
    /// None yet.
    pub const NONE: Self = Self { full: None, draft: None, shown: Quality::Full };

    /// The last one.
    pub fn shown(&self) -> Option<&Target> {
        match self.shown {
            Quality::Full => self.full.as_ref(),
            Quality::Draft => self.draft.as_ref(),
        }
    }

    /// A target to draw into: the previous one if it has the rectangle's size.
    pub fn take(&mut self, gl: &Context, rect: Rect, quality: Quality) -> Result<Target, GlError> {
        let size = [rect.width, rect.height];
        let former = match quality {
            Quality::Full => self.full.take(),
            Quality::Draft => self.draft.take(),
        };
        match former.filter(|target| target.size == size) {
            Some(target) => Ok(target),
            None => Target::new(gl, size, quality),
        }
    }

    /// It was drawn.
    pub fn show(&mut self, target: Target, quality: Quality) {
        self.shown = quality;
        match quality {
            Quality::Full => self.full = Some(target),
            Quality::Draft => self.draft = Some(target),
        }
    }

    /// Whether the last one was drawn with all its samples.
    pub fn is_full(&self) -> bool {
        self.shown == Quality::Full
    }

    /// Its targets.
    pub fn targets(&self) -> impl Iterator<Item = &Target> {
        self.full.iter().chain(&self.draft)
    }
}
