//! Killed at any moment: what was acknowledged is there, nothing is half there, and the record proves whole.
//!
//! A short form runs always; `PILUMEN_KILLS=500 cargo test --release --test main record::kill -- --nocapture` runs the
//! long one. A kill tests that the program leaves nothing half done; that a disk keeps what it says it has kept when
//! the power fails cannot be tested here and rests on synchronising before acknowledging.

use std::fs;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

use pilumen::store::{Light, Note, Store, check};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;

use super::commands::Place;
use super::world::{animal, fill, on, slide};

/// Kills of each kind of work in the short form.
const SHORT: usize = 6;

/// Kinds of work that are killed; the number of kills is shared among them.
const KINDS: usize = 5;

fn n_kills() -> usize {
    let asked = std::env::var("PILUMEN_KILLS").ok().and_then(|kills| kills.parse::<usize>().ok());
    asked.map_or(SHORT, |kills| kills.div_ceil(KINDS))
}

/// Runs a command, kills it after a while or lets it end; returns the lines it had printed, and whether it was killed.
fn killed(command: &mut Command, after: Duration) -> (Vec<String>, bool) {
    let mut child = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let output = child.stdout.take().unwrap();
    // Read while it runs: a full pipe would hold it up.
    let reader = std::thread::spawn(move || {
        let mut lines = Vec::new();
        let mut reader = BufReader::new(output);
        loop {
            let mut line = String::new();
            match reader.read_line(&mut line) {
                Ok(0) | Err(_) => return lines,
                // A line without its end was cut off and acknowledges nothing.
                Ok(_) if line.ends_with('\n') => lines.push(line),
                Ok(_) => return lines,
            }
        }
    });
    sleep(after);
    let was_running = child.try_wait().unwrap().is_none();
    child.kill().unwrap();
    child.wait().unwrap();
    (reader.join().unwrap(), was_running)
}

/// How long a whole run takes, so that kills fall anywhere in it and a little after.
fn duration_of(command: &mut Command) -> Duration {
    let begun = Instant::now();
    assert!(command.stdout(Stdio::null()).stderr(Stdio::null()).status().unwrap().success());
    begun.elapsed()
}

/// Moments that fall anywhere in a run: its length is followed as the machine gets busier or less busy.
struct Moments {
    dice: ChaCha8Rng,
    whole: Duration,
}

impl Moments {
    fn new(seed: u64, whole: Duration) -> Moments {
        Moments { dice: ChaCha8Rng::seed_from_u64(seed), whole }
    }

    fn next(&mut self) -> Duration {
        self.whole.mul_f64(self.dice.gen_range(0.0..1.0))
    }

    /// A kill that came too late says that runs are shorter than thought; others let them be a little longer again.
    fn learn(&mut self, was_running: bool) -> usize {
        self.whole = self.whole.mul_f64(if was_running { 1.03 } else { 0.9 });
        usize::from(was_running)
    }
}

fn slide_of_moth(place: &Place) -> String {
    place.id(&["case", "animal", "Moth"]);
    place.id(&["case", "slide", "Moth", "--site", "chin"])
}

fn tell(what: &str, n_kills: usize, n_running: usize, rest: &str) {
    println!("{what}: {n_kills} kills, {n_running} of them while it ran; {rest}");
    // In the short form chance may have it that few did.
    let least = if n_kills > SHORT { n_kills / 2 } else { 1 };
    assert!(n_running >= least, "most kills must fall while there is something to kill");
}

#[test]
fn of_an_import() {
    let place = Place::new();
    let slide = slide_of_moth(&place);
    let import = |photos: &[PathBuf]| {
        let mut command = place.command();
        command.args(["case", "photo", &slide, "--json", "--resume"]).args(photos);
        command
    };
    let new = |n: &mut u32| -> Vec<PathBuf> {
        (0..8)
            .map(|_| {
                *n += 1;
                let path = place.path(&format!("import-{n}.jpg"));
                fs::write(&path, format!("photo {n} ").repeat(20_000)).unwrap();
                path
            })
            .collect()
    };
    let mut n = 0;
    let mut moments = Moments::new(1, duration_of(&mut import(&new(&mut n))));
    let mut acknowledged: Vec<(String, String)> = Vec::new();
    let mut n_running = 0;
    let kills = n_kills();
    for _ in 0..kills {
        let (lines, was_running) = killed(&mut import(&new(&mut n)), moments.next());
        n_running += moments.learn(was_running);
        for line in lines {
            let kept: Value = serde_json::from_str(&line).unwrap();
            let text = |value: &Value| value.as_str().unwrap().to_owned();
            acknowledged.push((text(&kept["id"]), text(&kept["fact"]["sha256"])));
        }
        let report = check(&place.path("record")).unwrap();
        assert!(report.is_whole(), "{report:?}");
    }
    let store = Store::open(&place.path("record")).unwrap();
    for (id, sha256) in &acknowledged {
        assert_eq!(store.photo(id).unwrap().fact.sha256, *sha256);
        store.photo_bytes(id).unwrap();
    }
    // The import goes on and leaves nothing unfinished behind.
    duration_of(&mut import(&new(&mut n)));
    let report = check(&place.path("record")).unwrap();
    assert!(report.remarks.iter().all(|remark| !remark.contains("unfinished")), "{report:?}");
    tell("import", kills, n_running, &format!("{} acknowledged photos all there", acknowledged.len()));
}

#[test]
fn of_a_reading() {
    let place = Place::new();
    let slide = slide_of_moth(&place);
    let photos: Vec<PathBuf> = (0..4).map(|n| place.photo(&format!("{n}.png"), n)).collect();
    let read = || {
        let mut command = place.command();
        command.args(["read", "--json", "--case", "Moth", "--slide", &slide]).args(&photos);
        command
    };
    let mut moments = Moments::new(2, duration_of(&mut read()));
    let mut n_acknowledged = photos.len();
    let mut n_running = 0;
    let kills = n_kills();
    for _ in 0..kills {
        let (lines, was_running) = killed(&mut read(), moments.next());
        n_running += moments.learn(was_running);
        n_acknowledged += lines.len();
        let report = check(&place.path("record")).unwrap();
        assert!(report.is_whole(), "{report:?}");
        let n_kept = report.whole["reading"] as usize;
        assert!(n_kept >= n_acknowledged, "{n_kept} kept of {n_acknowledged}");
        // What was kept and not acknowledged any more counts from here on.
        n_acknowledged = n_kept;
    }
    tell("reading", kills, n_running, &format!("{n_acknowledged} readings all there"));
}

#[test]
fn of_a_pack_and_an_unpacking() {
    let place = Place::new();
    let record = place.path("record");
    let mut store = Store::open_or_create(&record).unwrap();
    let stamp = on("2026-03-01");
    let moth = store.add_animal(&animal("Moth"), &stamp).unwrap().id;
    let chin = store.add_slide(&moth, &slide("chin", "2026-03-01"), &stamp).unwrap().id;
    for n in 0..20 {
        let bytes = format!("photo {n} ").repeat(40_000);
        store.add_photo(&chin, &format!("{n}.jpg"), bytes.as_bytes(), Light::Uv, &stamp).unwrap();
    }
    let n_facts: u64 = store.counts().unwrap().values().sum();
    drop(store);
    let (file, other) = (place.path("moth.zip"), place.path("other"));
    let pack = || {
        let mut command = place.command();
        command.arg("pack").arg("Moth").arg(&file).arg("--json");
        command
    };
    let unpack = || {
        let mut command = place.command();
        command.arg("unpack").arg(&file).arg("--json").arg("--record").arg(&other);
        command
    };
    let mut moments = Moments::new(3, duration_of(&mut pack()));
    let mut moments_of_unpacking = Moments::new(5, duration_of(&mut unpack()));
    let kills = n_kills();
    let (mut n_running, mut n_whole) = (0, 0);
    for _ in 0..kills {
        fs::remove_file(&file).unwrap();
        let (lines, was_running) = killed(&mut pack(), moments.next());
        n_running += moments.learn(was_running);
        assert!(lines.is_empty() || file.exists(), "an acknowledged pack is there");
        if file.exists() {
            // A pack that is there is whole: it can be taken in.
            n_whole += 1;
            let fresh = tempfile::tempdir().unwrap();
            let mut store = Store::open_or_create(&fresh.path().join("record")).unwrap();
            store.unpack(&file, false, &stamp).unwrap();
            fs::remove_file(&file).unwrap();
        }
        duration_of(&mut pack());
    }
    tell("pack", kills, n_running, &format!("{n_whole} were there, all whole"));
    let (mut n_running, mut n_whole) = (0, 0);
    for _ in 0..kills {
        fs::remove_dir_all(&other).unwrap();
        let (lines, was_running) = killed(&mut unpack(), moments_of_unpacking.next());
        n_running += moments_of_unpacking.learn(was_running);
        if let Ok(report) = check(&other) {
            assert!(report.is_whole(), "{report:?}");
            let n: u64 = report.whole.values().sum();
            assert!(n == 0 || n == n_facts, "all of a case or none of it, not {n} of {n_facts}");
            assert!(lines.is_empty() || n == n_facts);
            n_whole += u64::from(n == n_facts);
        } else {
            assert!(lines.is_empty(), "an acknowledged case is there");
        }
        // And it can be taken in afterwards, whatever was left.
        duration_of(&mut unpack());
        assert_eq!(Store::open(&other).unwrap().counts().unwrap().values().sum::<u64>(), n_facts);
    }
    tell("unpacking", kills, n_running, &format!("{n_whole} were taken in, all whole"));
}

#[test]
fn of_a_migration() {
    let place = Place::new();
    let old = place.path("old");
    fill(&old, 400, 10);
    let mut store = Store::open(&old).unwrap();
    let tansy = store.add_animal(&animal("Tansy"), &on("2026-03-01")).unwrap().id;
    store.add_note(&tansy, &Note { day: None, text: "a word to be found".into() }, &on("2026-03-01")).unwrap();
    let n_facts: u64 = store.counts().unwrap().values().sum();
    drop(store);
    // As version 1 was: without words and rules.
    let connection = rusqlite::Connection::open(old.join("record.db")).unwrap();
    connection
        .execute_batch("DROP TABLE words; DROP TABLE rule; PRAGMA user_version = 1; PRAGMA wal_checkpoint(TRUNCATE);")
        .unwrap();
    connection.close().unwrap();
    let record = place.path("record");
    let restore = || {
        let _ = fs::remove_dir_all(&record);
        fs::create_dir(&record).unwrap();
        fs::copy(old.join("record.db"), record.join("record.db")).unwrap();
    };
    let open = || {
        let mut command = place.command();
        command.args(["case", "search", "word to be found", "--json"]);
        command
    };
    restore();
    let mut moments = Moments::new(4, duration_of(&mut open()));
    let kills = n_kills();
    let (mut n_running, mut n_before) = (0, 0);
    for _ in 0..kills {
        restore();
        let (_, was_running) = killed(&mut open(), moments.next());
        n_running += moments.learn(was_running);
        let connection = rusqlite::Connection::open(record.join("record.db")).unwrap();
        let version: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap();
        let tables: i64 = connection
            .query_row("SELECT count(*) FROM sqlite_master WHERE name IN ('words', 'rule')", [], |row| row.get(0))
            .unwrap();
        assert!((version, tables) == (1, 0) || (version, tables) == (2, 2), "version {version} with {tables} tables");
        n_before += usize::from(version == 1);
        connection.close().unwrap();
        let store = Store::open(&record).unwrap();
        assert_eq!(store.search("word to be found", 5).unwrap().len(), 1);
        assert_eq!(store.counts().unwrap().values().sum::<u64>(), n_facts);
    }
    tell("migration", kills, n_running, &format!("{n_before} were as before, the others whole"));
}
