//! DOOR: profiles to named numbers.

use super::Row;
use crate::concerns::Concern;
use crate::profiles::Profiles;

/// One row a shaft, and the profiles they came from.
#[derive(Clone, Debug)]
pub struct Features {
    /// What was measured station by station.
    pub profiles: Profiles,
    /// One row a shaft, in the same order.
    pub rows: Vec<Row>,
    /// What a person should know about the photo.
    pub concerns: Vec<Concern>,
}

/// What a user may set of this stage.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {}

/// Condenses profiles into named numbers.
pub fn from_profiles(profiles: Profiles, settings: &Settings) -> Features {
    let _ = (profiles, settings);
    unimplemented!("being written")
}
