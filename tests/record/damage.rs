//! A full disk, a folder that cannot be written, flipped bytes, a newer version, a clock that jumps back, two programs.

use std::fs;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::Path;

use pilumen::store::{Light, Note, Store, StoreError, check};

use super::commands::{Place, err};
use super::world::{animal, fill, on, read_slide, record, slide};

fn flip(path: &Path, at: u64) {
    let mut file = fs::OpenOptions::new().read(true).write(true).open(path).unwrap();
    let mut byte = [0];
    file.seek(SeekFrom::Start(at)).unwrap();
    file.read_exact(&mut byte).unwrap();
    file.seek(SeekFrom::Start(at)).unwrap();
    file.write_all(&[byte[0] ^ 0x10]).unwrap();
}

#[test]
fn a_flipped_byte_in_the_database_is_found_wherever_it_matters() {
    let (place, mut store) = record();
    let folder = place.path().join("record");
    let moth = store.add_animal(&animal("Moth"), &on("2026-03-01")).unwrap();
    for n in 0..40 {
        let text = format!("note {n} of an invented cat that is shy");
        store.add_note(&moth.id, &Note { day: None, text }, &on("2026-03-01")).unwrap();
    }
    read_slide(&mut store, &moth.id, &slide("chin", "2026-03-01"), b"photo", "doubtful", &[("infected", "base", 30.0)]);
    drop(store);
    let path = folder.join("record.db");
    let whole = fs::read(&path).unwrap();
    // As it stands in the body, which is JSON, and not among the words that are searched.
    let text = b"an invented cat that is shy\"";
    let in_bodies: Vec<u64> =
        (0..whole.len() - text.len()).filter(|&at| whole[at..].starts_with(text)).map(|at| at as u64).collect();
    // In the facts' texts, which the pages of a database cannot notice. Some stand in room that is unused again.
    let mut damaged = std::collections::BTreeSet::new();
    for at in in_bodies {
        fs::write(&path, &whole).unwrap();
        flip(&path, at + 3);
        let report = check(&folder).unwrap();
        assert!(report.damaged.len() <= 1, "{report:?}");
        assert_eq!(report.whole["note"] + report.damaged.len() as u64, 40);
        for fault in report.damaged {
            assert_eq!(fault.what, "note");
            damaged.insert(fault.id);
            // What is asked for by name still answers, and the damaged one says what to do.
            let store = Store::open(&folder).unwrap();
            assert_eq!(store.animal(&moth.id).unwrap().fact.name, "Moth");
            let sentence = store.case(&moth.id).unwrap_err().to_string();
            assert!(sentence.contains("pilumen check") && sentence.contains("backup"), "{sentence}");
        }
    }
    assert_eq!(damaged.len(), 40, "each note's damage was found");

    // The first sign of the file, and across the pages.
    let step = whole.len() as u64 / 60;
    let places = [0, 20].into_iter().chain((1..60).map(|n| n * step + 7));
    let mut n_found = 0;
    let mut n = 0;
    for at in places {
        fs::write(&path, &whole).unwrap();
        flip(&path, at);
        n += 1;
        let report = match check(&folder) {
            Ok(report) => report,
            // A version that is not known is refused in words of its own.
            Err(error) => {
                assert!(matches!(error, StoreError::Newer { .. }), "{error}");
                n_found += 1;
                continue;
            }
        };
        n_found += usize::from(!report.is_whole());
        assert_eq!(report.whole_photos, 1, "the photo is whole, and is said to be");
    }
    // Among the words that are searched, which repeat the body.
    let text = b"an invented cat that is shy";
    let in_words = |at: &usize| whole[*at..].starts_with(text) && whole[at + text.len()] != b'"';
    let mut missed = std::collections::BTreeSet::new();
    for at in (0..whole.len() - text.len()).filter(in_words) {
        fs::write(&path, &whole).unwrap();
        flip(&path, at as u64);
        missed.extend(check(&folder).unwrap().damaged.into_iter().map(|fault| (fault.what, fault.id)));
    }
    assert_eq!(missed.len(), 40, "{missed:?}");
    assert!(missed.iter().all(|(what, _)| what == "words"));
    println!("{n_found} of {n} flipped bytes were found; the others lie in unused room");
    assert!(n_found >= 3);
    for at in 0..100 {
        // Whatever the header says, there is a sentence and no breakdown.
        fs::write(&path, &whole).unwrap();
        flip(&path, at);
        if let Ok(store) = Store::open(&folder) {
            let _ = store.case(&moth.id);
        }
    }
    fs::write(&path, &whole[..whole.len() / 2]).unwrap();
    let report = check(&folder).unwrap();
    assert!(!report.is_whole() && report.whole_photos == 1, "half a database: {report:?}");
    fs::write(&path, b"").unwrap();
    assert!(!check(&folder).unwrap().is_whole());
}

#[test]
fn a_folder_of_a_newer_version_is_refused_and_left_alone() {
    let (place, store) = record();
    drop(store);
    let path = place.path().join("record/record.db");
    rusqlite::Connection::open(&path).unwrap().execute_batch("PRAGMA user_version = 99").unwrap();
    let before = fs::read(&path).unwrap();
    for refused in
        [Store::open(&place.path().join("record")).map(|_| ()), check(&place.path().join("record")).map(|_| ())]
    {
        let sentence = refused.unwrap_err().to_string();
        assert!(sentence.contains("newer version") && sentence.contains("form 99"), "{sentence}");
    }
    assert_eq!(fs::read(&path).unwrap(), before);
}

#[test]
fn a_clock_that_jumps_back_is_told_and_the_order_stays() {
    let (_place, mut store) = record();
    let moth = store.add_animal(&animal("Moth"), &on("2026-03-10")).unwrap();
    store.add_note(&moth.id, &Note { day: None, text: "first".into() }, &on("2026-03-10")).unwrap();
    let back = on("2026-03-01");
    let note = store.clock_note(&back).unwrap().unwrap();
    assert!(note.contains("check date and time") && note.contains("2026-03-10"), "{note}");
    assert!(store.clock_note(&on("2026-03-11")).unwrap().is_none());
    store.add_note(&moth.id, &Note { day: None, text: "second".into() }, &back).unwrap();
    let notes = store.case(&moth.id).unwrap().notes;
    assert_eq!(notes.iter().map(|note| note.fact.text.as_str()).collect::<Vec<_>>(), ["first", "second"]);
    let future = slide("chin", "2026-03-09");
    let sentence = store.add_slide(&moth.id, &future, &back).unwrap_err().to_string();
    assert!(sentence.contains("the computer's clock"), "{sentence}");
}

#[test]
fn two_programs_at_once_wait_for_each_other_or_are_told() {
    let place = Place::new();
    place.id(&["case", "animal", "Moth"]);
    // Eight writers at once, each of whom waits for the others.
    let writers: Vec<_> =
        (0..8).map(|n| place.command().args(["case", "note", "Moth", &format!("note {n}")]).spawn().unwrap()).collect();
    for mut writer in writers {
        assert!(writer.wait().unwrap().success());
    }
    assert_eq!(place.json(&["case", "show", "Moth"])["notes"].as_array().unwrap().len(), 8);
    // One that holds the record all the time.
    let lock = fs::OpenOptions::new().write(true).open(place.path("record/writer.lock")).unwrap();
    lock.lock().unwrap();
    let sentence = place.refused(1, &["case", "note", "Moth", "late", "--wait", "0"]);
    assert!(sentence.contains("is writing to the record") && sentence.contains("try again"), "{sentence}");
    assert_eq!(place.json(&["case", "list"]).as_array().unwrap().len(), 1, "readers are not held up");
    lock.unlock().unwrap();
    place.id(&["case", "note", "Moth", "late"]);
    place.is_whole();
}

/// A shell that lets no file grow beyond some kilobytes: as full a disk as can be had everywhere.
#[cfg(unix)]
#[test]
fn a_disk_that_is_full_is_told_and_nothing_is_kept_half() {
    let place = Place::new();
    place.id(&["case", "animal", "Moth"]);
    let slide = place.id(&["case", "slide", "Moth", "--site", "chin"]);
    let photo = place.path("large.jpg");
    fs::write(&photo, vec![7; 300_000]).unwrap();
    let before = place.json(&["case", "show", "Moth"]);
    let limited = |arguments: &str| {
        let script = format!("trap '' XFSZ; ulimit -f 200; exec \"$0\" {arguments}");
        let mut command = std::process::Command::new("sh");
        command.arg("-c").arg(script).arg(env!("CARGO_BIN_EXE_pilumen"));
        command.env("PILUMEN_RECORD", place.path("record")).env("PILUMEN_BY", super::world::WHO);
        command.output().unwrap()
    };
    let output = limited(&format!("case photo {slide} '{}'", photo.display()));
    assert_eq!(output.status.code(), Some(1), "{}", err(&output));
    assert!(err(&output).contains("make room"), "{}", err(&output));
    assert_eq!(place.json(&["case", "show", "Moth"]), before);
    place.is_whole();
    // The database itself.
    let mut refused = None;
    for n in 0..60 {
        let output = limited(&format!("case note Moth '{n} {}'", "long ".repeat(3500)));
        if output.status.code() != Some(0) {
            refused = Some(err(&output));
            break;
        }
    }
    let sentence = refused.expect("the database cannot grow for ever");
    assert!(sentence.contains("make room"), "{sentence}");
    place.is_whole();
    place.id(&["case", "note", "Moth", "there is room again"]);
}

/// A folder that belongs to someone else. The superuser may write everywhere, so as one the test becomes nobody.
#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_is_read_and_told() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    use std::os::unix::process::CommandExt;

    let place = Place::new();
    place.id(&["case", "animal", "Moth"]);
    let allow = |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    // Nobody must be able to come to the program and the record, and not to write there.
    let program = place.path("pilumen");
    fs::copy(env!("CARGO_BIN_EXE_pilumen"), &program).unwrap();
    allow(&program, 0o755);
    allow(place.folder.path(), 0o755);
    let record = place.path("record");
    for file in fs::read_dir(&record).unwrap().flatten() {
        allow(&file.path(), if file.path().is_dir() { 0o555 } else { 0o444 });
    }
    allow(&record, 0o555);
    let is_root = fs::metadata("/proc/self").is_ok_and(|about| about.uid() == 0);
    let run = |arguments: &[&str]| {
        let mut command = std::process::Command::new(&program);
        command.args(arguments).env("PILUMEN_RECORD", &record).env("PILUMEN_BY", super::world::WHO);
        if is_root {
            command.uid(65534).gid(65534);
        }
        command.output().unwrap()
    };
    let listed = run(&["case", "list"]);
    assert_eq!(listed.status.code(), Some(0), "{}", err(&listed));
    assert!(String::from_utf8_lossy(&listed.stdout).contains("Moth"));
    let refused = run(&["case", "note", "Moth", "x"]);
    assert_eq!(refused.status.code(), Some(1), "{}", err(&refused));
    assert!(err(&refused).contains("cannot be written"), "{}", err(&refused));
    let refused = run(&["case", "animal", "Tansy", "--record", record.join("new").to_str().unwrap()]);
    assert!(err(&refused).contains("cannot be written"), "{}", err(&refused));
    assert_eq!(run(&["check"]).status.code(), Some(0));
    allow(&record, 0o755);
    for file in fs::read_dir(&record).unwrap().flatten() {
        allow(&file.path(), if file.path().is_dir() { 0o755 } else { 0o644 });
    }
}

#[test]
fn photos_are_proved_whenever_they_are_handed_out() {
    let (place, mut store) = record();
    let moth = store.add_animal(&animal("Moth"), &on("2026-03-01")).unwrap();
    let chin = store.add_slide(&moth.id, &slide("chin", "2026-03-01"), &on("2026-03-01")).unwrap();
    let photo = store.add_photo(&chin.id, "a.jpg", b"bytes of a photo", Light::Uv, &on("2026-03-01")).unwrap();
    let sha256 = photo.fact.sha256;
    let path = place.path().join("record/photos").join(&sha256[..2]).join(&sha256);
    let bytes = fs::read(&path).unwrap();
    fs::remove_file(&path).unwrap();
    fs::write(&path, &bytes).unwrap();
    flip(&path, 3);
    let sentence = store.photo_bytes(&photo.id).unwrap_err().to_string();
    assert!(sentence.contains("damaged") && sentence.contains("pilumen check"), "{sentence}");
    let pack = place.path().join("moth.zip");
    assert!(store.pack(&moth.id, &pack, &on("2026-03-01")).unwrap_err().to_string().contains("damaged"));
    assert!(!pack.exists(), "a pack is whole or is not made");
    let report = store.backup(&place.path().join("backup")).unwrap();
    assert_eq!(report.damaged.len(), 1, "a backup takes what is whole and says what is not");
}

#[test]
fn a_filled_record_proves_whole_but_for_its_missing_photos() {
    let place = tempfile::tempdir().unwrap();
    let folder = place.path().join("record");
    fill(&folder, 5, 3);
    let report = check(&folder).unwrap();
    assert!(
        report.damaged.iter().all(|fault| fault.what == "photo" || fault.fault.contains("evaluation")),
        "{report:?}"
    );
}
