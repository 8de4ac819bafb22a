//! Course of the shaft: length, straightness, bending, waviness, all in its own widths.
//!
//! Broken, curved, short hairs of even thickness ("comma-like") were seen in infected cats by dermoscopy (Vet.
//! Dermatol., 12 + 12 cats, abstract); down hair is crimped. Weakness: pressing hairs on tape bends them too.

use crate::maths::polyline::Polyline;
use crate::maths::robust;

use super::catalogue::Entry;
use super::ends::End;

/// Distance between the places where the direction is read, in widths. Shorter steps read the outline's bumps as
/// bends, longer ones iron out crimp.
const DIRECTION_STEP: f64 = 1.5;

/// Fewest steps of direction for a bend or a wave.
const LEAST_STEPS: usize = 4;

/// Most steps of direction; longer shafts are read in longer steps, which bounds the time.
const MOST_STEPS: usize = 400;

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "shape.length_to_width",
        unit: "widths",
        range: [0.0, f64::INFINITY],
        meaning: "Length of the shaft in widths.",
        absent: "The width is unknown, or an end leaves the photo or cannot be followed.",
        disturbed_by: "Traces that end early or run together.",
        votes: true,
        measure: |s| length_to_width(s.signals.length_px(), s.signals.width_px()?, s.signals.ends),
    },
    Entry {
        key: "shape.straightness",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Straight distance between the ends in view divided by the length along the shaft.",
        absent: "Never.",
        disturbed_by: "How much of the shaft is in view.",
        votes: true,
        measure: |s| Some(straightness(s.signals.centreline)),
    },
    Entry {
        key: "shape.curvature",
        unit: "rad/width",
        range: [0.0, f64::INFINITY],
        meaning: "Median bending of the course: turn in radians along a stretch of one width, without sign.",
        absent: "The width is unknown or the shaft is shorter than six widths.",
        disturbed_by: "How the hair was pressed on the tape; a wavering centreline.",
        votes: true,
        measure: |s| curvature(s.signals.centreline, s.signals.width_px()?),
    },
    Entry {
        key: "shape.wave",
        unit: "rad",
        range: [0.0, f64::INFINITY],
        meaning: "Root mean square of the course's direction beside a steady turn: crimp and kinks; 0 for a straight line or an arc.",
        absent: "As shape.curvature.",
        disturbed_by: "As shape.curvature; wrongly joined traces.",
        votes: true,
        measure: |s| wave(s.signals.centreline, s.signals.width_px()?),
    },
];

/// Length in widths, where both ends are in view.
pub(super) fn length_to_width(length_px: f64, width_px: f64, ends: [End; 2]) -> Option<f64> {
    (ends.iter().all(|end| end.is_in_view()) && width_px > 0.0).then(|| length_px / width_px)
}

/// Straight distance between the ends divided by the length, 0 to 1.
pub(super) fn straightness(course: &Polyline) -> f64 {
    (course.first().distance(course.last()) / course.length()).clamp(0.0, 1.0)
}

/// Median turn along one width, radians, without sign.
pub(super) fn curvature(course: &Polyline, width_px: f64) -> Option<f64> {
    let (directions, step_px) = directions(course, width_px)?;
    let turns: Vec<f64> = directions.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    Some(robust::median(&turns)? * width_px / step_px)
}

/// Root mean square of the direction beside its straight trend, radians.
pub(super) fn wave(course: &Polyline, width_px: f64) -> Option<f64> {
    let (directions, _) = directions(course, width_px)?;
    let n = directions.len() as f64;
    let middle = 0.5 * (n - 1.0);
    let mean = directions.iter().sum::<f64>() / n;
    let (mut xx, mut xy) = (0.0, 0.0);
    for (i, direction) in directions.iter().enumerate() {
        let x = i as f64 - middle;
        xx += x * x;
        xy += x * (direction - mean);
    }
    let slope = xy / xx;
    let rest =
        directions.iter().enumerate().map(|(i, d)| (d - mean - slope * (i as f64 - middle)).powi(2)).sum::<f64>();
    Some((rest / n).sqrt())
}

/// Direction of equal steps along the course, radians, without jumps of a full turn; and the step, pixels.
fn directions(course: &Polyline, width_px: f64) -> Option<(Vec<f64>, f64)> {
    let length = course.length();
    let n_steps = (length / (DIRECTION_STEP * width_px).max(length / MOST_STEPS as f64)).floor() as usize;
    if n_steps < LEAST_STEPS {
        return None;
    }
    let step_px = length / n_steps as f64;
    let mut directions: Vec<f64> = Vec::with_capacity(n_steps);
    for i in 0..n_steps {
        let along = course.at((i + 1) as f64 * step_px) - course.at(i as f64 * step_px);
        let mut angle = along.angle();
        if let Some(before) = directions.last() {
            angle -= ((angle - before) / std::f64::consts::TAU).round() * std::f64::consts::TAU;
        }
        directions.push(angle);
    }
    Some((directions, step_px))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::maths::point::Point;

    fn course(n: usize, at: impl Fn(f64) -> (f64, f64)) -> Polyline {
        Polyline::new((0..n).map(|i| at(i as f64)).map(|(x, y)| Point::new(x, y))).unwrap()
    }

    #[test]
    fn a_circle_turns_by_its_curvature_and_does_not_wave() {
        let circle = course(2000, |i| (500.0 * (i / 400.0).cos(), 500.0 * (i / 400.0).sin()));
        assert!((curvature(&circle, 20.0).unwrap() - 20.0 / 500.0).abs() < 1e-4);
        assert!(wave(&circle, 20.0).unwrap() < 1e-3, "also where the angle passes a full turn");
        // Chord of an arc of 1999/400 radians: 2 r sin(half) over r times the arc.
        let arc = 1999.0 / 400.0;
        assert!((straightness(&circle) - 2.0 * (arc / 2.0f64).sin() / arc).abs() < 1e-4);
    }

    #[test]
    fn a_straight_line_neither_turns_nor_waves() {
        let line = course(2, |i| (300.0 * i, 400.0 * i));
        assert_eq!(straightness(&line), 1.0);
        assert!(curvature(&line, 10.0).unwrap() < 1e-12 && wave(&line, 10.0).unwrap() < 1e-12);
        assert_eq!(curvature(&line, 100.0), None, "five widths are too short");
    }

    #[test]
    fn crimp_waves() {
        // y = 10 sin(x/50): the slope has amplitude 0.2, the direction's root mean square is 0.2/√2 but for the arctangent.
        let crimped = course(4000, |i| (i * 0.5, 10.0 * (i * 0.01).sin()));
        assert!((wave(&crimped, 10.0).unwrap() - 0.2 / 2f64.sqrt()).abs() < 0.01);
    }

    #[test]
    fn length_needs_both_ends() {
        assert_eq!(length_to_width(500.0, 20.0, [End::Root, End::Broken]), Some(25.0));
        assert_eq!(length_to_width(500.0, 20.0, [End::Root, End::Outside]), None);
        assert_eq!(length_to_width(500.0, 20.0, [End::Unknown, End::Cut]), None);
    }
}
