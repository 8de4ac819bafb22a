//! The table of centrelines: one row a point, in pixels and micrometres.

use super::super::from_record::{Entry, Point, Shaft};
use super::super::rounded::place;
use super::{Column, Kind, OfShaft, column, number, of_which_shaft};

/// What a row is made of.
pub(super) struct Row<'a> {
    entry: &'a Entry,
    reading: &'a str,
    shaft: &'a Shaft,
    number: usize,
    at: Point,
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
    let of_shaft = |shaft: &'a Shaft| {
        let points = shaft.centreline.iter().enumerate();
        points.map(move |(i, &at)| Row { entry, reading, shaft, number: i + 1, at })
    };
    entry.shafts.iter().flat_map(of_shaft).collect()
}

/// The columns. Places count from the centre of the photo's top-left pixel, x right, y down.
pub(super) fn columns<'a>() -> Vec<Column<Row<'a>>> {
    const PX: Kind = Kind::Number("{pixel}");
    const UM: Kind = Kind::Number("um");
    let own: Vec<Column<Row<'a>>> = vec![
        column(
            "point",
            Kind::Count,
            "Number of the point on its centreline, from 1, base end first where known.",
            |row| row.number.to_string(),
        ),
        column("x_px", PX, "To the right of the centre of the top-left pixel.", |row| px(row.at.x)),
        column("y_px", PX, "Down from the centre of the top-left pixel.", |row| px(row.at.y)),
        column("x_um", UM, "The same; empty without a scale.", |row| row.um(row.at.x)),
        column("y_um", UM, "The same; empty without a scale.", |row| row.um(row.at.y)),
    ];
    of_which_shaft().into_iter().chain(own).collect()
}

impl Row<'_> {
    fn um(&self, px: f64) -> String {
        number(self.entry.photo.scale.map(|scale| scale.um_from_px(px)))
    }
}

fn px(value: f64) -> String {
    place(value).map_or(String::new(), |value| value.to_string())
}
