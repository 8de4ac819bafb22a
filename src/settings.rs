//! Every number a user may set: asked, checked once, handed to the stages.

use crate::setups::Setup;
use crate::units::{Scale, ScaleSource};
use crate::{features, field, image, profiles, shafts};

/// Pixels are given in millions on the command line.
const PIXELS_PER_MEGAPIXEL: f64 = 1e6;

/// No photo needs more: a side of 50,000 pixels squared.
const MAX_MEGAPIXELS: f64 = 2_500.0;

/// What a user asked for; nothing is checked yet.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// Micrometres per pixel of the full-resolution photo; absent: what the file states, else unknown.
    pub um_per_px: Option<f64>,
    /// The setup the photos were taken with; its scale is used. Not together with `um_per_px`.
    pub setup: Option<Setup>,
    /// The largest photo that is decoded, millions of pixels; absent: the default of the image stage.
    pub max_megapixels: Option<f64>,
}

/// What the stages run with; only made by [`Settings::check`].
#[derive(Clone, Debug, Default)]
pub struct Settings {
    pub(crate) image: image::Settings,
    pub(crate) field: field::Settings,
    pub(crate) shafts: shafts::Settings,
    pub(crate) profiles: profiles::Settings,
    pub(crate) features: features::Settings,
    setup_name: Option<String>,
    set: Vec<(&'static str, f64)>,
}

/// Why settings are unusable.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum SettingsError {
    /// A scale that is no length above 0.
    #[error("{0} micrometres per pixel is no scale; give a number above 0, such as 0.42")]
    Scale(f64),
    /// Two scales at once.
    #[error("a setup and micrometres per pixel are two scales; give one of them")]
    TwoScales,
    /// A limit on pixels that is not above 0 or beyond all reason.
    #[error("{0} megapixels is no limit; give a number above 0 and up to {MAX_MEGAPIXELS}, such as 200")]
    Megapixels(f64),
}

impl Settings {
    /// Settings that the stages can run with.
    ///
    /// # Errors
    /// When a number is outside its range.
    pub fn check(asked: Asked) -> Result<Settings, SettingsError> {
        let mut settings = Settings::default();
        if let Some(limit) = asked.max_megapixels {
            let pixels = limit * PIXELS_PER_MEGAPIXEL;
            if !(limit.is_finite() && pixels >= 1.0 && limit <= MAX_MEGAPIXELS) {
                return Err(SettingsError::Megapixels(limit));
            }
            settings.image.max_pixels = pixels as u64;
            settings.set.push(("max_megapixels", limit));
        }
        if asked.um_per_px.is_some() && asked.setup.is_some() {
            return Err(SettingsError::TwoScales);
        }
        if let Some(setup) = asked.setup {
            settings.field.scale = Some(setup.scale());
            settings.field.scale_photo_px = Some([setup.width_px, setup.height_px]);
            settings.set.push(("setup_um_per_px", setup.um_per_px));
            settings.set.push(("setup_um_per_px_sd", setup.sd_um_per_px));
            settings.setup_name = Some(setup.name);
        }
        if let Some(um_per_px) = asked.um_per_px {
            if !(um_per_px.is_finite() && um_per_px > 0.0) {
                return Err(SettingsError::Scale(um_per_px));
            }
            settings.field.scale = Some(Scale { um_per_px, sd_um_per_px: None, source: ScaleSource::Given });
            settings.set.push(("um_per_px", um_per_px));
        }
        Ok(settings)
    }

    /// The largest number of pixels that is decoded.
    pub fn max_pixels(&self) -> u64 {
        self.image.max_pixels
    }

    /// Name of the setup that the scale comes from.
    pub fn setup_name(&self) -> Option<&str> {
        self.setup_name.as_deref()
    }

    /// What the user set, by name with its unit, in the order of names.
    pub fn set_by_user(&self) -> &[(&'static str, f64)] {
        &self.set
    }
}

#[cfg(test)]
mod tests {
    use super::{Asked, Settings, SettingsError};

    #[test]
    fn what_is_asked_reaches_the_stages_and_the_record() {
        let settings =
            Settings::check(Asked { um_per_px: Some(0.42), setup: None, max_megapixels: Some(30.0) }).unwrap();
        assert_eq!(settings.field.scale.unwrap().um_per_px, 0.42);
        assert_eq!(settings.max_pixels(), 30_000_000);
        assert_eq!(settings.set_by_user(), [("max_megapixels", 30.0), ("um_per_px", 0.42)]);
        assert!(Settings::check(Asked::default()).unwrap().set_by_user().is_empty());
    }

    #[test]
    fn a_scale_must_be_a_length() {
        for bad in [0.0, -1.0, f64::INFINITY] {
            let refused = Settings::check(Asked { um_per_px: Some(bad), ..Asked::default() });
            assert_eq!(refused.unwrap_err(), SettingsError::Scale(bad));
        }
        assert!(Settings::check(Asked { um_per_px: Some(f64::NAN), ..Asked::default() }).is_err());
    }

    #[test]
    fn a_limit_must_let_a_pixel_through() {
        for bad in [0.0, -5.0, 1e-7, 1e12, f64::NAN] {
            assert!(Settings::check(Asked { max_megapixels: Some(bad), ..Asked::default() }).is_err(), "{bad}");
        }
    }
}
