//! Stretches of a shaft that fluoresce, and the boundaries between them.

/// The lower threshold of the hysteresis, as a share of the way from the ordinary level to the upper one.
pub(super) const LOWER_SHARE: f64 = 0.6;

/// Which stations fluoresce.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretches {
    /// Arc length of the stations, pixels, rising.
    pub(super) places_px: Vec<f64>,
    /// Whether each fluoresces.
    pub(super) lit: Vec<bool>,
    /// Distance between stations, pixels.
    pub(super) step_px: f64,
    /// The fluorescing stretches in order: indices of first and last station.
    pub(super) runs: Vec<(usize, usize)>,
    /// Where a fluorescing stretch begins or ends, the shaft's own ends aside.
    pub(super) boundaries: Vec<Boundary>,
}

/// Where a fluorescing stretch begins or ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Boundary {
    /// Arc length, pixels: half-way between the two stations.
    pub(super) s_px: f64,
    /// Whether it fluoresces on the side of greater arc length.
    pub(super) lit_after: bool,
}

impl Stretches {
    /// Stretches from one flag a station.
    pub(super) fn new(places_px: &[f64], lit: Vec<bool>, step_px: f64) -> Stretches {
        let mut runs: Vec<(usize, usize)> = Vec::new();
        let mut boundaries = Vec::new();
        for (i, &here) in lit.iter().enumerate() {
            if here && (i == 0 || !lit[i - 1]) {
                runs.push((i, i));
            }
            if here && let Some(run) = runs.last_mut() {
                run.1 = i;
            }
            if i > 0 && here != lit[i - 1] {
                boundaries.push(Boundary { s_px: 0.5 * (places_px[i - 1] + places_px[i]), lit_after: here });
            }
        }
        Stretches { places_px: places_px.to_vec(), lit, step_px, runs, boundaries }
    }

    /// The same at other places along the shaft: each is as the nearest station here.
    pub(super) fn seen_at(&self, places_px: &[f64]) -> Stretches {
        Stretches::new(places_px, places_px.iter().map(|&s_px| self.is_lit(s_px)).collect(), self.step_px)
    }

    /// Whether the station nearest to arc length `s_px` fluoresces; false where there is no station.
    pub(super) fn is_lit(&self, s_px: f64) -> bool {
        let after = self.places_px.partition_point(|&at| at < s_px);
        let nearest = match (after.checked_sub(1), self.places_px.get(after)) {
            (Some(before), Some(&next)) if s_px - self.places_px[before] <= next - s_px => before,
            (Some(before), None) => before,
            _ => after,
        };
        self.lit.get(nearest).copied().unwrap_or(false)
    }

    /// Share of the stations that fluoresce, 0 to 1; 0 of no station.
    pub(super) fn share(&self) -> f64 {
        let n_lit = self.lit.iter().filter(|&&lit| lit).count();
        if self.lit.is_empty() { 0.0 } else { n_lit as f64 / self.lit.len() as f64 }
    }

    /// Share of the stations that the longest fluorescing stretch covers, 0 to 1.
    pub(super) fn longest_share(&self) -> f64 {
        let longest = self.runs.iter().map(|(from, to)| to - from + 1).max().unwrap_or(0);
        if self.lit.is_empty() { 0.0 } else { longest as f64 / self.lit.len() as f64 }
    }
}

/// Flags above `high`, grown as far as neighbours stay above `low`.
pub(super) fn with_hysteresis(high: &[bool], low: &[bool]) -> Vec<bool> {
    let mut lit = high.to_vec();
    for i in 1..lit.len() {
        lit[i] |= lit[i - 1] && low[i];
    }
    for i in (1..lit.len()).rev() {
        lit[i - 1] |= lit[i] && low[i - 1];
    }
    lit
}

/// Turns every run of `value` that is shorter than `fewest` stations into its opposite. Runs at the shaft's ends
/// are turned too when `ends_too`.
pub(super) fn drop_short_runs(flags: &mut [bool], value: bool, fewest: usize, ends_too: bool) {
    let mut from = 0;
    while from < flags.len() {
        let mut to = from;
        while to + 1 < flags.len() && flags[to + 1] == flags[from] {
            to += 1;
        }
        let at_end = from == 0 || to + 1 == flags.len();
        if flags[from] == value && to - from + 1 < fewest && (ends_too || !at_end) {
            flags[from..=to].fill(!value);
        }
        from = to + 1;
    }
}

#[cfg(test)]
mod tests {
    use super::{Boundary, Stretches, drop_short_runs, with_hysteresis};

    fn flags(text: &str) -> Vec<bool> {
        text.chars().map(|c| c == '#').collect()
    }

    #[test]
    fn runs_and_boundaries_of_a_pattern() {
        let places: Vec<f64> = (0..8).map(f64::from).collect();
        let stretches = Stretches::new(&places, flags("##..###."), 1.0);
        assert_eq!(stretches.runs, [(0, 1), (4, 6)]);
        let expected = [(1.5, false), (3.5, true), (6.5, false)].map(|(s_px, lit_after)| Boundary { s_px, lit_after });
        assert_eq!(stretches.boundaries, expected);
        assert_eq!(stretches.share(), 5.0 / 8.0);
        assert_eq!(stretches.longest_share(), 3.0 / 8.0);
        assert!(stretches.is_lit(-9.0) && stretches.is_lit(1.4) && !stretches.is_lit(1.6) && !stretches.is_lit(99.0));
        let nothing = Stretches::new(&[], Vec::new(), 1.0);
        assert!(!nothing.is_lit(0.0) && nothing.share() == 0.0 && nothing.longest_share() == 0.0);
    }

    #[test]
    fn hysteresis_grows_to_both_sides_and_not_across_a_gap() {
        assert_eq!(with_hysteresis(&flags("..#...."), &flags(".###.##")), flags(".###..."));
        assert_eq!(with_hysteresis(&flags("......."), &flags("#######")), flags("......."), "nothing to grow from");
    }

    #[test]
    fn short_runs_are_turned() {
        let mut pattern = flags("#.###..##");
        drop_short_runs(&mut pattern, false, 2, false);
        assert_eq!(pattern, flags("#####..##"));
        drop_short_runs(&mut pattern, true, 3, true);
        assert_eq!(pattern, flags("#####...."));
        let mut edge = flags(".###");
        drop_short_runs(&mut edge, false, 2, false);
        assert_eq!(edge, flags(".###"), "what lies at the end may go on beyond it");
    }
}
