//! The words of plates and practice in English.

use super::super::callouts::Part;
use super::super::plates::Group;
use super::{Phrase, PlateWords};

pub(super) const PLATES: &[(&str, PlateWords)] = &[
    (
        "guard",
        PlateWords {
            title: "Ordinary guard hair",
            look_for: &[
                "The thickest hair of the coat: 40 to 80 µm. The edge is even and sharp on both sides.",
                "In visible light a dark band runs along the middle: the medulla, filled with air. It takes more than a third of the width.",
                "Under the lamp the hair has a weak, even, bluish glow of its own, the same from base to tip.",
            ],
            mistaken: &[
                "Thick does not mean infected. Hold it against other guard hairs of the same cat, never against down hair.",
            ],
        },
    ),
    (
        "awn",
        PlateWords {
            title: "Ordinary awn hair",
            look_for: &[
                "Between guard and down: 25 to 40 µm. A little thicker before the tip, then a fine point.",
                "An unbroken medulla that looks like a ladder, and an even glow of its own.",
            ],
            mistaken: &[
                "The thicker part before the tip is no sheath: the edge stays smooth there, and nothing glows more than elsewhere.",
            ],
        },
    ),
    (
        "down",
        PlateWords {
            title: "Ordinary down hair",
            look_for: &[
                "The finest and most numerous hair: 10 to 20 µm, wavy, of the same width nearly everywhere.",
                "A medulla may be there or not; the books disagree.",
            ],
            mistaken: &[
                "Taken for a textile fibre. A fibre is cut at its ends and glows bright blue; down has a root and a fine tip.",
            ],
        },
    ),
    (
        "root-and-tip",
        PlateWords {
            title: "Root and tip: which end is which",
            look_for: &[
                "The root end is blunt or a little swollen. The pigment and the medulla stop before it.",
                "The tip thins out to a point over a long stretch, unless it was cut or broken.",
                "The free edges of the scales point to the tip.",
            ],
            mistaken: &[
                "A broken tip taken for a root: a break is ragged and as wide as the shaft; the medulla runs right up to it.",
            ],
        },
    ),
    (
        "white",
        PlateWords {
            title: "White hair",
            look_for: &[
                "White hair glows by itself, blue to bluish white, and evenly along the whole shaft.",
                "Edge and medulla are those of any ordinary hair.",
            ],
            mistaken: &[
                "Easily taken for infected, because it glows. Infected hair glows greener, is coated with spores and looks broken down; compare with other white hairs of the cat.",
            ],
        },
    ),
    (
        "yellowed",
        PlateWords {
            title: "Yellowed white hair",
            look_for: &[
                "The glow of old or yellowed white hair is nearer to green: part of it lies where the glow of ringworm lies.",
                "It is even, and the structure is whole.",
            ],
            mistaken: &[
                "Colour alone cannot tell it from an infected hair. Look at the edge, the medulla, and where the glow is.",
            ],
        },
    ),
    (
        "tabby",
        PlateWords {
            title: "Tabby hair",
            look_for: &[
                "Pale and dark bands along one hair: the pale bands glow more, the dark ones less.",
                "In visible light the same bands are pale and dark.",
            ],
            mistaken: &[
                "Taken for patchy infection. The bands of a tabby follow the pigment; the width does not change with them.",
            ],
        },
    ),
    (
        "black",
        PlateWords {
            title: "Black hair",
            look_for: &[
                "Pigment swallows the glow: under the lamp the hair is nearly dark.",
                "In visible light it is dark brown to black throughout, so that the medulla is hard to make out. Towards the root there is less pigment and more glow.",
            ],
            mistaken: &[
                "A dark hair beside glowing ones need not be infected. And a weak glow of infection is easily missed on black hair.",
            ],
        },
    ),
    (
        "infected-early",
        PlateWords {
            title: "Infected, first week: the glow is at the base",
            look_for: &[
                "The bulb and the lower shaft glow green or blue-green; the rest of the shaft has only a hair's own weak glow.",
                "Where it glows, the hair is wider: a grainy cuff of spores lies on it, and the edge is bumpy.",
                "Where the cuff is, the medulla is no longer seen.",
            ],
            mistaken: &[
                "A smear of ointment near the root. An ointment lies in a smooth film, often beside the hair as well, and the hair under it is whole.",
            ],
        },
    ),
    (
        "infected-whole",
        PlateWords {
            title: "Infected, from the second week: the whole shaft glows",
            look_for: &[
                "The whole shaft glows, brighter and greener than the ordinary hair beside it. How green differs: authors write apple green, blue-green, yellow-green.",
                "It is wider than the comparison hair of the same kind; the sheath may double the thickness.",
                "The surface is grainy and uneven; cuticle, cortex and medulla cannot be told apart any more.",
            ],
            mistaken: &[
                "Green carpet fibre and tetracycline can be as green. Fibre is smooth and evenly wide; under a medicine the hair's structure is whole.",
            ],
        },
    ),
    (
        "infected-patchy",
        PlateWords {
            title: "Infected in patches",
            look_for: &[
                "Stretches that glow and are wider, with bare stretches between them: clusters of spores before there is a whole sheath.",
                "Width and glow rise and fall together along the shaft.",
            ],
            mistaken: &[
                "Dander and food also lie in patches. They sit on an even shaft: look at its edge between and under the patches.",
                "The bands of a tabby: they follow the pigment, and the width does not change.",
            ],
        },
    ),
    (
        "infected-broken",
        PlateWords {
            title: "Infected and broken off short",
            look_for: &[
                "A short, thick, glowing piece with a ragged end: the weakened shaft broke.",
                "Of about the same thickness up to the break, often slightly curved.",
            ],
            mistaken: &[
                "Hair that the cat licked or scratched off: it breaks too, but the shaft is whole, the break is cleaner, and nothing glows.",
            ],
        },
    ),
    (
        "tip-only",
        PlateWords {
            title: "Only the tip glows: what is left after recovery",
            look_for: &[
                "The hair has grown on; its new base is ordinary, and the old tip still glows.",
                "No cuff; medulla and edge are whole.",
            ],
            mistaken: &[
                "It is neither simply infected nor nothing: it tells that there was an infection. Only cultures show whether it is over.",
            ],
        },
    ),
    (
        "soap",
        PlateWords {
            title: "Soap or shampoo film",
            look_for: &[
                "A thin bluish film, nearly even, brightest along the edges, on a hair with whole structure.",
                "Hairs beside it may have it as well; the lower one here is bare, to compare.",
            ],
            mistaken: &[
                "White hair, or an infection that glows all along. The film is smooth and bluish, and the medulla is seen through it.",
            ],
        },
    ),
    (
        "ointment",
        PlateWords {
            title: "Ointment",
            look_for: &[
                "A smooth film, thick in places, whitish to greenish.",
                "It spills: it lies beside the hair on the tape too.",
            ],
            mistaken: &[
                "The cuff of spores. A cuff is grainy and keeps to the hair; ointment is smooth and lies where it was smeared.",
            ],
        },
    ),
    (
        "tetracycline",
        PlateWords {
            title: "Tetracycline or doxycycline on fur",
            look_for: &[
                "Yellow-green, patchy or all along (here: all along), from a medicine that was spilled or licked onto the fur.",
                "The hair under it has its edge and its medulla.",
            ],
            mistaken: &[
                "Infected hair: it is close to it in colour. Ask what the cat was given, and look at the structure.",
            ],
        },
    ),
    (
        "food",
        PlateWords {
            title: "Dried food",
            look_for: &[
                "Clots of uneven size, yellowish or bluish, with bare hair between them.",
                "Crumbs of it lie on the tape as well.",
            ],
            mistaken: &["Patchy infection. The clots sit on top; the shaft between and under them is even."],
        },
    ),
    (
        "dander",
        PlateWords {
            title: "Dander and skin scale",
            look_for: &[
                "Flat bluish flakes that cling to the hair and lie about.",
                "They are of all sizes, with ragged outlines.",
            ],
            mistaken: &[
                "Dander glows, too, with or without an infection. The flakes themselves tell nothing; look at the shaft between them.",
            ],
        },
    ),
    (
        "lint",
        PlateWords {
            title: "Lint: a fibre of washed cloth",
            look_for: &[
                "Bright blue from the brightener in washing powder, evenly so.",
                "Of the same width everywhere; no scales, no medulla, ends cut straight.",
            ],
            mistaken: &["Down hair. A fibre has neither root nor tip."],
        },
    ),
    (
        "carpet",
        PlateWords {
            title: "Carpet fibre",
            look_for: &[
                "May be as apple-green as an infected hair, and as thick.",
                "Even and smooth; no scales, no medulla; cut ends.",
            ],
            mistaken: &[
                "Infected hair, by its colour. The edge of an infected hair is bumpy; this one's is smooth from end to end.",
            ],
        },
    ),
    (
        "cotton",
        PlateWords {
            title: "Cotton",
            look_for: &[
                "A flat ribbon that twists: it looks wide and narrow in turn, many times.",
                "Often blue from washing.",
            ],
            mistaken: &[
                "Patchy infection, because the width changes. In cotton it changes evenly, again and again, and there is no grain.",
            ],
        },
    ),
    (
        "bubbles",
        PlateWords {
            title: "Air bubbles under the tape",
            look_for: &[
                "Round, with a violet rim that is brighter on one side: the lamp is thrown back, nothing glows. A filter before the camera makes it weaker.",
                "Air along a thick hair draws a violet line beside its edge. The medulla holds air, too, and looks the same under such a lamp.",
            ],
            mistaken: &[
                "A sheath. Air does not glow green. Press the tape down again and look whether it moves or goes (common practice, no source).",
            ],
        },
    ),
    (
        "out-of-focus",
        PlateWords {
            title: "Out of focus",
            look_for: &[
                "The edges are soft on both sides, and to the eye every hair is wider than it is.",
                "No grain, no scale, no medulla can be seen, so the structure cannot be judged.",
            ],
            mistaken: &[
                "A thick sheath. This is an infected hair and an ordinary one as on the plates of infected hair; only the focus is off. Focus on the edges and take the photo again.",
            ],
        },
    ),
    (
        "clipped",
        PlateWords {
            title: "Too bright",
            look_for: &[
                "The middle of the hair is plain white or of one flat colour.",
                "Colour and structure are lost there; the hair looks wider.",
            ],
            mistaken: &["White hair or brightener. Take a shorter exposure until the hair has its colour."],
        },
    ),
];

pub(super) fn group(group: Group) -> &'static str {
    match group {
        Group::Ordinary => "Ordinary hair",
        Group::Coats => "Coat colours",
        Group::Infected => "Infected hair",
        Group::Recovering => "After recovery",
        Group::Residues => "Something on the hair",
        Group::Fibres => "Fibres: not hair",
        Group::Photos => "What a photo can do",
    }
}

pub(super) fn part(part: Part) -> &'static str {
    match part {
        Part::Root => "root",
        Part::Tip => "tip",
        Part::Break => "break",
        Part::Cut => "cut end",
        Part::Front => "edge of the glow",
        Part::Cuticle => "cuticle (edge)",
        Part::Cortex => "cortex",
        Part::Medulla => "medulla",
        Part::Cuff => "cuff of spores",
        Part::Coating => "coating",
        Part::Spill => "some of it on the tape",
        Part::SmoothEdge => "smooth edge",
        Part::Bubble => "bubble",
        Part::TrappedAir => "air beside the hair",
        Part::Flake => "flake",
        Part::Comparison => "ordinary hair, to compare",
    }
}

pub(super) fn phrase(phrase: Phrase) -> &'static str {
    match phrase {
        Phrase::Atlas => "Atlas of hair under the lamp",
        Phrase::Simulated => "simulated",
        Phrase::SimulatedLong => {
            "Every picture here is simulated: drawn by the program from what is known, not photographed. Real hair varies more."
        }
        Phrase::Culture => {
            "No picture tells whether an animal has ringworm. Send hair for a fungal culture and let your vet decide."
        }
        Phrase::ToIndex => "All plates",
        Phrase::ToDesk => "Back to the desk",
        Phrase::Next => "Next",
        Phrase::Before => "Before",
        Phrase::DaysTitle => "Day by day: how the glow comes and goes",
        Phrase::DaysLead => {
            "Move the slider. The glow begins at the root, reaches the whole shaft by day 12 to 14, and on recovery retreats to the tip as the hair grows out."
        }
        Phrase::DaysInfection => "Days since infection",
        Phrase::DaysRecovery => "Days since recovery began",
        Phrase::DayOfInfection => "day {day} of infection",
        Phrase::DayOfRecovery => "day {day} of recovery",
        Phrase::DaysCaution => {
            "The order and the days in the sentence above are published. The places between those days are straight lines, the pace of recovery is chosen so that ten weeks leave only the tip (animals in an experiment were over it after 11 to 14 weeks), and how the cuff comes and goes is invented. Real hairs of one animal differ from each other, and a real hair is many times longer."
        }
        Phrase::Light => "Light",
        Phrase::Ultraviolet => "UV lamp",
        Phrase::Visible => "Visible light",
        Phrase::WholeUv => "Under the UV lamp, the whole hair",
        Phrase::WholeVisible => "The same in visible light from below",
        Phrase::CloseUv => "Under the UV lamp, close",
        Phrase::CloseVisible => "The same place in visible light from below",
        Phrase::Short => {
            "The hair is drawn short, so that both ends fit in the picture; real hairs are centimetres long."
        }
        Phrase::LookFor => "What to look for",
        Phrase::Mistaken => "What it is mistaken for",
        Phrase::ProgramTitle => "What the program sees in this picture",
        Phrase::ProgramSaid => "{look} ({share} %); {zone}.",
        Phrase::ProgramCannot => "The program cannot say what this is (nearest: {look}, {share} %); {zone}.",
        Phrase::ProgramMissed => "The program does not follow this hair as one shaft, so it says nothing of it.",
        Phrase::ProgramWidth => "Width measured {measured}, drawn {drawn} µm.",
        Phrase::Drawn => "drawn as",
        Phrase::Reasons => "What counted most:",
        Phrase::StripTitle => "The hair laid out straight, as the program follows it, and what it measured along it",
        Phrase::ProfileWidth => "Width, µm",
        Phrase::NotMeasured => "could not be measured",
        Phrase::Along => "Along the hair, µm",
        Phrase::Sources => "Where this is from",
        Phrase::HowToStart => "How to begin",
        Phrase::Start1 => "Look at the guard hair first: edge, cortex, medulla. Every other plate is a change of that.",
        Phrase::Start2 => {
            "Then the four plates of infected hair: where is the glow, is the hair wider, is the surface grainy?"
        }
        Phrase::Start3 => {
            "Then the look-alikes. Ask two questions each time: is the hair under it whole, and does the glow keep to the hair?"
        }
        Phrase::Words => "Words",
        Phrase::BaseIs => "Base: the end towards the skin, with the root if it was plucked.",
        Phrase::TipIs => "Tip: the free end, a fine point unless it was cut or broke.",
        Phrase::ShaftIs => "Shaft: one hair as you see it on the photo.",
        Phrase::CuticleIs => "Cuticle, cortex, medulla: the scaly skin of the hair, its body, and its air-filled core.",
        Phrase::GlowIs => "Glow: light of its own under the UV lamp. All hair glows a little; pale hair more.",
        Phrase::CuffIs => "Cuff or sheath: a grainy layer of spores on the outside of an infected hair.",
        Phrase::SeriesTitle => "Practice series",
        Phrase::SeriesLead => {
            "For each numbered shaft write what it looks like, where it glows, and which end is the root. Write in pencil; the key is on the last pages."
        }
        Phrase::SeriesPhoto => "Photo {n}",
        Phrase::SeriesShaft => "Shaft",
        Phrase::SeriesLook => "Looks like",
        Phrase::SeriesWhere => "Where it glows more than hair does by itself",
        Phrase::SeriesRoot => "Root end",
        Phrase::KeySaid => "{look} ({share} %)",
        Phrase::KeyCannot => "cannot say (nearest: {look}, {share} %)",
        Phrase::SeriesKey => "Key",
        Phrase::SeriesName => "Your name or a nickname",
        Phrase::SeriesAnswers => "Answers",
        Phrase::SeriesFold => "Do not read on before you are done: the key follows.",
        Phrase::PartlySimulated => {
            "Photos named p… are simulated: drawn by the program, so that what is true of them is known. Photos named own-… are photographs of cases of this house, without whose they are."
        }
        Phrase::OwnTitle => "Photos of our own cases",
        Phrase::OwnLead => {
            "These are photographs. Of the site a laboratory has told whether a ringworm fungus grew; of the numbered shafts a person has said what they look like. The other shafts are not asked for."
        }
        Phrase::OwnQuestion => "Did a ringworm fungus grow from this site?",
        Phrase::OwnGrew => "it grew",
        Phrase::OwnDidNot => "nothing grew",
        Phrase::OwnCannotSay => "cannot say",
        Phrase::OwnKey => {
            "A culture speaks of the site, not of each shaft, and one on which nothing grew excludes nothing. The look of a shaft is a person's word and may be wrong. So these photos do not count for how far you can be trusted."
        }
        Phrase::OwnCulture => "The culture of the site",
        Phrase::OwnPersonSaid => "What a person said",
        Phrase::NotAsked => "not asked",
        Phrase::Width => "Width",
    }
}
