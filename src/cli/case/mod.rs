//! `pilumen case` and its sisters: the case record from a shell.

mod correct;
mod demo;
mod filing;
mod keep;
mod photos;
mod record;
mod show;
mod timeline;
mod whole;

use std::process::ExitCode;

use clap::Subcommand;

pub(super) use filing::{Filing, FilingArguments};
pub(super) use record::{Place, fail, refusal};
pub(super) use whole::{BackupArguments, CheckArguments, PackArguments, UnpackArguments, backup, check, pack, unpack};

use record::{Told, Who};

/// What `pilumen case` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    place: Place,

    #[command(flatten)]
    who: Who,

    /// Print JSON instead of words
    #[arg(long, global = true)]
    json: bool,

    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Keep an animal
    Animal(keep::AnimalArguments),
    /// Keep an examination under the lamp
    Exam(keep::ExamArguments),
    /// Keep a slide of an animal or an exam
    Slide(keep::SlideArguments),
    /// Keep photos of a slide, byte for byte
    Photo(photos::PhotoArguments),
    /// Keep a treatment or a bath
    Treatment(keep::TreatmentArguments),
    /// Keep that a culture or another test was sent
    Culture(keep::CultureArguments),
    /// Keep a look at a culture's plate, or the laboratory's answer
    Plate(keep::PlateArguments),
    /// Keep a note on anything
    Note(keep::NoteArguments),
    /// Keep a contact through which an animal was exposed
    Contact(keep::ContactArguments),
    /// Say what is otherwise, beside what is corrected
    Correct(correct::CorrectArguments),
    /// Read kept photos again and keep the new readings beside the old ones
    Reread(photos::RereadArguments),
    /// Make a reading again with its own settings and tell whether it is the same
    Repeat(photos::RepeatArguments),
    /// Tell what is due
    Due(show::DueArguments),
    /// Tell whether fluorescence and hair loss coincide, site by site
    Sites(show::SitesArguments),
    /// Tell the course of a site
    Course(show::CourseArguments),
    /// Show a case, or any one fact
    Show(show::ShowArguments),
    /// List the animals
    List(show::ListArguments),
    /// Search names, numbers, notes, sites, treatments and photos
    Search(show::SearchArguments),
    /// List the rules of thumb, or change one
    Rules(show::RulesArguments),
    /// Move the photos to another folder, such as one on another disk
    MovePhotos(whole::MoveArguments),
    /// Fill an empty record with invented animals to try things on
    Demo,
}

/// Runs a command of the record.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    let told = Told { place: &arguments.place, who: &arguments.who, json: arguments.json };
    let done = match &arguments.command {
        Command::Animal(arguments) => keep::animal(arguments, &told),
        Command::Exam(arguments) => keep::exam(arguments, &told),
        Command::Slide(arguments) => keep::slide(arguments, &told),
        Command::Photo(arguments) => photos::photo(arguments, &told),
        Command::Treatment(arguments) => keep::treatment(arguments, &told),
        Command::Culture(arguments) => keep::culture(arguments, &told),
        Command::Plate(arguments) => keep::plate(arguments, &told),
        Command::Note(arguments) => keep::note(arguments, &told),
        Command::Contact(arguments) => keep::contact(arguments, &told),
        Command::Correct(arguments) => correct::correct(arguments, &told),
        Command::Reread(arguments) => photos::reread(arguments, &told),
        Command::Repeat(arguments) => photos::repeat(arguments, &told),
        Command::Due(arguments) => show::due(arguments, &told),
        Command::Sites(arguments) => show::sites(arguments, &told),
        Command::Course(arguments) => show::course(arguments, &told),
        Command::Show(arguments) => show::show(arguments, &told),
        Command::List(arguments) => show::list(arguments, &told),
        Command::Search(arguments) => show::search(arguments, &told),
        Command::Rules(arguments) => show::rules(arguments, &told),
        Command::MovePhotos(arguments) => whole::move_photos(arguments, &told),
        Command::Demo => demo::demo(&told),
    };
    done.unwrap_or_else(|error| fail(&error))
}
