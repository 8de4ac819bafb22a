//! 4 · What changes along a hair. Pixels end here.

use crate::concerns::Concern;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;
use crate::maths::raster::Raster;
use crate::units::Scale;

mod bins;

mod branches;

mod course;

mod ends;

mod fluorescence;

mod from_shafts;

mod least;

mod measure;

mod median_width;

mod neighbours;

mod photo;

mod scene;

mod sections;

mod stations;

mod streaks;

mod strip;

mod width;

#[cfg(test)]
mod behaviour;

#[cfg(test)]
mod metrology;

#[cfg(test)]
mod phantoms;

pub use branches::Branches;
pub use from_shafts::{Settings, from_shafts, in_visible_light};
pub use least::Least;
pub use median_width::MedianWidth;
pub use sections::{PLACES as SECTION_PLACES, Sections};

/// All shafts of one photo, measured. From here on no pixel of the photo is reachable.
#[derive(Clone, Debug)]
pub struct Profiles {
    /// Columns of the photo.
    pub width_px: usize,
    /// Rows of the photo.
    pub height_px: usize,
    /// Micrometres per pixel, where known.
    pub scale: Option<Scale>,
    /// Whether the photo has one channel only.
    pub monochrome: bool,
    /// Centre and radius of the eyepiece disc, full-resolution pixels, where there is one.
    pub disc: Option<(Point, f64)>,
    /// Blur of the photo where shafts lie: median over shafts of the fitted Gaussian sigma, pixels.
    pub blur_px: Option<f64>,
    /// The shafts in the order they were found.
    pub shafts: Vec<Profile>,
    /// What was held to be no shaft: middle, extent in pixels, reason as a stable name.
    pub rejects: Vec<(Point, f64, &'static str)>,
    /// What a person should know about the photo.
    pub concerns: Vec<Concern>,
}

/// One shaft, measured station by station.
#[derive(Clone, Debug)]
pub struct Profile {
    /// Refined centreline, full-resolution pixels; first point = first station's end.
    pub centreline: Polyline,
    /// Cross-sections in order of arc length, evenly spaced.
    pub stations: Vec<Station>,
    /// The shaft resampled straight, background taken away, brightness in noise units of the background:
    /// x = arc length in steps of `strip_step_px`, y = distance from the centreline, middle row = centreline.
    pub strip: [Raster<f32>; 3],
    /// Pixels of the photo per strip column and row.
    pub strip_step_px: f64,
    /// Gaussian sigma of the blur at this shaft, pixels, without the pixels' own extent; `None` when no station was
    /// fit to tell.
    pub blur_px: Option<f64>,
    /// How the light is spread across the shaft; `None` as for `blur_px`.
    pub emission: Option<Emission>,
    /// Standard deviation that blur and emission put on all widths alike, as a share of the width; `None` as for
    /// `blur_px`.
    pub width_shared_sd: Option<f64>,
    /// What no unbiased method could beat on its width; absent where it was not fitted.
    pub least: Option<Least>,
    /// What becomes of the shaft at the first and last station.
    pub ends: [EndSeen; 2],
    /// Where it branches; `None` while it has not been compared with the photo's other traces.
    pub branches: Option<Branches>,
    /// The same shaft in a second photo of the field in visible light, where there is one.
    pub visible: Option<Box<Visible>>,
    /// What a person should know about this shaft.
    pub concerns: Vec<Concern>,
}

/// A shaft in a photo in visible light. Lengths are pixels of that photo.
#[derive(Clone, Debug)]
pub struct Visible {
    /// The shaft measured there as a shadow on a bright ground.
    pub profile: Profile,
    /// What light passes across it; absent where its width by the UV photo is not known or too little lies clear.
    pub sections: Option<Sections>,
}

/// How light is spread across a shaft before the blur, the same for all its stations.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Emission {
    /// 0 = clear volume emitter (light in proportion to the chord), 1 = opaque (flat); from −0.5 to 1.
    pub flatness: f64,
    /// Radius of a darker or brighter core as a share of the outer radius, 0 to 1, where one was found.
    pub core_radius: Option<f64>,
    /// Height (below 0: depth) of that core as a share of the cylinder's height; near −`core_radius` for a shell.
    pub core_strength: Option<f64>,
}

impl From<crate::maths::cross_section::Shape> for Emission {
    fn from(shape: crate::maths::cross_section::Shape) -> Emission {
        Emission {
            flatness: shape.flatness,
            core_radius: shape.core.map(|core| core.radius_share),
            core_strength: shape.core.map(|core| core.strength),
        }
    }
}

/// One cross-section of a shaft.
#[derive(Clone, Debug, PartialEq)]
pub struct Station {
    /// Arc length, pixels.
    pub s_px: f64,
    /// Whether it lies clear of other shafts, of the border and of clipped pixels, so that it may be measured.
    pub clear: bool,
    /// Whether its light is this shaft's own, though it may lie at an end or be clipped: enough to say where along
    /// the shaft it fluoresces, not how bright or how wide it is.
    pub in_sight: bool,
    /// Outer diameter, pixels, with one standard deviation; `None` where it could not be fitted.
    pub width_px: Option<f64>,
    /// One standard deviation of `width_px`, pixels: the station's noise and what the shaft's blur and emission put
    /// on all stations alike.
    pub width_sd_px: Option<f64>,
    /// The station's own part of `width_sd_px`, pixels: independent from station to station.
    pub width_own_sd_px: Option<f64>,
    /// Distance of the left and the right edge from the centreline, pixels (left = against the normal).
    pub edges_px: Option<[f64; 2]>,
    /// Mean fluorescence inside the outline above the background, linear light, red, green, blue (may be below 0).
    pub glow: [f64; 3],
    /// The same over those parts of the outline that no channel is clipped in, mostly its flanks: where `glow` is
    /// clipped this still has the right colour. `None` where all is clipped.
    pub unclipped_glow: Option<[f64; 3]>,
    /// Light of the background beside the station, linear light.
    pub ground: [f64; 3],
    /// One standard deviation of `glow`, linear light.
    pub glow_sd: [f64; 3],
    /// Standard deviation that all channels of `glow` share beyond that, as a share of the glow: what the outline's
    /// uncertainty does. It changes brightness but not colour.
    pub glow_shared_sd: f64,
    /// Mean glow of the middle third of the outline divided by that of the outer third (all channels, weighted by noise).
    pub core_to_rim: Option<f64>,
    /// Glow just outside the outline (half a width to both sides) divided by the glow inside.
    pub spill: Option<f64>,
    /// Depth of a dark line in the middle against the fitted cylinder, share of its height: the medulla in UV; 0 = none,
    /// below 0 = brighter than the cylinder.
    pub medulla: Option<f64>,
    /// Variance of the light along the shaft within the station, at equal distance from the axis, over that of the
    /// noise: 1 = smooth, more = grains, ladder or scales finer than the station is long; below 1 where compression
    /// took noise away. `None` where the shaft is too dim or too few pixels wide.
    pub texture: Option<f64>,
    /// Root mean square of what the fitted cross-section leaves, divided by the noise.
    pub residual: Option<f64>,
    /// Share of the station's pixels that are clipped.
    pub clipped: f64,
}

/// What is seen at an end of a shaft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EndSeen {
    /// A root: bulb, club or frayed start.
    Root,
    /// Narrows to a point.
    Tapered,
    /// A ragged or oblique end.
    Broken,
    /// A square, clean end.
    Cut,
    /// It leaves the photo or the field.
    Outside,
    /// It ends in view but its shape cannot be told, or it cannot be followed.
    Unknown,
}

impl EndSeen {
    /// Stable name for files and programs.
    pub fn code(self) -> &'static str {
        match self {
            EndSeen::Root => "root",
            EndSeen::Tapered => "tapered",
            EndSeen::Broken => "broken",
            EndSeen::Cut => "cut",
            EndSeen::Outside => "outside",
            EndSeen::Unknown => "unknown",
        }
    }
}
