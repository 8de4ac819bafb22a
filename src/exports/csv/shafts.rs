//! The table of shafts: one row a shaft, then a column for every measurement of the catalogue.

use super::super::from_record::{Entry, Look, Shaft};
use super::super::rounded::probabilities;
use super::{Column, Kind, OfShaft, column, number, of_which_shaft};

/// What a row is made of.
pub(super) struct Row<'a> {
    pub(super) entry: &'a Entry,
    pub(super) shaft: &'a Shaft,
    pub(super) reading: &'a str,
}

impl OfShaft for Row<'_> {
    fn entry(&self) -> &Entry {
        self.entry
    }

    fn shaft(&self) -> &Shaft {
        self.shaft
    }

    fn reading(&self) -> &str {
        self.reading
    }
}

/// The columns before the catalogue's measurements. Widths come in pixels and micrometres, lengths as well; what
/// has no unit in its name is a word, a count or a share.
pub(super) fn fixed<'a>() -> Vec<Column<Row<'a>>> {
    let own: Vec<Column<Row<'a>>> = vec![
        column(
            "class",
            Kind::Word,
            "What the shaft looks like: infected, normal, coated, fibre or undetermined.",
            |row| row.shaft.class().to_owned(),
        ),
        column(
            "probability_infected",
            Kind::Number("1"),
            "Calibrated probability that the shaft looks infected; the four sum to 1.",
            |row| probability(row, Look::Infected),
        ),
        column(
            "probability_normal",
            Kind::Number("1"),
            "Calibrated probability that the shaft looks ordinary.",
            |row| probability(row, Look::Normal),
        ),
        column("probability_coated", Kind::Number("1"), "Calibrated probability that the shaft looks coated.", |row| {
            probability(row, Look::Coated)
        }),
        column("probability_fibre", Kind::Number("1"), "Calibrated probability that it is no hair.", |row| {
            probability(row, Look::Fibre)
        }),
        column("plausible", Kind::Word, "The looks that cannot be ruled out at 90 %, parted by blanks.", |row| {
            row.shaft.plausible.iter().map(|look| look.code()).collect::<Vec<_>>().join(" ")
        }),
        column(
            "novelty",
            Kind::Number("1"),
            "Distance from the reference shafts; 1 = as far as 99 % of them are from each other.",
            |row| number(Some(row.shaft.novelty)),
        ),
        column("comparison", Kind::Word, "Whether the shaft serves as a comparison shaft: yes or no.", |row| {
            if row.shaft.comparison { "yes" } else { "no" }.to_owned()
        }),
        column("length_px", Kind::Number("{pixel}"), "Length of the centreline in view.", |row| {
            number(Some(row.shaft.length_px))
        }),
        column("length_um", Kind::Number("um"), "Length of the centreline in view; empty without a scale.", |row| {
            number(row.entry.photo.scale.map(|scale| scale.um_from_px(row.shaft.length_px)))
        }),
        column(
            "width_px",
            Kind::Number("{pixel}"),
            "Outer diameter, median over the stations; see width_at_most_px.",
            |row| number(row.shaft.width.median_px),
        ),
        column("width_sd_px", Kind::Number("{pixel}"), "One standard uncertainty of width_px.", |row| {
            number(row.shaft.width.sd_px)
        }),
        column(
            "width_at_most_px",
            Kind::Number("{pixel}"),
            "Upper bound of the diameter; only where the shaft is too thin for the photo to tell its width.",
            |row| number(at_most(row)[0]),
        ),
        column(
            "width_spread_px",
            Kind::Number("{pixel}"),
            "Spread of the diameter along the shaft, one robust standard deviation.",
            |row| number(row.shaft.width.spread_px),
        ),
        column(
            "width_um",
            Kind::Number("um"),
            "Outer diameter, median over the stations; empty without a scale.",
            |row| number(row.shaft.width.median_um),
        ),
        column("width_sd_um", Kind::Number("um"), "One standard uncertainty of width_um, with the scale's.", |row| {
            number(row.shaft.width.sd_um)
        }),
        column("width_at_most_um", Kind::Number("um"), "As width_at_most_px; empty without a scale.", |row| {
            number(at_most(row)[1])
        }),
        column("width_stations", Kind::Count, "Stations at which the diameter was measured.", |row| {
            row.shaft.width.n_measured.to_string()
        }),
        column("base_end", Kind::Word, "What is seen at the base end: root, broken, cut, outside or unknown.", |row| {
            row.shaft.base.to_owned()
        }),
        column(
            "tip_end",
            Kind::Word,
            "What is seen at the tip end: tapered, broken, cut, outside or unknown.",
            |row| row.shaft.tip.to_owned(),
        ),
        column("orientation", Kind::Word, "How the base end is known: given, measured or unknown.", |row| {
            row.shaft.orientation.to_owned()
        }),
        column(
            "glow_zone",
            Kind::Word,
            "Where along the shaft it fluoresces: none, base, whole, tip, patchy or unknown.",
            |row| row.shaft.zone.to_owned(),
        ),
        column("glow_fraction", Kind::Number("1"), "Share of the measured length that fluoresces.", |row| {
            number(Some(row.shaft.fluorescing_share))
        }),
        column("glow_contrast", Kind::Number("1"), "Fluorescence over the background beside the shaft.", |row| {
            number(row.shaft.glow.contrast)
        }),
        column(
            "concerns",
            Kind::Word,
            "Codes of what a person should know about the shaft, parted by blanks.",
            |row| row.shaft.concerns.iter().map(|c| c.code()).collect::<Vec<_>>().join(" "),
        ),
    ];
    of_which_shaft().into_iter().chain(own).collect()
}

fn at_most(row: &Row) -> [Option<f64>; 2] {
    if row.shaft.is_too_thin() { row.shaft.width.at_most() } else { [None; 2] }
}

fn probability(row: &Row, look: Look) -> String {
    let at = Look::ALL.iter().position(|&known| known == look).unwrap_or(0);
    probabilities(row.shaft.probability)[at].to_string()
}
