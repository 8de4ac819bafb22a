//! Keeping and asking: nothing is overwritten, nothing impossible is kept, and lists say what is due.

use std::fs;

use pilumen::store::{
    Animal, Answer, Change, Contact, Correction, Culture, DueKind, Growth, Happening, Light, Note, Page, PlateReading,
    Store, StoreError, Suggestion, check,
};
use serde_json::json;

use super::world::{animal, evaluation, exam, on, read_slide, record, site, slide, the};

fn correction(change: Change) -> Correction {
    Correction { change, why: "looked again".to_owned() }
}

#[test]
fn what_is_kept_is_there_after_closing() {
    let (place, mut store) = record();
    let moth = store.add_animal(&animal("Moth"), &on("2026-03-01")).unwrap();
    let [slide, photo, reading] = read_slide(
        &mut store,
        &moth.id,
        &slide("left pinna", "2026-03-02"),
        b"a photo",
        "doubtful",
        &[("infected", "base", 30.0), ("normal", "none", 20.0)],
    );
    let text = store.evaluation_text(&reading).unwrap();
    drop(store);
    let store = Store::open(&place.path().join("record")).unwrap();
    assert_eq!(store.photo_bytes(&photo).unwrap(), b"a photo");
    assert_eq!(store.evaluation_text(&reading).unwrap(), text, "byte for byte");
    let kept = store.reading(&reading).unwrap();
    assert_eq!((kept.fact.program.version.as_str(), kept.fact.program.model_sha256.as_str()), ("0.1.0", "ab"));
    assert_eq!(kept.fact.program.settings["um_per_px"], 0.5);
    assert_eq!(store.readings_of_slide(&slide).unwrap(), [kept]);
    assert_eq!(store.find_animal("mOTH").unwrap(), moth.id);
    assert_eq!(store.find(None, &slide[..8]).unwrap(), slide);
    let case = store.case(&moth.id).unwrap();
    assert_eq!((case.slides.len(), case.photos.len(), case.readings.len()), (1, 1, 1));
    assert!(check(&place.path().join("record")).unwrap().is_whole());
}

#[test]
fn corrections_and_rereadings_stand_beside_what_they_correct() {
    let (_place, mut store) = record();
    let stamp = on("2026-03-01");
    let moth = store.add_animal(&animal("Mott"), &stamp).unwrap();
    let field = Change::Field { field: "name".into(), value: json!("Moth") };
    store.correct(&moth.id, &correction(field), &on("2026-03-05")).unwrap();
    let kept = store.animal(&moth.id).unwrap();
    assert_eq!(kept.fact.name, "Moth");
    let told = &kept.corrections[0];
    assert_eq!((told.before.clone(), told.why.as_str()), (Some(json!("Mott")), "looked again"));
    assert_eq!((told.by.as_str(), told.at.as_str()), (stamp.by.as_str(), "2026-03-05T12:00:00Z"));
    assert_eq!(store.find_animal("moth").unwrap(), moth.id);
    assert!(store.find_animal("mott").is_err());

    let slide = slide("left pinna", "2026-03-01");
    let shafts = [("infected", "base", 30.0), ("normal", "none", 20.0)];
    let [_, photo, first] = read_slide(&mut store, &moth.id, &slide, b"photo", "doubtful", &shafts);
    let look = Change::Look { shaft: 1, look: "coated".into() };
    let said = store.correct(&first, &correction(look), &stamp).unwrap();
    let again = evaluation(b"photo", "coated-only", &[("coated", "whole", 30.0)]);
    let second = store.add_reading(&photo, &again, &stamp).unwrap();
    assert_eq!(store.reading(&first).unwrap().shafts()[0].look, "coated");
    assert_eq!(store.reading(&first).unwrap().fact.shafts[0].look, "infected", "what was read stays");
    let readings: Vec<String> = store.readings_of_photo(&photo).unwrap().into_iter().map(|one| one.id).collect();
    assert_eq!(readings, [first.clone(), second.id]);

    // A correction may itself be withdrawn.
    store.correct(&said.id, &correction(Change::Withdrawn), &stamp).unwrap();
    assert_eq!(store.reading(&first).unwrap().shafts()[0].look, "infected");
}

#[test]
fn what_cannot_be_so_is_refused_and_the_record_unchanged() {
    let (_place, mut store) = record();
    let stamp = on("2026-03-01");
    let moth = store.add_animal(&animal("Moth"), &stamp).unwrap();
    let tansy = store.add_animal(&animal("Tansy"), &stamp).unwrap();
    let [slide_id, photo, reading] = read_slide(
        &mut store,
        &moth.id,
        &slide("left pinna", "2026-03-01"),
        b"photo",
        "doubtful",
        &[("infected", "base", 30.0)],
    );
    let other = store.add_slide(&tansy.id, &slide("muzzle", "2026-03-01"), &stamp).unwrap();
    let culture = Culture {
        day: the("2026-02-20"),
        medium: "Sabouraud".into(),
        site: None,
        sampled_by: None,
        laboratory: None,
        other_test: false,
    };
    let culture = store.add_culture(&moth.id, &culture, &stamp).unwrap();
    let plate = |day: &str, growth| PlateReading {
        day: the(day),
        growth,
        confirmed_microscopically: None,
        species: None,
        last: false,
        remark: None,
    };
    let before = store.counts().unwrap();
    let refuse = |what: &str, says: &str, refused: Result<String, StoreError>| {
        let sentence = refused.expect_err(what).to_string();
        assert!(sentence.contains(says), "{what}: {sentence}");
    };
    let id = "00000000-0000-4000-8000-000000000000";
    refuse(
        "unknown",
        "there is no",
        store.add_exam(id, &exam("chin", "2026-03-01", Answer::No, None), &stamp).map(|k| k.id),
    );
    let future = exam("chin", "2026-03-02", Answer::No, None);
    refuse("future", "lies in the future", store.add_exam(&moth.id, &future, &stamp).map(|k| k.id));
    refuse("long ago", "too long ago", store.add_slide(&moth.id, &slide("chin", "0206-03-01"), &stamp).map(|k| k.id));
    let same = store.add_photo(&slide_id, "b.jpg", b"photo", Light::Uv, &stamp);
    refuse("same photo", "already in the record: photo", same.map(|k| k.id));
    let same = store.add_photo(&other.id, "b.jpg", b"photo", Light::Uv, &stamp);
    refuse("same photo elsewhere", "Moth", same.map(|k| k.id));
    refuse("no bytes", "is empty", store.add_photo(&other.id, "b.jpg", b"", Light::Uv, &stamp).map(|k| k.id));
    refuse("a path", "holds a folder", store.add_photo(&other.id, "../b.jpg", b"x", Light::Uv, &stamp).map(|k| k.id));
    let wrong = evaluation(b"another", "doubtful", &[]);
    refuse("another photo's", "of another photo", store.add_reading(&photo, &wrong, &stamp).map(|k| k.id));
    refuse("nonsense", "no JSON", store.add_reading(&photo, "{", &stamp).map(|k| k.id));
    refuse(
        "nobody",
        "--by",
        store.add_animal(&animal("Oriel"), &pilumen::store::Stamp { by: " ".into(), ..stamp.clone() }).map(|k| k.id),
    );
    refuse("no name", "is empty", store.add_animal(&animal(" "), &stamp).map(|k| k.id));
    refuse(
        "early plate",
        "before the culture",
        store.add_plate(&culture.id, &plate("2026-02-01", Growth::None), &stamp).map(|k| k.id),
    );
    let look = |shaft| correction(Change::Look { shaft, look: "infected".into() });
    refuse("no such shaft", "has no shaft 9", store.correct(&reading, &look(9), &stamp).map(|k| k.id));
    refuse("no shafts", "has no shafts", store.correct(&moth.id, &look(1), &stamp).map(|k| k.id));
    let odd = correction(Change::Look { shaft: 1, look: "odd".into() });
    refuse("no look", "is no look", store.correct(&reading, &odd, &stamp).map(|k| k.id));
    let field = |name: &str, value| correction(Change::Field { field: name.into(), value });
    refuse("no field", "has no field", store.correct(&moth.id, &field("mood", json!("fine")), &stamp).map(|k| k.id));
    refuse("bad value", "is empty", store.correct(&moth.id, &field("name", json!("")), &stamp).map(|k| k.id));
    refuse(
        "bad kind of value",
        "",
        store.correct(&moth.id, &field("coat_length", json!("fluffy")), &stamp).map(|k| k.id),
    );
    refuse("digest", "only light", store.correct(&photo, &field("sha256", json!("0")), &stamp).map(|k| k.id));
    refuse(
        "no reason",
        "reason",
        store.correct(&moth.id, &Correction { change: Change::Withdrawn, why: " ".into() }, &stamp).map(|k| k.id),
    );
    let itself = Contact { day: the("2026-03-01"), source: Some(moth.id.clone()), with: "Moth".into(), how: None };
    refuse("itself", "itself", store.add_contact(&moth.id, &itself, &stamp).map(|k| k.id));
    let long = Note { day: None, text: "x".repeat(30_000) };
    refuse("a file as a note", "longer than", store.add_note(&moth.id, &long, &stamp).map(|k| k.id));
    assert_eq!(store.counts().unwrap(), before);
}

#[test]
fn exposed_animals_are_due_until_they_were_looked_at() {
    let (_place, mut store) = record();
    let stamp = on("2026-03-01");
    let tansy = store.add_animal(&animal("Tansy"), &stamp).unwrap();
    let contact = Contact { day: the("2026-03-01"), source: None, with: "Moth".into(), how: None };
    store.add_contact(&tansy.id, &contact, &stamp).unwrap();
    let due = |store: &Store, day: &str| -> Vec<String> {
        store.due(the(day), 0).unwrap().into_iter().map(|one| one.day.to_string()).collect()
    };
    assert!(due(&store, "2026-03-07").is_empty());
    assert_eq!(due(&store, "2026-03-08"), ["2026-03-08"], "day 7");
    let nothing = exam("muzzle", "2026-03-09", Answer::No, Some(Answer::No));
    store.add_exam(&tansy.id, &nothing, &on("2026-03-09")).unwrap();
    assert!(due(&store, "2026-03-14").is_empty());
    assert_eq!(due(&store, "2026-03-20"), ["2026-03-15"], "day 14, overdue");
    // The rule is changed: then day 14 is no longer one.
    store.set_rule("exposure.look-again-days", &[7, 21], "the house's way", &stamp).unwrap();
    assert!(due(&store, "2026-03-20").is_empty());
    let later = store.due(the("2026-03-22"), 0).unwrap();
    assert!(later[0].source.contains("the house's way") && later[0].sentence.contains("21 days after contact"));
}

#[test]
fn cultures_are_due_to_be_read_confirmed_and_held() {
    let (_place, mut store) = record();
    let moth = store.add_animal(&animal("Moth"), &on("2026-03-01")).unwrap();
    let culture = Culture {
        day: the("2026-03-01"),
        medium: "DTM".into(),
        site: None,
        sampled_by: None,
        laboratory: None,
        other_test: false,
    };
    let culture = store.add_culture(&moth.id, &culture, &on("2026-03-01")).unwrap();
    let plate = |store: &mut Store, day: &str, growth, last| {
        let confirmed_microscopically = None;
        let plate =
            PlateReading { day: the(day), growth, confirmed_microscopically, species: None, last, remark: None };
        store.add_plate(&culture.id, &plate, &on(day)).unwrap();
    };
    let due = |store: &Store, day: &str| -> Vec<(DueKind, String)> {
        store.due(the(day), 0).unwrap().into_iter().map(|one| (one.kind, one.day.to_string())).collect()
    };
    assert!(due(&store, "2026-03-07").is_empty());
    assert_eq!(due(&store, "2026-03-08"), [(DueKind::PlateToRead, "2026-03-08".into())]);
    plate(&mut store, "2026-03-08", Growth::None, false);
    assert_eq!(due(&store, "2026-03-09"), [(DueKind::CultureToHold, "2026-03-13".into())]);
    plate(&mut store, "2026-03-13", Growth::Suspect, false);
    assert_eq!(due(&store, "2026-03-13"), [(DueKind::GrowthToConfirm, "2026-03-13".into())]);
    plate(&mut store, "2026-03-14", Growth::None, true);
    assert!(due(&store, "2026-03-15").is_empty(), "the last word was said");
}

#[test]
fn coincidence_follows_the_rules_of_thumb() {
    let (_place, mut store) = record();
    let moth = store.add_animal(&animal("Moth"), &on("2026-03-01")).unwrap();
    let mut look = |name: &str, day: &str, fluorescence, loss| {
        store.add_exam(&moth.id, &exam(name, day, fluorescence, Some(loss)), &on(day)).unwrap();
    };
    look("left pinna", "2026-03-01", Answer::Yes, Answer::No);
    look("muzzle", "2026-03-01", Answer::Yes, Answer::No);
    look("muzzle", "2026-03-04", Answer::Yes, Answer::No);
    look("chin", "2026-03-01", Answer::Yes, Answer::Yes);
    look("tail", "2026-03-01", Answer::No, Answer::Yes);
    look("back", "2026-03-01", Answer::No, Answer::No);
    look("nose", "2026-03-01", Answer::Unsure, Answer::No);
    let case = store.case(&moth.id).unwrap();
    let found = case.coincidences(&store.rules().unwrap());
    let of = |name: &str| found.iter().find(|one| one.site == site(name)).unwrap();
    for (name, suggests, says) in [
        ("left pinna", Suggestion::TooEarly, "look again on 2026-03-03"),
        ("muzzle", Suggestion::Residue, "residue"),
        ("chin", Suggestion::Coincide, "active site"),
        ("tail", Suggestion::LossOnly, "excludes nothing"),
        ("back", Suggestion::Neither, "excludes nothing"),
        ("nose", Suggestion::CannotSay, "look again"),
    ] {
        assert_eq!(of(name).suggests, suggests, "{name}");
        assert!(of(name).sentence.contains(says), "{name}: {}", of(name).sentence);
    }
}

#[test]
fn a_course_shows_a_site_healing_and_says_what_it_cannot() {
    let (_place, mut store) = record();
    let moth = store.add_animal(&animal("Moth"), &on("2026-03-01")).unwrap();
    let many: Vec<(&str, &str, f64)> =
        (0..20).map(|i| if i < 15 { ("infected", "base", 36.0) } else { ("normal", "none", 24.0) }).collect();
    let few: Vec<(&str, &str, f64)> =
        (0..20).map(|i| if i < 1 { ("infected", "tip", 30.0) } else { ("normal", "none", 24.0) }).collect();
    let pinna = |day: &str| slide("left pinna", day);
    read_slide(&mut store, &moth.id, &pinna("2026-03-01"), b"one", "looks-infected-many", &many);
    let one = store.case(&moth.id).unwrap().course(&site("left pinna"));
    assert_eq!(one.direction, "cannot-say");
    read_slide(&mut store, &moth.id, &pinna("2026-04-01"), b"two", "looks-infected-few", &few);
    let course = store.case(&moth.id).unwrap().course(&site("left pinna"));
    assert_eq!(course.direction, "falling", "{}", course.sentence);
    assert!(course.sentence.contains("15 of 20") && course.sentence.contains("1 of 20"));
    assert!(course.advice.contains("culture"));
    let Happening::Slide { infected, zones, width_ratio, .. } = &course.points[0].happening else { panic!() };
    assert_eq!((infected.unwrap().n, infected.unwrap().of, zones["base"]), (15, 20, 15));
    assert!((width_ratio.unwrap() - 1.5).abs() < 1e-12, "36 / 24");
}

#[test]
fn lists_and_searches_find_what_stands_now() {
    let (_place, mut store) = record();
    let stamp = on("2026-03-01");
    for name in ["Tansy", "Bracken", "Oriel", "bracken"] {
        store.add_animal(&animal(name), &stamp).unwrap();
    }
    let chip = pilumen::store::Identifier { kind: "chip".into(), value: "X-100%_7".into() };
    let pepperpot = Animal { identifiers: vec![chip], ..animal("Pepperpot") };
    let pepperpot = store.add_animal(&pepperpot, &stamp).unwrap();
    let names =
        |page| -> Vec<String> { store.animals(page).unwrap().into_iter().map(|line| line.animal.fact.name).collect() };
    assert_eq!(names(Page::default()), ["Bracken", "bracken", "Oriel", "Pepperpot", "Tansy"]);
    assert_eq!(names(Page { skip: 1, most: 2 }), ["bracken", "Oriel"]);
    assert_eq!(store.search("100%_", 10).unwrap()[0].id, pepperpot.id);
    assert!(store.search("100__", 10).unwrap().is_empty(), "signs are taken as they are");
    assert_eq!(store.find_animal("x-100%_7").unwrap(), pepperpot.id);
    let sentence = store.find_animal("Bracken").unwrap_err().to_string();
    assert!(sentence.contains("fits several"), "{sentence}");
    assert!(store.find_animal("Nobody").unwrap_err().to_string().contains("there is no animal \"Nobody\""));
}

#[test]
fn damage_is_found_and_what_is_whole_is_said() {
    let (place, mut store) = record();
    let folder = place.path().join("record");
    let moth = store.add_animal(&animal("Moth"), &on("2026-03-01")).unwrap();
    let shafts = [("infected", "base", 30.0)];
    for (day, bytes) in [("2026-03-01", b"one"), ("2026-03-02", b"two")] {
        read_slide(&mut store, &moth.id, &slide("chin", day), bytes, "doubtful", &shafts);
    }
    let sha256 = store.case(&moth.id).unwrap().photos[0].fact.sha256.clone();
    drop(store);
    let photo = folder.join("photos").join(&sha256[..2]).join(&sha256);
    fs::remove_file(&photo).unwrap();
    let report = check(&folder).unwrap();
    assert!(report.damaged[0].fault.contains("missing"), "{report:?}");
    fs::write(&photo, b"onf").unwrap();
    let report = check(&folder).unwrap();
    assert_eq!((report.damaged.len(), report.whole_photos), (1, 1));
    assert_eq!((report.damaged[0].what.as_str(), report.damaged[0].id.as_str()), ("photo", sha256.as_str()));
    fs::write(&photo, b"one").unwrap();
    assert!(check(&folder).unwrap().is_whole());
}
