//! DOOR: shafts to what changes along them.

use super::Profiles;
use crate::shafts::Shafts;

/// What a user may set of this stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {}

/// Measures every shaft, station by station.
pub fn from_shafts(shafts: &Shafts, settings: &Settings) -> Profiles {
    let _ = (shafts, settings);
    unimplemented!("being written")
}
