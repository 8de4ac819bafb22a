//! Inputs that once broke something, each read again by what it broke: `fixtures/hostile/found/TARGET-NAME`.

use std::fs;

use super::targets::TARGETS;
use super::watch::{Became, own, watched};

#[test]
fn what_broke_something_once_breaks_nothing_any_more() {
    let mut wrong = Vec::new();
    let mut n_read = 0;
    for file in fs::read_dir("fixtures/hostile/found").unwrap() {
        let path = file.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let target = TARGETS.iter().find(|target| name.starts_with(&format!("{}-", target.name)));
        let Some(target) = target else {
            assert!(name.ends_with(".md"), "{name} is named after no target");
            continue;
        };
        let bytes = fs::read(&path).unwrap();
        n_read += 1;
        match watched(|| (target.world)().run(&bytes)) {
            Became::Done(Ok(_)) => (),
            Became::Done(Err(fault)) => wrong.push(format!("{name}: {fault}")),
            Became::Panicked(place) => wrong.push(format!("{name}: panicked at {place}")),
        }
    }
    assert!(n_read >= 2, "only {n_read} were there");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(own().is_empty(), "panics that something caught: {:?}", own());
}
