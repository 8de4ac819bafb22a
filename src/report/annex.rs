//! The annex: every shaft with its strip, its profiles and its measurements; methods, program, limits.

use super::blocks::{Block, Drawing, Rank, Tone};
use super::chart::{Labels, Sample, chart};
use super::page::{facts, marked, notes, shortened};
use super::words::{Words, fill};
use super::{FITS, ReadPhoto, Report};
use crate::exports::{look_mark, reasons_told};
use crate::maths::polyline::Polyline;
use crate::maths::robust::median;
use crate::maths::straight::straightened;
use crate::record::{Entry, Nearest, Shaft, Visit, together};

/// Size of a chart, points: two stand side by side on the narrower paper. With the strip's height below, three shafts
/// fit on a page of either paper in either language; a higher chart would leave a third of each page empty.
const CHART: [f64; 2] = [250.0, 60.0];

/// Most columns of a strip: 7 inches at 200 dots.
const MAX_COLUMNS: f64 = 1400.0;
/// How far a strip looks to each side, widths of the shaft.
const VIEW_WIDTHS: f64 = 1.5;
/// A strip is at least this share of its length high: thinner cannot be seen on paper.
const LEAST_ASPECT: f64 = 0.03;
/// Highest strip, points.
const MAX_STRIP_HEIGHT: f64 = 40.0;

/// Height of the photos after the first, points.
const PHOTO_HEIGHT: f64 = 250.0;

/// Reasons told of a shaft.
const MAX_REASONS: usize = 4;

/// The blocks of the annex.
pub(super) fn blocks(report: &Report) -> Vec<Block> {
    let words = report.language.words();
    let part = |words: &str| Block::Heading(Rank::Part, words.to_owned());
    let mut blocks = whole_facts(report, words);
    blocks.extend(course(report, words));
    blocks.push(part(words.annex));
    let several = report.photos.len() > 1;
    for (i, photo) in report.photos.iter().enumerate() {
        if several {
            let mut about =
                vec![Block::Heading(Rank::Sub, format!("{} {}: {}", words.photo, i + 1, photo.entry.photo.file))];
            about.extend(marked(report, photo, PHOTO_HEIGHT));
            blocks.push(Block::Together(about));
        }
        if photo.entry.shafts.is_empty() {
            blocks.push(Block::Paragraph(Tone::Body, words.no_shafts.to_owned()));
        }
        let ordinary = ordinary_width(photo.entry);
        blocks.extend(photo.entry.shafts.iter().map(|shaft| Block::Together(one(photo, shaft, ordinary, words))));
    }
    let entries: Vec<&Entry> = report.photos.iter().map(|photo| photo.entry).collect();
    let notes = notes(&entries, words);
    if !notes.is_empty() {
        blocks.push(part(words.notes));
        blocks.push(Block::Bullets(Tone::Body, notes));
    }
    let point = |words: &str| words.to_owned();
    blocks.push(part(words.methods_head));
    blocks.push(Block::Bullets(
        Tone::Body,
        [
            words.methods_find,
            words.methods_width,
            words.methods_glow,
            words.methods_look,
            words.methods_novelty,
            words.methods_finding,
        ]
        .map(point)
        .to_vec(),
    ));
    blocks.push(part(words.limits_head));
    blocks.push(Block::Bullets(
        Tone::Body,
        [words.limits_simulated, words.limits_fungi, words.limits_photo, words.limits_width].map(point).to_vec(),
    ));
    blocks.push(part(words.program_head));
    blocks.push(Block::Facts(program(report, words)));
    blocks
}

/// The facts of the case in full, where the first page had to shorten one.
fn whole_facts(report: &Report, words: &Words) -> Vec<Block> {
    let facts = facts(report, words);
    let long = facts.iter().any(|(_, value)| shortened(value, FITS[0].max_fact).len() < value.len());
    if long { vec![Block::Facts(facts)] } else { Vec::new() }
}

/// The course of the site, where there were earlier visits.
fn course(report: &Report, words: &Words) -> Vec<Block> {
    if report.case.visits.is_empty() {
        return Vec::new();
    }
    let row = |day: String, hairs: Option<usize>, infected: Option<usize>, zone: &str, remark: &str| {
        let number = |n: Option<usize>| n.map_or(words.not_told.to_owned(), |n| n.to_string());
        vec![
            day.into(),
            number(hairs).into(),
            number(infected).into(),
            zone.to_owned().into(),
            remark.to_owned().into(),
        ]
    };
    let mut rows: Vec<_> = report
        .case
        .visits
        .iter()
        .map(|Visit { day, hairs, infected, zone, remark }| {
            let zone = zone.as_deref().map_or(words.not_told, |zone| words.zone(zone));
            row(day.to_string(), *hairs, *infected, zone, remark.as_deref().unwrap_or_default())
        })
        .collect();
    let entries: Vec<&Entry> = report.photos.iter().map(|photo| photo.entry).collect();
    let (slide, _) = together(&entries);
    let hairs = slide.counts[0] + slide.counts[1] + slide.counts[2];
    let day = report.case.exam_day.or(report.case.sampled).unwrap_or(report.made_on);
    rows.push(row(
        day.to_string(),
        Some(hairs),
        Some(slide.counts[0]),
        zone_of_most(&entries, words),
        words.course_now,
    ));
    vec![
        Block::Heading(Rank::Part, words.course_head.to_owned()),
        Block::Table {
            head: [words.day, words.hairs_judged, words.look_infected, words.course_glow, words.remark_column]
                .map(str::to_owned)
                .to_vec(),
            rows,
            shares: vec![0.14, 0.12, 0.14, 0.24, 0.36],
        },
        Block::Paragraph(Tone::Small, words.course_note.to_owned()),
    ]
}

/// The zone of most shafts that look infected.
fn zone_of_most(entries: &[&Entry], words: &Words) -> &'static str {
    let zones = ["base", "whole", "tip", "patchy", "none", "unknown"];
    let count = |zone: &str| {
        let shafts = entries.iter().flat_map(|entry| &entry.shafts);
        shafts.filter(|shaft| shaft.class() == "infected" && shaft.zone == zone).count()
    };
    let most =
        zones.into_iter().max_by_key(|zone| (count(zone), std::cmp::Reverse(zones.iter().position(|z| z == zone))));
    most.filter(|zone| count(zone) > 0).map_or(words.not_told, |zone| words.zone(zone))
}

/// Median width of the comparison shafts of a photo, pixels.
fn ordinary_width(entry: &Entry) -> Option<f64> {
    let told = entry.shafts.iter().filter(|shaft| shaft.comparison && !shaft.is_too_thin());
    median(&told.filter_map(|shaft| shaft.width.median_px).collect::<Vec<f64>>())
}

/// Everything of one shaft.
fn one(photo: &ReadPhoto, shaft: &Shaft, ordinary_px: Option<f64>, words: &Words) -> Vec<Block> {
    let entry = photo.entry;
    let n = shaft.id.to_string();
    let mut name = words.look_words(shaft.class()).to_owned();
    if shaft.comparison {
        let role = words.language.terms().comparison(true, shaft.class()).unwrap_or_default();
        name = format!("{name}, {role}");
    }
    let mut blocks = vec![Block::Heading(Rank::Sub, fill(words.shaft_head, &[("n", &n), ("look", &name)]))];
    blocks.extend(strip(photo, shaft, words));
    let [width, glow] = charts(entry, shaft, ordinary_px, words);
    blocks.push(Block::Beside { share: 0.5, left: vec![width], right: vec![glow] });
    blocks.push(Block::Facts(measures(entry, shaft, words)));
    let mut reasons = reasons_told(shaft, words.language);
    reasons.truncate(MAX_REASONS);
    if !reasons.is_empty() {
        blocks.push(Block::Paragraph(Tone::Small, format!("{}: {}.", words.reasons_head, reasons.join("; "))));
    }
    blocks.extend(nearest(shaft, words));
    blocks
}

/// The reference shafts that it is most like, in words.
fn nearest(shaft: &Shaft, words: &Words) -> Option<Block> {
    let terms = words.language.terms();
    let one = |near: &Nearest| {
        let (look, distance) = (words.look_words(near.look.code()), words.number(near.distance, 2));
        fill(words.nearest_one, &[("look", look), ("kind", terms.kind(&near.kind)), ("distance", &distance)])
    };
    let told: Vec<String> = shaft.nearest.iter().map(one).collect();
    (!told.is_empty()).then(|| Block::Paragraph(Tone::Small, format!("{}: {}.", words.nearest, told.join("; "))))
}

/// A number with three significant digits.
fn significant(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let decimals = (2.0 - value.abs().max(1e-6).log10().floor()).clamp(0.0, 6.0) as usize;
    format!("{value:.decimals$}")
}

/// The shaft laid straight.
fn strip(photo: &ReadPhoto, shaft: &Shaft, words: &Words) -> Option<Block> {
    let line = Polyline::new(shaft.centreline.iter().copied())?;
    let width = shaft.width.median_px.unwrap_or(0.0);
    let half = (VIEW_WIDTHS * width).max(0.5 * LEAST_ASPECT * line.length()).max(4.0);
    let columns = line.length().clamp(2.0, MAX_COLUMNS);
    let rows = (columns * 2.0 * half / line.length()).clamp(2.0, MAX_COLUMNS);
    let picture = straightened(photo.picture, &line, half, columns as usize, rows as usize)?;
    let alt = fill(words.strip_alt, &[("n", &shaft.id.to_string())]);
    Some(Block::Picture { picture, alt, caption: None, max_height: MAX_STRIP_HEIGHT })
}

/// Width and fluorescence along the shaft.
fn charts(entry: &Entry, shaft: &Shaft, ordinary_px: Option<f64>, words: &Words) -> [Block; 2] {
    let (per_px, unit, along) = match entry.photo.scale {
        Some(scale) => (scale.um_per_px, "µm", words.axis_along),
        None => (1.0, "px", words.axis_along_px),
    };
    let ink = darkened(look_mark(shaft.class()).rgb);
    let length = shaft.length_px * per_px;
    let n = shaft.id.to_string();
    let drawn = |samples: &[Sample], name: &str, reference: Option<f64>| -> Drawing {
        let labels = Labels { name, along, decimal: words.decimal(), reference };
        chart(samples, length, ink, &labels, CHART[0], CHART[1])
    };
    let range = |samples: &[Sample]| {
        let values: Vec<f64> = samples.iter().filter_map(|sample| sample.value).collect();
        let ends = [values.iter().copied().reduce(f64::min), values.iter().copied().reduce(f64::max)];
        ends.map(|end| end.map_or(words.not_told.to_owned(), |end| significant(end).replace('.', words.decimal())))
    };
    let widths: Vec<Sample> = shaft
        .stations
        .iter()
        .map(|station| Sample {
            at: station.at_px * per_px,
            value: station.width_px.map(|width| width * per_px),
            sd: station.width_sd_px.map(|sd| sd * per_px),
        })
        .collect();
    let glows: Vec<Sample> = shaft
        .stations
        .iter()
        .map(|station| Sample { at: station.at_px * per_px, value: station.glow, sd: None })
        .collect();
    let [low, high] = range(&widths);
    let width = Block::Drawing {
        drawing: drawn(&widths, &fill(words.width_chart, &[("unit", unit)]), ordinary_px.map(|px| px * per_px)),
        alt: fill(words.width_chart_alt, &[("n", &n), ("low", &low), ("high", &high), ("unit", unit)]),
    };
    let [low, high] = range(&glows);
    let glow = Block::Drawing {
        drawing: drawn(&glows, words.language.terms().brightness_above, None),
        alt: fill(words.glow_chart_alt, &[("n", &n), ("low", &low), ("high", &high)]),
    };
    [width, glow]
}

/// A look's colour, dark enough for a thin line on white paper: 3 : 1 as WCAG 2 asks of graphics.
fn darkened(rgb: [u8; 3]) -> [u8; 3] {
    let linear = |c: u8| (f64::from(c) / 255.0).powf(2.2);
    let light = 0.2126 * linear(rgb[0]) + 0.7152 * linear(rgb[1]) + 0.0722 * linear(rgb[2]);
    // Contrast against white is 1.05 / (light + 0.05).
    let most = 1.05 / 3.0 - 0.05;
    if light <= most { rgb } else { rgb.map(|c| (f64::from(c) * (most / light).powf(1.0 / 2.2)) as u8) }
}

/// The measurements of a shaft.
fn measures(entry: &Entry, shaft: &Shaft, words: &Words) -> Vec<(String, String)> {
    let label = |label: &str, value: String| (label.to_owned(), value);
    let width = words.language.width(shaft).unwrap_or_else(|| words.not_told.to_owned());
    let length = match entry.photo.scale {
        Some(scale) => format!("{} µm", words.number(scale.um_from_px(shaft.length_px), 0)),
        None => format!("{} px", words.number(shaft.length_px, 0)),
    };
    let ends = [fill(words.base, &[("end", words.end(shaft.base))]), fill(words.tip, &[("end", words.end(shaft.tip))])];
    let contrast = shaft.glow.contrast.map_or(words.not_told.to_owned(), |c| format!("{} ×", words.number(c, 1)));
    let looks = ["infected", "normal", "coated", "fibre"];
    let mut likely: Vec<(usize, f64)> = shaft.probability.iter().copied().enumerate().collect();
    likely.sort_by(|a, b| b.1.total_cmp(&a.1));
    let likely = likely
        .iter()
        .filter(|(_, p)| *p >= 0.005)
        .map(|&(i, p)| format!("{} {} %", words.look_words(looks[i]), words.number(100.0 * p, 0)));
    let plausible: Vec<&str> = shaft.plausible.iter().map(|look| words.look_words(look.code())).collect();
    let plausible = if plausible.is_empty() { words.no_reference.to_owned() } else { plausible.join(", ") };
    // Short ones first: they stand side by side.
    vec![
        label(words.width, width),
        label(words.length, length),
        label(words.glow_share, format!("{} %", words.number(100.0 * shaft.fluorescing_share, 0))),
        label(words.novelty, words.number(shaft.novelty, 2)),
        label(words.orientation, words.orientation_words(shaft.orientation).to_owned()),
        label(words.ends, ends.join(", ")),
        label(words.where_glows, words.zone(shaft.zone).to_owned()),
        label(words.language.terms().brightness_over, contrast),
        label(words.probability, likely.collect::<Vec<_>>().join(", ")),
        label(words.plausible, plausible),
    ]
}

/// What made the reading: so that it can be made again.
fn program(report: &Report, words: &Words) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    if let Some(photo) = report.photos.first() {
        let program = &photo.entry.program;
        let settings: Vec<String> = program.settings.iter().map(|(name, value)| format!("{name} = {value}")).collect();
        let settings = if settings.is_empty() { words.settings_none.to_owned() } else { settings.join(", ") };
        facts.push((words.version.to_owned(), format!("Pilumen {}", program.version)));
        facts.push((words.settings.to_owned(), settings));
        facts.push((words.model_digest.to_owned(), program.model_sha256.clone()));
    }
    for photo in report.photos.iter().map(|photo| &photo.entry.photo) {
        let (w, h) = (photo.width_px.to_string(), photo.height_px.to_string());
        let mut about = vec![fill(words.photo_facts, &[("w", &w), ("h", &h), ("format", photo.format)])];
        about.extend(photo.captured_at.as_ref().map(|when| fill(words.captured, &[("when", when)])));
        about.extend(photo.camera.as_ref().map(|camera| fill(words.camera, &[("camera", camera)])));
        facts.push((
            fill(words.photo_digest, &[("file", &photo.file)]),
            format!("{} ({})", photo.sha256, about.join(", ")),
        ));
    }
    facts
}

#[cfg(test)]
mod tests {
    use super::{darkened, significant};

    #[test]
    fn thin_lines_are_dark_enough() {
        // Okabe and Ito's yellow and sky blue are too light for paper; black and vermillion are not.
        let light = |rgb: [u8; 3]| {
            let linear = rgb.map(|c| (f64::from(c) / 255.0).powf(2.2));
            0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        };
        for rgb in [[240, 228, 66], [86, 180, 233], [204, 121, 167], [255, 255, 255]] {
            assert!(1.05 / (light(darkened(rgb)) + 0.05) >= 3.0, "{rgb:?}");
        }
        assert_eq!(darkened([0, 0, 0]), [0, 0, 0]);
        assert_eq!(darkened([213, 94, 0]), [213, 94, 0]);
    }

    #[test]
    fn three_digits_tell_enough() {
        assert_eq!(significant(31.234), "31.2");
        assert_eq!(significant(0.012_34), "0.0123");
        assert_eq!(significant(-1234.6), "-1235");
        assert_eq!(significant(0.0), "0");
    }
}
