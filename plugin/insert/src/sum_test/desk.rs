//! What the user asks for in the sum test, done on a thread that neither audio nor screen waits
//! for: comparing readings with models, and saving. The desk serves an instance that is not active,
//! too.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use ledgerline_measure::sum_test::identification::IdentificationError;
use ledgerline_measure::sum_test::{Identification, expectations, identify_played};

use super::bus::Conclusion;
use super::entries::Entries;
use super::save::{SaveError, Saved, save, with_meter};
use crate::destination::Destination;
use crate::errands::Errands;

/// Which meter shows these readings, at this sample rate?
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Question {
    /// Sample rate of the test, in Hz.
    pub rate_hz: u32,
    /// What was typed in.
    pub entries: Entries,
}

/// The answer to a question.
#[derive(Debug)]
pub struct Identified {
    /// What was asked.
    pub question: Question,
    /// Every model's standing, or why there is none.
    pub result: Result<Identification, IdentificationError>,
}

/// How far saving has come.
#[derive(Debug, Clone, Default)]
pub enum Saving {
    /// Nobody has asked for it.
    #[default]
    Idle,
    /// It is being written.
    Busy,
    /// It has ended.
    Done(Arc<SavingDone>),
}

/// What came of saving.
#[derive(Debug)]
pub struct SavingDone {
    /// Which run of the test it was.
    pub run: u32,
    /// The readings that went into it.
    pub entries: Entries,
    /// Where it is, or why it is not.
    pub result: Result<Saved, SaveError>,
}

/// The desk of one instance.
pub struct Desk {
    shared: Arc<Shared>,
    errands: Errands,
}

struct Shared {
    destination: Destination,
    state: Mutex<State>,
}

/// What is asked for and what has come of it.
#[derive(Default)]
struct State {
    /// The rate that was last prepared for.
    prepared: Option<u32>,
    asked: Option<Question>,
    orders: Orders,
    working: bool,
    identified: Option<Arc<Identified>>,
    saving: Saving,
}

/// What waits to be done; of each kind only the latest counts.
#[derive(Default)]
struct Orders {
    prepare: Option<u32>,
    identify: Option<Question>,
    save: Option<SaveOrder>,
}

struct SaveOrder {
    conclusion: Arc<Conclusion>,
    entries: Entries,
}

impl Desk {
    /// A desk that saves to a destination.
    #[must_use]
    pub fn new(destination: Destination) -> Self {
        let shared = Shared { destination, state: Mutex::default() };
        Self { shared: Arc::new(shared), errands: Errands::of_this_process() }
    }

    /// Works out what the ideal sum shows at a rate in Hz, before anybody waits for it.
    pub fn prepare(&self, rate_hz: u32) {
        let mut state = self.shared.lock();
        if state.prepared != Some(rate_hz) {
            state.prepared = Some(rate_hz);
            state.orders.prepare = Some(rate_hz);
            self.start(state);
        }
    }

    /// Asks which meter it is, unless that was the last question anyway.
    pub fn ask(&self, question: Question) {
        let mut state = self.shared.lock();
        if state.asked != Some(question) {
            state.asked = Some(question);
            state.orders.identify = Some(question);
            self.start(state);
        }
    }

    /// Asks for a record and a report of a test with the readings that were typed in. One thing is
    /// saved at a time.
    pub fn save(&self, conclusion: Arc<Conclusion>, entries: Entries) {
        let mut state = self.shared.lock();
        if !matches!(state.saving, Saving::Busy) {
            state.saving = Saving::Busy;
            state.orders.save = Some(SaveOrder { conclusion, entries });
            self.start(state);
        }
    }

    /// The latest answer.
    #[must_use]
    pub fn identified(&self) -> Option<Arc<Identified>> {
        self.shared.lock().identified.clone()
    }

    /// How far saving has come.
    #[must_use]
    pub fn saving(&self) -> Saving {
        self.shared.lock().saving.clone()
    }

    /// Makes sure that somebody does what waits.
    fn start(&self, mut state: MutexGuard<'_, State>) {
        if state.working {
            return;
        }
        let shared = self.shared.clone();
        match self.errands.run(move || shared.work()) {
            Ok(()) => state.working = true,
            Err(error) => state.give_up(error),
        }
    }
}

impl Drop for Desk {
    /// What is being written goes on to its end; for the rest there is nobody left.
    fn drop(&mut self) {
        let mut state = self.shared.lock();
        (state.orders.prepare, state.orders.identify) = (None, None);
    }
}

impl State {
    /// Without a thread: a save fails, anything else is asked for again.
    fn give_up(&mut self, error: std::io::Error) {
        (self.prepared, self.asked) = (None, None);
        if let Some(order) = std::mem::take(&mut self.orders).save {
            self.saving = Saving::Done(Arc::new(SavingDone {
                run: order.conclusion.run,
                entries: order.entries,
                result: Err(SaveError::NoThread(error)),
            }));
        }
    }
}

impl Shared {
    fn lock(&self) -> MutexGuard<'_, State> {
        // Orders and results are replaced whole, so that a panic leaves them sound.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Does what waits, and can be asked again whatever comes of it.
    fn work(&self) {
        if catch_unwind(AssertUnwindSafe(|| self.work_off())).is_err() {
            let mut state = self.lock();
            (state.working, state.prepared, state.asked) = (false, None, None);
        }
    }

    /// Does what waits until nothing does. The lock is held only to look and to hand over.
    fn work_off(&self) {
        loop {
            let mut state = self.lock();
            if let Some(order) = state.orders.save.take() {
                drop(state);
                let done = self.saved(order);
                self.lock().saving = Saving::Done(Arc::new(done));
            } else if let Some(question) = state.orders.identify.take() {
                drop(state);
                let identified = Arc::new(identified(question));
                self.lock().identified = Some(identified);
            } else if let Some(rate_hz) = state.orders.prepare.take() {
                drop(state);
                drop(expectations(rate_hz));
            } else {
                state.working = false;
                return;
            }
        }
    }

    fn saved(&self, order: SaveOrder) -> SavingDone {
        let SaveOrder { conclusion, entries } = order;
        let result = catch_unwind(AssertUnwindSafe(|| match &conclusion.result {
            Ok(audit) => save(&self.destination, &with_meter(audit, &entries)),
            Err(error) => Err(SaveError::NoAudit(*error)),
        }));
        let result = result.unwrap_or(Err(SaveError::Broken));
        SavingDone { run: conclusion.run, entries, result }
    }
}

fn identified(question: Question) -> Identified {
    let Question { rate_hz, entries } = question;
    let readings = entries.readings();
    let result = identify_played(rate_hz, entries.played, &readings, entries.resolution_db);
    Identified { question, result }
}
