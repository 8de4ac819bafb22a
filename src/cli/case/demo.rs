//! `pilumen case demo`: an empty record filled with the invented animals of Quillfeather House.
//!
//! Photos are drawn by the simulator and read by the program, so that nothing in the readings is made up by hand;
//! animals, days, cultures and treatments are.

use super::photos::text_of;
use super::record::{Done, Told};
use crate::cli::model::model;
use crate::cli::photos::read_bytes;
use crate::exports::{Format, from_record};
use crate::finding::Model;
use crate::pipeline::Want;
use crate::settings::Settings;
use crate::sim::{Condition, Crossings, Ranges, Scene, photo};
use crate::store::{
    AgeClass, Animal, Answer, CoatLength, Contact, Culture, Day, Evenness, Exam, Growth, Identifier, LampKind, Light,
    Neuter, Note, PlateReading, Sex, Site, SiteSeen, Slide, Stamp, Store, StoreError, Treatment, TreatmentKind,
};

/// Who tells everything in the demo record.
const WHO: &str = "Quillfeather House (invented)";

/// What is said of the whole, on each animal and on the screen.
const INVENTED: &str = "Invented for trying things: Quillfeather House, its animals, days, cultures and treatments do not \
                        exist, and the photos are drawn by a simulator.";

/// Weights of the kinds of slide to draw: healthy, infected, coated, mixed.
const HEALTHY: [f64; 4] = [1.0, 0.0, 0.0, 0.0];
const INFECTED: [f64; 4] = [0.0, 1.0, 0.0, 0.0];
const COATED: [f64; 4] = [0.0, 0.0, 1.0, 0.0];
const MIXED: [f64; 4] = [0.0, 0.0, 0.0, 1.0];

/// Columns of the drawn photos: small, so that the demo is there in seconds.
const WIDTH_PX: (usize, usize) = (900, 1000);

pub(super) fn demo(told: &Told<'_>) -> Done {
    let mut store = told.place.open_or_create()?;
    let stamp = Stamp { by: WHO.to_owned(), ..told.who.stamp() };
    if store.counts()?.values().sum::<u64>() > 0 {
        return Err(StoreError::Unusable(
            "the record is not empty, and invented animals must not be mixed with real ones; name another folder with \
             --record DIR"
                .to_owned(),
        ));
    }
    let model = model(None).map_err(StoreError::Unusable)?;
    let mut demo = Demo { store: &mut store, stamp: &stamp, model: &model, settings: Settings::default() };
    demo.fill()?;
    let counts = store.counts()?;
    told.answer(&counts, || {
        let counts: Vec<String> = counts.iter().map(|(kind, n)| format!("{kind} {n}")).collect();
        format!("{INVENTED}\nKept: {}\nTry `pilumen case list`, `case show Moth`, `case due`.\n", counts.join(", "))
    })
}

struct Demo<'a> {
    store: &'a mut Store,
    stamp: &'a Stamp,
    model: &'a Model,
    settings: Settings,
}

impl Demo<'_> {
    fn fill(&mut self) -> Result<(), StoreError> {
        let moth = self.animal("Moth", CoatLength::Long, "smoke", AgeClass::Kitten, Sex::Female, "attic litter", 48)?;
        let bracken =
            self.animal("Bracken", CoatLength::Short, "brown tabby", AgeClass::Adult, Sex::Male, "attic litter", 48)?;
        let pepperpot = self.animal(
            "Pepperpot",
            CoatLength::Medium,
            "black and white",
            AgeClass::Juvenile,
            Sex::Male,
            "porch",
            20,
        )?;
        let tansy = self.animal("Tansy", CoatLength::Short, "ginger", AgeClass::Kitten, Sex::Female, "porch", 20)?;
        let oriel = self.animal("Oriel", CoatLength::Long, "cream", AgeClass::Senior, Sex::Female, "study", 5)?;

        self.exam(&moth, 45, "left pinna", Answer::Yes, Answer::Yes)?;
        self.slide(&moth, 45, "left pinna", INFECTED, 11)?;
        let culture = self.culture(&moth, 45, "Sabouraud dextrose agar", Some("left pinna"))?;
        self.plate(&culture, 38, Growth::Suspect, None, false)?;
        self.plate(&culture, 34, Growth::Ringworm, Some("Microsporum canis"), true)?;
        self.treatment(&moth, 33, TreatmentKind::Systemic, "as the veterinarian prescribed", Some(3))?;
        self.treatment(&moth, 33, TreatmentKind::Bath, "lime sulfur dip, twice a week", Some(3))?;
        self.exam(&moth, 24, "left pinna", Answer::Yes, Answer::Yes)?;
        self.slide(&moth, 24, "left pinna", MIXED, 12)?;
        self.exam(&moth, 3, "left pinna", Answer::No, Answer::Yes)?;
        self.slide(&moth, 3, "left pinna", HEALTHY, 13)?;
        self.culture(&moth, 3, "Sabouraud dextrose agar", None)?;

        self.contact(&bracken, 40, &moth, "Moth", "same attic until Moth was taken apart")?;
        self.exam(&bracken, 33, "muzzle", Answer::Yes, Answer::No)?;
        self.exam(&bracken, 29, "muzzle", Answer::Yes, Answer::No)?;
        self.slide(&bracken, 29, "muzzle", COATED, 14)?;
        let culture = self.culture(&bracken, 29, "Sabouraud dextrose agar", Some("muzzle"))?;
        self.plate(&culture, 22, Growth::None, None, false)?;
        self.plate(&culture, 8, Growth::None, None, true)?;

        self.contact(&pepperpot, 9, &moth, "Moth", "shared brush")?;
        self.contact(&tansy, 9, &moth, "Moth", "shared brush")?;
        self.exam(&tansy, 1, "right forepaw", Answer::Unsure, Answer::No)?;
        let culture = self.culture(&tansy, 8, "DTM", None)?;
        self.plate(&culture, 1, Growth::None, None, false)?;
        self.exam(&oriel, 4, "chin", Answer::No, Answer::No)?;
        Ok(())
    }

    fn day(&self, days_ago: i64) -> Day {
        self.stamp.today.saturating_sub(jiff::Span::new().days(days_ago))
    }

    #[expect(clippy::too_many_arguments, reason = "one line an animal reads like a table")]
    fn animal(
        &mut self,
        name: &str,
        coat: CoatLength,
        colour: &str,
        age: AgeClass,
        sex: Sex,
        group: &str,
        days_ago: i64,
    ) -> Result<String, StoreError> {
        let animal = Animal {
            name: name.to_owned(),
            coat_length: Some(coat),
            coat_colour: Some(colour.to_owned()),
            age_class: Some(age),
            sex: Some(sex),
            neuter: Some(if age == AgeClass::Kitten { Neuter::Intact } else { Neuter::Neutered }),
            identifiers: vec![Identifier { kind: "invented number".to_owned(), value: format!("QH-{name}") }],
            intake: Some(self.day(days_ago)),
            group: Some(group.to_owned()),
        };
        let id = self.store.add_animal(&animal, self.stamp)?.id;
        self.store.add_note(&id, &Note { day: None, text: INVENTED.to_owned() }, self.stamp)?;
        Ok(id)
    }

    fn exam(&mut self, of: &str, ago: i64, at: &str, fluorescence: Answer, loss: Answer) -> Result<(), StoreError> {
        let fluoresces = fluorescence == Answer::Yes;
        let seen = SiteSeen {
            site: site(at)?,
            fluorescence,
            colour: fluoresces.then(|| "apple green".to_owned()),
            evenness: fluoresces.then_some(Evenness::Even),
            hair_loss: Some(loss),
            crust: Some(Answer::No),
            crust_lifted: None,
        };
        let exam = Exam {
            day: self.day(ago),
            lamp_nm: Some(365.0),
            lamp_kind: Some(LampKind::Led),
            warm_up_min: Some(5.0),
            bathed_before: Some(Answer::No),
            treated_before: Some(Answer::No),
            sites: vec![seen],
            remark: None,
        };
        self.store.add_exam(of, &exam, self.stamp).map(|_| ())
    }

    /// A slide with one drawn photo, read.
    fn slide(&mut self, of: &str, ago: i64, at: &str, slides: [f64; 4], seed: u64) -> Result<(), StoreError> {
        let slide = Slide {
            site: site(at)?,
            day: self.day(ago),
            plucked: Some("fluorescing hairs where there were any, with the root".to_owned()),
            comparison_hairs: Some("from the opposite side".to_owned()),
            label: Some(format!("QH {seed}")),
        };
        let ranges = Ranges {
            name: "demo".to_owned(),
            photo_width_px: WIDTH_PX,
            n_shafts: (8, 12),
            crossings: Crossings::Some,
            slides,
            ..Ranges::tuning().under(Condition::Clear)
        };
        let scene = Scene::draw(seed, &ranges);
        let (bytes, ending) =
            photo(&scene).encode_as(&scene).map_err(|error| StoreError::Unusable(error.to_string()))?;
        let file = format!("invented-{}-{seed}.{ending}", at.replace(' ', "-"));
        let slide = self.store.add_slide(of, &slide, self.stamp)?;
        let kept = self.store.add_photo(&slide.id, &file, &bytes, Light::Uv, self.stamp)?;
        let reading =
            read_bytes(&file, &bytes, &self.settings, self.model, Want::Numbers).map_err(StoreError::Unusable)?;
        let evaluation = text_of(from_record(&reading.entry, None, Format::Json));
        self.store.add_reading(&kept.id, &evaluation, self.stamp).map(|_| ())
    }

    fn culture(&mut self, of: &str, ago: i64, medium: &str, at: Option<&str>) -> Result<String, StoreError> {
        let culture = Culture {
            day: self.day(ago),
            medium: medium.to_owned(),
            site: at.map(site).transpose()?,
            sampled_by: Some("toothbrush".to_owned()),
            laboratory: None,
            other_test: false,
        };
        Ok(self.store.add_culture(of, &culture, self.stamp)?.id)
    }

    fn plate(
        &mut self,
        culture: &str,
        ago: i64,
        growth: Growth,
        species: Option<&str>,
        last: bool,
    ) -> Result<(), StoreError> {
        let plate = PlateReading {
            day: self.day(ago),
            growth,
            confirmed_microscopically: (growth == Growth::Ringworm).then_some(true),
            species: species.map(str::to_owned),
            last,
            remark: None,
        };
        self.store.add_plate(culture, &plate, self.stamp).map(|_| ())
    }

    fn treatment(
        &mut self,
        of: &str,
        ago: i64,
        kind: TreatmentKind,
        with: &str,
        until: Option<i64>,
    ) -> Result<(), StoreError> {
        let until = until.map(|ago| self.day(ago));
        let treatment = Treatment { day: self.day(ago), until, kind, with: with.to_owned(), dose: None };
        self.store.add_treatment(of, &treatment, self.stamp).map(|_| ())
    }

    fn contact(&mut self, of: &str, ago: i64, source: &str, with: &str, how: &str) -> Result<(), StoreError> {
        let (source, how) = (Some(source.to_owned()), Some(how.to_owned()));
        let contact = Contact { day: self.day(ago), source, with: with.to_owned(), how };
        self.store.add_contact(of, &contact, self.stamp).map(|_| ())
    }
}

fn site(name: &str) -> Result<Site, StoreError> {
    name.parse().map_err(StoreError::Unusable)
}
