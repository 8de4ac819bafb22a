//! Proving a record: every photo's digest, every fact's digest and references, the database's own integrity.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::path::Path;

use serde::Serialize;
use serde_json::Value;

use super::add::{derived, fitting, words_of};
use super::ask::inflated;
use super::database::{Database, Mode, NEWEST, Row};
use super::error::StoreError;
use super::facts::{Day, Kind};
use super::kept::short;
use super::photos::{Photos, digest};
use super::place;

/// What a check found.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct CheckReport {
    /// What is damaged; empty when the record is whole.
    pub damaged: Vec<Fault>,
    /// How many facts of each kind are whole, by the kind's name.
    pub whole: BTreeMap<String, u64>,
    /// How many photos' files are whole.
    pub whole_photos: u64,
    /// What is no damage but worth knowing, a sentence each.
    pub remarks: Vec<String>,
}

/// One thing that is damaged.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Fault {
    /// `database`, `photo`, or the kind of the fact.
    pub what: String,
    /// Id or digest; empty for the database as a whole.
    pub id: String,
    /// What is wrong.
    pub fault: String,
}

impl CheckReport {
    /// Whether nothing is damaged.
    pub fn is_whole(&self) -> bool {
        self.damaged.is_empty()
    }

    fn fault(&mut self, what: &str, id: &str, fault: String) {
        self.damaged.push(Fault { what: what.to_owned(), id: id.to_owned(), fault });
    }
}

/// Checks the record in a folder without changing it. A database that cannot be opened is a fault that is reported,
/// and the photos are then looked at by themselves.
///
/// # Errors
/// When there is no record, it is of a newer version, or it cannot be read at all.
pub fn check(folder: &Path) -> Result<CheckReport, StoreError> {
    let path = folder.join(place::DATABASE);
    let photos = Photos::new(place::photos_folder(folder));
    if !path.is_file() {
        return Err(StoreError::NoRecord(folder.to_owned()));
    }
    let mut report = CheckReport::default();
    let database = match Database::open(&path, Mode::Read) {
        Ok(database) => Some(database),
        // Nothing was ever kept there, unless there are photos.
        Err(StoreError::NoRecord(_)) if !photos.look().whole.is_empty() => {
            report.fault("database", "", format!("{} is empty; go back to the newest backup", path.display()));
            None
        }
        Err(error @ (StoreError::Damaged { .. } | StoreError::Foreign(_) | StoreError::Database { .. })) => {
            report.fault("database", "", error.to_string());
            None
        }
        Err(error) => return Err(error),
    };
    let mut named: HashMap<String, String> = HashMap::new();
    if let Some(database) = &database {
        for fault in database.faults() {
            report.fault("database", "", fault);
        }
        facts(database, &mut report, &mut named);
    }
    // Photos after facts: what was added in between is then there with its bytes.
    let look = photos.look();
    let whole: HashSet<&String> = look.whole.iter().collect();
    for damaged in &look.damaged {
        let whose = named.get(damaged).map(|id| format!(" of photo {}", short(id))).unwrap_or_default();
        report.fault("photo", damaged, format!("the file{whose} has other bytes than when it was kept"));
    }
    for (sha256, id) in &named {
        if !whole.contains(sha256) && !look.damaged.contains(sha256) {
            report.fault("photo", sha256, format!("the file of photo {} is missing", short(id)));
        }
    }
    report.whole_photos = look.whole.len() as u64;
    if database.is_some() {
        let n = look.whole.iter().filter(|sha256| !named.contains_key(*sha256)).count();
        if n > 0 {
            report.remarks.push(format!(
                "{n} whole photo files belong to no fact: an import was ended before it was done; repeat it"
            ));
        }
    }
    if look.unfinished > 0 {
        let n = look.unfinished;
        report.remarks.push(format!("{n} unfinished files are left of an import; the next one removes them"));
    }
    for name in look.strange {
        report.remarks.push(format!("\"{}\" in the folder of photos is no photo", name.replace(char::is_control, "?")));
    }
    report.damaged.sort();
    report.damaged.dedup();
    Ok(report)
}

/// Checks every fact; fills `named` with the digests of photos and the ids of their facts.
fn facts(database: &Database, report: &mut CheckReport, named: &mut HashMap<String, String>) {
    let mut kinds: HashMap<String, (Kind, String)> = HashMap::new();
    let mut readings: Vec<(String, String)> = Vec::new();
    // A check does not upgrade: an older record has neither words nor rules.
    let is_newest = database.version().is_ok_and(|version| version == NEWEST);
    let mut words = if is_newest { database.words().unwrap_or_default() } else { HashMap::new() };
    if is_newest {
        match database.damaged_rules() {
            Ok(names) => names.iter().for_each(|name| report.fault("rule", name, "the rule was changed".to_owned())),
            Err(error) => report.fault("database", "", error.to_string()),
        }
    }
    database.every(|row| {
        let row = match row {
            Ok(row) => row,
            Err(said) => return report.fault("database", "", format!("a fact cannot be read: {said}")),
        };
        let found_by = words.remove(&row.seq);
        match fault_of(&row, &kinds) {
            Some(fault) => report.fault(row.kind.word(), &row.id, fault),
            None => {
                *report.whole.entry(row.kind.word().to_owned()).or_default() += 1;
                if is_newest && found_by != words_of(&row).map(|words| words.to_lowercase()) {
                    report.fault("words", &row.id, "searches may miss it: what it is found by is damaged".to_owned());
                }
            }
        }
        kinds.insert(row.id.clone(), (row.kind, row.animal.clone()));
        if let Some(sha256) = &row.sha256 {
            named.insert(sha256.clone(), row.id.clone());
        }
        if row.kind == Kind::Reading {
            let body: Value = serde_json::from_str(&row.body).unwrap_or_default();
            readings.push((row.id, body["evaluation_sha256"].as_str().unwrap_or_default().to_owned()));
        }
    });
    for (id, sha256) in readings {
        let whole = match database.evaluation(&id) {
            // That it is missing is among the faults of the database already.
            Ok(None) => continue,
            Ok(Some(deflated)) => inflated(&deflated).is_some_and(|text| digest(text.as_bytes()) == sha256),
            Err(_) => false,
        };
        if !whole {
            if let Some(n) = report.whole.get_mut(Kind::Reading.word()) {
                *n = n.saturating_sub(1);
            }
            report.fault(Kind::Reading.word(), &id, "its evaluation is damaged; read the photo again".to_owned());
        }
    }
}

/// What is wrong with a fact, given those before it.
fn fault_of(row: &Row, known: &HashMap<String, (Kind, String)>) -> Option<String> {
    if row.digest_of() != row.digest {
        return Some("it has another digest than when it was kept".to_owned());
    }
    let body: Value = match serde_json::from_str(&row.body) {
        Ok(body) => body,
        Err(error) => return Some(format!("its body is no JSON: {error}")),
    };
    // Days were held against the calendar when it was kept.
    let derived = match derived(row.kind, body, Day::MAX) {
        Ok(derived) => derived,
        Err(said) => return Some(said),
    };
    if (&derived.day, &derived.sha256, &derived.state) != (&row.day, &row.sha256, &row.state) {
        return Some("its day, digest or state in the list is not that of its body".to_owned());
    }
    let parent = row.parent.as_ref().map(|parent| known.get(parent));
    match parent {
        Some(None) => Some("it belongs to something that is not there".to_owned()),
        Some(Some((_, animal))) if *animal != row.animal => Some("it belongs to another animal's case".to_owned()),
        Some(Some((kind, _))) => fitting(row.kind, Some(*kind)).err(),
        None if row.animal != row.id => Some("it belongs to nothing".to_owned()),
        None => fitting(row.kind, None).err(),
    }
}
