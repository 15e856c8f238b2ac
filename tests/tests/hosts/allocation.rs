//! An allocation in `process` aborts the debug build; here is the proof that it does.
//!
//! A plugin double that allocates is linked into this test with the framework build that the
//! plugin under test uses: cargo builds one framework for both. The plugin's own library is then
//! looked through for the assertion, since a library without it would pass every other test.

use clack_host::prelude::PluginEntry;
use ledgerline_tests::alone::{alone, dies_alone};
use ledgerline_tests::built::{self, BuiltFor};
use ledgerline_tests::hosts::{ClapHost, Host, Layout, Setup, Take};
use ledgerline_tests::watched::Instance;

mod double;

use crate::material::noises;

/// Loads the double and plays half a second, while it works.
fn play_the_double(work: impl FnMut(&mut [&mut [f32]]) + Send + 'static) {
    *double::WORK.lock().expect("nobody else works") = Some(Box::new(work));
    let mut host = ClapHost::of_entry(&double_entry()).expect("the double");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&noises(2, 24_000, 60))).expect("audio");
    // Whatever it holds goes here, and not when the program ends.
    *double::WORK.lock().expect("it has done its work") = None;
}

fn allocates(block: &mut [&mut [f32]]) {
    std::hint::black_box(vec![0_u8; block.len()]);
}

#[allow(unsafe_code, reason = "an entry is trusted to keep the format's rules")]
fn double_entry() -> PluginEntry {
    // SAFETY: the entry was made by the framework's own macro and lives as long as the program.
    unsafe { PluginEntry::load_from_raw(double::entry(), c"double") }.expect("the double's entry")
}

#[test]
fn a_plugin_that_allocates_while_it_processes_aborts() {
    if let Some(printed) = dies_alone(|_| play_the_double(allocates)) {
        assert!(printed.contains("memory allocation of"), "another reason to abort:\n{printed}");
    }
}

#[test]
fn the_same_plugin_without_the_allocation_does_not() {
    alone(|_| play_the_double(|_| ()));
}

#[test]
fn neither_a_reset_nor_its_undoing_allocates() {
    alone(|_| {
        let mut instance = Instance::live(48_000.0, 2);
        let mut blocks = 0;
        play_the_double(move |block| {
            blocks += 1;
            match blocks % 7 {
                2 => instance.reset(),
                6 => instance.undo_reset(),
                _ => &mut instance,
            };
            instance.process(block);
        });
    });
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
