//! Damaged input to everything that reads: a second each by default, as long as `PILUMEN_FUZZ_SECONDS` says.
//!
//! `PILUMEN_FUZZ_SECONDS=1200 cargo test --release --test main hard::fuzz -- --nocapture` runs each target for twenty
//! minutes; `PILUMEN_FUZZ_ONLY=pictures` runs one, `PILUMEN_FUZZ_SEED=7` throws other dice. Without a coverage
//! measure, what an input led to (the sentence of a refusal, the shape of what was read) stands for it: an input that
//! leads to something new joins the inputs that are damaged further. Inputs that broke something are written to the
//! folder `broken` where cargo keeps what tests write (`CARGO_TARGET_TMPDIR`; the test says where); once it is mended,
//! they go to `fixtures/hostile/found/`, which `found.rs` reads.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::damage::damaged;
use super::targets::{TARGETS, Target};
use super::watch::{Became, own, watched};

/// How long each target runs in the suite.
const SHORT: Duration = Duration::from_millis(700);

/// What any input may take at most.
const LONGEST: Duration = Duration::from_secs(10);

/// Inputs that led to something new are kept up to this number.
const MOST_KEPT: usize = 4_000;

/// Different places of breaking after which a target is given up.
const MOST_BROKEN: usize = 20;

fn number(variable: &str) -> Option<u64> {
    std::env::var(variable).ok()?.parse().ok()
}

#[test]
fn damaged_input_never_breaks_the_program() {
    let asked = number("PILUMEN_FUZZ_SECONDS").map(Duration::from_secs);
    let only = std::env::var("PILUMEN_FUZZ_ONLY").ok();
    let mut broken = Vec::new();
    for target in TARGETS.iter().filter(|target| only.as_deref().is_none_or(|only| only == target.name)) {
        broken.extend(run(target, asked.unwrap_or(SHORT), number("PILUMEN_FUZZ_SEED").unwrap_or(1)));
    }
    assert!(broken.is_empty(), "{}", broken.join("\n"));
    assert!(own().is_empty(), "panics that something caught: {:?}", own());
}

fn run(target: &Target, time: Duration, seed: u64) -> Vec<String> {
    let mut dice = ChaCha8Rng::seed_from_u64(seed);
    let mut world = (target.world)();
    let mut inputs = world.seeds();
    assert!(!inputs.is_empty(), "{} has nothing to begin with", target.name);
    let mut outcomes = BTreeSet::new();
    let mut broken: BTreeMap<String, String> = BTreeMap::new();
    let (mut n, mut slowest) = (0u64, Duration::ZERO);
    let began = Instant::now();
    // The inputs themselves come first, undamaged; then damage without end.
    for turn in 0usize.. {
        if (turn > inputs.len().min(20) && began.elapsed() > time) || broken.len() > MOST_BROKEN {
            break;
        }
        let input = match inputs.get(turn) {
            Some(input) if n < 500 => input.clone(),
            _ => {
                let file = dice.gen_range(0..inputs.len());
                let other = dice.gen_range(0..inputs.len());
                damaged(&mut dice, &inputs[file], &inputs[other])
            }
        };
        let (start, used) = (Instant::now(), processors());
        let became = watched(|| world.run(&input));
        // On a busy machine the clock counts others' work; beside other tests the processors' time counts theirs.
        let took = start.elapsed().min(processors().saturating_sub(used));
        n += 1;
        slowest = slowest.max(took);
        let fault = match became {
            Became::Done(Ok(outcome)) => {
                if outcomes.insert(without_numbers(&outcome)) && inputs.len() < MOST_KEPT {
                    inputs.push(input.clone());
                }
                (took > LONGEST).then(|| format!("took {took:?}"))
            }
            Became::Done(Err(fault)) => Some(fault),
            Became::Panicked(place) => {
                world = (target.world)();
                Some(format!("panicked at {place}"))
            }
        };
        if let Some(fault) = fault {
            let kind = without_numbers(&fault);
            broken.entry(kind).or_insert_with(|| format!("{}: {fault}: {}", target.name, keep(target.name, &input)));
        }
    }
    println!(
        "{}: {n} inputs in {:.0} s, {} outcomes, slowest {:.2} s, {} broke something",
        target.name,
        began.elapsed().as_secs_f64(),
        outcomes.len(),
        slowest.as_secs_f64(),
        broken.len()
    );
    broken.into_values().collect()
}

/// Processors' time that all threads of this program have used.
fn processors() -> Duration {
    let threads = fs::read_dir("/proc/self/task").into_iter().flatten().flatten();
    let used = threads.filter_map(|thread| fs::read_to_string(thread.path().join("schedstat")).ok());
    Duration::from_nanos(used.filter_map(|text| text.split(' ').next()?.parse::<u64>().ok()).sum())
}

/// Sentences that differ in numbers and quoted parts only are one outcome.
fn without_numbers(text: &str) -> String {
    let mut kept = String::new();
    let mut quoted = false;
    for c in text.chars().take(400) {
        match c {
            '"' | '`' => quoted = !quoted,
            _ if quoted => (),
            '0'..='9' => {
                if !kept.ends_with('0') {
                    kept.push('0');
                }
            }
            _ => kept.push(c),
        }
    }
    kept
}

/// Writes an input that broke something, and says where it is.
fn keep(target: &str, input: &[u8]) -> String {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("broken");
    let path = folder.join(format!("{target}-{}", &pilumen::store::digest(input)[..12]));
    let kept = fs::create_dir_all(&folder).and_then(|()| fs::write(&path, input));
    kept.map_or_else(|error| format!("the input could not be kept: {error}"), |()| path.display().to_string())
}

#[test]
fn outcomes_are_told_apart_by_words() {
    assert_eq!(without_numbers("12 × 7 pixels in \"a 3\""), without_numbers("1 × 999 pixels in \"b\""));
    assert_ne!(without_numbers("12 × 7 pixels"), without_numbers("12 × 7 rows"));
}
