//! What a paper or a file for others is about: photos as files, or a case, a slide or photos of the record.

use std::path::{Path, PathBuf};

use super::UNUSABLE;
use super::case::{Place, refusal};
use super::guard::guarded;
use super::photos;
use super::terminal::{shown, small};
use crate::exports::Language;
use crate::finding::Model;
use crate::handed::{self, HandedPhoto};
use crate::pipeline::{Reading, Want};
use crate::record::CaseFacts;
use crate::settings::{Asked, Settings};
use crate::store::{Kept, Kind, Light, Photo, Slide, Store, StoreError};

/// An exit code and the sentence that goes with it.
pub(super) type Refused = (u8, String);

/// What is handed on.
pub(super) struct Subject {
    /// The photos, in order.
    pub(super) photos: Vec<Given>,
    /// What the record tells of their slide; nothing of photos that are files.
    pub(super) facts: CaseFacts,
    /// The record, where it was asked.
    store: Option<Store>,
}

/// A photo that is handed on.
pub(super) enum Given {
    /// A file.
    File(PathBuf),
    /// A photo of the record.
    Kept(Box<Kept<Photo>>),
}

/// What one argument means in the record.
enum Meant {
    Slide(Box<Kept<Slide>>),
    Photo(Box<Kept<Photo>>),
    /// Nothing: a file, be it there or not.
    Nothing,
}

impl Subject {
    /// What the arguments mean. A file that is there is meant before anything of the record.
    ///
    /// # Errors
    /// When they mean several slides, files and the record at once, or a slide without photos where `needs_photos`.
    pub(super) fn of(
        arguments: &[PathBuf],
        place: &Place,
        language: Language,
        needs_photos: bool,
    ) -> Result<Subject, Refused> {
        let unusable = |sentence: String| (UNUSABLE, format!("pilumen: {sentence}"));
        let mut store = None;
        let mut photos = Vec::new();
        let mut slides: Vec<Kept<Slide>> = Vec::new();
        for argument in arguments {
            let found = if argument.exists() {
                Meant::Nothing
            } else {
                meant(argument, place, &mut store).map_err(|error| refusal(&error))?
            };
            match (found, &store) {
                (Meant::Slide(slide), Some(store)) => {
                    let of_slide = handed::photos_of(store, &slide.id).map_err(|error| refusal(&error))?;
                    if needs_photos && of_slide.is_empty() {
                        return Err(unusable(format!(
                            "slide {} ({}, {}) has no photo; file one with `pilumen read PHOTO --case ANIMAL --slide {}`",
                            slide.short(),
                            slide.fact.site,
                            slide.fact.day,
                            slide.short()
                        )));
                    }
                    photos.extend(of_slide.into_iter().map(|photo| Given::Kept(Box::new(photo))));
                    slides.push(*slide);
                }
                (Meant::Photo(photo), Some(store)) => {
                    let slide = store.slide(photo.parent.as_deref().unwrap_or_default());
                    slides.push(slide.map_err(|error| refusal(&error))?);
                    photos.push(Given::Kept(photo));
                }
                _ => photos.push(Given::File(argument.clone())),
            }
        }
        slides.dedup_by(|a, b| a.id == b.id);
        let facts = match (slides.as_slice(), &store) {
            ([], _) => CaseFacts::default(),
            ([slide], Some(store)) if !photos.iter().any(|photo| matches!(photo, Given::File(_))) => {
                let case = store.case(&slide.animal).map_err(|error| refusal(&error))?;
                handed::facts(&case, slide, language)
            }
            ([_], _) => {
                return Err(unusable(
                    "some of these are files and some are in the record; name files only, or file them first with \
                     `pilumen read PHOTO --case ANIMAL --slide SLIDE`"
                        .to_owned(),
                ));
            }
            (several, _) => {
                let names: Vec<String> = several
                    .iter()
                    .map(|slide| format!("{} ({}, {})", slide.short(), slide.fact.site, slide.fact.day))
                    .collect();
                return Err(unusable(format!(
                    "these are {} slides: {}; name one slide, or photos of one",
                    several.len(),
                    names.join(", ")
                )));
            }
        };
        Ok(Subject { photos, facts, store })
    }

    /// The photos that are files, which nothing may be written over.
    pub(super) fn files(&self) -> Vec<PathBuf> {
        let file = |photo: &Given| match photo {
            Given::File(path) => Some(path.clone()),
            Given::Kept(_) => None,
        };
        self.photos.iter().filter_map(file).collect()
    }

    /// A photo's bytes, and what was read of it: one of the record as it stands, at the scale of its newest reading
    /// unless another is given. Or a sentence on why not.
    pub(super) fn read(
        &self,
        photo: &Given,
        um_per_px: Option<f64>,
        model: &Model,
        want: Want,
    ) -> Result<(Vec<u8>, Reading), String> {
        let settings = |um_per_px| {
            Settings::check(Asked { um_per_px, ..Asked::default() }).map_err(|error| small(&error.to_string()))
        };
        match (photo, &self.store) {
            (Given::Kept(photo), Some(store)) => {
                let handed = HandedPhoto::of(store, &photo.id).map_err(|error| small(&error.to_string()))?;
                let settings = settings(um_per_px.or(handed.um_per_px()))?;
                let read = guarded(|| handed.read(&settings, model, want))?;
                let reading =
                    read.map_err(|error| format!("{}; {}", small(&error.to_string()), small(error.help())))?;
                Ok((handed.bytes, reading))
            }
            (Given::File(path), store) => {
                if store.is_some() && !path.exists() {
                    return Err(
                        "there is no such file, and the record has no case, slide or photo of this name; check \
                                the name, or list what there is with `pilumen case list`"
                            .to_owned(),
                    );
                }
                photos::read(path, &settings(um_per_px)?, model, want)
            }
            (Given::Kept(_), None) => Err("the record is not open".to_owned()),
        }
    }
}

impl Given {
    /// The name of its file; with its folder where it is a file.
    pub(super) fn path(&self) -> &Path {
        match self {
            Given::File(path) => path,
            Given::Kept(photo) => Path::new(&photo.fact.file),
        }
    }

    /// Its name, for a person.
    pub(super) fn shown(&self) -> String {
        match self {
            Given::File(path) => shown(path),
            Given::Kept(photo) => format!("photo {} ({})", photo.short(), shown(Path::new(&photo.fact.file))),
        }
    }
}

/// What an argument means in the record, which is opened for the first that is no file.
fn meant(argument: &Path, place: &Place, store: &mut Option<Store>) -> Result<Meant, StoreError> {
    let Some(words) = argument.to_str() else { return Ok(Meant::Nothing) };
    let store = match store {
        Some(store) => &*store,
        empty => match place.open() {
            Ok(opened) => &*empty.insert(opened),
            // A person who keeps no record has misspelled a file.
            Err(StoreError::NoRecord(_) | StoreError::NoPlace) if !place.is_named() => return Ok(Meant::Nothing),
            Err(error) => return Err(error),
        },
    };
    let known = |found: Result<String, StoreError>| match found {
        Ok(id) => Ok(Some(id)),
        Err(StoreError::Unknown { .. }) => Ok(None),
        Err(error) => Err(error),
    };
    if let Some(id) = known(store.find_animal(words))? {
        let case = store.case(&id)?;
        let newest = match handed::newest_slide(store, &case)? {
            Some(slide) => Some(slide),
            None => case.standing_slides().last().map(|slide| (*slide).clone()),
        };
        return newest.map(|slide| Meant::Slide(Box::new(slide))).ok_or_else(|| {
            StoreError::Unusable(format!(
                "{} has no slide yet; keep one with `pilumen case slide`",
                case.animal.fact.name
            ))
        });
    }
    if let Some(id) = known(store.find_slide(words))? {
        return Ok(Meant::Slide(Box::new(store.slide(&id)?)));
    }
    let Some(id) = known(store.find(Some(Kind::Photo), words))? else { return Ok(Meant::Nothing) };
    let photo = store.photo(&id)?;
    let unfit = |why: &str| Err(StoreError::Unusable(format!("photo {} {why}; name another", photo.short())));
    if photo.withdrawn {
        return unfit("was withdrawn");
    }
    if photo.fact.light != Light::Uv {
        return unfit("was not lit by the lamp");
    }
    Ok(Meant::Photo(Box::new(photo)))
}
