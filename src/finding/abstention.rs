//! When the answer is "cannot say".

use super::Look;
use crate::concerns::{Concern, ConcernKind};

/// A shaft with more of its pixels clipped than this cannot be judged: level, colour and evenness of its glow are
/// those of the sensor's end and not its own.
const MOST_CLIPPED_SHARE: f64 = 0.5;

/// Novelty up to which a shaft is judged: 1 is where 1 % of shafts of known kinds from other scenes lie beyond.
pub const NOVELTY_LIMIT: f64 = 1.0;

/// The look of a shaft, or `None`: cannot say.
///
/// Said only when exactly one look is plausible, it is also the most probable one, the shaft is not novel, and its
/// quality does not forbid it.
pub fn decided(
    probability: &[f64; Look::COUNT],
    plausible: &[Look],
    novelty: f64,
    quality_forbids: bool,
) -> Option<Look> {
    let [look] = *plausible else { return None };
    let most_probable = probability.iter().all(|&p| p <= probability[look as usize]);
    (most_probable && novelty <= NOVELTY_LIMIT && !quality_forbids).then_some(look)
}

/// Whether a shaft whose look cannot be said leans to infected: well seen, of a known kind, and nothing more probable.
/// Such a shaft must not pass as none that looks infected.
pub fn leans_infected(look: Option<Look>, probability: &[f64; Look::COUNT], concerns: &[Concern]) -> bool {
    let strange = |kind| matches!(kind, ConcernKind::Novel | ConcernKind::MaybeNoShaft);
    look.is_none()
        && probability.iter().all(|&p| p <= probability[Look::Infected as usize])
        && !concerns.iter().any(|concern| strange(concern.kind) || forbids_shaft(concern))
}

/// Whether a concern about a photo means that none of its shafts can be judged.
pub fn forbids_photo(concern: &Concern) -> bool {
    matches!(concern.kind, ConcernKind::TooDark | ConcernKind::VisibleLight | ConcernKind::TooSmall)
}

/// Whether a concern about a shaft means that it cannot be judged.
pub fn forbids_shaft(concern: &Concern) -> bool {
    match concern.kind {
        ConcernKind::FewStations => true,
        ConcernKind::ShaftClipped => concern.value.is_none_or(|share| share > MOST_CLIPPED_SHARE),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::{Look, decided, forbids_shaft, leans_infected};
    use crate::concerns::{Concern, ConcernKind};

    #[test]
    fn only_one_plausible_known_and_well_seen_look_is_said() {
        let p = [0.8, 0.1, 0.06, 0.04];
        assert_eq!(decided(&p, &[Look::Infected], 0.9, false), Some(Look::Infected));
        assert_eq!(decided(&p, &[], 0.9, false), None, "none is plausible");
        assert_eq!(decided(&p, &[Look::Infected, Look::Coated], 0.9, false), None, "two are plausible");
        assert_eq!(decided(&p, &[Look::Normal], 0.9, false), None, "another is more probable");
        assert_eq!(decided(&p, &[Look::Infected], 1.1, false), None, "novel");
        assert_eq!(decided(&p, &[Look::Infected], f64::NAN, false), None, "novelty unknown");
        assert_eq!(decided(&p, &[Look::Infected], 0.9, true), None, "badly seen");
    }

    #[test]
    fn only_a_well_seen_known_shaft_leans() {
        let p = [0.5, 0.4, 0.1, 0.0];
        assert!(leans_infected(None, &p, &[Concern::new(ConcernKind::Partial)]));
        assert!(!leans_infected(Some(Look::Infected), &p, &[]), "said already");
        assert!(!leans_infected(None, &[0.4, 0.5, 0.1, 0.0], &[]), "another is more probable");
        for kind in [ConcernKind::Novel, ConcernKind::MaybeNoShaft, ConcernKind::FewStations] {
            assert!(!leans_infected(None, &p, &[Concern::new(kind)]), "{kind:?}");
        }
    }

    #[test]
    fn a_little_clipping_does_not_forbid() {
        assert!(!forbids_shaft(&Concern::with(ConcernKind::ShaftClipped, 0.2)));
        assert!(forbids_shaft(&Concern::with(ConcernKind::ShaftClipped, 0.8)));
        assert!(forbids_shaft(&Concern::new(ConcernKind::FewStations)));
        assert!(!forbids_shaft(&Concern::new(ConcernKind::Partial)));
    }
}
