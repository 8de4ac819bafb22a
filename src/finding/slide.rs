//! What the shafts of a slide add up to, over all its photos: one code, one text, by the table of steps below.
//!
//! The steps, the first that fits counts (docs/method-finding.md has the same table for readers):
//!
//! | step | when | code |
//! |---|---|---|
//! | 1 | no photo is usable | `not-usable` |
//! | 2 | no shaft was found | `no-shaft` |
//! | 3 | at least 3 shafts, and at least a fifth of the hairs judged, look infected other than at the tip only | `looks-infected-many` |
//! | 4 | at least 2 do, or 1 of fewer than 10 hairs judged | `looks-infected-few` |
//! | 5 | 1 does | `doubtful` |
//! | 6 | a hair fluoresces towards its tip only | `tip-only` |
//! | 7 | no shaft could be judged, or fewer than could not, or one that could not leans to infected | `doubtful` |
//! | 8 | a shaft looks coated | `coated-only` |
//! | 9 | a shaft looks ordinary | `ordinary-only` |
//! | 10 | only fibres were found | `fibre-only` |

use super::advice::CULTURE;
use super::{Look, SlideFinding};

/// Shafts that must look infected before a finding speaks of many: two may be neighbours pulled from one follicle
/// group or one shaft traced twice, three seldom are.
const MANY: usize = 3;

/// Hairs judged for each infected one up to which a finding speaks of many.
const HAIRS_FOR_EACH_OF_MANY: usize = 5;

/// From this many hairs judged on, a single one that looks infected is doubtful: one shaft in a hundred is misjudged
/// by a good ensemble, so that among ten ordinary hairs one false call is met on every tenth slide.
const HAIRS_THAT_OUTWEIGH_ONE: usize = 10;

/// Where a shaft fluoresces, as far as the finding of a slide needs it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GlowPlace {
    /// Nowhere above an ordinary shaft's glow.
    Nowhere,
    /// From the base end on, or all along.
    BaseOrWhole,
    /// Towards the tip end only.
    TipOnly,
    /// In patches, or base and tip are not known.
    Elsewhere,
}

/// One shaft of a slide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlideShaft {
    /// The look; `None` when the program cannot say.
    pub look: Option<Look>,
    /// Whether it leans to infected though the program cannot say: see `abstention`.
    pub leans_infected: bool,
    /// Where it fluoresces.
    pub glow: GlowPlace,
    /// Whether it serves as a comparison shaft.
    pub comparison: bool,
}

/// What a slide adds up to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SlideCode {
    /// Several shafts look infected.
    LooksInfectedMany,
    /// One or two shafts look infected, or few among many.
    LooksInfectedFew,
    /// The program cannot say.
    Doubtful,
    /// Shafts fluoresce towards the tip only.
    TipOnly,
    /// No shaft looks infected, some look coated.
    CoatedOnly,
    /// All shafts judged look ordinary.
    OrdinaryOnly,
    /// Only fibres, no hair.
    FibreOnly,
    /// No shaft at all.
    NoShaft,
    /// The photos cannot be judged.
    NotUsable,
}

impl SlideCode {
    /// All codes.
    pub const ALL: [SlideCode; 9] = [
        SlideCode::LooksInfectedMany,
        SlideCode::LooksInfectedFew,
        SlideCode::Doubtful,
        SlideCode::TipOnly,
        SlideCode::CoatedOnly,
        SlideCode::OrdinaryOnly,
        SlideCode::FibreOnly,
        SlideCode::NoShaft,
        SlideCode::NotUsable,
    ];

    /// Stable name for files and programs.
    pub fn code(self) -> &'static str {
        match self {
            SlideCode::LooksInfectedMany => "looks-infected-many",
            SlideCode::LooksInfectedFew => "looks-infected-few",
            SlideCode::Doubtful => "doubtful",
            SlideCode::TipOnly => "tip-only",
            SlideCode::CoatedOnly => "coated-only",
            SlideCode::OrdinaryOnly => "ordinary-only",
            SlideCode::FibreOnly => "fibre-only",
            SlideCode::NoShaft => "no-shaft",
            SlideCode::NotUsable => "not-usable",
        }
    }
}

/// The numbers that the steps ask for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Tally {
    by_look: [usize; Look::COUNT],
    undetermined: usize,
    /// Of those, leaning to infected.
    leaning: usize,
    /// Look infected, other than at the tip only.
    infected: usize,
    /// Of those, fluorescing from the base on or all along.
    from_base: usize,
    /// Hairs that fluoresce towards the tip only.
    tip_only: usize,
    comparison: usize,
    comparison_ordinary: usize,
}

impl Tally {
    fn of(shafts: &[SlideShaft]) -> Tally {
        let mut tally = Tally::default();
        for shaft in shafts {
            match shaft.look {
                Some(look) => tally.by_look[look as usize] += 1,
                None => tally.undetermined += 1,
            }
            tally.leaning += usize::from(shaft.leans_infected);
            let may_be_bare_hair = !matches!(shaft.look, Some(Look::Coated | Look::Fibre));
            if may_be_bare_hair && shaft.glow == GlowPlace::TipOnly {
                tally.tip_only += 1;
            } else if shaft.look == Some(Look::Infected) {
                tally.infected += 1;
                tally.from_base += usize::from(shaft.glow == GlowPlace::BaseOrWhole);
            }
            tally.comparison += usize::from(shaft.comparison);
            tally.comparison_ordinary += usize::from(shaft.comparison && shaft.look == Some(Look::Normal));
        }
        tally
    }

    fn judged(&self) -> usize {
        self.by_look.iter().sum()
    }

    fn hairs_judged(&self) -> usize {
        self.judged() - self.by_look[Look::Fibre as usize]
    }

    /// Whether no shaft could be judged, or fewer than could not.
    fn most_are_unsaid(&self) -> bool {
        self.judged() == 0 || self.undetermined > self.judged()
    }

    fn code(&self, usable: bool) -> SlideCode {
        if !usable {
            SlideCode::NotUsable
        } else if self.judged() + self.undetermined == 0 {
            SlideCode::NoShaft
        } else if self.infected >= MANY && self.infected * HAIRS_FOR_EACH_OF_MANY >= self.hairs_judged() {
            SlideCode::LooksInfectedMany
        } else if self.infected >= 2 || (self.infected == 1 && self.hairs_judged() < HAIRS_THAT_OUTWEIGH_ONE) {
            SlideCode::LooksInfectedFew
        } else if self.infected == 1 {
            SlideCode::Doubtful
        } else if self.tip_only > 0 {
            SlideCode::TipOnly
        } else if self.most_are_unsaid() || self.leaning > 0 {
            SlideCode::Doubtful
        } else if self.by_look[Look::Coated as usize] > 0 {
            SlideCode::CoatedOnly
        } else if self.by_look[Look::Normal as usize] > 0 {
            SlideCode::OrdinaryOnly
        } else {
            SlideCode::FibreOnly
        }
    }
}

/// The code of what `shafts` add up to; `usable` when at least one photo of the slide can be judged.
pub fn code(shafts: &[SlideShaft], usable: bool) -> SlideCode {
    Tally::of(shafts).code(usable)
}

/// What `shafts`, those of all usable photos of one slide, add up to.
pub fn finding(shafts: &[SlideShaft], usable: bool) -> SlideFinding {
    let tally = Tally::of(shafts);
    let code = tally.code(usable);
    let mut parts = vec![opening(code, &tally)];
    let shafts_were_judged = !matches!(code, SlideCode::NotUsable | SlideCode::NoShaft | SlideCode::FibreOnly);
    if shafts_were_judged {
        parts.push(comparison(&tally));
    }
    if !matches!(code, SlideCode::LooksInfectedMany | SlideCode::LooksInfectedFew | SlideCode::NotUsable) {
        parts.push("No fluorescence never excludes infection.".into());
    }
    parts.push(CULTURE.into());
    SlideFinding {
        code: code.code(),
        sentence: parts.join(" "),
        counts: tally.by_look,
        undetermined: tally.undetermined,
    }
}

fn opening(code: SlideCode, tally: &Tally) -> String {
    let hairs = tally.hairs_judged();
    let judged = format!("{hairs} {} judged", if hairs == 1 { "hair" } else { "hairs" });
    let infected = |tally: &Tally| {
        let looks = if tally.infected == 1 { "looks" } else { "look" };
        format!("{} of {judged} {looks} infected", tally.infected)
    };
    let where_seen = match (tally.from_base, tally.infected) {
        (0, _) => "where along the hair they fluoresce could not be told from base to tip".to_string(),
        (1, 1) => "it fluoresces from the base or all along".to_string(),
        (some, all) if some == all => "they fluoresce from the base or all along".to_string(),
        (some, _) => format!("{some} of them from the base or all along"),
    };
    match code {
        SlideCode::LooksInfectedMany => format!("{}; {where_seen}.", infected(tally)),
        SlideCode::LooksInfectedFew => {
            format!("{}; {where_seen}. So few are weak evidence.", infected(tally))
        }
        SlideCode::Doubtful if tally.infected == 1 => {
            format!("{}. A single one among so many may be a misjudged hair: the program cannot say.", infected(tally))
        }
        SlideCode::Doubtful => {
            let leaning = match tally.undetermined {
                _ if tally.most_are_unsaid() => "",
                1 => "; infected is its most probable look",
                _ => "; infected is the most probable look of at least one",
            };
            format!(
                "The program cannot say: {} of {} shafts could not be judged{leaning}.",
                tally.undetermined,
                tally.judged() + tally.undetermined
            )
        }
        SlideCode::TipOnly => format!(
            "{} {} towards the tip only. That is what is seen where a spot is growing out; it does not show that \
             the infection is over.",
            tally.tip_only,
            if tally.tip_only == 1 { "hair fluoresces" } else { "hairs fluoresce" }
        ),
        SlideCode::CoatedOnly => format!(
            "No shaft looks infected; {} of {judged} {} coated, and a coat can hide or imitate fluorescence.",
            tally.by_look[Look::Coated as usize],
            if tally.by_look[Look::Coated as usize] == 1 { "looks" } else { "look" }
        ),
        SlideCode::OrdinaryOnly if tally.undetermined > 0 => format!(
            "No shaft looks infected: {judged}, all ordinary in looks; {} more could not be judged.",
            tally.undetermined
        ),
        SlideCode::OrdinaryOnly => format!("No shaft looks infected: {judged}, all ordinary in looks."),
        SlideCode::FibreOnly => "Only fibres that are not hair were found.".into(),
        SlideCode::NoShaft => "No hair shaft was found.".into(),
        SlideCode::NotUsable => "The photo cannot be judged.".into(),
    }
}

fn comparison(tally: &Tally) -> String {
    match (tally.comparison, tally.comparison_ordinary) {
        (0, _) => "No comparison shaft was there to judge against.".into(),
        (1, 1) => "The comparison shaft looks ordinary.".into(),
        (2, 2) => "Both comparison shafts look ordinary.".into(),
        (all, ordinary) if all == ordinary => format!("All {all} comparison shafts look ordinary."),
        (1, 0) => "The comparison shaft does not look ordinary, which weakens the finding.".into(),
        (all, ordinary) => {
            format!("Only {ordinary} of {all} comparison shafts look ordinary, which weakens the finding.")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::advice::{CULTURE, advice};
    use super::{GlowPlace, Look, SlideCode, SlideShaft, code, finding};

    fn shafts(n: usize, look: Option<Look>, glow: GlowPlace) -> Vec<SlideShaft> {
        vec![SlideShaft { look, leans_infected: false, glow, comparison: false }; n]
    }

    fn infected(n: usize) -> Vec<SlideShaft> {
        shafts(n, Some(Look::Infected), GlowPlace::BaseOrWhole)
    }

    fn ordinary(n: usize) -> Vec<SlideShaft> {
        shafts(n, Some(Look::Normal), GlowPlace::Nowhere)
    }

    fn coated(n: usize) -> Vec<SlideShaft> {
        shafts(n, Some(Look::Coated), GlowPlace::TipOnly)
    }

    fn fibre(n: usize) -> Vec<SlideShaft> {
        shafts(n, Some(Look::Fibre), GlowPlace::TipOnly)
    }

    fn unsaid(n: usize) -> Vec<SlideShaft> {
        shafts(n, None, GlowPlace::Elsewhere)
    }

    fn leaning(n: usize) -> Vec<SlideShaft> {
        let leans = |shaft: SlideShaft| SlideShaft { leans_infected: true, ..shaft };
        unsaid(n).into_iter().map(leans).collect()
    }

    fn tips(n: usize, look: Option<Look>) -> Vec<SlideShaft> {
        shafts(n, look, GlowPlace::TipOnly)
    }

    #[test]
    fn every_row_of_the_table() {
        use SlideCode::*;
        let rows: Vec<(Vec<SlideShaft>, SlideCode, &str)> = vec![
            (vec![], NoShaft, "step 2"),
            ([infected(3), ordinary(12)].concat(), LooksInfectedMany, "step 3, a fifth"),
            ([infected(3), ordinary(12), fibre(30)].concat(), LooksInfectedMany, "step 3, fibres are no hairs judged"),
            ([infected(3), ordinary(13)].concat(), LooksInfectedFew, "step 4, fewer than a fifth"),
            ([infected(2), ordinary(30)].concat(), LooksInfectedFew, "step 4, two"),
            ([infected(1), ordinary(8)].concat(), LooksInfectedFew, "step 4, one of nine"),
            ([infected(1), ordinary(9)].concat(), Doubtful, "step 5, one of ten"),
            ([tips(1, Some(Look::Normal)), ordinary(9)].concat(), TipOnly, "step 6"),
            ([tips(4, Some(Look::Infected)), ordinary(2)].concat(), TipOnly, "step 6, whatever the look"),
            ([tips(1, None), ordinary(9)].concat(), TipOnly, "step 6, also where the look is not said"),
            ([tips(4, Some(Look::Infected)), infected(1)].concat(), LooksInfectedFew, "step 4 goes before step 6"),
            (unsaid(2), Doubtful, "step 7, nothing judged"),
            ([unsaid(6), ordinary(5)].concat(), Doubtful, "step 7, more unsaid than judged"),
            ([unsaid(5), ordinary(5)].concat(), OrdinaryOnly, "step 9, as many judged as not"),
            ([leaning(1), ordinary(9)].concat(), Doubtful, "step 7, one leans to infected"),
            ([leaning(1), tips(1, None), ordinary(9)].concat(), TipOnly, "step 6 goes before step 7"),
            ([leaning(2), infected(2), ordinary(9)].concat(), LooksInfectedFew, "step 4 goes before step 7"),
            ([coated(1), ordinary(9)].concat(), CoatedOnly, "step 8, a coat's glow at the tip is the coat's"),
            ([ordinary(1), fibre(4)].concat(), OrdinaryOnly, "step 9"),
            (fibre(2), FibreOnly, "step 10"),
        ];
        for (shafts, expected, row) in rows {
            assert_eq!(code(&shafts, true), expected, "{row}");
            assert_eq!(code(&shafts, false), NotUsable, "step 1 goes before {row}");
        }
    }

    #[test]
    fn the_text_counts_and_says_where() {
        let mut all = [infected(3), ordinary(4)].concat();
        all[0].glow = GlowPlace::Elsewhere;
        all[5].comparison = true;
        all[6].comparison = true;
        let got = finding(&all, true);
        assert_eq!(
            got.sentence,
            "3 of 7 hairs judged look infected; 2 of them from the base or all along. Both comparison shafts look \
             ordinary. Send hair for a fungal culture and let your vet decide."
        );
        assert_eq!((got.code, got.counts, got.undetermined), ("looks-infected-many", [3, 4, 0, 0], 0));
        assert!(finding(&ordinary(3), true).sentence.contains("No comparison shaft"));
        assert!(finding(&ordinary(3), true).sentence.contains("never excludes infection"));
    }

    #[test]
    fn a_shaft_that_leans_to_infected_is_told() {
        let said = |shafts: Vec<SlideShaft>, opening: &str| {
            let sentence = finding(&shafts, true).sentence;
            assert!(sentence.starts_with(&format!("The program cannot say: {opening}. ")), "{sentence}");
        };
        let one = [leaning(1), ordinary(8)].concat();
        said(one, "1 of 9 shafts could not be judged; infected is its most probable look");
        let one_of_two = [leaning(1), unsaid(1), ordinary(8)].concat();
        said(one_of_two, "2 of 10 shafts could not be judged; infected is the most probable look of at least one");
        said([leaning(3), ordinary(2)].concat(), "3 of 5 shafts could not be judged");
    }

    #[test]
    fn no_text_says_too_much_and_all_advise_a_culture() {
        let cases = [
            (infected(5), true),
            (infected(1), true),
            ([infected(1), ordinary(20)].concat(), true),
            (unsaid(2), true),
            ([leaning(1), ordinary(3)].concat(), true),
            ([leaning(2), ordinary(3)].concat(), true),
            (tips(1, Some(Look::Normal)), true),
            (tips(2, Some(Look::Normal)), true),
            (coated(2), true),
            (ordinary(1), true),
            ([ordinary(3), unsaid(1)].concat(), true),
            (fibre(1), true),
            (vec![], true),
            (vec![], false),
        ];
        let mut texts: Vec<String> = SlideCode::ALL.iter().map(|&code| advice(code)).collect();
        let mut met = Vec::new();
        for (mut shafts, usable) in cases {
            met.push(finding(&shafts, usable).code);
            texts.push(finding(&shafts, usable).sentence);
            if let Some(shaft) = shafts.first_mut() {
                shaft.comparison = true;
                texts.push(finding(&shafts, usable).sentence);
            }
        }
        assert!(SlideCode::ALL.iter().all(|code| met.contains(&code.code())), "every code has its text here");
        for text in texts {
            assert!(text.ends_with(CULTURE), "{text}");
            crate::judgement::judges_nobody("the finding", &text);
        }
    }
}
