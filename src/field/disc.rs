//! The bright disc of a photo taken through an eyepiece.
//!
//! The dark surround is told from the ground of the slide by brightness; a circle is fitted to the border between
//! them, dropping border points that lie off it. No circle, no disc: vignetting alone has no border.

use super::Disc;
use crate::maths::circle::Circle;
use crate::maths::point::Point;
use crate::maths::raster::Raster;
use crate::maths::stats::{median, quantile};

/// Side of the small picture the disc is sought in.
const SIDE: usize = 320;
/// The surround must be at least this much darker than the middle.
const DARKER: f64 = 0.8;
/// And by this much linear light, summed over the channels: cameras lift black, so a ratio alone says little.
const LEAST_FALL: f64 = 0.0015;
/// Share of border points that must lie on the circle.
const INLIERS: f64 = 0.6;

/// The eyepiece disc in full-resolution pixels, if there is one.
pub(super) fn disc(planes: &[Raster<f32>; 3], reduction: usize) -> Option<Disc> {
    let (width, height) = (planes[0].width(), planes[0].height());
    let step = width.max(height).div_ceil(SIDE).max(1);
    let (nx, ny) = (width / step, height / step);
    if nx < 40 || ny < 40 {
        return None;
    }
    let small = Raster::from_fn(nx, ny, |i, j| {
        let mut sum = 0.0;
        for y in j * step..(j + 1) * step {
            for plane in planes {
                sum += plane.row(y)[i * step..(i + 1) * step].iter().map(|&v| f64::from(v)).sum::<f64>();
            }
        }
        sum / (step * step) as f64
    });
    let corner = (nx.min(ny) / 14).max(2);
    let corners = [(0, 0), (nx - corner, 0), (0, ny - corner), (nx - corner, ny - corner)];
    let mut dark: Vec<f64> = corners
        .iter()
        .filter_map(|&(x0, y0)| {
            let mut values: Vec<f64> =
                (0..corner * corner).map(|k| small.at(x0 + k % corner, y0 + k / corner)).collect();
            median(&mut values)
        })
        .collect();
    // A disc cut by the frame still leaves two corners dark.
    let surround = quantile(&mut dark, 0.34)?;
    let mut middle: Vec<f64> = (0..nx * ny)
        .filter(|k| {
            let (dx, dy) = ((k % nx) as f64 / nx as f64 - 0.5, (k / nx) as f64 / ny as f64 - 0.5);
            dx.hypot(dy) < 0.22
        })
        .map(|k| small.data()[k])
        .collect();
    let ground = quantile(&mut middle, 0.35)?;
    if surround > DARKER * ground || ground - surround < LEAST_FALL {
        return None;
    }
    let threshold = surround + 0.5 * (ground - surround);
    let bright = small.map(|v| v > threshold);
    let border = outermost_bright(&bright);
    fit(&border, nx, ny).filter(|circle| falls_at_once(&small, circle, surround, ground)).map(|circle| {
        let unit = (step * reduction) as f64;
        let shift = 0.5 * unit - 0.5;
        // One small pixel is given away, so that the border's own fall of light stays out.
        Disc {
            centre: Point::new(circle.centre.x * unit + shift, circle.centre.y * unit + shift),
            radius_px: (circle.radius - 0.8) * unit,
        }
    })
}

/// Whether most of the fall from ground to surround happens within a few per cent of the radius: vignetting is slower.
fn falls_at_once(small: &Raster<f64>, circle: &Circle, surround: f64, ground: f64) -> bool {
    let (Point { x: cx, y: cy }, r) = (circle.centre, circle.radius);
    let ring = |radius: f64| {
        let mut values: Vec<f64> = (0..180)
            .filter_map(|k| {
                let angle = f64::from(k) / 180.0 * std::f64::consts::TAU;
                small.get((cx + radius * angle.cos()).round() as isize, (cy + radius * angle.sin()).round() as isize)
            })
            .collect();
        median(&mut values)
    };
    let (Some(within), Some(beyond)) = (ring(0.93 * r), ring(1.06 * r)) else { return false };
    within - beyond > 0.5 * (ground - surround) && beyond < surround + 0.35 * (ground - surround)
}

/// First bright place from the frame inwards, in every row and column; places at the frame itself left out.
fn outermost_bright(bright: &Raster<bool>) -> Vec<Point> {
    let (nx, ny) = (bright.width(), bright.height());
    let mut border = Vec::new();
    let run = 3;
    let mut look = |line: &mut dyn Iterator<Item = (usize, usize)>| {
        let places: Vec<(usize, usize)> = line.collect();
        let first = places.windows(run).position(|w| w.iter().all(|&(x, y)| bright.at(x, y)));
        if let Some(at) = first.filter(|&at| at > 0) {
            border.push(Point::new(places[at].0 as f64, places[at].1 as f64));
        }
    };
    for y in 0..ny {
        look(&mut (0..nx).map(|x| (x, y)));
        look(&mut (0..nx).rev().map(|x| (x, y)));
    }
    for x in 0..nx {
        look(&mut (0..ny).map(|y| (x, y)));
        look(&mut (0..ny).rev().map(|y| (x, y)));
    }
    border
}

/// The circle that most of the border lies on, small pixels.
fn fit(border: &[Point], nx: usize, ny: usize) -> Option<Circle> {
    let diagonal = (nx as f64).hypot(ny as f64);
    let off = |p: &Point, circle: &Circle| (p.distance(circle.centre) - circle.radius).abs();
    let mut kept = border.to_vec();
    let mut circle = None;
    for _ in 0..12 {
        if kept.len() < 40 {
            return None;
        }
        let next = Circle::through(&kept)?;
        let mut offs: Vec<f64> = border.iter().map(|p| off(p, &next)).collect();
        let limit = (2.5 * quantile(&mut offs, 0.5)?).max(1.5);
        kept = border.iter().filter(|p| off(p, &next) <= limit).copied().collect();
        circle = Some(next);
    }
    let circle = circle?;
    let on_circle: Vec<&Point> = border.iter().filter(|p| off(p, &circle) < 0.012 * diagonal).collect();
    let plausible = circle.radius > 0.2 * nx.min(ny) as f64 && circle.radius < 0.75 * diagonal;
    // The circle's border must be seen around, not in one short arc.
    let mut quarters = [0usize; 8];
    for &&p in &on_circle {
        let out = p - circle.centre;
        let angle = out.y.atan2(out.x) + std::f64::consts::PI;
        quarters[((angle / std::f64::consts::TAU * 8.0) as usize).min(7)] += 1;
    }
    let seen = quarters.iter().filter(|&&n| n >= 4).count();
    (plausible && on_circle.len() as f64 >= INLIERS * border.len() as f64 && seen >= 4).then_some(circle)
}

#[cfg(test)]
mod tests {
    use super::disc;
    use crate::maths::raster::Raster;

    fn planes(light: impl Fn(f64, f64) -> f32) -> [Raster<f32>; 3] {
        let plane = Raster::from_fn(640, 480, |x, y| light(x as f64, y as f64));
        [plane.clone(), plane.clone(), plane]
    }

    #[test]
    fn a_disc_is_found_with_a_shaft_across_its_border() {
        let found = disc(
            &planes(|x, y| {
                let inside = (x - 330.0).hypot(y - 240.0) < 210.0;
                if inside { if (y - 200.0).abs() < 15.0 { 0.5 } else { 0.06 } } else { 0.002 }
            }),
            2,
        )
        .unwrap();
        assert!((found.centre.x - 660.5).abs() < 6.0 && (found.centre.y - 480.5).abs() < 6.0, "{found:?}");
        assert!((found.radius_px - 420.0).abs() < 10.0, "{found:?}");
    }

    #[test]
    fn vignetting_and_plain_fields_are_no_disc() {
        assert_eq!(disc(&planes(|x, y| 0.1 - 0.08 * ((x - 320.0).hypot(y - 240.0) as f32 / 400.0).powi(2)), 1), None);
        assert_eq!(disc(&planes(|_, _| 0.1), 1), None);
        assert_eq!(disc(&planes(|x, _| if x < 200.0 { 0.0 } else { 0.1 }), 1), None);
    }
}
