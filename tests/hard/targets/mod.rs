//! What is given damaged input, and what must hold of whatever comes back.

mod desk;
mod json;
mod kept;
mod pictures;
mod readings;

pub(super) use readings::MODEL;

/// Something that reads input from outside.
pub(super) struct Target {
    /// Its name, in files and figures.
    pub(super) name: &'static str,
    /// Sets it up with inputs to begin with.
    pub(super) world: fn() -> World,
}

/// What an input led to, in words; or what is wrong with what came back.
pub(super) type Outcome = Result<String, String>;

/// What reads an input.
type Reads = Box<dyn FnMut(&[u8]) -> Outcome>;

/// A target that was set up.
pub(super) struct World {
    seeds: Vec<Vec<u8>>,
    reads: Reads,
}

impl World {
    fn new(seeds: Vec<Vec<u8>>, reads: impl FnMut(&[u8]) -> Outcome + 'static) -> World {
        World { seeds, reads: Box::new(reads) }
    }

    /// Good and bad inputs to begin with.
    pub(super) fn seeds(&self) -> Vec<Vec<u8>> {
        self.seeds.clone()
    }

    /// Reads one input.
    pub(super) fn run(&mut self, input: &[u8]) -> Outcome {
        (self.reads)(input)
    }
}

/// Everything that reads input from outside.
pub(super) const TARGETS: [Target; 17] = [
    Target { name: "pictures", world: pictures::files },
    Target { name: "forged-png", world: pictures::forged_png },
    Target { name: "colour-profile", world: pictures::colour_profile },
    Target { name: "camera-notes", world: pictures::camera_notes },
    Target { name: "microscope-notes", world: pictures::microscope_notes },
    Target { name: "small-photos", world: readings::small_photos },
    Target { name: "rulings", world: readings::rulings },
    Target { name: "corrections", world: readings::corrections },
    Target { name: "model", world: json::model },
    Target { name: "setups", world: json::setups },
    Target { name: "case-facts", world: json::case_facts },
    Target { name: "evaluations", world: kept::evaluations },
    Target { name: "packs", world: kept::packs },
    Target { name: "forged-packs", world: kept::forged_packs },
    Target { name: "database", world: kept::database },
    Target { name: "desk", world: desk::requests },
    Target { name: "desk-queue", world: desk::queue },
];

/// What to say of a result: its sentence where it is an error.
fn told<T, E: std::fmt::Display>(result: &Result<T, E>) -> String {
    result.as_ref().map_or_else(ToString::to_string, |_| "read".to_owned())
}

/// A complaint unless a thing holds.
fn must(holds: bool, fault: &str) -> Result<(), String> {
    if holds { Ok(()) } else { Err(fault.to_owned()) }
}
