//! The course of a site over weeks: lamp, slides, cultures and treatment in one row of days.

use std::collections::BTreeMap;

use serde::Serialize;

use super::case::Case;
use super::facts::{Answer, Culture, Day, PlateReading, Reading, Site, SiteSeen, Treatment};
use super::kept::Kept;
use super::rules::RESOLVED_DAYS;
use crate::maths::proportion::{Z_95, wilson};
use crate::maths::robust::median;

/// What must always be said beside a course.
const ADVICE: &str = "Only a culture tells whether the animal still carries ringworm: send one, whatever the course looks \
                      like.";

/// What the place of the fluorescence speaks for. Source of the regression from base to tip: University of Florida,
/// open textbook, "Ringworm Diagnosis"; what follows from it for a site is common practice without a source.
const BASE_OR_TIP: &str = "Fluorescence at the base speaks for an active site, at the tip only for one that is growing \
                           out (common practice, no source; the retreat to the tips: University of Florida, \"Ringworm \
                           Diagnosis\").";

/// The course of a site.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Course {
    /// Where.
    pub site: Site,
    /// What happened, by day. Treatments are of the whole animal; so are cultures that name no site.
    pub points: Vec<CoursePoint>,
    /// `falling`, `growing` or `cannot-say`: the share of shafts that look infected, first to last slide, where their
    /// 95 % intervals do not overlap.
    pub direction: &'static str,
    /// The same for a person.
    pub sentence: String,
    /// Always: send a culture.
    pub advice: &'static str,
}

/// One day of a course.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CoursePoint {
    /// The day.
    pub day: Day,
    /// Id of the fact it is from.
    pub about: String,
    /// What happened.
    #[serde(flatten)]
    pub happening: Happening,
}

/// What happened on a day.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "happening", rename_all = "kebab-case")]
pub enum Happening {
    /// The site was seen under the lamp.
    Exam(SiteSeen),
    /// A slide was made and read.
    Slide {
        /// Shafts that look infected among the hairs that were judged; absent when none was.
        infected: Option<Share>,
        /// Number of hairs by where they fluoresce: of all hairs, also those whose look could not be judged.
        zones: BTreeMap<String, usize>,
        /// The same of the shafts that look infected.
        infected_zones: BTreeMap<String, usize>,
        /// Middle width of shafts that look infected, divided by that of comparison shafts (of ordinary ones, where
        /// none was marked); absent where one of them has none.
        width_ratio: Option<f64>,
        /// Number of photos that were read.
        n_readings: usize,
    },
    /// A culture was sent.
    Culture(Culture),
    /// Its plate was looked at.
    Plate(PlateReading),
    /// The animal was treated or bathed.
    Treatment(Treatment),
}

/// A share of hairs with its uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Share {
    /// How many.
    pub n: usize,
    /// Of how many.
    pub of: usize,
    /// Lower end of the 95 % interval (Wilson), 0 to 1. Shafts of one slide are taken as independent, which they are
    /// not quite: the true interval is wider.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

impl Case {
    /// The course of a site, by day.
    pub fn course(&self, site: &Site) -> Course {
        let mut points: Vec<CoursePoint> = Vec::new();
        let mut put = |day: Day, about: &str, happening: Happening| {
            points.push(CoursePoint { day, about: about.to_owned(), happening });
        };
        for exam in self.standing_exams() {
            if let Some(seen) = exam.fact.sites.iter().find(|seen| seen.site == *site) {
                put(exam.fact.day, &exam.id, Happening::Exam(seen.clone()));
            }
        }
        for slide in self.standing_slides().into_iter().filter(|slide| slide.fact.site == *site) {
            put(slide.fact.day, &slide.id, read(&self.readings_of_slide(&slide.id)));
        }
        for culture in self.cultures.iter().filter(|culture| !culture.withdrawn) {
            if culture.fact.site.as_ref().is_none_or(|of| of == site) {
                put(culture.fact.day, &culture.id, Happening::Culture(culture.fact.clone()));
                for plate in self.plates_of(&culture.id) {
                    put(plate.fact.day, &plate.id, Happening::Plate(plate.fact.clone()));
                }
            }
        }
        for treatment in self.treatments.iter().filter(|treatment| !treatment.withdrawn) {
            put(treatment.fact.day, &treatment.id, Happening::Treatment(treatment.fact.clone()));
        }
        points.sort_by_key(|point| point.day);
        let (direction, sentence) = direction(&points);
        Course { site: site.clone(), points, direction, sentence, advice: ADVICE }
    }
}

/// What the readings of one slide add up to.
fn read(readings: &[&Kept<Reading>]) -> Happening {
    let mut zones: BTreeMap<String, usize> = BTreeMap::new();
    let mut infected_zones: BTreeMap<String, usize> = BTreeMap::new();
    let (mut n, mut of) = (0, 0);
    let mut ratios = Vec::new();
    for reading in readings {
        let shafts = reading.shafts();
        for shaft in &shafts {
            let is_hair = ["infected", "normal", "coated"].contains(&shaft.look.as_str());
            n += usize::from(shaft.look == "infected");
            of += usize::from(is_hair);
            if shaft.look == "infected" {
                *infected_zones.entry(shaft.zone.clone()).or_default() += 1;
            }
            // Where the look cannot be told, the fluorescence may be; threads that are no hair do not count.
            if shaft.look != "fibre" {
                *zones.entry(shaft.zone.clone()).or_default() += 1;
            }
        }
        let widths = |wanted: &dyn Fn(&super::ShaftSeen) -> bool| -> Option<f64> {
            let widths: Vec<f64> =
                shafts.iter().filter(|shaft| wanted(shaft)).filter_map(|shaft| shaft.width_px).collect();
            median(&widths)
        };
        let infected = widths(&|shaft| shaft.look == "infected");
        let compared = widths(&|shaft| shaft.comparison && shaft.look != "infected")
            .or_else(|| widths(&|shaft| shaft.look == "normal"));
        if let (Some(infected), Some(compared)) = (infected, compared.filter(|&width| width > 0.0)) {
            ratios.push(infected / compared);
        }
    }
    let infected = wilson(n, of, Z_95).map(|interval| Share { n, of, low: interval.low, high: interval.high });
    Happening::Slide { infected, zones, infected_zones, width_ratio: median(&ratios), n_readings: readings.len() }
}

/// First against last slide.
fn direction(points: &[CoursePoint]) -> (&'static str, String) {
    let shares: Vec<(Day, Share)> = points
        .iter()
        .filter_map(|point| match point.happening {
            Happening::Slide { infected: Some(share), .. } => Some((point.day, share)),
            _ => None,
        })
        .collect();
    let base = points.iter().rev().find_map(|point| match &point.happening {
        Happening::Slide { zones, .. } if !zones.is_empty() => Some(zones),
        _ => None,
    });
    // Only where one of the two was seen does it help to know what they speak for.
    let of_zones = base.filter(|zones| ["base", "tip"].iter().any(|zone| zones.contains_key(*zone)));
    let of_zones = of_zones.map_or(String::new(), |_| format!(" {BASE_OR_TIP}"));
    let (low, high, source) = RESOLVED_DAYS;
    let known = format!(
        " In an experiment without treatment it took {} to {} weeks until it was over ({source}).",
        low / 7,
        high / 7
    );
    let [(first, before), .., (last, after)] = shares.as_slice() else {
        let lamp = points.iter().rev().find_map(|point| match &point.happening {
            Happening::Exam(seen) => Some((point.day, seen.fluorescence)),
            _ => None,
        });
        let lamp = match lamp {
            Some((day, Answer::Yes)) => format!(" Under the lamp it fluoresced on {day}."),
            Some((day, Answer::No)) => {
                format!(" Under the lamp it did not fluoresce on {day}, which excludes nothing.")
            }
            Some((day, Answer::Unsure)) => format!(" Under the lamp it was doubtful on {day}."),
            None => String::new(),
        };
        let sentence = format!("Fewer than two slides were read, so there is no course to tell.{lamp}{of_zones}");
        return ("cannot-say", sentence);
    };
    let shares = format!(
        "{} of {} hairs judged looked infected on {first}, {} of {} on {last}",
        before.n, before.of, after.n, after.of
    );
    let (direction, words) = if after.high < before.low {
        ("falling", "fewer than before")
    } else if after.low > before.high {
        ("growing", "more than before")
    } else {
        ("cannot-say", "too few hairs or too small a difference to say whether it falls or grows")
    };
    (direction, format!("{shares}: {words}.{of_zones}{known}"))
}
