//! Mathematics under the stages: knows nothing of hair, one algorithm a file.

pub mod agreement;

pub mod along;

pub mod circle;

pub mod components;

pub mod conformal;

pub mod cross_section;

pub mod distance;

pub mod jackknife;

pub mod markup;

pub mod picture;

pub mod point;

pub mod polyline;

pub mod proportion;

pub mod quadrature;

pub mod raster;

pub mod raters;

pub mod resampling;

pub mod robust;

pub mod scoring;

pub mod seeds;

pub mod smooth;

pub mod softmax;

pub mod stats;

pub mod straight;

pub mod thinning;
