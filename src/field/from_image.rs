//! DOOR: a picture to the field that shows the slide.

use super::{Disc, Noise, background, disc, noise};
use crate::concerns::{Concern, ConcernKind};
use crate::image::Image;
use crate::maths::raster::Raster;
use crate::maths::stats::quantile;
use crate::units::Scale;

/// The photo with its background, noise, trusted pixels and scale. Keeps the full-resolution picture,
/// because profiles need its pixels.
#[derive(Clone, Debug)]
pub struct Field {
    /// The full-resolution picture.
    pub picture: Image,
    /// Micrometres per pixel, where known.
    pub scale: Option<Scale>,
    /// The bright disc of an eyepiece photo.
    pub disc: Option<Disc>,
    /// How many full-resolution pixels make one pixel of `planes`, along each axis (1, 2, 3, ...).
    pub reduction: usize,
    /// Linear light at the reduced size, red, green, blue; means over `reduction`² pixels.
    pub planes: [Raster<f32>; 3],
    /// Light of tape and lamp without shafts, at the reduced size.
    pub background: [Raster<f32>; 3],
    /// Noise of one full-resolution pixel against brightness, a channel.
    pub noise: [Noise; 3],
    /// Reduced pixels inside the field: all of them, or those of the eyepiece disc.
    pub inside: Raster<bool>,
    /// Reduced pixels that may be trusted: inside the field and not clipped.
    pub trusted: Raster<bool>,
    /// Share of the field's pixels that are clipped, 0 to 1.
    pub clipped_share: f64,
    /// What a person should know about the photo.
    pub concerns: Vec<Concern>,
}

/// What a user may set of this stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {
    /// Micrometres per pixel as given or from a setup; overrides what the file states.
    pub scale: Option<Scale>,
    /// Columns and rows of the photos that `scale` was found on; absent where that is not known.
    pub scale_photo_px: Option<[usize; 2]>,
}

/// Pixels up to which shafts are sought in the photo as it is: a thin one may be four pixels wide.
const WHOLE_PIXELS: usize = 3_300_000;
/// Pixels that shafts are sought in at the most where the photo is larger; more costs time and finds nothing new,
/// since the outline is measured at full resolution afterwards.
const MAX_REDUCED_PIXELS: usize = 1_600_000;
/// Block mean of linear light from which a pixel counts as clipped in a channel.
const CLIPPED_LIGHT: f32 = 0.97;
/// Share of the field's bright pixels that may be clipped without a word.
const CLIPPED_SHARE: f64 = 0.02;
/// Red light of the open ground from which the room or the microscope's own lamp must be on: tape under a UV lamp
/// glows dimly and bluish.
const VISIBLE_RED: f64 = 0.09;
/// Linear light that the brightest thousandth must reach.
const DARK_PEAK: f64 = 0.012;
/// Smallest side of a photo that can show a shaft.
const MIN_SIDE_PX: usize = 48;

/// The field of a picture: background and noise estimated, untrustworthy pixels masked, concerns noted.
pub fn from_image(picture: Image, settings: &Settings) -> Field {
    let reduction = reduction_for(picture.width * picture.height);
    let planes = picture.reduced(reduction);
    let disc = disc::disc(&planes, reduction);
    let (width, height) = (planes[0].width(), planes[0].height());
    let inside = inside(disc, width, height, reduction);
    let background = background::background(&planes, &inside);
    let trusted = Raster::by_rows(width, height, false, |y, row| {
        let [red, green, blue] = [0, 1, 2].map(|c| planes[c].row(y));
        for (x, (trusted, &within)) in row.iter_mut().zip(inside.row(y)).enumerate() {
            *trusted = within && red[x].max(green[x]).max(blue[x]) < CLIPPED_LIGHT;
        }
    });
    let noise_of = |c: usize| {
        let told = noise::noise(&noise::Channel {
            width: picture.width,
            height: picture.height,
            light: &|x, y| picture.light(x, y)[c],
            dark_step: picture.linear[1] - picture.linear[0],
        });
        let (ground, seen) = spread_of_ground(&picture, &background[c], reduction, c, &inside);
        noise::raised(told, ground, seen)
    };
    let (red, (green, blue)) = rayon::join(|| noise_of(0), || rayon::join(|| noise_of(1), || noise_of(2)));
    let n_inside = inside.data().iter().filter(|&&v| v).count().max(1);
    let n_clipped = n_inside.saturating_sub(trusted.data().iter().filter(|&&v| v).count());
    let mut field = Field {
        scale: settings.scale.or(picture.tags.scale),
        disc,
        reduction,
        background,
        noise: [red, green, blue],
        inside,
        trusted,
        clipped_share: n_clipped as f64 / n_inside as f64,
        concerns: picture.concerns.clone(),
        planes,
        picture,
    };
    field.concerns.extend(concerns_of(&field));
    field.concerns.extend(scale_concerns(
        settings,
        [field.picture.width, field.picture.height],
        field.picture.tags.scale,
    ));
    field
}

/// Two scales differ when one is off by more than this share: what files state is often rounded.
const SCALES_DIFFER_SHARE: f64 = 0.02;

/// What speaks against the scale that was set, for a photo of this size whose file may state another scale.
fn scale_concerns(settings: &Settings, photo_px: [usize; 2], stated: Option<Scale>) -> Vec<Concern> {
    let mut found = Vec::new();
    let Some(scale) = settings.scale else { return found };
    if let Some(setup_px) = settings.scale_photo_px {
        // A phone held upright gives the same photo on its side.
        let sorted = |[a, b]: [usize; 2]| [a.min(b), a.max(b)];
        let (own, setup) = (sorted(photo_px), sorted(setup_px));
        if own != setup {
            let shrunk = scale.um_per_px * setup[1] as f64 / own[1].max(1) as f64;
            found.push(Concern::with(ConcernKind::SetupOtherSize, shrunk));
        }
    }
    if let Some(stated) = stated.filter(|s| (s.um_per_px / scale.um_per_px - 1.0).abs() > SCALES_DIFFER_SHARE) {
        found.push(Concern::with(ConcernKind::ScalesDisagree, stated.um_per_px));
    }
    found
}

fn concerns_of(field: &Field) -> Vec<Concern> {
    let mut found = Vec::new();
    let (width, height) = (field.inside.width(), field.inside.height());
    let every = (width * height / 40_000).max(1);
    let seen: Vec<usize> = (0..width * height).step_by(every).filter(|&i| field.inside.data()[i]).collect();
    let of = |planes: &[Raster<f32>; 3], c: usize, q: f64| {
        let mut values: Vec<f64> = seen.iter().map(|&i| f64::from(planes[c].data()[i])).collect();
        quantile(&mut values, q).unwrap_or(0.0)
    };
    if field.picture.width.min(field.picture.height) < MIN_SIDE_PX {
        found.push(Concern::new(ConcernKind::TooSmall));
    }
    let peak = (0..3).map(|c| of(&field.planes, c, 0.999)).fold(0.0, f64::max);
    if peak < DARK_PEAK {
        found.push(Concern::new(ConcernKind::TooDark));
    }
    // Clipping matters as a share of what is bright, not of the open ground.
    let bright = seen
        .iter()
        .filter(|&&i| (0..3).any(|c| field.planes[c].data()[i] > 2.0 * field.background[c].data()[i] + 0.05))
        .count();
    let clipped = seen.iter().filter(|&&i| !field.trusted.data()[i]).count();
    let share = clipped as f64 / bright.max(clipped).max(1) as f64;
    if clipped > 2 && share > CLIPPED_SHARE {
        found.push(Concern::with(ConcernKind::Clipped, share));
    }
    let [red, green, blue] = [0, 1, 2].map(|c| of(&field.background, c, 0.5));
    if red > VISIBLE_RED && red > 0.4 * green.max(blue) {
        found.push(Concern::new(ConcernKind::VisibleLight));
    }
    if field.picture.monochrome {
        found.push(Concern::new(ConcernKind::Monochrome));
    }
    if field.scale.is_none() {
        found.push(Concern::new(ConcernKind::ScaleUnknown));
    }
    found
}

fn reduction_for(n_pixels: usize) -> usize {
    if n_pixels <= WHOLE_PIXELS {
        return 1;
    }
    (2..).find(|reduction| n_pixels / (reduction * reduction) <= MAX_REDUCED_PIXELS).unwrap_or(1)
}

fn inside(disc: Option<Disc>, width: usize, height: usize, reduction: usize) -> Raster<bool> {
    let Some(disc) = disc else { return Raster::filled(width, height, true) };
    let centre_of = |i: usize| (i as f64 + 0.5) * reduction as f64 - 0.5;
    Raster::by_rows(width, height, false, |y, row| {
        let off = centre_of(y) - disc.centre.y;
        for (x, within) in row.iter_mut().enumerate() {
            *within = (centre_of(x) - disc.centre.x).powi(2) + off * off <= disc.radius_px * disc.radius_px;
        }
    })
}

/// Brightness of the open ground and the spread of single full-resolution pixels around its background.
fn spread_of_ground(
    picture: &Image,
    background: &Raster<f32>,
    reduction: usize,
    channel: usize,
    inside: &Raster<bool>,
) -> (f64, f64) {
    let every = (background.width() * background.height() / 30_000).max(1);
    let mut off = Vec::new();
    let mut levels = Vec::new();
    for i in (0..background.width() * background.height()).step_by(every) {
        if !inside.data()[i] {
            continue;
        }
        let (x, y) = (i % background.width() * reduction, i / background.width() * reduction);
        let ground = f64::from(background.data()[i]);
        off.push((f64::from(picture.light(x, y)[channel]) - ground).abs());
        levels.push(ground);
    }
    // Shafts and debris may cover a third of the field: the 0.4 quantile of |z| is 0.5244 standard deviations
    // of a normal distribution (closed form).
    let seen = quantile(&mut off, 0.4).unwrap_or(0.0) / 0.5244;
    (quantile(&mut levels, 0.5).unwrap_or(0.0), seen)
}

#[cfg(test)]
mod tests {
    use super::{Concern, ConcernKind, Settings, scale_concerns};
    use crate::units::{Scale, ScaleSource};

    #[test]
    fn a_scale_for_other_photos_is_said_so() {
        let scale = |um_per_px| Scale { um_per_px, sd_um_per_px: None, source: ScaleSource::Setup };
        let settings = Settings { scale: Some(scale(0.5)), scale_photo_px: Some([4000, 3000]) };
        assert!(scale_concerns(&settings, [4000, 3000], None).is_empty());
        assert!(scale_concerns(&settings, [3000, 4000], Some(scale(0.505))).is_empty(), "the phone on its side");
        let shrunk = Concern::with(ConcernKind::SetupOtherSize, 1.0);
        assert_eq!(scale_concerns(&settings, [2000, 1500], None), [shrunk], "half the size, twice the scale");
        let other = Concern::with(ConcernKind::ScalesDisagree, 0.6);
        assert_eq!(scale_concerns(&settings, [4000, 3000], Some(scale(0.6))), [other]);
        assert!(scale_concerns(&Settings::default(), [10, 10], Some(scale(0.6))).is_empty());
    }
}
