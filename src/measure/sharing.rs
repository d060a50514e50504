//! Who shares texture space with whom.

/// How two shells (or one and itself) share.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ShareKind {
    /// Oppositely handed.
    Mirrored,
    /// Same handedness, at least 95 % of both.
    Stacked,
    /// Same handedness, partly.
    Crossing,
    /// One shell over itself.
    SelfCrossing,
}

/// Two shells that share.
#[derive(Clone, Debug, PartialEq)]
pub struct SharedPair {
    /// The lower shell.
    pub a: u32,
    /// The higher shell; the same as `a` for [`ShareKind::SelfCrossing`].
    pub b: u32,
    /// How they share.
    pub kind: ShareKind,
    /// Shared uv area.
    pub area_uv: f64,
    /// Shared area over the uv area of `a`, 0..1.
    pub area_share_a: f64,
    /// Shared area over the uv area of `b`, 0..1.
    pub area_share_b: f64,
    /// A triangle of `a` in the shared area (index into the input's triangles): where to look.
    pub example_a: u32,
    /// A triangle of `b` there.
    pub example_b: u32,
}

/// Per triangle, with whom it shares.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shares {
    /// With an oppositely handed triangle.
    pub mirrored: bool,
    /// With a stacked shell.
    pub stacked: bool,
    /// With a crossing shell.
    pub crossing: bool,
    /// With its own shell, same handedness.
    pub self_crossing: bool,
}

/// Sharing of a whole layout.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sharing {
    /// All pairs, by (a, b, kind).
    pub pairs: Vec<SharedPair>,
    /// Per triangle of the input.
    pub triangles: Vec<Shares>,
    /// Surface area whose sheet area is also used by an oppositely handed triangle, over all mapped surface area.
    pub mirrored_share: Option<f64>,
    /// The search stopped at its limit: everything above is "at least".
    pub at_least: bool,
}
