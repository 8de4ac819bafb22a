//! Where what the atlas says comes from: published sources, or that there is none.

/// The fur atlas whose entry on the cat gives diameters of down and awn hair, medulla and scales.
pub(super) const FUR_ATLAS: &str = "Electronic fur atlas, entry Felis catus (hair diameters, medulla, scales)";
pub(super) const GUARD_WIDTH: &str = "Guard hair 40-80 µm: a commercial glossary without a primary reference";
pub(super) const AWN_SHAPE: &str = "Shape of awn and down hair: a popular web page without references";
pub(super) const MEDULLA_LIGHT: &str = "Microscopy of Hair Part II, Forensic Science Communications, July 2004, as quoted on two pages (air in the medulla; scales point to the tip)";
pub(super) const MEDULLA_SHARE: &str =
    "Forensic teaching notes that restate the guides above (medulla over shaft: animals usually above 1/3)";
pub(super) const CAT_ROOT: &str =
    "Particle atlas page on cat hair, and forensic teaching slides (fibrous root, pigment stops before the root)";
pub(super) const TRICHOGRAM: &str = "Clinician's Brief, The Use of Trichograms in Veterinary Dermatology, 2017 (roots)";
pub(super) const WHITE_FUR: &str = "Royal Society Open Science 2023 (press summaries) and J Mammal 2023;104:892-906 (white fur of cats glows, dark fur does not)";
pub(super) const GREY_HAIR: &str =
    "Int J Cosmet Sci 2009;31(5), abstract (unpigmented hair: 395 to 495 nm; the last grows as hair yellows)";
pub(super) const MELANIN: &str =
    "J Cosmet Sci 2011;62(2):195-201, table V (pigment takes up to thirteenfold of the glow)";
pub(super) const SHEATH: &str =
    "Veterinary microbiology e-course of a national agricultural portal (sheath of spores may double the thickness)";
pub(super) const WIDER: &str =
    "BSAVA Manual of Canine and Feline Dermatology, ch. 25, fig. 25.5 (thicker and wider than the other hairs)";
pub(super) const INVASION: &str =
    "Scanning Microscopy 1993;7(2):671, abstract (spores outside the shaft, at last a sheath along it)";
pub(super) const BUMPY: &str =
    "Small Animal Dermatology, 3rd ed., p. 322, and two case notes (uneven surface, medulla no longer seen)";
pub(super) const COMMA: &str = "Vet Dermatol, observational study of 12 + 12 cats, abstract (broken, slightly curved, even in thickness; self-trauma breaks cleanly)";
pub(super) const COURSE: &str = "University of Florida open textbook, Ringworm Diagnosis (bulb and base within the first week, whole shaft by day 12 to 14; later distal shaft, at last tips)";
pub(super) const TIPS: &str = "Small Animal Dermatology, 3rd ed., p. 322 (base without glow while tips still show it)";
pub(super) const TIMES: &str = "Experimental M. canis infection in cats: correlation between immunological and clinical observations, abstract (first hairs day 8-13; resolved after 11-14 weeks)";
pub(super) const APPLE_GREEN: &str =
    "Clinician's Brief, Using a Wood's Lamp (apple green, on the shaft; carpet fibres may be as green)";
pub(super) const SPECTRUM: &str = "AMA Arch Derm 1955;71(4):511-514, abstract (infected human hair: broad band with its maximum at 490 nm; no spectrum of cat hair was found)";
pub(super) const RESIDUES: &str = "University of Florida open textbook, Ringworm Diagnosis (lint, ointments, doxycycline and lime sulfur glow yellow, orange or blue)";
pub(super) const KERATIN: &str = "Small Animal Dermatology, 3rd ed. (scale, sebum and medicines glow in other colours)";
pub(super) const OINTMENT: &str = "A veterinary dermatology practice's page (sebum and ointments greenish)";
pub(super) const TETRACYCLINE: &str =
    "Photochem Photobiol Sci 2003, issue 11, abstract (tetracycline: 475, 530 and 650 nm)";
pub(super) const BRIGHTENER: &str = "Materials 2021;14(17):4995 (brighteners of washing: 425 to 450 nm)";
pub(super) const COTTON: &str = "Textile teaching notes (cotton: flat twisted ribbon, 200-300 turns an inch)";
pub(super) const FILAMENT: &str = "Width of textile filament: from memory, no source read";
pub(super) const CARPET: &str = "Thickness of carpet fibre: no source";
pub(super) const NO_SPECTRUM: &str = "How this residue glows and lies on hair: no source found; drawn from words";
pub(super) const AIR: &str = "Reflection of air against adhesive beside keratin: computed from published refractive indices (Optics Express 2011;19:24061, abstract)";
pub(super) const DEPTH: &str =
    "Depth in focus, wavelength over aperture squared: a technical thread with worked values";
pub(super) const PRACTICE: &str = "Advice on exposure: common practice, no source";
pub(super) const GREENS: &str = "AMA Arch Derm 1955 and 1959 and J Gen Microbiol, abstracts and notes (the glow is called brilliant green, apple green, blue-green, yellow-green by author; it changes with acidity)";
pub(super) const NO_PATCHES: &str = "How patches look under the lamp: no source found; drawn from the clusters of spores that come before the whole sheath";
pub(super) const BANDS: &str = "Length of a tabby hair's bands: no source";
pub(super) const LEAK: &str =
    "Violet light that comes back from the lamp: from memory; how strong it is depends on the lamp's filter";
