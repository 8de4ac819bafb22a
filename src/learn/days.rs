//! A hair by the day: how the fluorescence comes with infection and goes with recovery.
//!
//! Facts 2.9-2.10 (University of Florida open textbook, "Ringworm Diagnosis"; Small Animal Dermatology, 3rd ed., p. 322)
//! give the order: bulb and proximal shaft within the first week, the entire shaft by day 12 to 14; on recovery confined
//! to the distal shaft, at last the tip. They do not give a position for each day: between the published days it is a
//! straight line here, and the speed of recovery is chosen so that only the tip is left ten weeks on (facts 2.12a:
//! resolved 11 to 14 weeks after infection). How fast the sheath thickens and goes is invented.

use super::drawn::{View, view};
use crate::sim::{Build, Coat, End, Exhibit, Frame, LEAK, Reach, Specimen, State};

/// Days since infection with the share of the length, from the base, that glows; straight between them.
const COMING: [(f64, f64); 4] = [(2.0, 0.0), (3.0, 0.05), (7.0, 0.38), (13.0, 1.0)];

/// Days since recovery began with the share of the length, from the base, that glows no more.
const GOING: [(f64, f64); 2] = [(0.0, 0.0), (70.0, 0.88)];

/// Days over which the sheath of spores grows, and over which it goes. Invented.
const SHEATH_GROWS_DAYS: f64 = 14.0;
const SHEATH_GOES_DAYS: f64 = 28.0;

/// Glow relative to unpigmented hair, width with a full sheath over the hair's, and the glow's peak, as on the plates.
const STRENGTH: f64 = 2.0;
const RATIO: f64 = 1.6;
const PEAK_NM: f64 = 505.0;

/// The pictures' days.
pub fn days_of_infection() -> &'static [u16] {
    &[0, 3, 5, 7, 10, 13, 28]
}

/// The pictures' days since recovery began.
pub fn days_of_recovery() -> &'static [u16] {
    &[0, 7, 14, 28, 42, 56, 70]
}

/// The state of a hair so many days after infection, or after recovery began.
pub fn hair_of_day(recovering: bool, day: u16) -> State {
    let day = f64::from(day);
    let (reach, sheathed) = if recovering {
        (Reach::From(between(&GOING, day)), (1.0 - day / SHEATH_GOES_DAYS).max(0.0))
    } else {
        let share = between(&COMING, day);
        if share <= 0.0 {
            return State::Ordinary;
        }
        let reach = if share < 1.0 { Reach::UpTo(share) } else { Reach::Whole };
        (reach, (day / SHEATH_GROWS_DAYS).min(1.0))
    };
    let reach = if reach == Reach::From(0.0) { Reach::Whole } else { reach };
    State::Infected { reach, strength: STRENGTH, sheathed, ratio: RATIO, peak_nm: PEAK_NM }
}

/// The value at a day, straight between the points and level beyond them.
fn between(points: &[(f64, f64)], day: f64) -> f64 {
    let (first, last) = (points[0], points[points.len() - 1]);
    if day <= first.0 {
        return first.1;
    }
    let pair = points.windows(2).find(|pair| day <= pair[1].0);
    pair.map_or(last.1, |pair| {
        let share = (day - pair[0].0) / (pair[1].0 - pair[0].0);
        pair[0].1 + share * (pair[1].1 - pair[0].1)
    })
}

/// The picture of a day in both lights.
pub(super) fn day_view(recovering: bool, day: u16, simulated: &str) -> View {
    let specimen = Specimen {
        build: Build::Awn,
        coat: Coat::Cream,
        diameter_um: 34.0,
        length_um: 1650.0,
        base: End::Root,
        tip: End::Tapered,
        state: hair_of_day(recovering, day),
        at_um: [0.0, 0.0],
        heading: 0.02,
        bend: -0.2,
        crimp: 0.0,
        trapped_air: false,
        seed: 71,
    };
    let exhibit =
        Exhibit { specimens: vec![specimen], pieces_um: Vec::new(), defocus_um: 0.0, leak: LEAK, exposure: 1.0 };
    let frame = Frame { width_px: 1200, height_px: 240, um_per_px: 1.5, aperture: 0.1, on: None };
    view(&exhibit, &frame, simulated)
}

#[cfg(test)]
mod tests {
    use super::hair_of_day;
    use crate::sim::{Reach, State};

    fn reach(recovering: bool, day: u16) -> Option<Reach> {
        match hair_of_day(recovering, day) {
            State::Infected { reach, .. } => Some(reach),
            _ => None,
        }
    }

    /// Facts 2.9: bulb and proximal shaft within the first week, whole shaft by day 12 to 14.
    #[test]
    fn the_glow_comes_from_the_base_in_a_week_and_is_everywhere_in_two() {
        assert_eq!(reach(false, 0), None);
        assert!(matches!(reach(false, 7), Some(Reach::UpTo(share)) if (0.2..0.5).contains(&share)));
        assert!(matches!(reach(false, 11), Some(Reach::UpTo(share)) if share < 1.0));
        assert_eq!(reach(false, 14), Some(Reach::Whole));
        assert_eq!(reach(false, 28), Some(Reach::Whole));
    }

    /// Facts 2.10: confined to the distal shaft, at last the tip.
    #[test]
    fn the_glow_goes_from_the_base_and_is_last_seen_at_the_tip() {
        assert_eq!(reach(true, 0), Some(Reach::Whole));
        let mut last = 0.0;
        for day in [7, 14, 28, 42, 56, 70] {
            let Some(Reach::From(share)) = reach(true, day) else { panic!("day {day}") };
            assert!(share > last, "the base of the glow moves to the tip");
            last = share;
        }
        assert!((0.8..0.95).contains(&last));
    }
}
