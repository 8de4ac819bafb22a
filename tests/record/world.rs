//! A small invented world to keep: stamps, animals, slides, and evaluations of photos that nobody took.

use pilumen::store::{Animal, Answer, Day, Exam, Light, Site, SiteSeen, Slide, Stamp, Store};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tempfile::TempDir;

pub(crate) const WHO: &str = "Quillfeather House (invented)";

/// A stamp on a day, at noon.
pub(crate) fn on(day: &str) -> Stamp {
    Stamp { by: WHO.to_owned(), at: format!("{day}T12:00:00Z").parse().unwrap(), today: the(day) }
}

pub(crate) fn the(day: &str) -> Day {
    day.parse().unwrap()
}

pub(crate) fn site(name: &str) -> Site {
    name.parse().unwrap()
}

/// An empty record in a folder that vanishes.
pub(crate) fn record() -> (TempDir, Store) {
    let place = tempfile::tempdir().unwrap();
    let store = Store::open_or_create(&place.path().join("record")).unwrap();
    (place, store)
}

pub(crate) fn animal(name: &str) -> Animal {
    Animal { name: name.to_owned(), ..Animal::default() }
}

pub(crate) fn slide(name: &str, day: &str) -> Slide {
    Slide { site: site(name), day: the(day), plucked: None, comparison_hairs: None, label: None }
}

/// An exam of one site.
pub(crate) fn exam(name: &str, day: &str, fluorescence: Answer, hair_loss: Option<Answer>) -> Exam {
    let seen = SiteSeen {
        site: site(name),
        fluorescence,
        colour: None,
        evenness: None,
        hair_loss,
        crust: None,
        crust_lifted: None,
    };
    Exam {
        day: the(day),
        lamp_nm: Some(365.0),
        lamp_kind: None,
        warm_up_min: None,
        bathed_before: None,
        treated_before: None,
        sites: vec![seen],
        remark: None,
    }
}

/// An evaluation of these bytes with shafts of these looks, zones and widths.
pub(crate) fn evaluation(bytes: &[u8], finding: &str, shafts: &[(&str, &str, f64)]) -> String {
    let sha256: String = Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect();
    let shafts: Vec<Value> = shafts
        .iter()
        .enumerate()
        .map(|(i, (look, zone, width))| {
            json!({"id": i + 1, "class": look, "glow": {"zone": zone}, "width": {"median_px": width},
                   "comparison": *look == "normal", "probability": {"infected": 0.5}})
        })
        .collect();
    json!({
        "schema": "pilumen/evaluation/1",
        "photo": {"file": "invented.jpg", "sha256": sha256, "um_per_px": null},
        "quality": {"usable": true},
        "shafts": shafts,
        "finding": {"code": finding, "sentence": "An invented finding."},
        "program": {"version": "0.1.0", "model_sha256": "ab", "settings": {"um_per_px": 0.5}},
    })
    .to_string()
}

/// A read photo on a new slide; returns the ids of slide, photo and reading.
pub(crate) fn read_slide(
    store: &mut Store,
    animal: &str,
    slide: &Slide,
    bytes: &[u8],
    finding: &str,
    shafts: &[(&str, &str, f64)],
) -> [String; 3] {
    let stamp = on(&slide.day.to_string());
    let slide = store.add_slide(animal, slide, &stamp).unwrap();
    let photo = store.add_photo(&slide.id, "invented.jpg", bytes, Light::Uv, &stamp).unwrap();
    let reading = store.add_reading(&photo.id, &evaluation(bytes, finding, shafts), &stamp).unwrap();
    [slide.id, photo.id, reading.id]
}

/// One row of facts as the database has it.
type RowOfFacts =
    (String, String, String, Option<String>, Option<String>, Option<String>, Option<String>, String, String, String);

/// Fills a record with copies of two invented animals, one in twenty with something due: facts with ids and digests of
/// their own, photos without files. Much faster than keeping them one by one, each of which waits for the disk.
pub(crate) fn fill(folder: &std::path::Path, n_animals: usize, photos_each: usize) {
    let mut store = Store::open_or_create(folder).unwrap();
    let stamp = on("2026-05-20");
    let templates: Vec<Vec<RowOfFacts>> = [false, true]
        .into_iter()
        .map(|active| {
            let name = if active { "template active" } else { "template quiet" };
            let id = store.add_animal(&Animal { group: Some("QH-NUMBER".into()), ..animal(name) }, &stamp).unwrap().id;
            let seen = if active { Answer::Yes } else { Answer::No };
            store.add_exam(&id, &exam("chin", "2026-05-01", seen, Some(seen)), &stamp).unwrap();
            let finding = if active { "looks-infected-few" } else { "ordinary-only" };
            for n in 0..photos_each {
                let bytes = format!("{name} {n}").into_bytes();
                let shafts = [("infected", "base", 30.0), ("normal", "none", 20.0), ("normal", "none", 21.0)];
                read_slide(&mut store, &id, &slide("chin", "2026-05-01"), &bytes, finding, &shafts);
            }
            rows(folder, &id)
        })
        .collect();
    drop(store);
    let mut connection = rusqlite::Connection::open(folder.join("record.db")).unwrap();
    let transaction = connection.transaction().unwrap();
    for n in 0..n_animals - 2 {
        copy(&transaction, &templates[usize::from(n % 20 == 0)], n);
    }
    transaction.commit().unwrap();
}

fn rows(folder: &std::path::Path, animal: &str) -> Vec<RowOfFacts> {
    let connection = rusqlite::Connection::open(folder.join("record.db")).unwrap();
    let sql = "SELECT id, kind, animal, parent, day, sha256, state, body, kept_by, kept_at FROM fact WHERE animal = ?1 ORDER BY seq";
    let mut statement = connection.prepare(sql).unwrap();
    let row = |row: &rusqlite::Row<'_>| {
        Ok((
            row.get(0)?,
            row.get(1)?,
            row.get(2)?,
            row.get(3)?,
            row.get(4)?,
            row.get(5)?,
            row.get(6)?,
            row.get(7)?,
            row.get(8)?,
            row.get(9)?,
        ))
    };
    statement.query_map([animal], row).unwrap().map(Result::unwrap).collect()
}

fn copy(to: &rusqlite::Connection, template: &[RowOfFacts], n: usize) {
    let ids: std::collections::HashMap<&String, String> =
        template.iter().map(|row| (&row.0, uuid::Uuid::new_v4().to_string())).collect();
    let hex = |text: &str| Sha256::digest(text.as_bytes()).iter().map(|byte| format!("{byte:02x}")).collect::<String>();
    for (id, kind, animal, parent, day, sha256, state, body, by, at) in template {
        let (id, animal, parent) = (&ids[id], &ids[animal], parent.as_ref().map(|parent| &ids[parent]));
        let new = sha256.as_ref().map(|sha256| hex(&format!("{sha256}{n}")));
        let mut body = body
            .replace("template", "invented")
            .replace(" active", &format!(" {n}"))
            .replace(" quiet", &format!(" {n}"));
        body = body.replace("QH-NUMBER", &format!("QH-{n:05}"));
        if let (Some(old), Some(new)) = (sha256, &new) {
            body = body.replace(old.as_str(), new);
        }
        let parts: [Option<&str>; 7] =
            [Some(id), Some(kind), Some(animal), parent.map(String::as_str), Some(&body), Some(by), Some(at)];
        let digest = hex(&serde_json::to_string(&parts).unwrap());
        let sql = "INSERT INTO fact (id, kind, animal, parent, day, sha256, state, body, kept_by, kept_at, digest)
                   VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)";
        to.prepare_cached(sql)
            .unwrap()
            .execute(rusqlite::params![id, kind, animal, parent, day, new, state, body, by, at, digest])
            .unwrap();
        let words = match kind.as_str() {
            "animal" => Some(format!("invented {n} qh-{n:05}").to_lowercase()),
            "photo" => Some("invented.jpg".to_owned()),
            "slide" => Some("chin".to_owned()),
            _ => None,
        };
        if let Some(words) = words {
            to.prepare_cached("INSERT INTO words (seq, text) VALUES (?1, ?2)")
                .unwrap()
                .execute(rusqlite::params![to.last_insert_rowid(), words])
                .unwrap();
        }
    }
}
