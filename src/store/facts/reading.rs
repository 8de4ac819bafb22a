//! What the program read from a photo: what lists and courses need of it; the whole evaluation lies beside it.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::correction::LOOKS;
use super::{Day, Fact, Kind};

/// A reading of a photo, in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// Digest of the whole evaluation object that is kept beside this, SHA-256, 64 hexadecimal digits.
    pub evaluation_sha256: String,
    /// What made it, so that it can be made again.
    pub program: Program,
    /// Whether the photo was fit to be judged.
    pub usable: bool,
    /// Code of the finding.
    pub finding: String,
    /// The finding in words.
    pub sentence: String,
    /// Micrometres per pixel; absent when unknown.
    pub um_per_px: Option<f64>,
    /// The shafts, by their numbers.
    pub shafts: Vec<ShaftRead>,
}

/// What made a reading.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Program {
    /// Version of the program.
    pub version: String,
    /// Digest of the model, 64 hexadecimal digits.
    pub model_sha256: String,
    /// What the user set, by name with its unit.
    pub settings: BTreeMap<String, f64>,
}

/// One shaft of a reading, in short.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShaftRead {
    /// Its number on the photo, from 1.
    pub id: usize,
    /// Its look: `infected`, `normal`, `coated`, `fibre` or `undetermined`.
    pub look: String,
    /// Calibrated probability that it looks infected, 0 to 1.
    pub infected: Option<f64>,
    /// Where it fluoresces: `none`, `base`, `whole`, `tip`, `patchy` or `unknown`.
    pub zone: String,
    /// Its outer diameter, pixels; absent where it could not be told.
    pub width_px: Option<f64>,
    /// Whether it serves as a comparison shaft.
    pub comparison: bool,
}

impl Reading {
    /// The short of an evaluation object; `evaluation_sha256` is the digest of its text.
    ///
    /// # Errors
    /// When something that is needed is not in the object; the sentence names it.
    pub fn of_evaluation(evaluation: &Value, evaluation_sha256: String) -> Result<Reading, String> {
        let need = |at: &str| evaluation.pointer(at).ok_or_else(|| format!("the evaluation has no {at}"));
        let text = |value: &Value, at: &str| {
            value.as_str().map(str::to_owned).ok_or_else(|| format!("the evaluation's {at} is no text"))
        };
        let mut settings = BTreeMap::new();
        for (name, value) in need("/program/settings")?.as_object().into_iter().flatten() {
            settings.insert(name.clone(), value.as_f64().ok_or_else(|| format!("the setting {name} is no number"))?);
        }
        let shafts = need("/shafts")?.as_array().into_iter().flatten().map(|shaft| {
            let look = text(&shaft["class"], "class")?;
            if !LOOKS.contains(&look.as_str()) {
                return Err(format!("the evaluation's look \"{look}\" is not known"));
            }
            Ok(ShaftRead {
                id: shaft["id"].as_u64().ok_or("a shaft of the evaluation has no number")? as usize,
                look,
                infected: shaft["probability"]["infected"].as_f64(),
                zone: text(&shaft["glow"]["zone"], "zone")?,
                width_px: shaft["width"]["median_px"].as_f64().filter(|_| !is_too_thin(shaft)),
                comparison: shaft["comparison"].as_bool().unwrap_or(false),
            })
        });
        Ok(Reading {
            evaluation_sha256,
            program: Program {
                version: text(need("/program/version")?, "version")?,
                model_sha256: text(need("/program/model_sha256")?, "model_sha256")?,
                settings,
            },
            usable: need("/quality/usable")?.as_bool().unwrap_or(false),
            finding: text(need("/finding/code")?, "finding")?,
            sentence: text(need("/finding/sentence")?, "sentence")?,
            um_per_px: need("/photo/um_per_px")?.as_f64(),
            shafts: shafts.collect::<Result<_, String>>()?,
        })
    }

    /// The shaft of this number.
    pub fn shaft(&self, id: usize) -> Option<&ShaftRead> {
        self.shafts.iter().find(|shaft| shaft.id == id)
    }
}

/// Whether a shaft of an evaluation is too thin for the photo to tell its width.
fn is_too_thin(shaft: &Value) -> bool {
    shaft["concerns"].as_array().into_iter().flatten().any(|concern| concern["code"] == "too-thin")
}

impl Fact for Reading {
    const KIND: Kind = Kind::Reading;

    fn check(&self, _today: Day) -> Result<(), String> {
        for (i, shaft) in self.shafts.iter().enumerate() {
            if self.shafts[..i].iter().any(|other| other.id == shaft.id) {
                return Err(format!("shaft {} is in the reading twice", shaft.id));
            }
        }
        if !super::super::photos::is_digest(&self.evaluation_sha256) {
            return Err("the reading has no digest of its evaluation".to_owned());
        }
        Ok(())
    }

    /// Code of the finding.
    fn state(&self) -> Option<String> {
        Some(self.finding.clone())
    }
}
