//! THE list of features: key, unit, range, meaning. Code, docs and tests are held equal to it.

/// One feature.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Entry {
    /// Stable name, `family.name`.
    pub key: &'static str,
    /// Unit as shown to people; `1` for a ratio.
    pub unit: &'static str,
    /// Smallest and largest value it can take.
    pub range: [f64; 2],
    /// What it means, one sentence.
    pub meaning: &'static str,
    /// When it is absent, one sentence.
    pub absent: &'static str,
    /// What disturbs it, one sentence.
    pub disturbed_by: &'static str,
    /// Whether the forest may use it (absolute lengths in pixels, for one, must not decide).
    pub votes: bool,
}

/// All features, in the order of a row.
pub const CATALOGUE: &[Entry] = &[];
