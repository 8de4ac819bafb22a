//! The pixels of a station, gathered by their distance from the centreline.
//!
//! No pixel is interpolated: each pixel whose centre lies in the station's window adds its light to the bin of its
//! distance from the centreline, and each bin remembers the mean distance of what it holds. So no blur is added
//! other than that of the bins, noise stays independent from bin to bin, and each pixel counts in one station only.

use super::neighbours::Surroundings;
use super::photo::Photo;
use crate::maths::point::{Point, Vec2};

/// A rectangle that follows the shaft: what a station looks at.
#[derive(Clone, Copy, Debug)]
pub(super) struct Window {
    /// Its middle.
    pub(super) at: Point,
    /// Unit tangent of the centreline.
    pub(super) along: Vec2,
    /// Half its length along the shaft, pixels.
    pub(super) half_along_px: f64,
    /// Half its width across the shaft, pixels.
    pub(super) half_across_px: f64,
    /// Curvature of the centreline towards the normal, one over pixels.
    pub(super) bend_per_px: f64,
}

/// Sums of one bin: eight lanes that are added at once.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Bin([f32; 8]);

impl Bin {
    /// Pixels.
    pub(super) fn count(&self) -> f32 {
        self.0[0]
    }

    /// Sum of distances from the centreline, pixels.
    pub(super) fn at(&self) -> f32 {
        self.0[1]
    }

    /// Sums of light.
    pub(super) fn light(&self) -> [f32; 3] {
        [self.0[2], self.0[3], self.0[4]]
    }

    /// Sum of squares of the mixed light less `Mix::offset`.
    pub(super) fn square(&self) -> f32 {
        self.0[5]
    }

    /// Those of the pixels that are clipped: their light is the least that it can be.
    pub(super) fn clipped(&self) -> f32 {
        self.0[6]
    }

    /// Pixels left out because they belong to another shaft or may not be trusted.
    pub(super) fn foreign(&self) -> f32 {
        self.0[7]
    }

    #[inline]
    fn add(&mut self, lanes: [f32; 8]) {
        for (sum, lane) in self.0.iter_mut().zip(lanes) {
            *sum += lane;
        }
    }
}

/// What a station sees.
#[derive(Clone, Debug)]
pub(super) struct Bins {
    /// Width of a bin, pixels.
    pub(super) step_px: f64,
    /// Distance of the first bin's outer side from the centreline, pixels.
    pub(super) half_px: f64,
    /// From the side against the normal to the side along it.
    pub(super) bins: Vec<Bin>,
}

impl Bins {
    /// Distance of the middle of bin `i` from the centreline, pixels.
    pub(super) fn middle_px(&self, i: usize) -> f64 {
        (i as f64 + 0.5) * self.step_px - self.half_px
    }
}

/// One light out of three channels.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Mix {
    /// Weight of each channel.
    pub(super) weights: [f32; 3],
    /// Taken away before squares are summed, so that single precision suffices.
    pub(super) offset: f32,
}

impl Mix {
    /// The mixed light.
    pub(super) fn of(&self, light: [f32; 3]) -> f32 {
        self.weights[0] * light[0] + self.weights[1] * light[1] + self.weights[2] * light[2]
    }
}

/// Gathers the pixels of `window`, every `stride`-th row and column.
pub(super) fn gather(
    photo: &Photo,
    around: &Surroundings,
    window: &Window,
    step_px: f64,
    mix: Mix,
    stride: usize,
) -> Bins {
    // An odd number, so that the middle bin lies on the centreline.
    let n = (2.0 * window.half_across_px / step_px).ceil() as usize | 1;
    let mut gathered = Bins { step_px, half_px: n as f64 * step_px / 2.0, bins: vec![Bin::default(); n] };
    let watch = around.anything_near(window);
    let half_along = window.half_along_px;
    let half_across = gathered.half_px;
    let normal = window.along.normal();
    let reach_y = half_along * window.along.y.abs() + half_across * normal.y.abs();
    let Some((top, bottom)) = whole_between(window.at.y - reach_y, window.at.y + reach_y, photo.height) else {
        return gathered;
    };
    let inverse_step = (1.0 / step_px) as f32;
    let half_bend = (0.5 * window.bend_per_px) as f32;
    let half_across = half_across as f32;
    for y in (top..=bottom).filter(|y| y % stride == 0) {
        let dy = y as f64 - window.at.y;
        // s = dx · along.x + dy · along.y and t = dx · normal.x + dy · normal.y must both stay in their ranges.
        let Some((low, high)) = slab(window.along.x, dy * window.along.y, half_along)
            .and_then(|a| slab(normal.x, dy * normal.y, gathered.half_px).map(|b| (a.0.max(b.0), a.1.min(b.1))))
        else {
            continue;
        };
        let Some((left, right)) = whole_between(window.at.x + low, window.at.x + high, photo.width) else {
            continue;
        };
        let left = left.next_multiple_of(stride);
        if left > right {
            continue;
        }
        let dx = left as f64 - window.at.x;
        let (s0, t0) = (dx * window.along.x + dy * window.along.y, dx * normal.x + dy * normal.y);
        let (s0, t0, s_step, t_step) = (s0 as f32, t0 as f32, window.along.x as f32, normal.x as f32);
        let bins = &mut gathered.bins[..];
        photo.for_row(y, left, right, stride, |x, light, clipped| {
            let further = (x - left) as f32;
            let s = s0 + s_step * further;
            let t = t0 + t_step * further - half_bend * s * s;
            let place = (t + half_across) * inverse_step;
            let Some(bin) = bins.get_mut(place as usize) else { return };
            if watch && around.is_foreign(x, y) {
                bin.add([0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0]);
            } else {
                let mixed = mix.of(light) - mix.offset;
                let clipped = f32::from(u8::from(clipped));
                bin.add([1.0, t, light[0], light[1], light[2], mixed * mixed, clipped, 0.0]);
            }
        });
    }
    gathered
}

/// dx for which |factor · dx + offset| ≤ half; half open, so that windows in a row share no pixel.
fn slab(factor: f64, offset: f64, half: f64) -> Option<(f64, f64)> {
    if factor.abs() < 1e-9 {
        return (offset >= -half && offset < half).then_some((f64::NEG_INFINITY, f64::INFINITY));
    }
    let (a, b) = ((-half - offset) / factor, (half - offset) / factor);
    Some((a.min(b), a.max(b) - 1e-9))
}

/// First and last whole number from `low` to `high` inside 0..size; `None` when there is none.
fn whole_between(low: f64, high: f64, size: usize) -> Option<(usize, usize)> {
    let (low, high) = (low.max(0.0).ceil(), high.min(size as f64 - 1.0).floor());
    (low <= high).then_some((low as usize, high as usize))
}
