//! Watches the threads that read: what each is at, for how long, and what the process holds.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

use super::memory::resident_bytes;
use super::{MOST_TIME, Report};

/// How often is looked.
const LOOK: Duration = Duration::from_millis(2);

/// Reading goes in blocks of some hundred kilobytes, and the library's tables and windows take some
/// megabytes; a header that is believed takes gigabytes.
const MOST_GROWTH_BYTES: u64 = 128 << 20;

/// What all threads share.
pub(super) struct Watch {
    inputs: u64,
    next: AtomicU64,
    threads: Mutex<Vec<Thread>>,
    report: Mutex<Report>,
}

/// One thread that reads.
#[derive(Debug, Clone)]
enum Thread {
    Idle,
    Reads { what: String, since: Instant },
    Done,
}

impl Watch {
    pub(super) fn new(threads: usize, inputs: u64) -> Self {
        Self {
            inputs,
            next: AtomicU64::new(0),
            threads: Mutex::new(vec![Thread::Idle; threads]),
            report: Mutex::default(),
        }
    }

    /// The next file's number; none when all are done.
    pub(super) fn next(&self, thread: usize) -> Option<u64> {
        let number = self.next.fetch_add(1, Ordering::Relaxed);
        let more = number < self.inputs;
        self.set(thread, if more { Thread::Idle } else { Thread::Done });
        more.then_some(number)
    }

    pub(super) fn begin(&self, thread: usize, what: String) {
        self.set(thread, Thread::Reads { what, since: Instant::now() });
    }

    pub(super) fn end(&self, thread: usize, sound: bool, took: Duration, about: String) {
        self.set(thread, Thread::Idle);
        let mut report = self.report.lock().expect("no thread panics while it reports");
        report.inputs += 1;
        report.read += u64::from(sound);
        report.refused += u64::from(!sound);
        if took.as_secs_f64() > report.slowest_s {
            report.slowest_s = took.as_secs_f64();
            report.slowest = about;
        }
    }

    pub(super) fn fail(&self, what: String) {
        let mut report = self.report.lock().expect("no thread panics while it reports");
        report.inputs += 1;
        report.failures.push(what);
    }

    fn set(&self, thread: usize, state: Thread) {
        self.threads.lock().expect("no thread panics while it says what it does")[thread] = state;
    }

    /// Looks until every thread is done, or one hangs.
    pub(super) fn until_done(&self) -> Report {
        let at_first = resident_bytes();
        let mut grown_bytes = at_first.map(|_| 0);
        loop {
            std::thread::sleep(LOOK);
            let threads =
                self.threads.lock().expect("no thread panics while it says what it does").clone();
            if let (Some(first), Some(now)) = (at_first, resident_bytes()) {
                let grown = now.saturating_sub(first);
                if grown > MOST_GROWTH_BYTES && grown_bytes < Some(MOST_GROWTH_BYTES) {
                    self.fail(format!("{} MiB were taken at {threads:?}", grown >> 20));
                }
                grown_bytes = grown_bytes.max(Some(grown));
            }
            let hung = threads.iter().find_map(|thread| match thread {
                Thread::Reads { what, since } if since.elapsed() > MOST_TIME => Some(what),
                _ => None,
            });
            if let Some(what) = hung {
                self.fail(format!("{what}: it takes longer than its size allows"));
            }
            if hung.is_some() || threads.iter().all(|thread| matches!(thread, Thread::Done)) {
                let mut report = self.report.lock().expect("no thread panics while it reports");
                report.grown_bytes = grown_bytes;
                return std::mem::take(&mut report);
            }
        }
    }
}
