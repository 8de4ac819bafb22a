//! Everything the program may be concerned about, each with what to do about it.
//!
//! A concern is not an error: the photo was read, and this is what a person should know before trusting the result.

/// One concern, with the numbers that its sentence shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Concern {
    /// What kind of concern.
    pub kind: ConcernKind,
    /// A number for the sentence (share of clipped pixels, blur in pixels, ...), where one says more.
    pub value: Option<f64>,
}

/// The closed list of concerns.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ConcernKind {
    /// The photo is out of focus where shafts lie. Value: blur, pixels.
    OutOfFocus,
    /// The photo is too dark to measure fluorescence.
    TooDark,
    /// Many pixels are clipped: too bright to read. Value: share of pixels, 0 to 1.
    Clipped,
    /// The photo seems lit by visible light and not by a UV lamp only.
    VisibleLight,
    /// No shaft was found.
    NoShaft,
    /// No comparison shaft was found or marked.
    NoComparison,
    /// The scale is unknown: no micrometres.
    ScaleUnknown,
    /// The photo is too small to measure shafts.
    TooSmall,
    /// The photo is monochrome: colour of fluorescence is not known.
    Monochrome,
    /// More shafts or debris than can be told apart.
    Crowded,
    /// The file holds several pictures; only the first was read.
    SeveralPictures,
    /// The picture was compressed so strongly that fine structure is lost.
    StronglyCompressed,
    /// A shaft is too thin or too blurred for its width to be told; at most an upper bound can be given.
    /// Value: blur, pixels.
    TooThin,
    /// A shaft is in view only in part (leaves the photo or the field).
    Partial,
    /// Too few clean stations were left to measure a shaft.
    FewStations,
    /// The shaft's own pixels are clipped. Value: share.
    ShaftClipped,
    /// The shaft is unlike every reference shaft.
    Novel,
    /// The trace may follow no hair or fibre at all. Value: probability, 0 to 1.
    MaybeNoShaft,
    /// The shaft's traces may be joined wrongly at a crossing.
    DoubtfulCrossing,
    /// The photo has another size than those its setup's scale was found on: cropped, or taken otherwise.
    /// Value: the setup's scale times its photos' longer side over this photo's, micrometres a pixel: the scale if the
    /// photo was shrunk or enlarged and not cropped.
    SetupOtherSize,
    /// The file states another scale than the one that is used. Value: what the file states, micrometres a pixel.
    ScalesDisagree,
    /// The ruled lines of a scale cover little of the photo. Value: share of its extent, 0 to 1.
    ShortSpan,
    /// The scale differs over the photo. Value: the largest departure from its mean, as a share.
    Distorted,
    /// The pixels of a photo are not square. Value: the scale along x over that along y.
    NotSquare,
    /// Whether the pixels of a photo are square is not known.
    SquarenessUnknown,
    /// Pixels are coarser than what the lens can show. Value: the coarsest pixel that shows all, micrometres.
    CoarsePixels,
    /// Less depth is in focus than hairs are thick. Value: the depth in focus, micrometres.
    ShallowFocus,
}

impl ConcernKind {
    /// All kinds.
    pub const ALL: [ConcernKind; 27] = [
        ConcernKind::OutOfFocus,
        ConcernKind::TooDark,
        ConcernKind::Clipped,
        ConcernKind::VisibleLight,
        ConcernKind::NoShaft,
        ConcernKind::NoComparison,
        ConcernKind::ScaleUnknown,
        ConcernKind::TooSmall,
        ConcernKind::Monochrome,
        ConcernKind::Crowded,
        ConcernKind::SeveralPictures,
        ConcernKind::StronglyCompressed,
        ConcernKind::TooThin,
        ConcernKind::Partial,
        ConcernKind::FewStations,
        ConcernKind::ShaftClipped,
        ConcernKind::Novel,
        ConcernKind::MaybeNoShaft,
        ConcernKind::DoubtfulCrossing,
        ConcernKind::SetupOtherSize,
        ConcernKind::ScalesDisagree,
        ConcernKind::ShortSpan,
        ConcernKind::Distorted,
        ConcernKind::NotSquare,
        ConcernKind::SquarenessUnknown,
        ConcernKind::CoarsePixels,
        ConcernKind::ShallowFocus,
    ];
}

impl Concern {
    /// A concern without a number.
    pub fn new(kind: ConcernKind) -> Concern {
        Concern { kind, value: None }
    }

    /// A concern with the number its sentence shows.
    pub fn with(kind: ConcernKind, value: f64) -> Concern {
        Concern { kind, value: Some(value) }
    }

    /// What was noticed, one sentence.
    pub fn message(&self) -> String {
        let percent = |share: Option<f64>| share.map_or(String::new(), |s| format!(" ({:.0} %)", s * 100.0));
        let pixels = |px: Option<f64>| px.map_or(String::new(), |px| format!(" (blur about {px:.1} pixels)"));
        match self.kind {
            ConcernKind::OutOfFocus => format!("The photo is out of focus{}.", pixels(self.value)),
            ConcernKind::TooDark => "The photo is too dark to compare fluorescence.".into(),
            ConcernKind::Clipped => {
                format!("Parts of the photo are too bright to read{}.", percent(self.value))
            }
            ConcernKind::VisibleLight => "The photo seems to be lit by visible light, not by a UV lamp alone.".into(),
            ConcernKind::NoShaft => "No hair shaft was found.".into(),
            ConcernKind::NoComparison => "No ordinary comparison shaft was found on this photo.".into(),
            ConcernKind::ScaleUnknown => "The scale is unknown, so widths are given in pixels only.".into(),
            ConcernKind::TooSmall => "The photo is too small to measure hair shafts.".into(),
            ConcernKind::Monochrome => "The photo has no colour, so the colour of fluorescence is unknown.".into(),
            ConcernKind::Crowded => "There is more on the tape than can be told apart.".into(),
            ConcernKind::SeveralPictures => "The file holds several pictures; only the first was read.".into(),
            ConcernKind::StronglyCompressed => "The file is compressed so strongly that fine structure is lost.".into(),
            ConcernKind::TooThin => {
                "The shaft is too thin or too blurred for this photo: its width cannot be told, only what it is at most."
                    .into()
            }
            ConcernKind::Partial => "Only part of the shaft is in the photo.".into(),
            ConcernKind::FewStations => "Too little of the shaft lies free to measure it well.".into(),
            ConcernKind::ShaftClipped => format!("The shaft is too bright to read{}.", percent(self.value)),
            ConcernKind::Novel => "The shaft is unlike every shaft the program knows.".into(),
            ConcernKind::MaybeNoShaft => "This may be neither hair nor fibre.".into(),
            ConcernKind::DoubtfulCrossing => "The shaft may be joined wrongly where shafts cross.".into(),
            ConcernKind::SetupOtherSize => {
                let shrunk =
                    self.value.map_or(String::new(), |um| format!(" (if shrunk, {um:.4} µm a pixel would hold)"));
                format!("The photo has another size than the photos its setup's scale was found on{shrunk}.")
            }
            ConcernKind::ScalesDisagree => {
                let stated = self.value.map_or(String::new(), |um| format!(" ({um:.4} µm a pixel)"));
                format!("The file states another scale than the one that is used{stated}.")
            }
            ConcernKind::ShortSpan => {
                format!(
                    "The ruled lines cover little of the photo{}, so that the scale is less sure.",
                    percent(self.value)
                )
            }
            ConcernKind::Distorted => {
                let largest = self.value.map_or(String::new(), |share| format!(", by up to {:.1} %", share * 100.0));
                format!("The scale differs over the photo{largest}.")
            }
            ConcernKind::NotSquare => {
                let ratio = self.value.map_or(String::new(), |ratio| format!(" ({ratio:.4} along x against y)"));
                format!("The pixels are not square{ratio}.")
            }
            ConcernKind::SquarenessUnknown => {
                "All lines run in about one direction, so whether the pixels are square is not known.".into()
            }
            ConcernKind::CoarsePixels => {
                let finest = self.value.map_or(String::new(), |um| format!(" (that would take {um:.3} µm a pixel)"));
                format!("The pixels are coarser than what the lens can show{finest}.")
            }
            ConcernKind::ShallowFocus => {
                let depth = self.value.map_or(String::new(), |um| format!(" (about {um:.1} µm)"));
                format!("The lens has less depth in focus than a hair is thick{depth}.")
            }
        }
    }

    /// What to do about it, one sentence.
    pub fn advice(&self) -> &'static str {
        match self.kind {
            ConcernKind::OutOfFocus => "Focus on the shafts' edges and take the photo again.",
            ConcernKind::TooDark => "Use a longer exposure or bring the lamp closer, and take the photo again.",
            ConcernKind::Clipped => "Use a shorter exposure, so that the brightest shaft is not plain white.",
            ConcernKind::VisibleLight => "Darken the room, leave only the UV lamp on, and take the photo again.",
            ConcernKind::NoShaft => {
                "Check that hairs lie under the tape in view; if they do, focus and light the slide again."
            }
            ConcernKind::NoComparison => "Press a few ordinary hairs of the same animal beside the glowing ones.",
            ConcernKind::ScaleUnknown => {
                "Give the micrometres per pixel, measured once with a stage micrometer for this objective and camera."
            }
            ConcernKind::TooSmall => "Send the photo as the camera saved it, not a thumbnail.",
            ConcernKind::Monochrome => "Use a colour camera or a phone at the eyepiece.",
            ConcernKind::Crowded => "Press fewer hairs on a fresh tape, spread apart.",
            ConcernKind::SeveralPictures => "Save the other pictures as files of their own if they matter.",
            ConcernKind::StronglyCompressed => "Send the photo as the camera saved it, not through a messenger.",
            ConcernKind::TooThin => "Use a stronger objective, and focus on this shaft.",
            ConcernKind::Partial => "Move the slide so that the whole shaft, root to tip, is in view.",
            ConcernKind::FewStations => "Spread the hairs so that they do not lie on each other.",
            ConcernKind::ShaftClipped => "Use a shorter exposure for this shaft.",
            ConcernKind::Novel => "Look at it by eye; do not rely on the program for this one.",
            ConcernKind::MaybeNoShaft => "Look at it by eye: does it branch, is it an edge, a crack or a scratch?",
            ConcernKind::DoubtfulCrossing => "Look at the outline on the marked photo before using its numbers.",
            ConcernKind::SetupOtherSize => {
                "Read the photo as the camera saved it, or measure a setup with photos of this size."
            }
            ConcernKind::ScalesDisagree => "Check that the setup or the number given belongs to this photo.",
            ConcernKind::ShortSpan => "Photograph the micrometer so that its lines cross the whole photo.",
            ConcernKind::Distorted => "Keep hairs that matter near the middle of the photo.",
            ConcernKind::NotSquare => "Check that neither the camera nor a program has stretched the photo.",
            ConcernKind::SquarenessUnknown => {
                "Turn the micrometer by a quarter and give a second photo together with the first."
            }
            ConcernKind::CoarsePixels => {
                "Use the camera's full resolution, or a stronger adapter between lens and camera."
            }
            ConcernKind::ShallowFocus => "Focus on the edges of the shaft, or take several photos at different focus.",
        }
    }

    /// Stable name for files and programs.
    pub fn code(&self) -> &'static str {
        match self.kind {
            ConcernKind::OutOfFocus => "out-of-focus",
            ConcernKind::TooDark => "too-dark",
            ConcernKind::Clipped => "clipped",
            ConcernKind::VisibleLight => "visible-light",
            ConcernKind::NoShaft => "no-shaft",
            ConcernKind::NoComparison => "no-comparison",
            ConcernKind::ScaleUnknown => "scale-unknown",
            ConcernKind::TooSmall => "too-small",
            ConcernKind::Monochrome => "monochrome",
            ConcernKind::Crowded => "crowded",
            ConcernKind::SeveralPictures => "several-pictures",
            ConcernKind::StronglyCompressed => "strongly-compressed",
            ConcernKind::TooThin => "too-thin",
            ConcernKind::Partial => "partial",
            ConcernKind::FewStations => "few-stations",
            ConcernKind::ShaftClipped => "shaft-clipped",
            ConcernKind::Novel => "novel",
            ConcernKind::MaybeNoShaft => "maybe-no-shaft",
            ConcernKind::DoubtfulCrossing => "doubtful-crossing",
            ConcernKind::SetupOtherSize => "setup-other-size",
            ConcernKind::ScalesDisagree => "scales-disagree",
            ConcernKind::ShortSpan => "short-span",
            ConcernKind::Distorted => "distorted",
            ConcernKind::NotSquare => "not-square",
            ConcernKind::SquarenessUnknown => "squareness-unknown",
            ConcernKind::CoarsePixels => "coarse-pixels",
            ConcernKind::ShallowFocus => "shallow-focus",
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::{Concern, ConcernKind};

    #[test]
    fn all_kinds_are_listed_in_their_order_with_codes_of_their_own() {
        assert!(ConcernKind::ALL.iter().enumerate().all(|(i, kind)| *kind as usize == i));
        let codes: BTreeSet<&str> = ConcernKind::ALL.iter().map(|&kind| Concern::new(kind).code()).collect();
        assert_eq!(codes.len(), ConcernKind::ShallowFocus as usize + 1, "the last kind stands here");
    }
}
