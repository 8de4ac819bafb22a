//! Everything a catalogue row may look at when it measures one shaft.

use super::branching::Branching;
use super::colour::{self, Colour};
use super::comparison::{Ordinary, Summary};
use super::signals::{Reading, Signals};
use super::stretches::Stretches;
use super::visible::{self, Medulla, Shadow};
use super::zone::Fluorescing;

/// One shaft with its place on the photo: its signals, what is ordinary here, where it fluoresces.
#[derive(Clone, Debug)]
pub(super) struct Subject<'a> {
    /// The shaft's signals.
    pub(super) signals: &'a Signals<'a>,
    /// What was condensed of it before any was compared.
    pub(super) summary: &'a Summary,
    /// What is ordinary on this photo, without this shaft.
    pub(super) ordinary: Option<&'a Ordinary>,
    /// Which of the clear stations fluoresce.
    pub(super) lit: &'a Stretches,
    /// Where along all of it that is in sight it fluoresces.
    pub(super) along: &'a Stretches,
    /// The light along it.
    pub(super) light: Vec<Reading>,
    /// The light smoothed over a width and a half.
    pub(super) smooth: &'a [f64],
    /// Colour of the glow where it fluoresces, else all along; `None` for a monochrome photo.
    pub(super) colour: Option<Colour>,
    /// Colour of the ground beside it; `None` for a monochrome photo.
    pub(super) ground: Option<Colour>,
    /// Whether the base is at the first end, where known.
    pub(super) base_at_first: Option<bool>,
    /// Where its trace branches.
    pub(super) branching: Option<Branching>,
    /// The shaft in a second photo in visible light.
    pub(super) shadow: Option<&'a Shadow<'a>>,
    /// Its medulla there; `None` where none could be seen.
    pub(super) medulla: Option<Medulla>,
}

impl<'a> Subject<'a> {
    /// A shaft ready to be measured.
    pub(super) fn new(
        signals: &'a Signals<'a>,
        summary: &'a Summary,
        ordinary: Option<&'a Ordinary>,
        fluorescing: &'a Fluorescing,
        base_at_first: Option<bool>,
        branching: Option<Branching>,
        shadow: Option<&'a Shadow<'a>>,
    ) -> Subject<'a> {
        let lit = &fluorescing.stretches;
        let in_colour = |colour: Option<Colour>| if signals.monochrome { None } else { colour };
        Subject {
            signals,
            summary,
            ordinary,
            lit,
            along: &fluorescing.along,
            light: super::signals::light(&signals.glow),
            smooth: &fluorescing.smooth,
            colour: in_colour(colour::of_glow(&signals.glow, lit)),
            ground: in_colour(colour::of_ground(&signals.glow)),
            base_at_first,
            branching,
            shadow,
            medulla: shadow.and_then(visible::medulla),
        }
    }

    /// Light that an ordinary shaft of this width would show; `None` without (other) comparison shafts.
    pub(super) fn ordinary_light(&self) -> Option<f64> {
        Some(self.ordinary?.light_at(self.signals.width_px()))
    }
}
