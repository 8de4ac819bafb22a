//! `pilumen appraise --record`: how far the program's findings agree with the cultures of a record, by animal.

use std::path::Path;

use super::model::judging;
use super::terminal::complain;
use super::{PARTLY, UNUSABLE};
use crate::confirmed::agreement::{Counts, Found};
use crate::confirmed::{Agreement, FEWEST_TO_TELL, agreement};
use crate::record::CULTURE;
use crate::store::{Outcome, OwnModels, Store, StoreError, record_folder};

/// The tables, Markdown.
pub(super) fn appraised(record: Option<&Path>, model: Option<&Path>) -> Result<String, (u8, String)> {
    let failed = |error: StoreError| {
        let code = if matches!(error, StoreError::NoRecord(_) | StoreError::NoPlace) { UNUSABLE } else { PARTLY };
        (code, error.to_string())
    };
    let folder = record_folder(record).map_err(failed)?;
    let store = Store::open(&folder).map_err(failed)?;
    let model = judging(model, Some(&folder)).map_err(|sentence| (UNUSABLE, sentence))?.model;
    // One of the record's own that was named as a file knows its animals too.
    let own = OwnModels::of(&folder).of_digest(model.sha256()).map_err(failed)?;
    let grown_on = own.map(|own| own.about.animals).unwrap_or_default();
    let told = |done: usize, all: usize| complain(&format!("{done} of {all} animals of the record looked through"));
    let agreement = agreement(&store, &model, &grown_on, told).map_err(|error| (PARTLY, error.to_string()))?;
    for left_out in agreement.unclear.iter().map(|unclear| &unclear.sentence).chain(&agreement.unread) {
        complain(&format!("pilumen: left out: {left_out}"));
    }
    Ok(text(&agreement, model.sha256()))
}

fn text(agreement: &Agreement, sha256: &str) -> String {
    let mut lines = vec![
        "# Agreement with culture, by animal\n".to_owned(),
        format!(
            "Model {sha256}. One animal counts once: by its first slide that a culture of the same site and time \
             answers for, its photos read anew without what people said of them. Intervals are Wilson's, 95 %."
        ),
    ];
    let n_grown_on = agreement.grown_on.n();
    if n_grown_on > 0 {
        lines.push("\n## Animals that the model was not grown on\n".to_owned());
    } else {
        lines.push(String::new());
    }
    lines.extend(table(&agreement.others));
    lines.push(String::new());
    lines.extend([Outcome::Grew, Outcome::Nothing].map(|outcome| share(&agreement.others, outcome)));
    if n_grown_on > 0 {
        lines.push("\n## Animals that it was grown on\n".to_owned());
        lines.extend(table(&agreement.grown_on));
        lines.push("\nA model knows the animals it was grown on; this says nothing of new ones.".to_owned());
    }
    if !agreement.unclear.is_empty() {
        lines.push(format!(
            "\nLeft out because their cultures contradict each other: {} slides.",
            agreement.unclear.len()
        ));
    }
    lines.push(format!("\nCulture misses infected animals too, and a slide is one site of one day. {CULTURE}"));
    lines.join("\n") + "\n"
}

fn table(counts: &Counts) -> Vec<String> {
    let mut lines = vec![
        format!("| the program finds | {} | {} |", Outcome::Grew.words(), Outcome::Nothing.words()),
        "|---|---|---|".to_owned(),
    ];
    let row = |found: Found| {
        let at = found as usize;
        format!("| {} | {} | {} |", found.words(), counts.grew[at], counts.nothing[at])
    };
    lines.extend(Found::ALL.map(row));
    lines
}

fn share(counts: &Counts, outcome: Outcome) -> String {
    let agreeing = counts.agreeing(outcome);
    let agrees = match outcome {
        Outcome::Grew => Found::LooksInfected,
        Outcome::Nothing => Found::NoneLooksInfected,
    };
    let (hits, n) = (agreeing.n_agree, agreeing.n);
    let told = match agreeing.interval {
        Some(i) => format!("{:.0} % ({:.0} to {:.0} %)", 100.0 * hits as f64 / n as f64, 100.0 * i.low, 100.0 * i.high),
        None => format!(
            "too few to tell: at least {FEWEST_TO_TELL} are needed, for with fewer, even if all agree, the interval \
             reaches below what a lamp held over the animal alone gave in one shelter (71 %)"
        ),
    };
    format!("- {}, and {}: {hits} of {n} animals; {told}.", outcome.words(), agrees.words())
}

#[cfg(test)]
mod tests {
    use super::text;
    use crate::confirmed::Agreement;
    use crate::confirmed::agreement::Counts;

    #[test]
    fn few_animals_give_no_share_and_many_do() {
        let few = Agreement { others: Counts { grew: [2, 1, 0, 0], nothing: [0; 4] }, ..Agreement::default() };
        let told = text(&few, "ab");
        assert!(told.contains("2 of 3 animals; too few to tell: at least 10"), "{told}");
        assert!(told.contains("0 of 0 animals; too few to tell"), "{told}");
        let many = Counts { grew: [9, 1, 1, 1], nothing: [1, 2, 12, 0] };
        let told = text(&Agreement { others: many, grown_on: many, ..Agreement::default() }, "ab");
        assert!(told.contains("culture grew the fungus, and shafts look infected: 9 of 11 animals; 82 % (52 to 95 %)"));
        assert!(told.contains("says nothing of new ones") && told.contains("ulture"), "{told}");
        for word in ["positive", "negative", "diagnos", "cured", "safe"] {
            assert!(!told.to_lowercase().contains(word), "{word}");
        }
    }
}
