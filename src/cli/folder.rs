//! The folder that results go to: whole files only, and never one over another photo's.

use std::collections::HashSet;
use std::ffi::OsStr;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

/// What is written but not yet there ends so; a broken run leaves no such file behind, a killed one may.
const UNFINISHED: &str = ".unfinished";

/// A folder for results.
pub(super) struct Folder {
    path: PathBuf,
    /// Names already given, in small letters: some file systems do not tell `A` from `a`.
    given: HashSet<String>,
    /// The photos of this run, which no result may replace.
    photos: HashSet<PathBuf>,
}

impl Folder {
    /// The folder at `path`, made if it is not there.
    ///
    /// # Errors
    /// When it cannot be made or is no folder.
    pub(super) fn new(path: &Path, photos: &[PathBuf]) -> io::Result<Folder> {
        fs::create_dir_all(path)?;
        let photos = photos.iter().filter_map(|photo| photo.canonicalize().ok()).collect();
        Ok(Folder { path: path.canonicalize()?, given: HashSet::new(), photos })
    }

    /// Where it is.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// A name for the results of a photo that no other photo of this run has: its own without the ending, with a
    /// number behind it where that is taken. None of `endings` makes it the name of a photo of this run.
    pub(super) fn name_for(&mut self, photo: &Path, endings: &[&str]) -> String {
        let stem = photo.file_stem().unwrap_or(OsStr::new("photo")).to_string_lossy().into_owned();
        let names = (1..).map(|n: u64| if n == 1 { stem.clone() } else { format!("{stem}-{n}") });
        let free = |name: &String| {
            let on_a_photo = |ending: &&str| self.photos.contains(&self.path.join(format!("{name}{ending}")));
            !self.given.contains(&name.to_lowercase()) && !endings.iter().any(on_a_photo)
        };
        // The numbers do not end, so one is always found.
        let name = names.into_iter().find(free).unwrap_or(stem.clone());
        self.given.insert(name.to_lowercase());
        name
    }

    /// Writes a whole file, or none: under another name first, which then becomes its own.
    pub(super) fn write(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        let mut file = self.begin()?;
        file.write_all(bytes)?;
        self.finish(file, name)
    }

    /// The same, but only under a name that nothing has: a file that is there, or came to be meanwhile, stays.
    ///
    /// # Errors
    /// Of the kind `AlreadyExists` where the name is taken.
    pub(super) fn write_new(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        let mut file = self.begin()?;
        file.write_all(bytes)?;
        file.flush()?;
        file.persist_noclobber(self.path.join(name)).map(|_| ()).map_err(|failed| failed.error)
    }

    /// A file that grows while photos are read; it has no name of its own until it is finished, and vanishes if it
    /// never is.
    pub(super) fn begin(&self) -> io::Result<NamedTempFile> {
        let mut builder = tempfile::Builder::new();
        builder.prefix(".pilumen-").suffix(UNFINISHED);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // As any program's files: what the user's mask leaves of reading and writing for all.
            builder.permissions(fs::Permissions::from_mode(0o666));
        }
        builder.tempfile_in(&self.path)
    }

    /// Gives a finished file its name.
    pub(super) fn finish(&self, mut file: NamedTempFile, name: &str) -> io::Result<()> {
        file.flush()?;
        file.persist(self.path.join(name)).map(|_| ()).map_err(|failed| failed.error)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::io::Write;
    use std::path::{Path, PathBuf};

    use super::Folder;

    #[test]
    fn photos_of_one_name_have_names_of_their_own() {
        let place = tempfile::tempdir().unwrap();
        let mut folder = Folder::new(&place.path().join("out"), &[]).unwrap();
        let names = ["a/moth.jpg", "b/moth.jpg", "a/moth.png", "moth-2.jpg", "c/MOTH.jpg", "tansy.tif"];
        let given: Vec<String> = names.map(|name| folder.name_for(Path::new(name), &[".json"])).to_vec();
        assert_eq!(given, ["moth", "moth-2", "moth-3", "moth-2-2", "MOTH-4", "tansy"]);
    }

    #[test]
    fn no_result_replaces_a_photo_of_the_run() {
        let place = tempfile::tempdir().unwrap();
        let photos: Vec<PathBuf> = ["oriel.png", "oriel.marked.png"].map(|name| place.path().join(name)).to_vec();
        photos.iter().for_each(|photo| fs::write(photo, "photo").unwrap());
        let mut folder = Folder::new(place.path(), &photos).unwrap();
        assert_eq!(folder.name_for(&photos[0], &[".json", ".marked.png"]), "oriel-2");
    }

    #[test]
    fn a_file_is_there_whole_or_not_at_all() {
        let place = tempfile::tempdir().unwrap();
        let folder = Folder::new(place.path(), &[]).unwrap();
        let names = || {
            let mut names: Vec<String> =
                fs::read_dir(place.path()).unwrap().map(|f| f.unwrap().file_name().into_string().unwrap()).collect();
            names.sort();
            names
        };
        let mut growing = folder.begin().unwrap();
        growing.write_all(b"half").unwrap();
        assert!(names().iter().all(|name| name.ends_with(super::UNFINISHED)));
        drop(growing);
        assert!(names().is_empty(), "what was given up has vanished");
        folder.write("tansy.json", b"{}").unwrap();
        folder.write("tansy.json", b"[]").unwrap();
        assert_eq!(names(), ["tansy.json"]);
        assert_eq!(fs::read(place.path().join("tansy.json")).unwrap(), b"[]");
    }
}
