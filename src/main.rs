//! The program's entry: arguments to commands to exit code.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// Reads photos of hair shafts on tape under a UV lamp.
#[derive(Parser)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Draws simulated photos with their truth.
    Draw {
        /// Seeds, one photo each.
        #[arg(required = true)]
        seeds: Vec<u64>,
        /// Folder to write to.
        #[arg(long)]
        out: PathBuf,
        /// What the photos are drawn from.
        #[arg(long, default_value = "training")]
        preset: String,
    },
}

fn main() -> ExitCode {
    let Command::Draw { seeds, out, preset } = Arguments::parse().command;
    match pilumen::cli::draw::run(&seeds, &preset, &out) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}
