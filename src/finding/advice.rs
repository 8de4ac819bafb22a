//! What to do, whatever was found: send a culture, and let a vet decide.

use super::slide::SlideCode;

/// Ends every finding.
pub const CULTURE: &str = "Send hair for a fungal culture and let your vet decide.";

/// What to do after a finding with this code; up to three sentences, the last of them [`CULTURE`].
pub fn advice(code: SlideCode) -> String {
    let first = match code {
        SlideCode::LooksInfectedMany | SlideCode::LooksInfectedFew => {
            "Until the culture is back, keep the animal apart, wear gloves, and wash what it lay on. "
        }
        SlideCode::Doubtful => {
            "Keep the animal apart and wear gloves until a culture or your vet says more. Take more hairs from the edge \
             of the spot, with ordinary hairs beside them, and photograph again. "
        }
        SlideCode::TipOnly => {
            "Compare with earlier photos of the same site, and photograph it again in one or two weeks. "
        }
        SlideCode::CoatedOnly => {
            "Ask what was put on the coat; photograph again some days after washing, if the vet agrees to washing. "
        }
        SlideCode::OrdinaryOnly => {
            "Go over the whole animal with the lamp again, and take hairs from wherever something glows or hair is lost. "
        }
        SlideCode::FibreOnly | SlideCode::NoShaft => {
            "Press the tape on the site again so that hairs come with it, and photograph again. "
        }
        SlideCode::NotUsable => "Take the photo again as the notes say. ",
    };
    format!("{first}{CULTURE}")
}
