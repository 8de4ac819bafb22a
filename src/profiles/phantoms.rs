//! Drawn photos with known truth, for the tests of this stage.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::field::{Disc, Field, Noise};
use crate::image::{Image, Samples, Tags};
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;
use crate::shafts::{EndAt, Shaft, Shafts};

/// How a phantom shaft emits.
#[derive(Clone, Copy, Debug)]
pub(super) enum Kind {
    /// Light in proportion to the chord.
    Volume,
    /// A tube whose hole has this share of the radius.
    Shell(f64),
    /// 1 − exp(−a · chord): an emitter that absorbs its own light, or, with negative glow, a shaft that
    /// absorbs the ground's.
    Absorbing(f64),
    /// A cylinder with a coaxial core of this share of the radius, in which this share of the light is missing
    /// (below 0: more light).
    Medulla(f64, f64),
    /// Pigment and a dark medulla: 1 − exp(−a · effective chord).
    PigmentedMedulla(f64, f64, f64),
}

impl Kind {
    /// Light at distance v (radii), 1 at most (about).
    pub(super) fn light(self, v: f64) -> f64 {
        let chord = |v: f64| (1.0 - v * v).max(0.0).sqrt();
        let cored = |k: f64, missing: f64| chord(v) - missing * k * chord(v / k);
        if v.abs() >= 1.0 {
            return 0.0;
        }
        match self {
            Kind::Volume => chord(v),
            Kind::Shell(k) => cored(k, 1.0) / (1.0 - k * k).sqrt(),
            Kind::Absorbing(a) => (-a * chord(v)).exp_m1() / (-a).exp_m1(),
            Kind::Medulla(k, missing) => cored(k, missing),
            Kind::PigmentedMedulla(a, k, missing) => (-a * cored(k, missing)).exp_m1() / (-a).exp_m1(),
        }
    }
}

/// A straight shaft of one width through a photo, with the photo around it.
#[derive(Clone, Debug)]
pub(super) struct Straight {
    pub(super) kind: Kind,
    pub(super) width_px: f64,
    pub(super) blur_px: f64,
    /// Radians from +x towards +y.
    pub(super) angle: f64,
    pub(super) length_px: f64,
    /// Height above the ground, linear light.
    pub(super) glow: [f64; 3],
    pub(super) ground: [f64; 3],
    /// Growth of the ground across the shaft, share a width.
    pub(super) slope: f64,
    /// Noise of one pixel.
    pub(super) noise: Noise,
    pub(super) eight_bits: bool,
    /// Strength of an unsharp mask of radius one pixel on the encoded samples, 0 = none.
    pub(super) sharpening: f64,
    /// First width over true width.
    pub(super) width_factor: f64,
    /// Amplitude of the first centreline's error, widths.
    pub(super) wander: f64,
    pub(super) seed: u64,
}

impl Default for Straight {
    fn default() -> Straight {
        Straight {
            kind: Kind::Volume,
            width_px: 24.0,
            blur_px: 1.2,
            angle: 0.31,
            length_px: 260.0,
            glow: [0.06, 0.25, 0.20],
            ground: [0.01, 0.02, 0.05],
            slope: 0.0,
            noise: Noise { floor: 0.0125, slope: 0.0 },
            eight_bits: false,
            sharpening: 0.0,
            width_factor: 1.3,
            wander: 0.25,
            seed: 1,
        }
    }
}

impl Straight {
    /// Ratio of the green height to the noise of one pixel.
    pub(super) fn with_snr(mut self, snr: f64) -> Straight {
        self.noise = Noise { floor: (self.glow[1].abs() / snr) as f32, slope: 0.0 };
        self
    }

    /// Ends of the true axis.
    pub(super) fn axis(&self) -> [Point; 2] {
        let (sin, cos) = self.angle.sin_cos();
        let (w, h) = self.size();
        // Off the grid by an odd amount, so that no phase is special.
        let middle = Point::new(w as f64 / 2.0 + 0.237 + 0.1 * self.seed as f64 % 1.0, h as f64 / 2.0 - 0.411);
        let half = self.length_px / 2.0;
        [
            Point::new(middle.x - half * cos, middle.y - half * sin),
            Point::new(middle.x + half * cos, middle.y + half * sin),
        ]
    }

    fn size(&self) -> (usize, usize) {
        let (sin, cos) = (self.angle.sin().abs(), self.angle.cos().abs());
        let room = 4.0 * self.width_px + 40.0;
        ((self.length_px * cos + room) as usize, (self.length_px * sin + room) as usize)
    }

    /// The photo with its shaft, traced roughly; the shaft runs on beyond both ends of its trace.
    pub(super) fn shafts(&self) -> Shafts {
        let (width, height) = self.size();
        let across = Across::new(self.kind, self.width_px / 2.0, self.blur_px, self.angle);
        let [from, to] = self.axis();
        let along = (to - from).unit();
        let normal = along.normal();
        let truth = |x: usize, y: usize| {
            let t = (Point::new(x as f64, y as f64) - from).dot(normal);
            let ground = 1.0 + self.slope * t / self.width_px;
            [0, 1, 2].map(|c| self.ground[c] * ground + self.glow[c] * across.at(t))
        };
        let mut rng = ChaCha8Rng::seed_from_u64(self.seed);
        let picture = photographed(width, height, truth, self.noise, self.eight_bits, self.sharpening, &mut rng);
        let n = (self.length_px / 2.0) as usize;
        let phase = rng.gen_range(0.0..6.0);
        let points = (0..=n).map(|i| {
            let s = self.length_px * i as f64 / n as f64;
            // A wave of eight widths, and the corners of a trace through pixels.
            let off =
                self.wander * self.width_px * (s / self.width_px * 0.785 + phase).sin() + rng.gen_range(-0.5..0.5);
            from + along * s + normal * off
        });
        let shaft = Shaft {
            centreline: Polyline::new(points).unwrap(),
            width_px: self.width_px * self.width_factor,
            overlaps: Vec::new(),
            ends: [EndAt::Lost; 2],
            concerns: Vec::new(),
        };
        around(picture, self.ground, self.noise, vec![shaft])
    }
}

/// The light across a straight shaft, blurred, averaged over pixels; by plain numerics, without the tables under test.
pub(super) struct Across {
    step: f64,
    half: f64,
    values: Vec<f64>,
}

impl Across {
    pub(super) fn new(kind: Kind, radius: f64, blur: f64, angle: f64) -> Across {
        let step = (blur / 12.0).min(radius / 40.0).clamp(0.01, 0.08);
        let half = radius + 6.0 * blur + 3.0;
        let n = (2.0 * half / step) as usize + 1;
        // Each step is the mean over itself, by 8 places, so that the edge lies where it should.
        let sharp = |i: usize| {
            (0..8)
                .map(|k| kind.light(((i as f64 + (f64::from(k) + 0.5) / 8.0 - 0.5) * step - half) / radius))
                .sum::<f64>()
                / 8.0
        };
        let mut values: Vec<f64> = (0..n).map(sharp).collect();
        let gauss: Vec<f64> = {
            let reach = (5.0 * blur / step).ceil() as i64;
            let raw: Vec<f64> = (-reach..=reach).map(|k| (-0.5 * (k as f64 * step / blur).powi(2)).exp()).collect();
            let sum: f64 = raw.iter().sum();
            raw.into_iter().map(|v| v / sum).collect()
        };
        let boxed = |length: f64| -> Vec<f64> {
            let reach = (length / step / 2.0).round() as usize;
            vec![1.0 / (2 * reach + 1) as f64; 2 * reach + 1]
        };
        // A square pixel seen at an angle is a box along each of its sides.
        for kernel in [gauss, boxed(angle.cos().abs()), boxed(angle.sin().abs())] {
            values = convolved(&values, &kernel);
        }
        Across { step, half, values }
    }

    pub(super) fn at(&self, t: f64) -> f64 {
        let place = (t + self.half) / self.step;
        if place < 0.0 || place >= (self.values.len() - 1) as f64 {
            return 0.0;
        }
        let i = place as usize;
        self.values[i] + (self.values[i + 1] - self.values[i]) * (place - i as f64)
    }
}

fn convolved(values: &[f64], kernel: &[f64]) -> Vec<f64> {
    let reach = kernel.len() / 2;
    (0..values.len())
        .map(|i| {
            let from = i.saturating_sub(reach);
            let to = (i + reach).min(values.len() - 1);
            (from..=to).map(|j| values[j] * kernel[j + reach - i]).sum()
        })
        .collect()
}

/// Linear light of an sRGB value 0 to 1 (IEC 61966-2-1; from memory).
fn linear(encoded: f64) -> f64 {
    if encoded <= 0.04045 { encoded / 12.92 } else { ((encoded + 0.055) / 1.055).powf(2.4) }
}

fn encoded(linear: f64) -> f64 {
    if linear <= 0.003_130_8 { linear * 12.92 } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}

/// A photo of light given at each pixel: noise, encoding, sharpening, rounding.
pub(super) fn photographed(
    width: usize,
    height: usize,
    truth: impl Fn(usize, usize) -> [f64; 3],
    noise: Noise,
    eight_bits: bool,
    sharpening: f64,
    rng: &mut ChaCha8Rng,
) -> Image {
    let mut values = vec![0.0_f64; width * height * 3];
    for y in 0..height {
        for x in 0..width {
            let light = truth(x, y);
            for c in 0..3 {
                let noisy = light[c] + f64::from(noise.sd(light[c] as f32)) * gaussian(rng);
                // A 16-bit sample is linear with an offset, so that noise below black is kept.
                values[3 * (y * width + x) + c] = if eight_bits { encoded(noisy.clamp(0.0, 1.0)) } else { noisy };
            }
        }
    }
    if sharpening > 0.0 {
        values = sharpened(&values, width, height, sharpening);
    }
    let (samples, linear) = if eight_bits {
        let samples = values.iter().map(|v| (v.clamp(0.0, 1.0) * 255.0).round() as u8).collect();
        (Samples::Eight(samples), (0..256).map(|i| linear(f64::from(i) / 255.0) as f32).collect())
    } else {
        const BLACK: f64 = 8192.0;
        let scale = 65535.0 - BLACK;
        let samples = values.iter().map(|v| (v * scale + BLACK).round().clamp(0.0, 65535.0) as u16).collect();
        (Samples::Sixteen(samples), (0..65536).map(|i| ((f64::from(i) - BLACK) / scale) as f32).collect())
    };
    let tags = Tags { format: "png", ..Tags::default() };
    Image { width, height, samples, linear, monochrome: false, tags, concerns: Vec::new() }
}

fn sharpened(values: &[f64], width: usize, height: usize, strength: f64) -> Vec<f64> {
    let at = |x: i64, y: i64, c: usize| {
        let (x, y) = (x.clamp(0, width as i64 - 1) as usize, y.clamp(0, height as i64 - 1) as usize);
        values[3 * (y * width + x) + c]
    };
    let kernel = [0.054, 0.244, 0.403, 0.244, 0.054];
    let mut result = values.to_vec();
    for y in 0..height as i64 {
        for x in 0..width as i64 {
            for c in 0..3 {
                let mut soft = 0.0;
                for (j, a) in kernel.iter().enumerate() {
                    for (i, b) in kernel.iter().enumerate() {
                        soft += a * b * at(x + i as i64 - 2, y + j as i64 - 2, c);
                    }
                }
                let place = 3 * (y as usize * width + x as usize) + c;
                result[place] += strength * (values[place] - soft);
            }
        }
    }
    result
}

pub(super) fn gaussian(rng: &mut ChaCha8Rng) -> f64 {
    let (a, b): (f64, f64) = (rng.gen_range(f64::MIN_POSITIVE..1.0), rng.gen_range(0.0..std::f64::consts::TAU));
    (-2.0 * a.ln()).sqrt() * b.cos()
}

/// A field around a photo whose ground is even, with its shafts.
pub(super) fn around(picture: Image, ground: [f64; 3], noise: Noise, shafts: Vec<Shaft>) -> Shafts {
    let reduction = 2;
    let (width, height) = (picture.width.div_ceil(reduction), picture.height.div_ceil(reduction));
    let planes = [0, 1, 2].map(|c| {
        Raster::from_fn(width, height, |x, y| {
            picture.light((x * 2).min(picture.width - 1), (y * 2).min(picture.height - 1))[c]
        })
    });
    let field = Field {
        scale: None,
        disc: None::<Disc>,
        reduction,
        planes,
        background: ground.map(|g| Raster::filled(width, height, g as f32)),
        noise: [noise; 3],
        inside: Raster::filled(width, height, true),
        trusted: Raster::filled(width, height, true),
        clipped_share: 0.0,
        concerns: Vec::new(),
        picture,
    };
    Shafts { field, shafts, rejects: Vec::new(), concerns: Vec::new() }
}

/// Light of an arbitrary sharp scene, blurred and averaged over pixels, by three times finer sampling.
pub(super) fn blurred(width: usize, height: usize, blur_px: f64, sharp: impl Fn(f64, f64) -> f64) -> Raster<f32> {
    const FINER: usize = 3;
    let (w, h) = (width * FINER, height * FINER);
    let place = |i: usize| (i as f64 + 0.5) / FINER as f64 - 0.5;
    let mut values: Vec<f64> = (0..w * h).map(|i| sharp(place(i % w), place(i / w))).collect();
    let sigma = blur_px * FINER as f64;
    let reach = (4.0 * sigma).ceil() as i64;
    let kernel: Vec<f64> = (-reach..=reach).map(|k| (-0.5 * (k as f64 / sigma).powi(2)).exp()).collect();
    let sum: f64 = kernel.iter().sum();
    for along_x in [true, false] {
        let (n, step, m, other) = if along_x { (w, 1, h, w) } else { (h, w, w, 1) };
        let mut line = vec![0.0; n];
        for j in 0..m {
            for (i, value) in line.iter_mut().enumerate() {
                *value = values[j * other + i * step];
            }
            for i in 0..n {
                let taps = kernel.iter().enumerate().map(|(k, weight)| {
                    let from = (i as i64 + k as i64 - reach).clamp(0, n as i64 - 1) as usize;
                    weight * line[from]
                });
                values[j * other + i * step] = taps.sum::<f64>() / sum;
            }
        }
    }
    Raster::from_fn(width, height, |x, y| {
        let cells = (0..FINER * FINER).map(|k| values[(y * FINER + k / FINER) * w + x * FINER + k % FINER]);
        (cells.sum::<f64>() / (FINER * FINER) as f64) as f32
    })
}

/// A photo of such light with even ground and noise, and shafts traced by hand.
pub(super) fn scene(light: &Raster<f32>, noise: f32, shafts: Vec<Shaft>, seed: u64) -> Shafts {
    let (ground, glow) = ([0.02, 0.04, 0.06], [0.05, 0.25, 0.20]);
    let noise = Noise { floor: noise, slope: 0.0 };
    let truth = |x: usize, y: usize| [0, 1, 2].map(|c| ground[c] + glow[c] * f64::from(light.at(x, y)));
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let picture = photographed(light.width(), light.height(), truth, noise, false, 0.0, &mut rng);
    around(picture, ground, noise, shafts)
}

/// A shaft as traced: a line, a width, what becomes of its ends.
pub(super) fn traced(points: impl IntoIterator<Item = Point>, width_px: f64, ends: [EndAt; 2]) -> Shaft {
    let centreline = Polyline::new(points).unwrap();
    Shaft { centreline, width_px, overlaps: Vec::new(), ends, concerns: Vec::new() }
}
