//! Keeps the framework's worker thread (nice-plug 0.4.2, Linux) from taking the host down.
//!
//! All VST3 instances of a process share that thread. It ends for good when it is given a task of
//! an instance that has gone meanwhile, as happens when a host removes an instance right after
//! moving a parameter; the last instance to let go of the thread then panics in its destructor,
//! and a panic there aborts the host. One instance that does not let go before the module closes
//! prevents that. All that the thread does for us is to tell the editor of changed parameters, and
//! ours looks at them each frame anyway.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::ptr::null_mut;
use std::sync::atomic::{AtomicPtr, Ordering};

use nice_plug::wrapper::vst3::Wrapper;
use nice_plug::wrapper::vst3::vst3::ComWrapper;

use crate::Ledgerline;

type Instance = ComWrapper<Wrapper<Ledgerline>>;

static KEPT: AtomicPtr<Instance> = AtomicPtr::new(null_mut());

/// Makes sure that the thread is held on to. Costs one instance that is never activated.
pub(super) fn keep() {
    if !KEPT.load(Ordering::Acquire).is_null() {
        return;
    }
    let made = Box::into_raw(Box::new(ComWrapper::new(Wrapper::<Ledgerline>::new())));
    let first = KEPT.compare_exchange(null_mut(), made, Ordering::AcqRel, Ordering::Acquire);
    if first.is_err() {
        // SAFETY: made above, and nobody else has seen it. Another thread was faster, so that the
        // framework's thread outlives this instance.
        drop(unsafe { Box::from_raw(made) });
    }
}

/// Lets go, so that the thread has ended before the library is unloaded.
pub(super) fn let_go() {
    let kept = KEPT.swap(null_mut(), Ordering::AcqRel);
    if !kept.is_null() {
        // SAFETY: made by `keep` from a box, and taken out by this call alone.
        let kept = unsafe { Box::from_raw(kept) };
        // Dropped here and not by way of its interface, through which no panic may pass: where the
        // thread has ended before, the destructor panics, and there is nothing left to wait for.
        let _ = catch_unwind(AssertUnwindSafe(move || drop(kept)));
    }
}
