//! The exporters, held by assertions first and by golden files last.
//!
//! Golden files lie in `fixtures/golden`; `RENEW_GOLDEN=1 cargo test --test main` rewrites them. Read the difference
//! before committing it. `SHOW_MARKED=folder` writes the marked photos of all samples there, to be looked at.

use std::fs;
use std::path::{Path, PathBuf};

use pilumen::concerns::{Concern, ConcernKind};
use pilumen::exports::{Format, Table, from_record};
use pilumen::record::Entry;
use serde_json::json;

use crate::judgement::judges_nobody;
use crate::sample::{SMALL, Sample};

/// Samples that have gone wrong or may: none, one, eight, forty shafts; tiny, huge, dark, bright, odd shapes.
fn samples() -> Vec<(&'static str, Sample, usize)> {
    let small = Sample { grain: 0.2, ..SMALL };
    vec![
        ("none", Sample { width: 900, height: 600, n_shafts: 0, ..small }, 1),
        ("one", Sample { width: 1600, height: 1200, n_shafts: 1, shaft_px: 60.0, ..small }, 1),
        ("eight", Sample { width: 4000, height: 3000, n_shafts: 8, shaft_px: 70.0, um_per_px: Some(0.42), ..small }, 2),
        ("forty", Sample { width: 4000, height: 3000, n_shafts: 40, shaft_px: 24.0, um_per_px: Some(1.1), ..small }, 2),
        ("tiny", Sample { width: 64, height: 64, n_shafts: 2, shaft_px: 6.0, um_per_px: None, ..small }, 1),
        ("pixel", Sample { width: 1, height: 1, n_shafts: 0, um_per_px: None, ..small }, 1),
        ("huge", Sample { width: 12000, height: 9000, n_shafts: 6, shaft_px: 200.0, um_per_px: Some(0.1), ..small }, 4),
        ("dark", Sample { width: 1600, height: 1200, n_shafts: 6, shaft_px: 30.0, ground: 0.0004, ..small }, 1),
        ("bright", Sample { width: 1600, height: 1200, n_shafts: 6, shaft_px: 30.0, ground: 0.5, ..small }, 1),
        ("strip", Sample { width: 30, height: 4000, n_shafts: 1, shaft_px: 8.0, ..small }, 2),
        ("panorama", Sample { width: 6000, height: 400, n_shafts: 9, shaft_px: 20.0, ..small }, 2),
    ]
}

#[test]
fn every_sample_has_a_marked_photo_with_the_photo_in_it() {
    for (name, sample, shrink) in samples() {
        let (entry, picture) = (sample.entry(), sample.picture(shrink));
        let png = from_record(&entry, Some(&picture), Format::Marked);
        if let Some(folder) = std::env::var_os("SHOW_MARKED") {
            fs::write(Path::new(&folder).join(format!("{name}.png")), &png).unwrap();
        }
        let marked = image::load_from_memory(&png).unwrap().to_rgb8();
        assert!(marked.width() as usize >= picture.width && marked.height() as usize > picture.height, "{name}");
        // Most of the photo must still be seen: marks explain it, they do not replace it.
        let enlarge = 1000_usize.div_ceil(picture.width.max(picture.height)).clamp(1, 24);
        let left = (marked.width() as usize - picture.width * enlarge) / 2;
        let n_same = (0..picture.width * picture.height)
            .filter(|i| {
                let (x, y) = (i % picture.width, i / picture.width);
                let at = |v: usize| (v * enlarge + enlarge / 2) as u32;
                marked.get_pixel(left as u32 + at(x), at(y)).0[..] == picture.rgb[3 * i..3 * i + 3]
            })
            .count();
        let share = n_same as f64 / (picture.width * picture.height) as f64;
        let least = if ["none", "pixel"].contains(&name) { 1.0 } else { 0.6 };
        assert!(share >= least, "{name}: {share:.2} of the photo can be seen");
    }
}

#[test]
fn a_marked_photo_without_a_picture_is_no_file() {
    assert!(from_record(&SMALL.entry(), None, Format::Marked).is_empty());
}

#[test]
fn the_same_entry_gives_the_same_bytes() {
    for format in Format::ALL {
        let made = || from_record(&SMALL.entry(), Some(&SMALL.picture(1)), format);
        assert_eq!(made(), made(), "{format:?}");
    }
}

#[test]
fn a_reversed_shaft_begins_at_its_base() {
    let (finding, entry) = (SMALL.finding(), SMALL.entry());
    let (profile, shaft) = (&finding.features.profiles.shafts[4], &entry.shafts[4]);
    assert!(finding.features.rows[4].reversed, "the sample has a reversed shaft");
    assert_eq!(shaft.centreline[0], profile.centreline.last());
    let (first, last) = (shaft.stations[0], profile.stations.last().unwrap());
    assert!((first.at_px - (profile.centreline.length() - last.s_px)).abs() < 1e-9);
    assert_eq!(first.width_px, last.width_px);
    // Left stays left of the direction of travel: against the normal.
    let (left, right) = (first.edges.unwrap()[0], first.edges.unwrap()[1]);
    let along = shaft.centreline[1] - shaft.centreline[0];
    assert!((right - left).dot(along.normal()) > 0.0);
}

#[test]
fn no_output_says_what_the_program_cannot_know() {
    for (name, sample, _) in samples() {
        let mut entry = sample.entry();
        // The finding's own sentences are made by hand here; what is tested is what the exporters add.
        entry.advice = "Send a culture.".to_owned();
        for format in [Format::Json, Format::Summary] {
            let text = String::from_utf8(from_record(&entry, None, format)).unwrap().to_lowercase();
            judges_nobody(&format!("{name} as {format:?}"), &text);
            assert!(text.contains("culture"), "{name} as {format:?} must recommend a culture");
        }
    }
}

#[test]
fn the_table_has_a_row_a_shaft_and_empty_cells_for_what_is_missing() {
    let entry = SMALL.entry();
    let rows = read_csv(&table(&entry));
    assert_eq!(rows.len(), 1 + entry.shafts.len());
    let column = |name: &str| rows[0].iter().position(|head| head == name).unwrap_or_else(|| panic!("no {name}"));
    assert_eq!(rows[1][column("photo")], "bracken-left-pinna.jpg");
    assert_eq!(column("photo"), 0);
    assert_eq!(rows[1][column("class")], "infected");
    assert_eq!(rows[1][column("width.level_um")], "29.123");
    assert_eq!(rows[2][column("glow.level [noise units]")], "");
    let um: f64 = rows[1][column("width_um")].parse().unwrap();
    let px: f64 = rows[1][column("width_px")].parse().unwrap();
    assert!((um / px - 2.5).abs() < 1e-3, "2.5 µm a pixel");

    let mut unscaled = entry.clone();
    unscaled.photo.scale = None;
    unscaled.shafts[0].width = pilumen::record::Width::default();
    let rows = read_csv(&table(&unscaled));
    assert_eq!(rows[1][column("width_px")], "");
    assert_eq!(rows[1][column("length_um")], "");
}

#[test]
fn a_shaft_too_thin_for_the_photo_has_an_upper_bound_and_no_confident_number() {
    let mut entry = SMALL.entry();
    let shaft = &mut entry.shafts[0];
    shaft.concerns.push(Concern::new(ConcernKind::TooThin));
    (shaft.width.median_px, shaft.width.sd_px) = (Some(8.0), Some(1.5));
    (shaft.width.median_um, shaft.width.sd_um) = (Some(20.0), Some(4.0));
    let read = |entry: &Entry| {
        let json: serde_json::Value = serde_json::from_slice(&from_record(entry, None, Format::Json)).unwrap();
        let summary = String::from_utf8(from_record(entry, None, Format::Summary)).unwrap();
        (json["shafts"].clone(), summary, read_csv(&table(entry)))
    };
    let (shafts, summary, rows) = read(&entry);
    // The median and two standard uncertainties: 8 + 2 · 1.5 and 20 + 2 · 4.
    assert_eq!((&shafts[0]["width"]["at_most_px"], &shafts[0]["width"]["at_most_um"]), (&json!(11.0), &json!(28.0)));
    assert_eq!(shafts[1]["width"]["at_most_um"], json!(null), "of the others the width is told");
    assert!(summary.contains("width ≤ 28.0 µm") && !summary.contains("20.0 ± 4.0"), "{summary}");
    let column = |name: &str| rows[0].iter().position(|head| head == name).unwrap_or_else(|| panic!("no {name}"));
    let bounds =
        |row: usize| (rows[row][column("width_at_most_px")].clone(), rows[row][column("width_at_most_um")].clone());
    assert_eq!(bounds(1), ("11".to_owned(), "28".to_owned()));
    assert_eq!(bounds(2), (String::new(), String::new()));

    // Where the uncertainty is as large as the width, two of them above it would be no bound worth a word.
    (entry.shafts[0].width.sd_px, entry.shafts[0].width.sd_um) = (Some(9.0), Some(24.0));
    let (shafts, summary, _) = read(&entry);
    assert_eq!(shafts[0]["width"]["at_most_um"], json!(null));
    assert!(summary.contains("width not measured"), "{summary}");
}

#[test]
fn golden_files() {
    let (entry, picture) = (SMALL.entry(), SMALL.picture(1));
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    golden("sample.json", &(pretty(&text(from_record(&entry, None, Format::Json))) + "\n"));
    golden("sample.txt", &text(from_record(&entry, None, Format::Summary)));
    golden("sample.shafts.csv", &text(table(&entry)));
    golden_picture("sample.marked.png", &from_record(&entry, Some(&picture), Format::Marked));
}

#[test]
fn profiles_and_centrelines_are_the_entrys() {
    let entry = SMALL.entry();
    let read = |table: Table| {
        let bytes = [table.head(&entry.catalogue), table.rows(&entry, "bracken-left-pinna")].concat();
        read_csv(&bytes)
    };
    let rows = read(Table::Profiles);
    let column = |name: &str| rows[0].iter().position(|head| head == name).unwrap_or_else(|| panic!("no {name}"));
    assert_eq!(rows.len(), 1 + entry.shafts.iter().map(|shaft| shaft.stations.len()).sum::<usize>());
    let value = |row: &Vec<String>, name: &str| row[column(name)].parse::<f64>().ok();
    let mut i = 1;
    for shaft in &entry.shafts {
        for station in &shaft.stations {
            let row = &rows[i];
            assert_eq!(row[column("shaft")], shaft.id.to_string());
            let near = |a: Option<f64>, b: Option<f64>, within: f64| match (a, b) {
                (Some(a), Some(b)) => (a - b).abs() <= within,
                (a, b) => a.is_none() && b.is_none(),
            };
            assert!(near(value(row, "width_px"), station.width_px, 1e-3), "{row:?}");
            assert!(near(value(row, "width_um"), station.width_px.map(|px| 2.5 * px), 3e-3), "{row:?}");
            assert!(near(value(row, "left_x_px"), station.edges.map(|edges| edges[0].x), 0.0051), "{row:?}");
            assert!(near(value(row, "glow"), station.glow, 1e-4), "{row:?}");
            // The place on the centreline lies between the two edges.
            if let Some([left, right]) = station.edges {
                let (x, y) = (value(row, "x_px").unwrap(), value(row, "y_px").unwrap());
                assert!((x - (left.x + right.x) / 2.0).abs() < 0.02 && (y - (left.y + right.y) / 2.0).abs() < 0.02);
            }
            i += 1;
        }
    }
    let rows = read(Table::Centrelines);
    let points: Vec<_> = entry.shafts.iter().flat_map(|shaft| shaft.centreline.iter()).collect();
    assert_eq!(rows.len(), 1 + points.len());
    for (row, point) in rows[1..].iter().zip(points) {
        let [x_px, y_px, x_um, y_um] = [4, 5, 6, 7].map(|column: usize| row[column].parse::<f64>().unwrap());
        assert!((x_px - point.x).abs() <= 0.0051 && (y_px - point.y).abs() <= 0.0051, "{row:?}");
        assert!((x_um - 2.5 * point.x).abs() < 0.05 && (y_um - 2.5 * point.y).abs() < 0.05, "{row:?}");
    }
}

fn table(entry: &Entry) -> Vec<u8> {
    [Table::Shafts.head(&entry.catalogue), Table::Shafts.rows(entry, "bracken-left-pinna")].concat()
}

fn read_csv(bytes: &[u8]) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(bytes);
    reader.records().map(|record| record.unwrap().iter().map(str::to_owned).collect()).collect()
}

fn pretty(json: &str) -> String {
    assert!(!json.contains('\n'), "an object is one line");
    let value: serde_json::Value = serde_json::from_str(json).unwrap();
    serde_json::to_string_pretty(&value).unwrap()
}

fn golden_path(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/golden").join(name)
}

fn renew() -> bool {
    std::env::var_os("RENEW_GOLDEN").is_some()
}

fn golden(name: &str, text: &str) {
    if renew() {
        fs::write(golden_path(name), text).unwrap();
    }
    let known = fs::read_to_string(golden_path(name)).unwrap_or_else(|_| panic!("{name} is missing"));
    for (line, (known, new)) in known.split('\n').zip(text.split('\n')).enumerate() {
        assert_eq!(known, new, "{name}, line {}", line + 1);
    }
    assert_eq!(known.len(), text.len(), "{name} is longer or shorter than it was");
}

/// Kept at half its size, which a repository bears better. Pixels may differ by rounding from one processor to
/// another; more than a trace of it is a change.
fn golden_picture(name: &str, png: &[u8]) {
    let new = image::load_from_memory(png).unwrap();
    let new = new.resize_exact(new.width() / 2, new.height() / 2, image::imageops::FilterType::Triangle).to_rgb8();
    if renew() {
        use image::codecs::png::{CompressionType, FilterType, PngEncoder};
        let file = fs::File::create(golden_path(name)).unwrap();
        let encoder = PngEncoder::new_with_quality(file, CompressionType::Best, FilterType::NoFilter);
        new.write_with_encoder(encoder).unwrap();
    }
    let known = image::open(golden_path(name)).unwrap_or_else(|_| panic!("{name} is missing")).to_rgb8();
    assert_eq!(known.dimensions(), new.dimensions(), "{name}");
    let differs =
        |(one, other): &(&image::Rgb<u8>, &image::Rgb<u8>)| (0..3).any(|c| one.0[c].abs_diff(other.0[c]) > 12);
    let n = known.pixels().zip(new.pixels()).filter(differs).count();
    let share = n as f64 / f64::from(known.width() * known.height());
    assert!(share < 1e-3, "{name}: {:.2} % of the pixels differ", 100.0 * share);
}
