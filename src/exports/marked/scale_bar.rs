//! The length and the caption of a scale bar.

use crate::units::Scale;

/// A bar takes at most this share of the sheet's width: longer crowds the legend, shorter is hard to lay a ruler to.
const MAX_SHARE: f64 = 0.25;

/// A bar of a round length.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct ScaleBar {
    /// Its length on the photo, pixels.
    pub(super) length_px: f64,
    /// Its length in words.
    pub(super) caption: String,
}

/// The longest bar of 1, 2 or 5 times a power of ten micrometres that takes no more than a quarter of the width, which is
/// given in pixels of the photo; absent when the scale is beyond any number with a name.
pub(super) fn scale_bar(scale: Scale, width_px: f64) -> Option<ScaleBar> {
    let longest_um = MAX_SHARE * scale.um_from_px(width_px);
    let decade = 10_f64.powf(longest_um.log10().floor());
    let length_um =
        [5.0, 2.0, 1.0].map(|step| step * decade).into_iter().find(|um| *um <= longest_um * (1.0 + 1e-9))?;
    let caption = if length_um >= 999.5 { caption(length_um / 1000.0, "mm") } else { caption(length_um, "µm") };
    let length_px = scale.px_from_um(length_um);
    (length_px.is_finite() && length_px > 0.0).then_some(ScaleBar { length_px, caption })
}

fn caption(value: f64, unit: &str) -> String {
    // Powers of ten below 1 carry rounding dust; three significant digits show none of it.
    let decimals = (-value.log10().floor()).clamp(0.0, 12.0) as usize;
    format!("{value:.decimals$} {unit}")
}

#[cfg(test)]
mod tests {
    use super::scale_bar;
    use crate::units::{Scale, ScaleSource};

    fn bar(um_per_px: f64, width: f64) -> (f64, String) {
        let bar = scale_bar(Scale { um_per_px, sd_um_per_px: None, source: ScaleSource::Given }, width).unwrap();
        (bar.length_px, bar.caption)
    }

    #[test]
    fn lengths_are_round_and_fit_a_quarter() {
        // 4000 px · 0.42 µm = 1680 µm; a quarter is 420 µm; the longest round length is 200 µm.
        let (px, caption) = bar(0.42, 4000.0);
        assert_eq!(caption, "200 µm");
        assert!((px - 200.0 / 0.42).abs() < 1e-9);
        assert_eq!(bar(1.0, 4000.0).1, "1 mm", "a quarter to the micrometre counts");
        assert_eq!(bar(0.25, 64.0).1, "2 µm");
        assert_eq!(bar(0.01, 64.0).1, "0.1 µm");
        assert_eq!(bar(3.0, 6000.0).1, "2 mm");
    }

    #[test]
    fn every_bar_takes_between_a_tenth_and_a_quarter() {
        for i in 1..400 {
            let (px, caption) = bar(0.013 * f64::from(i), 3000.0);
            assert!((300.0..=750.1).contains(&px), "{caption} is {px} px");
        }
    }
}
