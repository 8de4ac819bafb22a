//! A series to print: photos with numbered shafts, room for answers, and the key on the last pages.

use std::fmt::Write;

use super::answer::{Call, End, Place};
use super::atlas::Home;
use super::item::{Asked, Item, ItemName, Level, Prepared};
use super::pages::{notes, page};
use super::sheet::blank_sheet;
use super::words::{Language, Phrase, of_desk, phrase};
use crate::finding::Model;
use crate::maths::markup::escaped;

/// A series as files by name.
#[derive(Clone, Debug)]
pub struct PrintedSeries {
    /// Name and bytes of each file.
    pub files: Vec<(String, Vec<u8>)>,
}

/// A series of `n` photos of a level, from the item of this number on.
pub fn printed_series(level: Level, from: u32, n: u32, language: Language, model: &Model) -> PrintedSeries {
    let items: Vec<Item> =
        (from..from.saturating_add(n)).filter_map(|number| Item::drawn(ItemName { level, number })).collect();
    let mut files = vec![
        ("atlas.css".to_owned(), include_bytes!("assets/atlas.css").to_vec()),
        ("atlas.js".to_owned(), include_bytes!("assets/atlas.js").to_vec()),
        ("answers.csv".to_owned(), blank_sheet(&items)),
    ];
    let say = |one: Phrase| escaped(phrase(language, one));
    let mut body = format!(
        "<div class=\"series\"><h1>{} {}</h1>{}<p class=\"lead\">{}</p><p>{}: ______________________</p>",
        say(Phrase::SeriesTitle),
        level.number(),
        notes(language),
        say(Phrase::SeriesLead),
        say(Phrase::SeriesName)
    );
    let mut key = String::new();
    for (index, item) in items.into_iter().enumerate() {
        let prepared = Prepared::of(item, model);
        let file = format!("{}.jpg", prepared.item.name);
        let title = phrase(language, Phrase::SeriesPhoto).replace("{n}", &(index + 1).to_string());
        let title = format!("{title} · {}", prepared.item.name);
        let _ = write!(
            body,
            "<section class=\"photo\"><h2>{title}</h2>{}{}</section>",
            numbered(&prepared.item, &file, &title),
            form(&prepared.item, language)
        );
        let _ = write!(key, "<h3>{title}</h3>{}", key_of(&prepared, language));
        files.push((file, prepared.photo));
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
    files.push(("series.html".to_owned(), html.into_bytes()));
    PrintedSeries { files }
}

/// The photo with its shafts' numbers and the letters of their ends.
fn numbered(item: &Item, file: &str, title: &str) -> String {
    let [w, h] = item.size_px();
    let mut svg = format!(
        "<svg viewBox=\"0 0 {w} {h}\" role=\"img\" aria-label=\"{}\"><image href=\"{file}\" width=\"{w}\" height=\"{h}\"/>",
        escaped(title)
    );
    for shaft in &item.shafts {
        let _ = write!(
            svg,
            "<circle class=\"tag\" cx=\"{0:.0}\" cy=\"{1:.0}\" r=\"18\"/><text class=\"tagWords\" x=\"{0:.0}\" y=\"{2:.0}\" text-anchor=\"middle\">{3}</text>",
            shaft.tag.x,
            shaft.tag.y,
            shaft.tag.y + 8.0,
            shaft.number
        );
        for (letter, at, inside, seen) in ends(shaft) {
            if seen {
                let off = at + (at - inside).unit() * 20.0;
                let (x, y) = (off.x.clamp(14.0, w as f64 - 14.0), off.y.clamp(16.0, h as f64 - 14.0));
                let _ = write!(
                    svg,
                    "<circle class=\"tag\" cx=\"{x:.0}\" cy=\"{y:.0}\" r=\"13\"/><text class=\"tagWords\" x=\"{x:.0}\" y=\"{:.0}\" text-anchor=\"middle\">{letter}</text>",
                    y + 8.0
                );
            }
        }
    }
    svg + "</svg>"
}

fn ends(shaft: &Asked) -> [(&'static str, crate::maths::point::Point, crate::maths::point::Point, bool); 2] {
    let n = shaft.line.len();
    [
        ("A", shaft.line[0], shaft.line[1], shaft.in_view[0]),
        ("B", shaft.line[n - 1], shaft.line[n - 2], shaft.in_view[1]),
    ]
}

fn form(item: &Item, language: Language) -> String {
    let looks: String = (1..)
        .zip(Call::ALL)
        .map(|(n, call)| format!("<span>{n} {}</span>", escaped(&of_desk(language, &format!("look.{}", call.code())))))
        .collect();
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
            let look = read.look.map_or("undetermined", |look| look.code());
            let share = language.number(100.0 * read.probability.iter().copied().fold(0.0, f64::max), 0);
            let width = read
                .width
                .median_um
                .map_or(String::new(), |um| format!(", {}", language.with_sd(um, read.width.sd_um, "µm")));
            format!("{} ({share} %){width}", of_desk(language, &format!("look.{look}")))
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
