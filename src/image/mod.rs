//! 1 · A picture as light.
//!
//! Bytes become samples with a table that turns each into linear light. What a file does not say is assumed
//! (`colour`): OME-TIFF, and TIFF of one channel with 16 bits, are proportional to light and full scale is that of
//! the evident bit depth; everything else is sRGB. See-through pixels are laid on black. Orientation is applied.
//! A scale is taken only where the file plainly states one (`tags`).

mod colour;

mod decode;

mod formats;

mod from_bytes;

mod limits;

mod opacity;

mod orient;

mod picture;

mod preview;

mod reduce;

mod tags;

pub use formats::{Format, OtherFormat};

pub use from_bytes::{ImageError, Settings, from_bytes, stated_pixels};

/// A decoded photo: three channels in the sRGB primaries, with the table that turns its samples into linear light.
///
/// Samples keep the depth of the file (8 or 16 bits); nothing is rescaled, sharpened or denoised.
/// Orientation has been applied, so that x, y are as a person sees the photo.
#[derive(Clone, Debug)]
pub struct Image {
    /// Columns.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Red, green, blue, row by row, as stored after colour management.
    pub samples: Samples,
    /// Linear light, 0 to 1, for each sample value: 256 or 65,536 entries.
    pub linear: Vec<f32>,
    /// Whether the file had one channel only (red = green = blue).
    pub monochrome: bool,
    /// What the file says of itself.
    pub tags: Tags,
    /// What a person should know about the file.
    pub concerns: Vec<crate::concerns::Concern>,
}

/// Interleaved samples: red, green, blue of one pixel, then the next pixel.
#[derive(Clone, Debug)]
pub enum Samples {
    /// 8 bits a channel.
    Eight(Vec<u8>),
    /// 16 bits a channel.
    Sixteen(Vec<u16>),
}

/// What the file says of itself. Location is never read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tags {
    /// `jpeg`, `png`, `webp` or `tiff`.
    pub format: &'static str,
    /// Local time of capture as the camera wrote it, `2026-03-01T18:22:05`.
    pub captured_at: Option<String>,
    /// Maker and model of the camera.
    pub camera: Option<String>,
    /// Physical size of a pixel, where the file plainly states one.
    pub scale: Option<crate::units::Scale>,
}

impl Samples {
    /// The samples of an 8-bit picture.
    pub fn eight(&self) -> Option<&[u8]> {
        match self {
            Samples::Eight(samples) => Some(samples),
            Samples::Sixteen(_) => None,
        }
    }

    /// The samples of a 16-bit picture.
    pub fn sixteen(&self) -> Option<&[u16]> {
        match self {
            Samples::Eight(_) => None,
            Samples::Sixteen(samples) => Some(samples),
        }
    }
}

impl Image {
    /// Linear light of the pixel at (x, y), 0 to 1 a channel.
    ///
    /// # Panics
    /// Outside the picture.
    #[inline]
    pub fn light(&self, x: usize, y: usize) -> [f32; 3] {
        let i = 3 * (y * self.width + x);
        match &self.samples {
            Samples::Eight(v) => pixel(v, i).map(|value| self.linear[usize::from(value)]),
            Samples::Sixteen(v) => pixel(v, i).map(|value| self.linear[usize::from(value)]),
        }
    }

    /// Bilinear linear light between pixel centres; beyond the outermost centres the nearest edge value.
    #[inline]
    pub fn light_between(&self, x: f64, y: f64) -> [f32; 3] {
        let x = x.clamp(0.0, (self.width - 1) as f64);
        let y = y.clamp(0.0, (self.height - 1) as f64);
        let (x0, y0) = (x as usize, y as usize);
        let (x1, y1) = ((x0 + 1).min(self.width - 1), (y0 + 1).min(self.height - 1));
        let (fx, fy) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
        let [top, bottom] = [3 * y0 * self.width, 3 * y1 * self.width];
        let corners = [top + 3 * x0, top + 3 * x1, bottom + 3 * x0, bottom + 3 * x1];
        let linear = self.linear.as_slice();
        // A table of known length spares a check at each look-up.
        let [a, b, c, d] = match (&self.samples, linear.first_chunk::<256>()) {
            (Samples::Eight(v), Some(linear)) => corners.map(|i| pixel(v, i).map(|value| linear[usize::from(value)])),
            (Samples::Eight(v), None) => corners.map(|i| pixel(v, i).map(|value| linear[usize::from(value)])),
            (Samples::Sixteen(v), _) => corners.map(|i| pixel(v, i).map(|value| linear[usize::from(value)])),
        };
        [0, 1, 2].map(|i| (a[i] * (1.0 - fx) + b[i] * fx) * (1.0 - fy) + (c[i] * (1.0 - fx) + d[i] * fx) * fy)
    }
}

/// The three samples from index `i` on.
#[inline]
fn pixel<T: Copy>(samples: &[T], i: usize) -> [T; 3] {
    let pixel = &samples[i..i + 3];
    [pixel[0], pixel[1], pixel[2]]
}
