//! Photos of a house's own cases to practise on: the picture alone under a number, with what is held to be true of it.
//!
//! A photo comes as bytes and goes out as newly written JPEG of its pixels: no place, day, camera or name that the file
//! carried goes with it. What the program reads is no part of it, so that nobody learns the program's mistakes.
//!
//! **What is true.** Of the slide, what a culture of the site said; of a shaft, only what a person said. Neither is as
//! certain as what is true of a drawn photo, so that these photos do not count for a reader's standing.

use super::answer::Call;
use super::drawn::stamped_jpeg;
use super::item::beside;
use crate::maths::point::Point;
use crate::pipeline;
use crate::settings::Settings;
use crate::sim::Photo;

/// Longest side of the picture, pixels: fills a page or a screen, and shows no more of what is written on a glass than
/// that needs.
const LONGEST_SIDE_PX: usize = 1600;

/// Said in the corner of every such picture.
const OWN: &str = "own photo · foto propia";

/// Half of a shaft's width is not known here; its number stands so far beside the line, pixels of the picture.
const HALF_WIDTH_PX: f64 = 12.0;

/// A photo of the house's own.
#[derive(Clone, Debug)]
pub struct OwnPhoto {
    /// Its number among such photos.
    pub number: u32,
    /// The picture, JPEG.
    pub photo: Vec<u8>,
    /// Columns and rows of the picture.
    pub size_px: [usize; 2],
    /// Whether a ringworm fungus grew from the site.
    pub grew: bool,
    /// The shafts that are asked for.
    pub shafts: Vec<OwnShaft>,
}

/// A shaft of which a person said what it looks like.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnShaft {
    /// Its number on the photo, from 1.
    pub number: usize,
    /// Its line, pixels of the picture.
    pub line: Vec<Point>,
    /// Where its number stands, pixels of the picture.
    pub tag: Point,
    /// What the person said.
    pub look: Call,
}

impl OwnPhoto {
    /// The name it goes by: `own-00471108`.
    pub fn name(&self) -> String {
        own_name(self.number)
    }

    /// A photo of these bytes; `named` are the shafts of which a person said the look, each by places along it in pixels of
    /// the full-resolution photo and by the look's name in files. Names that are none are left out.
    ///
    /// # Errors
    /// A sentence, when the bytes are no picture that can be read.
    pub fn of(number: u32, bytes: &[u8], grew: bool, named: &[(&[[f64; 2]], &str)]) -> Result<OwnPhoto, String> {
        let picture = pipeline::picture(bytes, &Settings::default(), LONGEST_SIDE_PX).map_err(|e| e.to_string())?;
        let size = [picture.width, picture.height];
        let known = named.iter().filter_map(|(line, look)| {
            let look = Call::ALL.into_iter().find(|call| call.code() == *look && *call != Call::Undetermined)?;
            let line: Vec<Point> = line.iter().map(|&[x, y]| picture.from_photo(Point::new(x, y))).collect();
            (line.len() > 1).then_some((line, look))
        });
        let shafts = (1..)
            .zip(known)
            .map(|(number, (line, look))| OwnShaft { number, tag: beside(size, &line, HALF_WIDTH_PX), line, look })
            .collect();
        let photo = Photo { width: picture.width, height: picture.height, rgb: picture.rgb };
        Ok(OwnPhoto { number, photo: stamped_jpeg(&photo, OWN), size_px: size, grew, shafts })
    }
}

/// The name of the photo of this number.
pub fn own_name(number: u32) -> String {
    format!("own-{number:08}")
}
