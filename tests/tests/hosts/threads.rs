//! How many threads many instances have, and that none is left when the last has gone: a host may
//! unload the library then.

use std::path::Path;
use std::time::{Duration, Instant};

use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Layout, Setup, Take};

use crate::material::noises;

const INSTANCES: usize = 40;

/// Names of this process's threads, as Linux keeps them: the first 15 bytes.
fn threads() -> Vec<String> {
    let tasks = std::fs::read_dir("/proc/self/task").expect("Linux");
    let name = |task: std::io::Result<std::fs::DirEntry>| {
        // A thread may end between being listed and being asked.
        std::fs::read_to_string(task.ok()?.path().join("comm")).ok()
    };
    tasks.filter_map(name).map(|name| name.trim_end().to_owned()).collect()
}

/// Those that were not there at first.
fn new_threads(before: &[String]) -> Vec<String> {
    let mut before = before.to_vec();
    let mut new = threads();
    new.retain(|name| match before.iter().position(|old| old == name) {
        Some(old) => {
            before.remove(old);
            false
        }
        None => true,
    });
    new.sort();
    new
}

/// Panics unless these are the new threads. The system may list one that has been waited for a
/// little longer.
fn assert_new_threads(before: &[String], expected: &[&str], circumstances: &str) {
    let start = Instant::now();
    while new_threads(before) != expected && start.elapsed() < Duration::from_secs(30) {
        std::thread::sleep(Duration::from_millis(5));
    }
    assert_eq!(new_threads(before), expected, "{circumstances}");
}

/// The plugin's, and the framework's, which sleeps.
const TWO: [&str; 2] = ["bg-worker", "ledgerline"];

fn all_instances_share_one_thread_that_ends_with_the_last<H: BuiltFor>(_folder: &Path) {
    let before = threads();
    let take = noises(2, 30_000, 40);
    let mut hosts: Vec<H> =
        (0..INSTANCES).map(|_| H::load(&H::built()).expect("the plugin")).collect();
    for host in &mut hosts {
        host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
        host.play(&Take::new(&take)).expect("audio");
    }
    assert_new_threads(&before, &TWO, "many instances");
    while hosts.len() > 1 {
        hosts.pop();
    }
    assert_new_threads(&before, &TWO, "one instance");
    drop(hosts);
    assert_new_threads(&before, &[], "no instance");
    // And again, as when the next project is opened.
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&take)).expect("audio");
    assert_new_threads(&before, &TWO, "an instance after the last");
    drop(host);
    assert_new_threads(&before, &[], "no instance again");
}

in_both_formats!(all_instances_share_one_thread_that_ends_with_the_last);
