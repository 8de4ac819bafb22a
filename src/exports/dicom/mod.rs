//! A case for a hospital's archive: photo, measurements and report as DICOM objects of one study.
//!
//! Weakness: the library does not know which attributes an object must have; the list is ours, and is held by outside
//! checkers (see `fixtures/reference/formats`).

mod common;
mod data;
mod document;
mod image;
mod measured;

use jiff::civil::Date;

use super::from_record::{CaseFacts, Entry};
use crate::maths::picture::Picture;

pub use data::DicomError;

/// What all objects of a case share.
#[derive(Clone, Copy, Debug)]
pub struct DicomCase<'a> {
    /// What is known of the case; the owner's name is written when it is there.
    pub facts: &'a CaseFacts,
    /// The day the objects are made on.
    pub made_on: Date,
    /// Digest of the case's first photo: identifies the study where nothing else does.
    pub first_sha256: &'a str,
}

/// A photo of the case.
#[derive(Clone, Copy, Debug)]
pub struct DicomPhoto<'a> {
    /// What was read from it.
    pub entry: &'a Entry,
    /// The photo in full size, not brightened.
    pub picture: &'a Picture,
    /// Bytes of the photo's file; 0 where they are not known.
    pub n_file_bytes: usize,
    /// Its number in the case, from 1.
    pub number: usize,
}

impl DicomCase<'_> {
    /// The photo as VL Microscopic Image.
    ///
    /// # Errors
    /// When a side is longer than 65535 pixels.
    pub fn image(&self, photo: &DicomPhoto) -> Result<Vec<u8>, DicomError> {
        image::image(self, photo)
    }

    /// The measurements of a photo as a structured report.
    ///
    /// # Errors
    /// When the writer refuses it; no input is known to cause that.
    pub fn measurements(&self, photo: &DicomPhoto) -> Result<Vec<u8>, DicomError> {
        measured::measured(self, photo)
    }

    /// A report in PDF, as an object that refers to the photos.
    ///
    /// # Errors
    /// When it is larger than 4 GB.
    pub fn report(&self, photos: &[DicomPhoto], title: &str, pdf: &[u8]) -> Result<Vec<u8>, DicomError> {
        document::document(self, photos, title, pdf)
    }
}
