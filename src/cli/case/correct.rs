//! `pilumen case correct`: what is otherwise, beside what is corrected.

use serde_json::Value;

use super::record::{Done, Told};
use crate::store::{Change, Correction, End, StoreError};

/// What `pilumen case correct` is told: one of the changes.
#[derive(clap::Args)]
pub(super) struct CorrectArguments {
    /// What is corrected: a reading or any other fact, by its id; an animal also by its name
    of: String,
    /// Why
    #[arg(long)]
    why: String,
    #[command(flatten)]
    change: ChangeArguments,
    /// Number of the shaft in the reading
    #[arg(long, value_name = "N")]
    shaft: Option<usize>,
    /// The value of --field: text, a number, JSON, or null when nothing is known of it after all
    #[arg(long, requires = "field")]
    value: Option<String>,
    /// The look of a missed shaft
    #[arg(long, requires = "missed", value_name = "LOOK")]
    missed_look: Option<String>,
}

#[derive(clap::Args)]
#[group(required = true, multiple = false)]
struct ChangeArguments {
    /// The shaft looks otherwise: infected, normal, coated, fibre or undetermined
    #[arg(long, requires = "shaft")]
    look: Option<String>,
    /// The base of the shaft is at the first or the last point of its centreline
    #[arg(long, requires = "shaft", value_name = "END")]
    base_end: Option<End>,
    /// The shaft is one to compare with (true) or is none (false)
    #[arg(long, requires = "shaft", value_name = "BOOL")]
    comparison: Option<bool>,
    /// What was read as a shaft is none
    #[arg(long, requires = "shaft")]
    not_a_shaft: bool,
    /// A shaft was missed: points along it in pixels, such as "10,20 30,45"
    #[arg(long, value_name = "X,Y X,Y ...")]
    missed: Option<String>,
    /// A field of the fact has another value
    #[arg(long, requires = "value", value_name = "NAME")]
    field: Option<String>,
    /// The fact was entered by mistake
    #[arg(long)]
    withdraw: bool,
}

pub(super) fn correct(arguments: &CorrectArguments, told: &Told<'_>) -> Done {
    let (mut store, stamp) = told.writing()?;
    let of = store.find(None, &arguments.of)?;
    let change = change(arguments).map_err(StoreError::Unusable)?;
    let kept = store.correct(&of, &Correction { change, why: arguments.why.clone() }, &stamp)?;
    told.kept(&kept, "it stands beside what it corrects")
}

fn change(arguments: &CorrectArguments) -> Result<Change, String> {
    let ChangeArguments { look, base_end, comparison, not_a_shaft, missed, field, withdraw } = &arguments.change;
    let shaft = arguments.shaft.unwrap_or(0);
    if let Some(look) = look {
        return Ok(Change::Look { shaft, look: look.clone() });
    }
    if let Some(end) = *base_end {
        return Ok(Change::BaseEnd { shaft, end });
    }
    if let Some(comparison) = *comparison {
        return Ok(Change::Comparison { shaft, comparison });
    }
    if *not_a_shaft {
        return Ok(Change::NotAShaft { shaft });
    }
    if let Some(points) = missed {
        let centreline_px = points.split_whitespace().map(point).collect::<Result<_, _>>()?;
        return Ok(Change::MissedShaft { centreline_px, look: arguments.missed_look.clone() });
    }
    if let Some(field) = field {
        let text = arguments.value.clone().unwrap_or_default();
        // What is no JSON is a text; a text that looks like JSON can be given in quotation marks.
        let value = serde_json::from_str(&text).unwrap_or(Value::String(text));
        return Ok(Change::Field { field: field.replace('-', "_"), value });
    }
    if *withdraw { Ok(Change::Withdrawn) } else { Err("say what is otherwise".to_owned()) }
}

fn point(text: &str) -> Result<[f64; 2], String> {
    let number = |part: &str| part.parse::<f64>().map_err(|_| format!("\"{text}\" is no point; give X,Y in pixels"));
    let (x, y) = text.split_once(',').ok_or_else(|| format!("\"{text}\" is no point; give X,Y in pixels"))?;
    Ok([number(x)?, number(y)?])
}

#[cfg(test)]
mod tests {
    use super::point;

    #[test]
    fn points_are_pairs_of_numbers() {
        assert_eq!(point("10,20.5").unwrap(), [10.0, 20.5]);
        assert!(point("10").is_err() && point("a,b").is_err());
    }
}
