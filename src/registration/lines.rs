//! The shafts' middle lines in both photos draw the registration in.

use super::{Mismatch, Registration};
use crate::maths::point::{Point, Vec2};
use crate::maths::polyline::Polyline;
use crate::maths::similarity::{Pull, fitted};

/// What the shafts leave open (all run one way, or there is one only) stays as the edges had it, to this, pixels.
const TIE_PX: f64 = 2.0;
/// Farthest across that a station lies from its own line in the other photo, in widths, and at least this many pixels:
/// more is another shaft, or the shaft's rim taken for its middle.
const ON_WIDTHS: f64 = 0.35;
const ON_PX: f64 = 2.0;
/// Share of a shaft's stations that must lie on its line for the shaft to count as matched.
const MATCHED_SHARE: f64 = 0.6;
/// Shafts that must match, as a share by their stations of those that both photos show.
const LEAST_MATCHED: f64 = 0.5;

/// Correlation of the maps of edges from which they suffice. Below it another field may be laid on by chance, and
/// right pairs lie there too whose shafts are few, dim or mottled inside: then shafts that run different ways must
/// lie on their lines.
pub(super) const SURE_AGREEMENT: f64 = 0.44;
/// How far apart two shafts must run to bear it out, sine of the angle (20°): what runs one way can be laid on anything
/// that runs so.
const LEAST_APART: f64 = 0.34;

/// One shaft as both photos show it.
#[derive(Clone, Debug)]
pub struct Seen {
    /// Its clear stations on the first photo, pixels.
    pub places: Vec<Point>,
    /// Its width there, pixels.
    pub width_px: f64,
    /// Its middle line on the second photo, pixels; absent where it was not seen well.
    pub line: Option<Polyline>,
}

/// The registration drawn in by the shafts' lines.
///
/// # Errors
/// When shafts are there and most do not lie on their lines, or when the maps agree so little that shafts running
/// different ways would have to bear it out and do not.
pub fn refined(rough: &Registration, shafts: &[Seen]) -> Result<Registration, Mismatch> {
    let mut pulls = Vec::new();
    let mut of_shaft = Vec::new();
    for (index, shaft) in shafts.iter().enumerate() {
        let Some(line) = &shaft.line else { continue };
        for place in &shaft.places {
            let there = rough.by.of(*place);
            let near = line.nearest(there);
            // Beyond an end the nearest place says something along the shaft, which stations do not know.
            if near.s <= 0.0 || near.s >= line.length() {
                continue;
            }
            let normal = line.tangent(near.s, shaft.width_px.max(2.0)).normal();
            pulls.push(Pull { from: *place, to: line.at(near.s), normal, weight: 1.0 });
            of_shaft.push(index);
        }
    }
    let Some(found) = fitted(&pulls, &rough.by, TIE_PX) else {
        if rough.agreement < SURE_AGREEMENT {
            return Err(Mismatch::OtherField { agreement: Some(rough.agreement) });
        }
        return Ok(Registration { residual_px: None, n_shafts: 0, n_stations: 0, ..*rough });
    };
    // By their stations: a rim or a flake that is held for a shaft is short.
    let (mut seen, mut matched, mut n_shafts, mut n_stations) = (0, 0, 0, 0);
    let mut ways: Vec<Vec2> = Vec::new();
    for (index, shaft) in shafts.iter().enumerate() {
        let left: Vec<f64> =
            found.left_px.iter().zip(&of_shaft).filter(|(_, of)| **of == index).map(|(left, _)| left.abs()).collect();
        if left.is_empty() {
            continue;
        }
        let on = left.iter().filter(|left| **left <= (ON_WIDTHS * shaft.width_px).max(ON_PX)).count();
        seen += left.len();
        if on as f64 >= MATCHED_SHARE * left.len() as f64 {
            matched += left.len();
            n_shafts += 1;
            n_stations += on;
            ways.extend(way_of(shaft));
        }
    }
    if (matched as f64) < LEAST_MATCHED * seen as f64 {
        return Err(Mismatch::ShaftsApart { agreement: rough.agreement });
    }
    let crossing = ways.iter().any(|a| ways.iter().any(|b| a.cross(*b).abs() > LEAST_APART));
    if rough.agreement < SURE_AGREEMENT && !crossing {
        return Err(Mismatch::OtherField { agreement: Some(rough.agreement) });
    }
    Ok(Registration { by: found.similarity, residual_px: Some(found.residual_px), n_shafts, n_stations, ..*rough })
}

/// The way a shaft runs, from its first to its last station.
fn way_of(shaft: &Seen) -> Option<Vec2> {
    let (first, last) = (shaft.places.first()?, shaft.places.last()?);
    let way = *last - *first;
    (way.length() > 0.0).then(|| way.unit())
}

#[cfg(test)]
mod tests {
    use super::{Seen, refined};
    use crate::maths::point::{Point, Vec2};
    use crate::maths::polyline::Polyline;
    use crate::maths::similarity::Similarity;
    use crate::registration::{Mismatch, Registration};

    fn shaft(angle: f64, by: &Similarity, aside: f64) -> Seen {
        let along = Vec2::from_angle(angle);
        let places: Vec<Point> = (-20..=20)
            .map(|i| Point::new(300.0, 220.0) + along * (8.0 * f64::from(i)) + along.normal() * 60.0)
            .collect();
        let line = Polyline::new(places.iter().map(|p| by.of(*p) + along.normal() * aside));
        Seen { places: places[2..39].to_vec(), width_px: 12.0, line }
    }

    fn rough(by: Similarity) -> Registration {
        Registration { by, residual_px: None, n_shafts: 0, n_stations: 0, agreement: 0.5, peak_quality: 9.0 }
    }

    #[test]
    fn lines_draw_a_rough_registration_in() {
        let truth = Similarity::about(Point::new(300.0, 220.0), 0.02, 1.01, Vec2::new(5.0, 3.0));
        let near = Similarity::about(Point::new(300.0, 220.0), 0.015, 1.008, Vec2::new(4.2, 3.9));
        let shafts: Vec<Seen> = [0.1, 0.9, 2.0].map(|angle| shaft(angle, &truth, 0.0)).to_vec();
        let found = refined(&rough(near), &shafts).unwrap();
        assert!(found.by.of(Point::new(0.0, 0.0)).distance(truth.of(Point::new(0.0, 0.0))) < 0.05, "{found:?}");
        assert_eq!((found.n_shafts, found.n_stations), (3, 111));
        assert!(found.residual_px.unwrap() < 0.05);
    }

    #[test]
    fn where_maps_agree_little_shafts_that_run_different_ways_must_bear_it_out() {
        let little = Registration { agreement: 0.3, ..rough(Similarity::NONE) };
        let on = |angles: &[f64]| angles.iter().map(|&angle| shaft(angle, &Similarity::NONE, 0.0)).collect::<Vec<_>>();
        assert_eq!(refined(&little, &on(&[0.1, 0.9])).unwrap().n_shafts, 2);
        let unsure = Err(Mismatch::OtherField { agreement: Some(0.3) });
        assert_eq!(refined(&little, &on(&[0.1, 0.2])), unsure, "both run one way");
        assert_eq!(refined(&little, &on(&[0.1])), unsure);
        assert_eq!(refined(&little, &[]), unsure);
    }

    #[test]
    fn short_things_that_lie_apart_do_not_outweigh_long_shafts() {
        let mut seen: Vec<Seen> = [0.1, 1.4].map(|angle| shaft(angle, &Similarity::NONE, 0.2)).to_vec();
        let rims = [(0.9, -14.0), (2.0, 11.0), (2.6, -9.0)].map(|(angle, aside)| {
            let rim = shaft(angle, &Similarity::NONE, aside);
            Seen { places: rim.places[..rim.places.len() / 4].to_vec(), ..rim }
        });
        seen.extend(rims);
        let found = refined(&rough(Similarity::NONE), &seen).unwrap();
        assert_eq!(found.n_shafts, 2);
    }

    #[test]
    fn shafts_that_lie_apart_are_refused_and_none_leaves_it_rough() {
        let apart: Vec<Seen> = [(0.1, 9.0), (0.9, -14.0), (2.0, 11.0), (2.6, -9.0), (1.4, 16.0)]
            .map(|(angle, aside)| shaft(angle, &Similarity::NONE, aside))
            .to_vec();
        assert_eq!(refined(&rough(Similarity::NONE), &apart), Err(Mismatch::ShaftsApart { agreement: 0.5 }));
        assert_eq!(refined(&rough(Similarity::NONE), &[]).unwrap(), rough(Similarity::NONE));
    }
}
