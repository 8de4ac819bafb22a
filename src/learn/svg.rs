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

/// Size of what stands in the lower corners of a picture, pixels: the words that it is simulated on the left (part
/// of the picture itself), the scale bar on the right. Leaders go up from above it.
const STAMP_WIDTH: f64 = 220.0;
const CORNER_HEIGHT: f64 = 48.0;

/// A label's line from where the label stands to what it names.
struct Leader<'a> {
    callout: &'a Callout,
    text: &'static str,
    x: f64,
    /// Where the line begins, and the line its words stand on.
    from: f64,
    baseline: f64,
}

/// The labels of a picture, none of whose lines runs over what stands in the lower corners.
fn leaders<'a>(view: &'a View, language: Language) -> Vec<Leader<'a>> {
    let (w, h) = (view.width as f64, view.height as f64);
    let mut all: Vec<&Callout> = view.callouts.iter().collect();
    all.sort_by(|a, b| a.at.x.total_cmp(&b.at.x));
    let corners = STAMP_WIDTH..w - bar(view).1.max(70.0) - 60.0;
    let mut up: Vec<bool> = Vec::new();
    for callout in &all {
        // A place in the upper half is named above, others below; where one side gets crowded, the next goes to the other.
        let (above, below) = (up.iter().filter(|up| **up).count(), up.iter().filter(|up| !**up).count());
        let high = callout.at.y < 0.5 * h;
        let goes_up = (high && above <= below + 1) || (!high && below > above + 1);
        up.push(goes_up || !corners.contains(&callout.at.x));
    }
    loop {
        let mut leaders = Vec::new();
        let mut crossing = None;
        for (is_up, baseline, from) in [(true, BAND - 17.0, BAND - 8.0), (false, h + BAND + 35.0, h + BAND + 8.0)] {
            let row: Vec<usize> = (0..all.len()).filter(|i| up[*i] == is_up).collect();
            let texts: Vec<&str> = row.iter().map(|i| part(language, all[*i].part)).collect();
            let widths: Vec<f64> = texts.iter().map(|text| LETTER * LABEL * text.chars().count() as f64).collect();
            let wanted: Vec<f64> = row.iter().map(|i| all[*i].at.x).collect();
            for ((i, text), x) in row.iter().zip(&texts).zip(apart(&wanted, &widths, w)) {
                let leader = Leader { callout: all[*i], text, x, from, baseline };
                // A label that others push aside may lead over a corner after all.
                if !is_up && crossing.is_none() && leader.crosses_a_corner(view) {
                    crossing = Some(*i);
                }
                leaders.push(leader);
            }
        }
        match crossing {
            // Each turn one label goes up, so that this ends.
            Some(i) => up[i] = true,
            None => return leaders,
        }
    }
}

impl Leader<'_> {
    /// Whether the line runs over the words or the scale bar in the lower corners.
    fn crosses_a_corner(&self, view: &View) -> bool {
        let (w, h) = (view.width as f64, view.height as f64);
        let at = self.callout.at;
        // Where the line is at the corners' upper border; it is straight, so that beside them there it is beside them below
        // or ends there.
        let top = h - CORNER_HEIGHT;
        let (x0, y0) = (self.x, self.from - BAND);
        let share = ((top - y0) / (at.y - y0)).clamp(0.0, 1.0);
        let inside = |x: f64| x < STAMP_WIDTH || x > w - bar(view).1.max(70.0) - 48.0;
        y0 > h && (inside(x0 + share * (at.x - x0)) || inside(x0))
    }
}

/// The picture with its callouts: labels outside of it, lines from them to where the part is.
pub(super) fn labelled(view: &View, file: &str, title: &str, language: Language) -> String {
    let (w, h) = (view.width as f64, view.height as f64);
    let mut svg = format!(
        "<svg class=\"picture\" viewBox=\"0 0 {w} {}\" role=\"img\" aria-label=\"{}\">\
         <image href=\"{file}\" x=\"0\" y=\"{BAND}\" width=\"{w}\" height=\"{h}\"/>",
        h + 2.0 * BAND,
        escaped(title)
    );
    for Leader { callout, text, x, from, baseline } in leaders(view, language) {
        let (px, py) = (callout.at.x, callout.at.y + BAND);
        for class in ["casing", "leader"] {
            let _ = write!(svg, "<line class=\"{class}\" x1=\"{x:.0}\" y1=\"{from}\" x2=\"{px:.1}\" y2=\"{py:.1}\"/>");
        }
        let _ = write!(
            svg,
            "<circle class=\"point\" cx=\"{px:.1}\" cy=\"{py:.1}\" r=\"5\"/>\
             <text class=\"label\" x=\"{x:.0}\" y=\"{baseline}\" text-anchor=\"middle\">{}</text>",
            escaped(text)
        );
    }
    svg.push_str(&scale_bar(view, h));
    svg + "</svg>"
}

/// Length of the scale bar, µm and pixels: round, and no more than a fifth of the picture.
fn bar(view: &View) -> (f64, f64) {
    let lengths = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];
    let most = 0.22 * view.width as f64 * view.um_per_px;
    let um = lengths.into_iter().rfind(|um| *um <= most).unwrap_or(10.0);
    (um, um / view.um_per_px)
}

/// A bar of round length in the lower right corner.
fn scale_bar(view: &View, h: f64) -> String {
    let (um, length) = bar(view);
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
        // Where nothing could be measured there is nothing to draw.
        if values.iter().all(|(_, value)| value.is_none()) {
            return format!(
                "<p class=\"small\">{}: {}</p>",
                escaped(name),
                escaped(phrase(language, Phrase::NotMeasured))
            );
        }
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
    use super::{apart, leaders};
    use crate::learn::callouts::{Callout, Part, callouts};
    use crate::learn::drawn::{View, close_frame, whole_frame};
    use crate::learn::plates;
    use crate::learn::words::Language;
    use crate::maths::point::Point;
    use crate::sim::{Frame, Lamp};

    /// A view without its pictures.
    fn bare(frame: &Frame, callouts: Vec<Callout>) -> View {
        View {
            ultraviolet: Vec::new(),
            visible: Vec::new(),
            width: frame.width_px,
            height: frame.height_px,
            um_per_px: frame.um_per_px,
            callouts,
        }
    }

    #[test]
    fn no_leader_runs_over_the_scale_bar_or_the_words_in_the_corner() {
        let low = |x: f64| Callout { part: Part::Tip, at: Point::new(x, 300.0) };
        let frame = Frame { width_px: 1200, height_px: 460, um_per_px: 1.5, aperture: 0.1, on: None };
        let above = |x: f64| leaders(&bare(&frame, vec![low(x)]), Language::English)[0].from < 60.0;
        assert!(above(1130.0) && above(100.0) && !above(600.0), "in the corners labels stand above");
        for plate in plates() {
            let frames =
                std::iter::once(whole_frame(&plate)).chain(plate.close.iter().map(|at| close_frame(&plate, *at)));
            for frame in frames {
                let view = bare(&frame, callouts(&plate.exhibit.scene(&frame, Lamp::Ultraviolet)));
                for language in Language::ALL {
                    for leader in leaders(&view, language) {
                        let (at, from) = (leader.callout.at, leader.from - 50.0);
                        // The words are 220 pixels wide, the bar with its ground at most a quarter of the picture.
                        for i in 0..=200 {
                            let share = i as f64 / 200.0;
                            let (x, y) = (leader.x + share * (at.x - leader.x), from + share * (at.y - from));
                            let bar = 0.22 * view.width as f64 + 36.0;
                            let in_bar = x > view.width as f64 - bar.min(super::bar(&view).1.max(70.0) + 36.0);
                            let low = (view.height as f64 - 44.0..view.height as f64).contains(&y);
                            assert!(!(low && (in_bar || x < 210.0)), "{}: {}", plate.code, leader.text);
                        }
                    }
                }
            }
        }
    }

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
