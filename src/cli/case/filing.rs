//! `pilumen read --case ... --slide ...`: photos and readings go into the record as they are read.

use std::path::Path;

use super::photos::{text_of, there};

use super::record::{Place, Who, warn_of_clock};
use crate::cli::terminal::shown;
use crate::exports::{Format, from_record};
use crate::pipeline::Reading;
use crate::store::{Kept, Light, Photo, Stamp, Store, StoreError};

/// Where readings are filed; nowhere, when no case is named.
#[derive(clap::Args)]
pub(in crate::cli) struct FilingArguments {
    /// Keep photos and readings in this case: name, number or id of the animal
    #[arg(long, value_name = "ANIMAL", requires = "slide", help_heading = "Case record")]
    case: Option<String>,
    /// The slide of that case that the photos are of: id, or what is written on the glass
    #[arg(long, value_name = "SLIDE", requires = "case", help_heading = "Case record")]
    slide: Option<String>,
    #[command(flatten)]
    place: Place,
    #[command(flatten)]
    who: Who,
}

/// A slide that readings are filed with.
pub(in crate::cli) struct Filing {
    store: Store,
    slide: String,
    stamp: Stamp,
}

impl FilingArguments {
    /// The slide to file with; absent when no case was named.
    pub(in crate::cli) fn open(&self) -> Result<Option<Filing>, StoreError> {
        let (Some(case), Some(slide)) = (&self.case, &self.slide) else { return Ok(None) };
        let store = self.place.open()?;
        let stamp = self.who.stamp();
        warn_of_clock(&store, &stamp)?;
        if stamp.by.trim().is_empty() {
            return Err(StoreError::Unusable("the record must know who reads this; say so with --by NAME".to_owned()));
        }
        let (animal, slide) = (store.find_animal(case)?, store.find_slide(slide)?);
        if store.slide(&slide)?.animal != animal {
            return Err(StoreError::Unusable(format!("slide {} is of another animal than {case}", self.slide())));
        }
        Ok(Some(Filing { store, slide, stamp }))
    }

    /// The record's folder, where one is named.
    pub(in crate::cli) fn record(&self) -> Option<&Path> {
        self.place.named()
    }

    fn slide(&self) -> &str {
        self.slide.as_deref().unwrap_or_default()
    }
}

impl Filing {
    /// Keeps a photo and the one in visible light (name and bytes) that it was read with, unless the slide has them
    /// already, and its reading; says under which ids, once all have reached the disk.
    pub(in crate::cli) fn keep(
        &mut self,
        bytes: &[u8],
        visible: Option<(&str, &[u8])>,
        reading: &Reading,
    ) -> Result<String, String> {
        let entry = &reading.entry;
        let sentence = |error: StoreError| error.to_string();
        let photo = self.photo(&entry.photo.file, bytes, Light::Uv).map_err(sentence)?;
        let visible = match visible {
            Some((file, bytes)) => {
                let sentence = |error| format!("its visible photo {}: {error}", shown(Path::new(file)));
                let kept = self.photo(file, bytes, Light::Visible).map_err(sentence)?;
                format!("visible photo {}, ", kept.short())
            }
            None => String::new(),
        };
        let evaluation = text_of(from_record(entry, None, Format::Json));
        let kept = self.store.add_reading(&photo.id, &evaluation, &self.stamp).map_err(sentence)?;
        Ok(format!("photo {}, {visible}reading {}", photo.short(), kept.short()))
    }

    /// The photo on the slide, kept now unless it was there.
    fn photo(&mut self, file: &str, bytes: &[u8], light: Light) -> Result<Kept<Photo>, StoreError> {
        match there(&self.store, &self.slide, bytes)? {
            Some(photo) => Ok(photo),
            None => self.store.add_photo(&self.slide, file, bytes, light, &self.stamp),
        }
    }
}
