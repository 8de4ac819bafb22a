//! `pilumen train --with-record`: a model grown with the record's own confirmed cases, compared with the one in use,
//! and kept until somebody accepts it.

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

use super::model::{Judging, judging, model_bytes};
use super::terminal::{Output, complain};
use super::train::{Arguments, csv_of, drawn, table_in};
use super::{PARTLY, UNUSABLE};
use crate::confirmed::{Confirmed, ConfirmedError, confirmed};
use crate::finding::model::ModelFile;
use crate::maths::proportion::{Z_95, wilson};
use crate::store::{About, OwnModel, OwnModels, Stamp, Store, StoreError, digest, record_folder, short};
use crate::training::comparison::{Change, Compared, compared, judged_by, left_out, wrongly_infected};
use crate::training::{Judged, LabelledRow, grow};

/// First seed of the simulated photos on which models are compared. What a card reports is drawn from other seeds, for
/// somebody decides by these.
const CHECK_SEED: u64 = 810_001;

/// What they are drawn from: cameras, hues and scales that no model is grown on.
const CHECK_PRESET: &str = "appraisal";

/// Where a record's cases come in.
#[derive(clap::Args)]
pub(super) struct RecordArguments {
    /// Grow with the confirmed cases of the record in DIR too [without DIR: what PILUMEN_RECORD names, else a folder
    /// of your own]; the model is kept there, compared with the one in use, and used once it is accepted
    #[arg(long, value_name = "DIR", num_args = 0..=1, help_heading = "With your own cases")]
    pub(super) with_record: Option<Option<PathBuf>>,

    /// Accept the new model: from now on it judges
    #[arg(long, requires = "with_record", help_heading = "With your own cases")]
    accept: bool,

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
    // Grown and compared before: a model has one digest.
    let known = models.proposed().map_err(failed)?.filter(|known| known.sha256 == sha256);
    let anew = match known {
        Some(known) => known,
        None => {
            let text = comparison(arguments, &confirmed, &simulated, &file, [&before_bytes, &bytes]).map_err(stays)?;
            let about = About {
                grown_at: Stamp::now("").at.to_string(),
                version: env!("CARGO_PKG_VERSION").to_owned(),
                compared_with: before.sha256().to_owned(),
                animals: confirmed.animals.clone(),
                n_shafts: confirmed.rows.len(),
                comparison: text,
            };
            OwnModel { sha256, bytes, about }
        }
    };
    models.propose(&anew).map_err(failed)?;
    say(&format!("{}\n", anew.about.comparison));
    if asked.accept {
        models.accept().map_err(failed)?;
        say(&format!(
            "Accepted: from now on `pilumen read` and the desk judge by this model, digest {}, and say so.\n",
            anew.sha256
        ));
    } else {
        say(&format!(
            "The model in use ({}) stays. Accept the new one with the same command and --accept; it is kept in {}.\n",
            short(before.sha256()),
            models.folder().display()
        ));
    }
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
    let name = digest(format!("{version} {scenes} {seed} {presets}").as_bytes());
    let path = models.folder().join(format!("simulated-{}.csv", short(&name)));
    if path.exists()
        && let Ok(rows) = table_in(&path)
    {
        return Ok(rows);
    }
    complain(&format!("{scenes} simulated photos are drawn first: about a second each and core; they are kept"));
    let rows = drawn(seed, scenes, &arguments.presets)?;
    let bytes = csv_of(&rows)?;
    let kept = fs::create_dir_all(models.folder()).and_then(|()| fs::write(&path, bytes));
    kept.map_err(|error| (PARTLY, format!("{}: {}", path.display(), super::terminal::said(&error))))?;
    Ok(rows)
}

/// How the new model compares with the one in use, Markdown: on the record's animals, each judged by trees that never
/// saw it, and on simulated photos of seeds of their own.
fn comparison(
    arguments: &Arguments,
    confirmed: &Confirmed,
    simulated: &[LabelledRow],
    file: &ModelFile,
    [before, anew]: [&[u8]; 2],
) -> Result<String, String> {
    let settings = arguments.grow_settings();
    let told = |part: usize| complain(&format!("{part} of 5 parts of the animals left out and judged"));
    let own_anew =
        left_out(&confirmed.rows, simulated, arguments.seed, &settings, told).map_err(|error| error.to_string())?;
    let of = |bytes: &[u8], rows: &[LabelledRow]| judged_by(bytes, rows).map_err(|error| error.to_string());
    let own_before = of(before, &confirmed.rows)?;
    let n_check = arguments.record.check_scenes;
    let check = drawn(CHECK_SEED, n_check, &[CHECK_PRESET.to_owned()]).map_err(|(_, sentence)| sentence)?;
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
    Ok(text)
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
