//! Moving a case: the same case elsewhere, once however often, and nothing that cannot be trusted.

use std::fs;
use std::io::{Cursor, Read, Write};
use std::path::{Path, PathBuf};

use pilumen::store::{Answer, Change, Correction, Identifier, Light, Note, Store, check};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tempfile::TempDir;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use super::world::{animal, evaluation, exam, on, read_slide, record, slide};
use crate::judgement::judges_nobody;
use crate::schema::faults_by;

/// Parts of a bag in order: path inside the zip file, bytes.
pub(crate) type Parts = Vec<(String, Vec<u8>)>;

/// A record with a case of everything, packed: its place, the record, the animal, the pack.
pub(crate) fn packed() -> (TempDir, Store, String, PathBuf) {
    let (place, mut store) = record();
    let stamp = on("2026-03-10");
    let chip = Identifier { kind: "chip".into(), value: "QH-1".into() };
    let moth = pilumen::store::Animal { identifiers: vec![chip], ..animal("Moth <b>") };
    let moth = store.add_animal(&moth, &stamp).unwrap().id;
    let shafts = [("infected", "base", 30.5), ("normal", "none", 20.25)];
    let left = slide("left pinna", "2026-03-01");
    let [_, photo, reading] = read_slide(&mut store, &moth, &left, b"photo one", "looks-infected-few", &shafts);
    read_slide(&mut store, &moth, &slide("chin", "2026-03-02"), b"photo two", "doubtful", &shafts);
    store.add_reading(&photo, &evaluation(b"photo one", "doubtful", &shafts), &stamp).unwrap();
    let mut exam = exam("chin", "2026-03-02", Answer::Yes, Some(Answer::No));
    exam.sites[0].colour = Some("apple green".into());
    store.add_exam(&moth, &exam, &stamp).unwrap();
    store.add_note(&moth, &Note { day: None, text: "shy, & <script>alert(1)</script>".into() }, &stamp).unwrap();
    let correction = |change| Correction { change, why: "looked again".into() };
    let field = Change::Field { field: "coat_colour".into(), value: json!("smoke") };
    store.correct(&moth, &correction(field), &stamp).unwrap();
    let missed = Change::MissedShaft { centreline_px: vec![[1.0, 2.0], [3.5, 4.0]], look: None };
    store.correct(&reading, &correction(missed), &stamp).unwrap();
    let file = place.path().join("moth.zip");
    store.pack(&moth, &file, &stamp).unwrap();
    (place, store, moth, file)
}

fn elsewhere() -> (TempDir, Store) {
    record()
}

pub(crate) fn parts(file: &Path) -> Parts {
    let mut archive = ZipArchive::new(Cursor::new(fs::read(file).unwrap())).unwrap();
    (0..archive.len())
        .map(|place| {
            let mut file = archive.by_index(place).unwrap();
            let mut bytes = Vec::new();
            file.read_to_end(&mut bytes).unwrap();
            (file.name().unwrap().into_owned(), bytes)
        })
        .collect()
}

pub(crate) fn zipped(parts: &Parts, file: &Path) {
    let mut zip = ZipWriter::new(fs::File::create(file).unwrap());
    for (name, bytes) in parts {
        zip.start_file(name.as_str(), SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap();
}

fn part<'a>(parts: &'a mut Parts, ending: &str) -> &'a mut Vec<u8> {
    &mut parts.iter_mut().find(|(name, _)| name.ends_with(ending)).unwrap_or_else(|| panic!("no {ending}")).1
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Makes the manifests fit what was changed, as a careful forger would.
pub(crate) fn with_manifests(mut parts: Parts) -> Parts {
    let top = parts[0].0.split_once('/').unwrap().0.to_owned();
    let lines = |parts: &Parts, keep: &dyn Fn(&str) -> bool| -> Vec<u8> {
        let inside = |name: &str| name.split_once('/').map(|(_, path)| path.to_owned()).unwrap_or_default();
        let named = parts.iter().map(|(name, bytes)| (inside(name), bytes)).filter(|(path, _)| keep(path));
        named.map(|(path, bytes)| format!("{}  {path}\n", hex(bytes))).collect::<String>().into_bytes()
    };
    parts.retain(|(name, _)| !name.ends_with("manifest-sha256.txt"));
    let manifest = lines(&parts, &|path| path.starts_with("data/"));
    parts.push((format!("{top}/manifest-sha256.txt"), manifest));
    let tags = lines(&parts, &|path| !path.starts_with("data/"));
    parts.push((format!("{top}/tagmanifest-sha256.txt"), tags));
    parts
}

#[test]
fn a_case_is_the_same_elsewhere_and_twice_is_once() {
    let (_here, store, moth, file) = packed();
    let (place, mut other) = elsewhere();
    let unpacked = other.unpack(&file, false, &on("2026-03-11")).unwrap();
    let n: u64 = unpacked.added.values().sum();
    assert_eq!((n, unpacked.n_known), (store.counts().unwrap().values().sum::<u64>(), 0));
    let (mut here, mut there) = (store.case(&moth).unwrap(), other.case(&moth).unwrap());
    for case in [&mut here, &mut there] {
        // The order of keeping is a record's own; that it is the same order is seen by the lists.
        case.photos.iter_mut().for_each(|photo| photo.order = 0);
        case.readings.iter_mut().for_each(|reading| reading.order = 0);
    }
    assert_eq!(serde_json::to_value(&here).unwrap(), serde_json::to_value(&there).unwrap());
    for (photo, reading) in here.photos.iter().zip(&here.readings) {
        assert_eq!(other.photo_bytes(&photo.id).unwrap(), store.photo_bytes(&photo.id).unwrap());
        assert_eq!(other.evaluation_text(&reading.id).unwrap(), store.evaluation_text(&reading.id).unwrap());
    }
    let again = other.unpack(&file, false, &on("2026-03-11")).unwrap();
    assert_eq!((again.added.len(), again.n_known), (0, n));
    assert!(check(&place.path().join("record")).unwrap().is_whole());

    // What was added there comes back; packs of one case are of one content, whoever makes them.
    other.add_note(&moth, &Note { day: None, text: "settled in".into() }, &on("2026-03-12")).unwrap();
    let back = place.path().join("back.zip");
    other.pack(&moth, &back, &on("2026-03-12")).unwrap();
    let mut store = store;
    assert_eq!(store.unpack(&back, false, &on("2026-03-12")).unwrap().added["note"], 1);
}

#[test]
fn a_pack_is_a_bag_whose_facts_are_as_the_schema_says() {
    let (_here, _store, moth, file) = packed();
    let mut parts = parts(&file);
    let case: Value = serde_json::from_slice(part(&mut parts, "data/case.json")).unwrap();
    let schema: Value = serde_json::from_slice(part(&mut parts, "data/case.schema.json")).unwrap();
    assert_eq!(faults_by(&schema, &case), [""; 0]);
    assert_eq!(case["animal"], json!(moth));
    assert_eq!(part(&mut parts, "bagit.txt"), b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n");
    let payload: Vec<&(String, Vec<u8>)> = parts.iter().filter(|(name, _)| name.contains("/data/")).collect();
    let n_bytes: usize = payload.iter().map(|(_, bytes)| bytes.len()).sum();
    let info = parts.iter().find(|(name, _)| name.ends_with("bag-info.txt")).unwrap();
    let oxum = format!("Payload-Oxum: {n_bytes}.{}", payload.len());
    assert!(String::from_utf8_lossy(&info.1).contains(&oxum), "{oxum}");
    // The manifests that a second hand makes are the same.
    let mut remade = with_manifests(parts.clone());
    let lines = |bytes: &[u8]| -> Vec<String> {
        let mut lines: Vec<String> = String::from_utf8_lossy(bytes).lines().map(str::to_owned).collect();
        lines.sort();
        lines
    };
    assert_eq!(lines(part(&mut remade, "/manifest-sha256.txt")), lines(part(&mut parts, "/manifest-sha256.txt")));
    let page = String::from_utf8(part(&mut parts, "index.html").clone()).unwrap();
    assert!(!page.contains("<script") && page.contains("&lt;script") && page.contains("Moth &lt;b&gt;"));
    assert!(page.contains("culture") && page.contains("smoke"), "the page shows corrections and advice");
    judges_nobody("the page of a pack", &page);
}

#[test]
fn a_pack_that_outside_programs_found_valid_is_taken_in() {
    let pack = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/pack/tansy.zip");
    let said: Value = serde_json::from_str(include_str!("../../fixtures/reference/pack/reference.json")).unwrap();
    assert_eq!((&said["bag"], &said["case.json"]), (&json!("valid"), &json!("valid")));
    for planted in ["bag with a flipped byte", "bag with a file more", "bag with a file less"] {
        assert_eq!(said[planted], "BagValidationError", "{planted}");
    }
    let (place, mut store) = elsewhere();
    let unpacked = store.unpack(&pack, false, &on("2026-11-26")).unwrap();
    assert_eq!(serde_json::to_value(unpacked.added).unwrap(), said["kinds"], "every kind of fact");
    assert_eq!(said["kinds"].as_object().unwrap().len(), pilumen::store::Kind::ALL.len());
    assert!(check(&place.path().join("record")).unwrap().is_whole());
    // It is the form of its day, and this program's own schema still describes it.
    let case: Value = serde_json::from_slice(part(&mut parts(&pack), "data/case.json")).unwrap();
    let schema: Value = serde_json::from_str(include_str!("../../docs/case.schema.json")).unwrap();
    assert_eq!(faults_by(&schema, &case), [""; 0]);
}

#[test]
fn equal_cases_give_equal_packs() {
    let (here, store, moth, file) = packed();
    let again = here.path().join("again.zip");
    store.pack(&moth, &again, &on("2026-03-10")).unwrap();
    assert_eq!(fs::read(file).unwrap(), fs::read(&again).unwrap());
    let sentence = store.pack(&moth, &again, &on("2026-03-10")).unwrap_err().to_string();
    assert!(sentence.contains("is there already"), "{sentence}");
}

#[test]
fn packs_that_cannot_be_trusted_are_refused_and_the_record_unchanged() {
    let (here, _store, moth, file) = packed();
    let (place, mut other) = elsewhere();
    other.add_animal(&animal("Tansy"), &on("2026-03-01")).unwrap();
    let before = other.counts().unwrap();
    let good = parts(&file);
    let top = good[0].0.split_once('/').unwrap().0.to_owned();
    let bad = here.path().join("bad.zip");
    let mut refuse = |what: &str, says: &str| {
        let sentence = other.unpack(&bad, false, &on("2026-03-11")).expect_err(what).to_string();
        assert!(sentence.contains(says) && sentence.contains("bad.zip"), "{what}: {sentence}");
        assert_eq!(other.counts().unwrap(), before, "{what}");
        assert!(check(&place.path().join("record")).unwrap().is_whole(), "{what}");
    };
    let mut with = |what: &str, says: &str, change: &dyn Fn(&mut Parts), forged: bool| {
        let mut parts = good.clone();
        change(&mut parts);
        zipped(&if forged { with_manifests(parts) } else { parts }, &bad);
        refuse(what, says);
    };
    let sha256 = hex(b"photo one");
    let photo = format!("data/photos/{sha256}.jpg");
    with("a wrong digest", "another digest", &|parts| part(parts, &photo)[0] ^= 1, false);
    with("a forged photo", "are not in it, or are others", &|parts| part(parts, &photo)[0] ^= 1, true);
    with(
        "a missing file",
        "in its manifest but not in it",
        &|parts| parts.retain(|(name, _)| !name.ends_with(&photo)),
        false,
    );
    with(
        "an extra file",
        "not in its manifest",
        &|parts| parts.push((format!("{top}/data/more"), b"x".to_vec())),
        false,
    );
    with("a tag file changed", "another digest", &|parts| part(parts, "bag-info.txt").push(b'\n'), false);
    with("a path that climbs", "leads out of it", &|parts| parts.push((format!("{top}/../../x"), b"x".to_vec())), true);
    with("a root", "leads out of it", &|parts| parts.push(("/etc/x".into(), b"x".to_vec())), false);
    with(
        "a climbing manifest",
        "leads out of it",
        &|parts| {
            let line = format!("{}  data/../../x\n", hex(b"x"));
            part(parts, "/manifest-sha256.txt").extend(line.into_bytes());
        },
        false,
    );
    with("two tops", "more than one folder", &|parts| parts.push(("other/x".into(), b"x".to_vec())), false);
    with(
        "something to fetch",
        "fetched from elsewhere",
        &|parts| parts.push((format!("{top}/fetch.txt"), b"x".to_vec())),
        false,
    );
    with("no bag", "bagit.txt is not in it", &|parts| parts.retain(|(name, _)| !name.ends_with("bagit.txt")), false);
    with("no facts", "case.json is not in it", &|parts| parts.retain(|(name, _)| !name.ends_with("case.json")), true);
    with("facts that are none", "not as it should be", &|parts| *part(parts, "case.json") = b"{}".to_vec(), true);
    let facts = |parts: &mut Parts, change: &dyn Fn(&mut String)| {
        let json = part(parts, "data/case.json");
        let mut text = String::from_utf8(json.clone()).unwrap();
        let old = text.clone();
        change(&mut text);
        assert_ne!(old, text);
        *json = text.into_bytes();
    };
    with(
        "a forged fact",
        "another digest than when it was kept",
        &|p| facts(p, &|t| *t = t.replace("apple green", "blue")),
        true,
    );
    with("a newer form", "newer version", &|p| facts(p, &|t| *t = t.replace("pilumen/case/1", "pilumen/case/2")), true);
    with("a kind that is not known", "not known", &|p| facts(p, &|t| *t = t.replace("\"note\"", "\"dream\"")), true);
    with(
        "another animal",
        "",
        &|p| facts(p, &|t| *t = t.replacen(&moth, &moth.replace(['a', 'b', 'c'], "0"), 1)),
        true,
    );
    with(
        "a forged evaluation",
        "evaluation",
        &|parts| {
            let name = parts.iter().position(|(name, _)| name.contains("/evaluations/")).unwrap();
            parts[name].1.push(b' ');
        },
        true,
    );

    fs::write(&bad, b"no zip").unwrap();
    refuse("no zip", "no zip file");
    let whole = fs::read(&file).unwrap();
    fs::write(&bad, &whole[..whole.len() / 2]).unwrap();
    refuse("half a pack", "zip");
    fs::remove_file(&bad).unwrap();
    refuse("nothing", "no such file");
}

#[test]
fn a_bomb_of_two_gigabytes_is_refused_before_it_bursts() {
    let (place, mut other) = elsewhere();
    let bomb = place.path().join("bomb.zip");
    let mut zip = ZipWriter::new(fs::File::create(&bomb).unwrap());
    zip.start_file("x/data/case.json", SimpleFileOptions::default()).unwrap();
    let zeros = vec![0; 1 << 20];
    for _ in 0..2048 {
        zip.write_all(&zeros).unwrap();
    }
    zip.finish().unwrap();
    assert!(fs::metadata(&bomb).unwrap().len() < 4 << 20);
    let sentence = other.unpack(&bomb, false, &on("2026-03-11")).unwrap_err().to_string();
    assert!(sentence.contains("unpacks to more than"), "{sentence}");

    // One that lies about its size: 2 GiB said to be 10 bytes, in the local header and in the directory.
    let mut bytes = fs::read(&bomb).unwrap();
    let size = (2048_u32 << 20).to_le_bytes();
    let places: Vec<usize> = (0..bytes.len() - 4).filter(|&at| bytes[at..at + 4] == size).collect();
    assert!(!places.is_empty());
    for at in places {
        bytes[at..at + 4].copy_from_slice(&10_u32.to_le_bytes());
    }
    fs::write(&bomb, bytes).unwrap();
    let refused = other.unpack(&bomb, false, &on("2026-03-11")).unwrap_err().to_string();
    assert!(refused.contains("bomb.zip is no pack"), "{refused}");
    assert_eq!(other.counts().unwrap().len(), 0);
}

#[test]
fn contradictions_are_shown_and_never_merged_in_silence() {
    let (_here, store, moth, file) = packed();
    let (_place, mut other) = elsewhere();
    other.unpack(&file, false, &on("2026-03-11")).unwrap();
    let (mut here, mut there) = (store, other);
    let word = |store: &mut Store, colour: &str| {
        let change = Change::Field { field: "group".into(), value: json!(colour) };
        store.correct(&moth, &Correction { change, why: "told so".into() }, &on("2026-03-12")).unwrap();
    };
    word(&mut here, "attic");
    word(&mut there, "porch");
    let second = file.with_file_name("second.zip");
    there.pack(&moth, &second, &on("2026-03-12")).unwrap();
    let before = here.counts().unwrap();
    let sentence = here.unpack(&second, false, &on("2026-03-12")).unwrap_err().to_string();
    assert!(sentence.contains("say different things of the same fact"), "{sentence}");
    assert_eq!(here.counts().unwrap(), before);
    assert_eq!(here.unpack(&second, true, &on("2026-03-12")).unwrap().remarks.len(), 1, "and still told");

    // The same bytes under another fact cannot be taken in at all; a number that two animals share can, when told to.
    let (_place, mut third) = elsewhere();
    let chip = Identifier { kind: "chip".into(), value: "qh-1".into() };
    let twin = pilumen::store::Animal { identifiers: vec![chip], ..animal("Mothy") };
    let twin = third.add_animal(&twin, &on("2026-03-01")).unwrap();
    let sentence = third.unpack(&file, false, &on("2026-03-11")).unwrap_err().to_string();
    assert!(sentence.contains("they may be one animal"), "{sentence}");
    let slide = third.add_slide(&twin.id, &slide("chin", "2026-03-01"), &on("2026-03-01")).unwrap();
    third.add_photo(&slide.id, "x.jpg", b"photo one", Light::Uv, &on("2026-03-01")).unwrap();
    let sentence = third.unpack(&file, true, &on("2026-03-11")).unwrap_err().to_string();
    assert!(sentence.contains("are kept here as"), "{sentence}");
}

#[test]
fn a_backup_is_a_record_and_keeps_up() {
    let (here, mut store, moth, _file) = packed();
    let to = here.path().join("backup");
    let first = store.backup(&to).unwrap();
    assert_eq!((first.n_photos, first.n_new_photos), (2, 2));
    store.add_note(&moth, &Note { day: None, text: "later".into() }, &on("2026-03-12")).unwrap();
    let second = store.backup(&to).unwrap();
    assert_eq!((second.n_facts, second.n_new_photos), (first.n_facts + 1, 0));
    assert!(check(&to).unwrap().is_whole());
    assert_eq!(Store::open(&to).unwrap().counts().unwrap(), store.counts().unwrap());
    let says = |to: &Path| store.backup(to).unwrap_err().to_string();
    assert!(says(&here.path().join("record/inside")).contains("lies in the record"));
    let other = here.path().join("other");
    fs::create_dir(&other).unwrap();
    fs::write(other.join("letters.txt"), "x").unwrap();
    assert!(says(&other).contains("holds something else"));
    let (_place, mut stranger) = elsewhere();
    stranger.add_animal(&animal("Oriel"), &on("2026-03-01")).unwrap();
    assert!(stranger.backup(&to).unwrap_err().to_string().contains("backup of another"));
}

#[test]
fn a_backup_that_a_desk_was_opened_on_still_keeps_up() {
    let (here, mut store, moth, _file) = packed();
    let to = here.path().join("backup");
    store.backup(&to).unwrap();
    for desk in ["desk.key", "desk.queue.json"] {
        fs::write(to.join(desk), "[]").unwrap();
    }
    let open = Store::open(&to).unwrap();
    assert_eq!(open.counts().unwrap(), store.counts().unwrap());
    store.add_note(&moth, &Note { day: None, text: "later".into() }, &on("2026-03-12")).unwrap();
    let said = store.backup(&to).unwrap_err().to_string();
    assert!(said.contains("somebody has the record in") && said.contains("open"), "{said}");
    drop(open);
    assert_eq!(store.backup(&to).unwrap().n_facts, store.counts().unwrap().values().sum::<u64>());
    assert_eq!(Store::open(&to).unwrap().counts().unwrap(), store.counts().unwrap());
    assert!(check(&to).unwrap().is_whole());
}

#[test]
fn a_backup_holds_what_people_answered_and_gives_it_back() {
    let (here, store, _moth, _file) = packed();
    let learning = |folder: &Path| folder.join("learning.jsonl");
    let ours = here.path().join("record");
    let to = here.path().join("backup");
    assert_eq!(store.backup(&to).unwrap().n_answers, 0, "nobody has practised");
    assert!(!learning(&to).exists());
    // A last line that is being written, or was torn, is not in the copy.
    fs::write(learning(&ours), "{\"one\":1}\n{\"two\":2}\n{\"thr").unwrap();
    assert_eq!(store.backup(&to).unwrap().n_answers, 2);
    assert_eq!(fs::read_to_string(learning(&to)).unwrap(), "{\"one\":1}\n{\"two\":2}\n");
    fs::write(learning(&ours), "{\"one\":1}\n{\"two\":2}\n{\"three\":3}\n").unwrap();
    assert_eq!(store.backup(&to).unwrap().n_answers, 3, "it keeps up");
    // The copy is a record of its own: the answers are there, and a copy of it has them as well.
    let again = here.path().join("again");
    assert_eq!(Store::open(&to).unwrap().backup(&again).unwrap().n_answers, 3);
    assert_eq!(fs::read(learning(&again)).unwrap(), fs::read(learning(&ours)).unwrap());
    // Answers that are not here are never written over.
    fs::write(learning(&to), "{\"other\":1}\n").unwrap();
    let said = store.backup(&to).unwrap_err().to_string();
    assert!(said.contains("learners' answers that this record has not"), "{said}");
    assert_eq!(fs::read_to_string(learning(&to)).unwrap(), "{\"other\":1}\n");
    fs::remove_file(learning(&ours)).unwrap();
    assert!(store.backup(&again).is_err(), "lost answers do not take the copy's with them");
    assert!(learning(&again).exists());
}

#[test]
fn photos_may_be_moved_to_another_disk() {
    let (here, mut store, moth, _file) = packed();
    let to = here.path().join("disk");
    assert_eq!(store.move_photos(&to).unwrap(), 2);
    let photo = store.case(&moth).unwrap().photos[0].id.clone();
    fs::remove_dir_all(here.path().join("record/photos")).unwrap();
    let store = Store::open(&here.path().join("record")).unwrap();
    assert_eq!(store.photo_bytes(&photo).unwrap(), b"photo one");
    assert!(check(&here.path().join("record")).unwrap().is_whole());
}
