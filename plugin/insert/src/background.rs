//! What the audio thread must not do: meters are built and freed, entries found, and log lines
//! written. One thread does it for all instances of a process, see [`rounds`]; while an instance is
//! activated and deactivated, the host's main thread does.

pub mod rounds;

use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;

use ledgerline_measure::entries::Entry;
use ledgerline_measure::sum_test::audit::live::{LiveShown, LiveState};
use ledgerline_measure::sum_test::expectations;
use ledgerline_measure::{Reading, Settings, SettingsError, words};
use rtrb::{Consumer, Producer, RingBuffer};

use crate::boards::{Boards, HistoryFeed, HistoryKeeper, history_feed};
use crate::bus::Bus;
use crate::choices::SumTest;
use crate::entries::{Keeper, StreamIn};
use crate::errands::Errands;
use crate::log::Log;
use crate::params::LedgerlineParams;
use crate::rebuild::{Maker, Measuring, Taker, exchange};
use crate::status::{Status, Subject};
use crate::sum_test::bus::{BusKeeper, BusSide, bus_test};
use crate::sum_test::record::SumTestRecord;
use rounds::{Membership, Need, Served, serve};

/// How many log lines may wait: far more than an offline render can fill in a pause.
const LINES_WAITING: usize = 128;

/// What lines of the log are made from.
#[derive(Debug, Clone, Copy)]
pub struct Line {
    /// Every reading.
    pub reading: Reading,
    /// The sum test, where this instance hears the bus.
    pub sum_test: Option<LiveShown>,
    /// When it was read.
    pub moment: Moment,
}

/// When a line is due.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Moment {
    /// A second has passed.
    Second {
        /// Where the host's transport stands, in seconds, if it runs.
        host_s: Option<f64>,
    },
    /// Processing, or the log, has stopped.
    Stop,
    /// A reset was undone, since which lines have come.
    Undo,
}

/// The audio thread's end of the log.
pub struct LineFeed {
    lines: Producer<Line>,
    lost: Arc<AtomicU32>,
    shared: Arc<Shared>,
}

impl LineFeed {
    /// Says that this instance is given audio, so that it is looked after soon. Neither waits nor
    /// wakes anybody.
    pub fn audio_came(&self) {
        self.shared.heard.store(true, Ordering::Relaxed);
    }

    /// Hands over a line. Never waits; a line without space is lost, and counted.
    pub fn push(&mut self, line: Line) {
        if self.lines.push(line).is_err() {
            self.lost.fetch_add(1, Ordering::Relaxed);
        }
    }
}

/// The audio thread's ends of what connects it with the background.
pub struct Ends {
    /// Where new meters come from, and old ones go.
    pub taker: Taker,
    /// Where tests of the bus come from, and their tables go.
    pub bus_side: BusSide,
    /// Where the log's lines go.
    pub lines: LineFeed,
    /// Where the history goes.
    pub history: HistoryFeed,
    /// Whether the log is on whatever the user says.
    pub log_forced: bool,
}

/// What is done for one instance, and its place on the rounds.
pub struct Background {
    shared: Arc<Shared>,
    /// From the first activation on.
    membership: Option<Membership>,
}

struct Shared {
    work: Mutex<Work>,
    /// Whether the instance is active.
    active: AtomicBool,
    /// Whether audio came since somebody asked.
    heard: AtomicBool,
}

/// Everything that waits to be done. Whoever holds the lock may do it.
struct Work {
    params: Arc<LedgerlineParams>,
    status: Arc<Status>,
    maker: Maker,
    keeper: BusKeeper,
    boards: Arc<Boards>,
    entries: Keeper,
    history: HistoryKeeper,
    /// Why the sum test cannot play, as the editor was told.
    refusal: Option<String>,
    /// The bus, and the settings of the latest meter made for it, while active.
    active: Option<(Bus, Settings)>,
    lines: Consumer<Line>,
    lost: Arc<AtomicU32>,
    log: Log,
    log_forced: bool,
    log_was_wanted: bool,
    /// Whether nothing more comes.
    ends: bool,
    /// What the user was told of the log.
    said: String,
    /// Lines since then for which there was no space.
    came_too_fast: u32,
    /// The rate for which it is known what an ideal sum shows.
    prepared: Option<u32>,
    errands: Errands,
    /// Whether something here has panicked: what is left may make no sense.
    failed: bool,
}

impl Background {
    /// The background of one instance, on the rounds from its first activation on, and the audio
    /// thread's ends of what connects the two.
    #[must_use]
    pub fn new(
        params: Arc<LedgerlineParams>,
        status: Arc<Status>,
        boards: Arc<Boards>,
        log: Log,
    ) -> (Self, Ends) {
        let (taker, maker) = exchange();
        let (bus_side, keeper) = bus_test();
        let log_forced = log.is_forced();
        let (history_in, history_out) = history_feed();
        let (lines_in, lines_out) = RingBuffer::new(LINES_WAITING);
        let lost = Arc::new(AtomicU32::new(0));
        let work = Work {
            params,
            status,
            maker,
            keeper,
            boards,
            entries: Keeper::default(),
            history: history_out,
            refusal: None,
            active: None,
            lines: lines_out,
            lost: lost.clone(),
            log_forced,
            log,
            log_was_wanted: false,
            ends: false,
            said: String::new(),
            came_too_fast: 0,
            prepared: None,
            errands: Errands::of_this_process(),
            failed: false,
        };
        let shared = Arc::new(Shared {
            work: Mutex::new(work),
            active: AtomicBool::new(false),
            heard: AtomicBool::new(false),
        });
        let lines = LineFeed { lines: lines_in, lost, shared: shared.clone() };
        (
            Self { shared, membership: None },
            Ends { taker, bus_side, lines, history: history_in, log_forced },
        )
    }

    /// From now on meters are kept at what the parameters ask for. `settings` are those of the
    /// meter that the audio thread has. Returns where it hands over what passes, to be searched for
    /// entries. Not for the audio thread.
    pub fn activate(&mut self, bus: Bus, settings: Settings, offline: bool) -> StreamIn {
        let stream = {
            let mut work = self.shared.lock();
            work.failed = false;
            work.active = Some((bus, settings));
            work.keeper.activate(bus.rate_hz);
            work.boards.sum_test.set_rate(work.keeper.rate_hz());
            work.log_was_wanted = false;
            work.entries.begin(bus, settings, offline)
        };
        serve(&*self.shared);
        self.shared.active.store(true, Ordering::Release);
        match &self.membership {
            Some(membership) => membership.call(),
            None => match rounds::join(self.shared.clone()) {
                Ok(membership) => self.membership = Some(membership),
                Err(error) => self.shared.lock().status.set(
                    Subject::Log,
                    Some(format!(
                        "Neither log lines nor new settings can be dealt with before playback \
                         stops: the system gives no thread ({error})."
                    )),
                ),
            },
        }
        stream
    }

    /// Tells the user why nothing is measured, or that all is well.
    pub fn tell_unmeasured(&self, error: Option<SettingsError>) {
        let sentence = error.map(|error| unmeasured(&error));
        self.shared.lock().status.set(Subject::Measuring, sentence);
    }

    /// Finishes everything that waits: when this returns, every log line is on disk. Not for the
    /// audio thread.
    pub fn deactivate(&mut self) {
        self.shared.active.store(false, Ordering::Release);
        self.shared.lock().ends = true;
        serve(&*self.shared);
        let mut work = self.shared.lock();
        (work.active, work.ends) = (None, false);
    }
}

impl Drop for Background {
    fn drop(&mut self) {
        self.deactivate();
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, Work> {
        self.work.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Served for Shared {
    fn need(&self) -> Need {
        match (self.active.load(Ordering::Acquire), self.heard.swap(false, Ordering::Relaxed)) {
            (false, _) => Need::None,
            (true, false) => Need::Now,
            (true, true) => Need::Soon,
        }
    }

    fn look(&self) {
        self.lock().look();
    }

    fn failed(&self) {
        let mut work = self.lock();
        work.failed = true;
        work.status.set(
            Subject::Log,
            Some(
                "An error in Ledgerline itself: until the host activates it anew, it writes no \
                 log and takes no new settings. The audio passes."
                    .into(),
            ),
        );
    }
}

impl Work {
    /// Sees to it that what an ideal sum shows is known before the sum test's table asks for it: a
    /// good part of a second's work.
    fn prepare(&mut self) {
        let wanted = self.active.is_some() && self.params.choices().hears_test();
        let Some(rate_hz) = self.keeper.rate_hz().filter(|_| wanted) else { return };
        if self.prepared != Some(rate_hz) {
            self.prepared = Some(rate_hz);
            // Without a thread, it is worked out when it is asked for.
            let _ = self.errands.run(move || drop(expectations(rate_hz)));
        }
    }

    fn look(&mut self) {
        if self.failed {
            return;
        }
        self.prepare();
        self.maker.free();
        self.rebuild();
        self.keep_sum_test();
        self.keep_log();
        self.history.take(&self.boards.history);
        self.find_entries();
        self.write_lines();
        self.pin_table();
    }

    fn keep_sum_test(&mut self) {
        let choices = self.params.choices();
        let wanted = self.active.is_some() && choices.hears_test();
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
        self.boards.sum_test.pin(record, conclusion);
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

    /// Finds entries in what has passed. The log has those that have ended before the lines that were
    /// due meanwhile.
    fn find_entries(&mut self) {
        let Self { params, boards, entries, history, log, ends, .. } = self;
        let (board, logs) = (&boards.entries, self.log_was_wanted);
        let mut ended = |entry: &Entry| {
            if logs {
                log.entry(entry, Instant::now());
            }
        };
        let keep_history = || history.take(&boards.history);
        entries.take(params.choices().view(), board, &mut ended, keep_history);
        if *ends {
            entries.end(board, &mut ended);
        }
    }

    /// Opens the log where it is wanted.
    fn keep_log(&mut self) {
        let now = Instant::now();
        let wanted = self.log_forced || self.params.log.value();
        if wanted != self.log_was_wanted {
            self.log_was_wanted = wanted;
            // Switching on is the user's way to say: try again.
            self.log.try_again();
            self.said.clear();
            self.came_too_fast = 0;
            self.status.set(Subject::Log, None);
        }
        if wanted && self.active.is_some() {
            self.log.open(now);
        }
    }

    fn write_lines(&mut self) {
        let now = Instant::now();
        while let Ok(line) = self.lines.pop() {
            let sum_test = line.sum_test.as_ref().map(|shown| self.record(shown));
            match line.moment {
                Moment::Second { host_s } => {
                    self.log.second(&line.reading, host_s, sum_test.as_ref(), now);
                }
                Moment::Stop => self.log.reading(&line.reading, sum_test.as_ref(), now),
                Moment::Undo => self.log.undo(&line.reading, now),
            }
        }
        self.report();
    }

    /// Tells the user what is new about the log.
    fn report(&mut self) {
        self.came_too_fast += self.lost.swap(0, Ordering::Relaxed);
        let mut sentences: Vec<String> =
            self.log.trouble().map(ToString::to_string).into_iter().collect();
        if self.came_too_fast > 0 {
            let lines = words::counted(self.came_too_fast.into(), "line", "lines");
            sentences.push(format!("The log is not complete: {lines} came too fast to write."));
        }
        let text = sentences.join(" ");
        if text != self.said {
            self.status.set(Subject::Log, Some(text.clone()).filter(|text| !text.is_empty()));
            self.said = text;
        }
    }
}

/// What to tell the user when a bus cannot be measured.
#[must_use]
pub fn unmeasured(error: &ledgerline_measure::SettingsError) -> String {
    format!(
        "No readings: {error}. The audio passes unchanged, and is silent while it is listened to."
    )
}
