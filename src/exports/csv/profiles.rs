//! The table of profiles: one row a station, width and fluorescence along the shaft, and where the outline lies.

use super::super::from_record::{Entry, Point, Shaft, Station};
use super::super::rounded::place;
use super::{Column, Kind, OfShaft, column, number, of_which_shaft};
use crate::maths::polyline::Polyline;

/// What a row is made of.
pub(super) struct Row<'a> {
    entry: &'a Entry,
    reading: &'a str,
    shaft: &'a Shaft,
    number: usize,
    station: Station,
    middle: Option<Point>,
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

/// The rows of one photo.
pub(super) fn rows<'a>(entry: &'a Entry, reading: &'a str) -> Vec<Row<'a>> {
    let mut rows = Vec::new();
    for shaft in &entry.shafts {
        let line = Polyline::new(shaft.centreline.iter().copied());
        for (i, &station) in shaft.stations.iter().enumerate() {
            let middle = line.as_ref().map(|line| line.at(station.at_px));
            rows.push(Row { entry, reading, shaft, number: i + 1, station, middle });
        }
    }
    rows
}

/// The columns. Places count from the centre of the photo's top-left pixel, x right, y down.
pub(super) fn columns<'a>() -> Vec<Column<Row<'a>>> {
    const PX: Kind = Kind::Number("{pixel}");
    const UM: Kind = Kind::Number("um");
    let own: Vec<Column<Row<'a>>> = vec![
        column(
            "station",
            Kind::Count,
            "Number of the station on its shaft, from 1, base end first where known.",
            |row| row.number.to_string(),
        ),
        column("at_px", PX, "Distance along the centreline from its first point.", |row| px(Some(row.station.at_px))),
        column("at_um", UM, "The same; empty without a scale.", |row| row.um(Some(row.station.at_px))),
        column("x_px", PX, "Place on the centreline, to the right.", |row| px(row.middle.map(|p| p.x))),
        column("y_px", PX, "Place on the centreline, down.", |row| px(row.middle.map(|p| p.y))),
        column("width_px", PX, "Outer diameter; empty where it could not be measured.", |row| {
            number(row.station.width_px)
        }),
        column("width_sd_px", PX, "One standard uncertainty of width_px.", |row| number(row.station.width_sd_px)),
        column("width_um", UM, "Outer diameter; empty without a scale.", |row| row.um(row.station.width_px)),
        column("width_sd_um", UM, "One standard uncertainty of width_um, without the scale's.", |row| {
            row.um(row.station.width_sd_px)
        }),
        column("left_x_px", PX, "Outline on the left of the direction of the centreline.", |row| px(row.edge(0, 0))),
        column("left_y_px", PX, "Outline on the left.", |row| px(row.edge(0, 1))),
        column("right_x_px", PX, "Outline on the right.", |row| px(row.edge(1, 0))),
        column("right_y_px", PX, "Outline on the right.", |row| px(row.edge(1, 1))),
        column(
            "glow",
            Kind::Number("1"),
            "Fluorescence above the background, linear light, mean of the channels.",
            |row| number(row.station.glow),
        ),
    ];
    of_which_shaft().into_iter().chain(own).collect()
}

impl Row<'_> {
    /// A length in micrometres, with the digits of a measurement.
    fn um(&self, px: Option<f64>) -> String {
        number(self.entry.photo.scale.zip(px).map(|(scale, px)| scale.um_from_px(px)))
    }

    /// A coordinate of the outline: side 0 left, 1 right; axis 0 x, 1 y.
    fn edge(&self, side: usize, axis: usize) -> Option<f64> {
        self.station.edges.map(|edges| [edges[side].x, edges[side].y][axis])
    }
}

/// A place, to a hundredth of a pixel.
fn px(value: Option<f64>) -> String {
    value.and_then(place).map_or(String::new(), |value| value.to_string())
}
