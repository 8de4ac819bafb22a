//! Setups: the list, a photo of a stage micrometer measured, the scale of one or more such photos, saved and removed.

use axum::Json;
use axum::body::Body;
use axum::extract::{Query, State};
use serde::Deserialize;
use serde_json::{Value, json};

use super::super::answer::Refusal;
use super::super::desk::Desk;
use super::super::scaling::Scaling;
use super::photos::{arrived, disk, plain_name, whole};
use crate::image::{self, from_bytes};
use crate::scale::{self, Aperture, Pitch, Ruling, combine};
use crate::setups::{Setup, SetupsError, fit_name};

/// All setups that are saved.
pub(super) async fn list(State(desk): State<Desk>) -> Result<Json<Value>, Refusal> {
    desk.apart(|desk| {
        let setups: Vec<Value> = desk.setups()?.all()?.iter().map(object).collect();
        Ok(Json(json!({ "setups": setups })))
    })
    .await
}

fn object(setup: &Setup) -> Value {
    serde_json::from_str(&setup.to_json()).unwrap_or(Value::Null)
}

/// How a photo of a micrometer comes.
#[derive(Deserialize)]
pub(super) struct Coming {
    file: String,
}

/// Measures the lines on a photo of a stage micrometer. The photo itself is kept nowhere.
pub(super) async fn photo(
    State(desk): State<Desk>,
    Query(coming): Query<Coming>,
    body: Body,
) -> Result<Json<Value>, Refusal> {
    let arrived = arrived(&desk, body).await?;
    desk.unpacking(move |desk| {
        let bytes = whole(arrived).map_err(|error| disk(&error))?;
        let file = plain_name(&coming.file)?;
        let settings = desk.settings(&Scaling::Unknown)?;
        let limits = image::Settings { max_pixels: settings.max_pixels(), ..image::Settings::default() };
        let rulings = scale::from_image(&from_bytes(&bytes, &limits)?)?;
        let lines: Vec<Value> = rulings.rulings.iter().map(line).collect();
        let size = [rulings.width_px, rulings.height_px];
        let id = desk.rulings().add(file.clone(), rulings);
        Ok(Json(json!({ "id": id, "file": file, "size": size, "rulings": lines })))
    })
    .await
}

fn line(ruling: &Ruling) -> Value {
    json!({
        "lines": ruling.n_lines,
        "pitches": ruling.n_pitches,
        "pitch_px": ruling.pitch_px,
        "angle_deg": ruling.angle_deg,
        "span_share": ruling.span_share,
        "dark": ruling.dark,
    })
}

/// What a scale is asked for with.
#[derive(Deserialize)]
pub(super) struct Asking {
    /// Photos that were measured, by their ids.
    photos: Vec<String>,
    /// Distance of neighbouring lines, micrometres.
    pitch_um: f64,
    /// Its standard uncertainty, where known.
    #[serde(default)]
    pitch_sd_um: Option<f64>,
    /// Numerical aperture of the objective, where given.
    #[serde(default)]
    na: Option<f64>,
    /// The name to save it under; absent: it is only told.
    #[serde(default)]
    name: Option<String>,
    /// Whether a setup of that name is replaced.
    #[serde(default)]
    replace: bool,
}

/// The scale of measured photos; saved as a setup where a name is given.
pub(super) async fn scale(State(desk): State<Desk>, Json(body): Json<Value>) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let asking: Asking = serde_json::from_value(body)
            .map_err(|error| Refusal::unusable(format!("the setup cannot be used: {error}; load the page again")))?;
        let pitch = Pitch::new(asking.pitch_um, asking.pitch_sd_um)?;
        let aperture = asking.na.map(|na| Aperture::new(na).ok_or_else(|| no_aperture(na))).transpose()?;
        let photos =
            desk.rulings().of(&asking.photos).filter(|photos| !photos.is_empty()).ok_or_else(|| {
                Refusal::unknown("these photos of the micrometer are no longer at hand; drop them again")
            })?;
        let (files, rulings): (Vec<String>, Vec<_>) = photos.into_iter().map(|one| (one.file, one.rulings)).unzip();
        let found = combine(&rulings, pitch)?;
        let name = asking
            .name
            .as_deref()
            .map(|name| fit_name(name).ok_or_else(|| SetupsError::Name(name.replace(char::is_control, "?"))));
        let name = name.transpose()?;
        let setup = Setup::new(name.unwrap_or_default(), &found, pitch, files, aperture);
        if name.is_some() {
            desk.setups()?.save(setup.clone(), asking.replace)?;
        }
        let told: Value =
            serde_json::from_str(&setup.to_json_with(&found.all_concerns(aperture))).unwrap_or(Value::Null);
        Ok(Json(json!({ "setup": told, "saved": name.is_some(), "pitch_sd_known": pitch.sd_um().is_some() })))
    })
    .await
}

fn no_aperture(na: f64) -> Refusal {
    Refusal::unusable(format!(
        "{na} is no numerical aperture of a dry objective; give the one written on it, such as 0.25"
    ))
}

/// Which setup is removed.
#[derive(Deserialize)]
pub(super) struct Naming {
    name: String,
}

/// Removes a setup; readings made with it keep their scale.
pub(super) async fn remove(State(desk): State<Desk>, Json(body): Json<Value>) -> Result<Json<Value>, Refusal> {
    desk.apart(move |desk| {
        let naming: Naming = serde_json::from_value(body)
            .map_err(|error| Refusal::unusable(format!("the setup cannot be used: {error}; load the page again")))?;
        desk.setups()?.remove(&naming.name)?;
        Ok(Json(json!({ "removed": naming.name })))
    })
    .await
}
