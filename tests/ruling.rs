//! Photos of a stage micrometer, drawn here with a scale that is known exactly.
//!
//! A line is a box blurred by a bell curve, which has a closed form (two error functions); its ends likewise. Light is
//! then averaged over each pixel by nine points of it, lit unevenly, given noise and written as a camera would.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// A photo of ruled lines, to be drawn.
#[derive(Clone, Debug)]
pub(crate) struct Ruled {
    pub(crate) width: u32,
    pub(crate) height: u32,
    /// Distance of neighbouring lines in the middle of the photo, pixels.
    pub(crate) pitch_px: f64,
    /// Direction across the lines, degrees from x towards y.
    pub(crate) angle_deg: f64,
    /// Thickness of a line, pixels.
    pub(crate) line_px: f64,
    /// Standard deviation of the blur, pixels.
    pub(crate) blur_px: f64,
    /// Light beside the lines and on them, 0 to 1, linear.
    pub(crate) light: [f64; 2],
    /// Light falls by this share from the middle to a corner, and as much again across the photo.
    pub(crate) uneven: f64,
    /// Standard deviation of a pixel at full light, linear; goes with the root of light.
    pub(crate) noise: f64,
    /// Numbers of the first and the last line; 0 runs through the middle of the photo.
    pub(crate) lines: [i64; 2],
    /// From where to where every line runs, pixels along it from the middle of the photo.
    pub(crate) course: [f64; 2],
    /// Every tenth line runs so much farther to both sides, every fifth half as much.
    pub(crate) longer_px: f64,
    /// A second family of lines across the first.
    pub(crate) crossed: bool,
    /// Share by which the lens moves the corners outwards.
    pub(crate) distortion: f64,
    /// Dark or bright specks, each a few pixels wide.
    pub(crate) specks: usize,
    /// Height of pixels over their width.
    pub(crate) tall: f64,
    pub(crate) seed: u64,
}

impl Ruled {
    /// Dark lines over the whole of a bright photo.
    pub(crate) fn plain(pitch_px: f64, angle_deg: f64, seed: u64) -> Ruled {
        Ruled {
            width: 1000,
            height: 750,
            pitch_px,
            angle_deg,
            line_px: 0.2 * pitch_px,
            blur_px: 1.0,
            light: [0.6, 0.15],
            uneven: 0.05,
            noise: 0.01,
            lines: [-1000, 1000],
            course: [-2000.0, 2000.0],
            longer_px: 0.0,
            crossed: false,
            distortion: 0.0,
            specks: 0,
            tall: 1.0,
            seed,
        }
    }

    /// Mean over the photo of the local number of lines a pixel across the lines, by a fine grid.
    pub(crate) fn lines_per_px(&self) -> f64 {
        let n = 400;
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let mut sum = 0.0;
        for i in 0..n * n {
            let x = (f64::from(i % n) / f64::from(n - 1) - 0.5) * f64::from(self.width - 1);
            let y = (f64::from(i / n) / f64::from(n - 1) - 0.5) * f64::from(self.height - 1);
            let (u, v) = (x * cos + y * sin, y * cos - x * sin);
            sum += 1.0 + self.distortion * (3.0 * u * u + v * v) / self.corner2();
        }
        sum / f64::from(n * n) / self.pitch_px
    }

    fn corner2(&self) -> f64 {
        0.25 * (f64::from(self.width - 1).powi(2) + f64::from(self.height - 1).powi(2))
    }

    /// Linear light of every pixel, with noise, row by row.
    pub(crate) fn light_of_pixels(&self) -> Vec<f64> {
        let mut dice = ChaCha8Rng::seed_from_u64(self.seed);
        let (width, height) = (f64::from(self.width), f64::from(self.height));
        let phase = dice.r#gen::<f64>() - 0.5;
        let specks: Vec<[f64; 4]> = (0..self.specks)
            .map(|_| {
                let (x, y) = (dice.r#gen::<f64>() * width, dice.r#gen::<f64>() * height);
                [x, y, 1.5 + 5.0 * dice.r#gen::<f64>(), if dice.r#gen::<f64>() < 0.7 { 0.05 } else { 0.9 }]
            })
            .collect();
        let profile = Profile::new(self);
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let mut out = Vec::with_capacity((self.width * self.height) as usize);
        for row in 0..self.height {
            for column in 0..self.width {
                let mut light = 0.0;
                for i in 0..9 {
                    let (dx, dy) = (f64::from(i % 3 - 1) / 3.0, f64::from(i / 3 - 1) / 3.0);
                    let x = f64::from(column) + dx - 0.5 * (width - 1.0);
                    let y = (f64::from(row) + dy - 0.5 * (height - 1.0)) * self.tall;
                    let bend = 1.0 + self.distortion * (x * x + y * y) / self.corner2();
                    let (u, v) = ((x * cos + y * sin) * bend, (y * cos - x * sin) * bend);
                    let u = u + phase * self.pitch_px;
                    let mut covered = profile.covered(self, u, v);
                    if self.crossed {
                        covered = 1.0 - (1.0 - covered) * (1.0 - profile.covered(self, v, u));
                    }
                    light += (self.light[0] + (self.light[1] - self.light[0]) * covered) / 9.0;
                }
                for [x, y, radius, tone] in &specks {
                    let away = (f64::from(column) - x).hypot(f64::from(row) - y);
                    let share = (0.5 + radius - away).clamp(0.0, 1.0);
                    light += share * (tone - light);
                }
                let x = f64::from(column) / (width - 1.0) - 0.5;
                let y = f64::from(row) / (height - 1.0) - 0.5;
                light *= 1.0 - self.uneven * (2.0 * (x * x + y * y) + x + 0.5);
                let noise: f64 = dice.sample(StandardNormal);
                out.push((light + noise * self.noise * light.max(0.0).sqrt()).clamp(0.0, 1.0));
            }
        }
        out
    }

    /// The photo as 8-bit sRGB.
    pub(crate) fn photo(&self) -> image::RgbImage {
        let light = self.light_of_pixels();
        image::RgbImage::from_fn(self.width, self.height, |x, y| {
            let l = light[(y * self.width + x) as usize];
            // IEC 61966-2-1.
            let coded = if l <= 0.0031308 { 12.92 * l } else { 1.055 * l.powf(1.0 / 2.4) - 0.055 };
            image::Rgb([(255.0 * coded).round() as u8; 3])
        })
    }

    /// The photo as a PNG file.
    pub(crate) fn png(&self) -> Vec<u8> {
        let mut bytes = std::io::Cursor::new(Vec::new());
        self.photo().write_to(&mut bytes, image::ImageFormat::Png).unwrap();
        bytes.into_inner()
    }
}

/// How a blurred line covers what is beside it, as a fine table of the closed form.
struct Profile {
    table: Vec<f64>,
    reach: f64,
    blur: f64,
}

const FINE: f64 = 200.0;

impl Profile {
    fn new(ruled: &Ruled) -> Profile {
        let reach = 0.5 * ruled.line_px + 6.0 * ruled.blur_px + 1.0;
        let at = |t: f64| {
            let edge = |side: f64| libm::erf((t + side * 0.5 * ruled.line_px) / (ruled.blur_px * 2f64.sqrt()));
            0.5 * (edge(1.0) - edge(-1.0))
        };
        let table = (0..=(reach * FINE) as usize + 2).map(|i| at(i as f64 / FINE)).collect();
        Profile { table, reach, blur: ruled.blur_px }
    }

    fn covered(&self, ruled: &Ruled, u: f64, v: f64) -> f64 {
        let first = (((u - self.reach) / ruled.pitch_px).ceil() as i64).max(ruled.lines[0]);
        let last = (((u + self.reach) / ruled.pitch_px).floor() as i64).min(ruled.lines[1]);
        let one = |n: i64| {
            let at = (u - n as f64 * ruled.pitch_px).abs() * FINE;
            let (i, share) = (at as usize, at.fract());
            let across = self.table[i] + share * (self.table[i + 1] - self.table[i]);
            let longer = if n % 10 == 0 {
                ruled.longer_px
            } else if n % 5 == 0 {
                0.5 * ruled.longer_px
            } else {
                0.0
            };
            let end = |to: f64| 0.5 * (1.0 + libm::erf(to / (self.blur * 2f64.sqrt())));
            across * end(v - ruled.course[0] + longer) * end(ruled.course[1] + longer - v)
        };
        (first..=last).map(one).sum::<f64>().min(1.0)
    }
}
