//! The uncertainty of a width as it is shown, against known widths of simulated shafts.

use pilumen::maths::stats::robust_sd;
use pilumen::sim::Ranges;
use pilumen::training::scenes::measured;
use pilumen::training::tracing::score;

/// Scenes of the tuning ranges that nothing was chosen on; never those that accuracy is reported on.
const SEEDS: std::ops::Range<u64> = 5001..5021;

/// Errors in stated standard uncertainties: 1 would be honest. The stated ones leave room between uneven simulated
/// shafts, which ask for more, and even ones, which ask for less (`profiles/median_width.rs`); so up to 1.5 is let
/// pass, and what is half as wide as stated is not.
#[test]
fn widths_are_off_by_about_what_they_say() {
    let ranges = Ranges::named("tuning-clear").unwrap();
    let mut zs: Vec<f64> = Vec::new();
    for seed in SEEDS {
        zs.extend(score(&measured(seed, &ranges).unwrap()).width_z);
    }
    assert!(zs.len() >= 50, "only {} widths", zs.len());
    let n = zs.len();
    let within = zs.iter().filter(|z| z.abs() < 2.0).count() as f64 / n as f64;
    let spread = robust_sd(&mut zs).unwrap();
    println!("{n} widths: spread {spread:.2} stated uncertainties, {within:.2} within two");
    assert!((0.5..1.5).contains(&spread), "{spread:.2}");
    assert!(within >= 0.75, "{within:.2} within two");
}
