//! What a model is worth on a condition that it was not grown on: each group left out in turn.

use super::appraisal::{Appraisal, appraise_looks, judged};
use super::folds::each_group_left_out;
use super::grow::{GrowError, GrowSettings, VotingFeature, grow_with};
use super::table::{LabelledRow, Table};
use crate::finding::model::Column;
use crate::finding::{Model, ModelError};
use thiserror::Error;

/// The appraisal of one group by a model grown on all others.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// The group.
    pub group: String,
    /// What the model grown without it is worth on it.
    pub appraisal: Appraisal,
}

/// Why a group could not be left out.
#[derive(Debug, Error)]
pub enum LeftOutError {
    /// The others were not enough to grow on.
    #[error("without {group}: {source}")]
    Grow {
        /// The group.
        group: String,
        /// What was missing.
        source: GrowError,
    },
    /// What was grown could not be read again.
    #[error("without {group}: {source}")]
    Model {
        /// The group.
        group: String,
        /// What was wrong.
        source: ModelError,
    },
    /// What was grown could not be written.
    #[error("the model grown without {group} cannot be written: {source}")]
    Write {
        /// The group.
        group: String,
        /// What was wrong.
        source: serde_json::Error,
    },
}

/// Leaves each group out in turn, grows on the others, and appraises the group; groups in the order of their names.
///
/// A scene must lie within one group; takes as long as growing, times the number of groups.
///
/// # Errors
/// When what is left is not enough to grow on.
pub fn leave_one_group_out(
    table: &Table,
    columns: &[Column],
    voting: &[VotingFeature],
    seed: u64,
    settings: &GrowSettings,
) -> Result<Vec<LeftOut>, LeftOutError> {
    let groups: Vec<&str> = table.rows.iter().map(|row| row.group.as_str()).collect();
    let one = |(name, out): (&str, Vec<bool>)| {
        let group = name.to_string();
        let part = |wanted: bool| -> Vec<LabelledRow> {
            table.rows.iter().zip(&out).filter(|(_, out)| **out == wanted).map(|(row, _)| row.clone()).collect()
        };
        let rest = Table { keys: table.keys.clone(), rows: part(false) };
        let file = grow_with(&rest, voting, seed, settings)
            .map_err(|source| LeftOutError::Grow { group: group.clone(), source })?;
        let bytes = file.to_bytes().map_err(|source| LeftOutError::Write { group: group.clone(), source })?;
        let model = Model::from_bytes(&bytes, columns)
            .map_err(|source| LeftOutError::Model { group: group.clone(), source })?;
        Ok(LeftOut { group, appraisal: appraise_looks(&judged(&model, &part(true)), seed) })
    };
    each_group_left_out(&groups).into_iter().map(one).collect()
}
