//! `pilumen shell-completion` and `pilumen manual`: what packagers install beside the program, made from the commands.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::CommandFactory;
use clap_complete::Shell;

use super::PARTLY;
use super::folder::Folder;
use super::terminal::{Output, complain, said, shown};

/// What `pilumen shell-completion` is told.
#[derive(clap::Args)]
pub(super) struct CompletionArguments {
    /// The shell that is to complete the program's arguments
    #[arg(value_name = "SHELL", value_enum)]
    shell: Shell,
}

/// What `pilumen manual` is told.
#[derive(clap::Args)]
pub(super) struct ManualArguments {
    /// Write a page for the program and one for each command into this folder, instead of printing the program's page
    #[arg(long, value_name = "DIR")]
    out: Option<PathBuf>,
}

/// Prints what a shell reads to complete the program's arguments.
pub(super) fn completion(arguments: &CompletionArguments) -> ExitCode {
    let mut script = Vec::new();
    let mut command = super::Arguments::command();
    let name = command.get_name().to_owned();
    clap_complete::generate(arguments.shell, &mut command, name, &mut script);
    printed(&script)
}

/// Prints the manual's first page, or writes all pages.
pub(super) fn manual(arguments: &ManualArguments) -> ExitCode {
    let pages = pages();
    let Some(folder) = &arguments.out else {
        return printed(pages.first().map_or(&[], |(_, page)| page.as_slice()));
    };
    match written(&pages, folder) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let folder = shown(folder);
            complain(&format!(
                "pilumen: the manual cannot be written into {folder}: {}; name another folder",
                said(&error)
            ));
            ExitCode::from(PARTLY)
        }
    }
}

/// Pages of section 1 with their file names: the program's, then those of its commands and their commands.
fn pages() -> Vec<(String, Vec<u8>)> {
    let mut program = super::Arguments::command().disable_help_subcommand(true);
    program.build();
    let mut pages = Vec::new();
    let mut left = vec![program];
    while let Some(command) = left.pop() {
        // The names of nested commands are given with those above them: `pilumen-case-add`.
        let name = command.get_display_name().unwrap_or(command.get_name()).to_owned();
        let mut below: Vec<clap::Command> =
            command.get_subcommands().filter(|command| !command.is_hide_set()).cloned().collect();
        below.reverse();
        left.extend(below);
        let mut page = Vec::new();
        // A page in memory takes whatever is written.
        let _ = clap_mangen::Man::new(command).render(&mut page);
        pages.push((format!("{name}.1"), page));
    }
    pages
}

fn written(pages: &[(String, Vec<u8>)], folder: &Path) -> std::io::Result<()> {
    let folder = Folder::new(folder, &[])?;
    pages.iter().try_for_each(|(name, page)| folder.write(name, page))
}

fn printed(bytes: &[u8]) -> ExitCode {
    let mut output = Output::new();
    output.write(bytes);
    if output.has_failed() { ExitCode::from(PARTLY) } else { ExitCode::SUCCESS }
}

#[cfg(test)]
mod tests {
    use super::pages;

    #[test]
    fn every_command_that_is_shown_has_a_page_with_its_name() {
        let pages = pages();
        let names: Vec<&str> = pages.iter().map(|(name, _)| name.as_str()).collect();
        assert_eq!(names[0], "pilumen.1");
        for name in ["pilumen-read.1", "pilumen-desk.1", "pilumen-case.1", "pilumen-appraise.1"] {
            assert!(names.contains(&name), "{name} is missing of {names:?}");
        }
        assert!(!names.iter().any(|name| name.contains("shell-completion") || name.contains("manual")), "{names:?}");
        for (name, page) in &pages {
            let text = String::from_utf8(page.clone()).unwrap();
            assert!(text.contains(".SH NAME") && text.contains(".SH SYNOPSIS"), "{name}");
            crate::judgement::judges_nobody(name, &text);
        }
    }
}
