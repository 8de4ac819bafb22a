//! The text files of a BagIt bag (RFC 8493): what is written in them and how they are read.

use std::collections::BTreeMap;

/// `bagit.txt` of a bag (RFC 8493, section 2.1.1).
pub(super) const DECLARATION: &str = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n";

/// Names of the tag files.
pub(super) const BAGIT: &str = "bagit.txt";
pub(super) const INFO: &str = "bag-info.txt";
pub(super) const MANIFEST: &str = "manifest-sha256.txt";
pub(super) const TAG_MANIFEST: &str = "tagmanifest-sha256.txt";
pub(super) const FETCH: &str = "fetch.txt";
/// Where the payload lies.
pub(super) const PAYLOAD: &str = "data/";

/// A manifest: digests by path (RFC 8493, section 2.1.3).
pub(super) fn manifest(digests: &BTreeMap<String, String>) -> String {
    digests.iter().map(|(path, digest)| format!("{digest}  {}\n", encoded(path))).collect()
}

/// The digests of a manifest by path.
///
/// # Errors
/// A sentence when a line is none, a path climbs out of the bag, or one is named twice.
pub(super) fn parsed(text: &str) -> Result<BTreeMap<String, String>, String> {
    let mut digests = BTreeMap::new();
    for line in text.lines().filter(|line| !line.trim().is_empty()) {
        let (digest, path) =
            line.split_once([' ', '\t']).ok_or_else(|| format!("a line of its manifest is none: {line:?}"))?;
        // An asterisk before the path marks a binary file in some tools' manifests (RFC 8493, section 2.1.3).
        let path = path.trim_start_matches([' ', '\t']).trim_start_matches('*');
        let path = decoded(path);
        inside(&path)?;
        if !super::super::photos::is_digest(&digest.to_lowercase()) {
            return Err(format!("its manifest has no SHA-256 digest for {path:?}"));
        }
        if digests.insert(path.clone(), digest.to_lowercase()).is_some() {
            return Err(format!("its manifest names {path:?} twice"));
        }
    }
    Ok(digests)
}

/// Checks that a path stays inside the bag: no root, no way up, no drive, no sign that steers a terminal.
///
/// # Errors
/// A sentence when it does not.
pub(super) fn inside(path: &str) -> Result<(), String> {
    let climbs = path.starts_with('/')
        || path.contains(['\\', ':'])
        || path.contains(char::is_control)
        || path.split('/').any(|part| part == ".." || part == ".")
        || path.is_empty();
    if climbs { Err(format!("the path {path:?} leads out of it")) } else { Ok(()) }
}

/// Payload-Oxum: bytes and files of the payload (RFC 8493, section 2.2.2).
pub(super) fn oxum(n_bytes: u64, n_files: usize) -> String {
    format!("{n_bytes}.{n_files}")
}

/// Line ends and percent signs in paths (RFC 8493, section 2.1.3).
fn encoded(path: &str) -> String {
    path.replace('%', "%25").replace('\n', "%0A").replace('\r', "%0D")
}

fn decoded(path: &str) -> String {
    path.replace("%0A", "\n").replace("%0a", "\n").replace("%0D", "\r").replace("%0d", "\r").replace("%25", "%")
}

#[cfg(test)]
mod tests {
    use super::{inside, manifest, parsed};

    #[test]
    fn a_manifest_is_read_as_it_is_written() {
        let digest = "0a".repeat(32);
        let digests = [("data/a b.json".to_owned(), digest.clone()), ("data/100%.txt".to_owned(), digest)].into();
        assert_eq!(parsed(&manifest(&digests)).unwrap(), digests);
    }

    #[test]
    fn paths_that_climb_are_refused() {
        for path in ["../x", "data/../../x", "/etc/x", "C:\\x", "data\\..\\x", "data/./x", "", "a\nb"] {
            assert!(inside(path).is_err(), "{path:?}");
        }
        assert!(inside("data/photos/ab.jpg").is_ok());
        let line = format!("{}  ../../etc/x\n", "0a".repeat(32));
        assert!(parsed(&line).unwrap_err().contains("leads out"));
        assert!(parsed("nonsense").is_err());
        assert!(parsed(&format!("{}  data/a\n", "0a".repeat(31))).is_err());
    }
}
