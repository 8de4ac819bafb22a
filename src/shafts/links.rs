//! Which arm goes on in which: the cost of a continuation, and the cheapest set of continuations.
//!
//! A shaft goes on in its direction and bend, with its width and colour. For the arms that meet in one knot all
//! pairings are weighed together, since the cheapest pair alone may force a senseless one on the rest.

use super::arms::Arm;

/// Turn that counts as one unit of cost, radians, beside the arms' own uncertainty: hairs bend little over the
/// width of another hair.
const TURN_SD: f64 = 0.16;
/// Ratio of widths (natural logarithm) that counts as one unit.
const WIDTH_SD: f64 = 0.35;
/// Angle between colours in channel space that counts as one unit, radians.
const COLOUR_SD: f64 = 0.3;
/// Ratio of brightness (natural logarithm) that counts as one unit; a shaft may begin to fluoresce at a crossing.
const LEVEL_SD: f64 = 1.4;
/// The most that colour and brightness together may cost: they speak loudly, they do not forbid.
pub(super) const COLOUR_CAP: f64 = 14.0;
/// The same where nothing competes: a hair that fluoresces at its base only changes colour all at once.
pub(super) const ALONE_CAP: f64 = 3.0;
/// And so may a sheath or a bulb end all at once and leave a hair of half its width or less.
const ALONE_WIDTH_CAP: f64 = 3.0;
/// Dearest joint of two arms that nothing competes for: a corner between two shafts costs more.
const ALONE_COST: f64 = 8.0;
/// Cost of an arm that ends: two of them are dearer than a doubtful pair, cheaper than a wrong one.
pub(super) const END_COST: f64 = 6.0;
/// Arms up to which all pairings are weighed; above, the cheapest pairs go first.
const EXHAUSTIVE_ARMS: usize = 10;

/// How badly `b` continues `a`, in squared units of surprise. Colour and brightness cost at most `colour_cap`:
/// [`COLOUR_CAP`] where arms compete, [`ALONE_CAP`] where there is but one way on.
pub(super) fn cost(a: &Arm, b: &Arm, colour_cap: f64) -> f64 {
    let gap = b.at - a.at;
    let distance = gap.length();
    let uncertainty = (TURN_SD * TURN_SD + a.direction_sd.powi(2) + b.direction_sd.powi(2)).sqrt();
    let width = 0.5 * (a.width_px + b.width_px);
    // Direction of the gap: worth little when the places are nearer than they are certain.
    let place_sd = 0.6 + 0.08 * width;
    let angle = |u: crate::maths::point::Vec2, v: crate::maths::point::Vec2| u.cross(v).atan2(u.dot(v));
    // Each arm is expected to bend on over half the gap.
    let turn_a = angle(a.towards, gap) - (0.5 * a.bend * distance).clamp(-0.3, 0.3);
    let turn_b = angle(-b.towards, gap) - (0.5 * b.bend * distance).clamp(-0.3, 0.3);
    let gap_sd = (uncertainty.powi(2) + (place_sd / distance.max(0.5)).powi(2)).sqrt();
    let whole = angle(a.towards, -b.towards) - (0.5 * (a.bend - b.bend) * distance).clamp(-0.4, 0.4);
    let turns = (turn_a / gap_sd).powi(2) + (turn_b / gap_sd).powi(2);
    let turned = (whole / (1.6 * uncertainty)).powi(2);
    // Walking backwards is no continuation, however near.
    let backwards = if gap.dot(a.towards) < -place_sd - 0.2 * width || gap.dot(b.towards) > place_sd + 0.2 * width {
        8.0
    } else {
        0.0
    };
    let widths = ((a.width_px / b.width_px).ln() / WIDTH_SD).powi(2);
    let widths = if colour_cap <= ALONE_CAP { widths.min(ALONE_WIDTH_CAP) } else { widths };
    0.5 * turns.min(60.0) + turned + backwards + widths + colour_cost(a, b).min(colour_cap)
}

fn colour_cost(a: &Arm, b: &Arm) -> f64 {
    let size = |v: &[f64; 3]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
    let (la, lb) = (size(&a.colour), size(&b.colour));
    if la < 2.0 || lb < 2.0 {
        return 0.0;
    }
    let dot: f64 = a.colour.iter().zip(&b.colour).map(|(x, y)| x * y).sum();
    let angle = (dot / (la * lb)).clamp(-1.0, 1.0).acos();
    // Near the noise a colour is uncertain by about 1 / brightness.
    let sd = (COLOUR_SD.powi(2) + (1.0 / la).powi(2) + (1.0 / lb).powi(2)).sqrt();
    (angle / sd).powi(2) + ((la / lb).ln() / LEVEL_SD).powi(2)
}

/// The pairs of `arms` that go on in each other at the least total cost, where an arm left over costs [`END_COST`].
/// `allowed` says which pairs may be at all.
pub(super) fn pairs(arms: &[Arm], allowed: impl Fn(usize, usize) -> bool) -> Vec<(usize, usize)> {
    let n = arms.len();
    if n == 2 {
        let joined = allowed(0, 1) && cost(&arms[0], &arms[1], ALONE_CAP) < ALONE_COST;
        return if joined { vec![(0, 1)] } else { Vec::new() };
    }
    let mut costs = vec![f64::INFINITY; n * n];
    for i in 0..n {
        for j in i + 1..n {
            if allowed(i, j) {
                let value = cost(&arms[i], &arms[j], COLOUR_CAP);
                costs[i * n + j] = value;
                costs[j * n + i] = value;
            }
        }
    }
    if n > EXHAUSTIVE_ARMS {
        return cheapest_first(&costs, n);
    }
    let mut best = (f64::INFINITY, Vec::new());
    let mut chosen = Vec::new();
    search(0, &mut vec![false; n], 0.0, &costs, n, &mut chosen, &mut best);
    best.1
}

fn search(
    from: usize,
    used: &mut Vec<bool>,
    so_far: f64,
    costs: &[f64],
    n: usize,
    chosen: &mut Vec<(usize, usize)>,
    best: &mut (f64, Vec<(usize, usize)>),
) {
    if so_far >= best.0 {
        return;
    }
    let Some(i) = (from..n).find(|&i| !used[i]) else {
        *best = (so_far, chosen.clone());
        return;
    };
    used[i] = true;
    for j in i + 1..n {
        if !used[j] && costs[i * n + j] < 2.0 * END_COST {
            used[j] = true;
            chosen.push((i, j));
            search(i + 1, used, so_far + costs[i * n + j], costs, n, chosen, best);
            chosen.pop();
            used[j] = false;
        }
    }
    search(i + 1, used, so_far + END_COST, costs, n, chosen, best);
    used[i] = false;
}

fn cheapest_first(costs: &[f64], n: usize) -> Vec<(usize, usize)> {
    let mut all: Vec<(f64, usize, usize)> = (0..n)
        .flat_map(|i| (i + 1..n).map(move |j| (i, j)))
        .map(|(i, j)| (costs[i * n + j], i, j))
        .filter(|c| c.0 < 2.0 * END_COST)
        .collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let mut used = vec![false; n];
    let mut out = Vec::new();
    for (_, i, j) in all {
        if !used[i] && !used[j] {
            used[i] = true;
            used[j] = true;
            out.push((i, j));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{Arm, pairs};
    use crate::maths::point::{Point, Vec2};

    fn arm(degrees: f64, width_px: f64) -> Arm {
        // An arm that lies at this angle seen from the crossing and points at it.
        let out = Vec2::from_angle(degrees.to_radians());
        Arm {
            strand: 0,
            end: 0,
            skip: 0,
            at: Point::new(0.0, 0.0) + out * 12.0,
            towards: -out,
            direction_sd: 0.1,
            bend: 0.0,
            width_px,
            colour: [0.0, 20.0, 20.0],
        }
    }

    #[test]
    fn three_shafts_through_one_knot() {
        let arms: Vec<Arm> = [0.0, 62.0, 118.0, 180.0, 240.0, 300.0].map(|a| arm(a, 8.0)).to_vec();
        let mut found = pairs(&arms, |_, _| true);
        found.sort_unstable();
        assert_eq!(found, [(0, 3), (1, 4), (2, 5)]);
    }

    #[test]
    fn a_shaft_that_ends_on_another_goes_on_in_none() {
        let arms: Vec<Arm> = [0.0, 180.0, 90.0].map(|a| arm(a, 8.0)).to_vec();
        assert_eq!(pairs(&arms, |_, _| true), [(0, 1)]);
    }

    #[test]
    fn width_decides_where_directions_do_not() {
        let mut arms: Vec<Arm> = [0.0, 170.0, 190.0].map(|a| arm(a, 8.0)).to_vec();
        arms[1].width_px = 24.0;
        assert_eq!(pairs(&arms, |_, _| true), [(0, 2)]);
    }
}
