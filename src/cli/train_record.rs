//! `pilumen train --with-record`: a model grown with the record's own confirmed cases, compared with the one in use,
//! and kept until somebody accepts it.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use super::folder::Folder;
use super::model::{Judging, judging, model_bytes};
use super::terminal::{Output, complain, small};
use super::train::{Arguments, csv_of, drawn, table_in};
use super::{PARTLY, UNUSABLE};
use crate::confirmed::{Confirmed, ConfirmedError, confirmed};
use crate::finding::model::ModelFile;
use crate::finding::model_from_bytes;
use crate::maths::proportion::{Z_95, wilson};
use crate::store::{About, OwnModel, OwnModels, Stamp, Store, StoreError, digest, record_folder, short};
use crate::training::comparison::{Change, Compared, compared, judged_by, left_out, wrongly_infected};
use crate::training::{Judged, LabelledRow, grow};

/// First seed of the simulated photos on which models are compared. What a card reports is drawn from other seeds, for
/// somebody decides by these.
const CHECK_SEED: u64 = 910_001;

/// What they are drawn from: cameras, hues and scales that no model is grown on.
const CHECK_PRESET: &str = "appraisal";

/// Where a record's cases come in.
#[derive(clap::Args)]
pub(super) struct RecordArguments {
    /// Grow with the confirmed cases of the record in DIR too [without DIR: what PILUMEN_RECORD names, else a folder
    /// of your own]; the model is kept there, compared with the one in use, and used once it is accepted
    #[arg(long, value_name = "DIR", num_args = 0..=1, help_heading = "With your own cases")]
    pub(super) with_record: Option<Option<PathBuf>>,

    /// Accept the model that was grown and compared last: from now on it judges
    #[arg(long, requires = "with_record", help_heading = "With your own cases")]
    accept: bool,

    /// Accept it although the comparison found it worse than the one in use
    #[arg(long, requires = "accept", help_heading = "With your own cases")]
    even_if_worse: bool,

    /// Go back to the program's own model; those grown with your cases stay kept
    #[arg(long, requires = "with_record", conflicts_with = "accept", help_heading = "With your own cases")]
    back: bool,

    /// Leave out slides whose cultures contradict each other, instead of stopping
    #[arg(long, requires = "with_record", help_heading = "With your own cases")]
    leave_out_contradictory: bool,

    /// Simulated photos on which the new model is compared with the one in use
    #[arg(long, value_name = "N", default_value_t = 100, requires = "with_record", value_parser = clap::value_parser!(u64).range(1..=10_000), help_heading = "With your own cases")]
    check_scenes: u64,
}

type Failed = (u8, String);

/// Grows, compares and keeps; or accepts, or goes back.
pub(super) fn train(arguments: &Arguments, place: Option<&Path>) -> Result<(), Failed> {
    let asked = &arguments.record;
    let folder = record_folder(place).map_err(failed)?;
    let models = OwnModels::of(&folder);
    let store = Store::open(&folder).map_err(failed)?;
    if asked.back {
        models.back_to_the_programs().map_err(failed)?;
        say("The program's own model judges again; those grown with your cases are kept in the record.\n");
        return Ok(());
    }
    if asked.accept {
        return accept(&models, &folder, asked.even_if_worse);
    }
    let Judging { model: before, own } = judging(None, Some(&folder)).map_err(|sentence| (UNUSABLE, sentence))?;
    let before_bytes = own.map_or_else(|| model_bytes(None), |own| Ok(own.bytes)).map_err(|e| (PARTLY, e))?;
    let told = |done: usize, all: usize| complain(&format!("{done} of {all} animals of the record looked through"));
    let confirmed = confirmed(&store, &before, asked.leave_out_contradictory, told)
        .and_then(Confirmed::enough)
        .map_err(|error| match error {
            ConfirmedError::Store(error) => failed(error),
            error => (PARTLY, format!("{error}; the model in use stays")),
        })?;
    let simulated = simulated(arguments, &models)?;
    let rows: Vec<LabelledRow> = simulated.iter().chain(&confirmed.rows).cloned().collect();
    complain(&format!("growing on {} simulated and {} confirmed shafts", simulated.len(), confirmed.rows.len()));
    let settings = arguments.grow_settings();
    let stays = |error: String| (PARTLY, format!("{error}; the model in use stays"));
    let file = grow(&rows, arguments.seed, &settings).map_err(|error| stays(error.to_string()))?;
    let bytes = file.to_bytes().map_err(|error| stays(error.to_string()))?;
    let sha256 = digest(&bytes);
    if sha256 == before.sha256() {
        say("The record's cases give the very model that is in use; it stays.\n");
        return Ok(());
    }
    // Grown and compared with the same one before: a model has one digest.
    let known = models.of_digest(&sha256).map_err(failed)?;
    let anew = match known.filter(|known| known.about.compared_with == before.sha256()) {
        Some(known) => known,
        None => {
            let compared = comparison(arguments, &confirmed, &simulated, &file, [&before_bytes, &bytes]);
            let (text, worse_on) = compared.map_err(stays)?;
            let about = About {
                grown_at: Stamp::now("").at.to_string(),
                version: env!("CARGO_PKG_VERSION").to_owned(),
                compared_with: before.sha256().to_owned(),
                animals: confirmed.animals.clone(),
                n_shafts: confirmed.rows.len(),
                comparison: text,
                worse_on,
            };
            OwnModel { sha256, bytes, about }
        }
    };
    models.propose(&anew).map_err(failed)?;
    say(&format!(
        "{}\nThe model in use ({}) stays. Accept the new one with `pilumen train --with-record {} --accept`; it is kept \
         in {}.\n",
        anew.about.comparison,
        short(before.sha256()),
        folder.display(),
        models.folder().display()
    ));
    Ok(())
}

/// From now on the proposed model judges, if this program can use it, it was compared with the one that judges now, and
/// it is not worse.
fn accept(models: &OwnModels, folder: &Path, even_if_worse: bool) -> Result<(), Failed> {
    let stays = |sentence: String| Err((PARTLY, format!("{sentence}; the model in use stays")));
    let Some(proposed) = models.proposed().map_err(failed)? else {
        return stays(
            "no model waits to be accepted: grow one first, with the same command without --accept".to_owned(),
        );
    };
    let OwnModel { sha256, bytes, about } = &proposed;
    if let Err(error) = model_from_bytes(bytes) {
        return stays(format!("the new model {}: {}", short(sha256), small(&error.to_string())));
    }
    let in_use = judging(None, Some(folder)).map_err(|sentence| (UNUSABLE, sentence))?.model;
    if about.compared_with != in_use.sha256() {
        return stays(format!(
            "the new model {} was compared with {}, and {} judges now: grow it anew, with the same command without \
             --accept",
            short(sha256),
            short(&about.compared_with),
            short(in_use.sha256())
        ));
    }
    if !about.worse_on.is_empty() && !even_if_worse {
        return stays(format!(
            "the new model {} is worse than the one in use, beyond chance, on {}: say --even-if-worse to use it all \
             the same",
            short(sha256),
            about.worse_on.join(" and on ")
        ));
    }
    models.accept().map_err(failed)?;
    say(&format!(
        "Accepted: from now on `pilumen read` and the desk judge by this model, digest {sha256}, and say so.\n"
    ));
    Ok(())
}

fn failed(error: StoreError) -> Failed {
    let code = match error {
        StoreError::NoRecord(_) | StoreError::NoPlace | StoreError::Unusable(_) => UNUSABLE,
        _ => PARTLY,
    };
    (code, error.to_string())
}

fn say(text: &str) {
    Output::new().write(text.as_bytes());
}

/// The simulated shafts: of the table that was named, else of the one drawn for an earlier run, else drawn now and kept
/// with the record's models.
fn simulated(arguments: &Arguments, models: &OwnModels) -> Result<Vec<LabelledRow>, Failed> {
    if let Some(path) = &arguments.table {
        return table_in(path);
    }
    let (scenes, seed, presets) = (arguments.scenes, arguments.seed, arguments.presets.join(" "));
    let version = env!("CARGO_PKG_VERSION");
    let drawn_from = digest(format!("{version} {scenes} {seed} {presets}").as_bytes());
    let name = format!("simulated-{}.csv", short(&drawn_from));
    let path = models.folder().join(&name);
    if path.exists()
        && let Ok(rows) = table_in(&path)
    {
        return Ok(rows);
    }
    complain(&format!("{scenes} simulated photos are drawn first: about a second each and core; they are kept"));
    let rows = drawn(seed, scenes, &arguments.presets)?.rows;
    let bytes = csv_of(&rows)?;
    // Whole or not at all: a table cut at the end of a line would be read as a smaller one.
    let kept = Folder::new(models.folder(), &[]).and_then(|folder| folder.write(&name, &bytes));
    kept.map_err(|error| (PARTLY, format!("{}: {}", path.display(), super::terminal::said(&error))))?;
    Ok(rows)
}

/// How the new model compares with the one in use, Markdown: on the record's animals, each judged by trees that never
/// saw it, and on simulated photos of seeds of their own. Second: on which of the two it is worse, beyond chance.
fn comparison(
    arguments: &Arguments,
    confirmed: &Confirmed,
    simulated: &[LabelledRow],
    file: &ModelFile,
    [before, anew]: [&[u8]; 2],
) -> Result<(String, Vec<String>), String> {
    let settings = arguments.grow_settings();
    let told = |part: usize| complain(&format!("{part} of 5 parts of the animals left out and judged"));
    let own_anew =
        left_out(&confirmed.rows, simulated, arguments.seed, &settings, told).map_err(|error| error.to_string())?;
    let of = |bytes: &[u8], rows: &[LabelledRow]| judged_by(bytes, rows).map_err(|error| error.to_string());
    let own_before = of(before, &confirmed.rows)?;
    let n_check = arguments.record.check_scenes;
    let check = drawn(CHECK_SEED, n_check, &[CHECK_PRESET.to_owned()]).map_err(|(_, sentence)| sentence)?.rows;
    let (check_before, check_anew) = (of(before, &check)?, of(anew, &check)?);
    let on_animals = compared(&own_before, &own_anew, arguments.seed);
    let on_simulated = compared(&check_before, &check_anew, arguments.seed);

    let mut text = String::from("# A model grown with your own confirmed cases\n\n");
    // Writing to a String cannot fail.
    let _ = write!(
        text,
        "Grown on {} simulated shafts and {} confirmed ones of {} animals ({} whose culture grew the fungus, {} whose \
         culture grew nothing); {} shafts that a person judged were left out by the rules. An animal weighs as much as \
         a simulated photo. SHA-256 of the table: `{}`.\n\n## On your animals\n\nEach animal was judged by a model \
         grown without it ({} parts in turn). Intervals hold 95 %, by resampling animals.\n\n",
        simulated.len(),
        confirmed.rows.len(),
        confirmed.animals.len(),
        confirmed.n_grew,
        confirmed.n_nothing,
        confirmed.n_left_out,
        file.table_sha256,
        crate::training::comparison::N_FOLDS
    );
    table(&mut text, &on_animals, [&own_before, &own_anew], "animals");
    let _ = write!(
        text,
        "\n## On simulated photos\n\n{n_check} photos of the ranges `{CHECK_PRESET}`, seeds {CHECK_SEED} to {}, on \
         which nothing was grown. Intervals hold 95 %, by resampling photos.\n\n",
        CHECK_SEED + n_check - 1
    );
    table(&mut text, &on_simulated, [&check_before, &check_anew], "photos");
    let _ = write!(
        text,
        "\n## What this says\n\nOn your animals the new model {}. On simulated photos it {}. Accept it only where it \
         is better on your animals and not worse on simulated photos. Neither model replaces a culture: send one, and \
         let your vet decide.\n",
        in_words(on_animals[0].change()),
        in_words(on_simulated[0].change())
    );
    let changes = [("your animals", on_animals[0].change()), ("simulated photos", on_simulated[0].change())];
    let worse = changes.iter().filter(|(_, change)| *change == Change::Worse);
    Ok((text, worse.map(|(on, _)| (*on).to_owned()).collect()))
}

fn in_words(change: Change) -> &'static str {
    match change {
        Change::Better => "is better, beyond chance",
        Change::Worse => "is worse, beyond chance",
        Change::Untold => "is neither better nor worse as far as these numbers can tell",
    }
}

/// One table of figures.
fn table(text: &mut String, figures: &[Compared], [before, anew]: [&[Judged]; 2], unit: &str) {
    let number = |value: Option<f64>| value.map_or("–".to_owned(), |value| format!("{value:.3}"));
    let _ = write!(text, "| figure | in use now | grown anew | difference | 95 % interval |\n|---|---|---|---|---|\n");
    for figure in figures {
        let interval = figure.difference.interval;
        let interval = interval.map_or("–".to_owned(), |i| format!("{:+.3} to {:+.3}", i.low, i.high));
        let less = if figure.less_is_better { " (less is better)" } else { "" };
        let difference = figure.difference.value.map_or("–".to_owned(), |value| format!("{value:+.3}"));
        let (name, old, new) = (figure.figure, number(figure.before), number(figure.anew));
        let _ = writeln!(text, "| {name}{less} | {old} | {new} | {difference} | {interval} |");
    }
    let share = |(hits, n): (usize, usize)| {
        let interval = wilson(hits, n, Z_95);
        interval.map_or("–".to_owned(), |i| format!("{hits} of {n} ({:.2} to {:.2})", i.low, i.high))
    };
    let (old, new) = (share(wrongly_infected(before)), share(wrongly_infected(anew)));
    let _ =
        writeln!(text, "| {unit} without an infected shaft, with one called infected (Wilson) | {old} | {new} | | |");
}
