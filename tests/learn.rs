//! Learning to see: figures held against independent libraries, files in and out, the atlas's pages.

use std::fs;
use std::path::Path;
use std::process::Command;

use pilumen::finding::model_from_bytes;
use pilumen::learn::{
    Answer, Asking, Atlas, Call, Home, Item, Level, Marked, MarkedShaft, Results, ResultsError, Truth, atlas_files,
    between_readers, blank_sheet, gathered_csv, plates, printed_series, results_line, series_files, standing,
};
use pilumen::maths::agreement::Confusion;
use pilumen::maths::jackknife::jackknife;
use pilumen::maths::proportion::{Z_95, wilson};
use pilumen::maths::raters::fleiss_kappa;
use serde_json::Value;

use crate::schema::faults_by;

fn reference() -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/reference/learn/reference.json");
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|one| one.as_f64().unwrap()).collect()
}

fn rows(value: &Value) -> Vec<Vec<f64>> {
    value.as_array().unwrap().iter().map(numbers).collect()
}

/// One photo a shaft: what is true and what was said, by the numbers of the reference's looks.
fn photos(truth: &[f64], said: &[f64]) -> Vec<Marked> {
    let call = |number: f64| Call::ALL[number as usize];
    (1..)
        .zip(truth.iter().zip(said))
        .map(|(number, (truth, said))| Marked {
            item: format!("p1-{number}"),
            at: String::new(),
            back: false,
            shafts: vec![MarkedShaft {
                truth: Truth { look: call(*truth), place: None, base: None },
                answer: Answer { shaft: 1, look: call(*said), place: None, base: None },
            }],
        })
        .collect()
}

/// Whether a jackknife error over `n` single cases is the asymptotic one as far as theory says. Both estimate the same error;
/// they differ by terms of the order of 1/n (B. Efron and C. Stein, "The jackknife estimate of variance", Annals of Statistics
/// 1981;9:586-596, from memory: the jackknife is on average the larger). Leaving a case out of n multiplies the influence of
/// each of the others by n / (n - 1), and kappa's curvature adds a term of that size: 4/n is allowed above and 2/n below (1/n to
/// 2/n above were found on tables of 50 to 240 cases).
fn alike(ratio: f64, n: usize) -> bool {
    let n = n as f64;
    (1.0 - 2.0 / n..1.0 + 4.0 / n).contains(&ratio)
}

/// What is printed, not what a library says: facts 6.1 (Vet World 2020;13(12):2798-2805: 37.5 %, 21.2 to 57.3; 96.1 %, 90.4
/// to 98.5), facts 6.2 (a published page: 6 of 32, 0.08889545 to 0.35309155), facts 6.5 (teaching pages: kappa 0.40), facts
/// 6.6 and 6.7 (an encyclopedia's examples and the layout of Cohen 1960, values from memory: 0.1304, 0.2593, 0.4915), and
/// the encyclopedia's example of Fleiss's kappa with ten cases and fourteen readers (0.210, from memory).
#[test]
fn kappas_and_intervals_are_those_that_are_printed() {
    for (right, n, low, high, half_a_digit) in
        [(9, 24, 0.212, 0.573, 5e-4), (99, 103, 0.904, 0.985, 5e-4), (6, 32, 0.088_895_45, 0.353_091_55, 5e-9)]
    {
        let interval = wilson(right, n, Z_95).unwrap();
        let off = (interval.low - low).abs().max((interval.high - high).abs());
        assert!(off <= half_a_digit, "{right} of {n}: {} to {}", interval.low, interval.high);
    }
    let printed: [(&[&[f64]], f64, f64); 4] = [
        (&[&[20.0, 5.0], &[10.0, 15.0]], 0.40, 5e-3),
        (&[&[45.0, 15.0], &[25.0, 15.0]], 0.1304, 5e-5),
        (&[&[25.0, 35.0], &[5.0, 35.0]], 0.2593, 5e-5),
        (&[&[88.0, 14.0, 18.0], &[10.0, 40.0, 10.0], &[2.0, 6.0, 12.0]], 0.4915, 5e-5),
    ];
    for (table, kappa, half_a_digit) in printed {
        let rows: Vec<Vec<f64>> = table.iter().map(|row| row.to_vec()).collect();
        let found = Confusion::from_rows(&rows).kappa().unwrap();
        assert!((found - kappa).abs() <= half_a_digit, "{found}, printed {kappa}");
    }
    let fourteen = &reference()["fleiss"][0];
    let found = fleiss_kappa(&rows(&fourteen["table"])).unwrap();
    assert!((found - 0.210).abs() <= 5e-4, "{found}, printed 0.210");
}

#[test]
fn kappas_and_intervals_are_those_of_statsmodels() {
    let reference = reference();
    for one in reference["cohen"].as_array().unwrap() {
        let table = rows(&one["table"]);
        let kappa = Confusion::from_rows(&table).kappa().unwrap();
        assert!((kappa - one["kappa"].as_f64().unwrap()).abs() < 1e-12, "{}", one["name"]);
        // The jackknife over single cases against the asymptotic error: alike, and never much smaller.
        let mut cases = Vec::new();
        for (i, row) in table.iter().enumerate() {
            for (j, n) in row.iter().enumerate() {
                cases.extend(std::iter::repeat_n((i, j), *n as usize));
            }
        }
        let sd = jackknife(cases.len(), |out| {
            let mut left = Confusion::from_rows(&table);
            out.iter().for_each(|&out| left.add(cases[out].0, cases[out].1, -1.0));
            left.kappa()
        });
        let ratio = sd.unwrap().sd.unwrap() / one["std"].as_f64().unwrap();
        assert!(alike(ratio, cases.len()), "{}: {ratio} of the asymptotic error", one["name"]);
    }
    for one in reference["fleiss"].as_array().unwrap() {
        let kappa = fleiss_kappa(&rows(&one["table"])).unwrap();
        assert!((kappa - one["kappa"].as_f64().unwrap()).abs() < 1e-12, "{}", one["name"]);
    }
    for one in reference["wilson"].as_array().unwrap() {
        let (right, n) = (one["right"].as_u64().unwrap() as usize, one["n"].as_u64().unwrap() as usize);
        let (interval, told) = (wilson(right, n, Z_95).unwrap(), numbers(&one["interval"]));
        assert!((interval.low - told[0]).abs() < 1e-12 && (interval.high - told[1]).abs() < 1e-12, "{right}/{n}");
    }
}

#[test]
fn a_standing_is_what_scikit_learn_says_of_the_same_answers() {
    let drawn = &reference()["drawn"];
    let truth = numbers(&drawn["truth"]);
    let readers: Vec<Vec<Marked>> =
        drawn["readers"].as_array().unwrap().iter().map(|r| photos(&truth, &numbers(r))).collect();
    let stands = standing(&readers[0]);
    let confusion = rows(&drawn["confusion"]);
    for (row, told) in stands.confusion.iter().zip(&confusion) {
        assert!(row.iter().zip(told).all(|(n, told)| *n as f64 == *told), "{row:?} {told:?}");
    }
    for (index, share) in stands.by_look.iter().enumerate() {
        assert_eq!((share.right as f64, share.n as f64), (confusion[index][index], confusion[index].iter().sum()));
    }
    for (reader, told) in readers.iter().zip(numbers(&drawn["kappa_with_truth"])) {
        assert!((standing(reader).kappa.kappa.unwrap() - told).abs() < 1e-12);
    }
    let named = |n: usize| -> Vec<(String, &[Marked])> {
        readers.iter().take(n).enumerate().map(|(i, reader)| (i.to_string(), reader.as_slice())).collect()
    };
    let two = between_readers(&named(2)).all.unwrap();
    assert!((two.kappa.unwrap() - drawn["kappa_pair"].as_f64().unwrap()).abs() < 1e-12);
    let half = 0.5 * (two.high.unwrap() - two.low.unwrap()) / Z_95;
    let ratio = half / drawn["kappa_pair_std"].as_f64().unwrap();
    // One shaft a photo here, so that photos are cases.
    assert!(alike(ratio, truth.len()), "interval {ratio} of the asymptotic one");
    let three = between_readers(&named(3));
    let all = three.all.unwrap();
    assert_eq!((all.kind, all.shafts, three.pairs.len()), ("fleiss", 240, 3));
    assert!((all.kappa.unwrap() - drawn["kappa_all"].as_f64().unwrap()).abs() < 1e-12);
    assert!(all.low.unwrap() < all.kappa.unwrap() && all.kappa.unwrap() < all.high.unwrap());
}

#[test]
fn what_comes_back_does_not_count_and_readers_are_held_to_what_they_share() {
    let mut history = photos(&[0.0, 1.0, 2.0], &[0.0, 0.0, 2.0]);
    let before = standing(&history);
    history.extend(photos(&[0.0, 1.0, 2.0], &[1.0, 1.0, 1.0]).into_iter().map(|one| Marked { back: true, ..one }));
    assert_eq!(standing(&history), before);
    assert_eq!((before.look.right, before.look.n), (2, 3));
    assert_eq!(before.infected_or_not.right, 2, "an ordinary hair called infected is wrong in this, too");
    let other = photos(&[0.0, 1.0], &[0.0, 0.0]);
    let between = between_readers(&[("a".into(), &history), ("b".into(), &other)]);
    assert_eq!(between.all.unwrap().shafts, 2);
    assert!(between_readers(&[("a".into(), &history)]).all.is_none());
    assert!(between_readers(&[("a".into(), &history), ("b".into(), &[])]).all.is_none());
    assert_eq!(standing(&[]).look.value(), None);
}

#[test]
fn results_go_out_and_come_in_the_same() {
    let marked = photos(&[0.0, 1.0, 2.0], &[0.0, 0.0, 4.0]);
    let results = Results::of(" Moth-fan ", marked.clone()).unwrap();
    assert_eq!(results.learner, "Moth-fan");
    assert_eq!(Results::from_json(&results.to_json()).unwrap(), results);
    let schema: Value = serde_json::from_str(include_str!("../docs/learning.schema.json")).unwrap();
    let written: Value = serde_json::from_slice(&results.to_json()).unwrap();
    assert_eq!(faults_by(&schema, &written), [""; 0], "as docs/learning.schema.json says");
    let lines: String = marked.iter().map(|one| results_line("Moth-fan", one).unwrap()).collect();
    let (all, torn) = Results::of_lines(&lines).unwrap();
    assert_eq!((all, torn), (vec![results.clone()], false));
    let cut = &lines[..lines.len() - 9];
    let (all, torn) = Results::of_lines(cut).unwrap();
    assert!(torn && all[0].marked.len() == 2, "a torn last line is left out and said");
    assert!(Results::of_lines(&lines.replacen("p1-1", "x", 1)).is_err(), "another broken line is told");
    for wrong in ["", " ", "a\nb", &"x".repeat(61)] {
        assert_eq!(Results::of(wrong, Vec::new()), Err(ResultsError::Name));
    }
    let newer = String::from_utf8(results.to_json()).unwrap().replace("learning/1", "learning/2");
    assert_eq!(Results::from_json(newer.as_bytes()), Err(ResultsError::Newer("pilumen/learning/2".into())));
    for wrong in [&b"{}"[..], b"", b"[1,2]", b"{\"schema\":\"pilumen/learning/1\"}", b"\xff\xfe"] {
        assert!(matches!(Results::from_json(wrong), Err(ResultsError::Form(_))));
    }
}

#[test]
fn every_truncated_results_file_is_refused_and_none_panics() {
    let bytes = Results::of("Tansy-fan", photos(&[0.0, 3.0], &[1.0, 3.0])).unwrap().to_json();
    for end in (0..bytes.len() - 2).step_by(7) {
        assert!(Results::from_json(&bytes[..end]).is_err(), "cut at {end}");
        let _ = Results::of_lines(&String::from_utf8_lossy(&bytes[..end]));
    }
}

#[test]
fn a_class_is_one_sheet() {
    let class = [
        Results::of("=Oriel", photos(&[0.0, 1.0, 2.0], &[0.0, 0.0, 2.0])).unwrap(),
        Results::of("Moth", photos(&[0.0, 1.0, 2.0], &[0.0, 1.0, 2.0])).unwrap(),
    ];
    let sheet = String::from_utf8(gathered_csv(&class)).unwrap();
    let mut reader = csv::Reader::from_reader(sheet.as_bytes());
    let head = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let cell = |row: usize, name: &str| rows[row][head.iter().position(|one| one == name).unwrap()].to_owned();
    assert_eq!(rows.len(), 3);
    assert_eq!(cell(0, "learner"), "'=Oriel", "no spreadsheet takes a name for a formula");
    assert_eq!((cell(0, "look_right"), cell(0, "look_n")), ("2".into(), "3".into()));
    assert_eq!(cell(1, "kappa_with_truth"), "1.0000");
    assert_eq!(
        (cell(2, "learner"), cell(2, "shafts"), cell(2, "kind")),
        ("(between readers)".into(), "3".into(), "cohen".into())
    );
}

#[test]
fn the_atlas_says_of_every_page_that_it_is_simulated_and_holds_no_script_of_its_own() {
    let model = model_from_bytes(include_bytes!("../models/shaft-v1.json")).unwrap();
    let atlas = Atlas::new(Home::Folder);
    let names = atlas_files();
    let text = |name: &str| String::from_utf8(atlas.file(name, &model).unwrap().1).unwrap();
    // Two plates are drawn here; their pictures must be there, and every link lead to a file of the atlas.
    for page in ["index.html", "index.es.html", "days.html", "plate-guard.html", "plate-infected-whole.es.html"] {
        let html = text(page);
        assert!(html.contains("simulated") || html.contains("simuladas"), "{page}");
        assert!(html.contains("culture") || html.contains("cultivo"), "{page} advises a culture");
        assert!(!html.contains(" style=") && !html.contains("<style") && !html.contains("onclick"), "{page}");
        crate::judgement::judges_nobody(page, &html);
        assert_eq!(html.matches("<script").count(), 1, "{page}");
        for mark in ["href=\"", "src=\""] {
            for rest in html.split(mark).skip(1) {
                let link = rest.split('"').next().unwrap();
                assert!(names.iter().any(|name| name == link), "{page} leads to {link}");
            }
        }
    }
    for picture in ["guard-uv.jpg", "guard-visible.jpg", "guard-close1-uv.jpg", "guard-strip.jpg", "thumb-cotton.jpg"] {
        let (kind, bytes) = atlas.file(picture, &model).unwrap();
        assert!(kind == "image/jpeg" && bytes.starts_with(&[0xff, 0xd8]), "{picture}");
    }
    let (_, day) = atlas.file("days-recovery-70-uv.jpg", &model).unwrap();
    assert!(image::load_from_memory(&day).unwrap().width() == 1200);
    for unknown in [
        "",
        "guard",
        "plate-.html",
        "plate-moth.html",
        "guard-close9-uv.jpg",
        "days-infection-4-uv.jpg",
        "../secret",
        "index.fr.html",
        "guard-close0-uv.jpg",
    ] {
        assert!(atlas.file(unknown, &model).is_none(), "{unknown}");
    }
    let guard = text("plate-guard.html");
    for page in names.iter().filter(|name| name.ends_with(".html")) {
        crate::judgement::judges_nobody(page, &text(page));
    }
    for callout in ["cuticle (edge)", "cortex", "medulla", "root", "tip"] {
        assert!(guard.contains(&format!(">{callout}<")), "{callout}");
    }
    for source in plates()[0].sources {
        assert!(guard.contains(source.split('(').next().unwrap().trim()), "{source}");
    }
}

fn learn(place: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output =
        Command::new(env!("CARGO_BIN_EXE_pilumen")).arg("learn").args(arguments).current_dir(place).output().unwrap();
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

#[test]
fn from_a_filled_sheet_to_a_class() {
    let place = tempfile::tempdir().unwrap();
    let items: Vec<Item> =
        (1..=3).map(|number| Item::drawn(pilumen::learn::ItemName { level: Level::Plain, number }).unwrap()).collect();
    let blank = String::from_utf8(blank_sheet(&items)).unwrap();
    fs::write(place.path().join("blank.csv"), &blank).unwrap();
    // One reader says 1 (infected) to all, the other 2 (ordinary) to all.
    for (name, look) in [("one", 1), ("two", 2)] {
        let filled: Vec<String> = blank
            .lines()
            .map(|line| line.strip_suffix(",,,").map_or(line.to_owned(), |line| format!("{line},{look},1,?")))
            .collect();
        fs::write(place.path().join(format!("{name}.csv")), filled.join("\n")).unwrap();
        let (code, said, wrong) =
            learn(place.path(), &["mark", &format!("{name}.csv"), "--learner", name, "--out", &format!("{name}.json")]);
        assert_eq!(code, 0, "{wrong}");
        assert!(said.contains(&format!("{name}: ")) && said.contains("on 3 simulated photos"), "{said}");
    }
    let (code, said, wrong) =
        learn(place.path(), &["gather", "one.json", "two.json", "one.json", "--out", "sheet.csv"]);
    assert_eq!(code, 0, "{wrong}");
    assert!(said.contains("Between readers: Cohen's kappa 0.00"), "never alike, and as by chance: {said}");
    assert!(fs::read_to_string(place.path().join("sheet.csv")).unwrap().lines().count() == 4);

    let (code, _, said) = learn(place.path(), &["mark", "blank.csv", "--learner", "x", "--out", "x.json"]);
    assert!(code == 1 && said.contains("nothing is filled in yet"), "{said}");
    let (code, _, said) = learn(place.path(), &["mark", "one.csv", "--learner", " ", "--out", "x.json"]);
    assert!(code == 2 && said.contains("a nickname will do"), "{said}");
    let (code, _, said) = learn(place.path(), &["mark", "none.csv", "--learner", "x", "--out", "x.json"]);
    assert!(code == 1 && said.contains("none.csv: cannot be read"), "{said}");
    let (code, _, said) = learn(place.path(), &["gather", "one.csv", "--out", "sheet2.csv"]);
    assert!(code == 1 && said.contains("one.csv: this is no results file of a learner"), "{said}");
    assert!(!place.path().join("sheet2.csv").exists() && !place.path().join("x.json").exists());
    let (code, _, said) = learn(place.path(), &["series", "--out", "s", "--language", "fr"]);
    assert!(code == 2 && said.contains("there is no language \"fr\""), "{said}");
    let (code, _, said) = learn(place.path(), &["series", "--out", "one.csv/s"]);
    assert!(code == 1 && said.contains("the folder cannot be made"), "{said}");
}

#[test]
fn nothing_that_is_there_is_written_over_unasked() {
    let place = tempfile::tempdir().unwrap();
    let series = ["series", "--out", "s", "--photos", "1"];
    assert_eq!(learn(place.path(), &series).0, 0);
    let sheet = place.path().join("s/answers.csv");
    // Somebody fills it in, then types the first command once more.
    let filled = fs::read_to_string(&sheet).unwrap().replace(",,,", ",1,1,?");
    fs::write(&sheet, &filled).unwrap();
    let (code, _, said) = learn(place.path(), &series);
    assert!(code == 2 && said.contains("is there already") && said.contains("--replace"), "{said}");
    assert_eq!(fs::read_to_string(&sheet).unwrap(), filled);

    let mark = ["mark", "s/answers.csv", "--learner", "Nova", "--out", "results/Nova.json"];
    assert_eq!(learn(place.path(), &mark).0, 0);
    let results = fs::read(place.path().join("results/Nova.json")).unwrap();
    let (code, _, said) = learn(place.path(), &mark);
    assert!(code == 2 && said.contains("results/Nova.json is there already"), "{said}");
    let gather = ["gather", "results/Nova.json", "--out", "class.csv"];
    assert_eq!(learn(place.path(), &gather).0, 0);
    fs::write(place.path().join("class.csv"), "remarks of the teacher").unwrap();
    assert_eq!(learn(place.path(), &gather).0, 2);
    assert_eq!(fs::read_to_string(place.path().join("class.csv")).unwrap(), "remarks of the teacher");
    // What is read by a command is not what it writes, whatever is said.
    let (code, _, said) =
        learn(place.path(), &["gather", "results/Nova.json", "--out", "results/../results/Nova.json", "--replace"]);
    assert!(code == 2 && said.contains("is read by this command"), "{said}");
    assert_eq!(fs::read(place.path().join("results/Nova.json")).unwrap(), results);
    let (code, _, said) =
        learn(place.path(), &["mark", "s/answers.csv", "--learner", "x", "--out", "s/answers.csv", "--replace"]);
    assert!(code == 2 && said.contains("is read by this command"), "{said}");
    assert_eq!(fs::read_to_string(&sheet).unwrap(), filled);

    fs::create_dir(place.path().join("atlas")).unwrap();
    fs::write(place.path().join("atlas/index.html"), "mine").unwrap();
    let (code, _, said) = learn(place.path(), &["atlas", "--out", "atlas"]);
    assert!(code == 2 && said.contains("atlas/index.html is there already"), "{said}");
    assert_eq!(fs::read_dir(place.path().join("atlas")).unwrap().count(), 1, "nothing else was written either");

    assert_eq!(learn(place.path(), &[&gather[..], &["--replace"]].concat()).0, 0);
    assert!(fs::read_to_string(place.path().join("class.csv")).unwrap().starts_with("learner,"));
    assert_eq!(learn(place.path(), &[&series[..], &["--replace"]].concat()).0, 0);
    assert!(fs::read_to_string(&sheet).unwrap().contains(",,,"), "asked for, it is written over");
}

/// The sheets that are shipped, for who wants to see a class without filling in any.
#[test]
fn the_shipped_sheets_can_be_marked_and_gathered() {
    let place = tempfile::tempdir().unwrap();
    for name in ["Nova", "Iris"] {
        let sheet = format!("{}/fixtures/learn/answers-{}.csv", env!("CARGO_MANIFEST_DIR"), name.to_lowercase());
        let out = format!("class/{name}.json");
        let (code, _, wrong) = learn(place.path(), &["mark", &sheet, "--learner", name, "--out", &out]);
        assert_eq!(code, 0, "{wrong}");
    }
    let (code, said, wrong) =
        learn(place.path(), &["gather", "class/Nova.json", "class/Iris.json", "--out", "shipped.csv"]);
    assert!(code == 0 && said.contains("Between readers: Cohen's kappa"), "{said}{wrong}");
}

#[test]
fn a_series_is_the_files_that_are_said_beforehand() {
    let model = model_from_bytes(include_bytes!("../models/shaft-v1.json")).unwrap();
    let asking = Asking { level: Level::Plain, from: 7, n: 1, own: &[], language: pilumen::learn::Language::Spanish };
    let mut made: Vec<String> =
        printed_series(&asking, &model, || ()).files.into_iter().map(|(name, _)| name).collect();
    let mut said = series_files(&asking);
    made.sort();
    said.sort();
    assert_eq!(made, said);
}

/// The sentences are those of `pilumen read`, in both languages.
#[test]
fn reasons_on_a_plate_are_told_as_everywhere() {
    let model = model_from_bytes(include_bytes!("../models/shaft-v1.json")).unwrap();
    let atlas = Atlas::new(Home::Folder);
    for (page, speaks) in [("plate-guard.html", "speaks "), ("plate-guard.es.html", "habla ")] {
        let html = String::from_utf8(atlas.file(page, &model).unwrap().1).unwrap();
        let program = html.split("class=\"program\"").nth(1).unwrap().split("</ul>").next().unwrap();
        let reasons: Vec<&str> = program.split("<li>").skip(1).collect();
        assert!(!reasons.is_empty() && reasons.iter().all(|reason| reason.contains(speaks)), "{program}");
        assert!(!program.contains("→"));
    }
}

#[test]
fn a_series_is_printed_with_its_key_last() {
    let place = tempfile::tempdir().unwrap();
    let (code, said, wrong) = learn(place.path(), &["series", "--out", "series", "--photos", "2"]);
    assert_eq!(code, 0, "{wrong}");
    assert!(said.contains("series.html"), "{said}");
    let html = fs::read_to_string(place.path().join("series/series.html")).unwrap();
    crate::judgement::judges_nobody("a series to print", &html);
    let (questions, key) = html.split_once("<div class=\"key\">").unwrap();
    assert!(questions.contains("p1-5001.jpg") && questions.contains("p1-5002.jpg") && !questions.contains(" µm</td>"));
    assert!(key.contains("p1-5001") && key.contains(" µm</td>"), "the key tells the drawn widths");
    assert!(place.path().join("series/p1-5001.jpg").exists());
    let sheet = fs::read_to_string(place.path().join("series/answers.csv")).unwrap();
    assert!(sheet.starts_with("item,shaft,look,where,root_end\np1-5001,1,,,\n"), "{sheet}");
}
