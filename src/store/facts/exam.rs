//! One examination under the lamp: which sites were looked at, and what was seen there.

use serde::{Deserialize, Serialize};

use super::{Day, Fact, Kind, Site, joined, not_after, short_text, words};

words! {
    /// What was seen of a thing that was looked for.
    Answer {
        /// It was seen.
        Yes = "yes",
        /// It was looked for and not seen.
        No = "no",
        /// It could not be told.
        Unsure = "unsure",
    }
}

words! {
    /// How evenly a site fluoresces.
    Evenness {
        /// Along whole shafts, shaft by shaft.
        Even = "even",
        /// In patches and flecks.
        Patchy = "patchy",
    }
}

words! {
    /// What kind of lamp it was.
    LampKind {
        /// Light-emitting diode.
        Led = "led",
        /// Mercury arc or tube.
        Mercury = "mercury",
        /// Fluorescent tube.
        Tube = "tube",
        /// Something else.
        Other = "other",
    }
}

/// Wavelengths that a lamp for this can have, nanometres: UV-A and the border to violet. Facts: 320-400 nm (University
/// of Florida, "Ringworm Diagnosis"); a wider range is taken, for cheap lamps are off.
const LAMP_NM: std::ops::RangeInclusive<f64> = 300.0..=420.0;

/// Longest warm-up that is meant, minutes; more is a slip of the finger.
const MAX_WARM_UP_MIN: f64 = 120.0;

/// One examination under the lamp.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Exam {
    /// The day it was made.
    pub day: Day,
    /// Wavelength of the lamp, nanometres, 300 to 420.
    #[serde(default)]
    pub lamp_nm: Option<f64>,
    /// Kind of lamp.
    #[serde(default)]
    pub lamp_kind: Option<LampKind>,
    /// How long the lamp was on before, minutes.
    #[serde(default)]
    pub warm_up_min: Option<f64>,
    /// Whether the animal was bathed before. Water may take the glow away or leave soap that glows.
    #[serde(default)]
    pub bathed_before: Option<Answer>,
    /// Whether the animal was treated on the skin before.
    #[serde(default)]
    pub treated_before: Option<Answer>,
    /// What was seen, site by site; a site is named once. Empty: the animal was looked over and nothing was seen.
    #[serde(default)]
    pub sites: Vec<SiteSeen>,
    /// Free words.
    #[serde(default)]
    pub remark: Option<String>,
}

/// What was seen at one site.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SiteSeen {
    /// Where.
    pub site: Site,
    /// Whether it fluoresced.
    pub fluorescence: Answer,
    /// Colour of the fluorescence, free words such as `apple green`.
    #[serde(default)]
    pub colour: Option<String>,
    /// How evenly.
    #[serde(default)]
    pub evenness: Option<Evenness>,
    /// Whether hair was missing.
    #[serde(default)]
    pub hair_loss: Option<Answer>,
    /// Whether there was crust.
    #[serde(default)]
    pub crust: Option<Answer>,
    /// Whether crust was lifted before looking.
    #[serde(default)]
    pub crust_lifted: Option<Answer>,
}

impl Fact for Exam {
    const KIND: Kind = Kind::Exam;

    fn check(&self, today: Day) -> Result<(), String> {
        not_after("the day of the exam", self.day, today)?;
        if let Some(nm) = self.lamp_nm.filter(|nm| !LAMP_NM.contains(nm)) {
            let (low, high) = (LAMP_NM.start(), LAMP_NM.end());
            return Err(format!("{nm} nm is no wavelength of such a lamp; give {low} to {high}, such as 365"));
        }
        if let Some(min) = self.warm_up_min.filter(|min| !(0.0..=MAX_WARM_UP_MIN).contains(min)) {
            return Err(format!("{min} minutes are no warm-up; give 0 to {MAX_WARM_UP_MIN}"));
        }
        for (i, seen) in self.sites.iter().enumerate() {
            if self.sites[..i].iter().any(|other| other.site == seen.site) {
                return Err(format!("{} is named twice in one exam; say all of a site at once", seen.site));
            }
            if seen.fluorescence == Answer::No && (seen.colour.is_some() || seen.evenness.is_some()) {
                return Err(format!("{} did not fluoresce, yet has a colour or evenness; leave them out", seen.site));
            }
            short_text("the colour", seen.colour.as_deref())?;
        }
        short_text("the remark", self.remark.as_deref())
    }

    fn day(&self) -> Option<Day> {
        Some(self.day)
    }

    fn words(&self) -> Option<String> {
        joined([self.remark.as_deref()])
    }

    /// `fluoresces`, `unsure`, or `none-seen`: the most that any site showed.
    fn state(&self) -> Option<String> {
        let any = |answer| self.sites.iter().any(|seen| seen.fluorescence == answer);
        let state = if any(Answer::Yes) {
            "fluoresces"
        } else if any(Answer::Unsure) {
            "unsure"
        } else {
            "none-seen"
        };
        Some(state.to_owned())
    }
}
