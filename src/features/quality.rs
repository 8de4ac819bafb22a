//! How well the photo shows the shaft.

use super::catalogue::Entry;
use super::signals::Signals;

pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        key: "photo.blur_to_width",
        unit: "1",
        range: [0.0, f64::INFINITY],
        meaning: "Blur (Gaussian sigma) divided by the width.",
        absent: "Blur or width is unknown.",
        disturbed_by: "Sharpening by the camera.",
        votes: true,
        measure: |s| Some(s.signals.blur_px? / s.signals.width_px()?),
    },
    Entry {
        key: "photo.clear_share",
        unit: "1",
        range: [0.0, 1.0],
        meaning: "Share of the shaft's stations that lie clear of other shafts, the border and clipped pixels.",
        absent: "The shaft has no stations.",
        disturbed_by: "It says how much was measured, not what the shaft is, therefore no vote.",
        votes: false,
        measure: |s| clear_share(s.signals),
    },
];

/// Share of the stations that lie clear, 0 to 1.
pub(super) fn clear_share(signals: &Signals) -> Option<f64> {
    (signals.n_stations > 0).then(|| signals.glow.len() as f64 / signals.n_stations as f64)
}
