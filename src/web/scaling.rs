//! The scale that a photo is read with: none, a number, or a setup; as asked for, as it waits in the queue, and as a
//! reading was made with it.

use serde_json::Value;

use super::answer::Refusal;
use super::desk::Desk;
use super::queue::Job;
use crate::setups::{Origin, Setup};

/// The scale of a photo.
#[derive(Clone, Debug, Default)]
pub(super) enum Scaling {
    /// What the file states, else unknown.
    #[default]
    Unknown,
    /// Micrometres per pixel, as a person gave them.
    Given(f64),
    /// That of a setup.
    Setup(Box<Setup>),
}

impl Scaling {
    /// What was asked for with a photo; a setup is meant by its name.
    pub(super) fn asked(desk: &Desk, um_per_px: Option<f64>, setup: Option<&str>) -> Result<Scaling, Refusal> {
        match (um_per_px, setup.filter(|name| !name.trim().is_empty())) {
            (Some(_), Some(_)) => {
                Err(Refusal::unusable("a setup and micrometres per pixel are two scales; give one of them"))
            }
            (Some(um_per_px), None) => Ok(Scaling::Given(um_per_px)),
            (None, Some(name)) => Ok(Scaling::Setup(Box::new(desk.setups()?.named(name)?))),
            (None, None) => Ok(Scaling::Unknown),
        }
    }

    /// That of a photo in the queue.
    pub(super) fn of_job(job: &Job) -> Scaling {
        let setup = job.setup.as_deref().and_then(Setup::from_json);
        match (job.um_per_px, setup) {
            (_, Some(setup)) => Scaling::Setup(Box::new(setup)),
            (Some(um_per_px), None) => Scaling::Given(um_per_px),
            (None, None) => Scaling::Unknown,
        }
    }

    /// That with which a reading was made. A setup that was replaced or removed since is made up again from what the
    /// reading says of it: a reading stands as it was made.
    pub(super) fn of_evaluation(desk: &Desk, evaluation: &Value) -> Scaling {
        let set = |name: &str| evaluation["program"]["settings"][name].as_f64();
        if let Some(um_per_px) = set("um_per_px") {
            return Scaling::Given(um_per_px);
        }
        let Some(um_per_px) = set("setup_um_per_px") else { return Scaling::Unknown };
        let name = evaluation["photo"]["setup"].as_str().unwrap_or_default();
        let known = desk.setups().and_then(|file| file.named(name)).ok();
        let setup = known.filter(|setup| setup.um_per_px == um_per_px).unwrap_or_else(|| {
            let sd_um_per_px = set("setup_um_per_px_sd").unwrap_or(0.0);
            let [width_px, height_px] = photo_px(evaluation, um_per_px);
            let origin = Origin {
                photos: Vec::new(),
                pitch_um: 0.0,
                pitch_sd_um: None,
                span_um: 0.0,
                n_lines: 0,
                squareness: None,
                distortion_share: None,
                program: evaluation["program"]["version"].as_str().unwrap_or_default().to_owned(),
            };
            Setup { name: name.to_owned(), um_per_px, sd_um_per_px, width_px, height_px, origin, aperture: None }
        });
        Scaling::Setup(Box::new(setup))
    }

    /// The number a person gave.
    pub(super) fn given(&self) -> Option<f64> {
        match self {
            Scaling::Given(um_per_px) => Some(*um_per_px),
            _ => None,
        }
    }

    /// The setup.
    pub(super) fn setup(&self) -> Option<&Setup> {
        match self {
            Scaling::Setup(setup) => Some(setup),
            _ => None,
        }
    }
}

/// Size of the photos that the setup of a reading was found on: the photo's own, unless the reading says that they
/// differ; then what it says of the longer side.
fn photo_px(evaluation: &Value, um_per_px: f64) -> [usize; 2] {
    let side = |name: &str| evaluation["photo"][name].as_u64().unwrap_or(1) as usize;
    let own = [side("width_px"), side("height_px")];
    let concerns = evaluation["quality"]["concerns"].as_array().into_iter().flatten();
    let other = concerns.into_iter().find(|concern| concern["code"] == "setup-other-size");
    match other.and_then(|concern| concern["value"].as_f64()) {
        Some(shrunk) => [(shrunk / um_per_px * own[0].max(own[1]) as f64).round() as usize, 1],
        None => own,
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::photo_px;

    #[test]
    fn the_size_of_a_setup_that_is_gone_raises_the_same_concern() {
        let of = |concerns: serde_json::Value| {
            photo_px(
                &json!({ "photo": { "width_px": 2000, "height_px": 1500 }, "quality": { "concerns": concerns } }),
                0.5,
            )
        };
        assert_eq!(of(json!([])), [2000, 1500]);
        assert_eq!(of(json!([{ "code": "setup-other-size", "value": 1.0 }])), [4000, 1]);
    }
}
