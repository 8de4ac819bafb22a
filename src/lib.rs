//! Pilumen reads photos of hair shafts on tape under a UV lamp.
//!
//! # Steps
//! 1. bytes → [`image::Image`]: a picture as light;
//! 2. → [`field::Field`]: the field that shows the slide, fit to be measured;
//! 3. → [`shafts::Shafts`]: where the hairs are;
//! 4. → [`profiles::Profiles`]: what changes along a hair; pixels end here;
//! 5. → [`features::Features`]: named numbers, one row a shaft;
//! 6. → [`finding::Finding`]: what each shaft is held to be, and what they add up to;
//! 7. → [`record::Entry`]: what is kept of one read photo;
//! 8. → [`exports`]: files and pictures for other eyes.
//!
//! [`pipeline::read`] walks them all; [`store::Store`] keeps what comes out, with the animal it belongs to.

pub mod pipeline;

mod visible_light;

pub mod settings;

pub mod units;

pub mod concerns;

pub mod image;

pub mod field;

pub mod shafts;

pub mod profiles;

pub mod features;

pub mod finding;

pub mod record;

pub mod exports;

pub mod report;

pub mod store;

pub mod corrected;

pub mod confirmed;

pub mod handed;

pub mod web;

pub mod scale;

pub mod registration;

pub mod setups;

pub mod lamp;

pub mod sim;

pub mod training;

pub mod learn;

pub mod cli;

pub mod maths;

#[cfg(test)]
#[path = "../tests/judgement.rs"]
mod judgement;
