//! The share of the ground's light that passes across a shaft in visible light, in blocks along it.

use super::Profile;
use super::scene::Scene;
use crate::maths::polyline::Polyline;

/// Half of what is looked at, radii: the outline and the ground beside it.
const VIEW_RADII: f64 = 1.6;
/// Places from one side to the other.
pub const PLACES: usize = 65;
/// Most blocks along a shaft; more are noisier and say no more.
const MOST_BLOCKS: usize = 24;
/// Fewest clear stations for a block.
const LEAST_STATIONS: usize = 3;
/// Thinnest shaft that is looked at, pixels of radius: under it a medulla is narrower than the blur.
const THINNEST_RADIUS_PX: f64 = 3.0;
/// Darkest ground that a share of is formed, linear light.
const DARKEST_GROUND: f64 = 0.02;

/// What light passes across a shaft.
#[derive(Clone, Debug, PartialEq)]
pub struct Sections {
    /// Radius of the shaft by the UV photo, pixels of the photo in visible light.
    pub radius_px: f64,
    /// Share of the ground's light at [`PLACES`] places from −`VIEW_RADII` to `VIEW_RADII` radii, a block.
    pub passed: Vec<Vec<f64>>,
}

impl Sections {
    /// Distance of a place from the axis, radii.
    pub fn place(i: usize) -> f64 {
        VIEW_RADII * (2.0 * i as f64 / (PLACES - 1) as f64 - 1.0)
    }
}

/// What passes across the clear stations of a shaft; `None` with too few of them or on a shaft too thin.
pub(super) fn sections(scene: &Scene, profile: &Profile, radius_px: f64) -> Option<Sections> {
    let clear: Vec<f64> = profile.stations.iter().filter(|s| s.clear).map(|s| s.s_px).collect();
    if radius_px < THINNEST_RADIUS_PX || clear.len() < LEAST_STATIONS {
        return None;
    }
    let n_blocks = (clear.len() / LEAST_STATIONS).clamp(1, MOST_BLOCKS);
    let spacing = profile.centreline.length() / profile.stations.len().max(1) as f64;
    let passed: Vec<Vec<f64>> = (0..n_blocks)
        .filter_map(|block| {
            let bounds = [block, block + 1].map(|b| b * clear.len() / n_blocks);
            block_of(scene, &profile.centreline, &clear[bounds[0]..bounds[1]], spacing, radius_px)
        })
        .collect();
    (!passed.is_empty()).then_some(Sections { radius_px, passed })
}

/// The mean over a block's stations; `None` where the ground is too dark.
fn block_of(scene: &Scene, line: &Polyline, stations: &[f64], spacing: f64, radius_px: f64) -> Option<Vec<f64>> {
    // A line of samples every pixel along each station, so that every pixel takes part.
    let n_along = spacing.ceil().clamp(1.0, 40.0) as usize;
    let mut sums = vec![0.0; PLACES];
    let mut count = 0.0;
    for s in stations {
        for k in 0..n_along {
            let at_px = s + spacing * ((k as f64 + 0.5) / n_along as f64 - 0.5);
            let (at, normal) = (line.at(at_px), line.tangent(at_px, radius_px).normal());
            let ground = scene.background_at(at)?.iter().sum::<f64>();
            if ground < 3.0 * DARKEST_GROUND {
                return None;
            }
            for (i, sum) in sums.iter_mut().enumerate() {
                let place = at + normal * (Sections::place(i) * radius_px);
                *sum += scene.photo.between(place.x, place.y).iter().map(|&c| f64::from(c)).sum::<f64>() / ground;
            }
            count += 1.0;
        }
    }
    (count > 0.0).then(|| sums.iter().map(|sum| sum / count).collect())
}
