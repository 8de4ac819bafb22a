//! A class: several learners' results in one sheet, and how far they agree with each other.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::answer::{Call, Marked};
use super::results::Results;
use super::standing::{Agreement, Share, cohen, standing};
use crate::maths::raters::fleiss_kappa;

/// How far readers agree on the shafts that all of them answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Between {
    /// Who they are.
    pub readers: Vec<String>,
    /// All of them together: Cohen's kappa for two, Fleiss's for more; absent for fewer than two or without a shaft in
    /// common.
    pub all: Option<Agreement>,
    /// Every two of them, Cohen's kappa on what the two have in common.
    pub pairs: Vec<(String, String, Agreement)>,
}

/// A shaft of an item, with what it was called at first sight.
type Calls = BTreeMap<(String, usize), Call>;

/// How far readers agree, from what they said at first sight.
pub fn between_readers(readers: &[(String, &[Marked])]) -> Between {
    let calls: Vec<Calls> = readers.iter().map(|(_, history)| first_calls(history)).collect();
    let mut pairs = Vec::new();
    for i in 0..readers.len() {
        for j in i + 1..readers.len() {
            if let Some(agreement) = agreement(&[&calls[i], &calls[j]]) {
                pairs.push((readers[i].0.clone(), readers[j].0.clone(), agreement));
            }
        }
    }
    let all: Vec<&Calls> = calls.iter().collect();
    Between { readers: readers.iter().map(|(name, _)| name.clone()).collect(), all: agreement(&all), pairs }
}

fn first_calls(history: &[Marked]) -> Calls {
    let mut calls = Calls::new();
    for marked in history.iter().filter(|marked| !marked.back) {
        for shaft in &marked.shafts {
            calls.entry((marked.item.clone(), shaft.answer.shaft)).or_insert(shaft.answer.look);
        }
    }
    calls
}

/// Agreement on the shafts that all have; by photos, since shafts of one photo are seen together.
fn agreement(readers: &[&Calls]) -> Option<Agreement> {
    let (first, others) = readers.split_first()?;
    if others.is_empty() {
        return None;
    }
    let common: Vec<(&str, Vec<Call>)> = first
        .iter()
        .filter_map(|(key, call)| {
            let rest: Option<Vec<Call>> = others.iter().map(|other| other.get(key).copied()).collect();
            Some((key.0.as_str(), [vec![*call], rest?].concat()))
        })
        .collect();
    let photos: BTreeSet<&str> = common.iter().map(|(photo, _)| *photo).collect();
    let photos: Vec<&str> = photos.into_iter().collect();
    if common.is_empty() {
        return None;
    }
    let photos = &photos;
    let kept = |out: Option<usize>| common.iter().filter(move |(photo, _)| out.is_none_or(|out| photos[out] != *photo));
    Some(match readers.len() {
        2 => Agreement::of("cohen", common.len(), photos.len(), |out| {
            cohen(kept(out).map(|(_, calls)| (calls[0] as usize, calls[1] as usize)))
        }),
        _ => Agreement::of("fleiss", common.len(), photos.len(), |out| {
            let counts: Vec<Vec<f64>> = kept(out)
                .map(|(_, calls)| {
                    let mut row = vec![0.0; Call::ALL.len()];
                    calls.iter().for_each(|call| row[*call as usize] += 1.0);
                    row
                })
                .collect();
            fleiss_kappa(&counts)
        }),
    })
}

/// One sheet of a class: a row a learner, then a row for all together; CSV with a head.
pub fn gathered_csv(class: &[Results]) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let mut head: Vec<String> = ["learner", "photos", "shafts"].map(str::to_owned).to_vec();
    let shares = ["look", "infected", "normal", "coated", "fibre", "infected_or_not", "place", "root_end"];
    for name in shares {
        head.extend([format!("{name}_right"), format!("{name}_n"), format!("{name}_low"), format!("{name}_high")]);
    }
    head.extend(["kappa_with_truth", "kappa_low", "kappa_high", "kind"].map(str::to_owned));
    // Writing to memory cannot fail.
    let _ = writer.write_record(&head);
    for results in class {
        let s = standing(&results.marked);
        let mut row = vec![inert(&results.learner), s.photos.to_string(), s.look.n.to_string()];
        let [infected, normal, coated, fibre] = s.by_look;
        for share in [s.look, infected, normal, coated, fibre, s.infected_or_not, s.place, s.base] {
            row.extend(cells(&share));
        }
        row.extend(kappa_cells(Some(&s.kappa)));
        let _ = writer.write_record(&row);
    }
    let readers: Vec<(String, &[Marked])> =
        class.iter().map(|results| (results.learner.clone(), results.marked.as_slice())).collect();
    let between = between_readers(&readers);
    let all = between.all.as_ref();
    let number = |n: Option<usize>| n.map(|n| n.to_string()).unwrap_or_default();
    let mut row = vec!["(between readers)".to_owned(), number(all.map(|a| a.photos)), number(all.map(|a| a.shafts))];
    row.extend(std::iter::repeat_n(String::new(), 4 * shares.len()));
    row.extend(kappa_cells(all));
    let _ = writer.write_record(&row);
    writer.into_inner().unwrap_or_default()
}

/// A name that a spreadsheet does not take for a formula.
fn inert(name: &str) -> String {
    if name.starts_with(['=', '+', '-', '@', '\t']) { format!("'{name}") } else { name.to_owned() }
}

fn cells(share: &Share) -> [String; 4] {
    [share.right.to_string(), share.n.to_string(), shown(share.low), shown(share.high)]
}

fn kappa_cells(agreement: Option<&Agreement>) -> [String; 4] {
    let of = |value: fn(&Agreement) -> Option<f64>| shown(agreement.and_then(value));
    [of(|a| a.kappa), of(|a| a.low), of(|a| a.high), agreement.map_or(String::new(), |a| a.kind.to_owned())]
}

fn shown(value: Option<f64>) -> String {
    value.map(|value| format!("{value:.4}")).unwrap_or_default()
}
