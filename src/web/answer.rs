//! What the desk answers when it cannot do what it was asked: a status and one sentence.

use std::fmt::Display;

use axum::Json;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use serde_json::json;

use super::spanish;
use crate::exports::starting_small;
use crate::image::ImageError;
use crate::pipeline::PairError;
use crate::scale::ScaleError;
use crate::setups::SetupsError;
use crate::store::StoreError;

/// Why a request was not done.
#[derive(Debug)]
pub(super) struct Refusal {
    /// How a program is told.
    pub(super) status: StatusCode,
    /// How a person is told.
    pub(super) sentence: String,
}

impl Refusal {
    /// The request itself cannot be used.
    pub(super) fn unusable(sentence: impl Into<String>) -> Refusal {
        Refusal { status: StatusCode::UNPROCESSABLE_ENTITY, sentence: sentence.into() }
    }

    /// There is no such thing.
    pub(super) fn unknown(sentence: impl Into<String>) -> Refusal {
        Refusal { status: StatusCode::NOT_FOUND, sentence: sentence.into() }
    }

    /// Who asks may not.
    pub(super) fn forbidden(sentence: impl Into<String>) -> Refusal {
        Refusal { status: StatusCode::FORBIDDEN, sentence: sentence.into() }
    }

    /// The desk itself failed.
    pub(super) fn broken(sentence: impl Into<String>) -> Refusal {
        Refusal { status: StatusCode::INTERNAL_SERVER_ERROR, sentence: sentence.into() }
    }
}

/// An error and what to do about it, one sentence.
pub(super) fn with_help(error: &dyn Display, help: &str) -> String {
    format!("{error}; {}", starting_small(help))
}

impl From<StoreError> for Refusal {
    fn from(error: StoreError) -> Refusal {
        let status = match &error {
            StoreError::Unknown { .. } => StatusCode::NOT_FOUND,
            StoreError::Unusable(_) | StoreError::Ambiguous { .. } => StatusCode::UNPROCESSABLE_ENTITY,
            StoreError::SamePhoto { .. } | StoreError::Conflict { .. } => StatusCode::CONFLICT,
            StoreError::Busy { .. } => StatusCode::SERVICE_UNAVAILABLE,
            StoreError::Full(_) => StatusCode::INSUFFICIENT_STORAGE,
            _ => StatusCode::INTERNAL_SERVER_ERROR,
        };
        Refusal { status, sentence: error.to_string() }
    }
}

impl From<ImageError> for Refusal {
    fn from(error: ImageError) -> Refusal {
        let status = if matches!(error, ImageError::TooLarge { .. }) {
            StatusCode::PAYLOAD_TOO_LARGE
        } else {
            StatusCode::UNPROCESSABLE_ENTITY
        };
        Refusal { status, sentence: with_help(&error, error.help()) }
    }
}

impl From<PairError> for Refusal {
    fn from(error: PairError) -> Refusal {
        match error {
            PairError::Uv(error) | PairError::Visible(error) => error.into(),
            PairError::Apart(error) => Refusal::unusable(with_help(&error, error.help())),
        }
    }
}

impl From<ScaleError> for Refusal {
    fn from(error: ScaleError) -> Refusal {
        Refusal::unusable(with_help(&error, error.help()))
    }
}

impl From<SetupsError> for Refusal {
    fn from(error: SetupsError) -> Refusal {
        let status = match &error {
            SetupsError::Known(_) => StatusCode::CONFLICT,
            SetupsError::Unknown { .. } => StatusCode::NOT_FOUND,
            SetupsError::Name(_) => StatusCode::UNPROCESSABLE_ENTITY,
            SetupsError::NoPlace | SetupsError::Disk { .. } | SetupsError::Content { .. } => {
                StatusCode::INTERNAL_SERVER_ERROR
            }
        };
        Refusal { status, sentence: error.to_string() }
    }
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        let words = json!({ "en": self.sentence, "es": spanish::refused(&self.sentence) });
        (self.status, Json(json!({ "sentence": self.sentence, "words": words }))).into_response()
    }
}
