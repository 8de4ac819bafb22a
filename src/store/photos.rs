//! The photos: each a file under the SHA-256 digest of its bytes, exactly as it came, written once.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

use super::error::StoreError;

/// What is being written and has no name yet begins so.
const UNFINISHED: &str = "unfinished-";

/// Hexadecimal digits of a digest that name its folder: 256 folders, so that 100,000 photos lie 400 a folder.
const FOLDER_DIGITS: usize = 2;

/// Bytes read at once when a file is digested.
const CHUNK: usize = 1 << 16;

/// The folder of photos.
#[derive(Clone, Debug)]
pub(super) struct Photos {
    folder: PathBuf,
}

/// What a look through the whole folder found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Look {
    /// Digests of the photos whose bytes are as they were.
    pub(super) whole: Vec<String>,
    /// Digests of those whose bytes are not.
    pub(super) damaged: Vec<String>,
    /// Names of files that are no photos.
    pub(super) strange: Vec<String>,
    /// Number of files left by programs that were ended while they wrote.
    pub(super) unfinished: usize,
}

impl Photos {
    /// The photos in a folder, which is made with the first photo.
    pub(super) fn new(folder: PathBuf) -> Photos {
        Photos { folder }
    }

    /// Where they lie.
    pub(super) fn folder(&self) -> &Path {
        &self.folder
    }

    /// Where the photo of this digest lies, or would.
    pub(super) fn path(&self, sha256: &str) -> PathBuf {
        let start = sha256.get(..FOLDER_DIGITS).unwrap_or(sha256);
        self.folder.join(start).join(sha256)
    }

    /// Keeps bytes; returns their digest when they have reached the disk under their name.
    ///
    /// # Errors
    /// When the disk does not take them.
    pub(super) fn keep(&self, bytes: &[u8]) -> Result<String, StoreError> {
        let sha256 = digest(bytes);
        let path = self.path(&sha256);
        // A file of an import that was cut short may be there already, whole or, on a bad disk, not.
        if fs::read(&path).is_ok_and(|there| there == bytes) {
            // Its name may not have reached the disk then.
            self.sync(path.parent())?;
            return Ok(sha256);
        }
        let folder = path.parent().unwrap_or(&self.folder);
        let failed = |error: &io::Error| StoreError::io(folder, error);
        let is_new = !folder.exists();
        fs::create_dir_all(folder).map_err(|error| failed(&error))?;
        let mut file =
            tempfile::Builder::new().prefix(UNFINISHED).tempfile_in(folder).map_err(|error| failed(&error))?;
        file.write_all(bytes).map_err(|error| failed(&error))?;
        readable(file.as_file()).map_err(|error| failed(&error))?;
        file.as_file().sync_all().map_err(|error| failed(&error))?;
        file.persist(&path).map_err(|failure| failed(&failure.error))?;
        self.sync(Some(folder))?;
        if is_new {
            self.sync(Some(&self.folder))?;
            self.sync(self.folder.parent())?;
        }
        Ok(sha256)
    }

    /// The bytes of a photo, digested anew.
    ///
    /// # Errors
    /// When the photo is gone, cannot be read, or has other bytes than it was kept with.
    pub(super) fn bytes(&self, sha256: &str) -> Result<Vec<u8>, StoreError> {
        let path = self.path(sha256);
        let damaged = |what| StoreError::DamagedPhoto { sha256: sha256.to_owned(), what };
        let bytes = fs::read(&path).map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => damaged("missing"),
            _ => StoreError::io(&path, &error),
        })?;
        if digest(&bytes) == sha256 { Ok(bytes) } else { Err(damaged("damaged")) }
    }

    /// Looks at every file: is each as it was when it was kept?
    pub(super) fn look(&self) -> Look {
        let mut look = Look::default();
        for folder in entries(&self.folder) {
            if !folder.is_dir() {
                look.strange.push(name(&folder));
                continue;
            }
            for file in entries(&folder) {
                let name = name(&file);
                if name.starts_with(UNFINISHED) {
                    look.unfinished += 1;
                } else if !is_digest(&name) || self.path(&name) != file {
                    look.strange.push(name);
                } else if digest_of_file(&file).is_ok_and(|found| found == name) {
                    look.whole.push(name);
                } else {
                    look.damaged.push(name);
                }
            }
        }
        look.whole.sort();
        look.damaged.sort();
        look.strange.sort();
        look
    }

    /// Removes what programs left that were ended while they wrote. Only to be called by the one writer.
    pub(super) fn tidy(&self) {
        let folders = entries(&self.folder).into_iter().filter(|path| path.is_dir());
        for file in folders.flat_map(|folder| entries(&folder)).filter(|path| name(path).starts_with(UNFINISHED)) {
            // What cannot be removed does no harm.
            let _ = fs::remove_file(file);
        }
    }

    /// Makes the names in a folder reach the disk.
    fn sync(&self, folder: Option<&Path>) -> Result<(), StoreError> {
        folder.map_or(Ok(()), |folder| sync_folder(folder).map_err(|error| StoreError::io(folder, &error)))
    }
}

/// Makes the names in a folder reach the disk, where the system lets a folder be opened for that.
pub(super) fn sync_folder(folder: &Path) -> io::Result<()> {
    if cfg!(unix) {
        let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        File::open(folder)?.sync_all()?;
    }
    Ok(())
}

/// As any program's files: what the user's mask would have left of reading for all.
fn readable(file: &File) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // Nobody, the owner included, writes to a photo that is kept.
        file.set_permissions(fs::Permissions::from_mode(0o444))?;
    }
    let _ = file;
    Ok(())
}

/// Whether a text is a digest as it is written here: 64 hexadecimal digits in small letters.
pub(super) fn is_digest(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|byte| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte))
}

/// SHA-256 of bytes (FIPS 180-4), 64 hexadecimal digits.
pub fn digest(bytes: &[u8]) -> String {
    hexadecimal(&Sha256::digest(bytes))
}

/// Digits of a digest.
pub(super) fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// SHA-256 of a file.
pub(super) fn digest_of_file(path: &Path) -> io::Result<String> {
    let mut file = File::open(path)?;
    let mut hasher = Sha256::new();
    let mut chunk = vec![0; CHUNK];
    loop {
        match file.read(&mut chunk)? {
            0 => return Ok(hexadecimal(&hasher.finalize())),
            n => hasher.update(&chunk[..n]),
        }
    }
}

fn entries(folder: &Path) -> Vec<PathBuf> {
    fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path()).collect()
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::{Photos, digest, is_digest};

    #[test]
    fn bytes_come_back_as_they_came() {
        let place = tempfile::tempdir().unwrap();
        let photos = Photos::new(place.path().join("photos"));
        let sha256 = photos.keep(b"abc").unwrap();
        // FIPS 180-4, the published example for the message "abc".
        assert_eq!(sha256, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(photos.keep(b"abc").unwrap(), sha256, "twice is once");
        assert_eq!(photos.bytes(&sha256).unwrap(), b"abc");
        assert!(is_digest(&sha256) && !is_digest("../../etc/passwd") && !is_digest(&sha256.to_uppercase()));
    }

    #[test]
    fn what_changed_or_vanished_is_found() {
        let place = tempfile::tempdir().unwrap();
        let photos = Photos::new(place.path().join("photos"));
        let (one, two) = (photos.keep(b"one").unwrap(), photos.keep(b"two").unwrap());
        fs::remove_file(photos.path(&one)).unwrap();
        fs::write(photos.path(&one), b"onf").unwrap();
        fs::write(photos.path(&two).with_file_name("unfinished-x"), b"tw").unwrap();
        fs::write(place.path().join("photos/readme"), b"").unwrap();
        let look = photos.look();
        assert_eq!((look.whole, look.damaged, look.unfinished), (vec![two.clone()], vec![one.clone()], 1));
        assert_eq!(look.strange, ["readme"]);
        assert!(photos.bytes(&one).unwrap_err().to_string().contains("damaged"));
        assert!(photos.bytes(&digest(b"none")).unwrap_err().to_string().contains("missing"));
        photos.tidy();
        assert_eq!(photos.look().unfinished, 0);
        photos.keep(b"one").unwrap();
        assert_eq!(photos.bytes(&one).unwrap(), b"one", "an import of the same bytes mends it");
    }
}
