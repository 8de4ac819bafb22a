//! The atlas's pages as HTML: the index, a plate, the days. No script but `atlas.js`, no style but `atlas.css`.

use std::fmt::Write;

use super::atlas::{Home, page_name};
use super::days::{days_of_infection, days_of_recovery};
use super::drawn::{Drawn, ReadShaft, View};
use super::plates::{Group, Plate, plates};
use super::svg::{labelled, profiles};
use super::words::{Language, Phrase, group, of_desk, phrase, plate as words_of};
use crate::maths::markup::escaped;

/// How many of the measurements that counted most are told.
const REASONS: usize = 3;

/// The page that leads to all plates.
pub(super) fn index(language: Language, home: Home) -> String {
    let say = |one: Phrase| escaped(phrase(language, one));
    let mut body = format!("<h1>{}</h1>{}", say(Phrase::Atlas), notes(language));
    let _ = write!(
        body,
        "<section class=\"start\"><h2>{}</h2><ol><li>{}</li><li>{}</li><li>{}</li></ol><h3>{}</h3><ul>{}</ul></section>",
        say(Phrase::HowToStart),
        say(Phrase::Start1),
        say(Phrase::Start2),
        say(Phrase::Start3),
        say(Phrase::Words),
        [Phrase::ShaftIs, Phrase::BaseIs, Phrase::TipIs, Phrase::CuticleIs, Phrase::GlowIs, Phrase::CuffIs]
            .map(|one| format!("<li>{}</li>", say(one)))
            .concat()
    );
    let all = plates();
    for heading in Group::ALL {
        let _ = write!(body, "<h2>{}</h2><ul class=\"plates\">", escaped(group(language, heading)));
        for plate in all.iter().filter(|plate| plate.group == heading) {
            let _ = write!(
                body,
                "<li><a href=\"{}\"><img src=\"thumb-{}.jpg\" alt=\"\" width=\"300\" height=\"115\" loading=\"lazy\"><span>{}</span></a></li>",
                page_name(&format!("plate-{}", plate.code), language),
                plate.code,
                escaped(words_of(language, plate.code).title)
            );
        }
        if heading == Group::Recovering {
            let _ = write!(
                body,
                "<li><a href=\"{}\"><img src=\"days-infection-7-uv.jpg\" alt=\"\" width=\"300\" height=\"60\" loading=\"lazy\"><span>{}</span></a></li>",
                page_name("days", language),
                say(Phrase::DaysTitle)
            );
        }
        body.push_str("</ul>");
    }
    page("index", phrase(language, Phrase::Atlas), &body, language, home)
}

/// The page of a plate.
pub(super) fn plate_page(plate: &Plate, drawn: &Drawn, language: Language, home: Home) -> String {
    let say = |one: Phrase| escaped(phrase(language, one));
    let words = words_of(language, plate.code);
    let list = |sentences: &[&str]| -> String {
        sentences.iter().map(|sentence| format!("<li>{}</li>", escaped(sentence))).collect()
    };
    let mut body = format!(
        "<p class=\"heading\">{}</p><h1>{}</h1>{}<div class=\"two\"><section><h2>{}</h2><ul>{}</ul></section><section><h2>{}</h2><ul>{}</ul></section></div>",
        escaped(group(language, plate.group)),
        escaped(words.title),
        notes(language),
        say(Phrase::LookFor),
        list(words.look_for),
        say(Phrase::Mistaken),
        list(words.mistaken)
    );
    let pair = |body: &mut String, view: &View, stem: &str, uv: Phrase, visible: Phrase| {
        let file = |light: &str| format!("{stem}-{light}.jpg");
        let title = |one: Phrase| {
            format!("{}: {} ({})", words.title, phrase(language, one), phrase(language, Phrase::Simulated))
        };
        let _ = write!(
            body,
            "<figure><figcaption>{}</figcaption>{}</figure><figure><figcaption>{}</figcaption><img class=\"visible\" src=\"{}\" alt=\"{}\" width=\"{}\" height=\"{}\"></figure>",
            say(uv),
            labelled(view, &file("uv"), &title(uv), language),
            say(visible),
            file("visible"),
            escaped(&title(visible)),
            view.width,
            view.height
        );
    };
    pair(&mut body, &drawn.whole, plate.code, Phrase::WholeUv, Phrase::WholeVisible);
    let _ = write!(body, "<p class=\"small\">{}</p>", say(Phrase::Short));
    for (i, view) in drawn.close.iter().enumerate() {
        pair(&mut body, view, &format!("{}-close{}", plate.code, i + 1), Phrase::CloseUv, Phrase::CloseVisible);
    }
    let _ = write!(body, "<section class=\"program\"><h2>{}</h2>", say(Phrase::ProgramTitle));
    match &drawn.read {
        None => {
            let _ = write!(body, "<p>{}</p>", say(Phrase::ProgramMissed));
        }
        Some(read) => body.push_str(&program(plate, drawn, read, language)),
    }
    body.push_str("</section>");
    let sources: String = plate.sources.iter().map(|source| format!("<li>{}</li>", escaped(source))).collect();
    let _ = write!(body, "<section class=\"sources\"><h2>{}</h2><ul>{sources}</ul></section>", say(Phrase::Sources));
    body.push_str(&neighbours(plate, language));
    page(&format!("plate-{}", plate.code), words.title, &body, language, home)
}

fn program(plate: &Plate, drawn: &Drawn, read: &ReadShaft, language: Language) -> String {
    let share = language.number(100.0 * read.probability, 0);
    let zone = of_desk(language, &format!("zone.{}", read.zone));
    let likeliest = of_desk(language, &format!("look.{}", read.likeliest.code()));
    let said = match read.look {
        Some(_) => Phrase::ProgramSaid,
        None => Phrase::ProgramCannot,
    };
    // The look begins the sentence where the program says one, and stands within it where it cannot say.
    let named = if read.look.is_some() { capital(&likeliest) } else { likeliest };
    let said = phrase(language, said).replace("{look}", &named).replace("{share}", &share).replace("{zone}", &zone);
    let mut html = format!("<p>{}</p>", escaped(&said));
    if let Some(width_um) = read.width_um {
        let measured = language.with_sd(width_um, read.width_sd_um, "µm");
        let text = phrase(language, Phrase::ProgramWidth)
            .replace("{measured}", &measured)
            .replace("{drawn}", &language.number(drawn.true_width_um, 1));
        let _ = write!(html, "<p>{}</p>", escaped(&text));
    }
    let reasons: String =
        read.reasons(language).iter().take(REASONS).map(|reason| format!("<li>{}.</li>", escaped(reason))).collect();
    let _ = write!(
        html,
        "<p>{}</p><ul>{reasons}</ul><figure><figcaption>{}</figcaption><img class=\"strip\" src=\"{}-strip.jpg\" alt=\"\" width=\"{}\" height=\"{}\">{}</figure>",
        escaped(phrase(language, Phrase::Reasons)),
        escaped(phrase(language, Phrase::StripTitle)),
        plate.code,
        read.strip.1,
        read.strip.2,
        profiles(read, language)
    );
    html
}

fn neighbours(plate: &Plate, language: Language) -> String {
    let all = plates();
    let at = all.iter().position(|one| one.code == plate.code).unwrap_or(0);
    let link = |one: Option<&Plate>, name: Phrase| {
        one.map(|one| {
            format!(
                "<a href=\"{}\">{}: {}</a>",
                page_name(&format!("plate-{}", one.code), language),
                escaped(phrase(language, name)),
                escaped(words_of(language, one.code).title)
            )
        })
        .unwrap_or_default()
    };
    let before = at.checked_sub(1).and_then(|i| all.get(i));
    format!(
        "<p class=\"turn\">{} <a href=\"{}\">{}</a> {}</p>",
        link(before, Phrase::Before),
        page_name("index", language),
        escaped(phrase(language, Phrase::ToIndex)),
        link(all.get(at + 1), Phrase::Next)
    )
}

/// The page with the sliders; where scripts are off, all pictures stand in a row.
pub(super) fn days_page(language: Language, home: Home) -> String {
    let say = |one: Phrase| escaped(phrase(language, one));
    let mut body = format!(
        "<h1>{}</h1>{}<p class=\"lead\">{}</p><fieldset class=\"light\" data-light hidden><legend>{}</legend>\
         <label><input type=\"radio\" name=\"light\" value=\"uv\" checked> {}</label> \
         <label><input type=\"radio\" name=\"light\" value=\"visible\"> {}</label></fieldset>",
        say(Phrase::DaysTitle),
        notes(language),
        say(Phrase::DaysLead),
        say(Phrase::Light),
        say(Phrase::Ultraviolet),
        say(Phrase::Visible)
    );
    let parts = [
        ("infection", days_of_infection(), Phrase::DaysInfection, Phrase::DayOfInfection),
        ("recovery", days_of_recovery(), Phrase::DaysRecovery, Phrase::DayOfRecovery),
    ];
    for (name, days, title, each) in parts {
        let listed: Vec<String> = days.iter().map(u16::to_string).collect();
        let _ = write!(
            body,
            "<section class=\"days\" data-days=\"{}\" data-name=\"{name}\" data-words=\"{}\"><h2>{}</h2>\
             <p data-slider hidden><input type=\"range\" min=\"0\" max=\"{}\" value=\"0\" step=\"1\" aria-label=\"{}\"> <output></output></p>",
            listed.join(" "),
            say(each),
            say(title),
            days.len() - 1,
            say(title)
        );
        for day in days {
            let caption = phrase(language, each).replace("{day}", &day.to_string());
            let _ = write!(
                body,
                "<figure data-day=\"{day}\"><figcaption>{caption}</figcaption>\
                 <img src=\"days-{name}-{day}-uv.jpg\" data-light=\"uv\" alt=\"{caption}, {}\" width=\"1200\" height=\"240\">\
                 <img src=\"days-{name}-{day}-visible.jpg\" data-light=\"visible\" alt=\"{caption}, {}\" width=\"1200\" height=\"240\"></figure>",
                say(Phrase::Ultraviolet),
                say(Phrase::Visible)
            );
        }
        body.push_str("</section>");
    }
    let sources = [super::sources::COURSE, super::sources::TIPS, super::sources::TIMES];
    let _ = write!(
        body,
        "<p class=\"small\">{} {}</p><section class=\"sources\"><h2>{}</h2><ul>{}</ul></section><p class=\"turn\"><a href=\"{}\">{}</a></p>",
        say(Phrase::DaysCaution),
        say(Phrase::Short),
        say(Phrase::Sources),
        sources.map(|source| format!("<li>{}</li>", escaped(source))).concat(),
        page_name("index", language),
        say(Phrase::ToIndex)
    );
    page("days", phrase(language, Phrase::DaysTitle), &body, language, home)
}

/// What stands at the top of every page: that it is simulated, and the advice.
pub(super) fn notes(language: Language) -> String {
    noted(language, Phrase::SimulatedLong)
}

/// What the pictures are, and the advice.
pub(super) fn noted(language: Language, what: Phrase) -> String {
    format!(
        "<p class=\"note\"><strong>{}</strong> {}</p>",
        escaped(phrase(language, what)),
        escaped(phrase(language, Phrase::Culture))
    )
}

/// A whole page.
pub(super) fn page(stem: &str, title: &str, body: &str, language: Language, home: Home) -> String {
    let others: String = Language::ALL
        .into_iter()
        .map(|other| match other == language {
            true => format!("<span aria-current=\"true\">{}</span> ", other.name()),
            false => format!("<a href=\"{}\" lang=\"{}\">{}</a> ", page_name(stem, other), other.tag(), other.name()),
        })
        .collect();
    let back = match home {
        Home::Folder => String::new(),
        Home::Desk => format!("<a href=\"/learn\">{}</a> ", escaped(phrase(language, Phrase::ToDesk))),
    };
    format!(
        "<!doctype html>\n<html lang=\"{}\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"color-scheme\" content=\"light dark\">\n<title>{} · Pilumen</title>\n<link rel=\"stylesheet\" href=\"atlas.css\">\n\
         <script src=\"atlas.js\" defer></script>\n</head>\n<body>\n<header><nav aria-label=\"Pilumen\">{back}<a href=\"{}\">{}</a></nav><p class=\"languages\">{others}</p></header>\n\
         <main>{body}</main>\n</body>\n</html>\n",
        language.tag(),
        escaped(title),
        page_name("index", language),
        escaped(phrase(language, Phrase::Atlas))
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map(|first| first.to_uppercase().collect::<String>() + letters.as_str()).unwrap_or_default()
}
