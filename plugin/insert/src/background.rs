//! What the audio thread must not do, done on a thread of its own: meters are built and freed, and
//! log lines are written. The audio thread never wakes it (that would be a system call); it looks
//! for work a hundred times a second while the plugin is active, and sleeps otherwise.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use ledgerline_measure::sum_test::audit::live::{LiveShown, LiveState};
use ledgerline_measure::sum_test::expectations;
use ledgerline_measure::{Reading, Settings};
use rtrb::{Consumer, Producer, RingBuffer};

use crate::choices::SumTest;
use crate::log::{Log, LogError};
use crate::params::LedgerlineParams;
use crate::rebuild::{Bus, Maker, Measuring};
use crate::status::{Status, Subject};
use crate::sum_test::board::Board;
use crate::sum_test::bus::BusKeeper;
use crate::sum_test::record::SumTestRecord;

/// How long the thread sleeps between looks.
const PAUSE: Duration = Duration::from_millis(10);
/// How many log lines may wait: far more than an offline render can fill in a pause.
const LINES_WAITING: usize = 128;

/// What a line of the log is made from.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    /// Every reading.
    pub reading: Reading,
    /// The sum test, where this instance hears the bus.
    pub sum_test: Option<LiveShown>,
}

/// A line as it is written.
#[derive(serde::Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    reading: &'a Reading,
    #[serde(skip_serializing_if = "Option::is_none")]
    sum_test: Option<SumTestRecord>,
}

/// The audio thread's end of the log.
pub struct LineFeed {
    lines: Producer<Line>,
    lost: Arc<AtomicU32>,
}

impl LineFeed {
    /// Hands over a line. Never waits; a line without space is lost, and counted.
    pub fn push(&mut self, line: Line) {
        if self.lines.push(line).is_err() {
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
    keeper: BusKeeper,
    board: Arc<Board>,
    /// Why the sum test cannot play, as the editor was told.
    refusal: Option<String>,
    /// The bus, and the settings of the latest meter made for it, while active.
    active: Option<(Bus, Settings)>,
    lines: Consumer<Line>,
    lost: Arc<AtomicU32>,
    log: Log,
    log_forced: bool,
    log_was_wanted: bool,
    /// The rate for which it is known what an ideal sum shows.
    prepared: Option<u32>,
    ended: bool,
}

impl Background {
    /// The background of one instance. The thread starts when the plugin is first activated.
    #[must_use]
    pub fn new(
        params: Arc<LedgerlineParams>,
        status: Arc<Status>,
        maker: Maker,
        keeper: BusKeeper,
        board: Arc<Board>,
        log: Log,
    ) -> (Self, LineFeed) {
        let (lines_in, lines_out) = RingBuffer::new(LINES_WAITING);
        let lost = Arc::new(AtomicU32::new(0));
        let work = Work {
            params,
            status,
            maker,
            keeper,
            board,
            refusal: None,
            active: None,
            lines: lines_out,
            lost: lost.clone(),
            log_forced: log.is_forced(),
            log,
            log_was_wanted: false,
            prepared: None,
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
            work.keeper.activate(bus.rate_hz);
            work.board.set_rate(work.keeper.rate_hz());
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
            if let Some(rate_hz) = work.unprepared() {
                // A good part of a second: nobody is to wait for the lock meanwhile.
                drop(work);
                let _ = expectations(rate_hz);
                work = self.lock();
                work.prepared = Some(rate_hz);
            } else if work.active.is_none() {
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
    /// The rate for which the sum test's table is about to be asked what an ideal sum shows.
    fn unprepared(&self) -> Option<u32> {
        let wanted = self.active.is_some() && self.params.choices().sum_test == SumTest::Bus;
        self.keeper.rate_hz().filter(|&rate_hz| wanted && self.prepared != Some(rate_hz))
    }

    fn look(&mut self) {
        self.maker.free();
        self.rebuild();
        self.keep_sum_test();
        self.write_lines();
        self.pin_table();
    }

    fn keep_sum_test(&mut self) {
        let choices = self.params.choices();
        let wanted = self.active.is_some() && choices.sum_test == SumTest::Bus;
        self.keeper.look(wanted, choices.feed_level_dbfs);
        let asked = self.active.is_some() && choices.sum_test != SumTest::Off;
        let refusal = self.keeper.refusal().filter(|_| asked);
        if refusal != self.refusal {
            self.refusal.clone_from(&refusal);
            self.status.set(Subject::SumTest, refusal);
        }
    }

    /// The sum test of a line, with the verdict if it is complete.
    fn record(&mut self, shown: &LiveShown) -> SumTestRecord {
        // A complete test was on its way before the line that says so.
        if shown.state == LiveState::Complete && self.keeper.conclusion(shown.run).is_none() {
            self.keep_sum_test();
        }
        // Lines from before the end may be written after it.
        let complete = shown.state == LiveState::Complete;
        let conclusion = self.keeper.conclusion(shown.run).filter(|_| complete);
        SumTestRecord::new(shown, conclusion.map(|c| &**c), self.keeper.refusal())
    }

    /// Keeps the editor's table at what the audio thread found out last.
    fn pin_table(&mut self) {
        let Some(posted) = self.keeper.posted() else { return };
        let record = posted.as_ref().map(|shown| self.record(shown));
        let complete = posted.filter(|shown| shown.state == LiveState::Complete);
        let conclusion = complete.and_then(|shown| self.keeper.conclusion(shown.run).cloned());
        self.board.pin(record, conclusion);
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
        while let Ok(line) = self.lines.pop() {
            let sum_test = line.sum_test.as_ref().map(|shown| self.record(shown));
            let written = Written { reading: &line.reading, sum_test };
            result = result.and(self.log.write(&written));
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
