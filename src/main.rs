//! The program's entry: arguments to commands to exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    pilumen::cli::run()
}
