//! One smooth shaft of even width on an even ground: the scenes that widths and centrelines are appraised on first.

use crate::maths::point::Point;

use super::apparatus::{Camera, Light, Mosaic, Optics, Tone};
use super::course::Course;
use super::family::FAMILIES;
use super::make::Make;
use super::scene::{Build, Coat, End, Look, Scene, Shaft, Surface, Zone};
use super::spectra;

/// What gives a phantom's light.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Emitter {
    /// The whole cross-section: light as the chord.
    Volume,
    /// A film only, a tenth of the diameter thick, on a dark core: two bright edges.
    Shell,
    /// None: the shaft takes away the light of a bright ground behind it.
    Absorber,
    /// The whole cross-section with strong pigment: a flat top.
    Pigmented,
}

/// A phantom: a shaft through the middle of a square photo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Phantom {
    /// Side of the photo, pixels.
    pub side_px: usize,
    /// Outer diameter, pixels.
    pub width_px: f64,
    /// Direction, radians from +x towards +y.
    pub angle: f64,
    /// Curvature, 1/pixel; 0 for a straight shaft.
    pub curvature: f64,
    /// Shift of its middle off the photo's middle, pixels.
    pub shift_px: [f64; 2],
    /// What gives its light.
    pub emitter: Emitter,
    /// Sigma of the blur, pixels; 0 for none.
    pub blur_px: f64,
    /// Light half way between axis and edge, 1 = clipping; for absorbers the ground's light is 1 / 0.3 of this.
    pub exposure: f64,
    /// Electrons at clipping: fewer give more noise; `f64::INFINITY` gives none.
    pub full_electrons: f64,
    /// Seed of the noise.
    pub seed: u64,
}

impl Phantom {
    /// A volume emitter along x, without blur or noise to speak of.
    pub fn new(side_px: usize, width_px: f64) -> Phantom {
        Phantom {
            side_px,
            width_px,
            angle: 0.0,
            curvature: 0.0,
            shift_px: [0.0; 2],
            emitter: Emitter::Volume,
            blur_px: 0.0,
            exposure: 0.6,
            full_electrons: f64::INFINITY,
            seed: 0,
        }
    }

    /// The phantom as a scene. Its colours are grey; the camera is plain: sRGB curve, no mosaic, no sharpening.
    pub fn scene(&self) -> Scene {
        let middle = 0.5 * (self.side_px as f64 - 1.0);
        let anchor = Point::new(middle + self.shift_px[0], middle + self.shift_px[1]);
        let run = self.side_px as f64 + 2.0 * self.width_px;
        let course = Course::grown(anchor, self.angle, run, run, |_| self.curvature);
        let radius = (0.5 * self.width_px) as f32;
        // At one micrometre a pixel the emission is scaled so that every width has the same light on its axis.
        let full = (super::REFERENCE_PATH_UM / (2.0 * radius)).max(1e-6);
        let make = match self.emitter {
            Emitter::Volume => Make { own: full, ..Make::bare(radius) },
            Emitter::Shell => {
                let core = radius * 0.8;
                Make {
                    outer_px: [radius; 2],
                    shell_px: [radius; 2],
                    counted_px: [radius; 2],
                    shell: full * 5.0,
                    ..Make::bare(core)
                }
            }
            Emitter::Absorber => Make { pigment_per_um: 1.5 / radius, ..Make::bare(radius) },
            Emitter::Pigmented => Make { own: full * 3.0, pigment_per_um: 1.5 / radius, ..Make::bare(radius) },
        };
        let dark_ground = self.emitter != Emitter::Absorber;
        let grey = even_light();
        let response = FAMILIES[FAMILY].response(&grey);
        let shaft = Shaft {
            look: Look::Normal,
            build: Build::Guard,
            kind: "phantom",
            comparison: false,
            zone: Zone::None,
            from_px: 0.0,
            to_px: course.length_px(),
            base_end: End::Cut { slope: 0.0 },
            tip_end: End::Cut { slope: 0.0 },
            makes: vec![make; course.points().len()],
            course,
            own_spectrum: grey.clone(),
            extra_spectrum: grey.clone(),
            loss_tint: [1.0; 3],
            surface: Surface::SMOOTH,
            blur_px: [self.blur_px; 2],
            texture: 1,
        };
        Scene {
            seed: self.seed,
            set: "phantom".into(),
            salt: 99,
            width_px: self.side_px,
            height_px: self.side_px,
            um_per_px: 1.0,
            comparison_slide: false,
            coat: Coat::White,
            shafts: vec![shaft],
            debris: Vec::new(),
            strays: Vec::new(),
            scale_bar: None,
            light: Light {
                haze: if dark_ground { 0.05 } else { 1.0 },
                haze_above: 0.0,
                haze_spectrum: grey.clone(),
                leak_spectrum: grey,
                leak: 0.0,
                slope: [0.0; 2],
                hot_spot: None,
                unevenness: 0.0,
                veil: 0.0,
                texture: 1,
            },
            optics: Optics { aperture: 0.25, lens_blur_px: self.blur_px, disc: None, vignetting: 0.0 },
            camera: Camera {
                family: FAMILY,
                exposure: self.exposure,
                full_electrons: self.full_electrons,
                read_electrons: 2.0,
                black: 0.0,
                mosaic: Mosaic::None,
                white_balance: response.map(|v| response[1] / v),
                matrix_share: 1.0,
                hue_turn: 0.0,
                saturation: 1.0,
                denoise_px: 0.0,
                tone: Tone::Srgb,
                sharpen: (1.0, 0.0),
                halved_colour: false,
                jpeg_quality: None,
            },
        }
    }
}

/// The camera family of phantoms.
const FAMILY: usize = 0;

/// Light that is even over all wavelengths.
fn even_light() -> spectra::Spectrum {
    spectra::Spectrum::of(&[(550.0, 4000.0, 1.0)])
}

#[cfg(test)]
mod tests {
    use super::{Emitter, FAMILY, Phantom, even_light};
    use crate::sim::family::FAMILIES;
    use crate::sim::{Scene, channels, photo, shaft_truths};

    /// Green channel value of a unit of even light.
    fn unit() -> f64 {
        FAMILIES[FAMILY].response(&even_light())[1]
    }

    /// Area of a circle of radius `r` between its diameter and a chord at distance `x`, counted from −r (closed form).
    fn area_below(x: f64, r: f64) -> f64 {
        let x = x.clamp(-r, r);
        x * (r * r - x * x).sqrt() + r * r * (x / r).asin() + 0.5 * std::f64::consts::PI * r * r
    }

    fn green_column(scene: &Scene, x: usize) -> Vec<f64> {
        let light = channels(scene);
        (0..scene.height_px).map(|y| light[y * scene.width_px + x][1] as f64 / unit()).collect()
    }

    /// Light of the ground far from the shaft, and what the shaft adds.
    fn added(scene: &Scene, x: usize) -> Vec<f64> {
        let column = green_column(scene, x);
        // The ground under the shaft is dimmed by the shaft itself; phantoms for shapes have none.
        column.iter().map(|v| v - column[0]).collect()
    }

    fn without_ground(phantom: Phantom) -> Scene {
        let mut scene = phantom.scene();
        scene.light.haze = 0.0;
        scene
    }

    #[test]
    fn a_straight_cylinder_has_the_chord_profile() {
        for (width, shift) in [(5.0, 0.0), (6.3, 0.37), (17.0, 0.2), (41.7, 0.81), (140.0, 0.5)] {
            let phantom = Phantom { shift_px: [0.0, shift], ..Phantom::new(301, width) };
            let scene = without_ground(phantom);
            let seen = added(&scene, 150);
            let r = 0.5 * width;
            let middle = 150.0 + shift;
            for (y, value) in seen.iter().enumerate() {
                // Mean of the chord over the pixel, as a share of the diameter.
                let expected =
                    (area_below(y as f64 + 0.5 - middle, r) - area_below(y as f64 - 0.5 - middle, r)) / width;
                // Wide shafts are sampled once a pixel: at their steep edge the pixel mean differs most.
                let tolerance = if (y as f64 - middle).abs() < r - 1.5 { 0.002 } else { 0.02 };
                assert!((value - expected).abs() < tolerance, "width {width}, row {y}: {value} for {expected}");
            }
            let area: f64 = seen.iter().sum();
            let expected = std::f64::consts::PI * r * r / width;
            assert!((area / expected - 1.0).abs() < 0.002, "width {width}: area {area} for {expected}");
        }
    }

    #[test]
    fn light_is_kept_for_slanted_and_curved_shafts_and_under_blur() {
        for (angle, curvature, blur) in
            [(0.0, 0.0, 0.7), (0.6, 0.0, 0.0), (1.2, 0.0, 2.5), (0.3, 1.0 / 300.0, 0.0), (2.0, 1.0 / 150.0, 1.6)]
        {
            let width = 22.0;
            let phantom = Phantom { angle, curvature, blur_px: blur, ..Phantom::new(300, width) };
            let mut scene = without_ground(phantom);
            // A piece that ends inside the photo, so that all its light is there.
            let shaft = &mut scene.shafts[0];
            let middle = 0.5 * (shaft.from_px + shaft.to_px);
            (shaft.from_px, shaft.to_px) = (middle - 60.0, middle + 60.0);
            let sum: f64 = channels(&scene).iter().map(|p| p[1] as f64 / unit()).sum();
            let expected = 120.0 * std::f64::consts::PI * 0.25 * width;
            assert!((sum / expected - 1.0).abs() < 0.002, "angle {angle}, blur {blur}: {sum} for {expected}");
        }
    }

    #[test]
    fn blur_adds_its_variance_to_the_profile() {
        for blur in [0.5, 0.8, 1.0, 2.0, 4.0] {
            let width = 20.0;
            let scene = without_ground(Phantom { blur_px: blur, ..Phantom::new(201, width) });
            let seen = added(&scene, 100);
            let sum: f64 = seen.iter().sum();
            let second: f64 =
                seen.iter().enumerate().map(|(y, v)| v * (y as f64 - 100.0) * (y as f64 - 100.0)).sum::<f64>() / sum;
            // A half circle of light has variance r²/4, a pixel 1/12 (closed forms).
            let expected = 0.25 * 0.25 * width * width + blur * blur + 1.0 / 12.0;
            assert!((second / expected - 1.0).abs() < 0.003, "blur {blur}: variance {second} for {expected}");
        }
    }

    #[test]
    fn a_shell_is_bright_at_its_edges_and_an_absorber_darkens_the_ground() {
        let shell = added(&without_ground(Phantom { emitter: Emitter::Shell, ..Phantom::new(201, 60.0) }), 100);
        assert!(shell[100 - 24] > 1.8 * shell[100], "a shell's edge outshines its middle");
        let scene = Phantom { emitter: Emitter::Absorber, ..Phantom::new(201, 60.0) }.scene();
        let dark = green_column(&scene, 100);
        assert!(dark[100] < 0.15 * dark[5], "pigment over a whole diameter passes exp(−3)");
        assert!((dark[100 - 32] / dark[5] - 1.0).abs() < 1e-6, "no loss outside the outline");
    }

    #[test]
    fn truth_says_the_width_and_place_that_were_drawn() {
        let phantom = Phantom { angle: 0.4, shift_px: [3.3, -2.1], ..Phantom::new(240, 18.5) };
        let truths = shaft_truths(&phantom.scene());
        assert!((truths[0].median_width_px - 18.5).abs() < 1e-5, "width {}", truths[0].median_width_px);
        let anchor = crate::maths::point::Point::new(119.5 + 3.3, 119.5 - 2.1);
        let nearest = truths[0].centreline_px.iter().map(|p| p.distance(anchor)).fold(f64::INFINITY, f64::min);
        assert!(nearest < 0.51, "the centreline misses its anchor by {nearest}");
    }

    #[test]
    fn noise_has_the_variance_of_the_electrons() {
        let phantom = Phantom { full_electrons: 2000.0, seed: 5, ..Phantom::new(256, 400.0) };
        let mut scene = phantom.scene();
        scene.shafts.clear();
        scene.light.haze = 0.35;
        scene.camera.exposure = 0.6;
        let picture = photo(&scene);
        // The exposure refers to a light of 0.7 on a slide without shafts: the ground lies at 0.35 / 0.7 of 0.6.
        let ground = 0.3 * unit();
        let linear = |v: u8| {
            let v = v as f64 / 255.0;
            if v <= 0.04045 { v / 12.92 } else { ((v + 0.055) / 1.055).powf(2.4) }
        };
        // Grey light: the matrix to sRGB mixes the channels' noise, so the variance is checked on the mean of rows.
        let n = picture.rgb.len() / 3;
        let mean = picture.rgb.chunks(3).map(|p| linear(p[1])).sum::<f64>() / n as f64;
        assert!((mean / ground - 1.0).abs() < 0.005, "mean {mean} for {ground}");
        let (matrix, balance) = (FAMILIES[FAMILY].to_srgb()[1], scene.camera.white_balance);
        let variance = picture.rgb.chunks(3).map(|p| (linear(p[1]) - mean).powi(2)).sum::<f64>() / n as f64;
        // Each channel has its own light, so that balancing makes it grey: ground / balance.
        let expected: f64 = (0..3)
            .map(|c| (matrix[c] * balance[c]).powi(2) * (ground / balance[c] * 2000.0 + 4.0) / (2000.0 * 2000.0))
            .sum();
        assert!((variance / expected - 1.0).abs() < 0.06, "variance {variance} for {expected}");
    }
}
