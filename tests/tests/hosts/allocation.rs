//! An allocation in `process` aborts the debug build; here is the proof that it does.
//!
//! A plugin double that allocates is linked into this test with the framework build that the
//! plugin under test uses: cargo builds one framework for both. The plugin's own library is then
//! looked through for the assertion, since a library without it would pass every other test.

use clack_host::prelude::PluginEntry;
use ledgerline_tests::alone::{alone, dies_alone};
use ledgerline_tests::built::{self, BuiltFor};
use ledgerline_tests::hosts::{ClapHost, Host, Layout, Setup, Take};

mod double;

use crate::material::noises;

/// Loads the double and plays half a second.
fn play_the_double(allocates: bool) {
    double::ALLOCATES.store(allocates, std::sync::atomic::Ordering::Relaxed);
    let mut host = ClapHost::of_entry(&double_entry()).expect("the double");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&noises(2, 24_000, 60))).expect("audio");
}

#[allow(unsafe_code, reason = "an entry is trusted to keep the format's rules")]
fn double_entry() -> PluginEntry {
    // SAFETY: the entry was made by the framework's own macro and lives as long as the program.
    unsafe { PluginEntry::load_from_raw(double::entry(), c"double") }.expect("the double's entry")
}

#[test]
fn a_plugin_that_allocates_while_it_processes_aborts() {
    if let Some(printed) = dies_alone(|_| play_the_double(true)) {
        assert!(printed.contains("memory allocation of"), "another reason to abort:\n{printed}");
    }
}

#[test]
fn the_same_plugin_without_the_allocation_does_not() {
    alone(|_| play_the_double(false));
}

#[test]
fn the_plugin_under_test_was_built_with_the_assertion() {
    if built::bundles().is_some() {
        // Release bundles go without it: the check costs time on the audio thread.
        return;
    }
    let library = std::fs::read(ClapHost::built()).expect("the library");
    let sought = b"Memory allocation of ";
    assert!(
        library.windows(sought.len()).any(|window| window == sought),
        "the assertion's message is not in {}",
        ClapHost::built().display()
    );
}
