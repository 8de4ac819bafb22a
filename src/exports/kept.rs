//! A kept evaluation object read again: whether it still holds.
//!
//! So a backlog that was broken off goes on where it was, without reading photos twice.

use serde_json::Value;

use super::json::SCHEMA;

/// What must be the same for a kept evaluation to hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Made<'a> {
    /// File name of the photo without its folder.
    pub file: &'a str,
    /// Digest of the photo's bytes.
    pub sha256: &'a str,
    /// Version of the program.
    pub version: &'a str,
    /// Digest of the model.
    pub model_sha256: &'a str,
    /// Digest of the photo in visible light.
    pub visible_sha256: Option<&'a str>,
    /// Name of the setup.
    pub setup: Option<&'a str>,
    /// What the user set, by name.
    pub settings: &'a [(&'static str, f64)],
}

/// A kept evaluation object.
#[derive(Clone, Debug)]
pub struct Kept {
    object: Value,
}

impl Kept {
    /// The object in the bytes of a file; `None` when there is none of this version, or it was made otherwise.
    pub fn of(bytes: &[u8], made: &Made) -> Option<Kept> {
        let object: Value = serde_json::from_slice(bytes).ok()?;
        let (photo, program) = (&object["photo"], &object["program"]);
        let settings = program["settings"].as_object()?;
        let as_set = settings.len() == made.settings.len()
            && made.settings.iter().all(|(name, value)| settings.get(*name).and_then(Value::as_f64) == Some(*value));
        let holds = object["schema"] == SCHEMA
            && photo["file"] == made.file
            && photo["sha256"] == made.sha256
            && photo["visible"]["sha256"].as_str() == made.visible_sha256
            && photo["setup"].as_str() == made.setup
            && program["version"] == made.version
            && program["model_sha256"] == made.model_sha256
            && object["shafts"].is_array()
            && as_set;
        holds.then_some(Kept { object })
    }

    /// How many shafts it holds.
    pub fn n_shafts(&self) -> usize {
        self.object["shafts"].as_array().map_or(0, Vec::len)
    }
}

#[cfg(test)]
mod tests {
    use super::{Kept, Made};

    #[test]
    fn an_object_holds_for_what_it_was_made_of() {
        let object = br#"{"schema":"pilumen/evaluation/1","photo":{"file":"a.png","sha256":"00","setup":null},
            "shafts":[{},{}],"program":{"version":"1","model_sha256":"ff","settings":{"um_per_px":0.5}}}"#;
        let settings = [("um_per_px", 0.5)];
        let made = Made {
            file: "a.png",
            sha256: "00",
            visible_sha256: None,
            version: "1",
            model_sha256: "ff",
            setup: None,
            settings: &settings,
        };
        assert_eq!(Kept::of(object, &made).unwrap().n_shafts(), 2);
        let others = [
            Made { file: "b.png", ..made.clone() },
            Made { sha256: "01", ..made.clone() },
            Made { visible_sha256: Some("00"), ..made.clone() },
            Made { version: "2", ..made.clone() },
            Made { model_sha256: "fe", ..made.clone() },
            Made { setup: Some("10x"), ..made.clone() },
            Made { settings: &[("um_per_px", 0.6)], ..made.clone() },
            Made { settings: &[], ..made.clone() },
        ];
        assert!(others.iter().all(|other| Kept::of(object, other).is_none()));
        assert!(Kept::of(&object[..60], &made).is_none() && Kept::of(b"", &made).is_none());
    }
}
