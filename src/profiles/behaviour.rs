//! What the stage does with bends, ends, neighbours, dust and nonsense, on drawn photos.

use super::phantoms::{Kind, Straight, blurred, scene, traced};
use super::{EndSeen, Profile, Profiles, Settings, from_shafts};
use crate::concerns::ConcernKind;
use crate::field::{Disc, Noise};
use crate::maths::point::Point;
use crate::maths::raster::Raster;
use crate::shafts::{EndAt, Shafts};

fn measured(shafts: &Shafts) -> Profiles {
    from_shafts(shafts, &Settings::default())
}

fn median(profile: &Profile) -> f64 {
    profile.median_width().expect("enough clear stations").px
}

#[test]
fn a_bent_shaft_is_followed_and_its_width_kept() {
    let (centre, bend, width) = (Point::new(150.0, -60.0), 220.0, 22.0);
    let light =
        blurred(300, 200, 1.3, |x, y| Kind::Volume.light((centre.distance(Point::new(x, y)) - bend) / (width / 2.0)));
    let points = (0..60).map(|i| {
        let angle = std::f64::consts::FRAC_PI_2 + 0.62 - 1.24 * f64::from(i) / 59.0;
        let off = bend + 5.0 * (f64::from(i) * 0.5).sin();
        Point::new(centre.x + off * angle.cos(), centre.y + off * angle.sin())
    });
    let out = measured(&scene(&light, 0.012, vec![traced(points, 30.0, [EndAt::Lost; 2])], 3));
    let profile = &out.shafts[0];
    assert!((median(profile) / width - 1.0).abs() < 0.01, "{:?}", profile.median_width());
    let clear = profile.stations.iter().filter(|s| s.clear);
    let off: Vec<f64> = clear.map(|s| (centre.distance(profile.centreline.at(s.s_px)) - bend).abs()).collect();
    assert!(off.len() > 20 && off.iter().all(|o| *o < 0.5), "{off:?}");
}

/// A level shaft from x = 60 on, 20 wide, whose half width at s from its end is given; `slant` leans its end.
fn ended(half_width: impl Fn(f64) -> f64, slant: f64, trace_from: f64) -> Profile {
    let light = blurred(420, 90, 1.2, |x, y| {
        let t = y - 44.3;
        let s = x - 60.0 - slant * t;
        if s < 0.0 { 0.0 } else { Kind::Volume.light(t / half_width(s).max(1e-6)) }
    });
    let points = (0..40).map(|i| Point::new(trace_from + (419.0 - trace_from) * f64::from(i) / 39.0, 45.0));
    let out = measured(&scene(&light, 0.01, vec![traced(points, 22.0, [EndAt::Free, EndAt::Outside])], 7));
    out.shafts[0].clone()
}

#[test]
fn ends_are_named_and_found() {
    for trace_from in [45.0, 60.0, 85.0] {
        let square = ended(|_| 10.0, 0.0, trace_from);
        assert_eq!(square.ends, [EndSeen::Cut, EndSeen::Outside], "traced from {trace_from}");
        let at = square.centreline.first();
        assert!((at.x - 60.0).abs() < 4.0, "traced from {trace_from}, found {at:?}");
        assert!(square.concerns.iter().any(|c| c.kind == ConcernKind::Partial));
    }
    assert_eq!(ended(|_| 10.0, 1.0, 60.0).ends[0], EndSeen::Broken);
    assert_eq!(ended(|s| (0.5 + s * 0.08).min(10.0), 0.0, 62.0).ends[0], EndSeen::Tapered);
    let bulb = |s: f64| if s < 50.0 { 10.0 + 6.0 * (s / 50.0 * std::f64::consts::PI).sin() } else { 10.0 };
    assert_eq!(ended(bulb, 0.0, 60.0).ends[0], EndSeen::Root);
}

fn crossing() -> Shafts {
    let light = blurred(300, 300, 1.2, |x, y| {
        Kind::Volume.light((y - 150.3) / 10.0) + Kind::Volume.light(((x - 150.2) * 0.8 - (y - 150.3) * 0.6) / 8.0)
    });
    let level = (0..50).map(|i| Point::new(5.0 + 290.0 * f64::from(i) / 49.0, 151.0));
    let steep = (0..50).map(|i| {
        let s = -170.0 + 340.0 * f64::from(i) / 49.0;
        Point::new(150.2 + 0.6 * s, 150.3 + 0.8 * s)
    });
    let mut level = traced(level, 22.0, [EndAt::Lost; 2]);
    let mut steep = traced(steep, 14.0, [EndAt::Lost; 2]);
    level.overlaps = vec![(120.0, 170.0)];
    steep.overlaps = vec![(145.0, 195.0)];
    scene(&light, 0.012, vec![level, steep], 5)
}

#[test]
fn crossing_shafts_do_not_spoil_each_other() {
    let out = measured(&crossing());
    assert!((median(&out.shafts[0]) / 20.0 - 1.0).abs() < 0.01, "{:?}", out.shafts[0].median_width());
    assert!((median(&out.shafts[1]) / 16.0 - 1.0).abs() < 0.01, "{:?}", out.shafts[1].median_width());
    for station in out.shafts[0].stations.iter().filter(|s| (125.0..165.0).contains(&s.s_px)) {
        assert!(!station.clear, "at {}", station.s_px);
    }
}

#[test]
fn a_neighbour_along_the_shaft_is_kept_out() {
    let light =
        blurred(260, 140, 1.2, |_, y| Kind::Volume.light((y - 50.4) / 10.0) + Kind::Volume.light((y - 84.4) / 9.0));
    let line = |y: f64| (0..40).map(move |i| Point::new(5.0 + 250.0 * f64::from(i) / 39.0, y));
    let shafts = vec![traced(line(51.0), 20.0, [EndAt::Lost; 2]), traced(line(85.0), 18.0, [EndAt::Lost; 2])];
    let out = measured(&scene(&light, 0.012, shafts, 6));
    assert!((median(&out.shafts[0]) / 20.0 - 1.0).abs() < 0.01, "{:?}", out.shafts[0].median_width());
    assert!((median(&out.shafts[1]) / 18.0 - 1.0).abs() < 0.01, "{:?}", out.shafts[1].median_width());
}

/// Infected hair: a sheath that swells the outline by a third over a stretch must show station by station.
#[test]
fn a_sheath_shows_in_the_stations() {
    let half = |x: f64| 10.0 + 4.0 * (-((x - 180.0) / 35.0).powi(4)).exp() + 0.8 * (x / 9.0).sin();
    let light = blurred(360, 100, 1.0, |x, y| Kind::Volume.light((y - 50.2) / half(x)));
    let points = (0..40).map(|i| Point::new(5.0 + 350.0 * f64::from(i) / 39.0, 50.8));
    let out = measured(&scene(&light, 0.01, vec![traced(points, 20.0, [EndAt::Lost; 2])], 8));
    let profile = &out.shafts[0];
    let mut worst = Vec::new();
    for station in profile.stations.iter().filter(|s| s.clear) {
        let truth = 2.0 * half(profile.centreline.at(station.s_px).x);
        worst.push((station.width_px.expect("fits") / truth - 1.0).abs());
    }
    worst.sort_by(f64::total_cmp);
    assert!(worst[worst.len() / 2] < 0.015, "median {}", worst[worst.len() / 2]);
    assert!(worst[worst.len() * 9 / 10] < 0.05, "nine in ten {}", worst[worst.len() * 9 / 10]);
}

#[test]
fn dust_is_not_measured() {
    let specks = [(60.0, 35.0), (120.0, 66.0), (170.0, 34.0), (220.0, 68.0)];
    let light = blurred(280, 100, 1.2, |x, y| {
        let dust = specks.iter().any(|(a, b)| (x - a).hypot(y - b) < 3.5);
        Kind::Volume.light((y - 50.3) / 10.0) + if dust { 1.2 } else { 0.0 }
    });
    let points = (0..40).map(|i| Point::new(5.0 + 270.0 * f64::from(i) / 39.0, 51.0));
    let out = measured(&scene(&light, 0.012, vec![traced(points, 20.0, [EndAt::Lost; 2])], 9));
    assert!((median(&out.shafts[0]) / 20.0 - 1.0).abs() < 0.01, "{:?}", out.shafts[0].median_width());
}

/// Closed form: the mean of a clear cylinder over its outline is π/4 of its height.
#[test]
fn the_glow_is_the_mean_inside_the_outline() {
    for blur_px in [0.7, 3.0] {
        let phantom = Straight { blur_px, ..Straight::default() }.with_snr(30.0);
        let out = measured(&phantom.shafts());
        let clear: Vec<_> = out.shafts[0].stations.iter().filter(|s| s.clear).collect();
        let mean = |c: usize| clear.iter().map(|s| s.glow[c]).sum::<f64>() / clear.len() as f64;
        for c in 0..3 {
            let truth = phantom.glow[c] * std::f64::consts::FRAC_PI_4;
            assert!((mean(c) / truth - 1.0).abs() < 0.02, "blur {blur_px} channel {c}: {} for {truth}", mean(c));
        }
        let z: Vec<f64> =
            clear.iter().map(|s| (s.glow[1] - mean(1)) / s.glow_sd[1].hypot(s.glow_shared_sd * s.glow[1])).collect();
        let rms = (z.iter().map(|z| z * z).sum::<f64>() / z.len() as f64).sqrt();
        assert!((0.7..1.4).contains(&rms), "z of the glow {rms}");
    }
}

#[test]
fn a_medulla_and_a_shell_show() {
    let at = |kind: Kind| {
        let out = measured(&Straight { kind, width_px: 30.0, ..Straight::default() }.with_snr(20.0).shafts());
        let clear: Vec<_> = out.shafts[0].stations.iter().filter(|s| s.clear).cloned().collect();
        let mean = |f: &dyn Fn(&super::Station) -> Option<f64>| {
            let values: Vec<f64> = clear.iter().filter_map(f).collect();
            values.iter().sum::<f64>() / values.len() as f64
        };
        (mean(&|s| s.medulla), mean(&|s| s.core_to_rim))
    };
    let (plain, dark, shell) = (at(Kind::Volume), at(Kind::Medulla(0.4, 0.8)), at(Kind::Shell(0.8)));
    assert!(plain.0.abs() < 0.03, "no medulla: {plain:?}");
    assert!(dark.0 > 0.2, "dark medulla: {dark:?}");
    assert!(plain.1 > 1.5 && shell.1 < 0.9, "core to rim: {plain:?} {shell:?}");
}

#[test]
fn clipped_shafts_are_said_to_be_and_measured_by_their_flanks() {
    let phantom = Straight { glow: [0.9, 1.5, 1.4], eight_bits: true, ..Straight::default() }.with_snr(60.0);
    let out = measured(&phantom.shafts());
    let profile = &out.shafts[0];
    assert!(profile.concerns.iter().any(|c| c.kind == ConcernKind::ShaftClipped));
    assert!(profile.stations.iter().all(|s| s.clipped > 0.3));
    let width = profile.median_width().expect("measured");
    assert!((width.px / phantom.width_px - 1.0).abs() < 0.03, "{width:?} for {}", phantom.width_px);
}

#[test]
fn a_shaft_thinner_than_its_blur_is_said_to_be() {
    let phantom = Straight { width_px: 4.0, blur_px: 3.0, width_factor: 1.5, ..Straight::default() }.with_snr(12.0);
    let out = measured(&phantom.shafts());
    assert!(
        out.shafts[0].concerns.iter().any(|c| c.kind == ConcernKind::TooThin),
        "{:?}",
        out.shafts[0].median_width()
    );
}

#[test]
fn the_number_of_threads_changes_nothing() {
    let shafts = crossing();
    let with = |n: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n).build().expect("threads");
        pool.install(|| format!("{:?}", measured(&shafts)))
    };
    assert_eq!(with(1), with(3));
}

#[test]
fn nonsense_is_survived() {
    let good = crossing();
    let mut outside = good.clone();
    outside.shafts[0].centreline = line(-500.0, -500.0, -900.0, -700.0);
    outside.shafts[1].centreline = line(1e7, 1e7, 1e7 + 3.0, 1e7);
    let mut strange = good.clone();
    strange.shafts[0].width_px = f64::NAN;
    strange.shafts[1].width_px = -3.0;
    strange.shafts[1].overlaps = vec![(f64::NAN, f64::INFINITY), (90.0, 10.0)];
    let mut huge = good.clone();
    huge.shafts[0].width_px = 1e9;
    huge.shafts[1].centreline = line(150.0, 150.0, 150.5, 150.0);
    let mut silent = good.clone();
    silent.field.noise = [Noise { floor: 0.0, slope: 0.0 }; 3];
    let mut untrusted = good.clone();
    untrusted.field.trusted = untrusted.field.trusted.map(|_| false);
    let mut bare = good.clone();
    bare.field.background = [0, 1, 2].map(|_| Raster::filled(0, 0, 0.0));
    bare.field.planes = bare.field.background.clone();
    bare.field.trusted = Raster::filled(0, 0, true);
    bare.field.disc = Some(Disc { centre: Point::new(150.0, 150.0), radius_px: 60.0 });
    let mut tiny = good.clone();
    tiny.field.picture.width = 1;
    tiny.field.picture.height = 1;
    let mut empty = good.clone();
    empty.field.picture.width = 0;
    let mut short = good.clone();
    short.field.picture.linear.truncate(10);
    let mut even = good.clone();
    if let crate::image::Samples::Sixteen(samples) = &mut even.field.picture.samples {
        samples.fill(20_000);
    }
    let mut none = good.clone();
    none.shafts.clear();
    for (name, shafts) in [
        ("outside", outside),
        ("strange", strange),
        ("huge", huge),
        ("silent", silent),
        ("untrusted", untrusted),
        ("bare", bare),
        ("tiny", tiny),
        ("empty", empty),
        ("short", short),
        ("even", even),
        ("none", none),
    ] {
        let out = measured(&shafts);
        let streaks = out.rejects.len() - shafts.rejects.len();
        assert_eq!(out.shafts.len() + streaks, shafts.shafts.len(), "{name}");
        for profile in &out.shafts {
            for station in &profile.stations {
                let numbers = [
                    Some(station.s_px),
                    station.width_px,
                    station.width_sd_px,
                    station.core_to_rim,
                    station.spill,
                    station.medulla,
                    station.residual,
                    station.texture,
                    Some(station.glow[1]),
                    Some(station.glow_sd[1]),
                    Some(station.ground[1]),
                    Some(station.clipped),
                ];
                assert!(numbers.iter().flatten().all(|v| v.is_finite()), "{name}: {station:?}");
                assert!(station.width_px.is_none_or(|w| w > 0.0), "{name}: {station:?}");
            }
            assert!(profile.strip.iter().all(|s| s.data().iter().all(|v| v.is_finite())), "{name}");
        }
    }
}

fn line(x0: f64, y0: f64, x1: f64, y1: f64) -> crate::maths::polyline::Polyline {
    crate::maths::polyline::Polyline::new([Point::new(x0, y0), Point::new(x1, y1)]).expect("two places")
}
