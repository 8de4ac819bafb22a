//! Rulings, of one photo or several, to one scale.

use super::{Distortion, Ruling, Rulings, ScaleError};
use crate::concerns::{Concern, ConcernKind};

/// Distance of neighbouring lines on the slide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pitch {
    um: f64,
    sd_um: Option<f64>,
}

impl Pitch {
    /// A pitch with its standard uncertainty, as the micrometer's certificate states them, micrometres.
    ///
    /// # Errors
    /// When either is no such length.
    pub fn new(um: f64, sd_um: Option<f64>) -> Result<Pitch, ScaleError> {
        if !(um.is_finite() && um > 0.0) {
            return Err(ScaleError::Pitch(um));
        }
        match sd_um {
            Some(sd) if !(sd >= 0.0 && sd < um) => Err(ScaleError::PitchSd(sd)),
            _ => Ok(Pitch { um, sd_um }),
        }
    }

    /// The pitch, micrometres.
    pub fn um(&self) -> f64 {
        self.um
    }

    /// Its standard uncertainty, micrometres; absent when none was stated.
    pub fn sd_um(&self) -> Option<f64> {
        self.sd_um
    }
}

/// The scale that rulings give.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Micrometres a pixel, mean over the photo.
    pub um_per_px: f64,
    /// Standard uncertainty of the scale at any place of the photo: of the fit, of the pitch where stated, of photos
    /// against each other, and the distortion that was seen.
    pub sd_um_per_px: f64,
    /// Whether pixels are as high as wide; absent where all lines run in about one direction.
    pub squareness: Option<Squareness>,
    /// The largest distortion of all rulings; absent when none was evident.
    pub distortion: Option<Distortion>,
    /// Columns of the photos.
    pub width_px: usize,
    /// Rows of the photos.
    pub height_px: usize,
    /// Photos that were used.
    pub n_photos: usize,
    /// All rulings, photo by photo.
    pub rulings: Vec<Ruling>,
    /// What a person should know about it.
    pub concerns: Vec<Concern>,
}

/// Micrometres a pixel along x against those along y.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Squareness {
    /// Their ratio; 1 for square pixels.
    pub ratio: f64,
    /// Its standard uncertainty.
    pub sd: f64,
}

/// Rulings must cover this share of the photo's extent; less says nothing of the rest.
const LEAST_SPAN_SHARE: f64 = 0.5;

/// A relative uncertainty of the fit beyond which the span is called short.
const MOST_SD_SHARE: f64 = 2e-3;

/// A distortion worth a word: it moves widths by as much.
const DISTORTED_SHARE: f64 = 5e-3;

/// Two scales disagree when they differ by more than so many of their standard uncertainties ...
const DISAGREE_SDS: f64 = 5.0;

/// ... and by more than this share, below which lens distortion and focus may account for it.
const DISAGREE_SHARE: f64 = 5e-3;

/// Pixels that differ by more than this from square have no one scale; the sensors of cameras are square, so that a
/// photo was stretched or two magnifications were mixed.
const NOT_SQUARE_SHARE: f64 = 2e-2;

/// Directions that differ by more than this can tell the scales along x and y apart, degrees.
const TOLD_APART_DEG: f64 = 30.0;

/// One scale of all rulings.
///
/// # Errors
/// When photos differ in size, or scales disagree.
pub fn combine(photos: &[Rulings], pitch: Pitch) -> Result<Found, ScaleError> {
    let first = photos.first().ok_or(ScaleError::NoRuling)?;
    let size = [first.width_px, first.height_px];
    if let Some(other) = photos.iter().map(|p| [p.width_px, p.height_px]).find(|other| *other != size) {
        return Err(ScaleError::DifferentSizes(size, other));
    }
    let rulings: Vec<Ruling> = photos.iter().flat_map(|photo| photo.rulings.clone()).collect();
    if rulings.is_empty() {
        return Err(ScaleError::NoRuling);
    }
    let told = squared(&rulings, pitch);
    let (um_per_px, fit_share, squareness) = match told {
        Some(sides) => {
            let [x, y] = sides.um;
            let ratio = x / y;
            if (ratio - 1.0).abs() > NOT_SQUARE_SHARE.max(DISAGREE_SDS * sides.ratio_sd) {
                return Err(ScaleError::NotSquare(x, y));
            }
            disagreement(&rulings, pitch, Some(ratio))?;
            // Half the difference of the sides is not the same in every direction.
            let unequal = 0.5 * (ratio - 1.0).abs();
            let unequal = if unequal > sides.ratio_sd { unequal } else { 0.0 };
            ((x * y).sqrt(), sides.mean_sd_share.hypot(unequal), Some(Squareness { ratio, sd: sides.ratio_sd }))
        }
        None => {
            disagreement(&rulings, pitch, None)?;
            let (um_per_px, sd_share) = weighted(&rulings, pitch);
            (um_per_px, sd_share, None)
        }
    };
    let distortion = rulings
        .iter()
        .filter_map(|ruling| ruling.distortion)
        .max_by(|a, b| a.largest_share.total_cmp(&b.largest_share));
    let pitch_share = pitch.sd_um.unwrap_or(0.0) / pitch.um;
    let sd_share = fit_share.hypot(pitch_share).hypot(distortion.map_or(0.0, |d| d.rms_share));
    let concerns = concerns(&rulings, fit_share, distortion, squareness);
    Ok(Found {
        um_per_px,
        sd_um_per_px: um_per_px * sd_share,
        squareness,
        distortion,
        width_px: size[0],
        height_px: size[1],
        n_photos: photos.len(),
        rulings,
        concerns,
    })
}

fn um_per_px(ruling: &Ruling, pitch: Pitch) -> f64 {
    pitch.um / ruling.pitch_px
}

/// Mean weighted by inverse variance, and its uncertainty as a share: the larger of what the rulings state and what
/// their scatter shows.
fn weighted(rulings: &[Ruling], pitch: Pitch) -> (f64, f64) {
    let weights: Vec<f64> = rulings.iter().map(|r| 1.0 / r.sd_share.max(LEAST_SD_SHARE).powi(2)).collect();
    let all: f64 = weights.iter().sum();
    let mean = rulings.iter().zip(&weights).map(|(r, w)| w * um_per_px(r, pitch)).sum::<f64>() / all;
    let stated = (1.0 / all).sqrt();
    let misfit: f64 =
        rulings.iter().zip(&weights).map(|(r, w)| w * (um_per_px(r, pitch) / mean - 1.0).powi(2)).sum::<f64>();
    let free = rulings.len() as f64 - 1.0;
    let excess = if free > 0.0 { (misfit / free).max(1.0).sqrt() } else { 1.0 };
    (mean, stated * excess)
}

/// Refuses rulings whose scales differ beyond their uncertainty; `ratio` is what is allowed to the sides of a pixel.
fn disagreement(rulings: &[Ruling], pitch: Pitch, ratio: Option<f64>) -> Result<(), ScaleError> {
    let stretch = ratio.unwrap_or(1.0).sqrt();
    // What a ruling would have given on square pixels.
    let scale = |ruling: &Ruling| {
        let [x, y] = ruling.lines_per_px;
        pitch.um * (x / stretch).hypot(y * stretch)
    };
    for (i, a) in rulings.iter().enumerate() {
        for b in &rulings[i + 1..] {
            let (one, other) = (scale(a), scale(b));
            let off = (one / other - 1.0).abs();
            if off > DISAGREE_SHARE && off > DISAGREE_SDS * a.sd_share.hypot(b.sd_share) {
                return Err(ScaleError::Disagree(one, other));
            }
        }
    }
    Ok(())
}

struct Sides {
    um: [f64; 2],
    ratio_sd: f64,
    /// Of the geometric mean of both sides.
    mean_sd_share: f64,
}

/// The scales along x and along y, where lines run in directions that tell them apart.
///
/// A ruling with (a, b) lines a pixel along x and y has (a p / X)² + (b p / Y)² = 1, p the pitch and X, Y the sides of
/// a pixel on the slide; that is linear in 1 / X² and 1 / Y², and solved by weighted least squares.
fn squared(rulings: &[Ruling], pitch: Pitch) -> Option<Sides> {
    let widest = rulings
        .iter()
        .flat_map(|a| rulings.iter().map(move |b| (a.angle_deg - b.angle_deg).rem_euclid(180.0)))
        .map(|off| off.min(180.0 - off))
        .fold(0.0, f64::max);
    if widest < TOLD_APART_DEG {
        return None;
    }
    let [mut xx, mut xy, mut yy, mut x1, mut y1] = [0.0; 5];
    for ruling in rulings {
        let [x, y] = ruling.lines_per_px.map(|lines| (lines * pitch.um).powi(2));
        // The left side, which is 1, has twice the relative uncertainty of the count.
        let weight = 1.0 / (2.0 * ruling.sd_share.max(LEAST_SD_SHARE)).powi(2);
        xx += weight * x * x;
        xy += weight * x * y;
        yy += weight * y * y;
        x1 += weight * x;
        y1 += weight * y;
    }
    let determinant = xx * yy - xy * xy;
    if determinant <= 1e-9 * xx * yy {
        return None;
    }
    let solved = [(yy * x1 - xy * y1) / determinant, (xx * y1 - xy * x1) / determinant];
    if !solved.iter().all(|one| one.is_finite() && *one > 0.0) {
        return None;
    }
    let [x, y] = solved;
    let (in_x, in_y) = (yy / determinant / (x * x), xx / determinant / (y * y));
    let both = -xy / determinant / (x * y);
    let um = solved.map(|one| 1.0 / one.sqrt());
    Some(Sides {
        um,
        ratio_sd: um[0] / um[1] * 0.5 * (in_x + in_y - 2.0 * both).max(0.0).sqrt(),
        mean_sd_share: 0.25 * (in_x + in_y + 2.0 * both).max(0.0).sqrt(),
    })
}

/// A ruling may not weigh more than this uncertainty allows; a drawing without noise would weigh without end.
const LEAST_SD_SHARE: f64 = 1e-7;

fn concerns(
    rulings: &[Ruling],
    fit_share: f64,
    distortion: Option<Distortion>,
    squareness: Option<Squareness>,
) -> Vec<Concern> {
    let mut found = Vec::new();
    let span = rulings.iter().map(|ruling| ruling.span_share).fold(0.0, f64::max);
    if span < LEAST_SPAN_SHARE || fit_share > MOST_SD_SHARE {
        found.push(Concern::with(ConcernKind::ShortSpan, span));
    }
    if let Some(distortion) = distortion.filter(|d| d.largest_share > DISTORTED_SHARE) {
        found.push(Concern::with(ConcernKind::Distorted, distortion.largest_share));
    }
    match squareness {
        None => found.push(Concern::new(ConcernKind::SquarenessUnknown)),
        Some(Squareness { ratio, sd }) => {
            let off = (ratio - 1.0).abs();
            if off > DISTORTED_SHARE && off > 3.0 * sd {
                found.push(Concern::with(ConcernKind::NotSquare, ratio));
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::{Pitch, combine};
    use crate::concerns::ConcernKind;
    use crate::scale::{Ruling, Rulings, ScaleError};

    /// What a ruling of 10 µm looks like to pixels of these sides.
    fn photo(angle_deg: f64, x_um: f64, y_um: f64, sd_share: f64) -> Rulings {
        // The direction across the lines on the slide; counts a pixel follow from the sides.
        let (sin, cos) = angle_deg.to_radians().sin_cos();
        let lines_per_px = [cos * x_um / 10.0, sin * y_um / 10.0];
        let ruling = Ruling {
            lines_per_px,
            sd_share,
            pitch_px: 1.0 / lines_per_px[0].hypot(lines_per_px[1]),
            angle_deg: lines_per_px[1].atan2(lines_per_px[0]).to_degrees().rem_euclid(180.0),
            n_lines: 80,
            n_places: 1000,
            n_pitches: 79,
            span_px: 1500.0,
            span_share: 0.9,
            residual_px: 0.1,
            distortion: None,
            dark: true,
            contrast: 0.5,
        };
        Rulings { width_px: 2000, height_px: 1500, rulings: vec![ruling] }
    }

    fn pitch() -> Pitch {
        Pitch::new(10.0, None).unwrap()
    }

    #[test]
    fn one_photo_gives_a_scale_and_no_squareness() {
        let found = combine(&[photo(20.0, 0.5, 0.5, 1e-4)], pitch()).unwrap();
        assert!((found.um_per_px - 0.5).abs() < 1e-12 && (found.sd_um_per_px - 5e-5).abs() < 1e-12);
        assert_eq!(found.squareness, None);
        assert_eq!(found.concerns.iter().map(|c| c.kind).collect::<Vec<_>>(), [ConcernKind::SquarenessUnknown]);
        let stated = Pitch::new(10.0, Some(0.01)).unwrap();
        let found = combine(&[photo(20.0, 0.5, 0.5, 1e-4)], stated).unwrap();
        assert!(
            (found.sd_um_per_px - 0.5 * 1e-4f64.hypot(1e-3)).abs() < 1e-12,
            "the pitch's uncertainty is carried on"
        );
    }

    #[test]
    fn two_directions_tell_whether_pixels_are_square() {
        let found = combine(&[photo(10.0, 0.504, 0.5, 1e-4), photo(95.0, 0.504, 0.5, 1e-4)], pitch()).unwrap();
        let square = found.squareness.unwrap();
        assert!((square.ratio - 1.008).abs() < 1e-9, "{square:?}");
        // Closed form for rulings along the sides: √2 of the single uncertainty; near it here.
        assert!((square.sd / (1.008 * 2f64.sqrt() * 1e-4) - 1.0).abs() < 0.1, "{square:?}");
        assert!((found.um_per_px - (0.504f64 * 0.5).sqrt()).abs() < 1e-9);
        assert!(found.concerns.iter().any(|c| c.kind == ConcernKind::NotSquare));
        let even = combine(&[photo(0.0, 0.5, 0.5, 1e-4), photo(90.0, 0.5, 0.5, 1e-4)], pitch()).unwrap();
        assert!((even.squareness.unwrap().sd / (2f64.sqrt() * 1e-4) - 1.0).abs() < 1e-9);
        assert!((even.sd_um_per_px / (0.5 * 1e-4 / 2f64.sqrt()) - 1.0).abs() < 1e-9, "the mean of two");
        assert!(even.concerns.is_empty());
    }

    #[test]
    fn scales_that_disagree_are_refused() {
        let apart = combine(&[photo(0.0, 0.5, 0.5, 1e-4), photo(5.0, 0.51, 0.51, 1e-4)], pitch());
        assert!(matches!(apart, Err(ScaleError::Disagree(a, b)) if (a - 0.5).abs() < 1e-9 && (b - 0.51).abs() < 1e-9));
        let stretched = combine(&[photo(0.0, 0.5, 0.6, 1e-4), photo(90.0, 0.5, 0.6, 1e-4)], pitch());
        assert!(matches!(stretched, Err(ScaleError::NotSquare(..))));
        let mut other = photo(0.0, 0.5, 0.5, 1e-4);
        other.width_px = 1000;
        let sizes = combine(&[photo(0.0, 0.5, 0.5, 1e-4), other], pitch());
        assert_eq!(sizes, Err(ScaleError::DifferentSizes([2000, 1500], [1000, 1500])));
        let like = combine(&[photo(0.0, 0.5, 0.5, 1e-4), photo(5.0, 0.5003, 0.5003, 1e-4)], pitch()).unwrap();
        assert!(like.sd_um_per_px > 0.5 * 1e-4, "scatter between photos widens the uncertainty: {like:?}");
        assert_eq!(combine(&[], pitch()), Err(ScaleError::NoRuling));
    }

    #[test]
    fn a_pitch_must_be_a_length() {
        for bad in [0.0, -10.0, f64::NAN, f64::INFINITY] {
            assert!(Pitch::new(bad, None).is_err());
        }
        assert!(Pitch::new(10.0, Some(-0.1)).is_err() && Pitch::new(10.0, Some(10.0)).is_err());
        assert!(Pitch::new(10.0, Some(f64::NAN)).is_err() && Pitch::new(10.0, Some(0.0)).is_ok());
    }
}
