//! Where one strand is really two: a corner or a step in width without a junction, as when two shafts meet end to end
//! or side against end; and strands that are no shaft's middle but the fringe beside a brighter one.

use super::strands::{Junction, Strand, Strands, Tip};
use crate::maths::point::{Point, Vec2};
use crate::maths::raster::Raster;

/// Directions are taken over this many half widths to both sides.
const LOOK_HALF_WIDTHS: f64 = 2.4;
/// And at least this many pixels: below, the pixel grid itself makes corners.
const LOOK_PX: usize = 9;
/// Turn that makes a corner worth asking about, radians. The joint may be closed again when all else fits.
const CORNER: f64 = 0.55;
/// Ratio of half widths that makes a step worth asking about.
const STEP: f64 = 1.75;
/// A piece between a corner and a free end that is no longer than this many half widths is the thinned line running
/// into a corner of a blunt or slanting end: it says nothing of where the shaft goes.
const HOOK_HALF_WIDTHS: f64 = 2.6;
/// And its free end lies this share as deep as the cut, or less.
const HOOK_DEPTH: f64 = 0.6;
/// Strands shorter than this are left as they are.
const LEAST_PX: usize = 24;

/// Splits strands at corners and steps; each split is a junction of two. Hooks at free ends go.
pub(super) fn split(found: Strands, depth: &Raster<f32>) -> Strands {
    let mut junctions = found.junctions;
    let mut strands = Vec::new();
    for strand in found.strands {
        if strand.closed || strand.path.len() < LEAST_PX {
            strands.push(strand);
            continue;
        }
        let cuts = cuts(&strand.path, depth);
        let strand = without_hooks(strand, &cuts, depth);
        let mut from = strand.from;
        let mut first = strand.tips[0];
        for cut in strand.cuts {
            let (x, y) = strand.path[cut];
            let number = junctions.len();
            // A corner bends the line over about a half width of the narrower side.
            junctions.push(Junction { x: x as f64, y: y as f64, half_width_px: f64::from(depth.at(x, y)) });
            strands.push(Strand {
                path: strand.path[from..cut].to_vec(),
                tips: [first, Tip::Junction(number)],
                closed: false,
            });
            first = Tip::Junction(number);
            from = cut + 1;
        }
        let path = strand.path[from..strand.to].to_vec();
        strands.push(Strand { path, tips: [first, strand.tips[1]], closed: false });
    }
    strands.retain(|s| !s.path.is_empty());
    Strands { strands, junctions }
}

/// A strand with the cuts that are left when hooks are gone, and the part of its path that remains.
struct Cut {
    path: Vec<(usize, usize)>,
    tips: [Tip; 2],
    cuts: Vec<usize>,
    from: usize,
    to: usize,
}

fn without_hooks(strand: Strand, cuts: &[usize], depth: &Raster<f32>) -> Cut {
    let path = strand.path;
    let n = path.len();
    let at = |i: usize| f64::from(depth.at(path[i].0, path[i].1));
    let is_hook = |cut: usize, end: usize| {
        // A bulb widens towards its end, a hook runs out in a corner.
        (cut.abs_diff(end) as f64) < HOOK_HALF_WIDTHS * at(cut) && at(end) < HOOK_DEPTH * at(cut)
    };
    let (mut from, mut to, mut cuts) = (0, n, cuts);
    if strand.tips[0] == Tip::Free
        && let Some((&first, rest)) = cuts.split_first()
        && is_hook(first, 0)
    {
        (from, cuts) = (first + 1, rest);
    }
    if strand.tips[1] == Tip::Free
        && let Some((&last, rest)) = cuts.split_last()
        && is_hook(last, n - 1)
    {
        (to, cuts) = (last, rest);
    }
    let cuts = cuts.to_vec();
    Cut { path, tips: strand.tips, cuts, from, to }
}

fn cuts(path: &[(usize, usize)], depth: &Raster<f32>) -> Vec<usize> {
    let n = path.len();
    let half_width = |i: usize| f64::from(depth.at(path[i].0, path[i].1));
    let score = |i: usize| {
        let look = ((LOOK_HALF_WIDTHS * half_width(i)) as usize).max(LOOK_PX);
        if i < look || i + look >= n {
            return 0.0;
        }
        let turn = turn_at(path, i, look);
        let ratio = half_width(i + look) / half_width(i - look).max(0.5);
        (turn / CORNER).max(ratio.max(1.0 / ratio.max(1e-9)).ln() / STEP.ln())
    };
    let scores: Vec<f64> = (0..n).map(score).collect();
    let mut out: Vec<usize> = Vec::new();
    let mut i = 0;
    while i < n {
        if scores[i] <= 1.0 {
            i += 1;
            continue;
        }
        // The middle of the strongest part of this stretch.
        let stop = (i..n).find(|&k| scores[k] <= 1.0).unwrap_or(n);
        let peak = scores[i..stop].iter().copied().fold(0.0, f64::max);
        let strong: Vec<usize> = (i..stop).filter(|&k| scores[k] > 0.97 * peak).collect();
        let cut = strong[strong.len() / 2];
        if out.last().is_none_or(|&last| cut > last + LOOK_PX) && cut >= 3 && cut + 3 < n {
            out.push(cut);
        }
        i = stop;
    }
    out
}

/// Turn of a path at `i` over `look` pixels to both sides, radians.
fn turn_at(path: &[(usize, usize)], i: usize, look: usize) -> f64 {
    let at = |i: usize| Point::new(path[i].0 as f64, path[i].1 as f64);
    let (before, after) = (at(i) - at(i.saturating_sub(look)), at((i + look).min(path.len() - 1)) - at(i));
    before.cross(after).atan2(before.dot(after)).abs()
}

/// Whether a strand lies on the slope of something brighter beside it: a shaft's middle is further from the ground
/// than what lies just outside either of its edges.
pub(super) fn is_fringe(strand: &Strand, depth: &Raster<f32>, excess: &[Raster<f32>; 3]) -> bool {
    let n = strand.path.len();
    if n < 8 {
        return false;
    }
    let step = 3;
    let mut sums = [[0.0f64; 3]; 3];
    for i in (0..n).step_by(step) {
        let (a, b) = (strand.path[i.saturating_sub(5)], strand.path[(i + 5).min(n - 1)]);
        let along = Vec2::new(b.0 as f64 - a.0 as f64, b.1 as f64 - a.1 as f64).unit();
        let (x, y) = strand.path[i];
        let here = Point::new(x as f64, y as f64);
        let out = f64::from(depth.at(x, y)) + 1.5;
        for (k, offset) in [0.0, -out, out].into_iter().enumerate() {
            let p = here + along.normal() * offset;
            for (sum, plane) in sums[k].iter_mut().zip(excess) {
                *sum += f64::from(plane.bilinear(p.x, p.y));
            }
        }
    }
    let [middle, left, right] = sums;
    let size = middle.iter().map(|v| v * v).sum::<f64>().sqrt().max(1e-9);
    let along_own = |v: [f64; 3]| v.iter().zip(&middle).map(|(a, b)| a * b).sum::<f64>() / size;
    along_own(left).max(along_own(right)) > size
}

#[cfg(test)]
mod tests {
    use super::split;
    use crate::maths::raster::Raster;
    use crate::shafts::strands::{Strand, Strands, Tip};

    fn strand(path: Vec<(usize, usize)>) -> Strands {
        Strands { strands: vec![Strand { path, tips: [Tip::Free, Tip::Free], closed: false }], junctions: Vec::new() }
    }

    #[test]
    fn a_corner_is_cut_and_a_bow_is_not() {
        let depth = Raster::filled(300, 300, 3.0f32);
        let corner = (0..60).map(|i| (50 + i, 50)).chain((1..60).map(|i| (109, 50 + i))).collect();
        assert_eq!(split(strand(corner), &depth).strands.len(), 2);
        let bow = (0..200)
            .map(|i| {
                let a = f64::from(i) / 200.0 * 1.5;
                ((100.0 + 130.0 * a.cos()) as usize, (50.0 + 130.0 * a.sin()) as usize)
            })
            .collect();
        assert_eq!(split(strand(bow), &depth).strands.len(), 1);
    }

    #[test]
    fn a_hook_at_a_blunt_end_goes_and_a_bulb_stays() {
        // A level line whose last stretch runs into the corner of the end: the nearer the end, the shallower.
        let hook: Vec<(usize, usize)> = (20..200).map(|x| (x, 50)).chain((0..30).map(|i| (200 + i, 51 + i))).collect();
        let depth =
            |end: f32| {
                Raster::from_fn(300, 120, move |x, _| {
                    if x < 200 { 12.0f32 } else { 12.0 + (end - 12.0) * (x as f32 - 200.0) / 29.0 }
                })
            };
        let found = split(strand(hook.clone()), &depth(2.0));
        assert_eq!(found.strands.len(), 1, "{:?}", found.strands.iter().map(|s| s.path.len()).collect::<Vec<_>>());
        assert!(found.strands[0].path.len() < 190 && found.strands[0].tips == [Tip::Free, found.strands[0].tips[1]]);
        assert_eq!(split(strand(hook), &depth(16.0)).strands.len(), 2, "what widens towards its end is no hook");
    }

    #[test]
    fn a_step_in_width_is_cut() {
        let depth = Raster::from_fn(300, 100, |x, _| if x < 150 { 3.0f32 } else { 9.0 });
        let line = (20..280).map(|x| (x, 50)).collect();
        let found = split(strand(line), &depth);
        assert_eq!(found.strands.len(), 2);
        assert!((found.strands[0].path.len() as i32 - 130).abs() < 25);
    }
}
