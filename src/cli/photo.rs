//! A photo from a file to what is read of it, with a sentence for everything that can go wrong.

use std::fs::{self, File};
use std::io::{self, ErrorKind, Read};
use std::path::Path;

use super::guard::guarded;
use super::terminal::{said, small};
use crate::finding::Model;
use crate::pipeline::{self, Reading, Want};
use crate::settings::Settings;

/// A file may have this many bytes for each pixel that may be decoded: 16 bits a channel with opacity, uncompressed.
const BYTES_PER_PIXEL: u64 = 8;

/// And this many beside its pixels, for previews, profiles and notes.
const BYTES_BESIDE: u64 = 64 << 20;

/// One photo read, or a sentence on why not and what to do.
pub(super) fn read(photo: &Path, settings: &Settings, model: &Model, want: Want) -> Result<Reading, String> {
    let bytes = bytes_of(photo, settings)?;
    let name = photo.file_name().unwrap_or(photo.as_os_str()).to_string_lossy().into_owned();
    let read = guarded(|| pipeline::read(&name, &bytes, settings, model, want))?;
    read.map_err(|error| format!("{}; {}", small(&error.to_string()), small(error.help())))
}

/// The bytes of a file, or a sentence on why there are none to read.
fn bytes_of(photo: &Path, settings: &Settings) -> Result<Vec<u8>, String> {
    let sentence = |error: &io::Error| match error.kind() {
        ErrorKind::NotFound | ErrorKind::NotADirectory => "there is no such file; check its name".to_owned(),
        ErrorKind::PermissionDenied => {
            "reading it is not permitted; change its permissions, or copy it to a place of your own".to_owned()
        }
        _ => format!("it cannot be read: {}; copy it from the camera again", said(error)),
    };
    let about = fs::metadata(photo).map_err(|error| sentence(&error))?;
    if about.is_dir() {
        return Err("it is a folder; name the photos in it, one by one or with a pattern such as *.jpg".to_owned());
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
