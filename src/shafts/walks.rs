//! A shaft followed by its two edges from a stretch where it lies alone, through whatever lies on it, to where it is
//! seen last.
//!
//! Many leads are followed at once, each a step at a time, and those of which the edges speak best are kept: beam
//! search (Lowerre, The HARPY Speech Recognition System, Carnegie-Mellon University, 1976; from memory that it is the
//! first). What is right at a crossing shows only behind it. A step costs by how it bends and changes its bend, gains
//! by how like the edges are to the shaft's own, costs little where another shaft hides it and much on open ground.

use super::edges::{Edges, Pose, Sides, likeness, one_like};
use crate::maths::point::{Point, Vec2};
use crate::maths::raster::Raster;

/// Length of a step, widths.
const STEP_WIDTHS: f64 = 0.33;
/// Shortest step, pixels.
const LEAST_STEP_PX: f64 = 2.0;
/// From step to step the turn may change by so many times this angle, radians.
const TURN: f64 = 0.035;
/// Most such changes in one step.
const TURNS: i32 = 2;
/// Cost of a change of turn, counted in squares of [`TURN`].
const TURN_COST: f64 = 0.2;
/// Sharpest turn in a step, radians: a hair bends no sharper than over two widths or so.
const MOST_TURN: f64 = 0.15;
/// Cost of the sharpest turn; of others as their squares.
const BEND_COST: f64 = 0.8;
/// Widths that steps try beside their own, each the next one, and what another one costs: hairs taper.
const WIDTHS: [f64; 3] = [0.88, 0.95, 1.05];
/// See [`WIDTHS`].
const WIDTH_COST: f64 = 0.03;
/// Share of the way to the width tried that a step goes.
const WIDTH_FOLLOWS: f64 = 0.4;
/// Likeness from which both edges count as seen, share of what is typical of the shaft.
const SEEN_SHARE: f64 = 0.35;
/// A shaft of grains is like itself only in part; less than this is taken for this.
const LEAST_TYPICAL: f64 = 0.6;
/// Share of the typical likeness at which a step gains nothing.
const NO_GAIN: f64 = 0.3;
/// What a step over open ground without edges costs.
const OPEN_COST: f64 = 0.7;
/// What a step costs where something lies on the shaft.
const HIDDEN_COST: f64 = 0.04;
/// A lead is given up when it has lost this much since it was best.
const GIVE_UP: f64 = 4.5;
/// Leads followed at once.
const BEAM: usize = 24;
/// And where the best sees its edges and nothing else stands out beside it.
const BEAM_ALONE: usize = 6;
/// How far to both sides it is looked for, widths of the shaft and pixels; and how far ahead, widths.
const CLEAR: (f64, f64) = (1.2, 2.0);
/// See [`CLEAR`].
const CLEAR_AHEAD: [f64; 6] = [-0.5, 0.0, 0.5, 1.0, 1.5, 2.0];
/// Leads nearer than this share of the width, and this angle (radians), count as one when kept, and when looked at.
const ONE: (f64, f64) = (0.1, 0.07);
/// See [`ONE`].
const ONE_LOOK: (f64, f64) = (0.05, 0.04);
/// Share by which the expected edges follow what is seen: glow changes along a hair.
const EDGES_FOLLOW: f64 = 0.08;
/// Most steps: far beyond any hair in view.
const MOST_STEPS: usize = 3000;

/// What is looked at.
pub(super) struct Sight<'a> {
    pub(super) edges: &'a Edges,
    /// What stands out of the ground.
    pub(super) mask: &'a Raster<bool>,
    /// The field.
    pub(super) inside: &'a Raster<bool>,
}

/// Where a walk begins.
#[derive(Clone, Copy, Debug)]
pub(super) struct Start {
    pub(super) pose: Pose,
    /// The shaft's edges where it lies alone.
    pub(super) edges: Sides,
    /// How like its edges are to these there, up to 1.
    pub(super) typical: f64,
    /// Turn per pixel, radians.
    pub(super) bend: f64,
}

/// One place of a followed course.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub(super) pose: Pose,
    /// How like the edges are to what is expected there, −1 to 1.
    pub(super) like: f64,
}

/// Length of a walk's steps for a shaft of this width, pixels.
pub(super) fn step_px(width_px: f64) -> f64 {
    (STEP_WIDTHS * width_px).max(LEAST_STEP_PX)
}

/// One of the courses followed at once.
#[derive(Clone, Copy)]
struct Lead {
    /// Its last place in the list of all places.
    place: usize,
    at: Point,
    angle: f64,
    turn: f64,
    width_px: f64,
    expected: Sides,
    typical: f64,
    score: f64,
    /// The best score on the way.
    best: f64,
}

/// The places from a start to where the shaft is seen last, the start left out.
pub(super) fn walk(start: &Start, sight: &Sight) -> Vec<Step> {
    let step = step_px(start.pose.width_px);
    let mut places: Vec<(Option<usize>, Step)> = vec![(None, Step { pose: start.pose, like: 1.0 })];
    let mut beam = vec![Lead {
        place: 0,
        at: start.pose.at,
        angle: start.pose.along.angle(),
        turn: (start.bend * step).clamp(-MOST_TURN, MOST_TURN),
        width_px: start.pose.width_px,
        expected: start.edges,
        typical: start.typical,
        score: 0.0,
        best: 0.0,
    }];
    let mut winner = (0.0, 0);
    for number in 0..MOST_STEPS {
        let next: Vec<(Lead, f64, Sides)> =
            tried(&beam, step, sight).into_iter().map(|lead| lead.judged(step, sight)).collect();
        let order = best_first(next.len(), |k| next[k].0.score);
        beam.clear();
        let best = order.first().map(|&k| &next[k]);
        let is_alone = best.is_some_and(|(lead, like, _)| lead.sees(*like) && lead.is_alone(sight.mask));
        let most = if is_alone { BEAM_ALONE } else { BEAM };
        for k in order {
            let (mut lead, like, seen) = next[k];
            if lead.score < lead.best - GIVE_UP || beam.iter().any(|other| lead.is_as(other, ONE)) {
                continue;
            }
            lead.adapt(like, &seen, WIDTHS[number % WIDTHS.len()], step, sight);
            places.push((Some(lead.place), Step { pose: lead.pose(1.0), like }));
            lead.place = places.len() - 1;
            if lead.score > lead.best {
                lead.best = lead.score;
                if lead.best > winner.0 {
                    winner = (lead.best, lead.place);
                }
            }
            beam.push(lead);
            if beam.len() == most {
                break;
            }
        }
        if beam.is_empty() {
            break;
        }
    }
    let mut steps = Vec::new();
    let mut place = winner.1;
    while let (Some(before), step) = places[place] {
        steps.push(step);
        place = before;
    }
    steps.reverse();
    steps
}

/// All next steps of all leads; of those that come to one place the best so far stands for all.
fn tried(beam: &[Lead], step: f64, sight: &Sight) -> Vec<Lead> {
    let all: Vec<Lead> = beam
        .iter()
        .flat_map(|lead| (-TURNS..=TURNS).filter_map(move |change| lead.stepped(change, step, sight)))
        .collect();
    let mut distinct: Vec<Lead> = Vec::with_capacity(all.len());
    for k in best_first(all.len(), |k| all[k].score) {
        if !distinct.iter().any(|other| all[k].is_as(other, ONE_LOOK)) {
            distinct.push(all[k]);
        }
    }
    distinct
}

/// The numbers of `n` things, the highest score first, of equal ones the first: leads are large to move.
fn best_first(n: usize, score: impl Fn(usize) -> f64) -> Vec<usize> {
    let mut order: Vec<(f64, usize)> = (0..n).map(|k| (score(k), k)).collect();
    order.sort_unstable_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    order.into_iter().map(|(_, k)| k).collect()
}

impl Lead {
    fn pose(&self, factor: f64) -> Pose {
        Pose { at: self.at, along: Vec2::from_angle(self.angle), width_px: self.width_px * factor }
    }

    fn is_as(&self, other: &Lead, (widths, angle): (f64, f64)) -> bool {
        (self.angle - other.angle).abs() < angle
            && (self.turn - other.turn).abs() < 1.5 * TURN
            && self.at.distance(other.at) < widths * self.width_px
    }

    /// One step on, what is seen there not yet counted; `None` where it leaves the field.
    fn stepped(&self, change: i32, step: f64, sight: &Sight) -> Option<Lead> {
        let turn = (self.turn + f64::from(change) * TURN).clamp(-MOST_TURN, MOST_TURN);
        let at = self.at + Vec2::from_angle(self.angle + 0.5 * turn) * step;
        if sight.inside.get(at.x.round() as isize, at.y.round() as isize) != Some(true) {
            return None;
        }
        let cost = TURN_COST * f64::from(change * change) + BEND_COST * (turn / MOST_TURN).powi(2);
        Some(Lead { at, angle: self.angle + turn, turn, score: self.score - cost, ..*self })
    }

    fn sees(&self, like: f64) -> bool {
        like > SEEN_SHARE * self.typical.max(LEAST_TYPICAL)
    }

    /// With what its place is worth; how like the edges there are to its own, and they themselves.
    fn judged(mut self, step: f64, sight: &Sight) -> (Lead, f64, Sides) {
        let seen = sight.edges.across(&self.pose(1.0), step);
        let like = likeness(&seen, &self.expected);
        self.score += if self.sees(like) {
            let none = NO_GAIN * self.typical;
            ((like - none) / (self.typical - none)).min(1.0)
        } else if sight.mask.get(self.at.x.round() as isize, self.at.y.round() as isize) == Some(true) {
            0.3 * like.min(0.0) - HIDDEN_COST
        } else {
            like.max(0.0) - OPEN_COST
        };
        (self, like, seen)
    }

    /// Whether nothing else stands out beside it.
    fn is_alone(&self, mask: &Raster<bool>) -> bool {
        let along = Vec2::from_angle(self.angle);
        let aside = along.normal() * (CLEAR.0 * self.width_px + CLEAR.1);
        CLEAR_AHEAD.iter().all(|ahead| {
            let middle = self.at + along * (ahead * self.width_px);
            [middle + aside, middle + -aside]
                .iter()
                .all(|p| mask.get(p.x.round() as isize, p.y.round() as isize) != Some(true))
        })
    }

    /// Lets width and expected edges follow what is seen; another width, a share `factor` of its own, is tried.
    fn adapt(&mut self, like: f64, seen: &Sides, factor: f64, step: f64, sight: &Sight) {
        if !self.sees(like) {
            return;
        }
        // No likeness exceeds 1.
        if like + WIDTH_COST < 1.0 {
            let other = likeness(&sight.edges.across(&self.pose(factor), step), &self.expected);
            if other - WIDTH_COST > like {
                self.width_px *= 1.0 + WIDTH_FOLLOWS * (factor - 1.0);
            }
        }
        for (expected, seen) in self.expected.iter_mut().zip(seen) {
            if one_like(seen, expected) > SEEN_SHARE {
                for (expected, seen) in expected.iter_mut().zip(seen) {
                    *expected += EDGES_FOLLOW * (seen - *expected);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Sight, Start, walk};
    use crate::maths::point::{Point, Vec2};
    use crate::maths::raster::Raster;
    use crate::shafts::edges::{Edges, Pose};

    const WIDTH_PX: f64 = 12.0;

    /// A level shaft about y = 100 up to x = `to`, and a brighter one that crosses it at (250, 100), `degrees` steep.
    fn ends_at(degrees: f64, to: f64) -> Point {
        let way = Vec2::from_angle(degrees.to_radians());
        let on_other = |p: Point| (p - Point::new(250.0, 100.0)).cross(way).abs() < 10.0;
        let on_own = |p: Point| (p.y - 100.0).abs() < 0.5 * WIDTH_PX && p.x < to;
        let at = |x: usize, y: usize| Point::new(x as f64, y as f64);
        let excess = [0, 1, 2].map(|c| {
            Raster::from_fn(500, 200, |x, y| {
                let other = if on_other(at(x, y)) { [0.0, 20.0, 60.0][c] } else { 0.0 };
                let own = if on_own(at(x, y)) { [0.0, 12.0, 12.0][c] } else { 0.0 };
                other + own
            })
        });
        let mask = Raster::from_fn(500, 200, |x, y| on_other(at(x, y)) || on_own(at(x, y)));
        let inside = Raster::filled(500, 200, true);
        let edges = Edges::new(&excess);
        let sight = Sight { edges: &edges, mask: &mask, inside: &inside };
        let pose = Pose { at: Point::new(60.0, 100.0), along: Vec2::new(1.0, 0.0), width_px: WIDTH_PX };
        let start = Start { pose, edges: edges.across(&pose, 4.0), typical: 1.0, bend: 0.0 };
        walk(&start, &sight).last().map_or(pose.at, |step| step.pose.at)
    }

    #[test]
    fn a_shaft_goes_on_behind_one_that_crosses_it_and_not_along_it() {
        for degrees in [90.0, 45.0, 20.0, 12.0] {
            let end = ends_at(degrees, 460.0);
            assert!((end.y - 100.0).abs() < 2.0 && (end.x - 460.0).abs() < 8.0, "{degrees}: {end:?}");
        }
    }

    #[test]
    fn a_shaft_that_ends_is_followed_to_its_end() {
        let end = ends_at(60.0, 160.0);
        assert!((end.x - 160.0).abs() < 8.0 && (end.y - 100.0).abs() < 3.0, "{end:?}");
    }
}
