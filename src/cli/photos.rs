//! The photos a user names: files, and all pictures in a folder; one of them read.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::{Path, PathBuf};

use super::guard::guarded;
use super::terminal::{said, small};
use crate::finding::Model;
use crate::pipeline::{self, Reading, VisiblePhoto, Want};
use crate::settings::Settings;

/// Endings of files that are taken for pictures when a folder is named. Those that are not read are among them, so
/// that a person is told and no photo is passed over in silence.
const ENDINGS: [&str; 22] = [
    "jpg", "jpeg", "jpe", "jfif", "png", "webp", "tif", "tiff", "heic", "heif", "hif", "avif", "jxl", "jp2", "gif",
    "bmp", "dng", "cr2", "cr3", "nef", "arw", "raf",
];

/// How the marked photos end that this program writes: no photos to read.
const MARKED: &str = ".marked.png";

/// A file may have this many bytes for each pixel that may be decoded: 16 bits a channel with opacity, uncompressed.
const BYTES_PER_PIXEL: u64 = 8;

/// And this many beside its pixels, for previews, profiles and notes.
const BYTES_BESIDE: u64 = 64 << 20;

/// A photo to read, or what cannot be: its path and a sentence.
pub(super) type Named = Result<PathBuf, (PathBuf, String)>;

/// The photos that arguments name, in their order; those of a folder sorted by name.
pub(super) fn named(arguments: &[PathBuf]) -> Vec<Named> {
    let mut photos = Vec::new();
    for path in arguments {
        if !path.is_dir() {
            photos.push(Ok(path.clone()));
            continue;
        }
        match pictures_in(path) {
            Ok(found) if found.is_empty() => {
                let sentence = "there is no picture in this folder; folders inside it are not entered, name them too";
                photos.push(Err((path.clone(), sentence.to_owned())));
            }
            Ok(found) => photos.extend(found.into_iter().map(Ok)),
            Err(error) => {
                let sentence = format!("the folder cannot be read: {}; change its permissions", said(&error));
                photos.push(Err((path.clone(), sentence)));
            }
        }
    }
    photos
}

/// The pictures in a folder, sorted by name, hidden files and marked photos left out; folders in it are not entered.
fn pictures_in(folder: &Path) -> io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        let name = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
        let ending = name.rsplit_once('.').map_or("", |(_, ending)| ending);
        let picture = ENDINGS.contains(&ending) && !name.starts_with('.') && !name.ends_with(MARKED);
        if picture && !path.is_dir() {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// The name of a photo without its folder.
pub(super) fn file_name(photo: &Path) -> String {
    photo.file_name().unwrap_or(photo.as_os_str()).to_string_lossy().into_owned()
}

/// One photo's bytes and what was read of them, or a sentence on why not and what to do.
pub(super) fn read(photo: &Path, settings: &Settings, model: &Model, want: Want) -> Result<(Vec<u8>, Reading), String> {
    let bytes = bytes_of(photo, settings)?;
    let reading = read_bytes(&file_name(photo), &bytes, settings, model, want)?;
    Ok((bytes, reading))
}

/// A photo's bytes read, or a sentence on why not and what to do. `name` is its file name without the folder.
pub(super) fn read_bytes(
    name: &str,
    bytes: &[u8],
    settings: &Settings,
    model: &Model,
    want: Want,
) -> Result<Reading, String> {
    let read = guarded(|| pipeline::read(name, bytes, settings, model, want))?;
    read.map_err(|error| format!("{}; {}", small(&error.to_string()), small(error.help())))
}

/// A photo and a second one of its field in visible light read together, or a sentence on why not and what to do.
pub(super) fn read_pair(
    name: &str,
    bytes: &[u8],
    visible: VisiblePhoto,
    settings: &Settings,
    model: &Model,
    want: Want,
) -> Result<Reading, String> {
    let read = guarded(|| pipeline::read_with_visible(name, bytes, visible, settings, model, want))?;
    read.map_err(|error| format!("{}; {}", small(&error.to_string()), small(error.help())))
}

/// The bytes of a photo, or a sentence on why there are none to read.
pub(super) fn bytes_of(photo: &Path, settings: &Settings) -> Result<Vec<u8>, String> {
    let sentence = |error: &io::Error| match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => "there is no such file; check its name".to_owned(),
        ErrorKind::PermissionDenied => {
            "reading it is not permitted; change its permissions, or copy it to a place of your own".to_owned()
        }
        _ => format!("it cannot be read: {}; copy it from the camera again", said(error)),
    };
    let about = fs::metadata(photo).map_err(|error| sentence(&error))?;
    if about.is_dir() {
        return Err("it is a folder; name a photo".to_owned());
    }
    let limit = settings.max_pixels().saturating_mul(BYTES_PER_PIXEL).saturating_add(BYTES_BESIDE);
    let too_large = || {
        format!("it is larger than {} megabytes; give a larger --max-megapixels if it is a photo", limit / 1_000_000)
    };
    if !about.is_file() && !is_pipe(&about) {
        return Err("it is no file; give the name of a photo".to_owned());
    }
    if about.len() > limit {
        return Err(too_large());
    }
    let mut bytes = Vec::new();
    let file = File::open(photo).map_err(|error| sentence(&error))?;
    file.take(limit + 1).read_to_end(&mut bytes).map_err(|error| sentence(&error))?;
    if bytes.is_empty() {
        return Err("it is empty; copy it from the camera again".to_owned());
    }
    if bytes.len() as u64 > limit {
        return Err(too_large());
    }
    Ok(bytes)
}

/// Another program may hand over a photo through a pipe that has a name.
#[cfg(unix)]
fn is_pipe(about: &fs::Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt;
    about.file_type().is_fifo()
}

#[cfg(not(unix))]
fn is_pipe(_about: &fs::Metadata) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::named;

    #[test]
    fn a_folder_gives_its_pictures_in_order() {
        let place = tempfile::tempdir().unwrap();
        for name in ["b.JPG", "a.png", "a.marked.png", ".hidden.jpg", "notes.txt", "c.heic", "shafts.csv"] {
            fs::write(place.path().join(name), "x").unwrap();
        }
        fs::create_dir(place.path().join("deeper.png")).unwrap();
        let found = named(&[place.path().to_owned(), "alone.jpg".into()]);
        let names: Vec<String> =
            found.iter().map(|one| one.as_ref().unwrap().file_name().unwrap().to_string_lossy().into_owned()).collect();
        assert_eq!(names, ["a.png", "b.JPG", "c.heic", "alone.jpg"]);
        let empty = named(&[place.path().join("deeper.png")]);
        assert!(empty[0].as_ref().unwrap_err().1.contains("no picture"));
    }
}
