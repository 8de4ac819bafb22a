//! A series to print: photos with numbered shafts, room for answers, and the key on the last pages. Photos of the house's
//! own cases come after the drawn ones and are told apart from them.

use std::fmt::Write;

use super::answer::{Call, End, Place};
use super::atlas::Home;
use super::item::{Asked, Item, ItemName, Level, Prepared};
use super::own::OwnPhoto;
use super::pages::{noted, notes, page};
use super::sheet::blank_sheet;
use super::words::{Language, Phrase, of_desk, phrase};
use crate::finding::{Look, Model};
use crate::maths::markup::escaped;
use crate::maths::point::Point;

/// A series as files by name.
#[derive(Clone, Debug)]
pub struct PrintedSeries {
    /// Name and bytes of each file.
    pub files: Vec<(String, Vec<u8>)>,
}

/// What a series is made of.
#[derive(Clone, Copy, Debug)]
pub struct Asking<'a> {
    /// How hard the drawn photos are.
    pub level: Level,
    /// Number of the first of them.
    pub from: u32,
    /// How many there are.
    pub n: u32,
    /// The house's own photos.
    pub own: &'a [OwnPhoto],
    /// What it is written in.
    pub language: Language,
}

impl Asking<'_> {
    fn names(&self) -> impl Iterator<Item = ItemName> {
        let level = self.level;
        (self.from..self.from.saturating_add(self.n)).map(move |number| ItemName { level, number })
    }
}

/// The page, the sheet for answers, and what the page needs.
const PAGE: &str = "series.html";
const SHEET: &str = "answers.csv";
const BESIDE: [(&str, &[u8]); 2] =
    [("atlas.css", include_bytes!("assets/atlas.css")), ("atlas.js", include_bytes!("assets/atlas.js"))];

/// The names of the files of a series, without drawing it.
pub fn series_files(asking: &Asking) -> Vec<String> {
    let drawn = asking.names().map(|name| name.to_string());
    let photos = drawn.chain(asking.own.iter().map(OwnPhoto::name)).map(|name| format!("{name}.jpg"));
    [PAGE, SHEET].into_iter().chain(BESIDE.map(|(name, _)| name)).map(str::to_owned).chain(photos).collect()
}

/// A series; `drawn` is called after each photo.
pub fn printed_series(asking: &Asking, model: &Model, drawn: impl Fn()) -> PrintedSeries {
    let language = asking.language;
    let items: Vec<Item> = asking.names().filter_map(Item::drawn).collect();
    let mut files: Vec<(String, Vec<u8>)> =
        BESIDE.iter().map(|(name, bytes)| ((*name).to_owned(), bytes.to_vec())).collect();
    files.push((SHEET.to_owned(), blank_sheet(&items)));
    let say = |one: Phrase| escaped(phrase(language, one));
    let of_what = if asking.own.is_empty() { notes(language) } else { noted(language, Phrase::PartlySimulated) };
    let mut body = format!(
        "<div class=\"series\"><h1>{} {}</h1>{of_what}<p class=\"lead\">{}</p><p>{}: ______________________</p>",
        say(Phrase::SeriesTitle),
        asking.level.number(),
        say(Phrase::SeriesLead),
        say(Phrase::SeriesName)
    );
    let mut key = String::new();
    for (index, item) in items.into_iter().enumerate() {
        let prepared = Prepared::of(item, model);
        let file = format!("{}.jpg", prepared.item.name);
        let title = titled(language, index, &prepared.item.name.to_string());
        let marks: String = prepared.item.shafts.iter().map(|shaft| marks(shaft, prepared.item.size_px())).collect();
        let _ = write!(
            body,
            "<section class=\"photo\"><h2>{title}</h2>{}{}</section>",
            numbered(prepared.item.size_px(), &file, &title, &marks),
            form(&prepared.item, language)
        );
        let _ = write!(key, "<h3>{title}</h3>{}", key_of(&prepared, language));
        files.push((file, prepared.photo));
        drawn();
    }
    if !asking.own.is_empty() {
        let _ = write!(body, "<h2>{}</h2><p class=\"lead\">{}</p>", say(Phrase::OwnTitle), say(Phrase::OwnLead));
        let _ = write!(key, "<h2>{}</h2><p>{}</p>", say(Phrase::OwnTitle), say(Phrase::OwnKey));
        for (index, own) in asking.own.iter().enumerate() {
            let title = titled(language, asking.n as usize + index, &own.name());
            let file = format!("{}.jpg", own.name());
            let marks: String =
                own.shafts.iter().map(|shaft| tagged(shaft.tag, 18, &shaft.number.to_string())).collect();
            let _ = write!(
                body,
                "<section class=\"photo\"><h2>{title}</h2>{}{}</section>",
                numbered(own.size_px, &file, &title, &marks),
                own_form(own, language)
            );
            let _ = write!(key, "<h3>{title}</h3>{}", own_key(own, language));
            files.push((file, own.photo.clone()));
            drawn();
        }
    }
    let _ = write!(
        body,
        "<p class=\"lead\">{}</p></div><div class=\"key\"><h2>{}</h2>{key}</div>",
        say(Phrase::SeriesFold),
        say(Phrase::SeriesKey)
    );
    let html = page("series", phrase(language, Phrase::SeriesTitle), &body, language, Home::Folder);
    // A series is one file in one language: without the ways to other pages.
    let html = match (html.find("<header>"), html.find("</header>")) {
        (Some(from), Some(to)) => format!("{}{}", &html[..from], &html[to + "</header>".len()..]),
        _ => html,
    };
    files.push((PAGE.to_owned(), html.into_bytes()));
    PrintedSeries { files }
}

fn titled(language: Language, index: usize, name: &str) -> String {
    let title = phrase(language, Phrase::SeriesPhoto).replace("{n}", &(index + 1).to_string());
    format!("{title} · {name}")
}

/// The photo with what is marked on it.
fn numbered([w, h]: [usize; 2], file: &str, title: &str, marks: &str) -> String {
    format!(
        "<svg viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"{}\"><image href=\"{file}\" width=\"{w}\" height=\"{h}\"/>{marks}</svg>",
        escaped(title)
    )
}

/// A number or letter in a ring.
fn tagged(at: Point, r: usize, words: &str) -> String {
    format!(
        "<circle class=\"tag\" cx=\"{0:.0}\" cy=\"{1:.0}\" r=\"{r}\"/><text class=\"tagWords\" x=\"{0:.0}\" y=\"{2:.0}\" text-anchor=\"middle\">{words}</text>",
        at.x,
        at.y,
        at.y + 8.0
    )
}

/// A shaft's number and the letters of those of its ends that are in view.
fn marks(shaft: &Asked, [w, h]: [usize; 2]) -> String {
    let mut svg = tagged(shaft.tag, 18, &shaft.number.to_string());
    for (letter, at, inside, seen) in ends(shaft) {
        if seen {
            let off = at + (at - inside).unit() * 20.0;
            let within = Point::new(off.x.clamp(14.0, w as f64 - 14.0), off.y.clamp(16.0, h as f64 - 14.0));
            svg += &tagged(within, 13, letter);
        }
    }
    svg
}

fn ends(shaft: &Asked) -> [(&'static str, Point, Point, bool); 2] {
    let n = shaft.line.len();
    [
        ("A", shaft.line[0], shaft.line[1], shaft.in_view[0]),
        ("B", shaft.line[n - 1], shaft.line[n - 2], shaft.in_view[1]),
    ]
}

/// The looks to choose from.
fn looks(language: Language) -> String {
    (1..)
        .zip(Call::ALL)
        .map(|(n, call)| format!("<span>{n} {}</span>", escaped(&of_desk(language, &format!("look.{}", call.code())))))
        .collect()
}

/// What is asked of one of the house's own photos: the look of those shafts that a person named, then the culture.
fn own_form(own: &OwnPhoto, language: Language) -> String {
    let looks = looks(language);
    let mut html = String::new();
    if !own.shafts.is_empty() {
        html += &head(language, &[Phrase::SeriesShaft, Phrase::SeriesLook]);
        for shaft in &own.shafts {
            let _ = write!(html, "<tr><td>{}</td><td class=\"choices\">{looks}</td></tr>", shaft.number);
        }
        html += "</tbody></table>";
    }
    let choices = [Phrase::OwnGrew, Phrase::OwnDidNot, Phrase::OwnCannotSay];
    let choices = choices.map(|one| format!("<span>{}</span>", escaped(phrase(language, one)))).concat();
    let question = escaped(phrase(language, Phrase::OwnQuestion));
    html + &format!("<p class=\"choices\"><strong>{question}</strong> {choices}</p>")
}

fn own_key(own: &OwnPhoto, language: Language) -> String {
    let said = phrase(language, if own.grew { Phrase::OwnGrew } else { Phrase::OwnDidNot });
    let mut html = format!("<p>{}: {}</p>", escaped(phrase(language, Phrase::OwnCulture)), escaped(said));
    if !own.shafts.is_empty() {
        html += &head(language, &[Phrase::SeriesShaft, Phrase::OwnPersonSaid]);
        for shaft in &own.shafts {
            let look = of_desk(language, &format!("look.{}", shaft.look.code()));
            let _ = write!(html, "<tr><td>{}</td><td>{}</td></tr>", shaft.number, escaped(&look));
        }
        html += "</tbody></table>";
    }
    html
}

fn form(item: &Item, language: Language) -> String {
    let looks = looks(language);
    let places: String = (1..)
        .zip(Place::ALL)
        .map(|(n, place)| format!("<span>{n} {}</span>", escaped(&place_words(place, language))))
        .collect();
    let mut table = head(language, &[Phrase::SeriesShaft, Phrase::SeriesLook, Phrase::SeriesWhere, Phrase::SeriesRoot]);
    for shaft in &item.shafts {
        let root = if shaft.in_view.contains(&true) { "<span>A</span><span>B</span><span>?</span>" } else { "–" };
        let _ = write!(
            table,
            "<tr><td>{}</td><td class=\"choices\">{looks}</td><td class=\"choices\">{places}</td><td class=\"choices\">{root}</td></tr>",
            shaft.number
        );
    }
    table + "</tbody></table>"
}

fn key_of(prepared: &Prepared, language: Language) -> String {
    let mut table = head(
        language,
        &[
            Phrase::SeriesShaft,
            Phrase::SeriesLook,
            Phrase::SeriesWhere,
            Phrase::SeriesRoot,
            Phrase::Width,
            Phrase::ProgramTitle,
        ],
    );
    let not_asked = escaped(phrase(language, Phrase::NotAsked));
    for (shaft, found) in prepared.item.shafts.iter().zip(&prepared.found) {
        let place = shaft.truth.place.map_or(not_asked.clone(), |place| escaped(&place_words(place, language)));
        let base =
            shaft.truth.base.map_or(not_asked.clone(), |end| if end == End::A { "A".into() } else { "B".into() });
        let read = found.and_then(|index| prepared.entry.as_ref()?.shafts.get(index));
        let program = read.map_or(phrase(language, Phrase::ProgramMissed).to_owned(), |read| {
            let p = &read.probability;
            let likeliest = Look::ALL.into_iter().max_by(|a, b| p[*a as usize].total_cmp(&p[*b as usize]));
            let words = likeliest.map(|look| of_desk(language, &format!("look.{}", look.code()))).unwrap_or_default();
            let share = language.number(100.0 * p.iter().copied().fold(0.0, f64::max), 0);
            let width = language.width(read).map_or(String::new(), |width| format!(", {width}"));
            let said = if read.look.is_some() { Phrase::KeySaid } else { Phrase::KeyCannot };
            phrase(language, said).replace("{look}", &words).replace("{share}", &share) + &width
        });
        let _ = write!(
            table,
            "<tr><td>{}</td><td>{}</td><td>{place}</td><td>{base}</td><td>{} µm</td><td>{}</td></tr>",
            shaft.number,
            escaped(&of_desk(language, &format!("look.{}", shaft.truth.look.code()))),
            language.number(shaft.width_um, 1),
            escaped(&program)
        );
    }
    table + "</tbody></table>"
}

fn head(language: Language, columns: &[Phrase]) -> String {
    let cells: String =
        columns.iter().map(|one| format!("<th scope=\"col\">{}</th>", escaped(phrase(language, *one)))).collect();
    format!("<table><thead><tr>{cells}</tr></thead><tbody>")
}

fn place_words(place: Place, language: Language) -> String {
    of_desk(language, &format!("zone.{}", place.code()))
}
