//! Growing and appraising with a record's own confirmed cases: invented animals, drawn slides, cultures as told.

use std::process::{Command, Output};

use pilumen::exports::{Format, from_record};
use pilumen::features;
use pilumen::finding::{model_from_bytes, without_debris};
use pilumen::pipeline::{self, Want};
use pilumen::settings::Settings;
use pilumen::sim::Ranges;
use pilumen::store::{
    About, Change, Correction, Culture, Growth, Light, OwnModel, OwnModels, PlateReading, Store, digest,
};
use pilumen::training::scenes::{Measured, look, measured_photo};
use serde_json::Value;
use tempfile::TempDir;

use crate::record::world::{animal, on, site, slide, the};

const SHIPPED: &[u8] = include_bytes!("../models/shaft-v1.json");

/// The day of slides and cultures.
const DAY: &str = "2026-05-01";

/// The words that no output may say.
const FORBIDDEN: [&str; 5] = ["positive", "negative", "diagnos", "cured", "safe"];

struct Own {
    place: TempDir,
    store: Store,
}

impl Own {
    fn new() -> Own {
        let place = tempfile::tempdir().unwrap();
        let store = Store::open_or_create(&place.path().join("record")).unwrap();
        Own { place, store }
    }

    fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_pilumen"))
            .args(arguments)
            .env("PILUMEN_RECORD", self.place.path().join("record"))
            .output()
            .unwrap()
    }

    fn models(&self) -> OwnModels {
        OwnModels::of(self.store.folder())
    }

    /// The sentence of a command that is not done; the model in use stays.
    fn refused(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        assert_eq!(output.status.code(), Some(1), "{}", err(&output));
        assert!(output.stdout.is_empty());
        assert_eq!((self.models().in_use().unwrap(), self.models().proposed().unwrap()), (None, None));
        let sentences: Vec<String> =
            err(&output).lines().filter(|line| line.starts_with("pilumen: ")).map(str::to_owned).collect();
        assert_eq!(sentences.len(), 1, "{sentences:?}");
        sentences[0].clone()
    }

    /// A culture of the chin with its last word; returns its id.
    fn culture(&mut self, animal: &str, day: &str, growth: Growth) {
        let stamp = on("2026-05-30");
        let culture = Culture {
            day: the(day),
            medium: "Sabouraud dextrose agar".to_owned(),
            site: Some(site("chin")),
            sampled_by: None,
            laboratory: None,
            other_test: false,
        };
        let culture = self.store.add_culture(animal, &culture, &stamp).unwrap().id;
        let plate = PlateReading {
            day: the("2026-05-20"),
            growth,
            confirmed_microscopically: None,
            species: None,
            last: true,
            remark: None,
        };
        self.store.add_plate(&culture, &plate, &stamp).unwrap();
    }

    /// An animal with a drawn slide whose shafts a person judged as they truly are, and a culture; returns its id.
    fn confirmed(&mut self, n: u64, growth: Growth) -> String {
        let stamp = on("2026-05-30");
        let id = self.store.add_animal(&animal(&format!("Invented {n}")), &stamp).unwrap().id;
        let grew = growth == Growth::Ringworm;
        let ranges = Ranges {
            photo_width_px: (800, 900),
            n_shafts: (5, 7),
            slides: if grew { [0.0, 1.0, 0.0, 0.0] } else { [1.0, 0.0, 0.0, 0.0] },
            ..Ranges::named("tuning-clear").unwrap()
        };
        // Odd seeds are measured without a scale, as the reading below.
        // A photo on which no shaft of the animal's own is found confirms nothing: the next one is taken.
        let shows = |measured: &Measured| {
            measured.pairs(0.5).iter().any(|pair| {
                let truth = measured.scene.shafts[measured.truths[pair.truth].id - 1].look;
                look(truth).code() == if grew { "infected" } else { "normal" }
            })
        };
        let model = model_from_bytes(SHIPPED).unwrap();
        // Without debris, so that shafts have the numbers of the reading.
        let drawn = |k: u64| {
            let (mut measured, bytes) = measured_photo(9001 + 2 * n + 1000 * k, &ranges).unwrap();
            measured.features = without_debris(measured.features, &features::Settings::default(), &model);
            (measured, bytes)
        };
        let (measured, bytes) = (0..20).map(drawn).find(|(measured, _)| shows(measured)).unwrap();
        let read = pipeline::read("drawn.png", &bytes, &Settings::default(), &model, Want::Numbers).unwrap();
        let text = String::from_utf8(from_record(&read.entry, None, Format::Json)).unwrap();
        let slide = self.store.add_slide(&id, &slide("chin", DAY), &stamp).unwrap().id;
        let photo = self.store.add_photo(&slide, "drawn.png", &bytes, Light::Uv, &stamp).unwrap().id;
        let reading = self.store.add_reading(&photo, &text, &stamp).unwrap().id;
        for pair in measured.pairs(0.5) {
            let truth = measured.scene.shafts[measured.truths[pair.truth].id - 1].look;
            let change = Change::Look { shaft: pair.found + 1, look: look(truth).code().to_owned() };
            let correction = Correction { change, why: "looked at under the lens".to_owned() };
            self.store.correct(&reading, &correction, &stamp).unwrap();
        }
        self.culture(&id, "2026-05-02", growth);
        id
    }
}

fn err(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

fn out(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

#[test]
fn an_empty_record_and_one_animal_are_too_few_and_the_numbers_are_told() {
    let mut own = Own::new();
    let record = own.store.folder().to_str().unwrap().to_owned();
    let said = own.refused(&["train", "--with-record", &record]);
    assert!(said.contains("0 animals whose culture grew the fungus and 0 whose culture grew nothing"), "{said}");
    own.confirmed(1, Growth::Ringworm);
    let said = own.refused(&["train", "--with-record"]);
    assert!(said.contains("1 animal whose culture grew the fungus and 0 whose culture grew nothing"), "{said}");
    assert!(said.contains("at least 5 of each") && said.contains("the model in use stays"), "{said}");
    let appraised = own.run(&["appraise", "--record", &record]);
    assert_eq!(appraised.status.code(), Some(0), "{}", err(&appraised));
    assert!(out(&appraised).contains("of 1 animals; too few to tell: at least 10"), "{}", out(&appraised));
    let missing = own.run(&["train", "--with-record", "nowhere"]);
    assert_eq!(missing.status.code(), Some(2), "{}", err(&missing));
}

#[test]
fn cultures_that_contradict_each_other_are_one_sentence() {
    let mut own = Own::new();
    let stamp = on("2026-05-30");
    let id = own.store.add_animal(&animal("Invented"), &stamp).unwrap().id;
    own.store.add_slide(&id, &slide("chin", DAY), &stamp).unwrap();
    own.culture(&id, "2026-04-30", Growth::Ringworm);
    own.culture(&id, "2026-05-02", Growth::None);
    let said = own.refused(&["train", "--with-record"]);
    assert!(said.contains("Invented, chin, slide") && said.contains("of 2026-04-30 grew the fungus"), "{said}");
    assert!(said.contains("of 2026-05-02 grew nothing") && said.contains("case correct"), "{said}");
    let said = own.refused(&["train", "--with-record", "--leave-out-contradictory"]);
    assert!(said.contains("too few confirmed cases"), "{said}");
}

#[test]
fn a_culture_of_another_time_contradicts_none() {
    let mut own = Own::new();
    let stamp = on("2026-05-30");
    let id = own.store.add_animal(&animal("Invented"), &stamp).unwrap().id;
    own.store.add_slide(&id, &slide("chin", DAY), &stamp).unwrap();
    // Eight days before: a treated animal's later culture is another matter.
    own.culture(&id, "2026-04-23", Growth::Ringworm);
    own.culture(&id, "2026-05-02", Growth::None);
    let said = own.refused(&["train", "--with-record"]);
    assert!(said.contains("too few confirmed cases"), "{said}");
}

#[test]
fn a_model_grown_with_own_cases_judges_once_it_is_accepted_and_not_before() {
    let mut own = Own::new();
    for n in 0..10 {
        own.confirmed(n, if n < 5 { Growth::Ringworm } else { Growth::None });
    }
    let train = ["train", "--with-record", "--scenes", "16", "--check-scenes", "3", "--trees", "15"];
    let grown = own.run(&train);
    assert_eq!(grown.status.code(), Some(0), "{}", err(&grown));
    let told = out(&grown);
    assert!(told.contains("10 animals (5 whose culture grew the fungus, 5 whose culture grew nothing)"), "{told}");
    assert!(told.contains("## On your animals") && told.contains("## On simulated photos"), "{told}");
    assert!(told.contains("| log loss, nats (less is better) | ") && told.contains("stays"), "{told}");
    assert!(told.contains("culture") && FORBIDDEN.iter().all(|word| !told.to_lowercase().contains(word)), "{told}");
    assert!(err(&grown).contains("5 of 5 parts of the animals left out"), "{}", err(&grown));
    let proposed = own.models().proposed().unwrap().unwrap();
    assert_eq!((proposed.about.animals.len(), own.models().in_use().unwrap()), (10, None));

    let photo = "fixtures/demo/quillfeather-moth-left-pinna.jpg";
    let judged_by = |own: &Own| {
        let output = own.run(&["read", photo, "--json"]);
        let read: Value = serde_json::from_slice(&output.stdout).unwrap();
        (read["program"]["model_sha256"].as_str().unwrap().to_owned(), err(&output))
    };
    assert_eq!(judged_by(&own), (digest(SHIPPED), String::new()));

    // What waits is accepted; nothing is grown anew.
    let accept = ["train", "--with-record", "--accept"];
    let said = sentence(&own.run(&accept));
    assert!(said.contains("worse than the one in use, beyond chance"), "a few trees grown on 16 photos: {said}");
    let accepted = own.run(&[&accept[..], &["--even-if-worse"]].concat());
    assert_eq!(accepted.status.code(), Some(0), "{}", err(&accepted));
    assert!(err(&grown).contains("drawn first") && err(&accepted).is_empty(), "{}", err(&accepted));
    assert_eq!(own.models().in_use().unwrap().unwrap().sha256, proposed.sha256);
    let (sha256, said) = judged_by(&own);
    assert_eq!(sha256, proposed.sha256);
    assert!(said.contains(&proposed.sha256), "{said}");

    // The same again gives the model that judges already.
    let again = own.run(&train);
    assert!(out(&again).contains("the very model that is in use"), "{}{}", out(&again), err(&again));
    assert!(!err(&again).contains("drawn first") && !err(&again).contains("left out"), "{}", err(&again));

    let appraised = own.run(&["appraise", "--record"]);
    assert_eq!(appraised.status.code(), Some(0), "{}", err(&appraised));
    assert!(out(&appraised).contains("## Animals that it was grown on"), "{}", out(&appraised));
    assert!(FORBIDDEN.iter().all(|word| !out(&appraised).to_lowercase().contains(word)), "{}", out(&appraised));

    // Named as a file it knows its animals as well; the program's own has seen none.
    let file = own.models().folder().join(format!("{}.json", proposed.sha256));
    let named = own.run(&["appraise", "--record", "--model", file.to_str().unwrap()]);
    assert!(out(&named).contains("## Animals that it was grown on"), "{}{}", out(&named), err(&named));

    // A backup holds the model too; going back keeps it.
    own.store.backup(&own.place.path().join("backup")).unwrap();
    let copy = OwnModels::of(&own.place.path().join("backup")).in_use().unwrap();
    assert_eq!(copy.unwrap().sha256, proposed.sha256);
    assert_eq!(own.run(&["train", "--with-record", "--back"]).status.code(), Some(0));
    assert_eq!(judged_by(&own).0, digest(SHIPPED));
    assert!(own.models().of_digest(&proposed.sha256).unwrap().is_some());
}

/// A model that waits to be accepted: the program's own with another seed, which changes no judgement.
fn another(worse_on: &[&str], compared_with: String) -> OwnModel {
    let bytes = String::from_utf8(SHIPPED.to_vec()).unwrap().replacen("\"seed\":1,", "\"seed\":2,", 1).into_bytes();
    assert_ne!(bytes, SHIPPED);
    let worse_on = worse_on.iter().map(|on| (*on).to_owned()).collect();
    OwnModel { sha256: digest(&bytes), bytes, about: About { compared_with, worse_on, ..About::default() } }
}

/// The one sentence of a command that is not done.
fn sentence(output: &Output) -> String {
    let said = err(output);
    assert!(!output.status.success() && output.stdout.is_empty() && said.trim_end().lines().count() == 1, "{said}");
    said
}

#[test]
fn a_worse_model_or_one_that_was_compared_with_another_is_not_accepted_unasked() {
    let own = Own::new();
    let accept = ["train", "--with-record", "--accept"];
    assert!(sentence(&own.run(&accept)).contains("no model waits to be accepted"));

    let worse = another(&["your animals", "simulated photos"], digest(SHIPPED));
    own.models().propose(&worse).unwrap();
    let said = sentence(&own.run(&accept));
    assert!(
        said.contains("worse than the one in use, beyond chance, on your animals and on simulated photos"),
        "{said}"
    );
    assert!(said.contains("--even-if-worse") && said.contains("the model in use stays"), "{said}");
    assert_eq!((own.models().in_use().unwrap(), own.models().proposed().unwrap()), (None, Some(worse.clone())));
    let accepted = own.run(&[&accept[..], &["--even-if-worse"]].concat());
    assert_eq!(accepted.status.code(), Some(0), "{}", err(&accepted));
    assert_eq!(own.models().in_use().unwrap(), Some(worse.clone()));

    own.models().propose(&another(&[], digest(SHIPPED))).unwrap();
    let said = sentence_of_last(&own.run(&accept));
    assert!(said.contains("was compared with") && said.contains("grow it anew"), "{said}");
    assert_eq!(own.models().in_use().unwrap().unwrap().sha256, worse.sha256);
}

/// The last sentence, where another says which model judges.
fn sentence_of_last(output: &Output) -> String {
    assert!(!output.status.success() && output.stdout.is_empty());
    err(output).trim_end().lines().last().unwrap_or_default().to_owned()
}

#[test]
fn a_model_that_cannot_be_used_is_one_sentence_named_or_accepted() {
    let whole = String::from_utf8(SHIPPED.to_vec()).unwrap();
    let first_key = "\"key\":\"";
    let cases = [
        (whole[..whole.len() / 2].to_owned(), "ends early"),
        (whole.replacen("pilumen/model/2", "pilumen/model/9", 1), "version 9"),
        (whole.replacen(first_key, "\"key\":\"whiskers_", 1), "does not measure: whiskers_"),
        ("not a model".to_owned(), "not a model file"),
    ];
    let photo = "fixtures/demo/quillfeather-moth-left-pinna.jpg";
    for (text, wanted) in &cases {
        let own = Own::new();
        let file = own.place.path().join("model.json");
        std::fs::write(&file, text).unwrap();
        let said = sentence(&own.run(&["read", photo, "--model", file.to_str().unwrap()]));
        assert!(said.contains(wanted), "{said}");

        let bytes = text.clone().into_bytes();
        let waiting = OwnModel { sha256: digest(&bytes), bytes, about: About::default() };
        own.models().propose(&waiting).unwrap();
        let said = sentence(&own.run(&["train", "--with-record", "--accept"]));
        assert!(said.contains(wanted) && said.contains("the model in use stays"), "{said}");
        own.models().accept().unwrap();
        let said = sentence(&own.run(&["read", photo]));
        assert!(said.contains(wanted) && said.contains("--back"), "{said}");
        assert_eq!(own.run(&["train", "--with-record", "--back"]).status.code(), Some(0));
        assert_eq!(own.run(&["read", photo]).status.code(), Some(0));
        assert_eq!(own.models().of_digest(&waiting.sha256).unwrap(), Some(waiting), "nothing is lost");
    }
}

#[test]
fn a_card_of_another_model_beside_a_named_one_is_one_sentence() {
    let own = Own::new();
    let file = own.place.path().join("model.json");
    std::fs::write(&file, &another(&[], String::new()).bytes).unwrap();
    let read =
        || own.run(&["read", "fixtures/demo/quillfeather-moth-left-pinna.jpg", "--model", file.to_str().unwrap()]);
    std::fs::write(own.place.path().join("README.md"), "What lies here.\n").unwrap();
    assert_eq!(read().status.code(), Some(0), "no card");
    std::fs::copy("models/README.md", own.place.path().join("README.md")).unwrap();
    let said = sentence(&read());
    assert!(said.contains(&digest(SHIPPED)) && said.contains("put the card beside its own file"), "{said}");
}
