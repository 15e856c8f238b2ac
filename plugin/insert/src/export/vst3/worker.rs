//! Keeps the framework's worker thread (nice-plug 0.4.2, Linux) from taking the host down.
//!
//! All VST3 instances of a process share that thread. It ends for good when it is given a task of
//! an instance that has gone meanwhile, as happens when a host removes an instance right after
//! moving a parameter; the last instance to let go of the thread then panics in its destructor,
//! and a panic there aborts the host. One instance that never lets go prevents that. All that the
//! thread does for us is to tell the editor of changed parameters, and ours looks at them each
//! frame anyway.

use std::sync::Once;

use nice_plug::wrapper::vst3::Wrapper;
use nice_plug::wrapper::vst3::vst3::ComWrapper;

use crate::Ledgerline;

/// Makes sure that the thread is held on to. Costs one instance that is never activated.
pub(super) fn keep() {
    static KEPT: Once = Once::new();
    KEPT.call_once(|| std::mem::forget(ComWrapper::new(Wrapper::<Ledgerline>::new())));
}
