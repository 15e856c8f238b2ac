//! State is saved and recalled; what is no state is refused, and what was set stays.

use std::path::Path;

use ledgerline_tests::built::BuiltFor;
use ledgerline_tests::hosts::{Host, Layout, Setup, Take};

use crate::material::{assert_same_bits, noises};
use crate::shown::IDS;

/// Parameters that state has to bring back: all but the momentary ones.
fn kept() -> impl Iterator<Item = &'static str> {
    IDS.into_iter().filter(|id| !["reset", "mark"].contains(id))
}

/// Sets every parameter away from its default; switches and lists take their last value.
fn set_everything<H: Host>(host: &mut H) {
    for (id, parameter) in IDS.into_iter().zip(host.parameters()) {
        let value = if parameter.default > 0.5 { 0.0 } else { 1.0 };
        if kept().any(|kept| kept == id) {
            host.set(id, value);
        }
    }
    for id in ["target", "ceiling", "low_edge", "high_edge", "peak_hold", "feed_level"] {
        host.set(id, 0.37);
    }
}

fn values<H: Host>(host: &mut H) -> Vec<(&'static str, f64)> {
    kept().map(|id| (id, host.value(id))).collect()
}

fn assert_values<H: Host>(host: &mut H, expected: &[(&'static str, f64)], circumstances: &str) {
    for (id, expected) in expected {
        let value = host.value(id);
        assert!((value - expected).abs() < 1e-6, "{id}: {value}, not {expected}, {circumstances}");
    }
}

fn every_parameter_comes_back_in_another_instance<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let defaults = values(&mut host);
    set_everything(&mut host);
    let set = values(&mut host);
    for ((id, default), (_, set)) in defaults.iter().zip(&set) {
        assert!((default - set).abs() > 1e-3, "{id} was not moved");
    }
    let state = host.save().expect("a state");
    let mut other = H::load(&H::built()).expect("the plugin");
    other.recall(&state).expect("its own state");
    assert_values(&mut other, &set, "recalled in another instance");
    assert_eq!(other.save().expect("a state"), state, "saved again");
}

fn a_damaged_state_is_refused_and_what_was_set_stays<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    set_everything(&mut host);
    let set = values(&mut host);
    let state = host.save().expect("a state");
    let mut flipped = state.clone();
    flipped[state.len() / 2] = 0xff;
    let json = state.iter().position(|byte| *byte == b'{').expect("JSON");
    let framed = |text: &str| [&state[..json], text.as_bytes()].concat();
    let damaged: [(&str, Vec<u8>); 9] = [
        ("empty", Vec::new()),
        ("one byte", state[..1].to_vec()),
        ("cut in half", state[..state.len() / 2].to_vec()),
        ("the last byte missing", state[..state.len() - 1].to_vec()),
        ("a byte that is no text", flipped),
        ("garbage", (0..2000_u32).map(|i| ((i * 7919) >> 3) as u8).collect()),
        ("a huge length", vec![0xff; 64]),
        ("JSON of another kind", framed(r#"{"schema":"ledgerline.reading/1","time_s":1}"#)),
        ("not even an object", framed("[1, 2, 3]")),
    ];
    for (name, bytes) in damaged {
        assert!(host.recall(&bytes).is_err(), "accepted: {name}");
        assert_values(&mut host, &set, name);
    }
    host.recall(&state).expect("the good state still");
}

/// A later version may add parameters, and a file may hold numbers that no parameter can take.
fn unknown_and_impossible_values_do_no_harm<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let state = host.save().expect("a state");
    let json = state.iter().position(|byte| *byte == b'{').expect("JSON");
    let text = r#"{"version":"99.0.0","params":{
        "a_parameter_to_come":{"f32":1.0},
        "ceiling":{"f32":1e30},
        "low_edge":{"f32":-5.0},
        "halves":{"string":"upside_down"},
        "bypass":{"f32":0.5}
    },"fields":{"a_field_to_come":"{}"}}"#;
    let mut framed = state[..json].to_vec();
    if json == 8 {
        // CLAP's stream says its length first.
        framed = (text.len() as u64).to_le_bytes().to_vec();
    }
    framed.extend_from_slice(text.as_bytes());
    let _ = host.recall(&framed);
    for (id, value) in values(&mut host) {
        assert!((0.0..=1.0).contains(&value), "{id} is {value}");
    }
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    let take = noises(2, 20_000, 40);
    let output = host.play(&Take::new(&take)).expect("audio");
    assert_same_bits(&output, &take, "after an impossible state");
}

fn state_can_be_recalled_while_active<H: BuiltFor>(_: &Path) {
    let mut host = H::load(&H::built()).expect("the plugin");
    let take = noises(2, 30_000, 41);
    host.set("ceiling", 0.25);
    host.set("high_edge", 0.6);
    let set = values(&mut host);
    let state = host.save().expect("a state");
    let mut host = H::load(&H::built()).expect("the plugin");
    host.activate(Setup::new(48_000.0, Layout::Stereo)).expect("activation");
    host.play(&Take::new(&take)).expect("audio");
    host.recall(&state).expect("a state");
    let output = host.play(&Take::new(&take)).expect("audio");
    assert_same_bits(&output, &take, "after a recall");
    assert_values(&mut host, &set, "recalled while active");
}

in_both_formats!(
    every_parameter_comes_back_in_another_instance,
    a_damaged_state_is_refused_and_what_was_set_stays,
    unknown_and_impossible_values_do_no_harm,
    state_can_be_recalled_while_active,
);
