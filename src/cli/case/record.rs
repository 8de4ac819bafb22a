//! What all commands of the record share: where it lies, who tells, and how answers are given.

use std::fmt;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Duration;

use serde::Serialize;

use crate::cli::terminal::{Output, complain};
use crate::cli::{PARTLY, UNUSABLE};
use crate::store::{Fact, Kept, Stamp, Store, StoreError, record_folder};

/// Names who tells when no argument does.
const WHO_VARIABLE: &str = "PILUMEN_BY";

/// Where the record lies.
#[derive(clap::Args, Clone, Debug)]
pub(in crate::cli) struct Place {
    /// Folder of the record [default: what PILUMEN_RECORD names, else a folder of your own]
    #[arg(long, global = true, value_name = "DIR")]
    record: Option<PathBuf>,

    /// Wait this long for another program that writes to the record
    #[arg(long, global = true, value_name = "SECONDS", default_value_t = 10)]
    wait: u32,
}

/// Who tells.
#[derive(clap::Args, Clone, Debug)]
pub(in crate::cli) struct Who {
    /// Who tells this; kept with every fact [default: what PILUMEN_BY names]
    #[arg(long, global = true, value_name = "NAME")]
    by: Option<String>,
}

/// What a command was told beside its own arguments.
pub(super) struct Told<'a> {
    pub(super) place: &'a Place,
    pub(super) who: &'a Who,
    pub(super) json: bool,
}

/// Why a command of the record was not done.
pub(in crate::cli) type Done = Result<ExitCode, StoreError>;

impl Place {
    /// The folder, where an argument names it.
    pub(in crate::cli) fn named(&self) -> Option<&Path> {
        self.record.as_deref()
    }

    /// Whether the command names the record itself.
    pub(in crate::cli) fn is_named(&self) -> bool {
        self.record.is_some()
    }

    /// Where the record lies, or would.
    pub(in crate::cli) fn folder(&self) -> Result<PathBuf, StoreError> {
        record_folder(self.record.as_deref())
    }

    /// The record, to be asked.
    pub(in crate::cli) fn open(&self) -> Result<Store, StoreError> {
        let mut store = Store::open(&self.folder()?)?;
        store.set_patience(Duration::from_secs(self.wait.into()));
        Ok(store)
    }

    /// The record, begun if there is none.
    pub(in crate::cli) fn open_or_create(&self) -> Result<Store, StoreError> {
        let mut store = Store::open_or_create(&self.folder()?)?;
        store.set_patience(Duration::from_secs(self.wait.into()));
        Ok(store)
    }
}

impl Who {
    /// A stamp of now. Whether anybody is named is found when something is kept.
    pub(in crate::cli) fn stamp(&self) -> Stamp {
        let named = || std::env::var(WHO_VARIABLE).unwrap_or_default();
        Stamp::now(&self.by.clone().unwrap_or_else(named))
    }
}

impl Told<'_> {
    /// The record to add to, and the stamp to do it with. Says so when the clock has jumped back.
    pub(super) fn writing(&self) -> Result<(Store, Stamp), StoreError> {
        let store = self.place.open()?;
        let stamp = self.who.stamp();
        warn_of_clock(&store, &stamp)?;
        Ok((store, stamp))
    }

    /// Answers with JSON or words, as was asked for.
    pub(super) fn answer<T: Serialize>(&self, value: &T, words: impl FnOnce() -> String) -> Done {
        let text = if self.json { json(value) } else { words() };
        let mut output = Output::new();
        output.write(text.as_bytes());
        Ok(if output.has_failed() { ExitCode::from(PARTLY) } else { ExitCode::SUCCESS })
    }

    /// Says that a fact was kept.
    pub(super) fn kept<T: Fact>(&self, kept: &Kept<T>, what: impl fmt::Display) -> Done {
        self.answer(kept, || format!("Kept {} {}: {what}\n", kept.kind, kept.short()))
    }
}

/// Says so when the clock stands before the newest fact.
pub(in crate::cli) fn warn_of_clock(store: &Store, stamp: &Stamp) -> Result<(), StoreError> {
    if let Some(note) = store.clock_note(stamp)? {
        complain(&format!("pilumen: {note}"));
    }
    Ok(())
}

/// One line of JSON.
pub(super) fn json<T: Serialize>(value: &T) -> String {
    // What the record hands out serialises: no map in it has keys other than text.
    let mut text = serde_json::to_string(value).unwrap_or_default();
    text.push('\n');
    text
}

/// Says why something was not done; returns the exit code that goes with it.
pub(in crate::cli) fn fail(error: &StoreError) -> ExitCode {
    let (code, sentence) = refusal(error);
    complain(&sentence);
    ExitCode::from(code)
}

/// The exit code and the sentence of an error of the record.
pub(in crate::cli) fn refusal(error: &StoreError) -> (u8, String) {
    let sentence = format!("pilumen: {}", error.to_string().replace(|c: char| c.is_control() && c != '\n', "?"));
    let code = match error {
        StoreError::Unusable(_)
        | StoreError::Unknown { .. }
        | StoreError::Ambiguous { .. }
        | StoreError::NoRecord(_)
        | StoreError::NoPlace => UNUSABLE,
        _ => PARTLY,
    };
    (code, sentence)
}

impl Who {
    /// For commands that keep nothing in anybody's name.
    pub(super) fn nobody() -> Who {
        Who { by: None }
    }
}
