//! The card that goes with a model file: what it was grown on, what it is worth, what it must not be used for.

use std::fmt::Write;

use super::appraisal::{Appraisal, Estimate, UNSAID};
use super::check::{self, Checked};

use crate::finding::Look;
use crate::finding::model::{ModelFile, card_digest_line};

/// What only the one who grew the model knows.
#[derive(Clone, Debug, PartialEq)]
pub struct Circumstances {
    /// How to grow it again: a command.
    pub grown_by: String,
    /// What the growing scenes were: seeds and ranges.
    pub grown_on: String,
    /// What the appraised scenes were: seeds and ranges, and how they differ from those.
    pub appraised_on: String,
    /// A small sample judged by this model.
    pub checked_on: Vec<Checked>,
}

/// The card as Markdown, ending in a line end.
///
/// Items follow TRIPOD+AI (BMJ 2024;385:e078378) and CLAIM as far as they apply to simulated photos.
pub fn card(model_bytes: &[u8], file: &ModelFile, appraisal: &Appraisal, about: &Circumstances) -> String {
    let mut text = String::from("# The model, and what it is worth\n\n");
    let mut line = |part: std::fmt::Arguments| {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "{part}");
    };
    line(format_args!("{}\n", in_plain_words(appraisal)));
    line(format_args!("{}", card_digest_line(model_bytes)));
    line(format_args!("\n## What it is for\n"));
    line(format_args!(
        "It says what a hair shaft on a photo of tape under a UV lamp looks like: infected, ordinary, coated, or not \
         hair; or that it cannot say. It supports the choice of hairs for a fungal culture and replaces none. It must \
         not be used to end or to spare a culture, a treatment or an isolation."
    ));
    line(format_args!("\n## What it was grown on\n"));
    line(format_args!("{}\n", about.grown_on));
    let shafts: Vec<String> =
        Look::ALL.iter().map(|look| format!("{} {}", file.shafts[*look as usize], look.code())).collect();
    line(format_args!(
        "- {} scenes with {} shafts: {}",
        file.scenes,
        file.shafts.iter().sum::<usize>(),
        shafts.join(", ")
    ));
    line(format_args!("- seed {}, {} features that the trees use", file.seed, file.features.len()));
    line(format_args!("- SHA-256 of the table of labelled features: `{}`", file.table_sha256));
    line(format_args!("- grown again by: `{}`", about.grown_by));
    line(format_args!("\n## What it is worth\n"));
    line(format_args!(
        "{} {} scenes with {} shafts; the unit is the scene.\n\nThere is no published accuracy \
         for this use, and none was measured here on culture-confirmed cases.\n",
        about.appraised_on, appraisal.scenes, appraisal.shafts
    ));
    line(format_args!("| what | value | interval |\n|---|---|---|"));
    for (name, estimate) in figures(appraisal) {
        line(format_args!("| {name} | {} |", cells(estimate)));
    }
    line(format_args!("\n### Look by look\n\n{}", by_look(appraisal).join("\n")));
    line(format_args!(
        "\n### Called so\n\n| is | infected | normal | coated | fibre | cannot say |\n|---|---|---|---|---|---|"
    ));
    for look in Look::ALL {
        let counts = appraisal.calls[look as usize].map(|n| n.to_string()).join(" | ");
        line(format_args!("| {} | {counts} |", look.code()));
    }
    line(format_args!(
        "\n### Kind by kind\n\n| is | kind | scenes | shafts | called infected | interval | cannot say | interval |\n\
         |---|---|---|---|---|---|---|---|"
    ));
    for kind in &appraisal.kinds {
        line(format_args!(
            "| {} | {} | {} | {} | {} | {} |",
            kind.truth.code(),
            kind.kind,
            kind.scenes,
            kind.calls.iter().sum::<usize>(),
            cells(kind.called_infected),
            cells(kind.unsaid)
        ));
    }
    line(format_args!("\n### Where it fails\n"));
    for failure in failures(appraisal) {
        line(format_args!("- {failure}"));
    }
    line(format_args!("- pictures of what still goes wrong: docs/accuracy.md, “What still goes wrong, in pictures”"));
    line(format_args!("\n### The same again, quickly\n\n{}", check::table(&about.checked_on).trim_end()));
    line(format_args!("\n## What the figures mean\n"));
    for (figure, meaning) in MEANINGS {
        line(format_args!("- *{figure}*: {meaning}"));
    }
    text
}

/// The figures' names, for those who do not know them.
const MEANINGS: [(&str, &str); 7] = [
    ("interval", "were as many photos drawn again, such intervals would hold the true figure 95 times of 100."),
    ("macro-F1", "how well the four looks are told, each counting the same: 1 is perfect, 0 is nothing right."),
    (
        "AUROC",
        "take one infected shaft and one that is not: how often the infected one is given the higher chance. One half \
         is guessing.",
    ),
    (
        "calibration error",
        "how far the stated chances are from what happens: with 0.04, what is said with 80 % is right in about 76 to \
         84 of 100.",
    ),
    ("log loss, Brier score", "penalties for chances given to what is not so: 0 is perfect."),
    (
        "coverage of the plausible looks",
        "how often what a shaft is was among the looks that were left open; 0.90 is wanted.",
    ),
    ("scene", "one simulated photo."),
];

/// What the appraisal comes to, for somebody who reads nothing else.
fn in_plain_words(appraisal: &Appraisal) -> String {
    let right: usize = Look::ALL.iter().map(|&look| appraisal.calls[look as usize][look as usize]).sum();
    let open: usize = appraisal.calls.iter().map(|calls| calls[UNSAID]).sum();
    let infected = &appraisal.calls[Look::Infected as usize];
    let (n_infected, called): (usize, usize) = (infected.iter().sum(), infected[Look::Infected as usize]);
    let healthy = appraisal.healthy_with_infected_shaft.value.unwrap_or(0.0) * appraisal.healthy_scenes as f64;
    format!(
        "The program learnt from drawn pictures of hairs, not from photos of real cats, so **nobody knows yet how good \
         it is on real cats**. On {} new drawn photos with {} hairs and fibres it gave no opinion on {open} of them. Of \
         the {} on which it did, it was right on {right}. Of {n_infected} infected hairs it called {called} infected, \
         called {} something else and left {} open. Of {} photos without an infected hair, {healthy:.0} had a hair \
         that it called infected. It helps to choose hairs for a fungal culture and replaces none: a hair that it calls \
         ordinary may be infected, and one that it calls infected may not be.",
        appraisal.scenes,
        appraisal.shafts,
        appraisal.shafts - open,
        n_infected - called - infected[UNSAID],
        infected[UNSAID],
        appraisal.healthy_scenes,
    )
}

/// The figures of an appraisal with their names, in the order of the card.
pub fn figures(appraisal: &Appraisal) -> Vec<(String, Estimate)> {
    let mut figures = vec![
        ("macro-F1, cannot say counting as missed".to_string(), appraisal.macro_f1),
        ("macro-F1 of shafts judged".to_string(), appraisal.macro_f1_of_judged),
        ("share of shafts judged".to_string(), appraisal.judged),
        ("AUROC, infected against the rest".to_string(), appraisal.auroc_infected),
        ("expected calibration error, most probable look, 10 bins".to_string(), appraisal.calibration_error),
        ("expected calibration error, infected, 10 bins".to_string(), appraisal.calibration_error_infected),
        ("log loss, nats".to_string(), appraisal.log_loss),
        ("Brier score, infected".to_string(), appraisal.brier_infected),
    ];
    for look in Look::ALL {
        figures.push((format!("coverage of the plausible looks, {}", look.code()), appraisal.coverage[look as usize]));
    }
    let n = appraisal.healthy_scenes;
    figures.push(("plausible looks a shaft".to_string(), appraisal.set_size));
    figures
        .push((format!("of {n} healthy scenes, with a shaft called infected"), appraisal.healthy_with_infected_shaft));
    figures
        .push((format!("of {n} healthy scenes, with a finding of infected looks"), appraisal.healthy_found_infected));
    figures
}

/// Coverage and calibration look by look: the lines of a table, Markdown.
pub fn by_look(appraisal: &Appraisal) -> Vec<String> {
    let mut lines = vec![
        "| look | shafts of it | true look among the plausible ones | interval | calibration error, 10 bins | interval | \
         Brier score | interval |"
            .to_owned(),
        "|---|---|---|---|---|---|---|---|".to_owned(),
    ];
    lines.extend(Look::ALL.iter().zip(&appraisal.looks).map(|(look, score)| {
        let (shafts, coverage) = (score.shafts, cells(score.coverage));
        format!(
            "| {} | {shafts} | {coverage} | {} | {} |",
            look.code(),
            cells(score.calibration_error),
            cells(score.brier)
        )
    }));
    lines
}

/// The five kinds most often called something they are not, and how often.
fn failures(appraisal: &Appraisal) -> Vec<String> {
    let wrong = |kind: &super::appraisal::KindScore| -> (usize, usize) {
        let all: usize = kind.calls.iter().sum();
        (all - kind.calls[kind.truth as usize] - kind.calls[UNSAID], all)
    };
    let mut kinds: Vec<_> = appraisal.kinds.iter().filter(|kind| wrong(kind).0 > 0).collect();
    kinds.sort_by(|a, b| {
        let share = |kind| wrong(kind).0 as f64 / wrong(kind).1.max(1) as f64;
        share(b).total_cmp(&share(a))
    });
    if kinds.is_empty() {
        return vec!["No shaft was called something it is not on these scenes.".into()];
    }
    let sentence = |kind: &&super::appraisal::KindScore| {
        let (wrong, all) = wrong(kind);
        format!("{} of {all} shafts of kind {} ({}) were called something else", wrong, kind.kind, kind.truth.code())
    };
    kinds.iter().take(5).map(sentence).collect()
}

fn cells(estimate: Estimate) -> String {
    let value = estimate.value.map_or("–".to_string(), |value| format!("{value:.4}"));
    let interval = estimate.interval.map_or("–".to_string(), |i| format!("{:.4} to {:.4}", i.low, i.high));
    format!("{value} | {interval}")
}
