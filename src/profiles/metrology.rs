//! How well widths are measured, on drawn photos with known truth.

use super::phantoms::{Kind, Straight};
use super::{Settings, from_shafts};
use crate::maths::cross_section::bound::{Unknowns, bound};
use crate::maths::cross_section::{Section, Shape};

/// What came out of several shafts of one condition.
#[derive(Clone, Copy, Debug)]
struct Outcome {
    /// Mean relative error of the shafts' median width.
    bias: f64,
    /// Standard deviation of that error.
    scatter: f64,
    /// Root mean square of error over stated uncertainty.
    z: f64,
    /// Scatter of the stations within a shaft, relative, and root mean square of their own z.
    station_scatter: f64,
    station_z: f64,
    /// Blur found over true.
    blur: f64,
    /// Mean stated relative uncertainty.
    stated: f64,
    /// 95th percentile of the centreline's error, pixels.
    centre_px: f64,
    /// Shafts without a median width.
    lost: usize,
}

fn outcome(phantom: &Straight, n: u64) -> Outcome {
    let (mut errors, mut zs, mut stated) = (Vec::new(), Vec::new(), Vec::new());
    let (mut own, mut own_z, mut blurs, mut off) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let mut lost = 0;
    for seed in 0..n {
        let angle = phantom.angle + 0.37 * seed as f64;
        let factor = [0.65, 1.0, 1.5][seed as usize % 3] * phantom.width_factor;
        let this = Straight { seed: phantom.seed + seed, angle, width_factor: factor, ..phantom.clone() };
        let profiles = from_shafts(&this.shafts(), &Settings::default());
        let profile = &profiles.shafts[0];
        let Some(median) = profile.median_width() else {
            lost += 1;
            continue;
        };
        errors.push(median.px / this.width_px - 1.0);
        zs.push((median.px - this.width_px) / median.sd_px);
        stated.push(median.sd_px / this.width_px);
        blurs.extend(profile.blur_px.map(|b| b / this.blur_px));
        for station in profile.stations.iter().filter(|s| s.clear) {
            if let (Some(width), Some(sd)) = (station.width_px, station.width_own_sd_px) {
                own.push(width / median.px - 1.0);
                own_z.push((width - median.px) / sd);
            }
        }
        let [from, to] = this.axis();
        let normal = (to - from).unit().normal();
        off.extend(
            profile
                .stations
                .iter()
                .filter(|s| s.clear)
                .map(|s| ((profile.centreline.at(s.s_px)) - from).dot(normal).abs()),
        );
    }
    let mean = |v: &[f64]| v.iter().sum::<f64>() / v.len().max(1) as f64;
    let rms = |v: &[f64]| (v.iter().map(|x| x * x).sum::<f64>() / v.len().max(1) as f64).sqrt();
    let bias = mean(&errors);
    let scatter =
        (errors.iter().map(|e| (e - bias).powi(2)).sum::<f64>() / (errors.len() as f64 - 1.0).max(1.0)).sqrt();
    off.sort_by(f64::total_cmp);
    let centre_px = off.get(off.len() * 95 / 100).copied().unwrap_or(f64::NAN);
    Outcome {
        bias,
        scatter,
        z: rms(&zs),
        station_scatter: rms(&own),
        station_z: rms(&own_z),
        blur: mean(&blurs),
        stated: mean(&stated),
        centre_px,
        lost,
    }
}

fn line(name: &str, phantom: &Straight, n: u64) -> Outcome {
    let o = outcome(phantom, n);
    println!(
        "{name:<34} bias {:+6.2} %  scatter {:5.2} %  stated {:5.2} %  z {:4.2} | station {:5.2} % z {:4.2} | blur x{:4.2} centre {:4.2} px lost {}",
        o.bias * 100.0,
        o.scatter * 100.0,
        o.stated * 100.0,
        o.z,
        o.station_scatter * 100.0,
        o.station_z,
        o.blur,
        o.centre_px,
        o.lost
    );
    o
}

const KINDS: [(&str, Kind); 8] = [
    ("volume", Kind::Volume),
    ("shell 0.8", Kind::Shell(0.8)),
    ("shell 0.9", Kind::Shell(0.9)),
    ("absorbing 1", Kind::Absorbing(1.0)),
    ("absorbing 3", Kind::Absorbing(3.0)),
    ("dark medulla", Kind::Medulla(0.45, 0.8)),
    ("bright medulla", Kind::Medulla(0.4, -0.6)),
    ("pigmented medulla", Kind::PigmentedMedulla(1.5, 0.4, 0.7)),
];

fn long(width: f64) -> f64 {
    (width * 12.0).clamp(200.0, 1200.0)
}

/// The figures of the design on a few shafts of each kind: bias within 1 %, scatter within 2 %, the centreline within
/// a pixel and a half. The ignored tests below print the whole tables.
#[test]
fn widths_are_right_for_every_kind_of_shaft() {
    let cases = [
        ("volume", Kind::Volume, 24.0, 1.2),
        ("volume, fine", Kind::Volume, 8.0, 0.7),
        ("volume, out of focus", Kind::Volume, 44.0, 4.0),
        ("shell", Kind::Shell(0.8), 44.0, 1.2),
        ("absorbing", Kind::Absorbing(1.5), 24.0, 0.8),
        ("dark medulla", Kind::Medulla(0.45, 0.8), 24.0, 0.8),
        ("bright medulla", Kind::Medulla(0.4, -0.6), 30.0, 1.2),
        ("pigmented medulla", Kind::PigmentedMedulla(1.5, 0.4, 0.7), 30.0, 1.0),
    ];
    for (name, kind, width_px, blur_px) in cases {
        let phantom = Straight { kind, width_px, blur_px, width_factor: 1.0, slope: 0.1, ..Straight::default() };
        check(name, &phantom.with_snr(15.0));
    }
    let dark =
        Straight { kind: Kind::Absorbing(1.0), width_px: 30.0, ground: [0.10, 0.30, 0.35], ..Straight::default() };
    check("darker than the ground", &Straight { glow: [-0.05, -0.2, -0.25], width_factor: 1.0, ..dark }.with_snr(15.0));
    let rough = Straight { eight_bits: true, width_factor: 1.0, ..Straight::default() };
    check("eight bits", &rough.clone().with_snr(20.0));
    check("mildly sharpened", &Straight { sharpening: 0.5, ..rough }.with_snr(20.0));
}

fn check(name: &str, phantom: &Straight) {
    let o = line(name, phantom, 3);
    assert_eq!(o.lost, 0, "{name}");
    assert!(o.bias.abs() < 0.01, "{name}: bias {:.4}", o.bias);
    assert!(o.scatter < 0.02, "{name}: scatter {:.4}", o.scatter);
    assert!(o.centre_px < 0.5, "{name}: centreline {:.2} px", o.centre_px);
    assert!((0.8..1.2).contains(&o.station_z), "{name}: z of the stations {:.2}", o.station_z);
}

/// Uncertainties of shafts are honest where the blur does not hide the shape: 36 shafts of three kinds together.
#[test]
fn stated_uncertainties_are_honest() {
    let mut square = 0.0;
    let kinds = [Kind::Volume, Kind::Absorbing(1.0), Kind::Medulla(0.45, 0.8)];
    for kind in kinds {
        let phantom = Straight { kind, blur_px: 0.8, length_px: 220.0, width_factor: 1.0, ..Straight::default() };
        square += outcome(&phantom.with_snr(12.0), 12).z.powi(2) / kinds.len() as f64;
    }
    // 36 values of a standard deviation of 1 have a root mean square of 1 ± 0.12.
    assert!((0.7..1.3).contains(&square.sqrt()), "z {:.2}", square.sqrt());
}

/// The scatter of a shaft's width against the Cramér-Rao bound for a blur that is not known (see `bound`).
#[test]
fn the_scatter_is_near_the_bound() {
    let (width_px, blur_px) = (24.0, 1.2);
    let phantom = Straight { width_px, blur_px, width_factor: 1.0, ..Straight::default() }.with_snr(10.0);
    let o = outcome(&phantom, 24);
    let height = phantom.glow.iter().map(|g| g * g).sum::<f64>().sqrt() / f64::from(phantom.noise.floor);
    let section = Section { centre_px: 0.0, radius_px: width_px / 2.0, height, ground: 0.0, slope: 0.0 };
    let shape = Shape { blur_px: (blur_px * blur_px + 1.0 / 12.0_f64).sqrt(), flatness: 0.0, core: None };
    let unknowns = Unknowns { blur: true, flatness: false, core: false };
    let least = bound(shape, &section, 1.05 * width_px + 8.0, phantom.length_px, 1, unknowns).expect("regular");
    let ratio = o.scatter / (least.mean_radius_px / section.radius_px);
    // The median of stations has 1.25 times the scatter of their mean; 24 shafts tell a scatter to 15 %.
    assert!((0.6..1.5).contains(&ratio), "scatter is {ratio:.2} of the bound");
}

#[test]
#[ignore = "the whole table takes minutes; run with --release --ignored --nocapture"]
fn the_whole_table() {
    let n = 10;
    for (name, kind) in KINDS {
        for width_px in [12.0, 30.0, 80.0] {
            for blur_px in [0.5, 1.5, 3.0] {
                let dark = matches!(kind, Kind::Absorbing(_)) && width_px == 30.0;
                let mut p = Straight {
                    kind,
                    width_px,
                    blur_px,
                    length_px: long(width_px),
                    width_factor: 1.0,
                    slope: 0.1,
                    ..Straight::default()
                };
                if dark {
                    p.ground = [0.10, 0.30, 0.35];
                    p.glow = [-0.05, -0.2, -0.25];
                }
                line(
                    &format!("{name} w{width_px} b{blur_px}{}", if dark { " dark" } else { "" }),
                    &p.with_snr(15.0),
                    n,
                );
            }
        }
    }
}

#[test]
#[ignore = "takes a minute; run with --release --ignored --nocapture"]
fn the_table_of_extremes() {
    let n = 10;
    let base = |width_px: f64, blur_px: f64| Straight {
        width_px,
        blur_px,
        length_px: long(width_px),
        width_factor: 1.0,
        ..Straight::default()
    };
    for (w, b) in [(5.0, 0.5), (5.0, 1.0), (8.0, 1.0), (8.0, 2.0), (12.0, 4.0), (20.0, 4.0), (150.0, 4.0), (300.0, 2.0)]
    {
        line(&format!("volume w{w} b{b} snr10"), &base(w, b).with_snr(10.0), n);
    }
    for snr in [3.0, 5.0, 10.0, 30.0, 100.0] {
        line(&format!("volume w24 b1.2 snr{snr}"), &base(24.0, 1.2).with_snr(snr), n);
        line(
            &format!("absorbing 1 w24 b1.2 snr{snr}"),
            &Straight { kind: Kind::Absorbing(1.0), ..base(24.0, 1.2) }.with_snr(snr),
            n,
        );
    }
    for (name, kind) in KINDS {
        line(&format!("{name} 8 bit w24"), &Straight { eight_bits: true, kind, ..base(24.0, 1.2) }.with_snr(20.0), n);
        line(
            &format!("{name} sharpened 0.5 w24"),
            &Straight { eight_bits: true, sharpening: 0.5, kind, ..base(24.0, 1.2) }.with_snr(20.0),
            n,
        );
    }
    line("slope 0.5 a width", &Straight { slope: 0.5, ..base(24.0, 1.2) }.with_snr(15.0), n);
}

#[test]
#[ignore = "compares scatter with the bound over many shafts; run with --release --ignored --nocapture"]
fn the_bound() {
    for (width_px, blur_px, snr) in [(12.0, 1.0, 10.0), (24.0, 1.2, 10.0), (24.0, 3.0, 15.0), (60.0, 2.0, 10.0)] {
        let p = Straight { width_px, blur_px, length_px: long(width_px), width_factor: 1.0, ..Straight::default() }
            .with_snr(snr);
        let o = line(&format!("volume w{width_px} b{blur_px} snr{snr}"), &p, 40);
        let noise = f64::from(p.noise.floor);
        let height = p.glow.iter().map(|g| g * g).sum::<f64>().sqrt() / noise;
        let section = Section { centre_px: 0.0, radius_px: width_px / 2.0, height, ground: 0.0, slope: 0.0 };
        let shape = Shape { blur_px: (blur_px * blur_px + 1.0 / 12.0_f64).sqrt(), flatness: 0.0, core: None };
        for (name, unknowns) in [
            ("all known", Unknowns { blur: false, flatness: false, core: false }),
            ("blur unknown", Unknowns { blur: true, flatness: false, core: false }),
            ("blur, flatness unknown", Unknowns { blur: true, flatness: true, core: false }),
        ] {
            let b = bound(shape, &section, 1.05 * width_px + 8.0, p.length_px, 1, unknowns).unwrap();
            println!(
                "    {name}: bound {:.3} %, scatter is {:.2} of it",
                b.mean_radius_px / section.radius_px * 100.0,
                o.scatter / (b.mean_radius_px / section.radius_px)
            );
        }
    }
}

/// Twenty shafts, 1,500 pixels long and 30 wide, on a 12-megapixel photo: the figure of the design is 60 ms on two cores.
#[test]
#[ignore = "measures time; run with --release --ignored --nocapture"]
fn the_time_for_twenty_shafts() {
    let shafts = super::phantoms::twenty(4000, 3000, 1500.0, 30.0);
    for round in 0..10 {
        let begin = std::time::Instant::now();
        let profiles = from_shafts(&shafts, &Settings::default());
        let fitted: usize =
            profiles.shafts.iter().map(|s| s.stations.iter().filter(|s| s.width_px.is_some()).count()).sum();
        println!("round {round}: {:.1} ms, {fitted} widths", begin.elapsed().as_secs_f64() * 1e3);
    }
}
