//! Work that takes long: files, judgements, what an ideal sum shows. It is done on one thread for
//! all instances of a process, which starts when there is some and ends when there is none, so that
//! the rounds (`background::rounds`) of other instances need not wait for it.

use std::collections::VecDeque;
use std::convert::Infallible;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;

use crate::in_common::InCommon;

/// A piece of work. What it holds must not be what [`Errands`] are kept by: the thread would wait
/// for itself.
type Errand = Box<dyn FnOnce() + Send>;

static RUNNER: InCommon<Runner> = InCommon::new();

/// The way to the thread, for as long as one may need it. The last one to go waits for what is
/// being done: the code of the thread must not be unloaded under it.
#[derive(Clone)]
pub struct Errands(Arc<Runner>);

struct Runner {
    list: Arc<Mutex<List>>,
}

#[derive(Default)]
struct List {
    waiting: VecDeque<Errand>,
    thread: Option<JoinHandle<()>>,
    working: bool,
}

impl Errands {
    /// The way to the thread of this process.
    #[must_use]
    pub fn of_this_process() -> Self {
        let made = RUNNER.get_or(|| Ok::<_, Infallible>(Runner { list: Arc::default() }));
        Self(made.unwrap_or_else(|never| match never {}))
    }

    /// Has something done, after what waits already. A panic in it ends nothing else.
    ///
    /// # Errors
    ///
    /// When the system gives no thread. Then it will not be done.
    pub fn run(&self, errand: impl FnOnce() + Send + 'static) -> std::io::Result<()> {
        let mut list = lock(&self.0.list);
        if !list.working {
            if let Some(ended) = list.thread.take() {
                // It has nothing left to do but to return.
                let _ = ended.join();
            }
            let work = self.0.list.clone();
            let named = std::thread::Builder::new().name("ledgerline desk".into());
            list.thread = Some(named.spawn(move || do_all(&work))?);
            list.working = true;
        }
        list.waiting.push_back(Box::new(errand));
        Ok(())
    }
}

impl Drop for Runner {
    fn drop(&mut self) {
        let thread = lock(&self.list).thread.take();
        if let Some(thread) = thread {
            let _ = thread.join();
        }
    }
}

fn lock(list: &Mutex<List>) -> MutexGuard<'_, List> {
    // Held only to put in and take out.
    list.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Does what waits until nothing does.
fn do_all(list: &Mutex<List>) {
    loop {
        let errand = {
            let mut list = lock(list);
            let next = list.waiting.pop_front();
            list.working = next.is_some();
            next
        };
        let Some(errand) = errand else { return };
        // Whoever asked finds out by what is not there.
        let _ = catch_unwind(AssertUnwindSafe(errand));
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;
    use std::time::Duration;

    use super::*;

    const PATIENCE: Duration = Duration::from_secs(20);

    #[test]
    fn a_panic_in_one_errand_leaves_the_next_to_be_done_and_the_last_to_go_waits() {
        let errands = Errands(Arc::new(Runner { list: Arc::default() }));
        let thread = Arc::downgrade(&errands.0.list);
        let (done, is_done) = channel();
        errands.run(|| panic!("as the test wants it")).expect("a thread");
        for number in 0..3 {
            let done = done.clone();
            errands.run(move || done.send(number).expect("somebody listens")).expect("a thread");
        }
        let told: Vec<i32> =
            (0..3).map(|_| is_done.recv_timeout(PATIENCE).expect("an errand")).collect();
        assert_eq!(told, [0, 1, 2]);
        let late = done.clone();
        errands
            .run(move || {
                std::thread::sleep(Duration::from_millis(50));
                late.send(3).expect("somebody listens");
            })
            .expect("a thread");
        drop(errands);
        assert_eq!(is_done.try_recv(), Ok(3), "it was not waited for");
        assert!(thread.upgrade().is_none(), "the thread holds on to its list");
    }
}
