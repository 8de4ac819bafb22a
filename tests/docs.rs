//! What the documents say, held against what is there.
//!
//! `RENEW_GOLDEN=1 cargo test --test main docs` rewrites the output and the picture that README.md shows.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use pilumen::finding::Look;
use serde_json::Value;

use crate::schema::schema;

/// Columns of the picture in README.md: more than a page shows, less than a clone should carry.
const PICTURE_WIDTH: u32 = 1200;

pub(crate) fn text(path: &str) -> String {
    fs::read_to_string(path).unwrap_or_else(|_| panic!("{path} is missing"))
}

/// The lines of the code blocks of a language, one string a block.
fn blocks(markdown: &str, language: &str) -> Vec<String> {
    let opening = format!("```{language}\n");
    markdown.split(&opening).skip(1).map(|rest| rest.split("```").next().unwrap_or_default().to_owned()).collect()
}

#[test]
fn the_readme_shows_what_its_first_command_prints() {
    let readme = text("README.md");
    let command = blocks(&readme, "sh").first().expect("README.md has a command").trim().to_owned();
    let arguments: Vec<&str> = command.strip_prefix("cargo run --release -- ").expect(&command).split(' ').collect();
    let folder = arguments.iter().position(|argument| *argument == "--out").map(|at| arguments[at + 1]);
    assert_eq!(folder, Some("reading"), "the folder that .gitignore leaves out");

    // The command as it stands there, but in a folder that vanishes, with the photos where they are.
    let place = tempfile::tempdir().unwrap();
    let photos = Path::new(env!("CARGO_MANIFEST_DIR"));
    let arguments = arguments.iter().map(|argument| match *argument {
        photo if photo.starts_with("fixtures/") => photos.join(photo),
        other => PathBuf::from(other),
    });
    let output = Command::new(env!("CARGO_BIN_EXE_pilumen")).args(arguments).current_dir(&place).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let printed = String::from_utf8(output.stdout).unwrap();
    if std::env::var_os("RENEW_GOLDEN").is_some() {
        let (before, rest) = readme.split_once("```text\n").unwrap();
        let (_, after) = rest.split_once("```").unwrap();
        fs::write("README.md", format!("{before}```text\n{printed}```{after}")).unwrap();
        let marked = fs::read_dir(place.path().join("reading"))
            .unwrap()
            .map(|file| file.unwrap().path())
            .find(|path| path.to_string_lossy().ends_with(".marked.png"))
            .unwrap();
        let marked = image::open(marked).unwrap();
        let height = marked.height() * PICTURE_WIDTH / marked.width();
        let smaller = marked.resize_exact(PICTURE_WIDTH, height, image::imageops::FilterType::CatmullRom);
        smaller.save("docs/demo.marked.png").unwrap();
    }
    assert_eq!(blocks(&text("README.md"), "text").first(), Some(&printed));
}

/// Copies a folder with all that is in it.
#[cfg(unix)]
fn copied(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap().flatten() {
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copied(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// What a newcomer has is the clone: here, a folder with nothing but the demo files and the filled answer sheets.
#[cfg(unix)]
#[test]
fn every_command_of_the_readme_runs_in_its_order_in_a_fresh_folder() {
    let place = tempfile::tempdir().unwrap();
    for folder in ["fixtures/demo", "fixtures/learn"] {
        copied(Path::new(folder), &place.path().join(folder));
    }
    let mut exported = String::new();
    let mut n_run = 0;
    for line in blocks(&text("README.md"), "sh").iter().flat_map(|block| block.lines()) {
        let line = line.split(" # ").next().unwrap_or_default().trim();
        if line.starts_with("export ") {
            exported.push_str(&format!("{line}\n"));
            continue;
        }
        let Some(arguments) = line.strip_prefix("cargo run --release -- ") else {
            assert_eq!(line, "cargo test --release --tests", "the only other command; a test of its own holds it");
            continue;
        };
        // The desk goes on until it is stopped; tests/web.rs and tests/hard/desk_load.rs run it.
        if arguments == "desk" {
            continue;
        }
        let output = Command::new("sh")
            .args(["-c", &format!("{exported}exec \"$PROGRAM\" {arguments}")])
            .env("PROGRAM", env!("CARGO_BIN_EXE_pilumen"))
            .env("PILUMEN_SETUPS", place.path().join("setups.json"))
            .env_remove("PILUMEN_RECORD")
            .current_dir(&place)
            .output()
            .unwrap();
        assert!(output.status.success(), "{line}: {}", String::from_utf8_lossy(&output.stderr));
        n_run += 1;
    }
    assert!(n_run >= 25, "only {n_run} commands were found");
    for made in ["moth.pdf", "moth.html", "slip.pdf", "moth-newest.pdf", "qh11.pdf", "qh13/shafts.csv", "class.csv"] {
        assert!(place.path().join("reading").join(made).is_file(), "{made} was not made");
    }
}

#[test]
fn the_readmes_test_command_is_what_is_run_last_before_a_change_is_kept() {
    let readme = text("README.md");
    let command = "cargo test --release --tests";
    assert!(blocks(&readme, "sh").iter().any(|block| block.trim() == command));
    let last = text(".ci/run").lines().last().unwrap().replace("--locked ", "");
    assert_eq!(last, format!("step {command}"));
}

#[test]
fn what_newcomers_read_speaks_as_no_vet_would() {
    for path in
        ["README.md", "models/README.md", "fixtures/demo/README.md", "docs/lamp.md", "docs/learning.md", "docs/desk.md"]
    {
        crate::judgement::judges_nobody(path, &text(path));
    }
}

#[test]
fn links_lead_somewhere() {
    let mut lost = Vec::new();
    for path in markdown_files() {
        let text = fs::read_to_string(&path).unwrap();
        for target in text.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
            let file = target.split('#').next().unwrap_or_default();
            let outside = target.contains("://") || file.is_empty();
            if !outside && !path.parent().unwrap().join(file).exists() {
                lost.push(format!("{}: {target}", path.display()));
            }
        }
    }
    assert!(lost.is_empty(), "{}", lost.join("\n"));
}

#[test]
fn the_models_card_and_the_table_of_accuracy_tell_the_same_figures() {
    let (card, accuracy) = (text("models/README.md"), text("docs/accuracy.md"));
    let section = accuracy.split("\n## appraisal\n").nth(1).unwrap();
    let figures = card.split("| what | value | interval |\n|---|---|---|\n").nth(1).unwrap();
    let rows: Vec<&str> = figures.lines().take_while(|line| line.starts_with('|')).collect();
    assert!(rows.len() >= 12, "{rows:?}");
    for row in rows {
        assert!(section.contains(row), "docs/accuracy.md does not say {row}");
    }
}

/// Every "facts 2.9", "facts 2.9-2.10", "facts 1.1, 1.2" in code and documents.
fn facts_cited(text: &str) -> Vec<String> {
    let plain: String = text
        .lines()
        .map(|line| line.trim_start().trim_start_matches(['/', '!']).trim_start())
        .collect::<Vec<_>>()
        .join(" ");
    let mut cited = Vec::new();
    for rest in plain.replace("Facts ", "facts ").split("facts ").skip(1) {
        for word in rest.split([' ', '-']) {
            let number = word.trim_end_matches([',', '.', ':', ';', ')']).trim_end_matches("),");
            let is_number = number.split_once('.').is_some_and(|(part, row)| {
                part.len() == 1
                    && part.chars().all(|c| c.is_ascii_digit())
                    && row.starts_with(|c: char| c.is_ascii_digit())
                    && row.trim_end_matches(['a', 'b', 'c']).chars().all(|c| c.is_ascii_digit())
            });
            if is_number {
                cited.push(number.to_owned());
            } else if !["and", "against", "§7"].contains(&number) {
                break;
            }
            if word.ends_with([')', ':', ';']) {
                break;
            }
        }
    }
    cited
}

#[test]
fn every_fact_that_is_cited_has_its_source() {
    assert_eq!(facts_cited("(facts 2.9-2.10) facts\n/// 1.1, 1.2 (atlas)"), ["2.9", "2.10", "1.1", "1.2"]);
    let sources = text("docs/sources.md");
    let mut n_cited = 0;
    let mut lost = Vec::new();
    let mut folders = ["src", "tests", "docs", "benches"].map(PathBuf::from).to_vec();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap().flatten() {
            let path = entry.path();
            let is_text = path.extension().is_some_and(|ext| ext == "rs" || ext == "md");
            if path.is_dir() && !path.ends_with("node_modules") {
                folders.push(path);
            } else if is_text && !path.ends_with("docs.rs") {
                for number in facts_cited(&fs::read_to_string(&path).unwrap()) {
                    n_cited += 1;
                    if !sources.contains(&format!("\n| {number} | ")) {
                        lost.push(format!("{}: facts {number}", path.display()));
                    }
                }
            }
        }
    }
    assert!(lost.is_empty(), "not in docs/sources.md: {}", lost.join("\n"));
    assert!(n_cited > 60, "only {n_cited} were found");
}

#[test]
fn the_architecture_names_every_folder_of_the_program() {
    let architecture = text("docs/architecture.md");
    for entry in fs::read_dir("src").unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            assert!(architecture.contains(&format!("`src/{name}/`")), "docs/architecture.md leaves out src/{name}/");
        }
    }
}

#[test]
fn the_schema_lists_the_looks_as_the_program_does() {
    let looks: Vec<Value> = Look::ALL.iter().map(|look| Value::from(look.code())).collect();
    assert_eq!(schema()["$defs"]["look"]["enum"], Value::from(looks));
}

#[test]
fn recipes_name_files_that_are_there() {
    let developers = text("DEVELOPERS.md");
    let named = developers.split('`').skip(1).step_by(2).filter(|word| word.ends_with(".rs") && !word.contains('<'));
    for word in named.filter(|word| !word.contains('*')) {
        let there = [word.to_owned(), format!("src/{word}")].iter().any(|path| Path::new(path).exists());
        // `from_x.rs` and `mod.rs` stand for many files.
        assert!(there || ["from_x.rs", "mod.rs", "lib.rs", "main.rs"].contains(&word), "{word} is not there");
    }
}

fn markdown_files() -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = ["README.md", "DEVELOPERS.md"].map(PathBuf::from).to_vec();
    let mut folders = ["docs", "models", "fixtures", "tests", "benches"].map(PathBuf::from).to_vec();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() && path.file_name().is_none_or(|name| name != "node_modules") {
                folders.push(path);
            } else if path.extension().is_some_and(|ext| ext == "md") {
                found.push(path);
            }
        }
    }
    found
}
