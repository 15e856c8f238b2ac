//! What replaces the output never comes back with a saved state unasked: it is off from the first
//! frame, the host is told, and whoever switches it on thereafter, an automation above all, is
//! obeyed.

use std::path::Path;

use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Change, Host, Layout, Setup, Take, parameter_hash};

use crate::material::{assert_same_bits, noises};
use crate::sum_test::choose;

const RATE_HZ: f64 = 48_000.0;

/// A state that was saved with something on.
fn state_with<H: BuiltFor>(on: &[(&str, &str)]) -> Vec<u8> {
    let mut host = H::load(&H::built()).expect("the plugin");
    for (id, text) in on {
        choose(&mut host, id, text);
    }
    host.save().expect("a state")
}

fn stereo<H: Host>(host: &mut H) {
    host.activate(Setup::new(RATE_HZ, Layout::Stereo)).expect("activation");
}

fn assert_told_off<H: Host>(host: &mut H, ids: &[&str]) {
    let expected: Vec<_> = ids.iter().map(|id| (parameter_hash(id), 0.0)).collect();
    assert_eq!(host.told(), expected, "what the host was told of {ids:?}");
    for id in ids {
        assert_eq!(host.value(id), 0.0, "{id} is not off");
    }
}

fn feeds_and_listening_are_off_after_loading_and_the_host_is_told<H: BuiltFor>(_: &Path) {
    type Case<'a> = (&'a [(&'a str, &'a str)], &'a [&'a str]);
    let cases: [Case; 4] = [
        (&[("listen", "Hidden content, shifted down")], &["listen"]),
        (&[("listen", "Audible band only")], &["listen"]),
        (&[("sum_test", "Feed 1")], &["sum_test"]),
        (&[("listen", "Audible band only"), ("sum_test", "Feed 2")], &["listen", "sum_test"]),
    ];
    let input = noises(2, 30_000, 50);
    for (on, ids) in cases {
        let state = state_with::<H>(on);
        let mut host = H::load(&H::built()).expect("the plugin");
        host.recall(&state).expect("a state");
        // What a host compares: it reads what it has loaded, and saves the same again.
        assert_eq!(host.save().expect("a state"), state, "{on:?}");
        stereo(&mut host);
        assert_same_bits(&host.play(&Take::new(&input)).expect("audio"), &input, "after loading");
        assert_told_off(&mut host, ids);
        assert!(host.told().is_empty(), "told twice");
    }
}

fn a_state_loaded_while_it_plays_switches_off_too<H: BuiltFor>(_: &Path) {
    let state = state_with::<H>(&[("sum_test", "Feed 1")]);
    let input = noises(2, 48_000, 51);
    let mut host = H::load(&H::built()).expect("the plugin");
    stereo(&mut host);
    assert_same_bits(&host.play(&Take::new(&input)).expect("audio"), &input, "before");
    host.recall(&state).expect("a state");
    assert_same_bits(&host.play(&Take::new(&input)).expect("audio"), &input, "after");
    assert_told_off(&mut host, &["sum_test"]);
    // And as undo does it: the same state once more, now that the user has switched the feed on.
    let on = [Change { at_frame: 0, id: "sum_test", value: 1.0 / 3.0 }];
    let output = host.play(&Take::new(&input).with_changes(&on)).expect("audio");
    assert!(output != input, "the feed does not play");
    host.recall(&state).expect("a state");
    let output = host.play(&Take::new(&input)).expect("audio");
    let faded = 2048;
    for (output, input) in output.iter().zip(&input) {
        assert_eq!(output[faded..], input[faded..], "the feed plays on");
    }
}

fn automation_after_loading_counts<H: BuiltFor>(_: &Path) {
    let state = state_with::<H>(&[("sum_test", "Feed 1"), ("feed_offline", "On")]);
    let input = noises(2, 48_000, 52);
    let expected = vec![crate::sum_test::pure_feed_1(RATE_HZ, 48_000); 2];
    // In the first block, which is also the one that switches off, and as a host sets it before.
    for before in [false, true] {
        let mut host = H::load(&H::built()).expect("the plugin");
        host.recall(&state).expect("a state");
        let on = [Change { at_frame: 0, id: "sum_test", value: 1.0 / 3.0 }];
        if before {
            host.set("sum_test", 1.0 / 3.0);
        }
        let setup = Setup { offline: true, ..Setup::new(RATE_HZ, Layout::Stereo) };
        host.activate(setup).expect("activation");
        let take = Take::new(&input);
        let take = if before { take } else { take.with_changes(&on) };
        let output = host.play(&take).expect("audio");
        assert_same_bits(&output, &expected, &format!("automated, before playing: {before}"));
        assert!((host.value("sum_test") - 1.0 / 3.0).abs() < 1e-6);
    }
}

fn the_role_on_the_bus_stays<H: BuiltFor>(_: &Path) {
    let state = state_with::<H>(&[("sum_test", "Bus")]);
    let mut host = H::load(&H::built()).expect("the plugin");
    host.recall(&state).expect("a state");
    stereo(&mut host);
    host.play(&Take::new(&noises(2, 4800, 53))).expect("audio");
    assert!(host.told().is_empty());
    assert_eq!(host.value("sum_test"), 1.0);
}

/// What plays or is measured has to go on where the input is silent.
fn the_host_is_kept_awake_while_silence_matters<H: BuiltFor>(_: &Path) {
    let silence = vec![vec![0.0; 4800]; 2];
    let mut host = H::load(&H::built()).expect("the plugin");
    stereo(&mut host);
    host.play(&Take::new(&silence)).expect("audio");
    assert!(host.may_sleep(), "kept awake for nothing");
    for (role, awake) in [("Feed 1", true), ("Bus", true), ("Off", false), ("Feed 2", true)] {
        let mut host = H::load(&H::built()).expect("the plugin");
        choose(&mut host, "sum_test", role);
        stereo(&mut host);
        host.play(&Take::new(&silence)).expect("audio");
        assert_eq!(!host.may_sleep(), awake, "as {role}");
    }
}

in_both_formats!(
    feeds_and_listening_are_off_after_loading_and_the_host_is_told,
    a_state_loaded_while_it_plays_switches_off_too,
    automation_after_loading_counts,
    the_role_on_the_bus_stays,
    the_host_is_kept_awake_while_silence_matters,
);
