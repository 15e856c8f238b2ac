//! The thread of all instances, with instances that only count.

use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

use super::*;

/// How long a test waits for what must come.
const PATIENCE: Duration = Duration::from_secs(20);

#[derive(Default)]
struct Instance {
    heard: AtomicBool,
    active: AtomicBool,
    panics: AtomicBool,
    looks: AtomicU32,
    failures: AtomicU32,
}

impl Instance {
    fn active() -> Arc<Self> {
        Arc::new(Self { active: true.into(), ..Self::default() })
    }

    fn looks(&self) -> u32 {
        self.looks.load(Ordering::SeqCst)
    }

    fn wait_for_looks(&self, more: u32) {
        let (start, wanted) = (Instant::now(), self.looks() + more);
        while self.looks() < wanted {
            self.heard.store(true, Ordering::SeqCst);
            assert!(start.elapsed() < PATIENCE, "nobody came");
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

impl Served for Instance {
    fn need(&self) -> Need {
        let heard = self.heard.swap(false, Ordering::SeqCst);
        match (self.active.load(Ordering::SeqCst), heard) {
            (false, _) => Need::None,
            (true, false) => Need::Now,
            (true, true) => Need::Soon,
        }
    }

    fn look(&self) {
        self.looks.fetch_add(1, Ordering::SeqCst);
        assert!(!self.panics.load(Ordering::SeqCst), "as the test wants it");
    }

    fn failed(&self) {
        self.failures.fetch_add(1, Ordering::SeqCst);
    }
}

fn rounds() -> Arc<Rounds> {
    Arc::new(Rounds::start().expect("a thread"))
}

#[test]
fn a_panic_of_one_instance_leaves_the_others_served() {
    let rounds = rounds();
    let [broken, sound] = [Instance::active(), Instance::active()];
    broken.panics.store(true, Ordering::SeqCst);
    let _first = Rounds::add(rounds.clone(), broken.clone());
    let _second = Rounds::add(rounds, sound.clone());
    broken.wait_for_looks(3);
    sound.wait_for_looks(3);
    assert!(broken.failures.load(Ordering::SeqCst) >= 3);
    assert_eq!(sound.failures.load(Ordering::SeqCst), 0);
}

#[test]
fn an_instance_that_becomes_active_is_served_when_it_calls() {
    let one = Arc::new(Instance::default());
    let place = Rounds::add(rounds(), one.clone());
    // Long enough for the rounds to have fallen asleep, and nothing fails if they have not.
    std::thread::sleep(AFTER_AUDIO / 4);
    assert_eq!(one.looks(), 0, "an inactive instance has nothing to be done");
    one.active.store(true, Ordering::SeqCst);
    place.call();
    one.wait_for_looks(1);
}

#[test]
fn with_its_last_instance_the_thread_has_ended_and_nothing_is_kept() {
    let rounds = rounds();
    let ended = Arc::downgrade(&rounds.list);
    let [one, other] = [Instance::active(), Instance::active()];
    let first = Rounds::add(rounds.clone(), one.clone());
    let second = Rounds::add(rounds, other.clone());
    one.wait_for_looks(1);
    drop(first);
    other.wait_for_looks(2);
    drop(second);
    // The thread itself holds on to the list until it returns.
    assert!(ended.upgrade().is_none(), "the thread has not been waited for");
    assert_eq!((Arc::strong_count(&one), Arc::strong_count(&other)), (1, 1));
}
