//! Keeps a panic inside a decoder from ending the program.
//!
//! The decoders parse whatever a file holds, and a damaged file may lead one into an index or an
//! overflow that its authors did not foresee. Such a file is a damaged file, not a fault of ours to
//! crash with, and the other files of the same run must still be read. A reader that panicked is
//! not used again: what it left behind may be half changed.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;

thread_local! {
    static CONTAINED: Cell<bool> = const { Cell::new(false) };
}

/// A decoder panicked.
pub(super) struct Panicked;

/// Runs `work`; a panic in it becomes an error, and prints nothing.
pub(super) fn contain<T>(work: impl FnOnce() -> T) -> Result<T, Panicked> {
    silence_contained_panics();
    let outer = CONTAINED.replace(true);
    // What `work` changed is dropped or no longer read by the caller once it has panicked.
    let result = catch_unwind(AssertUnwindSafe(work));
    CONTAINED.set(outer);
    result.map_err(|_| Panicked)
}

/// The usual hook prints where a thread panicked, which means nothing to who reads about a file.
fn silence_contained_panics() {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let usual = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |panic| {
            if !CONTAINED.get() {
                usual(panic);
            }
        }));
    });
}
