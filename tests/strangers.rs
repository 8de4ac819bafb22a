//! Things that no model was grown on: how many of them are kept from being judged as hair?
//!
//! The table in docs/accuracy.md is held against what the program makes of the pictures now; `RENEW_GOLDEN=1` rewrites it,
//! `SHOW_STRANGERS=some/folder` keeps the drawn ones to be looked at. Nothing is chosen by these figures.

use std::fmt::Write;
use std::fs;
use std::path::Path;

use pilumen::features;
use pilumen::finding::{Look, Model, from_features, model_from_bytes, without_debris};
use pilumen::maths::resampling;
use pilumen::pipeline::measure;
use pilumen::settings::Settings;
use rand::SeedableRng;
use rand::rngs::StdRng;
use rayon::prelude::*;

use crate::docs::text;

mod drawn;

use drawn::Sheet;

/// Drawn pictures of each kind.
const N_PICTURES: u64 = 8;

/// First seed of a picture.
const FIRST_SEED: u64 = 770_001;

/// Pictures below which resampling them tells nothing.
const FEWEST_FOR_INTERVAL: usize = 6;

/// Between these the table stands in docs/accuracy.md.
const MARKS: [&str; 2] = ["<!-- strangers -->", "<!-- end of strangers -->"];

/// A kind of drawn picture.
type Kind = (&'static str, fn(&mut Sheet, &mut StdRng));

const KINDS: [Kind; 6] = [
    ("drawn: branching threads", drawn::network),
    ("drawn: writing by hand", drawn::writing),
    ("drawn: printed words", drawn::print),
    ("drawn: star-shaped hairs of leaves", drawn::stars),
    ("drawn: fuzzy yarn", drawn::yarn),
    ("drawn: a tree of vessels", drawn::vessels),
];

/// Real pictures that show no hair; fixtures/micrographs/README.md says where they are from.
const REAL: [(&str, &str); 6] = [
    ("real: cords of bacteria", "filaments/xy_16bit__bacteria_cords_thin.tif"),
    ("real: microtubules", "filaments/xy_16bit__microtubules.tif"),
    ("real: a branching cell", "filaments/xy_8bit__glialcell.tif"),
    ("real: particles", "particles/fl_001.png"),
    ("real: particles", "particles/fl_012.png"),
    ("real: a retina's vessels", "retina/retina.jpg"),
];

/// What became of the traces of a picture.
#[derive(Clone, Copy, Default)]
struct Fate {
    traces: usize,
    /// Short and unlike any shaft, therefore taken for debris.
    rejected: usize,
    not_hair: usize,
    unsaid: usize,
    infected: usize,
    ordinary: usize,
    coated: usize,
}

impl Fate {
    fn kept_from_judging(self) -> usize {
        self.rejected + self.not_hair + self.unsaid
    }

    fn and(self, other: Fate) -> Fate {
        Fate {
            traces: self.traces + other.traces,
            rejected: self.rejected + other.rejected,
            not_hair: self.not_hair + other.not_hair,
            unsaid: self.unsaid + other.unsaid,
            infected: self.infected + other.infected,
            ordinary: self.ordinary + other.ordinary,
            coated: self.coated + other.coated,
        }
    }
}

/// Every trace of a picture, to its end.
fn fate(bytes: &[u8], model: &Model) -> Fate {
    let settings = Settings::default();
    let image = pilumen::image::from_bytes(bytes, &pilumen::image::Settings::default()).unwrap();
    let measured = measure(image, &settings);
    let traces = measured.rows.len();
    let features = without_debris(measured, &features::Settings::default(), model);
    let finding = from_features(features, model);
    let count = |look: Option<Look>| finding.verdicts.iter().filter(|verdict| verdict.look == look).count();
    Fate {
        traces,
        rejected: traces - finding.verdicts.len(),
        not_hair: count(Some(Look::Fibre)),
        unsaid: count(None),
        infected: count(Some(Look::Infected)),
        ordinary: count(Some(Look::Normal)),
        coated: count(Some(Look::Coated)),
    }
}

/// One drawn picture, PNG.
fn picture(kind: usize, n: u64) -> Vec<u8> {
    let mut rng = StdRng::seed_from_u64(FIRST_SEED + 1000 * kind as u64 + n);
    let mut sheet = Sheet::new();
    KINDS[kind].1(&mut sheet, &mut rng);
    sheet.photo(&mut rng)
}

fn row(name: &str, fates: &[Fate]) -> String {
    let all = fates.iter().fold(Fate::default(), |all, one| all.and(*one));
    let group: Vec<usize> = (0..fates.len()).collect();
    let share = |weight: &[f64]| {
        let sum = |of: fn(Fate) -> usize| fates.iter().zip(weight).map(|(f, w)| of(*f) as f64 * w).sum::<f64>();
        let traces = sum(|f| f.traces);
        (traces > 0.0).then(|| sum(Fate::kept_from_judging) / traces)
    };
    let interval = resampling::interval(&group, fates.len(), FIRST_SEED, 1000, share);
    let percent = |value: f64| format!("{:.1} %", 100.0 * value);
    let kept = share(&vec![1.0; fates.len()]).map_or("–".to_owned(), percent);
    let interval = interval
        .filter(|_| fates.len() >= FEWEST_FOR_INTERVAL)
        .map_or("–".to_owned(), |i| format!("{} to {}", percent(i.low), percent(i.high)));
    let Fate { traces, rejected, not_hair, unsaid, infected, ordinary, coated } = all;
    format!(
        "| {name} | {} | {traces} | {rejected} | {not_hair} | {unsaid} | {infected} | {ordinary} | {coated} | {kept} | \
         {interval} |\n",
        fates.len()
    )
}

#[test]
fn strangers_are_kept_from_being_judged_as_the_documents_say() {
    let model = model_from_bytes(include_bytes!("../models/shaft-v1.json")).unwrap();
    let wanted: Vec<(usize, u64)> = (0..KINDS.len()).flat_map(|kind| (0..N_PICTURES).map(move |n| (kind, n))).collect();
    let of_drawn: Vec<Fate> = wanted
        .par_iter()
        .map(|&(kind, n)| {
            let bytes = picture(kind, n);
            if let Some(folder) = std::env::var_os("SHOW_STRANGERS") {
                fs::write(Path::new(&folder).join(format!("{kind}-{n}.png")), &bytes).unwrap();
            }
            fate(&bytes, &model)
        })
        .collect();
    let of_real: Vec<(&str, Fate)> = REAL
        .iter()
        .map(|(name, file)| (*name, fate(&fs::read(format!("fixtures/micrographs/{file}")).unwrap(), &model)))
        .collect();
    let mut table = String::from(
        "| thing | pictures | traces | rejected | not hair | cannot say | infected | ordinary | coated | not judged as \
         hair | 95 % interval |\n|---|---|---|---|---|---|---|---|---|---|---|\n",
    );
    for (kind, (name, _)) in KINDS.iter().enumerate() {
        let fates: Vec<Fate> = wanted.iter().zip(&of_drawn).filter(|((k, _), _)| *k == kind).map(|(_, f)| *f).collect();
        let _ = write!(table, "{}", row(name, &fates));
    }
    for of_name in of_real.chunk_by(|a, b| a.0 == b.0) {
        let fates: Vec<Fate> = of_name.iter().map(|(_, fate)| *fate).collect();
        let _ = write!(table, "{}", row(of_name[0].0, &fates));
    }
    let all: Vec<Fate> = of_drawn.iter().copied().chain(of_real.iter().map(|(_, fate)| *fate)).collect();
    let _ = write!(table, "{}", row("all", &all));
    let accuracy = text("docs/accuracy.md");
    let (before, rest) = accuracy.split_once(MARKS[0]).expect("docs/accuracy.md has a place for the table");
    let (told, after) = rest.split_once(MARKS[1]).expect("docs/accuracy.md has a place for the table");
    if std::env::var_os("RENEW_GOLDEN").is_some() {
        fs::write("docs/accuracy.md", format!("{before}{}\n{table}{}{after}", MARKS[0], MARKS[1])).unwrap();
        return;
    }
    assert_eq!(told.trim(), table.trim(), "what is kept from being judged changed; look at it, then RENEW_GOLDEN=1");
}
