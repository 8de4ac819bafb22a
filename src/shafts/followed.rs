//! Whether a shaft can be followed across a gap in the mask: the halo of a brighter neighbour hides a dim shaft from
//! the mask, not from the eye.
//!
//! Between two arms the best way is sought by dynamic programming in a corridor about the curve that leaves the one and
//! enters the other: the way along which the middle stands out most, in the arms' own colour, from what lies on both
//! its sides. The same search in corridors beside it tells what chance and the neighbours' slopes would give.

use super::arms::Arm;
use super::centreline::bridge;
use crate::maths::point::{Point, Vec2};
use crate::maths::raster::Raster;

/// Samples along the way, pixels apart.
const STEP_PX: f64 = 2.0;
/// Half width of the corridor, share of the gap's length: hairs bend.
const CORRIDOR: f64 = 0.10;
/// Least and most of it, pixels.
const CORRIDOR_PX: (f64, f64) = (3.0, 14.0);
/// Cost of a step aside, share of the arms' own ridge: keeps the way from hopping between specks.
const ASIDE: f64 = 0.25;
/// Share of the arms' own ridge that the way must have, after what chance gives is taken off.
const LEAST_SHARE: f64 = 0.22;
/// And so many times what it spreads from corridor to corridor.
const LEAST_SIGNIFICANCE: f64 = 2.0;
/// Least part of the gap that must be in view; the rest may lie under other shafts.
const LEAST_VIEW: f64 = 0.3;
/// Corridors beside the way that tell what chance gives: places in corridor widths.
const BESIDE: [f64; 6] = [-4.0, -3.0, -2.0, 2.0, 3.0, 4.0];

/// Whether the shaft of arm `a` can be seen going on in arm `b`. `excess` is light above the ground in noise units,
/// `mask` what stands out by itself: other shafts on the way.
pub(super) fn is_followed(a: &Arm, b: &Arm, excess: &[Raster<f32>; 3], mask: &Raster<bool>) -> bool {
    let Some(colour) = shared_colour(a, b) else { return false };
    let ground = Ground { excess, mask, colour, width_px: 0.5 * (a.width_px + b.width_px) };
    let distance = a.at.distance(b.at);
    let way: Vec<Point> = bridge(a, b).into_iter().step_by(STEP_PX as usize).collect();
    if way.len() < 4 {
        return false;
    }
    let own = own_ridge(a, &ground).min(own_ridge(b, &ground));
    if own <= 0.0 {
        return false;
    }
    let half = (CORRIDOR * distance).clamp(CORRIDOR_PX.0, CORRIDOR_PX.1);
    let Some(found) = best_way(&way, 0.0, half, own, &ground) else { return false };
    // The best of many ways over mere noise is above nothing, so that this little can hardly be enough.
    if found <= LEAST_SHARE * own {
        return false;
    }
    let lane = 2.0 * half + ground.width_px;
    let chance: Vec<f64> =
        BESIDE.iter().filter_map(|place| best_way(&way, place * lane / 2.0, half, own, &ground)).collect();
    if chance.len() < 3 {
        return false;
    }
    let mean = chance.iter().sum::<f64>() / chance.len() as f64;
    let sd = (chance.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (chance.len() - 1) as f64).sqrt();
    found - mean > LEAST_SHARE * own && found - mean > LEAST_SIGNIFICANCE * sd
}

struct Ground<'a> {
    excess: &'a [Raster<f32>; 3],
    mask: &'a Raster<bool>,
    /// Unit vector in channel space.
    colour: [f64; 3],
    width_px: f64,
}

impl Ground<'_> {
    fn light(&self, p: Point) -> Option<f64> {
        let (x, y) = pixel(p)?;
        let mut sum = 0.0;
        for (plane, share) in self.excess.iter().zip(self.colour) {
            sum += f64::from(plane.get(x, y)?) * share;
        }
        Some(sum)
    }

    /// How much the middle at `p` stands out from both sides, the nearer of the two: a slope has no ridge.
    fn ridge(&self, p: Point, across: Vec2) -> Option<f64> {
        let mean = |from: f64, to: f64| {
            let n = ((to - from).abs().round() as usize).max(1);
            let mut sum = 0.0;
            for k in 0..n {
                sum += self.light(p + across * (from + (to - from) * (k as f64 + 0.5) / n as f64))?;
            }
            Some(sum / n as f64)
        };
        let inner = (0.3 * self.width_px).max(0.7);
        let (near, far) = (0.55 * self.width_px + 1.0, 0.9 * self.width_px + 3.0);
        let sides = 0.5 * (mean(near, far)? + mean(-near, -far)?);
        Some(mean(-inner, inner)? - sides)
    }
}

/// The pixel that a place lies in; asked thousands of times, where the library's rounding would be a call each.
fn pixel(p: Point) -> Option<(isize, isize)> {
    (p.x > -0.5 && p.y > -0.5).then_some(((p.x + 0.5) as isize, (p.y + 0.5) as isize))
}

fn shared_colour(a: &Arm, b: &Arm) -> Option<[f64; 3]> {
    let size = |v: &[f64; 3]| v.iter().map(|x| x * x).sum::<f64>().sqrt();
    let (la, lb) = (size(&a.colour), size(&b.colour));
    if la < 1e-6 || lb < 1e-6 {
        return None;
    }
    let mut sum = [0.0; 3];
    for (c, value) in sum.iter_mut().enumerate() {
        *value = a.colour[c] / la + b.colour[c] / lb;
    }
    let length = size(&sum);
    // One brighter than the ground and one darker are two shafts.
    (length > 1.0).then(|| sum.map(|v| v / length))
}

/// The ridge along an arm itself, over some widths behind its end.
fn own_ridge(arm: &Arm, ground: &Ground) -> f64 {
    let across = arm.towards.normal();
    let n = (2.0 * arm.width_px).clamp(4.0, 24.0) as usize;
    let mut values: Vec<f64> =
        (1..=n).filter_map(|k| ground.ridge(arm.at + arm.towards * -(k as f64), across)).collect();
    crate::maths::stats::median(&mut values).unwrap_or(0.0)
}

/// Mean ridge of the best way along `way` displaced by `aside` pixels, where it is in view; `None` when too little is.
fn best_way(way: &[Point], aside: f64, half: f64, own: f64, ground: &Ground) -> Option<f64> {
    let lanes = 2 * half.round() as usize + 1;
    let mut score = vec![0.0f64; lanes];
    let mut in_view = 0usize;
    for (i, &p) in way.iter().enumerate() {
        let along = (way[(i + 1).min(way.len() - 1)] - way[i.saturating_sub(1)]).unit();
        let across = along.normal();
        let place = |lane: usize| p + across * (aside + lane as f64 - half.round());
        let hidden = pixel(place(lanes / 2)).and_then(|(x, y)| ground.mask.get(x, y)) == Some(true);
        let mut next = vec![f64::NEG_INFINITY; lanes];
        for (lane, value) in next.iter_mut().enumerate() {
            // The way begins and ends where the arms are.
            let room = (i.min(way.len() - 1 - i) as f64) * STEP_PX * 0.5 + 1.5;
            if (lane as f64 - half.round()).abs() > room {
                continue;
            }
            let best = (lane.saturating_sub(1)..=(lane + 1).min(lanes - 1))
                .map(|from| score[from] - if from == lane { 0.0 } else { ASIDE * own })
                .fold(f64::NEG_INFINITY, f64::max);
            let ridge = if hidden { 0.0 } else { ground.ridge(place(lane), across).unwrap_or(0.0) };
            // One bright speck must not stand for a whole way.
            *value = best + ridge.clamp(-own, 1.5 * own);
        }
        in_view += usize::from(!hidden);
        score = next;
    }
    let best = score.into_iter().fold(f64::NEG_INFINITY, f64::max);
    (in_view as f64 >= LEAST_VIEW * way.len() as f64 && best.is_finite()).then(|| best / in_view as f64)
}

#[cfg(test)]
mod tests {
    use super::is_followed;
    use crate::maths::point::{Point, Vec2};
    use crate::maths::raster::Raster;
    use crate::shafts::arms::Arm;

    const WIDTH_PX: f64 = 6.0;

    fn arm(x: f64, towards: f64) -> Arm {
        Arm {
            strand: 0,
            end: 0,
            skip: 0,
            at: Point::new(x, 40.0),
            towards: Vec2::new(towards, 0.0),
            direction_sd: 0.1,
            bend: 0.0,
            width_px: WIDTH_PX,
            colour: [0.0, 8.0, 8.0],
        }
    }

    /// Light of a level shaft that is in view up to x = 40 and from x = 140, `between` of it in the gap, on `ground`.
    fn light(between: f32, ground: impl Fn(usize, usize) -> f32) -> [Raster<f32>; 3] {
        let plane = |c: usize| {
            Raster::from_fn(180, 80, |x, y| {
                let own = if (y as f64 - 40.0).abs() > 0.5 * WIDTH_PX || c == 0 {
                    0.0
                } else if (40..140).contains(&x) {
                    8.0 * between
                } else {
                    8.0
                };
                // Repeatable noise about 1 wide.
                let state = (x as u32).wrapping_mul(2_654_435_761) ^ (y as u32).wrapping_mul(40_503) ^ (c as u32 * 977);
                let noise = (state.wrapping_mul(2_246_822_519) >> 16) as f32 / 65_536.0 - 0.5;
                own + ground(x, y) + 3.0 * noise
            })
        };
        [plane(0), plane(1), plane(2)]
    }

    fn follows(between: f32, ground: impl Fn(usize, usize) -> f32) -> bool {
        let mask = Raster::filled(180, 80, false);
        is_followed(&arm(40.0, 1.0), &arm(140.0, -1.0), &light(between, ground), &mask)
    }

    #[test]
    fn a_shaft_too_dim_for_the_mask_is_followed_and_nothing_is_not() {
        assert!(follows(0.6, |_, _| 0.0));
        assert!(!follows(0.0, |_, _| 0.0));
    }

    #[test]
    fn a_slope_is_no_shaft() {
        assert!(!follows(0.0, |_, y| 0.3 * y as f32));
        assert!(follows(0.6, |_, y| 0.3 * y as f32), "and hides none");
    }

    #[test]
    fn one_brighter_and_one_darker_than_the_ground_are_two_shafts() {
        let mask = Raster::filled(180, 80, false);
        let mut darker = arm(140.0, -1.0);
        darker.colour = [0.0, -8.0, -8.0];
        assert!(!is_followed(&arm(40.0, 1.0), &darker, &light(0.6, |_, _| 0.0), &mask));
    }
}
