//! The same slide photographed again: moved, in other light, in other focus, with other noise.

use crate::maths::point::{Point, Vec2};
use crate::maths::seeds::mixed;
use crate::maths::similarity::Similarity;

use super::course::COURSE_STEP_PX;
use super::exhibit::{Lamp, camera, darken, light};
use super::make::Make;
use super::scene::{Scene, Shaft};

impl Scene {
    /// The slide in white light from below, without UV, before the same lens. The camera is the one that exhibits are
    /// taken with; its noise is another.
    pub fn in_visible_light(&self) -> Scene {
        let mut twin = self.taken_again(0x7669_7369);
        twin.shafts.iter_mut().for_each(darken);
        twin.debris.iter_mut().for_each(|piece| piece.strength = 0.0);
        twin.light = super::apparatus::Light { texture: self.light.texture, ..light(Lamp::Visible, 0.0) };
        twin.camera = super::apparatus::Camera { jpeg_quality: self.camera.jpeg_quality, ..camera(Lamp::Visible) };
        twin
    }

    /// The same photo with noise of its own; `take` tells takes apart.
    pub fn taken_again(&self, take: u64) -> Scene {
        Scene { salt: self.salt ^ mixed(take), ..self.clone() }
    }

    /// The slide and what it is seen through moved against the photo: what lay at a place lies where `by` takes it.
    pub fn moved(&self, by: &Similarity) -> Scene {
        let factor = by.factor();
        let mut moved = Scene { um_per_px: self.um_per_px / factor, ..self.clone() };
        moved.shafts.iter_mut().for_each(|shaft| *shaft = shaft.moved(by));
        for piece in &mut moved.debris {
            piece.at = by.of(piece.at);
            piece.angle += by.turn();
            for length in [&mut piece.long_px, &mut piece.short_px, &mut piece.blur_px] {
                *length *= factor;
            }
        }
        if let Some(disc) = &mut moved.optics.disc {
            disc.centre = by.of(disc.centre);
            disc.radius_px *= factor;
        }
        moved.optics.lens_blur_px *= factor;
        if let Some((at, _, _)) = &mut moved.light.hot_spot {
            *at = by.of(*at);
        }
        moved
    }

    /// The slide with `more_px` of blur on every shaft and piece beside what it has, Gaussian sigma, pixels.
    pub fn defocused(&self, more_px: f64) -> Scene {
        let mut blurred = self.clone();
        blurred.shafts.iter_mut().for_each(|shaft| shaft.blur_px = shaft.blur_px.map(|px| px.hypot(more_px)));
        blurred.debris.iter_mut().for_each(|piece| piece.blur_px = piece.blur_px.hypot(more_px));
        blurred
    }

    /// A move by hand between two photos: turned and enlarged about the photo's middle, then shifted.
    pub fn hand_move(&self, turn: f64, factor: f64, shift: Vec2) -> Similarity {
        let middle = Point::new(0.5 * (self.width_px as f64 - 1.0), 0.5 * (self.height_px as f64 - 1.0));
        Similarity::about(middle, turn, factor, shift)
    }
}

impl Shaft {
    fn moved(&self, by: &Similarity) -> Shaft {
        let factor = by.factor();
        let course = self.course.moved(by);
        let n = course.points().len();
        let make = |i: usize| scaled(self.make_at(i as f64 * COURSE_STEP_PX / factor), factor as f32);
        Shaft {
            makes: (0..n).map(make).collect(),
            from_px: self.from_px * factor,
            to_px: (self.to_px * factor).min(course.length_px()),
            blur_px: self.blur_px.map(|px| px * factor),
            course,
            ..self.clone()
        }
    }
}

fn scaled(make: &Make, factor: f32) -> Make {
    let both = |px: [f32; 2]| px.map(|px| px * factor);
    Make {
        edge_px: both(make.edge_px),
        outer_px: both(make.outer_px),
        shell_px: both(make.shell_px),
        counted_px: both(make.counted_px),
        air_px: both(make.air_px),
        ..*make
    }
}

#[cfg(test)]
mod tests {
    use crate::maths::point::Vec2;
    use crate::sim::{Ranges, Scene, photo, shaft_truths};

    #[test]
    fn what_is_true_moves_with_the_slide() {
        let scene = Scene::draw(11, &Ranges::named("training-clear").unwrap());
        let by = scene.hand_move(0.03, 1.02, Vec2::new(4.0, -7.0));
        let moved = scene.moved(&by);
        for shaft in &scene.shafts {
            let i = scene.shafts.iter().position(|s| s.texture == shaft.texture).unwrap();
            let s = 0.5 * (shaft.from_px + shaft.to_px);
            let there = moved.shafts[i].middle_at(s * by.factor());
            assert!(there.distance(by.of(shaft.middle_at(s))) < 0.05, "{there:?}");
            let (before, after) = (shaft.make_at(s), moved.shafts[i].make_at(s * by.factor()));
            assert!((after.counted_width_px() / before.counted_width_px() - by.factor()).abs() < 0.02);
        }
        assert_eq!(scene.shafts.len(), moved.shafts.len());
    }

    #[test]
    fn in_visible_light_shafts_are_dark_on_a_bright_ground_and_noise_is_another() {
        let scene = Scene::draw(11, &Ranges::named("training-clear").unwrap());
        let seen = photo(&scene.in_visible_light());
        let truth = &shaft_truths(&scene)[0];
        let at = truth.centreline_px[truth.centreline_px.len() / 2];
        let green = |x: f64, y: f64| seen.rgb[3 * (y.round() as usize * seen.width + x.round() as usize) + 1];
        let mut all: Vec<u8> = seen.rgb.iter().skip(1).step_by(3).copied().collect();
        all.sort_unstable();
        assert!(
            green(at.x, at.y) + 5 < all[all.len() / 2],
            "shaft {} ground {}",
            green(at.x, at.y),
            all[all.len() / 2]
        );
        assert_ne!(photo(&scene).rgb, photo(&scene.taken_again(1)).rgb);
    }
}
