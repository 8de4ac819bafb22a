//! The record on paper: a page for the vet with an annex, and a slip for the laboratory; as PDF and as a web page.
//!
//! `words` says it, `page`, `annex` and `slip` make blocks of it, `pdf` and `html` draw the blocks.
//! Nothing here touches a disk or a clock.

mod annex;
mod blocks;
mod chart;
mod html;
mod jpeg;
mod page;
mod pdf;
mod slip;
mod words;

use jiff::civil::Date;

use crate::exports::{Outlined, outlined};
use crate::maths::picture::Picture;
use crate::record::{CaseFacts, Entry};
use blocks::Block;

pub use pdf::PdfError;
pub use words::{Found, Language};

/// What a slide's shafts add up to, and what to do next, in the report's words; `advice` in English, as it was given
/// with the finding.
pub fn finding_words(language: Language, found: &Found, advice: &str) -> [String; 2] {
    let words = language.words();
    [(words.finding)(found), (words.advice)(found.slide.code, advice)]
}

/// A report on one slide: what there is to say, and how.
#[derive(Clone, Debug)]
pub struct Report<'a> {
    /// What is known of the case; owner's name and contact are shown when they are there.
    pub case: &'a CaseFacts,
    /// The slide's photos, at least one for a report; none are needed for a slip.
    pub photos: &'a [ReadPhoto<'a>],
    /// The day the report is made on.
    pub made_on: Date,
    /// Its language.
    pub language: Language,
    /// Whether it is a teaching copy: said in its title.
    pub teaching: bool,
}

/// A photo that was read.
#[derive(Clone, Copy, Debug)]
pub struct ReadPhoto<'a> {
    /// What was read from it.
    pub entry: &'a Entry,
    /// The photo as people see it.
    pub picture: &'a Picture,
}

/// The paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 × 297 mm, ISO 216.
    #[default]
    A4,
    /// 8.5 × 11 inches.
    Letter,
}

impl Paper {
    /// Both papers.
    pub const ALL: [Paper; 2] = [Paper::A4, Paper::Letter];

    /// Width and height in points.
    fn size(self) -> [f64; 2] {
        match self {
            Paper::A4 => [595.28, 841.89],
            Paper::Letter => [612.0, 792.0],
        }
    }
}

/// What is printed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Document {
    /// The page for the vet and the annex.
    Report,
    /// The slip for the laboratory.
    Slip,
}

/// How much room the first page gives to what can be shortened, from generous to tight: the first that fits on one
/// page is taken.
const FITS: [page::Fit; 6] = [
    page::Fit { photo_height: 240.0, max_missed: 6, max_fact: 160 },
    page::Fit { photo_height: 205.0, max_missed: 6, max_fact: 160 },
    page::Fit { photo_height: 175.0, max_missed: 5, max_fact: 120 },
    page::Fit { photo_height: 150.0, max_missed: 4, max_fact: 90 },
    page::Fit { photo_height: 130.0, max_missed: 3, max_fact: 60 },
    page::Fit { photo_height: 110.0, max_missed: 2, max_fact: 40 },
];

impl Report<'_> {
    /// The document as PDF: tagged (PDF/UA-1), fit for archives (PDF/A-2a), fonts embedded.
    ///
    /// # Errors
    /// When the checks of those two standards refuse it; no input is known to cause that.
    pub fn pdf(&self, document: Document, paper: Paper) -> Result<Vec<u8>, PdfError> {
        let title = self.title(document);
        match document {
            // A laboratory is told nothing at the foot.
            Document::Slip => pdf::pdf(&[slip::blocks(self)], Vec::new(), &title, "", self, paper),
            Document::Report => {
                let shown = self.shown();
                let first: Vec<Vec<Block>> = FITS.iter().map(|fit| page::blocks(self, fit, shown.as_ref())).collect();
                pdf::pdf(&first, annex::blocks(self), &title, self.language.words().footer, self, paper)
            }
        }
    }

    /// The document as one web page that needs nothing beside it.
    pub fn html(&self, document: Document) -> String {
        let mut blocks = match document {
            Document::Slip => slip::blocks(self),
            Document::Report => page::blocks(self, &FITS[0], self.shown().as_ref()),
        };
        if document == Document::Report {
            blocks.extend(annex::blocks(self));
        }
        html::html(&blocks, &self.title(document), self.language)
    }

    /// The place of the photo that page 1 shows: of those that can be judged the one with most shafts that look infected.
    fn first_page(&self) -> usize {
        let infected = |photo: &ReadPhoto| {
            photo.entry.usable.then(|| photo.entry.shafts.iter().filter(|s| s.class() == "infected").count())
        };
        let most = self.photos.iter().enumerate().max_by_key(|(i, photo)| (infected(photo), std::cmp::Reverse(*i)));
        most.map_or(0, |(i, _)| i)
    }

    /// The photo of page 1 with its marks.
    fn shown(&self) -> Option<Outlined> {
        self.photos.get(self.first_page()).and_then(|photo| outlined(photo.entry, photo.picture))
    }

    fn title(&self, document: Document) -> String {
        let words = self.language.words();
        let name = match document {
            Document::Report => words.title,
            Document::Slip => words.slip_title,
        };
        let site = self.case.site.as_deref().map(|site| self.language.terms().site(site));
        let about: Vec<String> = [self.case.animal.clone(), site].into_iter().flatten().collect();
        if about.is_empty() { name.to_owned() } else { format!("{name}: {}", about.join(", ")) }
    }
}
