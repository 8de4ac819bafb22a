//! What scenes are drawn from, and the sets that must stay apart: for training, for tuning, for appraisal.
//!
//! Sets differ by salt (equal seeds give unlike scenes), by camera families, by hue turns, by the peak of the fungal
//! band and by scale, so that what is appraised was neither trained on nor tuned on.

/// What a scene is drawn from. Pairs are least and most.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranges {
    /// Name, as in truth files.
    pub name: String,
    /// Mixed into every draw, so that equal seeds of two sets give unlike scenes.
    pub salt: u64,
    /// Numbers of the camera families in `FAMILIES`.
    pub families: Vec<usize>,
    /// Columns of the photo.
    pub photo_width_px: (usize, usize),
    /// Height over width.
    pub aspects: Vec<f64>,
    /// Intervals of micrometres per pixel.
    pub um_per_px: Vec<(f64, f64)>,
    /// Number of shafts (as many as fit are placed).
    pub n_shafts: (usize, usize),
    /// Least contrast of a shaft in standard deviations of one pixel's noise; dimmer ones are taken off the slide.
    pub least_contrast: f64,
    /// How shafts may lie to each other.
    pub crossings: Crossings,
    /// Weights of the kinds of slide: healthy, infected, coated, mixed.
    pub slides: [f64; 4],
    /// Intervals of the peak of the fungal band, nm.
    pub infected_peak_nm: Vec<(f64, f64)>,
    /// Intervals of the turn of all hues, degrees.
    pub hue_turn_deg: Vec<(f64, f64)>,
    /// Spread of white-balance gains around right: least and most factor on red and blue.
    pub white_balance: (f64, f64),
    /// Light that the brightest shafts reach, 1 = clipping.
    pub exposure: (f64, f64),
    /// Electrons at clipping.
    pub full_electrons: (f64, f64),
    /// Sigma of the blur at shafts, pixels.
    pub blur_px: (f64, f64),
    /// How unlike the blur of one photo's shafts is: standard deviation of its logarithm.
    pub blur_spread: f64,
    /// Share of shafts that run through focus.
    pub tilted_share: f64,
    /// Share of shafts with air trapped beside them along a stretch.
    pub trapped_air_share: f64,
    /// Glow of the tape, relative to an unpigmented hair.
    pub haze: (f64, f64),
    /// Share of photos through an eyepiece, with its disc.
    pub disc_share: f64,
    /// How much debris: factor on the usual number of pieces.
    pub debris: (f64, f64),
    /// Whether long and thin things that are neither hair nor fibre lie among the shafts.
    pub strays: bool,
    /// Share of photos with a burnt-in scale bar.
    pub scale_bar_share: f64,
    /// Whether the camera renders plainly: sRGB curve, no sharpening, no smoothing, little veil. For appraising widths.
    pub plain_camera: bool,
    /// Share of shafts with both ends in view, and with one end in view; the others run through.
    pub ends_in_view: (f64, f64),
    /// Quality of JPEG files.
    pub jpeg_quality: (usize, usize),
    /// Share of PNG files.
    pub png_share: f64,
}

/// How shafts may lie to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Crossings {
    /// They keep apart.
    None,
    /// They lie as they fall: some cross.
    Some,
    /// Nearly every shaft crosses another.
    Many,
}

/// Conditions that are reported apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Condition {
    /// Shafts keep apart, well exposed, focus fair.
    Clear,
    /// Shafts cross.
    Crossings,
    /// Underexposed, noisy.
    Dim,
    /// Tape and debris, no shaft.
    Empty,
    /// Many shafts, many crossings.
    Crowded,
    /// Clear, plainly rendered, for the width alone.
    Width,
    /// Clear, twelve megapixels.
    Large,
    /// A few shafts, none in some photos, among things that are neither hair nor fibre.
    Strays,
}

impl Condition {
    /// All conditions.
    pub const ALL: [Condition; 8] = [
        Condition::Clear,
        Condition::Crossings,
        Condition::Dim,
        Condition::Empty,
        Condition::Crowded,
        Condition::Width,
        Condition::Large,
        Condition::Strays,
    ];

    /// Name in the names of ranges.
    pub fn code(self) -> &'static str {
        match self {
            Condition::Clear => "clear",
            Condition::Crossings => "crossings",
            Condition::Dim => "dim",
            Condition::Empty => "empty",
            Condition::Crowded => "crowded",
            Condition::Width => "width",
            Condition::Large => "large",
            Condition::Strays => "strays",
        }
    }
}

impl Ranges {
    /// For growing the trees: six camera families, hue turns within 8°, four bands of scale, every condition mixed.
    pub fn training() -> Ranges {
        Ranges {
            name: "training".into(),
            salt: 1,
            families: vec![0, 1, 2, 3, 4, 5],
            photo_width_px: (1200, 2000),
            aspects: vec![0.75, 0.75, 2.0 / 3.0, 0.5625, 1.0],
            um_per_px: vec![(0.35, 0.55), (0.65, 1.0), (1.2, 1.8), (2.1, 3.2)],
            n_shafts: (1, 14),
            least_contrast: 1.5,
            crossings: Crossings::Some,
            slides: [0.25, 0.35, 0.22, 0.18],
            // Facts §7: N(497, 8) with tails to 485-525; uniform over one and a half sd so that tails are seen as often.
            infected_peak_nm: vec![(487.0, 509.0)],
            hue_turn_deg: vec![(-8.0, 8.0)],
            white_balance: (0.7, 1.5),
            exposure: (0.12, 1.4),
            full_electrons: (1200.0, 20000.0),
            blur_px: (0.6, 4.0),
            blur_spread: 0.25,
            tilted_share: 0.3,
            trapped_air_share: 0.12,
            haze: (0.015, 0.16),
            disc_share: 0.3,
            debris: (0.3, 2.0),
            strays: false,
            scale_bar_share: 0.12,
            plain_camera: false,
            ends_in_view: (0.35, 0.35),
            jpeg_quality: (70, 97),
            png_share: 0.1,
        }
    }

    /// For choosing settings and calibrating: two families of its own, hue turns between training's and appraisal's.
    pub fn tuning() -> Ranges {
        Ranges {
            name: "tuning".into(),
            salt: 2,
            families: vec![6, 7],
            um_per_px: vec![(0.5, 0.65), (1.0, 1.2), (1.8, 2.1)],
            infected_peak_nm: vec![(485.0, 512.0)],
            hue_turn_deg: vec![(-12.0, -5.0), (5.0, 12.0)],
            ..Ranges::training()
        }
    }

    /// For reporting: three families of its own, hue turns and fungal peaks outside training's, other scales.
    pub fn appraisal() -> Ranges {
        Ranges {
            name: "appraisal".into(),
            salt: 3,
            families: vec![8, 9, 10],
            photo_width_px: (1300, 2400),
            um_per_px: vec![(0.3, 0.35), (0.55, 0.65), (1.0, 1.2), (1.8, 2.1), (3.2, 4.5)],
            infected_peak_nm: vec![(485.0, 487.0), (509.0, 520.0)],
            hue_turn_deg: vec![(-16.0, -9.0), (9.0, 16.0)],
            white_balance: (0.6, 1.8),
            ..Ranges::training()
        }
    }

    /// For people who learn to see, by difficulty 1 (plain), 2 (as photos are) or 3 (dim, blurred, crossing); other
    /// numbers count as the nearest. Salts of their own keep these scenes apart from those of training, tuning and
    /// appraisal: what a person practises on was never seen by the model, and never counts in its figures.
    pub fn practice(difficulty: u8) -> Ranges {
        let plain = Ranges {
            name: "practice-1".into(),
            salt: 1001,
            photo_width_px: (1120, 1280),
            aspects: vec![0.625],
            um_per_px: vec![(0.7, 1.6)],
            n_shafts: (1, 3),
            least_contrast: 4.0,
            crossings: Crossings::None,
            slides: [0.2, 0.34, 0.22, 0.24],
            hue_turn_deg: vec![(-4.0, 4.0)],
            white_balance: (0.9, 1.1),
            exposure: (0.45, 0.85),
            full_electrons: (8000.0, 20000.0),
            blur_px: (0.6, 1.4),
            tilted_share: 0.1,
            trapped_air_share: 0.05,
            haze: (0.015, 0.06),
            disc_share: 0.0,
            debris: (0.2, 0.8),
            scale_bar_share: 0.0,
            ends_in_view: (0.7, 0.3),
            jpeg_quality: (90, 96),
            png_share: 0.0,
            ..Ranges::training()
        };
        match difficulty {
            0 | 1 => plain,
            2 => Ranges {
                name: "practice-2".into(),
                salt: 1002,
                n_shafts: (2, 5),
                crossings: Crossings::Some,
                exposure: (0.25, 0.95),
                full_electrons: (4000.0, 20000.0),
                blur_px: (0.6, 2.5),
                least_contrast: 3.0,
                haze: (0.015, 0.1),
                trapped_air_share: 0.1,
                debris: (0.3, 1.5),
                hue_turn_deg: vec![(-8.0, 8.0)],
                white_balance: (0.75, 1.35),
                ends_in_view: (0.5, 0.35),
                ..plain
            },
            _ => Ranges {
                name: "practice-3".into(),
                salt: 1003,
                n_shafts: (3, 7),
                crossings: Crossings::Some,
                exposure: (0.1, 1.3),
                full_electrons: (1500.0, 12000.0),
                blur_px: (0.8, 4.0),
                least_contrast: 2.0,
                tilted_share: 0.3,
                trapped_air_share: 0.2,
                haze: (0.03, 0.16),
                disc_share: 0.3,
                debris: (0.5, 2.0),
                hue_turn_deg: vec![(-10.0, 10.0)],
                white_balance: (0.7, 1.5),
                ends_in_view: (0.4, 0.35),
                jpeg_quality: (75, 94),
                ..plain
            },
        }
    }

    /// The same cameras, hues and scales under one condition.
    pub fn under(mut self, condition: Condition) -> Ranges {
        self.name = format!("{}-{}", self.name, condition.code());
        self.salt = self.salt * 16 + 1 + condition as u64;
        match condition {
            Condition::Clear => {
                self.crossings = Crossings::None;
                self.n_shafts = (1, 10);
                self.least_contrast = 3.0;
                self.exposure = (0.25, 0.95);
                self.full_electrons = (3000.0, 20000.0);
                self.blur_px = (0.6, 3.0);
            }
            Condition::Crossings => {
                self.crossings = Crossings::Many;
                self.n_shafts = (3, 12);
                self.least_contrast = 3.0;
                self.exposure = (0.25, 0.95);
                self.full_electrons = (3000.0, 20000.0);
                self.blur_px = (0.6, 3.0);
            }
            Condition::Dim => {
                self.n_shafts = (1, 10);
                self.exposure = (0.04, 0.12);
                self.least_contrast = 1.0;
                self.full_electrons = (1200.0, 6000.0);
            }
            Condition::Empty => {
                self.n_shafts = (0, 0);
                self.debris = (0.3, 3.0);
            }
            Condition::Crowded => {
                self.crossings = Crossings::Many;
                self.n_shafts = (20, 60);
                self.um_per_px = vec![(1.2, 3.0)];
            }
            Condition::Width => {
                self.crossings = Crossings::None;
                self.n_shafts = (2, 8);
                self.least_contrast = 5.0;
                self.exposure = (0.3, 0.9);
                self.full_electrons = (4000.0, 20000.0);
                self.blur_px = (0.5, 4.0);
                self.plain_camera = true;
                self.trapped_air_share = 0.0;
                self.debris = (0.0, 0.5);
                self.jpeg_quality = (92, 97);
                self.png_share = 0.5;
            }
            Condition::Large => {
                self.crossings = Crossings::None;
                self.n_shafts = (4, 12);
                self.photo_width_px = (4000, 4000);
                self.aspects = vec![0.75];
                self.exposure = (0.25, 0.95);
                self.png_share = 0.0;
            }
            Condition::Strays => {
                self.n_shafts = (0, 4);
                self.strays = true;
            }
        }
        self
    }

    /// Ranges by name: `training`, `tuning` or `appraisal`, alone or followed by `-` and a condition.
    pub fn named(name: &str) -> Option<Ranges> {
        let (set, condition) = name.split_once('-').map_or((name, None), |(set, rest)| (set, Some(rest)));
        let ranges = match set {
            "training" => Ranges::training(),
            "tuning" => Ranges::tuning(),
            "appraisal" => Ranges::appraisal(),
            _ => return None,
        };
        match condition {
            None => Some(ranges),
            Some(code) => Condition::ALL.into_iter().find(|c| c.code() == code).map(|c| ranges.under(c)),
        }
    }

    /// All names that [`Ranges::named`] knows.
    pub fn names() -> Vec<String> {
        let mut names = Vec::new();
        for set in ["training", "tuning", "appraisal"] {
            names.push(set.to_string());
            names.extend(Condition::ALL.iter().map(|c| format!("{set}-{}", c.code())));
        }
        names
    }
}

#[cfg(test)]
mod tests {
    use super::Ranges;

    fn apart(a: &[(f64, f64)], b: &[(f64, f64)]) -> bool {
        a.iter().all(|x| b.iter().all(|y| x.1 <= y.0 || y.1 <= x.0))
    }

    #[test]
    fn appraisal_lies_outside_training() {
        let (training, tuning, appraisal) = (Ranges::training(), Ranges::tuning(), Ranges::appraisal());
        assert!(appraisal.families.iter().all(|f| !training.families.contains(f) && !tuning.families.contains(f)));
        assert!(tuning.families.iter().all(|f| !training.families.contains(f)));
        assert!(apart(&training.um_per_px, &appraisal.um_per_px), "scales overlap");
        assert!(apart(&training.hue_turn_deg, &appraisal.hue_turn_deg), "hue turns overlap");
        assert!(apart(&training.infected_peak_nm, &appraisal.infected_peak_nm), "fungal peaks overlap");
    }

    #[test]
    fn every_name_is_known_and_every_salt_its_own() {
        let mut all: Vec<Ranges> = Ranges::names().iter().map(|n| Ranges::named(n).unwrap()).collect();
        all.extend([1, 2, 3].map(Ranges::practice));
        for (i, a) in all.iter().enumerate() {
            assert!(all[i + 1..].iter().all(|b| a.salt != b.salt), "{} shares its salt", a.name);
        }
        assert!(Ranges::named("training-foggy").is_none());
    }
}
