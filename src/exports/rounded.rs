//! Numbers as they are written down: no more digits than they are worth, and never anything but a number.

/// Decimals of a place in the photo: a hundredth of a pixel is finer than any centreline is known.
const PLACE_DECIMALS: i32 = 2;

/// Significant digits of every other measurement: five keep rounding below a tenth of the best uncertainty (0.1 %).
const DIGITS: i32 = 5;

/// Decimals of a probability.
const PROBABILITY_DECIMALS: i32 = 4;

/// A measurement with five significant digits; absent when it is not finite.
pub(super) fn measurement(value: f64) -> Option<f64> {
    if !value.is_finite() {
        return None;
    }
    if value == 0.0 {
        return Some(0.0);
    }
    Some(decimals(value, DIGITS - 1 - value.abs().log10().floor() as i32))
}

/// A coordinate or a distance along a shaft, pixels to a hundredth; absent when it is not finite.
pub(super) fn place(value: f64) -> Option<f64> {
    value.is_finite().then(|| decimals(value, PLACE_DECIMALS))
}

/// Probabilities to four decimals that still sum to 1: what rounding leaves over goes to the largest. Values that
/// are no probabilities at all become equal ones, which speak for nothing.
pub(super) fn probabilities(values: [f64; 4]) -> [f64; 4] {
    let values = values.map(|p| if p.is_finite() { p.max(0.0) } else { 0.0 });
    let sum: f64 = values.iter().sum();
    let values = if sum > 0.0 { values.map(|p| p / sum) } else { [0.25; 4] };
    let unit = 10_f64.powi(PROBABILITY_DECIMALS);
    let mut steps = values.map(|p| (p * unit).round() as i64);
    let largest = (0..4).max_by_key(|&i| (steps[i], -(i as i64))).unwrap_or(0);
    steps[largest] += unit as i64 - steps.iter().sum::<i64>();
    steps.map(|step| step as f64 / unit)
}

/// Through text, because the nearest double of a decimal is what the text of that decimal reads as.
fn decimals(value: f64, decimals: i32) -> f64 {
    if decimals >= 0 {
        // A tiny value needs no more than 300 places: below that doubles end.
        let text = format!("{value:.*}", decimals.min(300) as usize);
        text.parse::<f64>().unwrap_or(value) + 0.0
    } else {
        let unit = 10_f64.powi(-decimals);
        (value / unit).round() * unit
    }
}

#[cfg(test)]
mod tests {
    use super::{measurement, place, probabilities};

    #[test]
    fn digits_are_kept_where_they_count() {
        assert_eq!(measurement(123_456.7), Some(123_460.0));
        assert_eq!(measurement(12.345_678), Some(12.346));
        assert_eq!(measurement(-0.000_123_456_7), Some(-0.000_123_46));
        assert_eq!(measurement(0.0), Some(0.0));
        assert_eq!(place(12.005_001), Some(12.01));
        assert_eq!(place(-0.001).map(f64::is_sign_positive), Some(true), "no minus before zero");
    }

    #[test]
    fn what_is_no_number_is_absent() {
        for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!((measurement(bad), place(bad)), (None, None));
        }
    }

    #[test]
    fn the_ends_of_the_range_survive() {
        for value in [f64::MIN_POSITIVE, 5e-324, 1e300, -f64::MAX / 2.0] {
            let rounded = measurement(value).unwrap();
            assert!(rounded.is_finite() && ((rounded - value) / value).abs() < 1e-3 || value.abs() < 1e-300, "{value}");
        }
    }

    #[test]
    fn probabilities_sum_to_one() {
        let thirds = probabilities([1.0 / 3.0, 1.0 / 3.0, 1.0 / 3.0, 0.0]);
        assert_eq!(thirds, [0.3334, 0.3333, 0.3333, 0.0]);
        assert_eq!(probabilities([0.25; 4]), [0.25; 4]);
        assert_eq!(probabilities([f64::NAN; 4]), [0.25; 4], "nothing known speaks for nothing");
    }
}
