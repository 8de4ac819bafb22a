//! The commands: arguments, and one match.
//!
//! Exit codes: 0 when the command did all it was asked, whatever it found; 1 when some of it could not be done;
//! 2 when the arguments cannot be used.

mod appraise;
mod appraise_record;
mod batch;
mod case;
mod case_facts;
mod desk;
mod draw;
mod export;
mod folder;
mod guard;
mod keeper;
mod kept_rows;
mod lamp;
mod learn;
mod made;
mod model;
mod photos;
mod read;
mod report;
mod scale;
mod setups;
mod shell;
mod subject;
mod terminal;
mod train;
mod train_record;
mod typed;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::exports::CAUTION;

/// Reads photos of hair shafts on tape under a UV lamp: finds, measures and judges each shaft.
#[derive(Parser)]
#[command(name = "pilumen", version, about, after_help = CAUTION, arg_required_else_help = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Read photos: print what was found, and keep it where --out says
    Read(read::Arguments),
    /// Find the micrometres per pixel on photos of a stage micrometer, and save them as a setup
    Scale(scale::Arguments),
    /// List the saved setups
    Setups(setups::Arguments),
    /// Keep animals, exams, slides, photos, cultures and treatments, and tell what is due
    Case(case::Arguments),
    /// Open the page on this machine where all of it can be done
    Desk(desk::Arguments),
    /// Prove that a record is whole
    Check(case::CheckArguments),
    /// Put everything about an animal into one file
    Pack(case::PackArguments),
    /// Take in what was packed elsewhere
    Unpack(case::UnpackArguments),
    /// Copy a record while it is in use
    Backup(case::BackupArguments),
    /// Write a report on one slide, from photos or from the record, for a vet, or a slip for the laboratory
    Report(Box<report::Arguments>),
    /// Write one slide, from photos or from the record, as files for other programs: DICOM, OME-TIFF, tables
    Export(Box<export::Arguments>),
    /// Tell what a finding under the lamp is worth, by published study and for a prevalence of your own
    Lamp(lamp::Arguments),
    /// Learn to see: an atlas, series to print, and how far readers agree
    Learn(learn::Arguments),
    /// Draw simulated photos with their truth
    Draw(draw::Arguments),
    /// Grow the model that judges shafts on simulated photos, and with your own confirmed cases
    Train(train::Arguments),
    /// Tell on simulated photos what the program is worth, or how far it agrees with the cultures of your record
    Appraise(appraise::Arguments),
    /// Print what a shell reads to complete the program's arguments
    #[command(hide = true)]
    ShellCompletion(shell::CompletionArguments),
    /// Print the manual, or write a page for each command
    #[command(hide = true)]
    Manual(shell::ManualArguments),
}

/// Runs the command that the process was started with.
pub fn run() -> ExitCode {
    match Arguments::parse().command {
        Command::Read(arguments) => read::run(&arguments),
        Command::Scale(arguments) => scale::run(&arguments),
        Command::Setups(arguments) => setups::run(&arguments),
        Command::Case(arguments) => case::run(&arguments),
        Command::Desk(arguments) => desk::run(&arguments),
        Command::Check(arguments) => case::check(&arguments),
        Command::Pack(arguments) => case::pack(&arguments),
        Command::Unpack(arguments) => case::unpack(&arguments),
        Command::Backup(arguments) => case::backup(&arguments),
        Command::Report(arguments) => report::run(&arguments),
        Command::Export(arguments) => export::run(&arguments),
        Command::Lamp(arguments) => lamp::run(&arguments),
        Command::Learn(arguments) => learn::run(&arguments),
        Command::Draw(arguments) => draw::run(&arguments),
        Command::Train(arguments) => train::run(&arguments),
        Command::Appraise(arguments) => appraise::run(&arguments),
        Command::ShellCompletion(arguments) => shell::completion(&arguments),
        Command::Manual(arguments) => shell::manual(&arguments),
    }
}

/// Some of what was asked could not be done.
const PARTLY: u8 = 1;

/// The arguments cannot be used.
const UNUSABLE: u8 = 2;

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_arguments_do_not_contradict_each_other() {
        super::Arguments::command().debug_assert();
    }
}
