//! Photos of slides on which a laboratory has said its last word, for people to practise on, without whose they are.
//!
//! **Which.** A photo under the UV lamp that was not withdrawn, of a slide that a culture answers for (`answers`).
//!
//! **What is true.** Of the slide, what the laboratory said: it speaks of the site, never of one hair. Of a shaft, only the
//! look that a person gave it by a correction of the newest reading, and not "cannot say". What the program read is never
//! taken for true.
//!
//! Weakness: a person's word may be wrong, and what is written on the glass may be seen on the photo.

use std::collections::BTreeMap;

use super::Store;
use super::answers::{Answered, Outcome, answered};
use super::ask::Page;
use super::error::StoreError;
use super::facts::{Change, Light, Reading};
use super::kept::Kept;
use super::photos::digest;

/// Numbers of photos have so many digits: enough that two of a record hardly ever share one.
const NUMBERS: u64 = 100_000_000;

/// A photo to practise on.
#[derive(Clone, Debug, PartialEq)]
pub struct Confirmed {
    /// Its number among practice photos. It is made from the digest of the photo's bytes and leads back to the photo only
    /// for who has the record.
    pub number: u32,
    /// Id of the photo, to ask the record for its bytes; never to be shown to learners.
    pub photo: String,
    /// Whether a ringworm fungus grew from the site of the slide, or none.
    pub grew: bool,
    /// The shafts of which a person said what they look like.
    pub shafts: Vec<NamedShaft>,
}

/// A shaft of which a person said what it looks like.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedShaft {
    /// Places along it, pixels of the full-resolution photo.
    pub line_px: Vec<[f64; 2]>,
    /// `infected`, `normal`, `coated` or `fibre`.
    pub look: String,
}

impl Store {
    /// The photos of the record that can be practised on, in the order of their numbers, which tells nothing of animals
    /// or days.
    ///
    /// # Errors
    /// When the record cannot be read or a reading in it is damaged.
    pub fn confirmed(&self) -> Result<Vec<Confirmed>, StoreError> {
        let mut all: BTreeMap<u32, Confirmed> = BTreeMap::new();
        for line in self.animals(Page::default())? {
            let case = self.case(&line.animal.id)?;
            for Answered { slide, outcome } in answered(&case).0 {
                let grew = outcome == Outcome::Grew;
                let standing = case.photos.iter().filter(|photo| {
                    !photo.withdrawn && photo.fact.light == Light::Uv && photo.parent.as_deref() == Some(&slide.id)
                });
                for photo in standing {
                    let of_photo = |reading: &&Kept<Reading>| {
                        !reading.withdrawn && reading.parent.as_deref() == Some(photo.id.as_str())
                    };
                    let newest = case.readings.iter().filter(of_photo).max_by_key(|reading| reading.order);
                    let shafts = newest.map_or(Ok(Vec::new()), |reading| self.named_shafts(reading))?;
                    let number = number(&photo.fact.sha256);
                    all.insert(number, Confirmed { number, photo: photo.id.clone(), grew, shafts });
                }
            }
        }
        Ok(all.into_values().collect())
    }

    /// The shafts of a reading whose look is a person's, the last word on each.
    fn named_shafts(&self, reading: &Kept<Reading>) -> Result<Vec<NamedShaft>, StoreError> {
        let mut looks: BTreeMap<usize, &String> = BTreeMap::new();
        let mut shafts = Vec::new();
        for told in &reading.corrections {
            match &told.change {
                Change::Look { shaft, look } => {
                    looks.insert(*shaft, look);
                }
                Change::NotAShaft { shaft } => {
                    looks.remove(shaft);
                }
                Change::MissedShaft { centreline_px, look: Some(look) } => {
                    shafts.push(NamedShaft { line_px: centreline_px.clone(), look: look.clone() });
                }
                _ => (),
            }
        }
        if !looks.is_empty() {
            let evaluation = self.evaluation(&reading.id)?;
            let read = evaluation["shafts"].as_array().into_iter().flatten();
            shafts.extend(read.filter_map(|shaft| {
                let look = *looks.get(&(shaft["id"].as_u64()? as usize))?;
                let line: Option<Vec<[f64; 2]>> = shaft["centreline_px"]
                    .as_array()?
                    .iter()
                    .map(|place| Some([place.get(0)?.as_f64()?, place.get(1)?.as_f64()?]))
                    .collect();
                Some(NamedShaft { line_px: line?, look: look.clone() })
            }));
        }
        shafts.retain(|shaft| shaft.look != "undetermined" && shaft.line_px.len() > 1);
        // From left to right, so that their order does not tell what was corrected first.
        shafts.sort_by(|a, b| a.line_px[0][0].total_cmp(&b.line_px[0][0]));
        Ok(shafts)
    }
}

/// The number of the photo with these bytes' digest.
fn number(sha256: &str) -> u32 {
    let digits = digest(format!("practice {sha256}").as_bytes());
    // Sixteen hexadecimal digits always fit.
    (u64::from_str_radix(&digits[..16], 16).unwrap_or(0) % NUMBERS) as u32
}
