//! See-through pixels laid on black: no light comes from what is not there.

use super::Samples;
use super::colour::Managed;
use rayon::prelude::*;

/// Colour samples in the same memory, and the opacity of each pixel where it is not full everywhere.
///
/// Samples that are already multiplied by their opacity are already composited on black.
pub(super) fn without_opacity<T: Copy + PartialEq + Into<u16> + Sync>(
    mut samples: Vec<T>,
    channels: usize,
    premultiplied: bool,
    full: T,
) -> (Vec<T>, Option<Vec<u16>>) {
    if channels % 2 == 1 {
        return (samples, None);
    }
    let see_through = !premultiplied && samples.par_chunks_exact(channels).any(|pixel| pixel[channels - 1] != full);
    let opacity = see_through.then(|| samples.chunks_exact(channels).map(|pixel| pixel[channels - 1].into()).collect());
    let (n_px, colours) = (samples.len() / channels, channels - 1);
    for i in 0..n_px {
        samples.copy_within(i * channels..i * channels + colours, i * colours);
    }
    samples.truncate(n_px * colours);
    (samples, opacity)
}

/// Samples with their light scaled by the opacity of their pixel: what lies under a see-through pixel is black.
///
/// `opacity` has one entry a pixel, `full` standing for opaque. The nearest code value to the wanted light is taken.
pub(super) fn composite_on_black(managed: &mut Managed, channels: usize, opacity: &[u16], full: u16) {
    let Managed { samples, linear } = managed;
    let code_values = CodeValues::of(linear);
    match samples {
        Samples::Eight(v) => dim(v, channels, opacity, full, |value, share| {
            code_values.nearest(linear[usize::from(value)] * share) as u8
        }),
        Samples::Sixteen(v) => dim(v, channels, opacity, full, |value, share| {
            code_values.nearest(linear[usize::from(value)] * share) as u16
        }),
    }
}

fn dim<T: Copy + Send + Sync>(
    samples: &mut [T],
    channels: usize,
    opacity: &[u16],
    full: u16,
    dimmed: impl Fn(T, f32) -> T + Sync,
) {
    samples.par_chunks_mut(channels).zip(opacity).for_each(|(pixel, opacity)| {
        if *opacity < full {
            let share = f32::from(*opacity) / f32::from(full);
            pixel.iter_mut().for_each(|value| *value = dimmed(*value, share));
        }
    });
}

/// From light back to the nearest code value of a table.
struct CodeValues<'a> {
    linear: &'a [f32],
    /// For each of equal steps of light, the last code value darker than it.
    start: Vec<u32>,
}

impl CodeValues<'_> {
    /// As many steps as a deep file has values: a few comparisons then find the nearest, whatever the curve.
    const N_STEPS: usize = 65_536;

    fn of(linear: &[f32]) -> CodeValues<'_> {
        let start = (0..=Self::N_STEPS)
            .map(|step| linear.partition_point(|l| *l < step as f32 / Self::N_STEPS as f32).saturating_sub(1) as u32);
        CodeValues { linear, start: start.collect() }
    }

    fn nearest(&self, light: f32) -> usize {
        let mut value = self.start[(light.clamp(0.0, 1.0) * Self::N_STEPS as f32) as usize] as usize;
        while self.linear.get(value + 1).is_some_and(|next| next - light < light - self.linear[value]) {
            value += 1;
        }
        value
    }
}

#[cfg(test)]
mod tests {
    use super::{CodeValues, composite_on_black, without_opacity};
    use crate::image::Samples;
    use crate::image::colour::{Managed, srgb_table};

    #[test]
    fn opacity_is_taken_apart() {
        assert_eq!(without_opacity(vec![1u8, 2, 3, 255, 4, 5, 6, 255], 4, false, 255), (vec![1, 2, 3, 4, 5, 6], None));
        let (colours, opacity) = without_opacity(vec![1u8, 9, 2, 255], 2, false, 255);
        assert_eq!((colours, opacity), (vec![1, 2], Some(vec![9, 255])));
        assert_eq!(without_opacity(vec![1u8, 9, 2, 255], 2, true, 255), (vec![1, 2], None));
    }

    #[test]
    fn the_nearest_code_value_is_the_obvious_one() {
        let twelve_bits = (0..65_536).map(|v| (v as f32 / 4095.0).min(1.0)).collect();
        let tables: [Vec<f32>; 3] = [srgb_table(256), srgb_table(65_536), twelve_bits];
        for linear in tables {
            let code_values = CodeValues::of(&linear);
            for step in 0..=300 {
                let light = (step as f32 / 300.0).powi(3);
                let found = (linear[code_values.nearest(light)] - light).abs();
                let best = linear.iter().map(|l| (l - light).abs()).fold(f32::MAX, f32::min);
                assert_eq!(found, best, "{light} of {} values", linear.len());
            }
        }
    }

    #[test]
    fn a_see_through_pixel_keeps_its_share_of_light() {
        let samples = Samples::Eight(vec![255, 188, 10, 255, 188, 10]);
        let mut managed = Managed { samples, linear: srgb_table(256) };
        composite_on_black(&mut managed, 3, &[32_767, 65_535], 65_535);
        let Samples::Eight(v) = managed.samples else { panic!("the depth stays") };
        // Half the light of white is code value 187.5; the second pixel is opaque.
        assert_eq!(v[3..], [255, 188, 10]);
        assert!([187, 188].contains(&v[0]) && v[1] < 188 && v[2] == 5, "{v:?}");
    }
}
