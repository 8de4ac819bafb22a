//! Values at ordered places along a line: running median, and what is left beside a local straight line.
//!
//! Windows are given as a reach to both sides and are cut at the ends, so that reversing the line reverses the result.

/// Most samples a running median looks at; wider windows take every second, third, ... neighbour.
/// Bounds the time on densely sampled lines, where neighbours say nearly the same anyway; fewer would let noise
/// through, more only cost time.
const MEDIAN_SAMPLES: usize = 15;

/// For each place the median of the values within `reach` to both sides. `places` must rise.
pub fn running_median(places: &[f64], values: &[f64], reach: f64) -> Vec<f64> {
    let n = places.len().min(values.len());
    let mut smooth = Vec::with_capacity(n);
    let mut window = Vec::with_capacity(MEDIAN_SAMPLES + 2);
    let (mut from, mut to) = (0, 0);
    for i in 0..n {
        while places[i] - places[from] > reach {
            from += 1;
        }
        while to < n && places[to] - places[i] <= reach {
            to += 1;
        }
        let stride = (to - from).div_ceil(MEDIAN_SAMPLES).max(1);
        window.clear();
        window.push(values[i]);
        window.extend((1..).map(|k| k * stride).take_while(|&k| k <= i - from).map(|k| values[i - k]));
        window.extend((1..).map(|k| k * stride).take_while(|&k| i + k < to).map(|k| values[i + k]));
        window.sort_unstable_by(f64::total_cmp);
        let half = window.len() / 2;
        smooth.push(if window.len() % 2 == 1 { window[half] } else { 0.5 * (window[half - 1] + window[half]) });
    }
    smooth
}

/// For each place the value less the straight line fitted by least squares to the values within `reach` to both
/// sides; where fewer than three values lie in reach, less their mean. `places` must rise.
pub fn beside_local_line(places: &[f64], values: &[f64], reach: f64) -> Vec<f64> {
    let n = places.len().min(values.len());
    if n == 0 {
        return Vec::new();
    }
    // Sums from the left make every window's fit a handful of subtractions; measured from the middle, so that
    // squares stay small and nothing is lost to rounding.
    let middle = 0.5 * (places[0] + places[n - 1]);
    let mut sums = Vec::with_capacity(n + 1);
    let mut sum = [0.0f64; 4];
    sums.push(sum);
    for i in 0..n {
        let (x, y) = (places[i] - middle, values[i]);
        for (total, add) in sum.iter_mut().zip([x, x * x, y, x * y]) {
            *total += add;
        }
        sums.push(sum);
    }
    let (mut from, mut to) = (0, 0);
    (0..n)
        .map(|i| {
            while places[i] - places[from] > reach {
                from += 1;
            }
            while to < n && places[to] - places[i] <= reach {
                to += 1;
            }
            let count = (to - from) as f64;
            let part = |k: usize| sums[to][k] - sums[from][k];
            let (mean_x, mean_y) = (part(0) / count, part(2) / count);
            let xx = part(1) - count * mean_x * mean_x;
            let xy = part(3) - count * mean_x * mean_y;
            let slope = if to - from >= 3 && xx > 0.0 { xy / xx } else { 0.0 };
            values[i] - mean_y - slope * (places[i] - middle - mean_x)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::{beside_local_line, running_median};

    fn places(n: i32) -> Vec<f64> {
        (0..n).map(|i| 2.0 * f64::from(i)).collect()
    }

    #[test]
    fn a_running_median_drops_spikes_and_keeps_steps() {
        let s = places(12);
        let mut values = vec![1.0; 12];
        values[3] = 50.0;
        for value in &mut values[7..] {
            *value = 4.0;
        }
        let smooth = running_median(&s, &values, 4.0);
        assert_eq!(&smooth[..7], &[1.0; 7], "the spike is gone");
        assert_eq!(&smooth[7..], &[4.0; 5], "the step stays where it is");
    }

    #[test]
    fn wide_windows_are_thinned_evenly() {
        let s = places(400);
        let rising: Vec<f64> = (0..400).map(f64::from).collect();
        let smooth = running_median(&s, &rising, 80.0);
        assert!((100..300).all(|i| smooth[i] == rising[i]), "the middle of a ramp is its own median");
    }

    #[test]
    fn a_bent_line_leaves_nothing_where_it_is_straight() {
        let s = places(60);
        let bent: Vec<f64> = s.iter().map(|&s| if s < 60.0 { 3.0 * s } else { 180.0 - s }).collect();
        let rest = beside_local_line(&s, &bent, 10.0);
        assert!(rest[..20].iter().chain(&rest[40..]).all(|r| r.abs() < 1e-9));
        assert!(rest[30].abs() > 1.0, "the corner is left over");
    }

    #[test]
    fn what_is_left_equals_a_fit_by_hand() {
        // Five values in reach of the middle: mean 2, slope Σxy/Σxx = (−2·1 + −1·0 + 0 + 1·4 + 2·5)/10 = 1.2.
        let s = [0.0, 1.0, 2.0, 3.0, 4.0];
        let rest = beside_local_line(&s, &[1.0, 0.0, 0.0, 4.0, 5.0], 2.0);
        assert!((rest[2] - (0.0 - 2.0)).abs() < 1e-12);
        let rest = beside_local_line(&s, &[1.0, 0.0, 0.0, 4.0, 5.0], 9.0);
        assert!((rest[4] - (5.0 - 2.0 - 2.4)).abs() < 1e-12);
    }

    #[test]
    fn reversing_reverses() {
        let s = places(40);
        let values: Vec<f64> = (0..40).map(|i| f64::from((i * 7919) % 23)).collect();
        let back: Vec<f64> = values.iter().rev().copied().collect();
        for reach in [3.0, 9.0, 70.0] {
            let ahead = running_median(&s, &values, reach);
            let mut behind = running_median(&s, &back, reach);
            behind.reverse();
            assert_eq!(ahead, behind);
            let ahead = beside_local_line(&s, &values, reach);
            let behind = beside_local_line(&s, &back, reach);
            assert!(ahead.iter().zip(behind.iter().rev()).all(|(a, b)| (a - b).abs() < 1e-9));
        }
    }
}
