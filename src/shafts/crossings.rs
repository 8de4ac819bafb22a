//! Crossing shafts taken apart and joined again: strands to whole traces.
//!
//! Junctions that lie on one another, or that a strand as wide as two shafts links, are one knot; the arms of a knot
//! are paired together. Then ends that nothing continues look across a gap: a shaft may fade, or pass under
//! something brighter.

use rayon::prelude::*;

use super::arms::{Arm, arm};
use super::followed;
use super::links::{ALONE_CAP, COLOUR_CAP, END_COST, cost, pairs};
use super::strands::{Strands, Tip};
use crate::maths::raster::Raster;

/// Junctions nearer than this many half widths (sum of both) belong to one knot.
const KNOT_HALF_WIDTHS: f64 = 1.3;
/// A strand this much wider than the widest arm beside it is two shafts side by side.
const DOUBLE_WIDTH: f64 = 1.22;
/// Longest such stretch, in widths of the widest arm.
const CONTACT_WIDTHS: f64 = 40.0;
/// Half widths of a junction within which the strands are bent by the meeting.
const BENT_HALF_WIDTHS: f64 = 1.15;
/// Widest gap that is looked across: widths of the arm, and pixels besides.
const GAP_WIDTHS: f64 = 5.0;
/// See [`GAP_WIDTHS`]; a halo cut leaves a gap of this order.
const GAP_PX: f64 = 36.0;
/// Cost of a gap as long as it may be; shorter ones in proportion.
const GAP_COST: f64 = 5.0;

/// Longest gap across which a shaft is looked for that the mask does not show: widths of the arm, and pixels besides.
const FOLLOWED_WIDTHS: f64 = 40.0;
/// See [`FOLLOWED_WIDTHS`].
const FOLLOWED_PX: f64 = 200.0;

/// Widest shaft that may hide a gap, reduced pixels.
const MOST_HIDDEN_PX: f64 = 260.0;
/// Most open arms that are compared; beyond, the photo is too crowded for gaps to mean anything.
const MOST_OPEN: usize = 1500;

/// One shaft as strands joined end to end.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    /// Strand and whether it is walked from its last pixel to its first.
    pub(super) links: Vec<(usize, bool)>,
    /// The joint before each strand but the first.
    pub(super) joints: Vec<Joint>,
    /// The arms left open at both ends of the chain.
    pub(super) open: [Arm; 2],
    /// Whether the open ends lie at a knot (another shaft) or free.
    pub(super) at_knot: [bool; 2],
    /// Whether it closes on itself.
    pub(super) closed: bool,
}

/// How two strands are joined.
#[derive(Clone, Copy, Debug)]
pub(super) struct Joint {
    /// The arm left.
    pub(super) leaving: Arm,
    /// The arm entered.
    pub(super) entering: Arm,
    /// Whether another shaft lies there.
    pub(super) overlap: bool,
    /// Surprise of the joint, see [`cost`].
    pub(super) cost: f64,
}

/// What each end of a strand goes on in: strand, its end, and the joint.
type Partners = [Option<(usize, usize, Joint)>; 2];

/// The traces of a mask's strands.
pub(super) fn chains(
    found: &Strands,
    depth: &Raster<f32>,
    excess: &[Raster<f32>; 3],
    mask: &Raster<bool>,
) -> Vec<Chain> {
    let knots = knots(found, depth);
    let strands = &found.strands;
    let make_arm = |strand: usize, end: usize| {
        let skip = match strands[strand].tips[end] {
            Tip::Junction(j) => BENT_HALF_WIDTHS * found.junctions[j].half_width_px + 1.0,
            Tip::Free => super::arms::hook(&strands[strand].path, end, depth) as f64,
        };
        arm(strands, strand, end, skip, depth, excess)
    };
    // partner[strand][end] = (strand, end) it goes on in.
    let mut partner: Vec<Partners> = vec![[None, None]; strands.len()];
    let usable = |i: usize| !knots.consumed[i] && !strands[i].closed;
    let mut arms_of: Vec<Vec<Arm>> = vec![Vec::new(); knots.n];
    for i in (0..strands.len()).filter(|&i| usable(i)) {
        for end in [0, 1] {
            if let Tip::Junction(j) = strands[i].tips[end] {
                arms_of[knots.of[j]].push(make_arm(i, end));
            }
        }
    }
    for arms in arms_of {
        for (a, b) in pairs(&arms, |_, _| true) {
            join(&mut partner, arms[a], arms[b], arms.len() > 2);
        }
    }
    across_gaps(found, &mut partner, &usable, &make_arm, excess, mask);
    walk(found, &partner, &usable, &make_arm)
}

fn join(partner: &mut [Partners], a: Arm, b: Arm, overlap: bool) {
    let cost = cost(&a, &b, ALONE_CAP);
    partner[a.strand][a.end] = Some((b.strand, b.end, Joint { leaving: a, entering: b, overlap, cost }));
    partner[b.strand][b.end] = Some((a.strand, a.end, Joint { leaving: b, entering: a, overlap, cost }));
}

fn across_gaps(
    found: &Strands,
    partner: &mut [Partners],
    usable: &dyn Fn(usize) -> bool,
    make_arm: &dyn Fn(usize, usize) -> Arm,
    excess: &[Raster<f32>; 3],
    mask: &Raster<bool>,
) {
    let open: Vec<Arm> = (0..found.strands.len())
        .filter(|&i| usable(i) && found.strands[i].path.len() >= 5)
        .flat_map(|i| [0, 1].map(|end| (i, end)))
        .filter(|&(i, end)| partner[i][end].is_none())
        .map(|(i, end)| make_arm(i, end))
        .collect();
    if open.len() > MOST_OPEN {
        return;
    }
    let one = |i: usize, j: usize| {
        let (a, b) = (&open[i], &open[j]);
        if a.strand == b.strand {
            return None;
        }
        let gap = b.at - a.at;
        let distance = gap.length();
        let seen = GAP_WIDTHS * a.width_px.min(b.width_px) + GAP_PX;
        // Behind an arm, or so far that no shaft could hide the gap: not worth a look.
        if distance > (seen + MOST_HIDDEN_PX).max(FOLLOWED_WIDTHS * a.width_px.min(b.width_px) + FOLLOWED_PX)
            || gap.dot(a.towards) < -4.0
            || gap.dot(b.towards) > 4.0
        {
            return None;
        }
        let covered = share_covered(a, b, mask);
        // Under another shaft nothing can be seen, so the gap may be as wide as that shaft.
        let longest = seen + covered * distance;
        let missing = if distance <= longest {
            GAP_COST * (1.0 - covered) * distance / longest
        } else if distance <= FOLLOWED_WIDTHS * a.width_px.min(b.width_px) + FOLLOWED_PX
            && cost(a, b, ALONE_CAP) < 1.5 * END_COST
            && followed::is_followed(a, b, excess, mask)
        {
            0.0
        } else {
            return None;
        };
        // Where two compete, colour speaks as loudly as in a knot.
        (cost(a, b, ALONE_CAP) + missing < 1.5 * END_COST)
            .then(|| (cost(a, b, COLOUR_CAP) + missing, i, j, covered > 0.3))
    };
    let mut candidates: Vec<(f64, usize, usize, bool)> = (0..open.len())
        .into_par_iter()
        .flat_map_iter(|i| (i + 1..open.len()).filter_map(move |j| one(i, j)).collect::<Vec<_>>())
        .collect();
    candidates.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    for (_, i, j, overlap) in candidates {
        let (a, b) = (open[i], open[j]);
        if partner[a.strand][a.end].is_none() && partner[b.strand][b.end].is_none() {
            join(partner, a, b, overlap);
        }
    }
}

/// Share of the straight way between two arms that lies on the mask.
fn share_covered(a: &Arm, b: &Arm, mask: &Raster<bool>) -> f64 {
    let n = (a.at.distance(b.at).ceil() as usize).clamp(2, 400);
    let on = (1..n)
        .filter(|&k| {
            let p = a.at.lerp(b.at, k as f64 / n as f64);
            mask.get(p.x.round() as isize, p.y.round() as isize).unwrap_or(false)
        })
        .count();
    on as f64 / (n - 1) as f64
}

fn walk(
    found: &Strands,
    partner: &[Partners],
    usable: &dyn Fn(usize) -> bool,
    make_arm: &dyn Fn(usize, usize) -> Arm,
) -> Vec<Chain> {
    let n = found.strands.len();
    let mut used = vec![false; n];
    let mut out = Vec::new();
    let mut follow = |start: usize, end_in: usize, used: &mut Vec<bool>, closed: bool| {
        let mut links = vec![(start, end_in == 1)];
        let mut joints = Vec::new();
        used[start] = true;
        let (mut here, mut leave) = (start, 1 - end_in);
        while let Some((next, enter, joint)) = partner[here][leave] {
            if used[next] {
                break;
            }
            used[next] = true;
            links.push((next, enter == 1));
            joints.push(joint);
            (here, leave) = (next, 1 - enter);
        }
        let open = [make_arm(start, end_in), make_arm(here, leave)];
        let at_knot =
            [(start, end_in), (here, leave)].map(|(i, e)| matches!(found.strands[i].tips[e], Tip::Junction(_)));
        out.push(Chain { links, joints, open, at_knot, closed });
    };
    for i in (0..n).filter(|&i| usable(i)) {
        for end in [0, 1] {
            if !used[i] && partner[i][end].is_none() {
                follow(i, end, &mut used, false);
            }
        }
    }
    // What is left goes round in a circle.
    for i in 0..n {
        if (usable(i) && !used[i]) || found.strands[i].closed {
            follow(i, 0, &mut used, true);
        }
    }
    out
}

/// Junctions grouped into knots, and the strands inside them.
struct Knots {
    /// Knot of each junction.
    of: Vec<usize>,
    /// How many knots.
    n: usize,
    /// Strands that lie inside a knot: the shared middle of shafts on each other.
    consumed: Vec<bool>,
}

fn knots(found: &Strands, depth: &Raster<f32>) -> Knots {
    let n = found.junctions.len();
    let mut root: Vec<usize> = (0..n).collect();
    fn find(root: &mut [usize], mut i: usize) -> usize {
        while root[i] != i {
            root[i] = root[root[i]];
            i = root[i];
        }
        i
    }
    let half_width = |strand: usize, near: Option<usize>| {
        let path = &found.strands[strand].path;
        // Away from the junction whose width it would take on.
        let keep = |p: &&(usize, usize)| {
            near.is_none_or(|j| {
                let junction = found.junctions[j];
                (p.0 as f64 - junction.x).hypot(p.1 as f64 - junction.y) > BENT_HALF_WIDTHS * junction.half_width_px
            })
        };
        let mut values: Vec<f64> = path.iter().filter(keep).take(400).map(|p| f64::from(depth.at(p.0, p.1))).collect();
        crate::maths::stats::median(&mut values)
    };
    let mut at_junction: Vec<Vec<usize>> = vec![Vec::new(); n];
    for (k, strand) in found.strands.iter().enumerate() {
        for tip in strand.tips {
            if let Tip::Junction(j) = tip {
                at_junction[j].push(k);
            }
        }
    }
    let mut consumed = vec![false; found.strands.len()];
    for (i, strand) in found.strands.iter().enumerate() {
        let [Tip::Junction(a), Tip::Junction(b)] = strand.tips else { continue };
        if a == b {
            continue;
        }
        let (ja, jb) = (found.junctions[a], found.junctions[b]);
        let apart = (ja.x - jb.x).hypot(ja.y - jb.y);
        let near = apart <= KNOT_HALF_WIDTHS * (ja.half_width_px + jb.half_width_px) + 4.0;
        let beside = |j: usize| {
            at_junction[j].iter().filter(|&&k| k != i).filter_map(|&k| half_width(k, Some(j))).collect::<Vec<f64>>()
        };
        let (at_a, at_b) = (beside(a), beside(b));
        let widest = at_a.iter().chain(&at_b).copied().fold(0.0, f64::max);
        let own = half_width(i, None).unwrap_or(0.0);
        let double = at_a.len() >= 2
            && at_b.len() >= 2
            && own > DOUBLE_WIDTH * widest
            && (strand.path.len() as f64) < CONTACT_WIDTHS * 2.0 * widest;
        if near || double {
            let (ra, rb) = (find(&mut root, a), find(&mut root, b));
            root[ra] = rb;
            consumed[i] = true;
        }
    }
    let mut number = vec![usize::MAX; n];
    let mut n_knots = 0;
    let mut of = vec![0; n];
    for (j, knot) in of.iter_mut().enumerate() {
        let r = find(&mut root, j);
        if number[r] == usize::MAX {
            number[r] = n_knots;
            n_knots += 1;
        }
        *knot = number[r];
    }
    Knots { of, n: n_knots, consumed }
}
