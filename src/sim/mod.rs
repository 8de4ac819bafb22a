//! The simulator: scenes with exact truth to photo bytes.
//!
//! A [`Scene`] is drawn from a seed and [`Ranges`]; [`photo()`] traces its light through shafts, optics and camera;
//! [`truth_json`] says what is exactly true of it. Equal seeds and ranges give equal bytes for any number of threads.
//! It names nothing of the measuring stages, so that it cannot agree with them by construction.
//!
//! Weaknesses: depth within one thick shaft is not traced (a shaft has one blur at each station); light refracted at
//! the edge of a shaft is left out (adhesive and keratin differ little in index, facts 3.19); strengths of glow and
//! the look of residues rest on words, not on measured photos.

mod apparatus;
mod body;
mod camera;
pub mod course;
mod cross_section;
mod debris;
mod demosaic;
mod dice;
mod draw;
mod exhibit;
pub mod family;
mod fibre;
mod ground;
mod infect;
mod layer;
mod make;
mod optics;
mod phantom;
mod photo;
mod place;
mod ranges;
mod render_debris;
mod render_shaft;
mod render_strays;
mod residue;
mod retake;
mod scene;
mod shafts;
mod smooth;
pub mod spectra;
mod stray_shapes;
mod strays;
mod texture;
mod truth;
mod visibility;

pub use apparatus::{Camera, EyepieceDisc, Light, Mosaic, Optics, ScaleBar, Tone};
pub use body::diameter_range_um;
pub use camera::srgb_encoded;
pub use cross_section::REFERENCE_PATH_UM;
pub use exhibit::{Exhibit, Frame, LEAK, Lamp, Reach, Specimen, State};
pub use fibre::Dye;
pub use make::Make;
pub use optics::channels;
pub use phantom::{Emitter, Phantom};
pub use photo::{Photo, PhotoError, photo};
pub use ranges::{Condition, Crossings, Ranges};
pub use residue::Residue;
pub use scene::{Build, Coat, Debris, DebrisKind, End, Look, Scene, Shaft, Surface, Zone};
pub use shafts::{NARROWEST_PX, WIDEST_PX};
pub use strays::{Section, Stray, StrayKind, Stroke};
pub use truth::{Crossing, ShaftTruth, TRUTH_STEP_PX, crossings, shaft_truths, truth_json};
pub use visibility::contrast_to_noise;
