//! `pilumen lamp`: what a finding under the lamp is worth, study by study.

use std::process::ExitCode;

use serde_json::{Value, json};

use super::UNUSABLE;
use super::terminal::{Output, complain};
use crate::finding::advice::CULTURE;
use crate::lamp::{Between, Share, Study, studies};

/// Of a hundred cats, so many infected, when the user names no number: a fifth, between the two shelters whose
/// prevalence is printed (2 and 64 in a hundred). A choice, not a published value.
const PREVALENCE: f64 = 0.2;

/// How the numbers come about, for those who check them.
const METHOD: &str = "Bayes' rule. Intervals of shares are 95 %: Wilson's where the study gives counts, else as \
    printed. An interval of what a finding is worth takes the ends of both that lie farthest apart.";

/// What must be known with the numbers.
const LIMITS: &str = "Each study's shares are those of its own cats, lamp and people; with other cats they differ. \
    They are of the lamp on the animal; a hair under the microscope has no published figures of this kind.";

/// What must be known before the lamp is lit.
const CAUTION: &str =
    "Keep the lamp out of all eyes, yours and the animal's, and wear gloves: ringworm passes to people.";

/// What `pilumen lamp` is told.
#[derive(clap::Args)]
pub(super) struct Arguments {
    /// Share of the animals looked at that are infected, above 0 and below 1, or in per cent with the sign: 0.2 or 20%
    #[arg(long, default_value_t = PREVALENCE.to_string(), value_name = "P")]
    prevalence: String,

    /// One JSON object instead of a table
    #[arg(long)]
    json: bool,
}

/// Prints it.
pub(super) fn run(arguments: &Arguments) -> ExitCode {
    let Some(prevalence) = prevalence(&arguments.prevalence) else {
        complain(&format!(
            "pilumen: \"{}\" is no share of animals; name one above 0 and below 1, such as 0.2 or 20%",
            arguments.prevalence.replace(char::is_control, "?")
        ));
        return ExitCode::from(UNUSABLE);
    };
    let text = if arguments.json { format!("{}\n", as_json(prevalence)) } else { as_text(prevalence) };
    Output::new().write(text.as_bytes());
    ExitCode::SUCCESS
}

/// The share that a person wrote; `None` unless it lies between 0 and 1, both excluded.
fn prevalence(written: &str) -> Option<f64> {
    let written = written.trim();
    let share = match written.strip_suffix('%') {
        Some(per_cent) => per_cent.trim().parse::<f64>().ok()? / 100.0,
        None => written.parse::<f64>().ok()?,
    };
    (share > 0.0 && share < 1.0).then_some(share)
}

fn as_text(prevalence: f64) -> String {
    let mut text = format!(
        "What a finding under the lamp is worth when {} of the cats are infected (what you give with --prevalence, else a guess)\n",
        percent(prevalence)
    );
    for study in studies() {
        let Some(worth) = study.worth(prevalence) else { continue };
        text += &format!("\n{}\n  {}\n", study.animals, study.source);
        text += &format!("  infected cats that fluoresce       {}\n", shown(&study.sensitivity));
        text += &format!("  other cats that do not             {}\n", shown(&study.specificity));
        if let Some(there) = study.prevalence {
            text += &format!("  infected among that study's cats   {}\n", percent(there));
        }
        text += &format!("  it fluoresces: infected in         {}\n", between(&worth.infected_if_it_glows));
        text += &format!("  it does not: infected all the same {}\n", between(&worth.infected_if_dark));
    }
    text + &format!("\n{METHOD}\n{LIMITS}\n{CAUTION}\n{CULTURE}\n")
}

fn as_json(prevalence: f64) -> Value {
    let share = |share: &Share| {
        json!({
            "value": share.value, "low": share.interval.low, "high": share.interval.high,
            "hits": share.counts.map(|counts| counts.0), "cases": share.counts.map(|counts| counts.1),
        })
    };
    let between = |b: &Between| json!({ "value": b.value, "low": b.interval.low, "high": b.interval.high });
    let study = |study: &Study| {
        let worth = study.worth(prevalence)?;
        Some(json!({
            "animals": study.animals, "source": study.source, "prevalence": study.prevalence,
            "sensitivity": share(&study.sensitivity), "specificity": share(&study.specificity),
            "infected_if_it_glows": between(&worth.infected_if_it_glows),
            "infected_if_dark": between(&worth.infected_if_dark),
        }))
    };
    let studies: Vec<Value> = studies().iter().filter_map(study).collect();
    json!({ "prevalence": prevalence, "studies": studies, "method": METHOD, "limits": LIMITS, "advice": CULTURE })
}

fn shown(share: &Share) -> String {
    let counts = share.counts.map_or(String::new(), |(hits, n)| format!(", {hits} of {n}"));
    format!("{} ({} to {}{counts})", percent(share.value), percent(share.interval.low), percent(share.interval.high))
}

fn between(between: &Between) -> String {
    format!("{} ({} to {})", percent(between.value), percent(between.interval.low), percent(between.interval.high))
}

fn percent(share: f64) -> String {
    format!("{:.1} %", 100.0 * share)
}

#[cfg(test)]
mod tests {
    use super::{as_json, as_text, prevalence};

    #[test]
    fn a_share_may_be_written_in_two_ways() {
        assert_eq!(prevalence("0.018"), Some(0.018));
        assert_eq!(prevalence(" 20 % "), Some(0.2));
        for wrong in ["0", "1", "100%", "0%", "-0.1", "nan", "inf", "many", "", "%"] {
            assert_eq!(prevalence(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn the_table_and_the_object_say_the_same() {
        let (text, object) = (as_text(0.018), as_json(0.018));
        // Facts 2.25: 4.6 % at the prevalence of that shelter.
        assert!(text.contains("it fluoresces: infected in         4.6 %"), "{text}");
        assert_eq!((object["studies"][1]["infected_if_it_glows"]["value"].as_f64().unwrap() * 1e3).round(), 46.0);
        assert_eq!(object["studies"].as_array().unwrap().len(), 3);
        crate::judgement::judges_nobody("the lamp's table", &text);
        assert!(text.ends_with("Send hair for a fungal culture and let your vet decide.\n"));
    }
}
