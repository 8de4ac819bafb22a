//! Reading a pack that somebody else may have made: nothing is believed, nothing is written to a path it names.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;

use sha2::{Digest, Sha256};
use zip::ZipArchive;

use super::bag::{self, BAGIT, FETCH, MANIFEST, PAYLOAD, TAG_MANIFEST};
use crate::store::photos::hexadecimal;

/// A pack may unpack to this many times its own size: text packs to a tenth or twentieth, photos hardly at all.
const MOST_GROWTH: u64 = 25;

/// And to this many bytes beside, for small packs of mostly text.
const GROWTH_BESIDE: u64 = 64 << 20;

/// Most files in a pack: far more photos than one animal was ever taken of.
const MOST_FILES: usize = 200_000;

/// Longest text file in a pack that is read whole, bytes.
const MOST_TEXT: u64 = 1 << 30;

/// Bytes read at once when digesting.
const CHUNK: usize = 1 << 16;

/// A pack whose every payload file was held against its digest.
pub(super) struct Pack {
    archive: ZipArchive<BufReader<File>>,
    /// Place in the archive by path inside the bag.
    places: BTreeMap<String, usize>,
    /// Digests of the payload by path.
    pub(super) digests: BTreeMap<String, String>,
}

impl Pack {
    /// Opens a pack and proves it.
    ///
    /// # Errors
    /// A sentence, without its file's name, when it is no bag in a zip file, climbs out of itself, unpacks to far more
    /// than it is, or a file in it does not have its digest.
    pub(super) fn open(path: &Path) -> Result<Pack, String> {
        let file = File::open(path).map_err(|error| match error.kind() {
            std::io::ErrorKind::NotFound => "there is no such file".to_owned(),
            _ => format!("it cannot be read ({error})"),
        })?;
        let n_bytes = file.metadata().map_err(|error| error.to_string())?.len();
        let mut archive =
            ZipArchive::new(BufReader::new(file)).map_err(|error| format!("it is no zip file ({error})"))?;
        if archive.len() > MOST_FILES {
            return Err(format!("it holds {} files, more than {MOST_FILES}", archive.len()));
        }
        let budget = n_bytes.saturating_mul(MOST_GROWTH).saturating_add(GROWTH_BESIDE);
        let places = places(&mut archive, budget)?;
        let mut pack = Pack { archive, places, digests: BTreeMap::new() };
        pack.prove(budget)?;
        Ok(pack)
    }

    fn prove(&mut self, mut budget: u64) -> Result<(), String> {
        if self.places.contains_key(FETCH) {
            return Err("parts of it are to be fetched from elsewhere, which is not done".to_owned());
        }
        let declaration = self.text(BAGIT)?;
        let version = declaration.lines().next().unwrap_or_default().strip_prefix("BagIt-Version:").map(str::trim);
        if !matches!(version, Some("1.0" | "0.97")) {
            return Err("its bagit.txt names no version of BagIt that is known here".to_owned());
        }
        self.digests = bag::parsed(&self.text(MANIFEST)?)?;
        let payload: BTreeSet<&String> = self.places.keys().filter(|path| path.starts_with(PAYLOAD)).collect();
        let named: BTreeSet<&String> = self.digests.keys().collect();
        if let Some(path) = payload.difference(&named).next() {
            return Err(format!("{path} is in it but not in its manifest"));
        }
        if let Some(path) = named.difference(&payload).next() {
            return Err(format!("{path} is in its manifest but not in it"));
        }
        let mut digests = self.digests.clone();
        if self.places.contains_key(TAG_MANIFEST) {
            digests.extend(bag::parsed(&self.text(TAG_MANIFEST)?)?);
        }
        for (path, expected) in digests {
            let (found, n_read) = self.digest(&path, budget)?;
            budget -= n_read;
            if found != expected {
                return Err(format!("{path} has another digest than its manifest says"));
            }
        }
        Ok(())
    }

    /// The digest and length of a file, reading at most `most` bytes.
    fn digest(&mut self, path: &str, most: u64) -> Result<(String, u64), String> {
        let place = *self.places.get(path).ok_or_else(|| format!("{path} is in its manifest but not in it"))?;
        let mut file = self.archive.by_index(place).map_err(|error| format!("{path} cannot be unpacked ({error})"))?;
        let mut hasher = Sha256::new();
        let mut chunk = vec![0; CHUNK];
        let mut n_read = 0;
        loop {
            let n = file.read(&mut chunk).map_err(|error| format!("{path} cannot be unpacked ({error})"))?;
            if n == 0 {
                return Ok((hexadecimal(&hasher.finalize()), n_read));
            }
            n_read += n as u64;
            if n_read > most {
                return Err(too_much());
            }
            hasher.update(&chunk[..n]);
        }
    }

    /// A file of the bag, whole, held against its digest once more where it has one: the pack may have changed
    /// since it was proved.
    ///
    /// # Errors
    /// A sentence when it is not there or cannot be unpacked.
    pub(super) fn bytes(&mut self, path: &str) -> Result<Vec<u8>, String> {
        let place = *self.places.get(path).ok_or_else(|| format!("{path} is not in it"))?;
        let file = self.archive.by_index(place).map_err(|error| format!("{path} cannot be unpacked ({error})"))?;
        // What the archive says of its size was held against the budget.
        let size = file.size().min(MOST_TEXT);
        let mut bytes = Vec::new();
        file.take(size + 1).read_to_end(&mut bytes).map_err(|error| format!("{path} cannot be unpacked ({error})"))?;
        if bytes.len() as u64 > size {
            return Err(too_much());
        }
        match self.digests.get(path) {
            Some(digest) if *digest != crate::store::photos::digest(&bytes) => {
                Err(format!("{path} has another digest than its manifest says"))
            }
            _ => Ok(bytes),
        }
    }

    /// The same as text.
    pub(super) fn text(&mut self, path: &str) -> Result<String, String> {
        String::from_utf8(self.bytes(path)?).map_err(|_| format!("{path} is no text"))
    }
}

/// Where each file lies in the archive, by its path inside the one folder at the top.
fn places(archive: &mut ZipArchive<BufReader<File>>, budget: u64) -> Result<BTreeMap<String, usize>, String> {
    let mut places = BTreeMap::new();
    let mut tops = BTreeSet::new();
    let mut total: u64 = 0;
    for place in 0..archive.len() {
        let file = archive.by_index_raw(place).map_err(|error| format!("it is damaged ({error})"))?;
        let name = file.name().map_err(|error| format!("it is damaged ({error})"))?.into_owned();
        bag::inside(name.trim_end_matches('/'))?;
        if file.is_symlink() {
            return Err(format!("{name:?} is a link to another file"));
        }
        if file.encrypted() {
            return Err("it is locked with a password".to_owned());
        }
        total = total.saturating_add(file.size());
        if total > budget {
            return Err(too_much());
        }
        let (top, path) = name.split_once('/').ok_or_else(|| format!("{name:?} lies beside its folder"))?;
        tops.insert(top.to_owned());
        if !file.is_dir() && places.insert(path.to_owned(), place).is_some() {
            return Err(format!("it holds {name:?} twice"));
        }
    }
    if tops.len() > 1 {
        return Err("it holds more than one folder at its top".to_owned());
    }
    Ok(places)
}

fn too_much() -> String {
    format!("it unpacks to more than {MOST_GROWTH} times its size, which no case does")
}
