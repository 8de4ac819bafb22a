//! 3 · Where the hairs are.
//!
//! What stands out of the ground (`contrast`, `mask`) is thinned to strands between junctions (`strands`, `breaks`). Strands
//! are chained through knots and over gaps by direction, width and colour (`arms`, `links`, `crossings`, `followed`).
//! Besides, each stretch along which a shaft lies alone (`stretches`) is followed by its two edges (`edges`, `walks`);
//! of both kinds of `courses` the ones are kept that the edges bear out (`choice`; decision 0011 says why). Rims of
//! bubbles, edges of the field and other things that are no shaft are cut off or rejected (`rims`, `tails`,
//! `rejects`), pieces of one shaft put together (`stitches`), and what lies on what is noted (`overlaps`).

use crate::concerns::Concern;
use crate::maths::point::Point;
use crate::maths::polyline::Polyline;

mod added;

mod arms;

mod breaks;

mod centreline;

mod choice;

mod contrast;

mod courses;

mod crossings;

mod edges;

mod followed;

mod from_field;

mod links;

mod mask;

mod overlaps;

mod rejects;

mod rims;

mod stitches;

mod strands;

mod stretches;

mod tails;

mod walks;

pub use from_field::{Given, Settings, Shafts, along, from_field};

/// One shaft as found: a first centreline and width, good enough to sample across it.
#[derive(Clone, Debug)]
pub struct Shaft {
    /// Centreline in full-resolution pixels; direction arbitrary.
    pub centreline: Polyline,
    /// First guess of the outer diameter, full-resolution pixels.
    pub width_px: f64,
    /// Stretches of the centreline (arc length from, to) where it lies on or against another shaft.
    pub overlaps: Vec<(f64, f64)>,
    /// What becomes of the shaft at its first and last point.
    pub ends: [EndAt; 2],
    /// What a person should know about this shaft.
    pub concerns: Vec<Concern>,
}

/// What becomes of a shaft at an end of its centreline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EndAt {
    /// It ends in view.
    Free,
    /// It leaves the photo or the field.
    Outside,
    /// It can be followed no further (under another shaft, out of focus, too dim).
    Lost,
}

/// A candidate that is no shaft.
#[derive(Clone, Debug, PartialEq)]
pub struct Reject {
    /// Its middle, full-resolution pixels.
    pub at: Point,
    /// Its greatest extent, full-resolution pixels.
    pub extent_px: f64,
    /// Why it is no shaft.
    pub reason: RejectReason,
}

/// Why a candidate is no shaft.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RejectReason {
    /// A ring or round blob: an air bubble.
    Bubble,
    /// Small and compact: dust.
    Dust,
    /// Broad and ragged: a dander flake.
    Flake,
    /// Long, faint, without edges: a streak of adhesive.
    Streak,
    /// Straight, level and of one plain brightness: a scale bar or caption burnt into the photo.
    ScaleBar,
    /// Runs along the border of the field.
    FieldEdge,
}
