//! What the audio thread must not do, done on a thread of its own: meters are built and freed, and
//! log lines are written. The audio thread never wakes it (that would be a system call); it looks
//! for work a hundred times a second while the plugin is active, and sleeps otherwise.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use ledgerline_measure::{Reading, Settings};
use rtrb::{Consumer, Producer, RingBuffer};

use crate::log::{Log, LogError};
use crate::params::LedgerlineParams;
use crate::rebuild::{Bus, Maker, Measuring};
use crate::status::{Status, Subject};

/// How long the thread sleeps between looks.
const PAUSE: Duration = Duration::from_millis(10);
/// How many log lines may wait: far more than an offline render can fill in a pause.
const LINES_WAITING: usize = 128;

/// The audio thread's end of the log.
pub struct LineFeed {
    lines: Producer<Reading>,
    lost: Arc<AtomicU32>,
}

impl LineFeed {
    /// Hands over a line. Never waits; a line without space is lost, and counted.
    pub fn push(&mut self, reading: Reading) {
        if self.lines.push(reading).is_err() {
            self.lost.fetch_add(1, Ordering::Relaxed);
        }
    }
}

/// The thread and what it works on.
pub struct Background {
    shared: Arc<Shared>,
    thread: Option<JoinHandle<()>>,
}

struct Shared {
    work: Mutex<Work>,
    changed: Condvar,
}

/// Everything that waits to be done. Whoever holds the lock may do it: the thread while the plugin
/// is active, the host's main thread when it activates and deactivates.
struct Work {
    params: Arc<LedgerlineParams>,
    status: Arc<Status>,
    maker: Maker,
    /// The bus, and the settings of the latest meter made for it, while active.
    active: Option<(Bus, Settings)>,
    lines: Consumer<Reading>,
    lost: Arc<AtomicU32>,
    log: Log,
    log_forced: bool,
    log_was_wanted: bool,
    ended: bool,
}

impl Background {
    /// The background of one instance. The thread starts when the plugin is first activated.
    #[must_use]
    pub fn new(
        params: Arc<LedgerlineParams>,
        status: Arc<Status>,
        maker: Maker,
        log: Log,
    ) -> (Self, LineFeed) {
        let (lines_in, lines_out) = RingBuffer::new(LINES_WAITING);
        let lost = Arc::new(AtomicU32::new(0));
        let work = Work {
            params,
            status,
            maker,
            active: None,
            lines: lines_out,
            lost: lost.clone(),
            log_forced: log.is_forced(),
            log,
            log_was_wanted: false,
            ended: false,
        };
        let shared = Arc::new(Shared { work: Mutex::new(work), changed: Condvar::new() });
        (Self { shared, thread: None }, LineFeed { lines: lines_in, lost })
    }

    /// From now on meters are kept at what the parameters ask for. `settings` are those of the
    /// meter that the audio thread has. Not for the audio thread.
    pub fn activate(&mut self, bus: Bus, settings: Settings) {
        {
            let mut work = self.shared.lock();
            work.active = Some((bus, settings));
            work.log_was_wanted = false;
            work.look();
        }
        self.shared.changed.notify_all();
        if self.thread.is_none() {
            let shared = self.shared.clone();
            let named = std::thread::Builder::new().name("ledgerline".into());
            match named.spawn(move || shared.run()) {
                Ok(thread) => self.thread = Some(thread),
                Err(error) => self.shared.lock().status.set(
                    Subject::Log,
                    Some(format!(
                        "Neither log lines nor new settings can be dealt with before playback \
                         stops: the system gives no thread ({error})."
                    )),
                ),
            }
        }
    }

    /// Finishes everything that waits: when this returns, every log line is on disk. Not for the
    /// audio thread.
    pub fn deactivate(&mut self) {
        let mut work = self.shared.lock();
        work.look();
        work.active = None;
    }
}

impl Drop for Background {
    fn drop(&mut self) {
        {
            let mut work = self.shared.lock();
            work.look();
            work.ended = true;
        }
        self.shared.changed.notify_all();
        if let Some(thread) = self.thread.take() {
            // A panic there has been reported by the panic hook; here nothing is left to do.
            let _ = thread.join();
        }
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Work> {
        self.work.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn run(&self) {
        let mut work = self.lock();
        while !work.ended {
            if work.active.is_none() {
                work = self.changed.wait(work).unwrap_or_else(PoisonError::into_inner);
            } else {
                work.look();
                let waited = self.changed.wait_timeout(work, PAUSE);
                work = waited.unwrap_or_else(PoisonError::into_inner).0;
            }
        }
    }
}

impl Work {
    fn look(&mut self) {
        self.maker.free();
        self.rebuild();
        self.write_lines();
    }

    fn rebuild(&mut self) {
        let Some((bus, made)) = self.active else {
            return;
        };
        let wanted = bus.fit(self.params.choices().settings());
        if wanted == made || !self.maker.has_space() {
            return;
        }
        let (measuring, error) = Measuring::build(bus, wanted);
        self.status.set(Subject::Measuring, error.map(|error| unmeasured(&error)));
        if self.maker.offer(measuring).is_ok() {
            self.active = Some((bus, wanted));
        }
    }

    fn write_lines(&mut self) {
        let wanted = self.log_forced || self.params.log.value();
        if wanted != self.log_was_wanted {
            self.log_was_wanted = wanted;
            // Switching on is the user's way to say: try again.
            self.log.try_again();
            self.status.set(Subject::Log, None);
        }
        let mut result = if wanted && self.active.is_some() { self.log.open() } else { Ok(()) };
        while let Ok(reading) = self.lines.pop() {
            result = result.and(self.log.write(&reading));
        }
        let result = result.and(self.log.flush());
        self.report(result);
    }

    fn report(&mut self, result: Result<(), LogError>) {
        if let Err(error) = result {
            self.status.set(Subject::Log, Some(error.to_string()));
        }
        let lost = self.lost.swap(0, Ordering::Relaxed);
        if lost > 0 {
            let message = format!("The log is not complete: {lost} lines came too fast to write.");
            self.status.set(Subject::Log, Some(message));
        }
    }
}

/// What to tell the user when a bus cannot be measured.
#[must_use]
pub fn unmeasured(error: &ledgerline_measure::SettingsError) -> String {
    format!("No readings: {error}. The audio passes unchanged.")
}
