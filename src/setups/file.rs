//! The file of setups on disk: read whole, written whole or not at all, and by one program at a time.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

use super::wire::{bytes_of, line_of, setup_of, setups_of};
use super::{Setup, fit_name};
use crate::concerns::Concern;

/// No file of setups is larger, bytes: ten thousand setups.
const MOST_BYTES: u64 = 8 << 20;

/// What the file is called in the folder of a user's data.
const NAME: &str = "setups.json";

/// A file of setups; it need not be there yet.
#[derive(Clone, Debug)]
pub struct SetupsFile {
    path: PathBuf,
}

/// Why setups cannot be read or saved. The sentence says what is wrong and what to do.
#[derive(Debug, thiserror::Error)]
pub enum SetupsError {
    /// The system names no folder for a user's data.
    #[error("this account has no folder for data; say where setups are kept with --setups FILE")]
    NoPlace,
    /// The disk refuses.
    #[error("{}: the setups cannot be {what}: {}; give another file with --setups", shown(.path), said(.error))]
    Disk {
        /// Which file.
        path: PathBuf,
        /// `read` or `saved`.
        what: &'static str,
        /// What the system says.
        error: io::Error,
    },
    /// The file is none of setups, or damaged.
    #[error("{}: the file {what}; restore it or give another with --setups", shown(.path))]
    Content {
        /// Which file.
        path: PathBuf,
        /// What is wrong with it: a verb and the rest.
        what: String,
    },
    /// There is a setup of that name already.
    #[error("there is a setup \"{0}\" already; choose another name, or say --replace")]
    Known(String),
    /// There is no setup of that name.
    #[error("there is no setup \"{name}\"; {}", choice(.known))]
    Unknown {
        /// What was asked for.
        name: String,
        /// What there is.
        known: Vec<String>,
    },
    /// A name that is none.
    #[error("\"{0}\" is no name for a setup; give up to 60 characters, such as \"10x phone\"")]
    Name(String),
}

impl SetupsFile {
    /// The file at a path, or else in the folder that the system has for a user's data.
    ///
    /// # Errors
    /// When no path is given and the system names no such folder.
    pub fn at(path: Option<PathBuf>) -> Result<SetupsFile, SetupsError> {
        let own = || directories::ProjectDirs::from("", "", "pilumen").map(|place| place.data_dir().join(NAME));
        path.or_else(own).map(|path| SetupsFile { path }).ok_or(SetupsError::NoPlace)
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// All setups, in the order of names; none when there is no file yet.
    ///
    /// # Errors
    /// When the file cannot be read or is none of setups.
    pub fn all(&self) -> Result<Vec<Setup>, SetupsError> {
        let disk = |error| SetupsError::Disk { path: self.path.clone(), what: "read", error };
        let file = match File::open(&self.path) {
            Ok(file) => file,
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Vec::new()),
            Err(error) => return Err(disk(error)),
        };
        let mut bytes = Vec::new();
        file.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(disk)?;
        let content = |what: String| SetupsError::Content { path: self.path.clone(), what };
        if bytes.len() as u64 > MOST_BYTES {
            return Err(content("is too large for a file of setups".to_owned()));
        }
        setups_of(&bytes).map_err(content)
    }

    /// The setup of a name; capitals do not matter.
    ///
    /// # Errors
    /// When there is none, or the file cannot be read.
    pub fn named(&self, name: &str) -> Result<Setup, SetupsError> {
        let all = self.all()?;
        let known = all.iter().map(|setup| setup.name.clone()).collect();
        let found = all.into_iter().find(|setup| setup.is_called(name));
        found.ok_or_else(|| SetupsError::Unknown { name: name.replace(char::is_control, "?"), known })
    }

    /// Saves a setup beside the others. One of the same name is replaced only where `replace` says so.
    ///
    /// # Errors
    /// When there is one of that name, or the file cannot be read or written; then it stays as it was.
    pub fn save(&self, setup: Setup, replace: bool) -> Result<(), SetupsError> {
        if fit_name(&setup.name) != Some(setup.name.as_str()) {
            return Err(SetupsError::Name(setup.name.replace(char::is_control, "?")));
        }
        self.change(|all| {
            match all.iter().position(|other| other.is_called(&setup.name)) {
                Some(at) if replace => all[at] = setup,
                Some(at) => return Err(SetupsError::Known(all[at].name.clone())),
                None => all.push(setup),
            }
            Ok(())
        })
    }

    /// Removes the setup of a name. What was read with it keeps its scale.
    ///
    /// # Errors
    /// When there is none of that name, or the file cannot be read or written; then it stays as it was.
    pub fn remove(&self, name: &str) -> Result<(), SetupsError> {
        // Without a file there is nothing to change, and no folder is begun for it.
        self.named(name)?;
        self.change(|all| {
            all.retain(|setup| !setup.is_called(name));
            Ok(())
        })
    }

    /// Changes the setups and writes them whole. One program at a time: two that save at once must not lose each
    /// other's setup.
    fn change(&self, work: impl FnOnce(&mut Vec<Setup>) -> Result<(), SetupsError>) -> Result<(), SetupsError> {
        let disk = |error| SetupsError::Disk { path: self.path.clone(), what: "saved", error };
        let folder = match self.path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        fs::create_dir_all(folder).map_err(disk)?;
        let lock_path = {
            let mut name = self.path.file_name().unwrap_or_default().to_owned();
            name.push(".lock");
            self.path.with_file_name(name)
        };
        // The lock ends with the file handle.
        let lock = File::options().create(true).truncate(false).write(true).open(lock_path).map_err(disk)?;
        lock.lock().map_err(disk)?;
        let mut all = self.all()?;
        work(&mut all)?;
        all.sort_by_key(|setup| (setup.name.to_lowercase(), setup.name.clone()));
        let mut file = tempfile::Builder::new().prefix(".setups-").tempfile_in(folder).map_err(disk)?;
        file.write_all(&bytes_of(&all)).and_then(|()| file.as_file().sync_all()).map_err(disk)?;
        file.persist(&self.path).map_err(|failed| disk(failed.error))?;
        Ok(())
    }
}

impl Setup {
    /// A setup as [`Setup::to_json`] writes it; `None` when it is none.
    pub fn from_json(line: &str) -> Option<Setup> {
        setup_of(line)
    }

    /// The setup as one line of JSON, without a line end.
    pub fn to_json(&self) -> String {
        line_of(self, None)
    }

    /// The same with what a person should know about the scale as it was found.
    pub fn to_json_with(&self, concerns: &[Concern]) -> String {
        line_of(self, Some(concerns))
    }
}

fn shown(path: &Path) -> String {
    path.to_string_lossy().replace(char::is_control, "?")
}

fn said(error: &io::Error) -> String {
    let text = error.to_string();
    text.split(" (os error").next().unwrap_or_default().to_lowercase()
}

fn choice(names: &[String]) -> String {
    if names.is_empty() {
        return "measure one with \"pilumen scale\"".to_owned();
    }
    let names: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    format!("known: {}", names.join(", "))
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::{Setup, SetupsError, SetupsFile};
    use crate::setups::wire::tests::sample;

    fn file(place: &tempfile::TempDir) -> SetupsFile {
        SetupsFile::at(Some(place.path().join("deep/setups.json"))).unwrap()
    }

    #[test]
    fn setups_are_kept_beside_each_other() {
        let place = tempfile::tempdir().unwrap();
        let file = file(&place);
        assert!(file.all().unwrap().is_empty());
        file.save(sample("4x"), false).unwrap();
        file.save(sample("10x phone"), false).unwrap();
        let names: Vec<String> = file.all().unwrap().into_iter().map(|setup| setup.name).collect();
        assert_eq!(names, ["10x phone", "4x"]);
        assert_eq!(file.named("10X Phone ").unwrap().name, "10x phone");
        let sentence = file.named("20x").unwrap_err().to_string();
        assert_eq!(sentence, "there is no setup \"20x\"; known: \"10x phone\", \"4x\"");
    }

    #[test]
    fn one_is_removed_and_the_others_stay() {
        let place = tempfile::tempdir().unwrap();
        let file = file(&place);
        assert!(matches!(file.remove("4x"), Err(SetupsError::Unknown { .. })));
        assert!(!file.path().parent().unwrap().exists(), "nothing was begun");
        file.save(sample("4x"), false).unwrap();
        file.save(sample("10x phone"), false).unwrap();
        file.remove("10X phone").unwrap();
        assert_eq!(file.all().unwrap(), [sample("4x")]);
        assert!(file.remove("10x phone").unwrap_err().to_string().contains("known: \"4x\""));
    }

    #[test]
    fn a_setup_survives_as_a_line() {
        assert_eq!(Setup::from_json(&sample("4x").to_json()), Some(sample("4x")));
        assert_eq!(Setup::from_json("{}"), None);
        assert_eq!(Setup::from_json(&sample("4x").to_json().replace("4000", "0")), None);
    }

    #[test]
    fn nothing_is_replaced_unasked() {
        let place = tempfile::tempdir().unwrap();
        let file = file(&place);
        file.save(sample("4x"), false).unwrap();
        let other = Setup { um_per_px: 0.7, ..sample("4X") };
        assert!(matches!(file.save(other.clone(), false), Err(SetupsError::Known(name)) if name == "4x"));
        assert_eq!(file.named("4x").unwrap(), sample("4x"), "as it was");
        file.save(other.clone(), true).unwrap();
        assert_eq!(file.all().unwrap(), [other]);
    }

    #[test]
    fn a_file_of_something_else_is_left_alone() {
        let place = tempfile::tempdir().unwrap();
        let path = place.path().join("letter.json");
        fs::write(&path, "{\"dear\": \"house\"}").unwrap();
        let file = SetupsFile::at(Some(path.clone())).unwrap();
        let sentence = file.save(sample("4x"), true).unwrap_err().to_string();
        assert!(sentence.contains("letter.json: the file is no file of setups; "), "{sentence}");
        assert_eq!(fs::read_to_string(path).unwrap(), "{\"dear\": \"house\"}");
        let folder = SetupsFile::at(Some(place.path().to_owned())).unwrap();
        assert!(folder.all().unwrap_err().to_string().contains("cannot be read: "));
    }

    #[test]
    fn many_at_once_lose_none() {
        let place = tempfile::tempdir().unwrap();
        let file = file(&place);
        std::thread::scope(|scope| {
            for i in 0..8 {
                let file = &file;
                scope.spawn(move || file.save(sample(&format!("setup {i}")), false).unwrap());
            }
        });
        assert_eq!(file.all().unwrap().len(), 8);
    }
}
