//! Keeping facts: each command is one fact.

use super::super::typed::number;
use super::record::{Done, Told};
use crate::store::{
    AgeClass, Animal, Answer, CoatLength, Contact, Culture, Day, Evenness, Exam, Growth, Identifier, Kind, LampKind,
    Neuter, Note, PlateReading, Sex, Site, SiteSeen, Slide, StoreError, Treatment, TreatmentKind,
};

/// What `pilumen case animal` is told.
#[derive(clap::Args)]
pub(super) struct AnimalArguments {
    /// What it is called
    name: String,
    /// short, medium, long or hairless
    #[arg(long)]
    coat: Option<CoatLength>,
    /// Colour of the coat
    #[arg(long)]
    colour: Option<String>,
    /// neonate, kitten, juvenile, adult or senior
    #[arg(long)]
    age: Option<AgeClass>,
    /// female or male
    #[arg(long)]
    sex: Option<Sex>,
    /// neutered or intact
    #[arg(long)]
    neuter: Option<Neuter>,
    /// A number others know it by, such as chip=900000000000000; may be given again
    #[arg(long = "id", value_name = "KIND=NUMBER", value_parser = identifier)]
    ids: Vec<Identifier>,
    /// The day it came in, such as 2026-11-25
    #[arg(long, value_name = "DAY")]
    intake: Option<Day>,
    /// The group or litter it lives or came with
    #[arg(long)]
    group: Option<String>,
}

fn identifier(text: &str) -> Result<Identifier, String> {
    let (kind, value) = text.split_once('=').ok_or("give it as KIND=NUMBER, such as chip=900000000000000")?;
    Ok(Identifier { kind: kind.trim().to_owned(), value: value.trim().to_owned() })
}

pub(super) fn animal(arguments: &AnimalArguments, told: &Told<'_>) -> Done {
    let mut store = told.place.open_or_create()?;
    let stamp = told.who.stamp();
    super::record::warn_of_clock(&store, &stamp)?;
    let animal = Animal {
        name: arguments.name.clone(),
        coat_length: arguments.coat,
        coat_colour: arguments.colour.clone(),
        age_class: arguments.age,
        sex: arguments.sex,
        neuter: arguments.neuter,
        identifiers: arguments.ids.clone(),
        intake: arguments.intake,
        group: arguments.group.clone(),
    };
    told.kept(&store.add_animal(&animal, &stamp)?, &animal.name)
}

/// What `pilumen case exam` is told.
#[derive(clap::Args)]
pub(super) struct ExamArguments {
    /// The animal: name, number or id
    animal: String,
    /// The day [default: today]
    #[arg(long)]
    day: Option<Day>,
    /// Wavelength of the lamp, nanometres
    #[arg(long, value_name = "N", value_parser = number)]
    lamp_nm: Option<f64>,
    /// led, mercury, tube or other
    #[arg(long, value_name = "KIND")]
    lamp: Option<LampKind>,
    /// How long the lamp was on before, minutes
    #[arg(long, value_name = "N", value_parser = number)]
    warm_up_min: Option<f64>,
    /// Was the animal bathed before: yes, no or unsure
    #[arg(long, value_name = "ANSWER")]
    bathed: Option<Answer>,
    /// Was it treated on the skin before: yes, no or unsure
    #[arg(long, value_name = "ANSWER")]
    treated: Option<Answer>,
    /// What was seen at a site; may be given again. Such as "left pinna: fluorescence=yes, colour=apple green,
    /// evenness=even, hair-loss=no, crust=no, crust-lifted=no"
    #[arg(long = "site", value_name = "SITE: WHAT=ANSWER, ...", value_parser = site_seen)]
    sites: Vec<SiteSeen>,
    /// Free words
    #[arg(long)]
    remark: Option<String>,
}

fn site_seen(text: &str) -> Result<SiteSeen, String> {
    let (site, rest) = text.rsplit_once(':').ok_or("give it as \"left pinna: fluorescence=yes, hair-loss=no\"")?;
    let mut seen = SiteSeen {
        site: site.parse()?,
        fluorescence: Answer::Unsure,
        colour: None,
        evenness: None,
        hair_loss: None,
        crust: None,
        crust_lifted: None,
    };
    let mut told = false;
    for part in rest.split(',').map(str::trim).filter(|part| !part.is_empty()) {
        let (what, answer) = part.split_once('=').ok_or_else(|| format!("\"{part}\" is not WHAT=ANSWER"))?;
        match what.trim().replace('_', "-").as_str() {
            "fluorescence" => {
                seen.fluorescence = answer.parse()?;
                told = true;
            }
            "colour" => seen.colour = Some(answer.trim().to_owned()),
            "evenness" => seen.evenness = Some(answer.parse::<Evenness>()?),
            "hair-loss" => seen.hair_loss = Some(answer.parse()?),
            "crust" => seen.crust = Some(answer.parse()?),
            "crust-lifted" => seen.crust_lifted = Some(answer.parse()?),
            other => {
                return Err(format!(
                    "\"{other}\" is none of fluorescence, colour, evenness, hair-loss, crust, crust-lifted"
                ));
            }
        }
    }
    if told {
        Ok(seen)
    } else {
        Err(format!("say of {} whether it fluoresced: fluorescence=yes, no or unsure", seen.site))
    }
}

pub(super) fn exam(arguments: &ExamArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let animal = store.find_animal(&arguments.animal)?;
    let exam = Exam {
        day: arguments.day.unwrap_or(stamp.today),
        lamp_nm: arguments.lamp_nm,
        lamp_kind: arguments.lamp,
        warm_up_min: arguments.warm_up_min,
        bathed_before: arguments.bathed,
        treated_before: arguments.treated,
        sites: arguments.sites.clone(),
        remark: arguments.remark.clone(),
    };
    let kept = store.add_exam(&animal, &exam, &stamp)?;
    let rules = store.rules()?;
    let sites = store.case(&animal)?.coincidences(&rules);
    let said: Vec<String> = sites
        .iter()
        .filter(|site| site.exam == kept.id)
        .map(|site| format!("\n  {}: {} ({})", site.site, site.sentence, site.source))
        .collect();
    told.kept(&kept, format!("exam of {}{}", exam.day, said.concat()))
}

/// What `pilumen case slide` is told.
#[derive(clap::Args)]
pub(super) struct SlideArguments {
    /// The animal (name, number or id) or the exam (id)
    of: String,
    /// Where the hairs were taken
    #[arg(long)]
    site: Site,
    /// The day [default: today]
    #[arg(long)]
    day: Option<Day>,
    /// Which hairs were plucked
    #[arg(long)]
    plucked: Option<String>,
    /// Whether ordinary hairs lie on it, and which
    #[arg(long)]
    comparison_hairs: Option<String>,
    /// What is written on the glass
    #[arg(long)]
    label: Option<String>,
}

pub(super) fn slide(arguments: &SlideArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let of = animal_or_exam(&store, &arguments.of)?;
    let slide = Slide {
        site: arguments.site.clone(),
        day: arguments.day.unwrap_or(stamp.today),
        plucked: arguments.plucked.clone(),
        comparison_hairs: arguments.comparison_hairs.clone(),
        label: arguments.label.clone(),
    };
    told.kept(&store.add_slide(&of, &slide, &stamp)?, format!("{} of {}", slide.site, slide.day))
}

/// The id of an animal or an exam.
fn animal_or_exam(store: &crate::store::Store, reference: &str) -> Result<String, StoreError> {
    match store.find(Some(Kind::Exam), reference) {
        Err(StoreError::Unknown { .. }) => store.find_animal(reference),
        found => found,
    }
}

/// What `pilumen case treatment` is told.
#[derive(clap::Args)]
pub(super) struct TreatmentArguments {
    /// The animal: name, number or id
    animal: String,
    /// bath, topical, systemic, clipping or other
    #[arg(long)]
    kind: TreatmentKind,
    /// What was given
    #[arg(long)]
    with: String,
    /// How much and how often
    #[arg(long)]
    dose: Option<String>,
    /// The day it was given or begun [default: today]
    #[arg(long)]
    day: Option<Day>,
    /// The day it ended
    #[arg(long, value_name = "DAY")]
    until: Option<Day>,
}

pub(super) fn treatment(arguments: &TreatmentArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let animal = store.find_animal(&arguments.animal)?;
    let treatment = Treatment {
        day: arguments.day.unwrap_or(stamp.today),
        until: arguments.until,
        kind: arguments.kind,
        with: arguments.with.clone(),
        dose: arguments.dose.clone(),
    };
    told.kept(&store.add_treatment(&animal, &treatment, &stamp)?, format!("{} on {}", treatment.with, treatment.day))
}

/// What `pilumen case culture` is told.
#[derive(clap::Args)]
pub(super) struct CultureArguments {
    /// The animal (name, number or id) or the exam (id)
    of: String,
    /// The medium, or another test's name
    #[arg(long)]
    medium: String,
    /// The day it was sent or set up [default: today]
    #[arg(long)]
    day: Option<Day>,
    /// Where the sample was taken [default: the whole coat]
    #[arg(long)]
    site: Option<Site>,
    /// How it was taken, such as toothbrush
    #[arg(long, value_name = "HOW")]
    sampled_by: Option<String>,
    /// Which laboratory
    #[arg(long)]
    laboratory: Option<String>,
    /// It is a test other than a culture
    #[arg(long)]
    other_test: bool,
}

pub(super) fn culture(arguments: &CultureArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let of = animal_or_exam(&store, &arguments.of)?;
    let culture = Culture {
        day: arguments.day.unwrap_or(stamp.today),
        medium: arguments.medium.clone(),
        site: arguments.site.clone(),
        sampled_by: arguments.sampled_by.clone(),
        laboratory: arguments.laboratory.clone(),
        other_test: arguments.other_test,
    };
    told.kept(&store.add_culture(&of, &culture, &stamp)?, format!("{} of {}", culture.medium, culture.day))
}

/// What `pilumen case plate` is told.
#[derive(clap::Args)]
pub(super) struct PlateArguments {
    /// The culture: id
    culture: String,
    /// none, suspect, ringworm or other
    #[arg(long)]
    growth: Growth,
    /// The day it was looked at [default: today]
    #[arg(long)]
    day: Option<Day>,
    /// Was it confirmed under the microscope: true or false
    #[arg(long, value_name = "BOOL")]
    confirmed: Option<bool>,
    /// What was identified
    #[arg(long)]
    species: Option<String>,
    /// This is the last word on this culture
    #[arg(long)]
    last: bool,
    /// Free words
    #[arg(long)]
    remark: Option<String>,
}

pub(super) fn plate(arguments: &PlateArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let culture = store.find(Some(Kind::Culture), &arguments.culture)?;
    let plate = PlateReading {
        day: arguments.day.unwrap_or(stamp.today),
        growth: arguments.growth,
        confirmed_microscopically: arguments.confirmed,
        species: arguments.species.clone(),
        last: arguments.last,
        remark: arguments.remark.clone(),
    };
    told.kept(&store.add_plate(&culture, &plate, &stamp)?, format!("growth {} on {}", plate.growth, plate.day))
}

/// What `pilumen case note` is told.
#[derive(clap::Args)]
pub(super) struct NoteArguments {
    /// What it is about: an animal (name, number or id) or the id of anything
    of: String,
    /// The note
    text: String,
    /// The day it is about
    #[arg(long)]
    day: Option<Day>,
}

pub(super) fn note(arguments: &NoteArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let of = store.find(None, &arguments.of)?;
    let note = Note { day: arguments.day, text: arguments.text.clone() };
    told.kept(&store.add_note(&of, &note, &stamp)?, "note")
}

/// What `pilumen case contact` is told.
#[derive(clap::Args)]
pub(super) struct ContactArguments {
    /// The animal that was exposed: name, number or id
    animal: String,
    /// Whom or what it was exposed to: an animal of the record, or free words
    #[arg(long)]
    with: String,
    /// The last day of the contact [default: today]
    #[arg(long)]
    day: Option<Day>,
    /// What kind of contact, such as "same room"
    #[arg(long)]
    how: Option<String>,
}

pub(super) fn contact(arguments: &ContactArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let animal = store.find_animal(&arguments.animal)?;
    let (source, with) = match store.find_animal(&arguments.with) {
        Ok(id) => (Some(id.clone()), store.animal(&id)?.fact.name),
        Err(StoreError::Unknown { .. }) => (None, arguments.with.clone()),
        Err(error) => return Err(error),
    };
    let contact = Contact { day: arguments.day.unwrap_or(stamp.today), source, with, how: arguments.how.clone() };
    told.kept(
        &store.add_contact(&animal, &contact, &stamp)?,
        format!("with {} until {}; look again as `pilumen case due` says", contact.with, contact.day),
    )
}

#[cfg(test)]
mod tests {
    use super::{identifier, site_seen};
    use crate::store::Answer;

    #[test]
    fn a_site_is_told_in_one_argument() {
        let seen = site_seen("left pinna: fluorescence=yes, colour=apple green, hair-loss=no").unwrap();
        assert_eq!(
            (seen.site.name(), seen.fluorescence, seen.hair_loss),
            ("left pinna", Answer::Yes, Some(Answer::No))
        );
        assert_eq!(seen.colour.as_deref(), Some("apple green"));
        let own = site_seen("other: behind the elbow: fluorescence=no").unwrap();
        assert_eq!(own.site.name(), "other: behind the elbow");
        for wrong in ["left pinna", "left pinna: hair-loss=no", "elbow: fluorescence=no", "nose: glow=yes", "nose: x"] {
            assert!(site_seen(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_number_has_a_kind() {
        assert_eq!(identifier("chip=900").unwrap().value, "900");
        assert!(identifier("900").is_err());
    }
}
