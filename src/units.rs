//! The scale between pixels and micrometres, and where it came from.

/// Micrometres per pixel of the full-resolution photo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scale {
    /// Micrometres per pixel, above 0 and finite.
    pub um_per_px: f64,
    /// One standard deviation of `um_per_px`, where it is known.
    pub sd_um_per_px: Option<f64>,
    /// Where the number came from.
    pub source: ScaleSource,
}

/// Where a scale came from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ScaleSource {
    /// The user gave it with the photo.
    Given,
    /// A saved setup: an objective and camera whose scale was found with a stage micrometer.
    Setup,
    /// The file states a physical pixel size.
    File,
}

impl ScaleSource {
    /// Stable name for files and programs.
    pub fn code(self) -> &'static str {
        match self {
            ScaleSource::Given => "given",
            ScaleSource::Setup => "setup",
            ScaleSource::File => "file",
        }
    }
}

impl Scale {
    /// A length in micrometres.
    pub fn um_from_px(&self, px: f64) -> f64 {
        px * self.um_per_px
    }

    /// A length in pixels.
    pub fn px_from_um(&self, um: f64) -> f64 {
        um / self.um_per_px
    }
}
