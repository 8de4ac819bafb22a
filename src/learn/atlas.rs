//! The atlas as files: pages and pictures by name, each made when it is asked for.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::days::{day_view, days_of_infection, days_of_recovery};
use super::drawn::{Drawn, View, drawn, stamped_jpeg, whole_frame};
use super::pages;
use super::plates::{Plate, plates};
use super::words::{Language, Phrase, phrase};
use crate::finding::Model;
use crate::sim::{Frame, Lamp, photo};

const CSS: &str = include_str!("assets/atlas.css");
const JS: &str = include_str!("assets/atlas.js");

/// Columns and rows of a thumbnail.
const THUMB_PX: (usize, usize) = (400, 153);

/// Where the pages lie: whether a way back to the desk is offered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Home {
    /// A folder of files.
    Folder,
    /// The desk.
    Desk,
}

/// An atlas. What was drawn is kept, so that a plate's pictures and pages are drawn once.
#[derive(Debug)]
pub struct Atlas {
    home: Home,
    drawn: Mutex<HashMap<String, Arc<Drawn>>>,
    days: Mutex<HashMap<(bool, u16), Arc<View>>>,
}

impl Atlas {
    /// An atlas of which nothing is drawn yet.
    pub fn new(home: Home) -> Atlas {
        Atlas { home, drawn: Mutex::default(), days: Mutex::default() }
    }

    /// The file of this name with its media type, judged by `model`; `None` when there is none of that name.
    pub fn file(&self, name: &str, model: &Model) -> Option<(&'static str, Vec<u8>)> {
        const HTML: &str = "text/html; charset=utf-8";
        match name {
            "atlas.css" => return Some(("text/css; charset=utf-8", CSS.into())),
            "atlas.js" => return Some(("text/javascript; charset=utf-8", JS.into())),
            _ => {}
        }
        if let Some(stem) = name.strip_suffix(".jpg") {
            return self.picture(stem, model).map(|bytes| ("image/jpeg", bytes));
        }
        let (stem, language) = page_of(name)?;
        let html = match stem {
            "index" => pages::index(language, self.home),
            "days" => pages::days_page(language, self.home),
            _ => {
                let plate = plate_named(stem.strip_prefix("plate-")?)?;
                pages::plate_page(&plate, &self.drawn(&plate, model), language, self.home)
            }
        };
        Some((HTML, html.into_bytes()))
    }

    fn picture(&self, stem: &str, model: &Model) -> Option<Vec<u8>> {
        if let Some(code) = stem.strip_prefix("thumb-") {
            return Some(thumbnail(&plate_named(code)?));
        }
        if let Some(rest) = stem.strip_prefix("days-") {
            let mut parts = rest.split('-');
            let recovering = match parts.next()? {
                "infection" => false,
                "recovery" => true,
                _ => return None,
            };
            let day: u16 = parts.next()?.parse().ok()?;
            let known = if recovering { days_of_recovery() } else { days_of_infection() };
            let view = known.contains(&day).then(|| self.day(recovering, day))?;
            return in_light(&view, parts.next()?);
        }
        let (rest, light) = stem.rsplit_once('-')?;
        if light == "strip" {
            return self.drawn(&plate_named(rest)?, model).read.as_ref().map(|read| read.strip.0.clone());
        }
        if let Some((code, number)) = rest.rsplit_once("-close") {
            let drawn = self.drawn(&plate_named(code)?, model);
            let index = number.parse::<usize>().ok()?.checked_sub(1)?;
            return in_light(drawn.close.get(index)?, light);
        }
        in_light(&self.drawn(&plate_named(rest)?, model).whole, light)
    }

    fn drawn(&self, plate: &Plate, model: &Model) -> Arc<Drawn> {
        if let Some(known) = self.drawn.lock().unwrap_or_else(PoisonError::into_inner).get(plate.code) {
            return known.clone();
        }
        // Drawn without holding the lock: others need not wait; twice the same is the same.
        let made = Arc::new(drawn(plate, model, simulated()));
        self.drawn.lock().unwrap_or_else(PoisonError::into_inner).insert(plate.code.to_owned(), made.clone());
        made
    }

    fn day(&self, recovering: bool, day: u16) -> Arc<View> {
        if let Some(known) = self.days.lock().unwrap_or_else(PoisonError::into_inner).get(&(recovering, day)) {
            return known.clone();
        }
        let made = Arc::new(day_view(recovering, day, simulated()));
        self.days.lock().unwrap_or_else(PoisonError::into_inner).insert((recovering, day), made.clone());
        made
    }
}

/// The names of all files of an atlas.
pub fn atlas_files() -> Vec<String> {
    let mut names = vec!["atlas.css".to_owned(), "atlas.js".to_owned()];
    for language in Language::ALL {
        names.extend(["index", "days"].map(|stem| page_name(stem, language)));
        names.extend(plates().iter().map(|plate| page_name(&format!("plate-{}", plate.code), language)));
    }
    for plate in plates() {
        names.push(format!("thumb-{}.jpg", plate.code));
        let close = (1..=plate.close.len()).map(|n| format!("{}-close{n}", plate.code));
        for stem in std::iter::once(plate.code.to_owned()).chain(close) {
            names.extend(["uv", "visible"].map(|light| format!("{stem}-{light}.jpg")));
        }
        names.push(format!("{}-strip.jpg", plate.code));
    }
    for (name, days) in [("infection", days_of_infection()), ("recovery", days_of_recovery())] {
        for day in days {
            names.extend(["uv", "visible"].map(|light| format!("days-{name}-{day}-{light}.jpg")));
        }
    }
    names
}

/// The name of a page's file: English pages have none of their language in it.
pub(super) fn page_name(stem: &str, language: Language) -> String {
    match language {
        Language::English => format!("{stem}.html"),
        other => format!("{stem}.{}.html", other.tag()),
    }
}

fn page_of(name: &str) -> Option<(&str, Language)> {
    let stem = name.strip_suffix(".html")?;
    let spanish = stem.strip_suffix(".es").map(|stem| (stem, Language::Spanish));
    Some(spanish.unwrap_or((stem, Language::English)))
}

fn plate_named(code: &str) -> Option<Plate> {
    plates().into_iter().find(|plate| plate.code == code)
}

/// The word in the corner of every picture: both languages, since both show the same files.
pub(super) fn simulated() -> &'static str {
    debug_assert!(phrase(Language::English, Phrase::Simulated) == "simulated");
    "simulated · simulado"
}

fn in_light(view: &View, light: &str) -> Option<Vec<u8>> {
    match light {
        "uv" => Some(view.ultraviolet.clone()),
        "visible" => Some(view.visible.clone()),
        _ => None,
    }
}

fn thumbnail(plate: &Plate) -> Vec<u8> {
    let whole = whole_frame(plate);
    let um_per_px = whole.um_per_px * whole.width_px as f64 / THUMB_PX.0 as f64;
    let frame = Frame { width_px: THUMB_PX.0, height_px: THUMB_PX.1, um_per_px, ..whole };
    stamped_jpeg(&photo(&plate.exhibit.scene(&frame, Lamp::Ultraviolet)), simulated())
}
