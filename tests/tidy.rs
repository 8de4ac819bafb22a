//! The rules of the layout, held by tests. See docs/architecture.md, "Direction": a rule is changed there and here
//! together, or not at all.

use std::fs;
use std::path::{Path, PathBuf};

/// The stages in the order of the flow.
const STAGES: [&str; 8] = ["image", "field", "shafts", "profiles", "features", "finding", "record", "exports"];

/// What every stage may name.
const VOCABULARY: [&str; 3] = ["maths", "units", "concerns"];

/// Folders and files beside the stages, and what they may name. What is not listed may name everything.
const BESIDE: [(&str, &[&str]); 14] = [
    ("maths", &["maths"]),
    ("units.rs", &[]),
    ("concerns.rs", &[]),
    ("sim", &["sim", "maths", "units"]),
    ("scale", &["scale", "image", "maths", "units", "concerns"]),
    ("registration", &["registration", "image", "maths"]),
    ("visible_light.rs", &["field", "shafts", "profiles", "registration", "maths"]),
    ("setups", &["setups", "scale", "units", "concerns"]),
    ("store", &["store", "maths"]),
    ("lamp", &["lamp", "maths"]),
    (
        "confirmed",
        &["confirmed", "store", "corrected", "pipeline", "settings", "record", "finding", "training", "maths"],
    ),
    ("report", &["report", "exports", "record", "concerns", "maths", "units"]),
    ("learn", &["learn", "sim", "pipeline", "settings", "record", "finding", "exports", "maths"]),
    ("settings.rs", &["image", "field", "shafts", "profiles", "features", "finding", "setups", "units"]),
];

/// Where the forms that are written down live; nothing else may be turned into bytes as it is.
const WIRE: [&str; 15] = [
    "record/wire.rs",
    "finding/model.rs",
    "finding/debris_model.rs",
    "settings.rs",
    "exports/",
    "setups/wire.rs",
    "sim/truth.rs",
    "training/",
    "learn/",
    "store/",
    "cli/case/",
    "cli/lamp.rs",
    "corrected.rs",
    "handed.rs",
    "web/",
];

/// Crates that only certain places may name, with the reason in docs/architecture.md.
const FENCED: [(&[&str], &[&str]); 11] = [
    (&["clap", "clap_complete", "clap_mangen", "indicatif", "ctrlc"], &["cli/"]),
    (&["directories"], &["setups/file.rs"]),
    (&["tiny_skia", "ab_glyph"], &["exports/marked/pen.rs"]),
    (&["krilla", "rustybuzz", "deunicode"], &["report/pdf/"]),
    (&["dicom_core", "dicom_object", "dicom_dictionary_std"], &["exports/dicom/"]),
    (&["csv"], &["exports/csv/", "sim/", "training/", "learn/", "cli/"]),
    (&["rusqlite"], &["store/database/"]),
    (&["zip"], &["store/pack/"]),
    (&["axum", "tokio", "tokio_stream", "http_body_util", "tower_http", "include_dir", "pulldown_cmark"], &["web/"]),
    (&["open"], &["cli/desk.rs"]),
    (&["rustfft"], &["maths/phase_correlation.rs"]),
];

/// Standard modules that touch the world outside; stages and the mathematics under them may not.
const WORLD: [&str; 6] = ["std::fs", "std::net", "std::env", "std::io::std", "std::time", "std::process"];

/// Lines of code in a file, tests and comments aside, beyond which it must be split along its seams.
const MAX_CODE_LINES: usize = 500;

#[test]
fn a_stage_names_only_the_stage_before_it_and_only_in_its_door() {
    let mut wrong = Vec::new();
    for (inside, text) in sources() {
        let folder = first_part(&inside);
        let Some(at) = STAGES.iter().position(|stage| *stage == folder) else { continue };
        for name in modules_named(&code_of(&text)) {
            let own = name == folder || VOCABULARY.contains(&name.as_str());
            let door = 0 < at && name == STAGES[at - 1] && inside.ends_with(format!("from_{name}.rs"));
            if !own && !door {
                wrong.push(format!("src/{} names crate::{name}", inside.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_stage_has_one_door() {
    assert!(Path::new("src/image/from_bytes.rs").exists());
    for pair in STAGES.windows(2) {
        let doors: Vec<String> = fs::read_dir(format!("src/{}", pair[1]))
            .unwrap()
            .map(|file| file.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.starts_with("from_"))
            .collect();
        assert_eq!(doors, [format!("from_{}.rs", pair[0])], "doors of {}", pair[1]);
    }
}

#[test]
fn the_side_flows_have_one_door() {
    // Their other files know rasters and numbers only, as those of a stage.
    for flow in ["scale", "registration"] {
        let named = |inside: &Path, text: &str| inside.starts_with(flow) && code_of(text).contains("crate::image");
        let doors: Vec<PathBuf> =
            sources().into_iter().filter(|(inside, text)| named(inside, text)).map(|(inside, _)| inside).collect();
        assert_eq!(doors, [Path::new(flow).join("from_image.rs")]);
    }
}

#[test]
fn what_stands_beside_the_stages_names_only_what_it_may() {
    let mut wrong = Vec::new();
    for (inside, text) in sources() {
        let folder = first_part(&inside);
        let Some((_, may)) = BESIDE.iter().find(|(place, _)| *place == folder) else { continue };
        for name in modules_named(&code_of(&text)) {
            if !may.contains(&name.as_str()) {
                wrong.push(format!("src/{} names crate::{name}", inside.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn only_the_wire_is_serialised() {
    // The PDF library's settings bear a like name; they write no form of ours.
    let named = |code: &str| {
        let code = code.replace("SerializeSettings", "");
        ["serde::", "serde_json::", "Serialize", "Deserialize"].iter().any(|w| code.contains(w))
    };
    let wrong = offenders(|inside, code| !WIRE.iter().any(|place| inside.starts_with(place)) && named(code));
    assert!(wrong.is_empty(), "serde is named in {}", wrong.join(", "));
}

#[test]
fn fenced_crates_stay_in_their_places() {
    for (crates, places) in FENCED {
        for name in crates {
            let names_it = |code: &str| {
                // At the beginning of a path, not as a part of a longer word or of our own module.
                code.match_indices(&format!("{name}::")).any(|(at, _)| {
                    let before = code[..at].chars().next_back();
                    !before.is_some_and(|c| c.is_alphanumeric() || c == '_') && !code[..at].ends_with("self::")
                })
            };
            let wrong = offenders(|inside, code| !places.iter().any(|p| inside.starts_with(p)) && names_it(code));
            assert!(wrong.is_empty(), "{name} is named in {}", wrong.join(", "));
        }
    }
}

#[test]
fn stages_and_mathematics_do_not_touch_the_world() {
    let within = |inside: &str| {
        let folder = inside.split('/').next().unwrap_or_default();
        STAGES.contains(&folder)
            || VOCABULARY.contains(&folder)
            || ["sim", "scale", "registration", "report", "learn"].contains(&folder)
    };
    for world in WORLD {
        let wrong = offenders(|inside, code| within(inside) && code.contains(world));
        assert!(wrong.is_empty(), "{world} is named in {}", wrong.join(", "));
    }
}

#[test]
fn exporters_do_not_name_each_other() {
    // Lines that name a sibling: only the door and the list of modules may.
    const EXPORTERS: [&str; 7] = ["csv", "dicom", "json", "marked", "ome_tiff", "slide", "summary"];
    for (inside, text) in sources().into_iter().filter(|(inside, _)| first_part(inside) == "exports") {
        let own = inside.iter().nth(1).unwrap().to_str().unwrap().trim_end_matches(".rs").to_owned();
        if !EXPORTERS.contains(&own.as_str()) {
            continue;
        }
        let code = code_of(&text);
        for other in EXPORTERS.iter().filter(|other| **other != own) {
            for path in [format!("super::{other}::"), format!("crate::exports::{other}")] {
                assert!(!code.contains(&path), "src/{} names {path}", inside.display());
            }
        }
    }
}

#[test]
fn every_file_opens_with_its_purpose() {
    for (inside, text) in sources().into_iter().chain(rust_files("tests")).chain(rust_files("benches")) {
        let first = text.lines().next().unwrap_or_default();
        assert!(first.starts_with("//! ") && first.len() > 12, "{} has no opening line", inside.display());
    }
}

#[test]
fn no_file_outgrows_a_reader() {
    for (inside, text) in sources() {
        let n = code_of(&text).lines().filter(|line| !line.trim().is_empty()).count();
        assert!(n <= MAX_CODE_LINES, "src/{} has {n} lines of code; split it along its seams", inside.display());
    }
}

#[test]
fn the_top_of_the_tree_is_the_agreed_one() {
    let known = [
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "src",
        "models",
        "tests",
        "fixtures",
        "docs",
        "benches",
        "target",
        "reading",
    ];
    for file in fs::read_dir(".").unwrap() {
        let name = file.unwrap().file_name().into_string().unwrap();
        assert!(name.starts_with('.') || known.contains(&name.as_str()), "{name} does not belong at the top");
    }
}

/// Files of src whose code the rule finds wrong; the rule is given the path inside src and the code.
fn offenders(wrong: impl Fn(&str, &str) -> bool) -> Vec<String> {
    sources()
        .into_iter()
        .map(|(inside, text)| (inside.to_string_lossy().replace('\\', "/"), code_of(&text)))
        .filter(|(inside, code)| wrong(inside, code))
        .map(|(inside, _)| format!("src/{inside}"))
        .collect()
}

/// The Rust files under src but those for tests only: path inside src, text.
fn sources() -> Vec<(PathBuf, String)> {
    let files = rust_files("src");
    let for_tests: Vec<PathBuf> = files
        .iter()
        .filter(|(path, _)| path.ends_with("mod.rs"))
        .flat_map(|(path, text)| test_files(text).into_iter().map(|name| path.with_file_name(name)))
        .collect();
    files
        .into_iter()
        .filter(|(path, _)| !for_tests.contains(path))
        .map(|(path, text)| (path.strip_prefix("src").unwrap().to_owned(), text))
        .collect()
}

fn rust_files(top: &str) -> Vec<(PathBuf, String)> {
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::from(top)];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|ext| ext == "rs") {
                let text = fs::read_to_string(&path).unwrap();
                found.push((path, text));
            }
        }
    }
    found.sort();
    found
}

fn first_part(inside: &Path) -> String {
    inside.iter().next().unwrap().to_str().unwrap().to_owned()
}

/// The text without comments and without its tests, which may use what they need.
fn code_of(text: &str) -> String {
    let mut code = Vec::new();
    let mut lines = text.lines().peekable();
    while let Some(line) = lines.next() {
        let next = lines.peek().copied().unwrap_or_default();
        if line == "#[cfg(test)]" && next.starts_with("mod ") {
            if next.ends_with('{') {
                // Tests stand last in a file.
                break;
            }
            lines.next();
        } else if !line.trim_start().starts_with("//") {
            code.push(line);
        }
    }
    code.join("\n")
}

/// Names of the files that a module declares for tests only.
fn test_files(module: &str) -> Vec<String> {
    let declared = module.split("#[cfg(test)]\nmod ").skip(1);
    declared.filter_map(|rest| Some(format!("{}.rs", rest.lines().next()?.strip_suffix(';')?))).collect()
}

/// The top-level modules that code names after `crate::`.
fn modules_named(code: &str) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for rest in code.split("crate::").skip(1) {
        let word = |s: &str| s.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        let Some(list) = rest.strip_prefix('{') else {
            names.push(word(rest));
            continue;
        };
        let mut depth = 0;
        for part in list.split_inclusive(['{', '}', ',']) {
            if depth == 0 {
                names.push(word(part.trim()));
            }
            match part.chars().last() {
                Some('{') => depth += 1,
                Some('}') if depth == 0 => break,
                Some('}') => depth -= 1,
                _ => (),
            }
        }
    }
    names.retain(|name| !name.is_empty());
    names
}

#[test]
fn nested_lists_comments_and_tests_are_read_aright() {
    let text = "//! See [`crate::record`].\nuse crate::{maths::{stats, raster}, field::Field};\nuse crate::units::Um;\n\
                #[cfg(test)]\nmod drawn;\nuse crate::concerns;\n#[cfg(test)]\nmod tests {\n    use crate::sim;\n}\n";
    assert_eq!(modules_named(&code_of(text)), ["maths", "field", "units", "concerns"]);
    assert_eq!(test_files(text), ["drawn.rs"]);
}
