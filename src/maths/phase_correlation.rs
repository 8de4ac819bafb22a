//! How far one raster is shifted against another, to a fraction of a pixel, by the phases of their waves.
//!
//! If b(x + d) = a(x), the waves of b lag those of a by their share of d, so that the product of one spectrum with the
//! other's conjugate, each wave brought to strength 1, is the spectrum of a single peak at d (Kuglin and Hines, "The
//! phase correlation image alignment method", 1975; from memory). Between the pixels the peak is computed as a sum
//! over waves on a fine grid about it (Guizar-Sicairos, Thurman and Fienup, "Efficient subpixel image registration
//! algorithms", Optics Letters 33, 2008, 156-158; from memory). Shifts wrap around: half a side is the most.

use std::f64::consts::TAU;
use std::sync::Arc;

use rustfft::num_complex::Complex;
use rustfft::{Fft, FftPlanner};

use super::point::Vec2;
use super::raster::Raster;

/// Half the side of the square about the highest pixel in which the peak is sought finely, pixels.
const FINE_REACH_PX: f64 = 1.5;
/// Half the side of the square that counts as the peak when the rest is told, pixels.
const PEAK_REACH_PX: usize = 4;

/// A wave this much weaker than the strongest, both photos' strengths multiplied, is rounding of single precision.
const ROUNDING: f32 = 1e-9;

/// Transforms of rasters of one size.
pub struct Waves {
    width: usize,
    height: usize,
    forward: [Arc<dyn Fft<f32>>; 2],
    back: [Arc<dyn Fft<f32>>; 2],
    weight: Vec<f32>,
}

/// The waves of one raster.
#[derive(Clone, Debug)]
pub struct Spectrum(Vec<Complex<f32>>);

/// Where two rasters fit best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// How far what is in the first lies further right and down in the second, pixels.
    pub shift: Vec2,
    /// Height of the peak: 1 when every wave agrees.
    pub height: f64,
    /// Its height over the rest, in standard deviations of the rest.
    pub quality: f64,
}

impl Waves {
    /// For rasters of this size. Waves shorter than some `finest_px` pixels count little (Gaussian); with 0 all count
    /// alike.
    pub fn new(width: usize, height: usize, finest_px: f64) -> Waves {
        let mut planner = FftPlanner::new();
        let weight = |x: usize, y: usize| {
            let square = wave(x, width).powi(2) + wave(y, height).powi(2);
            (-0.5 * square * (finest_px * finest_px)).exp() as f32
        };
        Waves {
            width,
            height,
            forward: [planner.plan_fft_forward(width), planner.plan_fft_forward(height)],
            back: [planner.plan_fft_inverse(width), planner.plan_fft_inverse(height)],
            weight: (0..width * height).map(|i| weight(i % width, i / width)).collect(),
        }
    }

    /// The waves of a raster; `None` when it has another size.
    pub fn spectrum(&self, raster: &Raster<f32>) -> Option<Spectrum> {
        let fits = (raster.width(), raster.height()) == (self.width, self.height) && self.width * self.height > 0;
        fits.then(|| {
            Spectrum(self.turned(raster.data().iter().map(|&v| Complex::new(v, 0.0)).collect(), &self.forward))
        })
    }

    /// Where the second fits the first best; `None` when either shows nothing.
    pub fn peak(&self, first: &Spectrum, second: &Spectrum) -> Option<Peak> {
        let product = self.units(first, second);
        let total: f64 = product.iter().map(|unit| f64::from(unit.norm())).sum();
        if total <= 0.0 {
            return None;
        }
        let heights: Vec<f64> = self.turned(product, &self.back).iter().map(|v| f64::from(v.re) / total).collect();
        let top = (0..heights.len()).max_by(|&a, &b| heights[a].total_cmp(&heights[b]))?;
        let (x, y) = (top % self.width, top / self.width);
        let near = |at: usize, of: usize, n: usize| {
            let apart = at.abs_diff(of);
            apart.min(n - apart) <= PEAK_REACH_PX
        };
        let rest: Vec<f64> = (0..heights.len())
            .filter(|i| !(near(i % self.width, x, self.width) && near(i / self.width, y, self.height)))
            .map(|i| heights[i])
            .collect();
        let mean = rest.iter().sum::<f64>() / rest.len().max(1) as f64;
        let sd = (rest.iter().map(|h| (h - mean).powi(2)).sum::<f64>() / rest.len().max(1) as f64).sqrt();
        let shift = Vec2::new(signed(x, self.width), signed(y, self.height));
        Some(Peak { shift, height: heights[top], quality: if sd > 0.0 { (heights[top] - mean) / sd } else { 0.0 } })
    }

    /// The peak to a `parts`-th of a pixel.
    pub fn fine_peak(&self, first: &Spectrum, second: &Spectrum, parts: usize) -> Option<Peak> {
        let peak = self.peak(first, second)?;
        let parts = parts.max(1) as f64;
        let n = (2.0 * FINE_REACH_PX * parts).ceil() as usize;
        let place = |from: f64, i: usize| from + (i as f64 - 0.5 * n as f64).round() / parts;
        // Σ over waves of their product with exp(2πi (k·d)), rows first.
        let units = self.units(first, second);
        let mut by_row = vec![Complex::new(0.0f64, 0.0); self.height * (n + 1)];
        for y in 0..self.height {
            for x in 0..self.width {
                let unit = units[y * self.width + x];
                let unit = Complex::new(f64::from(unit.re), f64::from(unit.im));
                let k = TAU * wave(x, self.width);
                for j in 0..=n {
                    by_row[y * (n + 1) + j] += unit * Complex::from_polar(1.0, k * place(peak.shift.x, j));
                }
            }
        }
        let mut best = (f64::NEG_INFINITY, peak.shift);
        for row in 0..=n {
            let down = place(peak.shift.y, row);
            let turns: Vec<Complex<f64>> =
                (0..self.height).map(|y| Complex::from_polar(1.0, TAU * wave(y, self.height) * down)).collect();
            for j in 0..=n {
                let height: f64 = turns.iter().enumerate().map(|(y, turn)| (by_row[y * (n + 1) + j] * turn).re).sum();
                if height > best.0 {
                    best = (height, Vec2::new(place(peak.shift.x, j), down));
                }
            }
        }
        Some(Peak { shift: best.1, ..peak })
    }

    /// The product of the first's conjugate and the second, every wave brought to its weight; waves that are no more
    /// than rounding have none.
    fn units(&self, first: &Spectrum, second: &Spectrum) -> Vec<Complex<f32>> {
        let products: Vec<Complex<f32>> = first.0.iter().zip(&second.0).map(|(a, b)| a.conj() * b).collect();
        let least = products.iter().map(|product| product.norm()).fold(0.0, f32::max) * ROUNDING;
        let unit = |(product, weight): (&Complex<f32>, &f32)| {
            let strength = product.norm();
            if strength > least { product * (weight / strength) } else { Complex::new(0.0, 0.0) }
        };
        products.iter().zip(&self.weight).map(unit).collect()
    }

    /// Rows, then columns.
    fn turned(&self, mut values: Vec<Complex<f32>>, by: &[Arc<dyn Fft<f32>>; 2]) -> Vec<Complex<f32>> {
        by[0].process(&mut values);
        let mut columns = transposed(&values, self.width, self.height);
        by[1].process(&mut columns);
        transposed(&columns, self.height, self.width)
    }
}

/// Columns become rows.
fn transposed(values: &[Complex<f32>], width: usize, height: usize) -> Vec<Complex<f32>> {
    let mut turned = Vec::with_capacity(values.len());
    for x in 0..width {
        turned.extend((0..height).map(|y| values[y * width + x]));
    }
    turned
}

/// Waves a pixel of the coefficient at place `i` of `n`, −½ to ½.
fn wave(i: usize, n: usize) -> f64 {
    signed(i, n) / n as f64
}

fn signed(i: usize, n: usize) -> f64 {
    if 2 * i > n { i as f64 - n as f64 } else { i as f64 }
}

#[cfg(test)]
mod tests {
    use super::Waves;
    use crate::maths::raster::Raster;
    use crate::maths::seeds::mixed;

    /// Blurred noise that repeats at the borders, shifted by (dx, dy) in closed form: a sum of waves.
    fn waves_of(width: usize, height: usize, dx: f64, dy: f64) -> Raster<f32> {
        let part = |i: u64| (mixed(i) >> 11) as f64 / (1u64 << 53) as f64;
        Raster::from_fn(width, height, |x, y| {
            (0..60u64)
                .map(|i| {
                    let (kx, ky) = ((17.0 * part(3 * i)).floor() - 8.0, (17.0 * part(3 * i + 1)).floor() - 8.0);
                    let turn = kx * (x as f64 - dx) / width as f64 + ky * (y as f64 - dy) / height as f64;
                    (std::f64::consts::TAU * (turn + part(3 * i + 2))).cos()
                })
                .sum::<f64>() as f32
        })
    }

    #[test]
    fn a_shift_is_found_to_a_hundredth_of_a_pixel() {
        for (width, height, dx, dy) in [(64, 48, 5.25, -7.5), (50, 50, -0.37, 0.81), (33, 64, 12.0, 20.04)] {
            let waves = Waves::new(width, height, 3.0);
            let a = waves.spectrum(&waves_of(width, height, 0.0, 0.0)).unwrap();
            let b = waves.spectrum(&waves_of(width, height, dx, dy)).unwrap();
            let peak = waves.fine_peak(&a, &b, 100).unwrap();
            assert!((peak.shift.x - dx).abs() < 0.015 && (peak.shift.y - dy).abs() < 0.015, "{peak:?} for {dx}, {dy}");
        }
    }

    #[test]
    fn what_shows_nothing_has_no_peak_and_what_differs_a_poor_one() {
        let waves = Waves::new(40, 30, 2.0);
        let nothing = waves.spectrum(&Raster::filled(40, 30, 0.0)).unwrap();
        assert!(waves.peak(&nothing, &nothing).is_none());
        assert!(waves.spectrum(&Raster::filled(39, 30, 0.0)).is_none());
        let noise = |seed: u64| {
            let raster = Raster::from_fn(40, 30, |x, y| (mixed(seed + (y * 40 + x) as u64) % 1000) as f32);
            waves.spectrum(&raster).unwrap()
        };
        let (same, other) = (waves.peak(&noise(1), &noise(1)).unwrap(), waves.peak(&noise(1), &noise(90_000)).unwrap());
        assert!(same.quality > 2.0 * other.quality, "{same:?} {other:?}");
        assert!((same.height - 1.0).abs() < 1e-4 && same.shift.length() == 0.0);
    }
}
