//! Where words go: results to standard output, complaints to standard error.
//!
//! A reader that has seen enough closes the pipe (`pilumen read *.jpg | head`); that is no fault and ends the output
//! without a word.

use std::io::{self, ErrorKind, IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use super::PARTLY;
use crate::exports::starting_small;

/// Standard output, until it is closed.
pub(super) struct Output {
    closed: bool,
    failed: bool,
}

impl Output {
    /// An output that is open.
    pub(super) fn new() -> Output {
        Output { closed: false, failed: false }
    }

    /// Whether nobody reads any more, or nothing can be written.
    pub(super) fn is_closed(&self) -> bool {
        self.closed
    }

    /// Whether writing failed for another reason than a reader who has seen enough.
    pub(super) fn has_failed(&self) -> bool {
        self.failed
    }

    /// Writes text and sends it off at once.
    pub(super) fn write(&mut self, text: &[u8]) {
        if self.closed {
            return;
        }
        let mut out = io::stdout().lock();
        if let Err(error) = out.write_all(text).and_then(|()| out.flush()) {
            self.closed = true;
            if error.kind() != ErrorKind::BrokenPipe {
                self.failed = true;
                complain(&format!("the results cannot be written to standard output: {}", said(&error)));
            }
        }
    }
}

/// One sentence on standard error; when nobody reads that either, there is nobody to tell.
pub(super) fn complain(sentence: &str) {
    let _ = writeln!(io::stderr().lock(), "{sentence}");
}

/// A bar on the terminal that says what is being done and how much of it is; hidden where nobody would see it.
pub(super) fn progress(doing: &str, things: &str, n: usize) -> ProgressBar {
    if !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::with_draw_target(Some(n as u64), ProgressDrawTarget::stderr());
    if let Ok(style) =
        ProgressStyle::with_template(&format!("{doing} {{bar:30}} {{pos}} of {{len}} {things}, {{eta}} left"))
    {
        bar.set_style(style);
    }
    bar.tick();
    bar
}

/// Writes what came of a command, or the complaint that it ended with beside its exit code.
pub(super) fn ended(done: Result<String, (u8, String)>) -> ExitCode {
    match done {
        Ok(text) => {
            let mut output = Output::new();
            output.write(text.as_bytes());
            if output.has_failed() { ExitCode::from(PARTLY) } else { ExitCode::SUCCESS }
        }
        Err((code, sentence)) => {
            complain(&format!("pilumen: {sentence}"));
            ExitCode::from(code)
        }
    }
}

/// A path as it may be shown: control characters in a file's name must not steer the terminal.
pub(super) fn shown(path: &Path) -> String {
    path.to_string_lossy().replace(char::is_control, "?")
}

/// What the system says of an error, without its number, starting small.
pub(super) fn said(error: &io::Error) -> String {
    let text = error.to_string();
    small(text.split(" (os error").next().unwrap_or_default())
}

/// A sentence as a part of another: starting small, without a stop. Words in capitals stay so.
pub(super) fn small(sentence: &str) -> String {
    starting_small(sentence.trim().trim_end_matches('.'))
}

#[cfg(test)]
mod tests {
    use std::io;
    use std::path::Path;

    use super::{said, shown, small};

    #[test]
    fn a_sentence_becomes_a_part_of_another() {
        assert_eq!(small("Save the photo as JPEG."), "save the photo as JPEG");
        assert_eq!(small("JPEG is what to save as."), "JPEG is what to save as");
        assert_eq!(small(""), "");
    }

    #[test]
    fn the_number_of_an_error_is_left_out() {
        assert_eq!(said(&io::Error::from_raw_os_error(28)), "no space left on device");
    }

    #[test]
    fn a_name_cannot_steer_the_terminal() {
        assert_eq!(shown(Path::new("a\u{1b}[2Jb\nc.jpg")), "a?[2Jb?c.jpg");
    }
}
