//! Callouts of a picture, from what is true of its scene: never from what the program found.

use crate::maths::point::Point;
use crate::sim::{DebrisKind, End, Look, Scene, Shaft};

/// What a callout names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// The root end.
    Root,
    /// The fine tip.
    Tip,
    /// A ragged break.
    Break,
    /// A clean cut.
    Cut,
    /// Where the added glow begins or ends along the shaft.
    Front,
    /// The outer edge of the hair itself.
    Cuticle,
    /// Between cuticle and medulla.
    Cortex,
    /// The air-filled core.
    Medulla,
    /// The sheath of spores.
    Cuff,
    /// A residue on the hair.
    Coating,
    /// A residue that lies beside the hair on the tape.
    Spill,
    /// The smooth edge of a fibre, without scales.
    SmoothEdge,
    /// A bubble of air.
    Bubble,
    /// Air along the hair.
    TrappedAir,
    /// A flake of dander.
    Flake,
    /// An ordinary hair to compare with.
    Comparison,
}

impl Part {
    /// All parts.
    pub const ALL: [Part; 16] = [
        Part::Root,
        Part::Tip,
        Part::Break,
        Part::Cut,
        Part::Front,
        Part::Cuticle,
        Part::Cortex,
        Part::Medulla,
        Part::Cuff,
        Part::Coating,
        Part::Spill,
        Part::SmoothEdge,
        Part::Bubble,
        Part::TrappedAir,
        Part::Flake,
        Part::Comparison,
    ];
}

/// A part and a place on the picture where it is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Callout {
    /// What is there.
    pub part: Part,
    /// Where, pixels of the picture.
    pub at: Point,
}

/// Share of the full added glow above which a station counts as glowing, as in truth files.
const GLOWS_FROM: f32 = 0.5;

/// A layer thinner than this on the picture is not called out: nobody could see it there.
const LEAST_SHOWN_PX: f32 = 3.0;

/// The cortex is called out only where it is thicker than a dot, pixels.
const LEAST_CORTEX_PX: f32 = 12.0;

/// How near the border a callout may be, pixels.
const MARGIN_PX: f64 = 8.0;

/// Stations that are looked at for a place to point to.
const STATIONS: usize = 240;

/// The callouts of a scene: of its first shaft, of what lies about, and of the other shafts that they serve to compare.
pub fn callouts(scene: &Scene) -> Vec<Callout> {
    let mut found = Vec::new();
    let Some(shaft) = scene.shafts.first() else { return found };
    ends(shaft, scene.um_per_px, &mut found);
    front(scene, shaft, &mut found);
    layers(scene, shaft, &mut found);
    for other in &scene.shafts[1..] {
        if other.comparison {
            found.push(Callout {
                part: Part::Comparison,
                at: other.middle_at(0.38 * other.from_px + 0.62 * other.to_px),
            });
        }
    }
    let mut called = Vec::new();
    for piece in &scene.debris {
        let part = match piece.kind {
            DebrisKind::Bubble => Part::Bubble,
            DebrisKind::Flake => Part::Flake,
            DebrisKind::Puddle => Part::Spill,
            _ => continue,
        };
        // One of a kind is enough.
        if !called.contains(&part) {
            called.push(part);
            let aside = if part == Part::Spill { 0.55 * piece.short_px } else { 0.0 };
            found.push(Callout { part, at: Point::new(piece.at.x, piece.at.y + aside) });
        }
    }
    found.retain(|callout| scene.shows(callout.at, MARGIN_PX));
    found
}

fn ends(shaft: &Shaft, um_per_px: f64, found: &mut Vec<Callout>) {
    for (end, s_px) in [(shaft.base_end, shaft.from_px + 2.0), (shaft.tip_end, shaft.to_px - 2.0)] {
        let part = match end {
            End::Root => Part::Root,
            End::Tapered => Part::Tip,
            End::Broken { .. } => Part::Break,
            End::Cut { .. } => Part::Cut,
        };
        // Cotton's ends are torn: neither a hair's break nor a clean cut.
        if part == Part::Break && !shaft.build.is_hair() {
            continue;
        }
        // Splinters stand around the end of the middle line; where they begin there is hair to point at.
        let ragged_px = match end {
            End::Broken { ragged_um } => ragged_um / um_per_px,
            _ => 0.0,
        };
        let inside = if s_px > shaft.from_px + 2.0 { -ragged_px } else { ragged_px };
        found.push(Callout { part, at: shaft.middle_at(s_px + inside) });
    }
}

/// The first place where the added glow begins or ends, if it is in view.
fn front(scene: &Scene, shaft: &Shaft, found: &mut Vec<Callout>) {
    if shaft.look == Look::Fibre {
        return;
    }
    let glows = |s_px: f64| shaft.make_at(s_px).glow >= GLOWS_FROM;
    let step = (shaft.to_px - shaft.from_px) / STATIONS as f64;
    let borders = (1..STATIONS)
        .map(|i| shaft.from_px + i as f64 * step)
        .filter(|s| glows(*s) != glows(s - step) && scene.shows(shaft.middle_at(*s), MARGIN_PX));
    if let Some(s_px) = borders.min_by(|a, b| off_middle(scene, shaft, *a).total_cmp(&off_middle(scene, shaft, *b))) {
        found.push(Callout { part: Part::Front, at: shaft.middle_at(s_px) });
    }
}

fn off_middle(scene: &Scene, shaft: &Shaft, s_px: f64) -> f64 {
    (shaft.middle_at(s_px).x - 0.5 * scene.width_px as f64).abs()
}

/// Cuticle, cortex, medulla and what lies on them, each where it is thickest in its own part of the view.
fn layers(scene: &Scene, shaft: &Shaft, found: &mut Vec<Callout>) {
    let step = (shaft.to_px - shaft.from_px) / STATIONS as f64;
    let seen: Vec<f64> = (1..STATIONS)
        .map(|i| shaft.from_px + i as f64 * step)
        .filter(|s| scene.shows(shaft.middle_at(*s), 0.06 * scene.width_px as f64))
        .collect();
    // Each part has a stretch of its own, so that the lines do not meet: shares of what is in view.
    let mut point = |part: Part, from: f64, thick: &dyn Fn(f64) -> f32, off: &dyn Fn(f64) -> f64| {
        let n = seen.len() as f64;
        let stretch = &seen[(from * n) as usize..((from + 0.2) * n).ceil().min(n) as usize];
        let best = stretch.iter().copied().max_by(|a, b| thick(*a).total_cmp(&thick(*b)));
        // Where the blur is as wide as a layer is thick, the layer is not seen either.
        let shown = |s: &f64| f64::from(thick(*s)) >= f64::from(LEAST_SHOWN_PX).max(2.0 * shaft.blur_at(*s));
        if let Some(s_px) = best.filter(shown) {
            let normal = shaft.course.tangent(s_px).normal();
            found.push(Callout { part, at: shaft.course.at(s_px) + normal * off(s_px) });
        }
    };
    let edge = |s: f64| shaft.make_at(s).edge_px[1];
    let shell = |s: f64| {
        let make = shaft.make_at(s);
        if make.glow < GLOWS_FROM { 0.0 } else { make.shell_px[1] - make.edge_px[1] }
    };
    let medulla = |s: f64| shaft.make_at(s).medulla * edge(s);
    // Where the structure is broken down nobody can tell the cortex.
    let cortex = |s: f64| if shaft.make_at(s).damage > 0.5 { 0.0 } else { edge(s) - medulla(s) };
    let bare = |s: f64| if shell(s) < 0.5 { edge(s) - 3.0 } else { 0.0 };
    if shaft.look == Look::Fibre {
        point(Part::SmoothEdge, 0.3, &|s| edge(s) - 3.0, &|s| f64::from(edge(s)));
        return;
    }
    let on_it = if shaft.look == Look::Coated { Part::Coating } else { Part::Cuff };
    point(on_it, 0.62, &|s| 1.6 * shell(s), &|s| f64::from(edge(s) + 0.5 * shell(s)));
    // Half of a hair that is narrow on the picture shows no parts.
    if f64::from(shaft.make_at(0.5 * (shaft.from_px + shaft.to_px)).edge_px[1]) < 12.0 {
        return;
    }
    point(Part::Cuticle, 0.05, &bare, &|s| f64::from(edge(s)));
    // A dot is as wide as ten pixels: in a thinner cortex it would point at the edge.
    point(Part::Cortex, 0.4, &|s| cortex(s) * LEAST_SHOWN_PX / LEAST_CORTEX_PX, &|s| {
        f64::from(medulla(s) + 0.5 * cortex(s))
    });
    point(Part::Medulla, 0.22, &medulla, &|_| 0.0);
    if shaft.makes.iter().any(|make| make.air_px[1] > LEAST_SHOWN_PX) {
        let air = |s: f64| shaft.make_at(s).air_px[1];
        point(Part::TrappedAir, 0.8, &air, &|s| f64::from(edge(s) + 0.5 * air(s)));
    }
}

#[cfg(test)]
mod tests {
    use super::{Part, callouts};
    use crate::learn::drawn::{close_frame, whole_frame};
    use crate::learn::plates;
    use crate::sim::Lamp;

    fn named(code: &str, close: bool) -> Vec<Part> {
        let plate = plates().into_iter().find(|plate| plate.code == code).unwrap();
        let frame = if close { close_frame(&plate, plate.close[0]) } else { whole_frame(&plate) };
        let scene = plate.exhibit.scene(&frame, Lamp::Ultraviolet);
        callouts(&scene).iter().map(|callout| callout.part).collect()
    }

    #[test]
    fn callouts_name_what_is_there_and_nothing_else() {
        let guard = named("guard", true);
        for part in [Part::Cuticle, Part::Cortex, Part::Medulla] {
            assert!(guard.contains(&part), "{guard:?}");
        }
        assert!(!guard.contains(&Part::Cuff) && !guard.contains(&Part::Coating));
        let infected = named("infected-whole", true);
        assert!(infected.contains(&Part::Cuff) && !infected.contains(&Part::Medulla), "{infected:?}");
        assert!(!infected.contains(&Part::Cuticle), "the sheath hides the cuticle: {infected:?}");
        assert!(named("infected-early", false).contains(&Part::Front));
        assert!(named("infected-broken", true).contains(&Part::Break));
        assert!(named("ointment", true).contains(&Part::Coating));
        assert!(named("ointment", false).contains(&Part::Spill));
        assert!(named("cotton", true).contains(&Part::SmoothEdge));
        assert!(!named("cotton", false).contains(&Part::Break), "no hair, no break");
        assert!(named("lint", false).contains(&Part::Cut));
        let blurred = named("out-of-focus", true);
        assert!(!blurred.contains(&Part::Cuff), "nobody sees a cuff there: {blurred:?}");
        assert!(named("bubbles", true).contains(&Part::TrappedAir));
        assert!(named("bubbles", false).contains(&Part::Bubble));
        assert!(named("dander", false).contains(&Part::Flake));
        assert!(named("soap", false).contains(&Part::Comparison));
    }
}
