//! The thinned mask as strands between junctions and ends.
//!
//! Thinning leaves a short spur wherever an outline bulges; a spur is told from a shaft by its length against the
//! half width at its junction, since a real shaft must reach out of the other one to be seen at all.

use crate::maths::raster::Raster;
use crate::maths::thinning::{NEIGHBOURS, thinned};

/// A spur is shorter than this many half widths of the shaft it sits on, measured from the junction.
const SPUR_HALF_WIDTHS: f64 = 1.5;
/// And this many pixels, whatever the width.
const SPUR_PX: f64 = 3.0;
/// Rounds of pruning; each can bare spurs behind spurs.
const ROUNDS: usize = 4;

/// What a strand ends in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tip {
    /// Nothing: an end in view, or the border.
    Free,
    /// A junction, by number.
    Junction(usize),
}

/// A line of neighbouring pixels between two tips.
#[derive(Clone, Debug)]
pub(super) struct Strand {
    /// Pixels in order, junction pixels left out.
    pub(super) path: Vec<(usize, usize)>,
    /// What it ends in, first and last.
    pub(super) tips: [Tip; 2],
    /// Whether it closes on itself without any junction.
    pub(super) closed: bool,
}

/// A place where strands meet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Junction {
    /// Mean of its pixels.
    pub(super) x: f64,
    /// Mean of its pixels.
    pub(super) y: f64,
    /// Distance from the outline there: half the width of the widest thing through it.
    pub(super) half_width_px: f64,
}

/// Strands and junctions of a mask.
#[derive(Clone, Debug)]
pub(super) struct Strands {
    pub(super) strands: Vec<Strand>,
    pub(super) junctions: Vec<Junction>,
}

/// The strands of a thinned mask; `depth` is the distance of each of the mask's pixels from its outline.
pub(super) fn strands(mut thin: Raster<bool>, depth: &Raster<f32>) -> Strands {
    for _ in 0..ROUNDS {
        let found = trace(&thin, depth);
        let spurs = spurs(&found);
        if spurs.is_empty() {
            return found;
        }
        for i in spurs {
            for &(x, y) in &found.strands[i].path {
                thin.set(x, y, false);
            }
        }
        // What is left of a junction may be a clump.
        thin = thinned(&thin);
    }
    trace(&thin, depth)
}

fn spurs(found: &Strands) -> Vec<usize> {
    let mut out = Vec::new();
    let mut strands_at: Vec<Vec<usize>> = vec![Vec::new(); found.junctions.len()];
    for (i, strand) in found.strands.iter().enumerate() {
        for tip in strand.tips {
            if let Tip::Junction(j) = tip
                && strands_at[j].last() != Some(&i)
            {
                strands_at[j].push(i);
            }
        }
    }
    for (junction, at) in found.junctions.iter().zip(&strands_at) {
        let mut short: Vec<(f64, usize)> = at
            .iter()
            .filter_map(|&i| {
                let strand = &found.strands[i];
                let free = match strand.tips {
                    [Tip::Free, Tip::Junction(_)] => strand.path.first(),
                    [Tip::Junction(_), Tip::Free] => strand.path.last(),
                    _ => None,
                }?;
                let reach = (free.0 as f64 - junction.x).hypot(free.1 as f64 - junction.y);
                (reach < SPUR_HALF_WIDTHS * junction.half_width_px + SPUR_PX).then_some((reach, i))
            })
            .collect();
        short.sort_by(|a, b| a.0.total_cmp(&b.0));
        // A blob has nothing but spurs: leave the two longest, it is judged as a whole later.
        if short.len() == at.len() {
            short.truncate(short.len().saturating_sub(2));
        }
        out.extend(short.into_iter().map(|s| s.1));
    }
    out.sort_unstable();
    out.dedup();
    out
}

fn trace(thin: &Raster<bool>, depth: &Raster<f32>) -> Strands {
    let (width, height) = (thin.width(), thin.height());
    let set: Vec<(usize, usize)> =
        (0..width * height).filter(|&i| thin.data()[i]).map(|i| (i % width, i / width)).collect();
    let around = |(x, y): (usize, usize)| {
        NEIGHBOURS.iter().filter_map(move |(dx, dy)| {
            let (u, v) = (x as isize + dx, y as isize + dy);
            thin.get(u, v).filter(|&on| on).map(|_| (u as usize, v as usize))
        })
    };
    // Junction numbers a pixel; u32::MAX where it is no junction.
    let mut junction_of = Raster::filled(width, height, u32::MAX);
    let mut junctions = Vec::new();
    let is_junction = |p: (usize, usize)| around(p).count() >= 3;
    for &start in set.iter().filter(|&&p| is_junction(p)) {
        if junction_of.at(start.0, start.1) != u32::MAX {
            continue;
        }
        let number = junctions.len() as u32;
        let mut stack = vec![start];
        let (mut n, mut sx, mut sy, mut deepest) = (0.0, 0.0, 0.0, 0.0f32);
        junction_of.set(start.0, start.1, number);
        while let Some(p) = stack.pop() {
            n += 1.0;
            sx += p.0 as f64;
            sy += p.1 as f64;
            deepest = deepest.max(depth.at(p.0, p.1));
            for q in around(p).filter(|&q| is_junction(q)) {
                if junction_of.at(q.0, q.1) == u32::MAX {
                    junction_of.set(q.0, q.1, number);
                    stack.push(q);
                }
            }
        }
        junctions.push(Junction { x: sx / n, y: sy / n, half_width_px: f64::from(deepest) });
    }
    let mut seen = Raster::filled(width, height, false);
    let mut strands = Vec::new();
    let tip_at = |p: (usize, usize)| Tip::Junction(junction_of.at(p.0, p.1) as usize);
    let free = |p: (usize, usize)| junction_of.at(p.0, p.1) == u32::MAX;
    let mut walk = |start: (usize, usize), first: Tip, from: Option<(usize, usize)>, seen: &mut Raster<bool>| {
        let mut path = vec![start];
        seen.set(start.0, start.1, true);
        let (mut here, mut before) = (start, from);
        let last = loop {
            if let Some(q) =
                around(here).find(|&q| !free(q) && Some(q) != before && (path.len() > 1 || Some(q) != from))
            {
                // The junction it came from does not end it at once.
                let same = path.len() == 1 && from.is_some_and(|f| tip_at(f) == tip_at(q));
                if !same {
                    break tip_at(q);
                }
            }
            let Some(next) = around(here).find(|&q| free(q) && !seen.at(q.0, q.1)) else { break Tip::Free };
            before = Some(here);
            here = next;
            seen.set(here.0, here.1, true);
            path.push(here);
        };
        strands.push(Strand { path, tips: [first, last], closed: false });
    };
    for &p in set.iter().filter(|&&p| !free(p)) {
        for q in around(p).filter(|&q| free(q)) {
            if !seen.at(q.0, q.1) {
                walk(q, tip_at(p), Some(p), &mut seen);
            }
        }
    }
    for &p in set.iter().filter(|&&p| free(p)) {
        if !seen.at(p.0, p.1) && around(p).count() <= 1 {
            walk(p, Tip::Free, None, &mut seen);
        }
    }
    let n_open = strands.len();
    for &p in set.iter().filter(|&&p| free(p)) {
        if !seen.at(p.0, p.1) {
            let mut path = vec![p];
            seen.set(p.0, p.1, true);
            while let Some(next) = around(path[path.len() - 1]).find(|&q| !seen.at(q.0, q.1)) {
                seen.set(next.0, next.1, true);
                path.push(next);
            }
            strands.push(Strand { path, tips: [Tip::Free, Tip::Free], closed: true });
        }
    }
    debug_assert!(n_open <= strands.len(), "loops come after open strands");
    Strands { strands, junctions }
}

#[cfg(test)]
mod tests {
    use super::{Tip, strands};
    use crate::maths::distance::distance_inside;
    use crate::maths::raster::Raster;
    use crate::maths::thinning::thinned;

    #[test]
    fn a_cross_has_four_strands_without_spurs() {
        let mask = Raster::from_fn(120, 120, |x, y| {
            ((x as i32 - 60).abs() <= 5 || (y as i32 - 60).abs() <= 5) && (8..112).contains(&x) && (8..112).contains(&y)
        });
        let found = strands(thinned(&mask), &distance_inside(&mask));
        let long: Vec<_> = found.strands.iter().filter(|s| s.path.len() > 20).collect();
        assert_eq!(long.len(), 4);
        assert!(long.iter().all(|s| s.tips.contains(&Tip::Free)), "each reaches out freely");
        assert!(found.strands.iter().all(|s| s.path.len() > 20 || !s.tips.contains(&Tip::Free)), "no spurs");
    }

    #[test]
    fn a_ring_is_closed_and_a_bar_is_open() {
        let ring = Raster::from_fn(80, 80, |x, y| (20.0..26.0).contains(&(x as f64 - 40.0).hypot(y as f64 - 40.0)));
        let found = strands(thinned(&ring), &distance_inside(&ring));
        assert!(found.strands.len() == 1 && found.strands[0].closed);
        let bar = Raster::from_fn(80, 30, |x, y| (10..70).contains(&x) && (10..19).contains(&y));
        let found = strands(thinned(&bar), &distance_inside(&bar));
        assert_eq!(found.strands.len(), 1);
        assert_eq!(found.strands[0].tips, [Tip::Free, Tip::Free]);
    }
}
