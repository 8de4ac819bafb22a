//! Writing a pack: the file is there whole or not at all.

use std::collections::BTreeMap;
use std::io::{self, Seek, Write};
use std::path::Path;

use tempfile::NamedTempFile;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::bag::{self, BAGIT, DECLARATION, INFO, MANIFEST, TAG_MANIFEST};
use super::case_file::CaseFile;
use super::{CASE, CASE_SCHEMA, EVALUATIONS, INDEX, PHOTOS, Packed, SCHEMA_TEXT, page, photo_path};
use crate::store::Store;
use crate::store::error::StoreError;
use crate::store::facts::{Kind, Photo};
use crate::store::kept::{Stamp, parsed, short};
use crate::store::photos::{digest, sync_folder};

impl Store {
    /// Packs everything about an animal into a new file.
    ///
    /// # Errors
    /// When the file is there already or cannot be written, or a fact or photo of the case is damaged: a pack is
    /// whole or is not made.
    pub fn pack(&self, animal: &str, file: &Path, stamp: &Stamp) -> Result<Packed, StoreError> {
        if file.exists() {
            return Err(StoreError::Unusable(format!("{} is there already; name another file", file.display())));
        }
        let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let failed = |error: io::Error| StoreError::io(folder, &error);
        let case = self.case(animal)?;
        let rows = self.database.case(animal)?;
        let name = case.animal.fact.name.clone();
        let mut packed = Packed { animal: animal.to_owned(), name, ..Packed::default() };
        let temporary = tempfile::Builder::new().prefix(".pilumen-").suffix(".unfinished").tempfile_in(folder);
        let mut zip = Bag::new(temporary.map_err(failed)?, &format!("pilumen-case-{}/", short(animal)));

        let facts = CaseFile::of(animal, &rows).and_then(|facts| serde_json::to_string_pretty(&facts));
        let facts = facts.map_err(|error| StoreError::Unusable(format!("the case cannot be written: {error}")))?;
        zip.payload(CASE, facts.as_bytes()).map_err(failed)?;
        zip.payload(CASE_SCHEMA, SCHEMA_TEXT.as_bytes()).map_err(failed)?;
        let mut photos: BTreeMap<String, String> = BTreeMap::new();
        for row in &rows {
            *packed.facts.entry(row.kind.word().to_owned()).or_default() += 1;
            match row.kind {
                Kind::Photo => {
                    let photo: Photo = parsed(row)?;
                    let path = photo_path(&photo.sha256, &photo.file);
                    zip.payload(&path, &self.photos.bytes(&photo.sha256)?).map_err(failed)?;
                    photos.insert(row.id.clone(), path);
                    packed.n_photos += 1;
                }
                Kind::Reading => {
                    let text = self.evaluation_text(&row.id)?;
                    zip.payload(&format!("{EVALUATIONS}{}.json", row.id), text.as_bytes()).map_err(failed)?;
                }
                _ => (),
            }
        }
        let index = page::page(&case, &photos, &self.rules()?, stamp);
        zip.payload(INDEX, index.as_bytes()).map_err(failed)?;
        let written = zip.finish(&packed, stamp).map_err(failed)?;
        written.persist_noclobber(file).map_err(|error| failed(error.error))?;
        sync_folder(folder).map_err(failed)?;
        Ok(packed)
    }
}

/// A bag being written.
struct Bag {
    zip: ZipWriter<NamedTempFile>,
    /// The one folder at the top, with its slash.
    top: String,
    payload: BTreeMap<String, String>,
    tags: BTreeMap<String, String>,
    n_bytes: u64,
}

impl Bag {
    fn new(file: NamedTempFile, top: &str) -> Bag {
        let (payload, tags) = (BTreeMap::new(), BTreeMap::new());
        Bag { zip: ZipWriter::new(file), top: top.to_owned(), payload, tags, n_bytes: 0 }
    }

    fn payload(&mut self, path: &str, bytes: &[u8]) -> io::Result<()> {
        self.write(path, bytes)?;
        self.n_bytes += bytes.len() as u64;
        self.payload.insert(path.to_owned(), digest(bytes));
        Ok(())
    }

    fn tag(&mut self, path: &str, text: &str) -> io::Result<()> {
        self.write(path, text.as_bytes())?;
        self.tags.insert(path.to_owned(), digest(text.as_bytes()));
        Ok(())
    }

    fn write(&mut self, path: &str, bytes: &[u8]) -> io::Result<()> {
        // Photos are compressed already; all entries have the same date, so that equal cases give equal packs.
        let method = if path.starts_with(PHOTOS) { CompressionMethod::Stored } else { CompressionMethod::Deflated };
        let large = u32::try_from(bytes.len()).is_err();
        let options = SimpleFileOptions::default().compression_method(method).large_file(large).unix_permissions(0o644);
        self.zip.start_file(format!("{}{path}", self.top), options)?;
        self.zip.write_all(bytes)
    }

    /// The tag files, then the file as a whole on the disk.
    fn finish(mut self, packed: &Packed, stamp: &Stamp) -> io::Result<NamedTempFile> {
        self.tag(BAGIT, DECLARATION)?;
        let info = format!(
            "Bag-Software-Agent: pilumen {}\nBagging-Date: {}\nExternal-Identifier: {}\nPayload-Oxum: {}\n",
            env!("CARGO_PKG_VERSION"),
            stamp.today,
            packed.animal,
            bag::oxum(self.n_bytes, self.payload.len()),
        );
        self.tag(INFO, &info)?;
        let manifest = bag::manifest(&self.payload);
        self.tag(MANIFEST, &manifest)?;
        let tags = bag::manifest(&self.tags);
        self.write(TAG_MANIFEST, tags.as_bytes())?;
        let mut file = self.zip.finish()?;
        file.flush()?;
        file.rewind()?;
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            // As any program's files; the maker of temporary files lets nobody else read them.
            file.as_file().set_permissions(std::fs::Permissions::from_mode(0o644))?;
        }
        file.as_file().sync_all()?;
        Ok(file)
    }
}
