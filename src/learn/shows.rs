//! Textures that show what a plate is for: a hair is drawn again, with the next seed, until it does.
//!
//! Whether a medulla is broken, how thick a film lies and where, is left to chance in drawn hairs. A plate says what is to
//! be seen on it, so chance must not leave that out. What is asked of a texture is what the plate's words say, never what
//! the program makes of it.

use crate::sim::{Exhibit, Frame, LEAK, Lamp, Look, Shaft, Specimen, Zone};

/// What must be seen on a shaft.
pub(super) type Shows = fn(&Shaft) -> bool;

/// Seeds that are tried; a step apart that no two plates' seeds share.
const TRIES: u64 = 400;
const STEP: u64 = 1000;

/// The scale that is looked at, that of most plates; no pixels are drawn.
const FRAME: Frame = Frame { width_px: 1200, height_px: 460, um_per_px: 1.5, aperture: 0.1, on: None };

/// The specimen with the first texture that shows what is asked, or as it is where none does, which a test forbids.
pub(super) fn showing(specimen: Specimen, shows: Shows) -> Specimen {
    let tried = |k: u64| Specimen { seed: specimen.seed + k * STEP, ..specimen };
    (0..TRIES).map(tried).find(|one| is_shown(one, shows)).unwrap_or(specimen)
}

fn is_shown(specimen: &Specimen, shows: Shows) -> bool {
    let specimens = vec![*specimen];
    let exhibit = Exhibit { specimens, pieces_um: Vec::new(), defocus_um: 0.0, leak: LEAK, exposure: 1.0 };
    exhibit.scene(&FRAME, Lamp::Ultraviolet).shafts.first().is_some_and(shows)
}

/// The values of something at even steps from one share of the shaft's length to another.
fn along(shaft: &Shaft, from: f64, to: f64, value: impl Fn(f64) -> f32) -> Vec<f32> {
    const STEPS: usize = 60;
    let length = shaft.to_px - shaft.from_px;
    let at = |i: usize| shaft.from_px + length * (from + (to - from) * i as f64 / STEPS as f64);
    (0..=STEPS).map(|i| value(at(i))).collect()
}

/// How often values cross a level.
fn crossings(values: &[f32], level: f32) -> usize {
    values.windows(2).filter(|pair| (pair[0] < level) != (pair[1] < level)).count()
}

fn least(values: &[f32]) -> f32 {
    values.iter().copied().fold(f32::INFINITY, f32::min)
}

fn most(values: &[f32]) -> f32 {
    values.iter().copied().fold(0.0, f32::max)
}

/// An unbroken medulla of more than a third of the width (facts 1.13), except towards the ends.
pub(super) const WHOLE_MEDULLA: Shows = |shaft| least(&along(shaft, 0.28, 0.68, |s| shaft.make_at(s).medulla)) > 0.38;

/// The same, and thicker before the tip than in the middle (facts 1.6).
pub(super) const SWELLS_BEFORE_THE_TIP: Shows = |shaft| {
    let half = |s: f64| shaft.make_at(s).outer_px[0];
    WHOLE_MEDULLA(shaft) && most(&along(shaft, 0.55, 0.75, half)) > 1.08 * most(&along(shaft, 0.3, 0.4, half))
};

/// Several pale and dark bands of pigment that differ enough to be seen in the glow.
pub(super) const BANDS: Shows = |shaft| {
    let glow = along(shaft, 0.12, 0.92, |s| shaft.make_at(s).own);
    let pigment = along(shaft, 0.12, 0.92, |s| shaft.make_at(s).pigment_per_um);
    let middle = 0.5 * (least(&pigment) + most(&pigment));
    crossings(&pigment, middle) >= 3 && most(&glow) > 1.6 * least(&glow)
};

/// Thickness of what lies on the hair over the hair's half width.
fn film(shaft: &Shaft, s_px: f64) -> f32 {
    let make = shaft.make_at(s_px);
    (make.shell_px[1] - make.edge_px[1]).max(0.0) / make.edge_px[1].max(0.1)
}

/// A film all along, thick enough to be seen, on a hair with an unbroken medulla.
pub(super) const WHOLE_FILM: Shows = |shaft| {
    let film = along(shaft, 0.2, 0.8, |s| film(shaft, s));
    let middle = film.iter().sum::<f32>() / film.len() as f32;
    shaft.look == Look::Coated && shaft.zone == Zone::Whole && middle > 0.06 && WHOLE_MEDULLA(shaft)
};

/// Pieces that lie here and there, clearly thicker than a film, with bare hair between them, one of them in the middle.
pub(super) const CLOTS: Shows = |shaft| {
    let glow = along(shaft, 0.1, 0.9, |s| shaft.make_at(s).glow);
    let film = along(shaft, 0.1, 0.9, |s| film(shaft, s));
    let middle = along(shaft, 0.45, 0.55, |s| shaft.make_at(s).glow);
    shaft.zone == Zone::Patchy
        && crossings(&glow, 0.5) >= 5
        && most(&film) > 0.3
        && most(&middle) > 0.9
        && least(&middle) < 0.4
        && WHOLE_MEDULLA(shaft)
};

/// A fibre that glows brightly, and blue rather than violet.
pub(super) const BRIGHT_BLUE: Shows = |shaft| {
    let middle = shaft.make_at(0.5 * (shaft.from_px + shaft.to_px));
    middle.own > 2.0 && shaft.own_spectrum.peak_nm() >= 440.0
};

/// Air along the edge that lies below on the picture, in the middle, wide enough to be seen; and a medulla.
pub(super) const AIR_AT_THE_MIDDLE: Shows = |shaft| {
    let air = along(shaft, 0.5, 0.6, |s| shaft.make_at(s).air_px[1]);
    least(&air) > 2.5 && WHOLE_MEDULLA(shaft)
};

#[cfg(test)]
mod tests {
    use super::{
        AIR_AT_THE_MIDDLE, BANDS, BRIGHT_BLUE, CLOTS, SWELLS_BEFORE_THE_TIP, Shows, WHOLE_FILM, WHOLE_MEDULLA, is_shown,
    };
    use crate::learn::plates;

    #[test]
    fn plates_show_what_their_words_say() {
        let asked: [(&str, Shows); 14] = [
            ("guard", WHOLE_MEDULLA),
            ("awn", SWELLS_BEFORE_THE_TIP),
            ("root-and-tip", WHOLE_MEDULLA),
            ("white", WHOLE_MEDULLA),
            ("yellowed", WHOLE_MEDULLA),
            ("tabby", BANDS),
            ("tip-only", WHOLE_MEDULLA),
            ("soap", WHOLE_FILM),
            ("ointment", WHOLE_FILM),
            ("tetracycline", WHOLE_FILM),
            ("food", CLOTS),
            ("dander", CLOTS),
            ("cotton", BRIGHT_BLUE),
            ("bubbles", AIR_AT_THE_MIDDLE),
        ];
        let all = plates();
        for (code, shows) in asked {
            let plate = all.iter().find(|plate| plate.code == code).unwrap();
            assert!(is_shown(&plate.exhibit.specimens[0], shows), "{code}");
        }
        for plate in &all {
            for comparison in plate.exhibit.specimens.iter().skip(1) {
                assert!(is_shown(comparison, WHOLE_MEDULLA), "the comparison hair of {}", plate.code);
            }
        }
    }
}
