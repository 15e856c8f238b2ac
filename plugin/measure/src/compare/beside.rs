//! A second thread that takes, in order, what a first one gives.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread;

/// Buffers on the way between the two.
const BUFFERS: usize = 4;

/// Where the first thread gives.
pub(super) struct Outlet<T> {
    empty: Receiver<T>,
    full: SyncSender<T>,
}

impl<T> Outlet<T> {
    /// Gives what `fill` makes of a buffer that was taken before; waits for one.
    pub fn give(&self, fill: impl FnOnce(&mut T)) {
        // The other thread ends before this one only by a panic, which `beside` passes on.
        let Ok(mut buffer) = self.empty.recv() else { return };
        fill(&mut buffer);
        let _ = self.full.send(buffer);
    }
}

/// Lets a thread of its own `take` whatever `run` gives, and waits until all of it is taken: `run` has
/// to let go of its outlet.
pub(super) fn beside<T: Default + Send, R>(
    mut take: impl FnMut(&mut T) + Send,
    run: impl FnOnce(Outlet<T>) -> R,
) -> R {
    let (give, full) = sync_channel(BUFFERS);
    let (back, empty) = sync_channel(BUFFERS);
    for _ in 0..BUFFERS {
        let _ = back.send(T::default());
    }
    thread::scope(|scope| {
        let other = scope.spawn(move || {
            for mut buffer in full {
                take(&mut buffer);
                let _ = back.send(buffer);
            }
        });
        let given = run(Outlet { empty, full: give });
        if let Err(panic) = other.join() {
            std::panic::resume_unwind(panic);
        }
        given
    })
}
