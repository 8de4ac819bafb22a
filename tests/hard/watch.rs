//! Watching for panics, those that others catch as well.

use std::cell::Cell;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::{Mutex, Once, PoisonError};

thread_local! {
    static WATCHED: Cell<bool> = const { Cell::new(false) };
}

/// Panics by place in the source, since the watch began.
static SEEN: Mutex<BTreeMap<String, u64>> = Mutex::new(BTreeMap::new());

/// What became of something that was run under watch.
pub(super) enum Became<T> {
    /// It ended by itself.
    Done(T),
    /// It panicked here.
    Panicked(String),
}

/// Runs something and tells where it panicked. Panics that it caught itself are counted in [`caught`].
pub(super) fn watched<T>(work: impl FnOnce() -> T) -> Became<T> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let before = take_hook();
        set_hook(Box::new(move |panic| {
            let place =
                panic.location().map_or_else(|| "nowhere".to_owned(), |at| format!("{}:{}", at.file(), at.line()));
            // Threads that work for a watched one have no mark of their own, so every panic of the program's counts.
            if WATCHED.get() || place.starts_with("src/") {
                *SEEN.lock().unwrap_or_else(PoisonError::into_inner).entry(place).or_default() += 1;
            }
            if !WATCHED.get() {
                before(panic);
            }
        }));
    });
    let before = caught();
    WATCHED.set(true);
    let done = catch_unwind(AssertUnwindSafe(work));
    WATCHED.set(false);
    match done {
        Ok(done) => Became::Done(done),
        Err(_) => {
            let new = caught().into_iter().find(|(place, n)| before.get(place) != Some(n));
            Became::Panicked(new.map_or_else(|| "an unknown place".to_owned(), |(place, _)| place))
        }
    }
}

/// Panics under watch so far, by place.
pub(super) fn caught() -> BTreeMap<String, u64> {
    SEEN.lock().unwrap_or_else(PoisonError::into_inner).clone()
}

/// Panics in the program's own code so far, whoever caught them.
pub(super) fn own() -> BTreeMap<String, u64> {
    caught().into_iter().filter(|(place, _)| place.starts_with("src/")).collect()
}
