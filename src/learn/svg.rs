//! Drawings of the atlas: a picture with its callouts, and what was measured along a shaft.

use std::fmt::Write;

use super::callouts::Callout;
use super::drawn::{ReadShaft, View};
use super::words::{Language, Phrase, part, phrase};
use crate::maths::markup::escaped;

/// Height of the bands above and below a picture where labels stand, and size of the labels, pixels of the picture.
const BAND: f64 = 50.0;
const LABEL: f64 = 25.0;

/// About so wide is a letter of a label, share of its size; and the space between two labels, pixels.
const LETTER: f64 = 0.56;
const GAP: f64 = 24.0;

/// The picture with its callouts: labels outside of it, lines from them to where the part is.
pub(super) fn labelled(view: &View, file: &str, title: &str, language: Language) -> String {
    let (w, h) = (view.width as f64, view.height as f64);
    let mut svg = format!(
        "<svg class=\"picture\" viewBox=\"0 0 {w} {}\" role=\"img\" aria-label=\"{}\">\
         <image href=\"{file}\" x=\"0\" y=\"{BAND}\" width=\"{w}\" height=\"{h}\"/>",
        h + 2.0 * BAND,
        escaped(title)
    );
    let mut all: Vec<&Callout> = view.callouts.iter().collect();
    all.sort_by(|a, b| a.at.x.total_cmp(&b.at.x));
    // A place in the upper half is named above, others below; where one side gets crowded, the next goes to the other.
    let (mut above, mut below): (Vec<&Callout>, Vec<&Callout>) = (Vec::new(), Vec::new());
    for callout in all {
        let up = callout.at.y < 0.5 * h;
        let side = if (up && above.len() <= below.len() + 1) || (!up && below.len() > above.len() + 1) {
            &mut above
        } else {
            &mut below
        };
        side.push(callout);
    }
    for (row, baseline, from) in [(above, BAND - 17.0, BAND - 8.0), (below, h + BAND + 35.0, h + BAND + 8.0)] {
        let texts: Vec<&str> = row.iter().map(|callout| part(language, callout.part)).collect();
        let widths: Vec<f64> = texts.iter().map(|text| LETTER * LABEL * text.chars().count() as f64).collect();
        let wanted: Vec<f64> = row.iter().map(|callout| callout.at.x).collect();
        let middles = apart(&wanted, &widths, w);
        for ((callout, text), x) in row.iter().zip(&texts).zip(&middles) {
            let (px, py) = (callout.at.x, callout.at.y + BAND);
            for class in ["casing", "leader"] {
                let _ =
                    write!(svg, "<line class=\"{class}\" x1=\"{x:.0}\" y1=\"{from}\" x2=\"{px:.1}\" y2=\"{py:.1}\"/>");
            }
            let _ = write!(
                svg,
                "<circle class=\"point\" cx=\"{px:.1}\" cy=\"{py:.1}\" r=\"5\"/>\
                 <text class=\"label\" x=\"{x:.0}\" y=\"{baseline}\" text-anchor=\"middle\">{}</text>",
                escaped(text)
            );
        }
    }
    svg.push_str(&scale_bar(view, h));
    svg + "</svg>"
}

/// A bar of round length in the lower right corner.
fn scale_bar(view: &View, h: f64) -> String {
    let lengths = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0];
    let most = 0.22 * view.width as f64 * view.um_per_px;
    let um = lengths.into_iter().rfind(|um| *um <= most).unwrap_or(10.0);
    let length = um / view.um_per_px;
    let (right, y) = (view.width as f64 - 24.0, h + BAND - 20.0);
    format!(
        "<rect class=\"barGround\" x=\"{:.0}\" y=\"{:.0}\" width=\"{:.0}\" height=\"44\" rx=\"5\"/>\
         <rect class=\"bar\" x=\"{:.1}\" y=\"{y}\" width=\"{length:.1}\" height=\"6\"/>\
         <text class=\"barWords\" x=\"{:.1}\" y=\"{:.0}\" text-anchor=\"middle\">{um} µm</text>",
        right - length.max(70.0) - 12.0,
        y - 30.0,
        length.max(70.0) + 24.0,
        right - 0.5 * length.max(70.0) - 0.5 * length,
        right - 0.5 * length.max(70.0),
        y - 8.0
    )
}

/// Middles of labels as near to the wanted ones as they can be without meeting, within 0 and `most`.
fn apart(wanted: &[f64], widths: &[f64], most: f64) -> Vec<f64> {
    let mut middles = wanted.to_vec();
    let mut free = 4.0;
    for (middle, width) in middles.iter_mut().zip(widths) {
        *middle = middle.max(free + 0.5 * width);
        free = *middle + 0.5 * width + GAP;
    }
    let mut free = most - 4.0;
    for (middle, width) in middles.iter_mut().zip(widths).rev() {
        *middle = middle.min(free - 0.5 * width);
        free = *middle - 0.5 * width - GAP;
    }
    middles
}

/// The two profiles under the strip: width and glow along the shaft.
pub(super) fn profiles(read: &ReadShaft, language: Language) -> String {
    let um = read.um_per_px;
    let at = |i: usize| read.stations[i].at_px * um;
    let width: Vec<(f64, Option<f64>)> =
        read.stations.iter().enumerate().map(|(i, s)| (at(i), s.width_px.map(|px| px * um))).collect();
    let glow: Vec<(f64, Option<f64>)> = read.stations.iter().enumerate().map(|(i, s)| (at(i), s.glow)).collect();
    let chart = |values: &[(f64, Option<f64>)], name: &str, class: &str, last: bool| {
        chart(values, read.length_um, name, class, last.then(|| phrase(language, Phrase::Along)), language)
    };
    let width_name = phrase(language, Phrase::ProfileWidth);
    chart(&width, width_name, "width", false) + &chart(&glow, language.terms().brightness_above, "glow", true)
}

fn chart(
    values: &[(f64, Option<f64>)],
    length: f64,
    name: &str,
    class: &str,
    along: Option<&str>,
    language: Language,
) -> String {
    let (w, h) = (1000.0, if along.is_some() { 178.0 } else { 140.0 });
    let (top, bottom) = (30.0, 130.0);
    let most = values.iter().filter_map(|(_, value)| *value).fold(0.0, f64::max).max(1e-9);
    let step = round_step(most / 2.0);
    let high = (most / step).ceil() * step;
    let x = |at: f64| w * (at / length.max(1e-9)).clamp(0.0, 1.0);
    let y = |value: f64| bottom - (bottom - top) * (value / high).clamp(0.0, 1.0);
    let mut svg = format!(
        "<svg class=\"profile\" viewBox=\"-64 0 {} {h}\" role=\"img\" aria-label=\"{name}\"><text class=\"name\" x=\"0\" y=\"18\">{name}</text>",
        w + 84.0
    );
    let decimals = (-step.log10().floor()).clamp(0.0, 4.0) as usize;
    let n = (high / step).round() as usize;
    for i in 0..=n {
        let value = i as f64 * step;
        let _ = write!(
            svg,
            "<line class=\"grid\" x1=\"0\" y1=\"{0:.1}\" x2=\"{w}\" y2=\"{0:.1}\"/>\
             <text class=\"tick\" x=\"-8\" y=\"{1:.1}\" text-anchor=\"end\">{2}</text>",
            y(value),
            y(value) + 6.0,
            language.number(value, decimals)
        );
    }
    for stretch in values.split(|(_, value)| value.is_none()) {
        let points: Vec<String> =
            stretch.iter().filter_map(|(at, value)| Some(format!("{:.1},{:.1}", x(*at), y((*value)?)))).collect();
        if points.len() > 1 {
            let _ = write!(svg, "<polyline class=\"{class}\" points=\"{}\"/>", points.join(" "));
        }
    }
    if let Some(along) = along {
        let step = round_step(length.max(1e-9) / 4.0);
        for i in 0..=(length / step).floor() as usize {
            let at = i as f64 * step;
            let _ = write!(
                svg,
                "<text class=\"tick\" x=\"{:.1}\" y=\"{}\" text-anchor=\"middle\">{}</text>",
                x(at),
                bottom + 20.0,
                language.number(at, 0)
            );
        }
        let _ =
            write!(svg, "<text class=\"name\" x=\"{w}\" y=\"{}\" text-anchor=\"end\">{along}</text>", bottom + 42.0);
    }
    svg + "</svg>"
}

/// The least 1, 2 or 5 times a power of ten that is no less.
fn round_step(least: f64) -> f64 {
    let decade = 10_f64.powf(least.max(1e-12).log10().floor());
    [1.0, 2.0, 5.0, 10.0].map(|step| step * decade).into_iter().find(|s| *s >= least * (1.0 - 1e-9)).unwrap_or(decade)
}

#[cfg(test)]
mod tests {
    use super::apart;

    #[test]
    fn labels_do_not_meet_and_stay_on_the_picture() {
        let widths = [120.0, 200.0, 90.0, 150.0];
        for wanted in [[10.0, 20.0, 30.0, 40.0], [900.0, 910.0, 920.0, 990.0], [100.0, 400.0, 700.0, 900.0]] {
            let middles = apart(&wanted, &widths, 1000.0);
            for i in 0..4 {
                assert!(middles[i] - 0.5 * widths[i] >= 0.0 && middles[i] + 0.5 * widths[i] <= 1000.0, "{middles:?}");
                if i > 0 {
                    assert!(middles[i] - middles[i - 1] >= 0.5 * (widths[i] + widths[i - 1]), "{middles:?}");
                }
            }
        }
    }
}
