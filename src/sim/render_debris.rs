//! Bubbles, dust, flakes, streaks and puddles to light and loss on the pixel grid.

use super::layer::Layer;
use super::scene::{Debris, DebrisKind, Scene};
use super::texture;

/// Sub-samples a pixel side: outlines of debris need no more, nothing is measured on them.
const SAMPLES_A_SIDE: usize = 2;

/// Outlines wander; beyond this multiple of the half extents there is nothing.
const REACH: f64 = 1.3;

/// Light of one kind of debris at one place, as factors on its inks.
#[derive(Clone, Copy, Default)]
struct Spot {
    glow: f32,
    leak: f32,
    lost: f32,
}

/// The light and loss of a piece of debris; `None` when it lies wholly outside the photo.
pub(super) fn debris_layer(scene: &Scene, debris: &Debris, glow: [f32; 3], leak: [f32; 3]) -> Option<Layer> {
    let reach = (REACH * debris.long_px.max(debris.short_px) + 2.0).ceil();
    let blur = 4.0 * debris.blur_px;
    let clip = |at: f64, size: usize| {
        let from = (at - reach).max(-blur).floor() as i32;
        let to = (at + reach).min(size as f64 + blur).ceil() as i32;
        (from < to).then_some((from, to))
    };
    let columns = clip(debris.at.x, scene.width_px)?;
    let rows = clip(debris.at.y, scene.height_px)?;
    let (cos, sin) = (libm::cos(debris.angle), libm::sin(debris.angle));
    let spans: Vec<Option<(i32, i32)>> =
        (rows.0..=rows.1).map(|y| columns_on_row(debris, cos, sin, y, columns)).collect();
    let mut layer = Layer::over(rows.0, &spans);
    // Puddles and streaks have no sharp outline.
    let soft = matches!(debris.kind, DebrisKind::Puddle | DebrisKind::Streak);
    let n = if soft { 1 } else { SAMPLES_A_SIDE };
    let share = 1.0 / (n * n) as f32;
    for (y, span) in (rows.0..=rows.1).zip(&spans) {
        let Some((first, last)) = *span else { continue };
        for x in first..=last {
            let mut sum = Spot::default();
            for k in 0..n * n {
                let sub = |k: usize| (k as f64 + 0.5) / n as f64 - 0.5;
                let dx = x as f64 + sub(k % n) - debris.at.x;
                let dy = y as f64 + sub(k / n) - debris.at.y;
                let u = ((dx * cos + dy * sin) / debris.long_px) as f32;
                let v = ((dy * cos - dx * sin) / debris.short_px) as f32;
                let spot = spot(debris, u, v);
                sum.glow += spot.glow * share;
                sum.leak += spot.leak * share;
                sum.lost += spot.lost * share;
            }
            if sum.glow > 0.0 || sum.leak > 0.0 || sum.lost > 0.0 {
                let light = |c: usize| sum.glow * debris.strength as f32 * glow[c] + sum.leak * leak[c];
                layer.add(x, y, [light(0), light(1), light(2), sum.lost.min(1.0)]);
            }
        }
    }
    Some(layer)
}

/// Columns of a row inside the ellipse that holds the debris, kept to `columns`.
fn columns_on_row(debris: &Debris, cos: f64, sin: f64, y: i32, columns: (i32, i32)) -> Option<(i32, i32)> {
    // Solve ((dx cos + dy sin) / a)² + ((dy cos − dx sin) / b)² = 1 for dx; a pixel is added all around.
    let (a, b) = (REACH * debris.long_px + 1.0, REACH * debris.short_px + 1.0);
    let dy = y as f64 - debris.at.y;
    let p = cos * cos / (a * a) + sin * sin / (b * b);
    let q = cos * sin * (1.0 / (a * a) - 1.0 / (b * b)) * dy;
    let r = dy * dy * (sin * sin / (a * a) + cos * cos / (b * b)) - 1.0;
    let root = (q * q - p * r).max(0.0).sqrt();
    if q * q < p * r {
        return None;
    }
    let from = ((debris.at.x + (-q - root) / p).floor() as i32).max(columns.0);
    let to = ((debris.at.x + (-q + root) / p).ceil() as i32).min(columns.1);
    (from <= to).then_some((from, to))
}

/// `u`, `v`: place relative to the debris's half extents along and across its long axis.
fn spot(debris: &Debris, u: f32, v: f32) -> Spot {
    let seed = debris.texture;
    let r = (u * u + v * v).sqrt();
    if r > REACH as f32 {
        return Spot::default();
    }
    match debris.kind {
        DebrisKind::Bubble => {
            // The rim throws the lamp back (facts 3.19: trapped air dominates reflections); one side more than the other.
            let wobble = 1.0 + 0.06 * texture::over(seed, 2.0 * u, 2.0 * v);
            let edge = r * wobble;
            let lit_side = 0.55 + 0.45 * (u * 0.8 + v * 0.6) / r.max(0.05);
            let rim = bump(edge, 0.93, 0.07) * lit_side + 0.25 * bump(edge, 0.72, 0.10) * (1.0 - lit_side);
            let inside = if edge < 0.9 { 0.25 } else { 0.0 };
            Spot { glow: 0.0, leak: rim * 1.2, lost: inside + 0.4 * bump(edge, 0.97, 0.06) }
        }
        DebrisKind::Dust => {
            let ragged = 1.0 + 0.5 * texture::rough(seed, 2.2 * u, 2.2 * v);
            let body = (1.0 - r * r * ragged).max(0.0).sqrt();
            Spot { glow: body, leak: 0.2 * body, lost: 0.5 * body }
        }
        DebrisKind::Flake => {
            let outline = 1.0 + 0.45 * texture::rough(seed, 1.6 * u + 9.0, 1.6 * v);
            if r * outline > 0.95 {
                return Spot::default();
            }
            let cells = texture::rough(seed ^ 0x21, 7.0 * u, 7.0 * v);
            let fold = (texture::over(seed ^ 0x22, 2.5 * u, 2.5 * v).abs() * 4.0).min(1.0);
            let light = (0.55 + 0.35 * cells + 0.35 * (1.0 - fold)).max(0.05);
            Spot { glow: light, leak: 0.15 * light, lost: 0.35 }
        }
        DebrisKind::Streak => {
            let ends = (1.0 - u * u).max(0.0);
            let ragged = 0.6 + 0.4 * texture::rough(seed, 5.0 * u, 1.3 * v);
            let light = ends * (1.0 - v * v).max(0.0).powi(2) * ragged;
            Spot { glow: light, leak: 0.0, lost: 0.0 }
        }
        DebrisKind::Puddle => {
            let outline = 1.0 + 0.5 * texture::rough(seed, 1.3 * u + 4.0, 1.3 * v);
            let height = (1.0 - r * r * outline).max(0.0);
            let ring = bump(height, 0.12, 0.12);
            let clots = 1.0 + 0.4 * texture::rough(seed ^ 0x44, 6.0 * u, 6.0 * v);
            Spot { glow: (0.7 * height.sqrt() + 0.4 * ring) * clots, leak: 0.0, lost: 0.1 * height }
        }
    }
}

/// A smooth bump of height 1 at `middle`, 0 beyond `half_width` from it.
fn bump(t: f32, middle: f32, half_width: f32) -> f32 {
    let d = (t - middle) / half_width;
    if d.abs() >= 1.0 { 0.0 } else { (1.0 - d * d) * (1.0 - d * d) }
}
