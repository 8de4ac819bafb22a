//! What do the files made of a reading cost?

mod shared;

use pilumen::exports::{Format, Table as Csv, from_record};
use pilumen::pipeline::{Want, read};
use pilumen::record::CaseFacts;
use pilumen::report::{Document, Language, Paper, ReadPhoto, Report};
use pilumen::settings::Settings;
use shared::{Table, decode, drawn, median, model, ms, timed, turns};

fn main() {
    let bytes = std::fs::read(drawn(12, 20, 1)).expect("it was drawn");
    let reading = read("drawn.jpg", &bytes, &Settings::default(), &model(), Want::Picture).expect("a photo");
    let picture = reading.picture.as_ref().expect("it was wanted");
    let case = CaseFacts::from_json(b"{\"animal\":\"Moth\",\"organisation\":\"Quillfeather House (invented)\"}")
        .expect("facts");
    let photos = [ReadPhoto { entry: &reading.entry, picture }];
    let made_on = jiff::civil::date(2026, 3, 1);
    let report = Report { case: &case, photos: &photos, made_on, language: Language::English, teaching: true };
    let mut table = Table::new("report", &["file", "kB", "ms", "/ decoding the photo"]);
    let mut make = |what: &str, work: &dyn Fn() -> usize| {
        let mut n_bytes = 0;
        let turns: Vec<[f64; 2]> = (0..turns(7))
            .map(|_| {
                let decoding = timed(|| decode(&bytes)).1;
                let (n, took) = timed(work);
                n_bytes = n;
                [took, decoding].map(ms)
            })
            .collect();
        let time = median(turns.iter().map(|turn| turn[0]).collect());
        let ratio = median(turns.iter().map(|turn| turn[0] / turn[1]).collect());
        table.row(&[what.to_owned(), format!("{}", n_bytes / 1000), format!("{time:.1}"), format!("{ratio:.2}")]);
    };
    make("report, PDF", &|| report.pdf(Document::Report, Paper::A4).expect("a report").len());
    make("report, web page", &|| report.html(Document::Report).len());
    make("slip for the laboratory, PDF", &|| report.pdf(Document::Slip, Paper::A4).expect("a slip").len());
    make("evaluation object", &|| from_record(&reading.entry, None, Format::Json).len());
    make("summary", &|| from_record(&reading.entry, None, Format::Summary).len());
    make("marked photo", &|| from_record(&reading.entry, Some(picture), Format::Marked).len());
    make("rows of all tables", &|| {
        Csv::ALL.iter().map(|csv| csv.rows(&reading.entry, "")).map(|rows| rows.len()).sum()
    });
    table.finish();
}
