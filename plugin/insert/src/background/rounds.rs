//! The one thread of a process that looks after every instance of the plugin in it.
//!
//! The audio threads never wake it: that would be a system call. It goes its rounds by itself,
//! quickly while any instance is given audio, slowly while instances are active without, and
//! sleeps until it is called while none is active.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use crate::in_common::InCommon;

/// Between two rounds while audio plays. Instances that got none are passed by.
const QUICK_PAUSE: Duration = Duration::from_millis(20);
/// Between two rounds to every instance.
const SLOW_PAUSE: Duration = Duration::from_millis(250);
/// How long the rounds stay quick after the last audio: longer than any usual block.
const AFTER_AUDIO: Duration = Duration::from_secs(1);

/// How much there is to do for an instance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Need {
    /// Nothing, until it calls.
    None,
    /// It is active, and has been given no audio since it was last asked.
    Now,
    /// It has been given audio since it was last asked.
    Soon,
}

/// Something that is looked after.
pub trait Served: Send + Sync {
    /// How much there is to do. Waits for nobody.
    fn need(&self) -> Need;

    /// Does what there is to do.
    fn look(&self);

    /// [`look`](Self::look) has panicked. From now on it does nothing, and the user is told.
    fn failed(&self);
}

/// Looks after one, and keeps a panic from whoever does.
pub fn serve(one: &dyn Served) {
    if catch_unwind(AssertUnwindSafe(|| one.look())).is_err() {
        one.failed();
    }
}

static ROUNDS: InCommon<Rounds> = InCommon::new();

/// The thread. It ends, and is waited for, when this is dropped.
pub struct Rounds {
    list: Arc<List>,
    thread: Option<JoinHandle<()>>,
}

/// A place on the rounds; giving it up takes the instance off them.
pub struct Membership {
    rounds: Arc<Rounds>,
    one: Arc<dyn Served>,
}

struct List {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Default)]
struct State {
    served: Vec<Arc<dyn Served>>,
    /// Somebody wants to be looked after now.
    called: bool,
    ended: bool,
}

/// Puts an instance on the rounds of this process.
///
/// # Errors
///
/// When the system gives no thread.
pub fn join(one: Arc<dyn Served>) -> std::io::Result<Membership> {
    Ok(Rounds::add(ROUNDS.get_or(Rounds::start)?, one))
}

impl Membership {
    /// Has the next round come now, and to everybody. Not for the audio thread.
    pub fn call(&self) {
        self.rounds.list.call();
    }
}

impl Drop for Membership {
    fn drop(&mut self) {
        self.rounds.list.lock().served.retain(|one| !Arc::ptr_eq(one, &self.one));
    }
}

impl Rounds {
    fn start() -> std::io::Result<Self> {
        let list = Arc::new(List { state: Mutex::default(), changed: Condvar::new() });
        let rounds = list.clone();
        let thread =
            std::thread::Builder::new().name("ledgerline".into()).spawn(move || rounds.go())?;
        Ok(Self { list, thread: Some(thread) })
    }

    fn add(rounds: Arc<Self>, one: Arc<dyn Served>) -> Membership {
        rounds.list.lock().served.push(one.clone());
        rounds.list.call();
        Membership { rounds, one }
    }
}

impl Drop for Rounds {
    fn drop(&mut self) {
        self.list.lock().ended = true;
        self.list.call();
        if let Some(thread) = self.thread.take() {
            // It catches what panics on it; there is nothing to learn from how it ended.
            let _ = thread.join();
        }
    }
}

impl List {
    fn lock(&self) -> MutexGuard<'_, State> {
        // Held only to change or copy what is in it.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn call(&self) {
        self.lock().called = true;
        self.changed.notify_all();
    }

    fn go(&self) {
        let mut served = Vec::new();
        let (mut last_audio, mut last_slow) = (None, None);
        loop {
            let called = {
                let mut state = self.lock();
                if state.ended {
                    return;
                }
                served.clone_from(&state.served);
                std::mem::take(&mut state.called)
            };
            let now = Instant::now();
            let within = |moment: Option<Instant>, length| {
                moment.is_some_and(|moment| now.saturating_duration_since(moment) < length)
            };
            let every = called || !within(last_slow, SLOW_PAUSE);
            let most = round(&served, every);
            // What goes away while this thread sleeps must not be kept by it.
            served.clear();
            if every {
                last_slow = Some(now);
            }
            if most == Need::Soon {
                last_audio = Some(now);
            }
            match most {
                Need::None if !within(last_audio, AFTER_AUDIO) => self.wait(None),
                _ if within(last_audio, AFTER_AUDIO) => self.wait(Some(QUICK_PAUSE)),
                _ => self.wait(Some(SLOW_PAUSE)),
            }
        }
    }

    /// Waits for a call, or for so long.
    fn wait(&self, pause: Option<Duration>) {
        let state = self.lock();
        if state.called {
            return;
        }
        match pause {
            Some(pause) => drop(self.changed.wait_timeout(state, pause)),
            None => drop(self.changed.wait(state)),
        }
    }
}

/// Looks after those that were given audio, or after `every` one that is active, and says how much
/// there was to do for the busiest.
fn round(served: &[Arc<dyn Served>], every: bool) -> Need {
    let mut most = Need::None;
    for one in served {
        let need = one.need();
        if need == Need::Soon || (every && need == Need::Now) {
            serve(&**one);
        }
        most = most.max(need);
    }
    most
}

#[cfg(test)]
mod tests;
