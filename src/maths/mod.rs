//! Mathematics under the stages: knows nothing of hair, one algorithm a file.

pub mod agreement;

pub mod alignment;

pub mod along;

pub mod between;

pub mod circle;

pub mod components;

pub mod conformal;

pub mod cross_section;

pub mod distance;

pub mod jackknife;

pub mod markup;

pub mod oval;

pub mod phase_correlation;

pub mod picture;

pub mod point;

pub mod polyline;

pub mod proportion;

pub mod quadrature;

pub mod raster;

pub mod raters;

pub mod resampling;

pub mod robust;

pub mod same_lines;

pub mod scoring;

pub mod seeds;

pub mod similarity;

pub mod smooth;

pub mod softmax;

pub mod stats;

pub mod straight;

pub mod thinning;

pub mod two_cylinders;
