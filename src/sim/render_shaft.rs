//! One shaft to light and loss on the pixel grid, before optics: every pixel is the mean of sub-samples.

use crate::maths::point::Point;

use super::course::COURSE_STEP_PX;
use super::cross_section::{Grain, Sight, sight};
use super::layer::{Layer, Lit};
use super::scene::{End, Scene, Shaft};
use super::texture;

/// Sub-samples across the width that a shaft gets at least: the area of a half ellipse is then right to 0.1 %.
const SAMPLES_ACROSS: f64 = 80.0;
/// Most sub-samples a pixel side.
const MOST_SAMPLES_A_SIDE: usize = 8;
/// Below this sigma (pixels) a shaft is drawn and blurred on a grid of half pixels: a Gaussian sampled once a pixel has
/// 2 % too little variance at sigma 0.6 and 14 % at 0.5; from 1.0 on it is right to a part in a million.
const FINE_BELOW_SIGMA_PX: f64 = 1.0;
/// Shortest piece of course drawn at once, pixels.
const PIECE_PX: f64 = 12.0;
/// Ratio of the sigmas of two neighbouring blur levels of a shaft that runs through focus.
const BLUR_LEVEL_RATIO: f64 = 1.3;

/// Colours of a shaft's light on this camera, linear.
pub(super) struct Inks {
    pub(super) own: [f32; 3],
    pub(super) extra: [f32; 3],
    pub(super) scatter: [f32; 3],
}

/// The shaft's light and loss after its blur, on the pixels of the photo.
pub(super) fn shaft_layers(scene: &Scene, shaft: &Shaft, inks: &Inks) -> Vec<Layer> {
    let levels = blur_levels(shaft);
    let fine = if levels[0] < FINE_BELOW_SIGMA_PX { 2 } else { 1 };
    let (width, height) = (fine * scene.width_px, fine * scene.height_px);
    unblurred_layers(scene, shaft, inks, &levels, fine)
        .into_iter()
        .map(|(layer, sigma)| {
            let blurred = layer.blurred((fine as f64 * sigma) as f32, width, height);
            if fine == 2 { blurred.halved() } else { blurred }
        })
        .collect()
}

/// The shaft's light and loss on a grid of `fine` cells a pixel side, split by the sigma of the blur (pixels of the
/// photo) that each part needs.
fn unblurred_layers(scene: &Scene, shaft: &Shaft, inks: &Inks, levels: &[f64], fine: usize) -> Vec<(Layer, f64)> {
    let pieces = pieces(scene, shaft, fine as f64);
    let mut layers: Vec<(Layer, f64)> = Vec::with_capacity(levels.len());
    for (i, sigma) in levels.iter().enumerate() {
        // A level holds only the pieces whose blur lies between its two neighbours.
        let low = if i > 0 { levels[i - 1] } else { 0.0 };
        let high = levels.get(i + 1).copied().unwrap_or(f64::INFINITY);
        let (first_row, spans) = rows_of(pieces.iter().filter(|piece| {
            let (a, b) = (shaft.blur_at(piece.from_px), shaft.blur_at(piece.to_px));
            a.max(b) >= low && a.min(b) <= high
        }));
        layers.push((Layer::over(first_row, &spans), *sigma));
    }
    let width_px = 2.0 * shaft.reach_px();
    let n_side = ((SAMPLES_ACROSS / width_px).ceil() as usize).clamp(1, MOST_SAMPLES_A_SIDE).div_ceil(fine);
    let brush = Brush { shaft, inks, um_per_px: scene.um_per_px as f32, samples: n_side, fine: fine as f64 };
    for piece in &pieces {
        brush.paint(piece, &mut layers);
    }
    layers
}

/// A stretch of the course with the rows and columns it may touch.
struct Piece {
    from_px: f64,
    to_px: f64,
    first_row: i32,
    spans: Vec<(i32, i32)>,
}

/// Cuts the part of the course near the photo into pieces about as long as the shaft is wide.
fn pieces(scene: &Scene, shaft: &Shaft, fine: f64) -> Vec<Piece> {
    let reach = shaft.reach_px() + 1.0;
    let margin = reach + 4.0 * shaft.blur_px[0].max(shaft.blur_px[1]) + 2.0;
    let ragged = |end: End| match end {
        End::Broken { ragged_um } => ragged_um / scene.um_per_px,
        End::Cut { slope } => slope.abs() * reach,
        _ => 0.0,
    };
    let from = (shaft.from_px - ragged(shaft.base_end) - 1.0).max(0.0);
    let to = (shaft.to_px + ragged(shaft.tip_end) + 1.0).min(shaft.course.length_px());
    let n = ((to - from) / PIECE_PX.max(0.7 * reach)).ceil().max(1.0);
    let step = (to - from) / n;
    let near = |s: f64| {
        let p = shaft.course.at(s);
        p.x > -margin && p.y > -margin && p.x < scene.width_px as f64 + margin && p.y < scene.height_px as f64 + margin
    };
    let mut pieces = Vec::new();
    for i in 0..n as usize {
        let (a, b) = (from + step * i as f64, from + step * (i + 1) as f64);
        if near(a) || near(b) || near(0.5 * (a + b)) {
            pieces.push(piece(shaft, a, b, reach, fine));
        }
    }
    pieces
}

/// The piece with the rows and columns (of a grid of `fine` cells a pixel side) of a slanted rectangle that holds
/// everything within `reach` of it.
fn piece(shaft: &Shaft, from_px: f64, to_px: f64, reach: f64, fine: f64) -> Piece {
    let (a, b) = (shaft.course.at(from_px), shaft.course.at(to_px));
    let along = (b - a).unit();
    let across = along.normal();
    let n = ((to_px - from_px) / COURSE_STEP_PX).ceil() as usize;
    let (mut low, mut high, mut start, mut stop) = (0.0f64, 0.0f64, 0.0f64, (b - a).dot(along));
    for i in 0..=n {
        let s = from_px + (to_px - from_px) * i as f64 / n as f64;
        let (at, normal) = (shaft.course.at(s), shaft.course.tangent(s).normal());
        for side in [-reach, reach] {
            let off = at + normal * side - a;
            (low, high) = (low.min(off.dot(across)), high.max(off.dot(across)));
            (start, stop) = (start.min(off.dot(along)), stop.max(off.dot(along)));
        }
    }
    let corner = |t: f64, v: f64| {
        let p = a + along * t + across * v;
        Point::new((p.x + 0.5) * fine - 0.5, (p.y + 0.5) * fine - 0.5)
    };
    let corners = [corner(start, low), corner(stop, low), corner(stop, high), corner(start, high)];
    let top = corners.iter().map(|p| p.y).fold(f64::INFINITY, f64::min).floor() as i32;
    let bottom = corners.iter().map(|p| p.y).fold(f64::NEG_INFINITY, f64::max).ceil() as i32;
    let spans = (top..=bottom).map(|y| columns_at(&corners, y)).collect();
    Piece { from_px, to_px, first_row: top, spans }
}

/// First and last column of a convex outline on a row (the whole row's height counts).
fn columns_at(corners: &[Point; 4], y: i32) -> (i32, i32) {
    let (above, below) = (y as f64 - 0.5, y as f64 + 0.5);
    let (mut left, mut right) = (f64::INFINITY, f64::NEG_INFINITY);
    for i in 0..4 {
        let (p, q) = (corners[i], corners[(i + 1) % 4]);
        let (low, high) = if p.y < q.y { (p, q) } else { (q, p) };
        if high.y < above || low.y > below {
            continue;
        }
        for edge in [above.clamp(low.y, high.y), below.clamp(low.y, high.y)] {
            let t = if high.y > low.y { (edge - low.y) / (high.y - low.y) } else { 0.0 };
            let x = low.x + (high.x - low.x) * t;
            (left, right) = (left.min(x), right.max(x));
            if high.y == low.y {
                (left, right) = (left.min(high.x), right.max(high.x));
            }
        }
    }
    if left <= right { (left.round() as i32, right.round() as i32) } else { (0, -1) }
}

/// First row of all pieces together, and the columns they cover on it and each row below.
fn rows_of<'a>(pieces: impl Iterator<Item = &'a Piece> + Clone) -> (i32, Vec<Option<(i32, i32)>>) {
    let Some(first) = pieces.clone().map(|p| p.first_row).min() else { return (0, Vec::new()) };
    let last = pieces.clone().map(|p| p.first_row + p.spans.len() as i32 - 1).max().unwrap_or(first);
    let mut spans: Vec<Option<(i32, i32)>> = vec![None; (last - first + 1) as usize];
    for piece in pieces {
        for (i, &(from, to)) in piece.spans.iter().enumerate() {
            if from <= to {
                let span = &mut spans[(piece.first_row - first) as usize + i];
                *span = Some(span.map_or((from, to), |(a, b)| (a.min(from), b.max(to))));
            }
        }
    }
    (first, spans)
}

/// Sigmas between the shaft's sharpest and softest place, a fixed ratio apart.
fn blur_levels(shaft: &Shaft) -> Vec<f64> {
    let (low, high) =
        (shaft.blur_px[0].min(shaft.blur_px[1]).max(0.05), shaft.blur_px[0].max(shaft.blur_px[1]).max(0.05));
    let n = (libm::log(high / low) / libm::log(BLUR_LEVEL_RATIO)).ceil().max(0.0) as usize;
    (0..=n).map(|i| if n == 0 { low } else { low * libm::pow(high / low, i as f64 / n as f64) }).collect()
}

struct Brush<'a> {
    shaft: &'a Shaft,
    inks: &'a Inks,
    um_per_px: f32,
    /// Sub-samples a side of a grid cell.
    samples: usize,
    /// Grid cells a side of a pixel.
    fine: f64,
}

impl Brush<'_> {
    fn paint(&self, piece: &Piece, layers: &mut [(Layer, f64)]) {
        let n = self.samples;
        let share = 1.0 / (n * n) as f32;
        let reach = self.shaft.reach_px();
        for (row, &(from, to)) in piece.spans.iter().enumerate() {
            let y = piece.first_row + row as i32;
            let mut guess_px = 0.5 * (piece.from_px + piece.to_px);
            for x in from..=to {
                let mut sum = Sight::default();
                let mut hit = false;
                for j in 0..n {
                    for i in 0..n {
                        let at = |cell: i32, k: usize| (cell as f64 + (k as f64 + 0.5) / n as f64) / self.fine - 0.5;
                        let place = Point::new(at(x, i), at(y, j));
                        let foot = self.shaft.foot(place, guess_px);
                        guess_px = foot.s_px.clamp(piece.from_px, piece.to_px);
                        if foot.s_px < piece.from_px || foot.s_px >= piece.to_px || foot.x_px.abs() > reach {
                            continue;
                        }
                        if let Some(seen) = self.seen(foot.s_px, foot.x_px as f32) {
                            hit = true;
                            sum.own += seen.own * share;
                            sum.extra += seen.extra * share;
                            sum.scatter += seen.scatter * share;
                            sum.lost += seen.lost * share;
                        }
                    }
                }
                if hit {
                    self.lay(x, y, guess_px, sum, layers);
                }
            }
        }
    }

    /// Puts a pixel's light on the two blur levels around the blur of its place, so that their mean variance is right.
    fn lay(&self, x: i32, y: i32, s_px: f64, sum: Sight, layers: &mut [(Layer, f64)]) {
        let inks = self.inks;
        let colour = |c: usize| sum.own * inks.own[c] + sum.extra * inks.extra[c] + sum.scatter * inks.scatter[c];
        let lit: Lit = [colour(0), colour(1), colour(2), sum.lost];
        let sigma = self.shaft.blur_at(s_px);
        let above = layers.partition_point(|(_, level)| *level < sigma).min(layers.len() - 1);
        if above == 0 {
            layers[0].0.add(x, y, lit);
            return;
        }
        let (low, high) = (layers[above - 1].1, layers[above].1);
        let to_high = ((sigma * sigma - low * low) / (high * high - low * low)).clamp(0.0, 1.0) as f32;
        layers[above - 1].0.add(x, y, lit.map(|v| v * (1.0 - to_high)));
        layers[above].0.add(x, y, lit.map(|v| v * to_high));
    }

    /// What one sub-sample sees; `None` beyond the shaft's ends.
    fn seen(&self, s_px: f64, x_px: f32) -> Option<Sight> {
        let shaft = self.shaft;
        let make = shaft.make_at(s_px);
        if !self.within_ends(s_px, x_px) {
            return None;
        }
        let (s_um, x_um) = (s_px as f32 * self.um_per_px, x_px * self.um_per_px);
        let surface = &shaft.surface;
        let mut grain = Grain::EVEN;
        let half_um = 0.5 * (make.edge_px[0] + make.edge_px[1]) * self.um_per_px;
        // Lengthwise streaks of an intact cortex; short blotches where it is broken down.
        let streak = texture::over(shaft.texture, s_um / 90.0, x_um / (0.18 * half_um + 0.6));
        grain.cortex += surface.streak_contrast * streak;
        if make.damage > 0.0 {
            let blotch = texture::rough(shaft.texture ^ 0x1f, s_um / 9.0, x_um / 5.0);
            grain.cortex += 0.55 * make.damage * blotch;
        }
        // Spores and what they have eaten out lie in clumps: uneven light, coarser than single grains.
        let clumps = if surface.clump_contrast > 0.0 && make.glow > 0.0 {
            let size = surface.clump_um as f32;
            surface.clump_contrast * make.glow * texture::rough(shaft.texture ^ 0x2b, s_um / size, x_um / size)
        } else {
            0.0
        };
        grain.cortex += clumps;
        if surface.scale_um > 0.0 && surface.scale_contrast > 0.0 {
            grain.cortex *= 1.0 + surface.scale_contrast * (1.0 - make.damage) * self.scale_line(s_um, x_um, half_um);
        }
        if surface.ladder_um > 0.0 {
            let warp = 0.35 * texture::along(shaft.texture ^ 0x77, s_um / 31.0);
            let rung = s_um / surface.ladder_um as f32 + warp;
            let inside = (texture::cell(rung).1 - 0.5).abs() * 2.0;
            // Air fills a cell but for thin walls.
            grain.air = (1.15 - inside * inside * inside * 1.1).clamp(0.05, 1.0);
        }
        if make.shell > 0.0 || make.shell_px[0] > make.edge_px[0] {
            grain.shell = if surface.grain_um > 0.0 {
                let size = surface.grain_um as f32;
                let (ball, own) = texture::balls(shaft.texture ^ 0x33, s_um / size, x_um / size);
                (1.0 + surface.shell_contrast * (ball - 0.55) * 1.6) * (1.0 + surface.grain_spread * own) + 1.5 * clumps
            } else {
                let size = surface.clot_um as f32;
                1.0 + surface.shell_contrast * texture::rough(shaft.texture ^ 0x35, s_um / size, x_um / size)
            };
        }
        grain.cortex = grain.cortex.max(0.0);
        grain.shell = grain.shell.max(0.0);
        Some(sight(make, grain, x_px, self.um_per_px))
    }

    /// Pattern of the scales' free edges: a darker line once a scale, bowed across the shaft; mean about 0.
    fn scale_line(&self, s_um: f32, x_um: f32, half_um: f32) -> f32 {
        let spacing = self.shaft.surface.scale_um as f32;
        let q = (x_um / half_um.max(1.0)).clamp(-1.0, 1.0);
        let bow = 0.45 * q * q + 0.35 * texture::over(self.shaft.texture ^ 0x51, s_um / (2.0 * spacing), 2.0 * q);
        let t = s_um / spacing + bow;
        let (_, f) = texture::cell(t);
        0.35 - 1.4 * (1.0 - 6.0 * f.min(1.0 - f)).max(0.0)
    }

    fn within_ends(&self, s_px: f64, x_px: f32) -> bool {
        let shaft = self.shaft;
        let jag = |end: End, seed: u32| match end {
            End::Broken { ragged_um } => {
                let x_um = x_px * self.um_per_px;
                let coarse = texture::along(shaft.texture ^ seed, x_um / 9.0 + 3.0);
                let fine = texture::along(shaft.texture ^ seed ^ 0x99, x_um / 2.2);
                (0.65 * coarse + 0.35 * fine) as f64 * ragged_um / self.um_per_px as f64
            }
            End::Cut { slope } => slope * x_px as f64,
            _ => 0.0,
        };
        s_px >= shaft.from_px + jag(shaft.base_end, 0xb5) && s_px <= shaft.to_px + jag(shaft.tip_end, 0x71)
    }
}
