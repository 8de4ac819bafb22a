//! A photo on which the program breaks down must not keep the others from being read.
//!
//! No input is known to do this; decoders of hostile files have a history of it. Weakness: an exhausted stack or
//! memory ends the process all the same.

use std::panic::{self, AssertUnwindSafe};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, Once};

/// Where the latest breakdown happened; threads of a pool break down on behalf of the one that waits for them.
static WHERE: Mutex<String> = Mutex::new(String::new());

/// How many guarded pieces of work are under way: while there are none, breakdowns are reported as ever.
static UNDER_WAY: AtomicUsize = AtomicUsize::new(0);

/// Parts of a path that tell a file from all others: crate, `src`, folder or file.
const KEPT_PARTS: usize = 3;

static HOOK: Once = Once::new();

/// Runs `work`; when it breaks down, one sentence says where.
pub(super) fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    HOOK.call_once(|| {
        let usual = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            if UNDER_WAY.load(Ordering::SeqCst) == 0 {
                return usual(info);
            }
            let place = info.location().map(|place| format!("{}:{}", short(place.file()), place.line()));
            let place = place.unwrap_or_default();
            if let Ok(mut last) = WHERE.lock() {
                *last = place;
            }
        }));
    });
    UNDER_WAY.fetch_add(1, Ordering::SeqCst);
    let done = panic::catch_unwind(AssertUnwindSafe(work));
    UNDER_WAY.fetch_sub(1, Ordering::SeqCst);
    done.map_err(|_| {
        let place = WHERE.lock().map(|place| place.clone()).unwrap_or_default();
        format!("the program broke down on it at {place}; please report this together with the photo")
    })
}

/// The end of a path: the crate and the file, and not where somebody keeps their crates.
fn short(path: &str) -> String {
    let parts: Vec<&str> = path.split(['/', '\\']).collect();
    parts[parts.len().saturating_sub(KEPT_PARTS)..].join("/")
}

#[cfg(test)]
mod tests {
    use super::{guarded, short};

    #[test]
    fn a_place_is_short() {
        assert_eq!(short("/some/where/png-0.18/src/a.rs"), "png-0.18/src/a.rs");
        assert_eq!(short("src/cli/guard.rs"), "src/cli/guard.rs");
    }

    #[test]
    fn a_breakdown_is_a_sentence_that_says_where() {
        assert_eq!(guarded(|| 7), Ok(7));
        let sentence = guarded(|| [1, 2, 3][std::hint::black_box(5)]).unwrap_err();
        assert!(sentence.contains("guard.rs:"), "{sentence}");
    }
}
