//! A quantity along a shaft, drawn: dots at the stations, a line between neighbours, a gap where nothing was measured.

use super::blocks::{Anchor, Drawing, FAINT, INK, Ink, RULE, Stroke};
use crate::maths::point::Point;

/// Size of the words, points.
const WORDS: f64 = 7.0;
/// Room for the axes' numbers: left of the field, and under it.
const LEFT: f64 = 30.0;
const BELOW: f64 = 11.0;
/// Room for the chart's name over the field, and for half a number at its right.
const ABOVE: f64 = 12.0;
const RIGHT: f64 = 8.0;
/// Half the side of a dot.
const DOT: f64 = 0.8;
/// About so many marks along an axis.
const MARKS: f64 = 4.0;

/// A value at a place along the shaft, with one standard uncertainty where it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sample {
    pub(super) at: f64,
    pub(super) value: Option<f64>,
    pub(super) sd: Option<f64>,
}

/// How a chart is labelled.
pub(super) struct Labels<'a> {
    pub(super) name: &'a str,
    pub(super) along: &'a str,
    /// What stands between the whole and the tenths.
    pub(super) decimal: &'a str,
    /// The value of ordinary comparison shafts, drawn as a dashed line.
    pub(super) reference: Option<f64>,
}

/// The chart of samples along a shaft of `length` on a field of `width` × `height` points.
pub(super) fn chart(samples: &[Sample], length: f64, ink: Ink, labels: &Labels, width: f64, height: f64) -> Drawing {
    let values = || samples.iter().filter_map(|sample| sample.value);
    let top = values().chain(labels.reference).fold(0.0, f64::max);
    let bottom = values().fold(0.0, f64::min);
    let step = round_step((top - bottom).max(1e-9) / MARKS);
    let (low, high) = ((bottom / step).floor() * step, ((top / step).ceil() * step).max(step));
    let (left, right, up, down) = (LEFT, width - RIGHT, ABOVE, height - BELOW);
    let x = |at: f64| left + (right - left) * (at / length.max(1e-9)).clamp(0.0, 1.0);
    let y = |value: f64| down - (down - up) * (value - low) / (high - low);
    let mut strokes = Vec::new();
    let mut line = |points: Vec<Point>, ink: Ink, width: f64, dash: Vec<f64>| {
        strokes.push(Stroke::Line { points, ink, width, dash });
    };

    let marks: Vec<f64> = (0..=((high - low) / step).round() as usize).map(|i| low + i as f64 * step).collect();
    for &mark in &marks {
        line(vec![Point::new(left, y(mark)), Point::new(right, y(mark))], RULE, 0.4, Vec::new());
    }
    line(vec![Point::new(left, up), Point::new(left, down), Point::new(right, down)], FAINT, 0.6, Vec::new());
    if let Some(reference) = labels.reference {
        line(vec![Point::new(left, y(reference)), Point::new(right, y(reference))], INK, 0.7, vec![3.0, 2.0]);
    }
    // One standard uncertainty to both sides.
    for sample in samples {
        if let (Some(value), Some(sd)) = (sample.value, sample.sd) {
            let [from, to] = [value - sd, value + sd].map(|v| y(v.clamp(low, high)));
            line(vec![Point::new(x(sample.at), from), Point::new(x(sample.at), to)], [170, 170, 170], 0.5, Vec::new());
        }
    }
    for part in samples.split(|sample| sample.value.is_none()) {
        let points: Vec<Point> = part.iter().filter_map(|s| Some(Point::new(x(s.at), y(s.value?)))).collect();
        if points.len() > 1 {
            line(points, ink, 0.9, Vec::new());
        }
    }
    for (at, value) in samples.iter().filter_map(|s| Some((s.at, s.value?))) {
        let (x, y) = (x(at), y(value));
        let corners = [(-DOT, -DOT), (DOT, -DOT), (DOT, DOT), (-DOT, DOT)];
        strokes.push(Stroke::Area { points: corners.map(|(dx, dy)| Point::new(x + dx, y + dy)).to_vec(), ink });
    }

    let mut words = |at: Point, words: String, ink: Ink, anchor: Anchor| {
        strokes.push(Stroke::Words { at, words, size: WORDS, ink, anchor });
    };
    words(Point::new(0.0, WORDS), labels.name.to_owned(), INK, Anchor::Start);
    for &mark in &marks {
        words(Point::new(left - 3.0, y(mark) + 0.35 * WORDS), number(mark, step, labels), FAINT, Anchor::End);
    }
    let step = round_step(length.max(1e-9) / MARKS);
    let n_marks = (length / step).floor() as usize;
    for i in 0..=n_marks {
        let at = i as f64 * step;
        words(Point::new(x(at), down + WORDS + 2.0), number(at, step, labels), FAINT, Anchor::Middle);
    }
    words(Point::new(right, WORDS), labels.along.to_owned(), FAINT, Anchor::End);
    Drawing { width, height, strokes }
}

/// The least 1, 2 or 5 times a power of ten that is no less.
fn round_step(least: f64) -> f64 {
    let decade = 10_f64.powf(least.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|step| step * decade);
    steps.into_iter().find(|step| *step >= least * (1.0 - 1e-9)).unwrap_or(decade * 10.0)
}

/// A mark's number with the decimals that its step needs.
fn number(value: f64, step: f64, labels: &Labels) -> String {
    let decimals = (-step.log10().floor()).clamp(0.0, 6.0) as usize;
    // Rounding dust must not show as a minus before zero.
    let value = if value.abs() < step * 1e-6 { 0.0 } else { value };
    format!("{value:.decimals$}").replace('.', labels.decimal)
}

#[cfg(test)]
mod tests {
    use super::{Labels, Sample, Stroke, chart, round_step};

    const LABELS: Labels = Labels { name: "Width", along: "along", decimal: ".", reference: None };

    fn samples(values: &[Option<f64>]) -> Vec<Sample> {
        values.iter().enumerate().map(|(i, &value)| Sample { at: i as f64, value, sd: Some(0.1) }).collect()
    }

    #[test]
    fn steps_are_round() {
        assert_eq!(round_step(0.7), 1.0);
        assert_eq!(round_step(13.0), 20.0);
        assert_eq!(round_step(0.02), 0.02);
        assert!((round_step(0.03) - 0.05).abs() < 1e-12);
    }

    #[test]
    fn nothing_leaves_the_field_and_gaps_stay_gaps() {
        let drawn = chart(
            &samples(&[Some(3.0), Some(4.0), None, Some(-1.0), Some(2.0), None, Some(9.0)]),
            6.0,
            [0, 0, 0],
            &LABELS,
            200.0,
            70.0,
        );
        let mut n_lines = 0;
        for stroke in &drawn.strokes {
            let points = match stroke {
                Stroke::Line { points, width, .. } => {
                    n_lines += usize::from(*width == 0.9);
                    points.clone()
                }
                Stroke::Area { points, .. } => points.clone(),
                Stroke::Words { at, .. } => vec![*at],
            };
            let inside = |p: &crate::maths::point::Point| (0.0..=200.0).contains(&p.x) && (0.0..=70.0).contains(&p.y);
            assert!(points.iter().all(inside), "{stroke:?}");
        }
        assert_eq!(n_lines, 2, "two stretches of two stations; the lone one is a dot");
    }

    #[test]
    fn no_samples_are_an_empty_field() {
        let drawn = chart(&samples(&[None, None]), 0.0, [0, 0, 0], &LABELS, 200.0, 70.0);
        let finite_point = |p: &crate::maths::point::Point| p.x.is_finite() && p.y.is_finite();
        let finite = |stroke: &Stroke| match stroke {
            Stroke::Line { points, .. } | Stroke::Area { points, .. } => points.iter().all(finite_point),
            Stroke::Words { at, .. } => finite_point(at),
        };
        assert!(drawn.strokes.iter().all(finite));
    }
}
