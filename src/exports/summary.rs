//! A few lines a photo for a person at a terminal.

use super::from_record::{CULTURE, Entry, Look, Shaft, UNDETERMINED_WORDS, VisiblePhoto};
use super::language::Language;
use super::reasons::reasons_told;
use super::words::{SCALE_DECIMALS, concerns_by_kind, plain_scale, ranges};

/// What must be known before anything is made of a reading; ends every summary and every help page.
pub const CAUTION: &str = "A photo supports a decision, it never makes one: what glows is not always ringworm, and \
    ringworm does not always glow. Keep the lamp out of all eyes, wear gloves, and ask a veterinarian.";

/// The command line speaks English.
const LANGUAGE: Language = Language::English;

/// Columns of a terminal line.
const LINE: usize = 100;

/// Shafts listed one by one; of more, the first so many: a summary must stay short.
const MAX_LISTED: usize = 12;

/// Reasons told of a shaft: the strongest two, for a summary must stay short; --json and the report give all.
const REASONS_LISTED: usize = 2;

/// Columns before a reason.
const REASON_INDENT: usize = 14;

/// Columns of the words that head each part.
const HEAD: usize = 10;

/// The summary, each line with its line end.
pub(super) fn summary(entry: &Entry) -> String {
    let mut text = String::new();
    let photo = &entry.photo;
    let scale = match photo.scale {
        Some(scale) => {
            let source = match scale.source.code() {
                "given" => "as given",
                "setup" => "from the setup",
                _ => "as the file states",
            };
            let setup = photo.setup.as_ref().map_or(String::new(), |name| format!(" \"{name}\""));
            // As given by a person, digit for digit; as measured, to what it is worth.
            let um = match scale.sd_um_per_px {
                Some(sd) => format!("{} µm a pixel", LANGUAGE.uncertain(scale.um_per_px, sd, SCALE_DECIMALS)),
                None => format!("{} µm a pixel", plain_scale(scale.um_per_px)),
            };
            format!("{um}, {source}{setup}")
        }
        None => "scale unknown".to_owned(),
    };
    // Control characters in a file's name must not steer a terminal.
    let file = photo.file.replace(char::is_control, "?");
    text += &format!("{file}: {} × {} pixels, {scale}\n", photo.width_px, photo.height_px);
    if let Some(visible) = &photo.visible {
        part(&mut text, "Visible", &beside(visible));
    }
    part(&mut text, "Found", &found(entry));
    for shaft in entry.shafts.iter().take(MAX_LISTED) {
        text += &line(shaft);
        if let Some(words) = not_ruled_out(shaft.look, &shaft.plausible, &shaft.probability) {
            text += &indented(&words);
        }
        if worth_reasons(shaft) {
            for reason in reasons_told(shaft, LANGUAGE).into_iter().take(REASONS_LISTED) {
                text += &indented(&reason);
            }
        }
    }
    if entry.shafts.len() > MAX_LISTED {
        text += &format!("{:HEAD$}and {} more; --json or --out gives all\n", "", entry.shafts.len() - MAX_LISTED);
    }
    for concern in &entry.concerns {
        part(&mut text, "Note", &format!("{} {}", concern.message(), concern.advice()));
    }
    for (concern, ids) in concerns_by_kind(&entry.shafts) {
        let which = if ids.len() == 1 { "Shaft" } else { "Shafts" };
        let numbers = ranges(&ids);
        part(&mut text, "Note", &format!("{which} {numbers}: {} {}", concern.message(), concern.advice()));
    }
    part(&mut text, "Finding", &entry.slide.sentence);
    // What both end with is said once.
    let next = match entry.advice.strip_suffix(CULTURE) {
        Some(next) if entry.slide.sentence.ends_with(CULTURE) && !next.is_empty() => next.trim_end(),
        _ => &entry.advice,
    };
    part(&mut text, "Next", next);
    part(&mut text, "Caution", CAUTION);
    text
}

/// Whether a person at a terminal wants to know why: of hairs that may matter, not of ordinary ones and fibres.
fn worth_reasons(shaft: &Shaft) -> bool {
    !matches!(shaft.look, Some(Look::Normal | Look::Fibre))
}

/// What a shaft of which the program cannot say may be, the most probable look first; `None` where the look is said, or
/// where fewer than two are left: then it is not the looks that it hesitates between. So that a slide that is doubtful for one that leans to infected shows which that is.
fn not_ruled_out(look: Option<Look>, plausible: &[Look], probability: &[f64; 4]) -> Option<String> {
    if look.is_some() || plausible.len() < 2 {
        return None;
    }
    let mut plausible: Vec<(Look, f64)> = plausible.iter().map(|&look| (look, probability[look as usize])).collect();
    plausible.sort_by(|a, b| b.1.total_cmp(&a.1));
    let each: Vec<String> =
        plausible.iter().map(|(look, share)| format!("{} ({:.0} %)", look.words(), 100.0 * share)).collect();
    Some(format!("not ruled out: {}", each.join(", ")))
}

/// A reason under its shaft's line, broken at spaces.
fn indented(words: &str) -> String {
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if REASON_INDENT + line.chars().count() + 1 + word.chars().count() <= LINE => {
                line.push(' ');
                *line += word;
            }
            _ => lines.push(word.to_owned()),
        }
    }
    let head = |i: usize| if i == 0 { "- " } else { "  " };
    let shown = |(i, line): (usize, &String)| format!("{:width$}{}{line}\n", "", head(i), width = REASON_INDENT - 2);
    lines.iter().enumerate().map(shown).collect()
}

/// How the photo in visible light lies.
fn beside(photo: &VisiblePhoto) -> String {
    let [right, down] = photo.shift_px;
    let moved = format!(
        "shifted by {right:.1} and {down:.1} px, turned by {:.2}°, {:.4} times as large",
        photo.turn_deg, photo.factor
    );
    let shafts = if photo.n_shafts == 1 { "1 shaft" } else { &format!("{} shafts", photo.n_shafts) };
    let fit = match photo.residual_px {
        Some(px) => format!("what is left is {px:.2} px across {shafts}, at {} stations", photo.n_stations),
        None => "no shaft shows how well they fit".to_owned(),
    };
    format!("{}: {moved}; {fit} (agreement of edges {:.2})", photo.file.replace(char::is_control, "?"), photo.agreement)
}

/// How many shafts, by look.
fn found(entry: &Entry) -> String {
    let n = entry.shafts.len();
    if n == 0 {
        return "no shafts".to_owned();
    }
    let looks = Look::ALL.iter().zip(entry.slide.counts).map(|(look, count)| (look.words(), count));
    let counts: Vec<String> = looks
        .chain([(UNDETERMINED_WORDS, entry.slide.undetermined)])
        .filter(|(_, count)| *count > 0)
        .map(|(words, count)| format!("{words} {count}"))
        .collect();
    format!("{n} shaft{}: {}", if n == 1 { "" } else { "s" }, counts.join(", "))
}

fn line(shaft: &Shaft) -> String {
    let value = LANGUAGE.width(shaft).unwrap_or_else(|| "not measured".to_owned());
    let terms = LANGUAGE.terms();
    let glow = terms.zone(shaft.zone);
    let comparison = terms.comparison(shaft.comparison, shaft.class());
    let comparison = comparison.map_or(String::new(), |words| format!(", {words}"));
    let likely = shaft.probability.iter().copied().fold(0.0, f64::max);
    let likely = match shaft.look {
        Some(_) => format!("{:>3.0} %", 100.0 * likely),
        None => String::new(),
    };
    let (id, words) = (shaft.id, shaft.look_words());
    format!("{id:>HEAD$}  {words:<15} {likely:<6} width {value:<17} {glow}{comparison}\n")
}

/// A headed paragraph, broken at spaces.
fn part(text: &mut String, head: &str, words: &str) {
    let mut line = format!("  {head:<width$}", width = HEAD - 2);
    let mut filled = HEAD;
    for word in words.split_whitespace() {
        let n = word.chars().count();
        if filled > HEAD && filled + 1 + n > LINE {
            *text += line.trim_end();
            *text += "\n";
            line = " ".repeat(HEAD);
            filled = HEAD;
        }
        if filled > HEAD {
            line.push(' ');
            filled += 1;
        }
        line += word;
        filled += n;
    }
    *text += line.trim_end();
    *text += "\n";
}

#[cfg(test)]
mod tests {
    use super::{LINE, Look, not_ruled_out, part};

    #[test]
    fn what_a_shaft_may_be_is_told_where_its_look_is_not() {
        let looks = [Look::Normal, Look::Infected];
        let told = |look, looks: &[Look]| not_ruled_out(look, looks, &[0.62, 0.33, 0.04, 0.01]);
        let both = "not ruled out: looks infected (62 %), looks ordinary (33 %)";
        assert_eq!(told(None, &looks).as_deref(), Some(both));
        assert_eq!(told(Some(Look::Infected), &looks), None);
        assert_eq!(told(None, &looks[..1]), None, "it hesitates for another reason");
    }

    #[test]
    fn paragraphs_stay_within_the_line_and_lose_no_word() {
        let words: String = (0..60).map(|i| format!("word{i} ")).collect();
        let mut text = String::new();
        part(&mut text, "Note", &words);
        assert!(text.lines().all(|line| line.chars().count() <= LINE));
        assert_eq!(text.split_whitespace().count(), 61);
    }
}
