//! Work that falls into parts, shared out among threads.

use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Threads at most: what they do waits for memory, too.
const MOST_THREADS: usize = 8;

/// Threads that so many parts are worth on this machine.
pub(super) fn threads(parts: usize) -> usize {
    thread::available_parallelism().map_or(1, NonZero::get).min(MOST_THREADS).min(parts)
}

/// What comes of each part, in their order: a thread for each of the `seeds`, from which it makes what
/// it works with. Nothing that a part leaves in there may change what another gives, since any thread
/// may get any part.
pub(super) fn share<P: Sync, S: Send, W, T: Send>(
    parts: &[P],
    seeds: Vec<S>,
    start: impl Fn(S) -> W + Sync,
    work: impl Fn(&mut W, &P) -> T + Sync,
) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let run = |seed: S| {
        let mut tools = start(seed);
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let Some(part) = parts.get(index) else { return done };
            done.push((index, work(&mut tools, part)));
        }
    };
    let run = &run;
    let mut done: Vec<(usize, T)> = thread::scope(|scope| {
        let threads: Vec<_> =
            seeds.into_iter().map(|seed| scope.spawn(move || run(seed))).collect();
        // A panic in there is a mistake of ours, and goes on here.
        let join = |thread: thread::ScopedJoinHandle<'_, Vec<(usize, T)>>| {
            thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
        };
        threads.into_iter().flat_map(join).collect()
    });
    done.sort_by_key(|(index, _)| *index);
    done.into_iter().map(|(_, part)| part).collect()
}
