//! The marks of one shaft: outline, centreline, base and tip.

use super::super::from_record::{Shaft, Station};
use super::looks::{Style, style};
use super::pen::{Ink, Sheet};
use crate::maths::point::{Point, Vec2};
use crate::maths::polyline::Polyline;

/// Thickness of an outline in units of the sheet, between these; thin shafts get thin outlines.
const OUTLINE_UNITS: [f64; 2] = [0.9, 2.0];

/// Thickness of an outline against the shaft's width: thicker hides what it surrounds.
const OUTLINE_PER_WIDTH: f64 = 0.22;

/// How much thicker the casing under a line is, in units of the sheet.
const CASING_UNITS: f64 = 1.1;

/// Thickness of a centreline in units of the sheet.
const CENTRELINE_UNITS: f64 = 0.7;

/// Thickness of a centreline where no outline stands beside it, in units of the sheet.
const BARE_UNITS: f64 = 1.0;

/// Radius of the dot at a base end, in units of the sheet.
const BASE_UNITS: f64 = 5.0;

/// Half the side of the arrow head at a tip end, in units of the sheet.
const TIP_UNITS: f64 = 5.5;

/// A shaft on the sheet.
pub(super) struct Drawn<'a> {
    /// The shaft.
    pub(super) shaft: &'a Shaft,
    /// Its centreline on the sheet.
    pub(super) centreline: Vec<Point>,
    /// Half its width on the sheet; that of a hairline where it was not measured.
    pub(super) half_width: f64,
    /// The runs of its measured edges on the sheet: middle, left, right of each station.
    runs: Vec<Vec<[Point; 3]>>,
    /// The stretches of its centreline on the sheet beside which no edge was measured.
    bare: Vec<Vec<Point>>,
}

impl<'a> Drawn<'a> {
    /// A shaft laid out on the sheet. `to_sheet` turns places of the photo into places of the sheet.
    pub(super) fn of(shaft: &'a Shaft, to_sheet: impl Fn(Point) -> Point) -> Drawn<'a> {
        let mut runs: Vec<Vec<[Point; 3]>> = vec![Vec::new()];
        for station in &shaft.stations {
            match (station.edges, runs.last_mut()) {
                (Some([left, right]), Some(run)) => {
                    run.push([to_sheet(left.lerp(right, 0.5)), to_sheet(left), to_sheet(right)]);
                }
                _ => runs.push(Vec::new()),
            }
        }
        runs.retain(|run| run.len() >= 2);
        let bare =
            bare_stretches(shaft).map(|line| line.points().iter().map(|&point| to_sheet(point)).collect()).collect();
        let per_px = to_sheet(Point::new(1.0, 0.0)).x - to_sheet(Point::new(0.0, 0.0)).x;
        Drawn {
            shaft,
            centreline: shaft.centreline.iter().map(|&point| to_sheet(point)).collect(),
            half_width: 0.5 * per_px * shaft.width.median_px.unwrap_or(1.0),
            runs,
            bare,
        }
    }

    /// Draws outline and centreline; `unit` is the sheet's unit in pixels.
    pub(super) fn lines(&self, sheet: &mut Sheet, unit: f64) {
        let style = style(self.shaft.look);
        let thick = (OUTLINE_PER_WIDTH * 2.0 * self.half_width).clamp(OUTLINE_UNITS[0] * unit, OUTLINE_UNITS[1] * unit);
        let thick = thick * style.weight;
        sheet.line(&self.centreline, style.casing.opacity(110), (CENTRELINE_UNITS + 0.6) * unit, &[]);
        sheet.line(&self.centreline, inner(style), CENTRELINE_UNITS * unit, &[]);
        // Where there is no outline to tell the look, the centreline does.
        for stretch in &self.bare {
            cased(sheet, stretch, style, BARE_UNITS * style.weight * unit, unit);
        }
        for run in &self.runs {
            for side in [1, 2] {
                // The line lies outside the edge, so that the edge itself stays visible.
                let edge: Vec<Point> = run
                    .iter()
                    .map(|station| station[side] + (station[side] - station[0]).unit() * (0.5 * thick))
                    .collect();
                cased(sheet, &edge, style, thick, unit);
            }
        }
    }

    /// Draws the marks of base and tip where they are known and in view.
    pub(super) fn ends(&self, sheet: &mut Sheet, unit: f64) {
        if self.shaft.orientation == "unknown" || self.centreline.len() < 2 {
            return;
        }
        let style = style(self.shaft.look);
        let n = self.centreline.len();
        if self.shaft.base != "outside" {
            base(sheet, self.centreline[0], style, unit);
        }
        if self.shaft.tip != "outside" {
            // A single short step of the centreline may point anywhere: look back over a few units.
            let tip = self.centreline[n - 1];
            let back = self.centreline.iter().rev().find(|point| point.distance(tip) > 4.0 * unit);
            let outwards = (tip - *back.unwrap_or(&self.centreline[0])).unit();
            self::tip(sheet, tip, outwards, style, unit);
        }
    }
}

/// The parts of the centreline between runs of measured stations, and before the first and after the last.
fn bare_stretches(shaft: &Shaft) -> impl Iterator<Item = Polyline> {
    let line = Polyline::new(shaft.centreline.iter().copied());
    let end = line.as_ref().map_or(0.0, Polyline::length);
    let measured = |pair: &[Station]| pair[0].edges.is_some() && pair[1].edges.is_some();
    let mut from = 0.0;
    let mut stretches = Vec::new();
    for pair in shaft.stations.windows(2).filter(|pair| measured(pair)) {
        stretches.push((from, pair[0].at_px));
        from = pair[1].at_px;
    }
    stretches.push((from, end));
    stretches.into_iter().filter_map(move |(from, to)| line.as_ref()?.part(from, to))
}

/// A line of a look on its casing.
pub(super) fn cased(sheet: &mut Sheet, line: &[Point], style: Style, thick: f64, unit: f64) {
    let dash: Vec<f64> = style.dash.iter().map(|length| length * unit).collect();
    sheet.line(line, style.casing, thick + CASING_UNITS * unit, &[]);
    sheet.line(line, style.ink, thick, &dash);
}

/// A dot: the base end.
pub(super) fn base(sheet: &mut Sheet, at: Point, style: Style, unit: f64) {
    sheet.disc(at, (BASE_UNITS + 1.6) * unit, style.casing.opacity(255));
    sheet.disc(at, BASE_UNITS * unit, style.ink);
}

/// An arrow head that points outwards: the tip end.
pub(super) fn tip(sheet: &mut Sheet, at: Point, outwards: Vec2, style: Style, unit: f64) {
    let head = |size: f64| {
        let side = outwards.normal() * size;
        // The casing is the same shape about the same centre of gravity.
        let middle = at + outwards * (TIP_UNITS * unit);
        [
            middle + outwards * (1.3 * size),
            middle - outwards * (0.8 * size) + side,
            middle - outwards * (0.8 * size) - side,
        ]
    };
    sheet.shape(&head((TIP_UNITS + 2.4) * unit), style.casing.opacity(255));
    sheet.shape(&head(TIP_UNITS * unit), style.ink);
}

/// Colour of the centreline: that of the look, lighter than the outline.
fn inner(style: Style) -> Ink {
    style.ink.opacity(200)
}
