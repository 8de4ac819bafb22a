//! A learner's results as a file: JSON with a schema and a version; and as lines that a desk appends to.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::answer::Marked;
use super::item::{ItemName, shortened};

/// The schema of a results file; additions are allowed within it.
pub const RESULTS_SCHEMA: &str = "pilumen/learning/1";

/// Longest name of a learner, letters.
const LONGEST_NAME: usize = 60;

/// Most photos in one file: years of practice.
const MOST_MARKED: usize = 100_000;

/// Why results cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ResultsError {
    /// It is not such a file.
    #[error(
        "this is no results file of a learner ({0}); take one that the desk's page Learn or `pilumen learn mark` gave"
    )]
    Form(String),
    /// It is of a later program.
    #[error("this results file is written by a newer program (schema \"{0}\"); read it with that one")]
    Newer(String),
    /// The learner's name cannot be used.
    #[error("a learner needs a name of 1 to {LONGEST_NAME} letters, on one line; a nickname will do")]
    Name,
}

/// What one learner answered, oldest first.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Results {
    /// Always [`RESULTS_SCHEMA`] when written by this program.
    pub schema: String,
    /// Who; a nickname will do.
    pub learner: String,
    /// Version of the program that wrote it.
    pub program: String,
    /// What was answered.
    pub marked: Vec<Marked>,
}

#[derive(Serialize, Deserialize)]
struct Line {
    schema: String,
    learner: String,
    marked: Marked,
}

impl Results {
    /// Results of a learner.
    ///
    /// # Errors
    /// When the name cannot be used.
    pub fn of(learner: &str, marked: Vec<Marked>) -> Result<Results, ResultsError> {
        let learner = learner.trim();
        let fits = (1..=LONGEST_NAME).contains(&learner.chars().count()) && !learner.chars().any(char::is_control);
        if !fits {
            return Err(ResultsError::Name);
        }
        let program = env!("CARGO_PKG_VERSION").to_owned();
        Ok(Results { schema: RESULTS_SCHEMA.to_owned(), learner: learner.to_owned(), program, marked })
    }

    /// Results from the bytes of a file.
    ///
    /// # Errors
    /// When they are no such file, or of a newer program.
    pub fn from_json(bytes: &[u8]) -> Result<Results, ResultsError> {
        let form = |said: String| ResultsError::Form(shortened(&said));
        let value: serde_json::Value = serde_json::from_slice(bytes).map_err(|_| form("it is not JSON".into()))?;
        known(value["schema"].as_str())?;
        let read: Results = serde_json::from_value(value).map_err(|_| form("parts are missing".into()))?;
        if read.marked.len() > MOST_MARKED || read.marked.iter().any(|marked| !is_sound(marked)) {
            return Err(form("its photos are not those of practice".into()));
        }
        Results::of(&read.learner, read.marked)
    }

    /// The bytes of a results file.
    pub fn to_json(&self) -> Vec<u8> {
        let mut bytes = serde_json::to_vec_pretty(self).unwrap_or_default();
        bytes.push(b'\n');
        bytes
    }

    /// Results of every learner in a file of lines, in the order of names, and whether its last line is torn, as a power
    /// cut leaves it. Other lines that cannot be read are an error: they were not written by a desk.
    ///
    /// # Errors
    /// When a line but the last cannot be read.
    pub fn of_lines(text: &str) -> Result<(Vec<Results>, bool), ResultsError> {
        let mut learners: BTreeMap<String, Vec<Marked>> = BTreeMap::new();
        let mut torn = false;
        let lines: Vec<&str> = text.lines().collect();
        for (index, line) in lines.iter().enumerate() {
            match line_of(line) {
                Ok(Some(line)) => learners.entry(line.learner).or_default().push(line.marked),
                Ok(None) => {}
                Err(_) if index + 1 == lines.len() && !text.ends_with('\n') => torn = true,
                Err(ResultsError::Newer(schema)) => return Err(ResultsError::Newer(schema)),
                Err(_) => return Err(ResultsError::Form(format!("line {} cannot be read", index + 1))),
            }
        }
        let all: Result<Vec<Results>, ResultsError> =
            learners.into_iter().map(|(learner, marked)| Results::of(&learner, marked)).collect();
        Ok((all?, torn))
    }
}

fn line_of(line: &str) -> Result<Option<Line>, ResultsError> {
    if line.trim().is_empty() {
        return Ok(None);
    }
    let form = || ResultsError::Form("a line cannot be read".into());
    let value: serde_json::Value = serde_json::from_str(line).map_err(|_| form())?;
    known(value["schema"].as_str())?;
    let read: Line = serde_json::from_value(value).map_err(|_| form())?;
    if is_sound(&read.marked) { Ok(Some(read)) } else { Err(form()) }
}

/// One photo as a line to append.
///
/// # Errors
/// When the name cannot be used.
pub fn results_line(learner: &str, marked: &Marked) -> Result<String, ResultsError> {
    let Results { schema, learner, .. } = Results::of(learner, Vec::new())?;
    let line = Line { schema, learner, marked: marked.clone() };
    Ok(serde_json::to_string(&line).unwrap_or_default() + "\n")
}

fn known(schema: Option<&str>) -> Result<(), ResultsError> {
    match schema {
        Some(RESULTS_SCHEMA) => Ok(()),
        Some(other) if other.starts_with("pilumen/learning/") => Err(ResultsError::Newer(shortened(other))),
        _ => Err(ResultsError::Form("its schema is another".into())),
    }
}

fn is_sound(marked: &Marked) -> bool {
    let numbers: Vec<usize> = marked.shafts.iter().map(|shaft| shaft.answer.shaft).collect();
    marked.item.parse::<ItemName>().is_ok() && !numbers.is_empty() && (1..).zip(&numbers).all(|(n, shaft)| n == *shaft)
}
