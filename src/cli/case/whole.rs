//! The record as a whole: proving it, packing cases, copying it, and where its photos lie.

use std::path::PathBuf;
use std::process::ExitCode;

use super::record::{Done, Place, Told, Who, fail, warn_of_clock};
use crate::cli::PARTLY;
use crate::store::{self, StoreError};

/// What `pilumen check` is told.
#[derive(clap::Args)]
pub(in crate::cli) struct CheckArguments {
    #[command(flatten)]
    place: Place,
    /// Print JSON instead of words
    #[arg(long)]
    json: bool,
}

/// Proves a record. Exit code 1 when something is damaged.
pub(in crate::cli) fn check(arguments: &CheckArguments) -> ExitCode {
    let who = Who::nobody();
    let told = Told { place: &arguments.place, who: &who, json: arguments.json };
    proved(&told).unwrap_or_else(|error| fail(&error))
}

fn proved(told: &Told<'_>) -> Done {
    let folder = told.place.folder()?;
    let report = store::check(&folder)?;
    let code = told.answer(&report, || {
        let whole: Vec<String> = report.whole.iter().map(|(kind, n)| format!("{kind} {n}")).collect();
        let mut text = format!("Whole: {}; photo files {}\n", whole.join(", "), report.whole_photos);
        for fault in &report.damaged {
            let id = if fault.id.is_empty() { String::new() } else { format!(" {}", store::short(&fault.id)) };
            text.push_str(&format!("Damaged: {}{id}: {}\n", fault.what, fault.fault));
        }
        for remark in &report.remarks {
            text.push_str(&format!("Note: {remark}\n"));
        }
        text.push_str(if report.is_whole() {
            "Nothing is damaged.\n"
        } else {
            "Copy what is damaged back from the newest backup; what is whole can be packed or backed up from here.\n"
        });
        text
    })?;
    Ok(if report.is_whole() { code } else { ExitCode::from(PARTLY) })
}

/// What `pilumen pack` is told.
#[derive(clap::Args)]
pub(in crate::cli) struct PackArguments {
    #[command(flatten)]
    place: Place,
    /// The case: name, number or id of the animal
    case: String,
    /// The new file, such as moth.zip
    file: PathBuf,
    /// Print JSON instead of words
    #[arg(long)]
    json: bool,
}

/// Packs a case.
pub(in crate::cli) fn pack(arguments: &PackArguments) -> ExitCode {
    let who = Who::nobody();
    let told = Told { place: &arguments.place, who: &who, json: arguments.json };
    let packed = || -> Done {
        let store = told.place.open()?;
        let animal = store.find_animal(&arguments.case)?;
        let packed = store.pack(&animal, &arguments.file, &told.who.stamp())?;
        told.answer(&packed, || {
            let n: u64 = packed.facts.values().sum();
            format!(
                "Packed {}: {n} facts and {} photos into {}\n",
                packed.name,
                packed.n_photos,
                arguments.file.display()
            )
        })
    };
    packed().unwrap_or_else(|error| fail(&error))
}

/// What `pilumen unpack` is told.
#[derive(clap::Args)]
pub(in crate::cli) struct UnpackArguments {
    #[command(flatten)]
    place: Place,
    /// A file that `pilumen pack` made
    file: PathBuf,
    /// Take in what can stand side by side although it differs from this record
    #[arg(long)]
    anyway: bool,
    /// Print JSON instead of words
    #[arg(long)]
    json: bool,
}

/// Takes a packed case in.
pub(in crate::cli) fn unpack(arguments: &UnpackArguments) -> ExitCode {
    let who = Who::nobody();
    let told = Told { place: &arguments.place, who: &who, json: arguments.json };
    let unpacked = || -> Done {
        let mut store = told.place.open_or_create()?;
        let stamp = told.who.stamp();
        warn_of_clock(&store, &stamp)?;
        let unpacked = store.unpack(&arguments.file, arguments.anyway, &stamp)?;
        told.answer(&unpacked, || {
            let n: u64 = unpacked.added.values().sum();
            let mut text = format!("Unpacked {}: {n} facts are new, {} were here\n", unpacked.name, unpacked.n_known);
            for remark in &unpacked.remarks {
                text.push_str(&format!("Note: {remark}\n"));
            }
            text
        })
    };
    unpacked().unwrap_or_else(|error| {
        if let StoreError::Conflict { .. } = error {
            let code = fail(&error);
            crate::cli::terminal::complain(
                "pilumen: compare the two; where both may stand side by side, unpack with --anyway and correct what is \
                 wrong",
            );
            return code;
        }
        fail(&error)
    })
}

/// What `pilumen backup` is told.
#[derive(clap::Args)]
pub(in crate::cli) struct BackupArguments {
    #[command(flatten)]
    place: Place,
    /// An empty folder or an earlier backup, best on another disk
    to: PathBuf,
    /// Print JSON instead of words
    #[arg(long)]
    json: bool,
}

/// Copies the record while it is in use. Exit code 1 when a photo was damaged and could not be copied.
pub(in crate::cli) fn backup(arguments: &BackupArguments) -> ExitCode {
    let who = Who::nobody();
    let told = Told { place: &arguments.place, who: &who, json: arguments.json };
    let copied = || -> Done {
        let report = told.place.open()?.backup(&arguments.to)?;
        let code = told.answer(&report, || {
            let mut text = format!(
                "Copied {} facts and {} photos ({} new) to {}\n",
                report.n_facts,
                report.n_photos,
                report.n_new_photos,
                arguments.to.display()
            );
            if report.n_answers > 0 {
                text.push_str(&format!("Learners' answers are with them: {} photos of practice\n", report.n_answers));
            }
            for sentence in &report.damaged {
                text.push_str(&format!("Not copied: {sentence}\n"));
            }
            text
        })?;
        Ok(if report.damaged.is_empty() { code } else { ExitCode::from(PARTLY) })
    };
    copied().unwrap_or_else(|error| fail(&error))
}

/// What `pilumen case move-photos` is told.
#[derive(clap::Args)]
pub(super) struct MoveArguments {
    /// The folder, which may lie on another disk
    to: PathBuf,
}

pub(super) fn move_photos(arguments: &MoveArguments, told: &Told<'_>) -> Done {
    let mut store = told.place.open()?;
    let from = store.photos_folder().to_owned();
    let n = store.move_photos(&arguments.to)?;
    told.answer(&n, || {
        format!(
            "{n} photos lie in {} now. Run `pilumen check`, then remove the old folder {} yourself.\n",
            store.photos_folder().display(),
            from.display()
        )
    })
}
