//! Every control is found by its name, as a screen reader finds it, and does what it says.

use egui::vec2;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use ledgerline::choices::{Aim, Choices, Listen, SumTest};
use ledgerline::params::switched_off::SwitchedOff;
use ledgerline_measure::{Halves, RmsReference, RmsWindow, TruePeakFilter};

use crate::{Scene, click, fixtures, harness};

fn ferry() -> Harness<'static, Scene> {
    harness(Scene::new(fixtures::ferry(), true))
}

#[test]
fn reset_is_asked_for_and_ends_a_freeze() {
    let mut harness = ferry();
    click(&mut harness, "Freeze");
    assert!(harness.state().state.frozen.is_some());
    assert!(!harness.state().reset);
    click(&mut harness, "Reset");
    assert!(harness.state().reset);
    assert!(harness.state().state.frozen.is_none());
}

#[test]
fn a_frozen_screen_keeps_its_readings() {
    let mut harness = ferry();
    click(&mut harness, "Freeze");
    harness.state_mut().snapshot = fixtures::clean();
    harness.run();
    assert!(
        harness.query_by_label_contains("withheld for inaudible content, above 20 kHz").is_some()
    );
    click(&mut harness, "Freeze");
    assert!(
        harness.query_by_label_contains("withheld for inaudible content, above 20 kHz").is_none()
    );
}

#[test]
fn the_theme_changes() {
    let mut harness = ferry();
    click(&mut harness, "Change theme");
    assert!(!harness.state().state.dark);
}

#[test]
fn the_settings_leave_the_sentence_and_the_ledger_in_sight() {
    let mut harness = ferry();
    click(&mut harness, "Settings");
    assert!(harness.state().state.settings_open);
    let sentence =
        harness.get_by_label_contains("withheld for inaudible content, above 20 kHz").rect();
    let bus = harness.get_by_label_contains("Bus, L and R").rect();
    let control = harness.get_by_label("Bypass: on").rect();
    assert!(!control.intersects(sentence) && !control.intersects(bus));
    click(&mut harness, "Settings");
    assert!(!harness.state().state.settings_open);
}

#[test]
fn each_option_is_chosen_by_its_button() {
    type Chosen = fn(&Choices) -> bool;
    let options: [(&str, Chosen); 15] = [
        ("Target: RMS", |c| c.target_kind == Aim::Rms),
        ("Target: true peak", |c| c.target_kind == Aim::Peak),
        ("Target: loudness", |c| c.target_kind == Aim::Loudness),
        ("Target: none", |c| c.target_kind == Aim::None),
        ("RMS window: 0.3 s", |c| c.rms_window == RmsWindow::Short),
        ("RMS window: 3 s", |c| c.rms_window == RmsWindow::Long),
        ("RMS window: all", |c| c.rms_window == RmsWindow::SinceReset),
        ("RMS reference: sine (AES17)", |c| c.rms_reference == RmsReference::FullScaleSine),
        ("Halves: main, side-chain", |c| c.halves == Halves::MainSidechain),
        ("True peak: BS.1770 filter", |c| c.true_peak == TruePeakFilter::Bs1770),
        ("Listen: audible", |c| c.listen == Listen::Audible),
        ("Listen: hidden", |c| c.listen == Listen::Hidden),
        ("Listen: off", |c| c.listen == Listen::Off),
        ("Log: on", |c| c.log),
        ("Bypass: on", |c| c.bypass),
    ];
    let mut harness = ferry();
    click(&mut harness, "Settings");
    for (label, chosen) in options {
        click(&mut harness, label);
        assert!(chosen(&harness.state().choices), "{label}: {:?}", harness.state().choices);
    }
}

#[test]
fn each_value_has_a_slider_under_its_name() {
    let mut harness = ferry();
    click(&mut harness, "Settings");
    for name in ["Target level", "Ceiling", "Peak hold", "Lower edge", "Upper edge"] {
        let sliders =
            harness.query_all_by_role_and_label(egui::accesskit::Role::Slider, name).count();
        assert_eq!(sliders, 1, "{name}");
    }
}

#[test]
fn an_edge_is_chosen_when_it_is_let_go() {
    let mut harness = ferry();
    click(&mut harness, "Settings");
    let slider = harness.get_by_role_and_label(egui::accesskit::Role::Slider, "Upper edge").rect();
    harness.drag_at(slider.left_center() + vec2(slider.width() * 0.2, 0.0));
    harness.run();
    harness.hover_at(slider.left_center() + vec2(slider.width() * 0.35, 0.0));
    harness.run();
    let before = harness.state().choices.high_edge_hz;
    assert_eq!(before, Choices::default().high_edge_hz, "while it is dragged");
    harness.drop_at(slider.left_center() + vec2(slider.width() * 0.35, 0.0));
    harness.run();
    let after = harness.state().choices.high_edge_hz;
    assert!(after < before, "{after} Hz after letting go");
}

#[test]
fn all_findings_open_from_the_button_under_the_sign() {
    let mut harness = ferry();
    assert!(harness.query_by_label_contains("there is rumble").is_none());
    click(&mut harness, "All findings");
    assert!(harness.query_by_label_contains("there is rumble").is_some());
}

fn switched_off(listen: Listen, feed: SumTest) -> Scene {
    let mut scene = Scene::new(fixtures::ferry(), true);
    scene.state.switched_off = Some(SwitchedOff { listen, feed });
    scene
}

#[test]
fn what_loading_has_switched_off_is_said_and_one_button_goes_on() {
    let mut harness = harness(switched_off(Listen::Hidden, SumTest::Off));
    harness.run();
    assert!(
        harness.query_by_label_contains("switched off listening to the hidden content.").is_some()
    );
    click(&mut harness, "Switch on again");
    assert_eq!(harness.state().choices.listen, Listen::Hidden);
    assert!(harness.query_by_label("Switch on again").is_none());

    let mut both = harness_of_both();
    click(&mut both, "Switch on again");
    let choices = both.state().choices;
    assert_eq!((choices.listen, choices.sum_test), (Listen::Audible, SumTest::Feed2));
}

#[test]
fn what_loading_has_switched_off_can_be_left() {
    let mut both = harness_of_both();
    both.run();
    assert!(both.query_by_label_contains("the audible band and feed 2.").is_some());
    click(&mut both, "Leave off");
    assert_eq!(both.state().choices, Choices::default());
    assert_eq!(both.state().state.switched_off, None);
}

fn harness_of_both() -> Harness<'static, Scene> {
    harness(switched_off(Listen::Audible, SumTest::Feed2))
}
