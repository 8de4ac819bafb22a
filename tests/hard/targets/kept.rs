//! What comes into a record from outside: evaluations, packs, and the database itself.

use std::fs;
use std::path::Path;

use pilumen::store::{Page, Store, check};
use tempfile::TempDir;

use super::{Outcome, World, must, told};
use crate::record::pack::{packed, parts, with_manifests, zipped};
use crate::record::world::{evaluation, on, read_slide, record, slide, the};

/// An evaluation that is given to a record.
pub(in super::super) fn evaluations() -> World {
    let (place, mut store) = record();
    let stamp = on("2026-03-10");
    let tansy = store.add_animal(&crate::record::world::animal("Tansy"), &stamp).unwrap().id;
    let shafts = [("infected", "base", 30.5), ("normal", "none", 20.25)];
    let [_, photo, _] = read_slide(&mut store, &tansy, &slide("chin", "2026-03-01"), b"one", "doubtful", &shafts);
    let golden = fs::read("fixtures/golden/sample.json").unwrap();
    let mut seeds = vec![evaluation(b"one", "looks-infected-few", &shafts).into_bytes()];
    seeds.push(golden[..golden.len().min(4_000)].to_vec());
    World::new(seeds, move |bytes| {
        let _place: &TempDir = &place;
        let Ok(text) = std::str::from_utf8(bytes) else { return Ok("no text".to_owned()) };
        let kept = store.add_reading(&photo, text, &stamp);
        if let Ok(kept) = &kept {
            let back = store.evaluation_text(&kept.id).map_err(|error| error.to_string())?;
            must(back == text, "another evaluation is handed out than was kept")?;
            whole(&store, &tansy)?;
        }
        Ok(told(&kept))
    })
}

/// Asks for everything that pages and commands ask for.
fn whole(store: &Store, animal: &str) -> Result<(), String> {
    let case = store.case(animal).map_err(|error| error.to_string())?;
    for site in case.sites() {
        case.course(&site);
    }
    case.readings.iter().for_each(|reading| drop(reading.shafts()));
    case.coincidences(&store.rules().map_err(|error| error.to_string())?);
    store.due(the("2026-06-01"), 7).map_err(|error| error.to_string())?;
    Ok(())
}

/// A pack as somebody may have sent it.
fn taken_in(place: &Path, bytes: &[u8]) -> Outcome {
    let file = place.join("sent.zip");
    fs::write(&file, bytes).map_err(|error| error.to_string())?;
    let folder = place.join("record");
    // A record of its own each time: what was taken in before would be known already.
    let _ = fs::remove_dir_all(&folder);
    let mut store = Store::open_or_create(&folder).map_err(|error| error.to_string())?;
    let unpacked = store.unpack(&file, false, &on("2026-03-12"));
    match &unpacked {
        Ok(unpacked) => whole(&store, &unpacked.animal)?,
        Err(_) => {
            let counts = store.counts().map_err(|error| error.to_string())?;
            must(counts.values().all(|n| *n == 0), "a refused pack left something behind")?;
        }
    }
    Ok(told(&unpacked))
}

/// A pack whose bytes were damaged.
pub(in super::super) fn packs() -> World {
    let (_here, _store, _, file) = packed();
    let mut seeds = vec![fs::read(&file).unwrap()];
    seeds.push(fs::read("fixtures/reference/pack/tansy.zip").unwrap());
    let place = tempfile::tempdir().unwrap();
    World::new(seeds, move |bytes| taken_in(place.path(), bytes))
}

/// A pack whose case file was damaged and whose digests were made to fit.
pub(in super::super) fn forged_packs() -> World {
    let (_here, _store, _, file) = packed();
    let all = parts(&file);
    let case = all.iter().position(|(name, _)| name.ends_with("case.json")).expect("a pack has a case file");
    let seeds = vec![all[case].1.clone()];
    let place = tempfile::tempdir().unwrap();
    World::new(seeds, move |bytes| {
        let mut all = all.clone();
        all[case].1 = bytes.to_vec();
        let forged = place.path().join("forged.zip");
        zipped(&with_manifests(all), &forged);
        let bytes = fs::read(&forged).map_err(|error| error.to_string())?;
        taken_in(place.path(), &bytes)
    })
}

/// A record whose database was damaged on the disk.
pub(in super::super) fn database() -> World {
    let (_here, store, animal, _) = packed();
    let place = tempfile::tempdir().unwrap();
    let copy = place.path().join("copy");
    store.backup(&copy).unwrap();
    let seeds = vec![fs::read(copy.join("record.db")).unwrap()];
    World::new(seeds, move |bytes| {
        let _kept: [&TempDir; 2] = [&_here, &place];
        for beside in ["record.db-wal", "record.db-shm"] {
            let _ = fs::remove_file(copy.join(beside));
        }
        fs::write(copy.join("record.db"), bytes).map_err(|error| error.to_string())?;
        let opened = Store::open(&copy);
        let Ok(store) = &opened else { return Ok(told(&opened)) };
        let asked = [
            told(&store.animals(Page::default())),
            told(&store.search("moth", 50)),
            told(&store.case(&animal)),
            told(&store.due(the("2026-06-01"), 7)),
            told(&store.counts()),
            told(&store.rules()),
        ];
        if let Ok(case) = store.case(&animal) {
            case.sites().iter().for_each(|site| drop(case.course(site)));
            case.readings.iter().for_each(|reading| drop(reading.shafts()));
        }
        let proved = check(&copy);
        Ok(format!("{} {}", asked.join(" "), told(&proved)))
    })
}
