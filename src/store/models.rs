//! Models grown with a record's own confirmed cases: kept beside the record, each under its digest, none ever lost.
//!
//! In the record's folder `model/`: `DIGEST.json` (a model), `DIGEST.about.json` (how it was grown and how it compared
//! with the one before; an earlier comparison stays beside it as `DIGEST.about-N.json`), `in-use` (the digest of the accepted one; absent: the program's own judges) and `proposed` (the
//! digest of one that nobody has accepted yet). The model that comes with the program is never touched.

use std::fs;
use std::io::{self, ErrorKind, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};
use tempfile::NamedTempFile;

use super::error::StoreError;
use super::photos::is_digest;

/// The folder in that of the record.
pub(super) const FOLDER: &str = "model";

/// Names the accepted model.
const IN_USE: &str = "in-use";

/// Names the model that was grown last and not accepted.
const PROPOSED: &str = "proposed";

/// How a model was grown, and how it compared.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct About {
    /// When it was grown, RFC 3339.
    pub grown_at: String,
    /// Version of the program that grew it.
    pub version: String,
    /// Digest of the model that judged until then.
    pub compared_with: String,
    /// Ids of the animals whose confirmed shafts it was grown on.
    pub animals: Vec<String>,
    /// Their confirmed shafts.
    pub n_shafts: usize,
    /// The comparison with the model before, Markdown.
    pub comparison: String,
    /// On what it is worse than the model before, beyond chance, in words; empty where it is not.
    #[serde(default)]
    pub worse_on: Vec<String>,
}

/// One model of the record's own.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OwnModel {
    /// Its digest, SHA-256, 64 hexadecimal digits.
    pub sha256: String,
    /// The file's bytes, which have that digest.
    pub bytes: Vec<u8>,
    /// How it was grown.
    pub about: About,
}

/// The models of the record in a folder. Nothing is made before something is kept.
#[derive(Clone, Debug)]
pub struct OwnModels {
    folder: PathBuf,
}

impl OwnModels {
    /// Those of the record in `record`, which need not exist.
    pub fn of(record: &Path) -> OwnModels {
        OwnModels { folder: record.join(FOLDER) }
    }

    /// Where they lie.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// The accepted model; `None` when the program's own judges.
    ///
    /// # Errors
    /// When one was accepted and cannot be read or is damaged.
    pub fn in_use(&self) -> Result<Option<OwnModel>, StoreError> {
        self.named_in(IN_USE)
    }

    /// The model that was grown last and waits for somebody to accept it.
    ///
    /// # Errors
    /// When there is one and it cannot be read or is damaged.
    pub fn proposed(&self) -> Result<Option<OwnModel>, StoreError> {
        self.named_in(PROPOSED)
    }

    /// The model of this digest, accepted or not; `None` when it was never here.
    ///
    /// # Errors
    /// When it is here and cannot be read or is damaged.
    pub fn of_digest(&self, sha256: &str) -> Result<Option<OwnModel>, StoreError> {
        if !is_digest(sha256) || !self.file(sha256, "json").exists() { Ok(None) } else { self.read(sha256).map(Some) }
    }

    /// Keeps a model as the proposed one; nothing judges by it yet.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn propose(&self, model: &OwnModel) -> Result<(), StoreError> {
        fs::create_dir_all(&self.folder).map_err(|error| self.failed(&error))?;
        self.write_about(model)?;
        self.write(&self.file(&model.sha256, "json"), &model.bytes)?;
        self.write(&self.folder.join(PROPOSED), model.sha256.as_bytes())
    }

    /// From now on the proposed model judges.
    ///
    /// # Errors
    /// When none is proposed, or the disk does not take it.
    pub fn accept(&self) -> Result<OwnModel, StoreError> {
        let nothing = || StoreError::Unusable("no model is proposed; grow one first".to_owned());
        let model = self.proposed()?.ok_or_else(nothing)?;
        self.write(&self.folder.join(IN_USE), model.sha256.as_bytes())?;
        self.remove(PROPOSED)?;
        Ok(model)
    }

    /// From now on the program's own model judges again; the others stay kept.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn back_to_the_programs(&self) -> Result<(), StoreError> {
        self.remove(IN_USE)
    }

    /// Writes how a model was grown; what was told of the same model before keeps a name of its own.
    fn write_about(&self, model: &OwnModel) -> Result<(), StoreError> {
        let about = serde_json::to_vec_pretty(&model.about).unwrap_or_default();
        let path = self.file(&model.sha256, "about.json");
        if fs::read(&path).is_ok_and(|before| before != about) {
            let free =
                (1_u32..).map(|n| self.file(&model.sha256, &format!("about-{n}.json"))).find(|name| !name.exists());
            if let Some(free) = free {
                fs::copy(&path, &free).map_err(|error| StoreError::io(&free, &error))?;
            }
        }
        self.write(&path, &about)
    }

    fn named_in(&self, name: &str) -> Result<Option<OwnModel>, StoreError> {
        let path = self.folder.join(name);
        let named = match fs::read_to_string(&path) {
            Err(error) if error.kind() == ErrorKind::NotFound => return Ok(None),
            other => other.map_err(|error| StoreError::io(&path, &error))?,
        };
        let sha256 = named.trim();
        if !is_digest(sha256) {
            return Err(self.damaged(&format!("{} names no model", path.display())));
        }
        self.read(sha256).map(Some)
    }

    fn read(&self, sha256: &str) -> Result<OwnModel, StoreError> {
        let path = self.file(sha256, "json");
        let bytes = fs::read(&path).map_err(|error| StoreError::io(&path, &error))?;
        if super::digest(&bytes) != sha256 {
            return Err(self.damaged(&format!("{} has another digest than its name", path.display())));
        }
        // Without it nobody knows which animals the model has seen, and its agreement with culture would be flattered.
        let told = self.file(sha256, "about.json");
        let about = fs::read(&told).ok().and_then(|about| serde_json::from_slice(&about).ok());
        let about = about.ok_or_else(|| self.damaged(&format!("{} does not tell how it was grown", told.display())))?;
        Ok(OwnModel { sha256: sha256.to_owned(), bytes, about })
    }

    fn file(&self, sha256: &str, ending: &str) -> PathBuf {
        self.folder.join(format!("{sha256}.{ending}"))
    }

    /// Writes a file whole or not at all.
    fn write(&self, path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
        let written = || -> io::Result<()> {
            let mut file = NamedTempFile::new_in(&self.folder)?;
            file.write_all(bytes)?;
            file.as_file().sync_all()?;
            file.persist(path).map_err(|error| error.error)?;
            Ok(())
        };
        written().map_err(|error| StoreError::io(path, &error))
    }

    fn remove(&self, name: &str) -> Result<(), StoreError> {
        match fs::remove_file(self.folder.join(name)) {
            Err(error) if error.kind() != ErrorKind::NotFound => Err(self.failed(&error)),
            _ => Ok(()),
        }
    }

    fn failed(&self, error: &io::Error) -> StoreError {
        StoreError::io(&self.folder, error)
    }

    fn damaged(&self, what: &str) -> StoreError {
        StoreError::Unusable(format!(
            "the model grown with your own cases cannot be used: {what}; go back to the program's own with \
             `pilumen train --with-record {} --back`",
            self.folder.parent().unwrap_or(&self.folder).display()
        ))
    }
}

/// Copies the models of the record in `from` into its backup in `to`; earlier models there stay. Which one judges is as it
/// is now, also where none does.
pub(super) fn copy(from: &Path, to: &Path) -> io::Result<()> {
    let (from, to) = (from.join(FOLDER), to.join(FOLDER));
    if !from.is_dir() {
        return Ok(());
    }
    fs::create_dir_all(&to)?;
    for entry in fs::read_dir(&from)? {
        let entry = entry?;
        if entry.file_type()?.is_file() {
            fs::copy(entry.path(), to.join(entry.file_name()))?;
        }
    }
    for name in [IN_USE, PROPOSED] {
        if !from.join(name).exists() && to.join(name).exists() {
            fs::remove_file(to.join(name))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::{About, OwnModel, OwnModels};

    fn model(words: &str) -> OwnModel {
        let bytes = words.as_bytes().to_vec();
        let about = About { n_shafts: 7, ..About::default() };
        OwnModel { sha256: crate::store::digest(&bytes), bytes, about }
    }

    #[test]
    fn nothing_judges_before_it_is_accepted_and_nothing_is_lost() {
        let place = tempfile::tempdir().unwrap();
        let models = OwnModels::of(place.path());
        assert_eq!((models.in_use().unwrap(), models.proposed().unwrap()), (None, None));
        assert!(models.accept().is_err());
        let (first, second) = (model("first"), model("second"));
        models.propose(&first).unwrap();
        assert_eq!((models.in_use().unwrap(), models.proposed().unwrap()), (None, Some(first.clone())));
        assert_eq!(models.accept().unwrap(), first);
        models.propose(&second).unwrap();
        assert_eq!(models.in_use().unwrap(), Some(first.clone()));
        models.accept().unwrap();
        assert_eq!((models.in_use().unwrap(), models.proposed().unwrap()), (Some(second), None));
        assert_eq!(models.of_digest(&first.sha256).unwrap(), Some(first.clone()));
        // The same model again, compared with another: what was told before is kept.
        let again = OwnModel { about: About { n_shafts: 8, ..About::default() }, ..first.clone() };
        models.propose(&again).unwrap();
        assert_eq!(models.proposed().unwrap(), Some(again.clone()));
        models.propose(&again).unwrap();
        let told = |n: u32| models.folder().join(format!("{}.about-{n}.json", first.sha256));
        let before: About = serde_json::from_slice(&std::fs::read(told(1)).unwrap()).unwrap();
        assert_eq!((before, told(2).exists()), (first.about, false));
        models.back_to_the_programs().unwrap();
        assert_eq!(models.in_use().unwrap(), None);
    }

    #[test]
    fn a_damaged_model_is_refused_with_the_way_back() {
        let place = tempfile::tempdir().unwrap();
        let models = OwnModels::of(place.path());
        let kept = model("first");
        models.propose(&kept).unwrap();
        models.accept().unwrap();
        std::fs::write(models.folder().join(format!("{}.json", kept.sha256)), "other").unwrap();
        let refused = models.in_use().unwrap_err().to_string();
        assert!(refused.contains("--back"), "{refused}");
        std::fs::write(models.folder().join(format!("{}.json", kept.sha256)), &kept.bytes).unwrap();
        assert_eq!(models.in_use().unwrap(), Some(kept.clone()));
        std::fs::write(models.folder().join(format!("{}.about.json", kept.sha256)), "{").unwrap();
        let refused = models.in_use().unwrap_err().to_string();
        assert!(refused.contains("does not tell how it was grown") && refused.contains("--back"), "{refused}");
        std::fs::write(models.folder().join("in-use"), "../../etc/passwd").unwrap();
        assert!(models.in_use().is_err());
    }
}
