//! Mathematics under the stages: knows nothing of hair, one algorithm a file.

pub mod along;

pub mod point;

pub mod polyline;

pub mod raster;

pub mod robust;

pub mod smooth;

pub mod cross_section;
