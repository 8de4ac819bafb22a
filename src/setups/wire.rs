//! How setups are written: one JSON object, versioned; what is read is checked before it is believed.

use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use super::{Origin, Setup, fit_name};
use crate::concerns::Concern;
use crate::scale::Aperture;

/// Name and version of the form.
const SCHEMA: &str = "pilumen/setups/1";

/// Its name without the version.
const FAMILY: &str = "pilumen/setups/";

#[derive(Serialize, Deserialize)]
struct FileObject {
    schema: String,
    setups: Vec<SetupObject>,
}

#[derive(Serialize, Deserialize)]
struct SetupObject {
    name: String,
    um_per_px: f64,
    um_per_px_sd: f64,
    width_px: usize,
    height_px: usize,
    aperture: Option<f64>,
    pitch_um: f64,
    pitch_um_sd: Option<f64>,
    span_um: f64,
    lines: usize,
    squareness: Option<f64>,
    squareness_sd: Option<f64>,
    distortion: Option<f64>,
    photos: Vec<String>,
    program: String,
}

/// The setups as a file's bytes.
pub(super) fn bytes_of(setups: &[Setup]) -> Vec<u8> {
    let file = FileObject { schema: SCHEMA.to_owned(), setups: setups.iter().map(SetupObject::of).collect() };
    // Nothing in it can fail to serialise.
    let mut bytes = serde_json::to_vec_pretty(&file).unwrap_or_default();
    bytes.push(b'\n');
    bytes
}

/// One setup as one line of JSON, without a line end, with what a person should know about it. A setup that is not
/// saved has no name: null.
pub(super) fn line_of(setup: &Setup, concerns: Option<&[Concern]>) -> String {
    let mut object = serde_json::to_value(SetupObject::of(setup)).unwrap_or_default();
    if setup.name.is_empty() {
        object["name"] = Value::Null;
    }
    if let Some(concerns) = concerns {
        let one =
            |c: &Concern| json!({"code": c.code(), "message": c.message(), "advice": c.advice(), "value": c.value});
        object["concerns"] = concerns.iter().map(one).collect();
    }
    object.to_string()
}

/// The setup in a line that [`line_of`] wrote; `None` when it is none.
pub(super) fn setup_of(line: &str) -> Option<Setup> {
    serde_json::from_str::<SetupObject>(line).ok()?.checked()
}

/// The setups in a file's bytes, or what is wrong with them: a part of a sentence.
pub(super) fn setups_of(bytes: &[u8]) -> Result<Vec<Setup>, String> {
    #[derive(Deserialize)]
    struct Head {
        schema: String,
    }
    let head: Head = serde_json::from_slice(bytes).map_err(|_| "is no file of setups".to_owned())?;
    if head.schema != SCHEMA {
        let newer = head.schema.starts_with(FAMILY);
        return Err(if newer { "was written by a newer program" } else { "is no file of setups" }.to_owned());
    }
    let file: FileObject = serde_json::from_slice(bytes).map_err(|error| {
        let place = format!("line {}", error.line());
        format!("is damaged at {place}")
    })?;
    let mut setups: Vec<Setup> = Vec::new();
    for object in file.setups {
        let name = object.name.clone();
        let setup = object.checked().ok_or_else(|| {
            let name = name.replace(char::is_control, "?");
            format!("holds a setup \"{name}\" whose numbers cannot be")
        })?;
        if setups.iter().any(|other| other.is_called(&setup.name)) {
            return Err(format!("holds two setups \"{}\"", setup.name));
        }
        setups.push(setup);
    }
    Ok(setups)
}

impl SetupObject {
    fn of(setup: &Setup) -> SetupObject {
        let origin = &setup.origin;
        SetupObject {
            name: setup.name.clone(),
            um_per_px: setup.um_per_px,
            um_per_px_sd: setup.sd_um_per_px,
            width_px: setup.width_px,
            height_px: setup.height_px,
            aperture: setup.aperture.map(Aperture::value),
            pitch_um: origin.pitch_um,
            pitch_um_sd: origin.pitch_sd_um,
            span_um: origin.span_um,
            lines: origin.n_lines,
            squareness: origin.squareness.map(|(ratio, _)| ratio),
            squareness_sd: origin.squareness.map(|(_, sd)| sd),
            distortion: origin.distortion_share,
            photos: origin.photos.clone(),
            program: origin.program.clone(),
        }
    }

    fn checked(self) -> Option<Setup> {
        let length = |value: f64| value.is_finite() && value > 0.0;
        let size = |value: f64| value.is_finite() && value >= 0.0;
        let sound = fit_name(&self.name) == Some(self.name.as_str())
            && length(self.um_per_px)
            && size(self.um_per_px_sd)
            && self.um_per_px_sd < self.um_per_px
            && length(self.pitch_um)
            && self.pitch_um_sd.is_none_or(size)
            && size(self.span_um)
            && self.width_px > 0
            && self.height_px > 0;
        let aperture = match self.aperture {
            Some(value) => Some(Aperture::new(value)?),
            None => None,
        };
        sound.then(|| Setup {
            name: self.name,
            um_per_px: self.um_per_px,
            sd_um_per_px: self.um_per_px_sd,
            width_px: self.width_px,
            height_px: self.height_px,
            origin: Origin {
                photos: self.photos,
                pitch_um: self.pitch_um,
                pitch_sd_um: self.pitch_um_sd,
                span_um: self.span_um,
                n_lines: self.lines,
                squareness: self.squareness.zip(self.squareness_sd),
                distortion_share: self.distortion,
                program: self.program,
            },
            aperture,
        })
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::{bytes_of, setups_of};
    use crate::scale::Aperture;
    use crate::setups::{Origin, Setup};

    pub(in crate::setups) fn sample(name: &str) -> Setup {
        Setup {
            name: name.to_owned(),
            um_per_px: 0.512_345_678_9,
            sd_um_per_px: 1.5e-4,
            width_px: 4000,
            height_px: 3000,
            origin: Origin {
                photos: vec!["ruling.png".to_owned()],
                pitch_um: 10.0,
                pitch_sd_um: Some(0.005),
                span_um: 900.0,
                n_lines: 91,
                squareness: Some((1.0004, 2e-4)),
                distortion_share: None,
                program: "0.1.0".to_owned(),
            },
            aperture: Aperture::new(0.25),
        }
    }

    #[test]
    fn what_is_written_is_read_again() {
        let setups = vec![sample("10x phone"), Setup { aperture: None, ..sample("4x") }];
        assert_eq!(setups_of(&bytes_of(&setups)).unwrap(), setups);
        assert!(setups_of(&bytes_of(&[])).unwrap().is_empty());
    }

    #[test]
    fn what_cannot_be_is_refused_with_a_reason() {
        let text = String::from_utf8(bytes_of(&[sample("10x phone")])).unwrap();
        let changed = |from: &str, to: &str| {
            assert!(text.contains(from), "{from} in {text}");
            setups_of(text.replace(from, to).as_bytes()).unwrap_err()
        };
        assert!(changed("setups/1", "setups/2").contains("newer"));
        assert!(changed("pilumen/setups/1", "something").contains("no file of setups"));
        assert!(changed("0.5123456789", "-1.0").contains("10x phone"));
        assert!(changed("0.5123456789", "0.0").contains("cannot be"));
        assert!(changed("0.25", "1.25").contains("cannot be"));
        assert!(changed("4000", "0").contains("cannot be"));
        assert!(changed("\"um_per_px\":", "\"um\":").contains("damaged"));
        assert!(setups_of(b"").unwrap_err().contains("no file of setups"));
        assert!(setups_of(&text.as_bytes()[..text.len() / 2]).unwrap_err().contains("no file"));
        let twice = bytes_of(&[sample("10x phone"), sample("10X PHONE")]);
        assert!(setups_of(&twice).unwrap_err().contains("two setups"));
    }
}
