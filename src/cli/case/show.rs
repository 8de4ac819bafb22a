//! Asking the record: lists, one case, what is due, the course of a site, the rules of thumb.

use serde::Serialize;

use super::record::{Done, Told};
use super::timeline;
use crate::store::{
    Correction, Culture, Day, DueKind, Exam, Fact, Kind, Note, Page, Photo, PlateReading, Reading, Site, Slide, Store,
    StoreError, Treatment, short,
};

/// Found facts that are shown unless told otherwise: two screens.
const MOST_FOUND: usize = 50;

/// What `pilumen case list` is told.
#[derive(clap::Args)]
pub(super) struct ListArguments {
    /// Leave out this many before
    #[arg(long, value_name = "N", default_value_t = 0)]
    skip: usize,
    /// List this many at most [default: all]
    #[arg(long, value_name = "N")]
    most: Option<usize>,
}

pub(super) fn list(arguments: &ListArguments, told: &Told<'_>) -> Done {
    let store = told.place.open()?;
    let lines = store.animals(Page { skip: arguments.skip, most: arguments.most.unwrap_or(usize::MAX) })?;
    told.answer(&lines, || {
        let mut text = String::new();
        for line in &lines {
            let n = |kind: Kind| line.counts.get(kind.word()).copied().unwrap_or(0);
            let group = line.animal.fact.group.as_ref().map(|group| format!("  {group}")).unwrap_or_default();
            text.push_str(&format!(
                "{}  {:<20} exams {:>3}  slides {:>3}  photos {:>4}  cultures {:>3}{group}\n",
                line.animal.short(),
                line.animal.fact.name,
                n(Kind::Exam),
                n(Kind::Slide),
                n(Kind::Photo),
                n(Kind::Culture),
            ));
        }
        if lines.is_empty() { "There is no animal yet.\n".to_owned() } else { text }
    })
}

/// What `pilumen case search` is told.
#[derive(clap::Args)]
pub(super) struct SearchArguments {
    /// Words, all of which must be in it
    #[arg(required = true)]
    words: Vec<String>,
    /// Show this many at most
    #[arg(long, value_name = "N", default_value_t = MOST_FOUND)]
    most: usize,
}

pub(super) fn search(arguments: &SearchArguments, told: &Told<'_>) -> Done {
    let found = told.place.open()?.search(&arguments.words.join(" "), arguments.most)?;
    told.answer(&found, || {
        let line = |one: &crate::store::Found| {
            let day = one.day.clone().unwrap_or_default();
            format!("{}  {:<10} {day:<10}  {}: {}\n", short(&one.id), one.kind.word(), one.name, one.words)
        };
        if found.is_empty() { "Nothing was found.\n".to_owned() } else { found.iter().map(line).collect() }
    })
}

/// What `pilumen case show` is told.
#[derive(clap::Args)]
pub(super) struct ShowArguments {
    /// An animal (name, number or id), or any fact (id)
    what: String,
}

pub(super) fn show(arguments: &ShowArguments, told: &Told<'_>) -> Done {
    let store = told.place.open()?;
    let id = store.find(None, &arguments.what)?;
    match store.kind_of(&id)? {
        Kind::Animal => {
            let case = store.case(&id)?;
            told.answer(&case, || timeline::timeline(&case))
        }
        Kind::Exam => one::<Exam>(&store, &id, told),
        Kind::Slide => one::<Slide>(&store, &id, told),
        Kind::Photo => one::<Photo>(&store, &id, told),
        Kind::Reading => {
            // With the shafts as they stand, beside what was read.
            #[derive(Serialize)]
            struct Shown {
                #[serde(flatten)]
                reading: crate::store::Kept<Reading>,
                shafts_as_they_stand: Vec<crate::store::ShaftSeen>,
            }
            let reading = store.reading(&id)?;
            let shown = Shown { shafts_as_they_stand: reading.shafts(), reading };
            told.answer(&shown, || pretty(&shown))
        }
        Kind::Correction => one::<Correction>(&store, &id, told),
        Kind::Treatment => one::<Treatment>(&store, &id, told),
        Kind::Culture => one::<Culture>(&store, &id, told),
        Kind::Plate => one::<PlateReading>(&store, &id, told),
        Kind::Note => one::<Note>(&store, &id, told),
        Kind::Contact => one::<crate::store::Contact>(&store, &id, told),
    }
}

fn one<T: Fact>(store: &Store, id: &str, told: &Told<'_>) -> Done {
    let kept = store.get::<T>(id)?;
    told.answer(&kept, || pretty(&kept))
}

/// JSON to be read by people.
fn pretty<T: Serialize>(value: &T) -> String {
    serde_json::to_string_pretty(value).unwrap_or_default() + "\n"
}

/// What `pilumen case due` is told.
#[derive(clap::Args)]
pub(super) struct DueArguments {
    /// Tell also what will be due within this many days
    #[arg(long, value_name = "DAYS", default_value_t = 0)]
    ahead: u16,
    /// As it stands on this day [default: today]
    #[arg(long)]
    day: Option<Day>,
}

pub(super) fn due(arguments: &DueArguments, told: &Told<'_>) -> Done {
    let store = told.place.open()?;
    let stamp = told.who.stamp();
    super::record::warn_of_clock(&store, &stamp)?;
    let today = arguments.day.unwrap_or(stamp.today);
    let due = store.due(today, arguments.ahead)?;
    told.answer(&due, || {
        let line = |one: &crate::store::Due| {
            let hold = one.kind == DueKind::CultureToHold;
            let when = if hold || one.day > today { "from" } else { "since" };
            let when = if one.day == today { "today".to_owned() } else { format!("{when} {}", one.day) };
            format!("{when:<16} {}: {} ({})\n", one.name, one.sentence, one.source)
        };
        if due.is_empty() { format!("Nothing is due on {today}.\n") } else { due.iter().map(line).collect() }
    })
}

/// What `pilumen case sites` is told.
#[derive(clap::Args)]
pub(super) struct SitesArguments {
    /// The animal: name, number or id
    animal: String,
}

pub(super) fn sites(arguments: &SitesArguments, told: &Told<'_>) -> Done {
    let store = told.place.open()?;
    let case = store.case(&store.find_animal(&arguments.animal)?)?;
    let sites = case.coincidences(&store.rules()?);
    told.answer(&sites, || {
        let line =
            |one: &crate::store::Coincidence| format!("{}, {}: {} ({})\n", one.site, one.day, one.sentence, one.source);
        if sites.is_empty() {
            "No exam has looked at a site yet.\n".to_owned()
        } else {
            sites.iter().map(line).collect()
        }
    })
}

/// What `pilumen case course` is told.
#[derive(clap::Args)]
pub(super) struct CourseArguments {
    /// The animal: name, number or id
    animal: String,
    /// The site [default: every site]
    #[arg(long)]
    site: Option<Site>,
}

pub(super) fn course(arguments: &CourseArguments, told: &Told<'_>) -> Done {
    let store = told.place.open()?;
    let case = store.case(&store.find_animal(&arguments.animal)?)?;
    let sites = match &arguments.site {
        Some(site) => vec![site.clone()],
        None => case.sites(),
    };
    let courses: Vec<_> = sites.iter().map(|site| case.course(site)).collect();
    told.answer(&courses, || courses.iter().map(timeline::course).collect())
}

/// What `pilumen case rules` is told.
#[derive(clap::Args)]
pub(super) struct RulesArguments {
    /// The rule to change
    #[arg(long, value_name = "NAME", requires_all = ["days", "why"])]
    set: Option<String>,
    /// Its days, growing, such as 7,14,21
    #[arg(long, value_delimiter = ',', requires = "set")]
    days: Vec<i64>,
    /// Why it is changed
    #[arg(long, requires = "set")]
    why: Option<String>,
}

pub(super) fn rules(arguments: &RulesArguments, told: &Told<'_>) -> Done {
    let rules = match &arguments.set {
        None => match told.place.open() {
            // The defaults can be read before there is a record.
            Err(StoreError::NoRecord(_)) => crate::store::Rules::defaults(),
            store => store?.rules()?,
        },
        Some(name) => {
            let (mut store, stamp) = told.writing()?;
            store.set_rule(name, &arguments.days, arguments.why.as_deref().unwrap_or_default(), &stamp)?
        }
    };
    told.answer(&rules, || {
        let line = |rule: &crate::store::Rule| {
            let days: Vec<String> = rule.days.iter().map(i64::to_string).collect();
            format!("{:<32} {:<10} {} ({})\n", rule.name, days.join(","), rule.says, rule.source)
        };
        rules.all().iter().map(line).collect()
    })
}
