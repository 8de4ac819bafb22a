//! Mathematics under the stages: knows nothing of hair, one algorithm a file.

pub mod components;

pub mod distance;
pub mod along;

pub mod point;

pub mod polyline;

pub mod raster;

pub mod stats;

pub mod thinning;
pub mod robust;

pub mod smooth;

pub mod cross_section;
