//! Every control is found by its name, as a screen reader finds it, and does what it says.

use egui::vec2;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use ledgerline::choices::{Aim, Choices, Listen, SumTest};
use ledgerline::params::switched_off::SwitchedOff;
use ledgerline::params::window::{Drawer, Theme};
use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::{ClipAt, Halves, RmsReference, RmsWindow, TruePeakFilter};

use crate::{Scene, click, fixtures, harness};

fn ferry() -> Harness<'static, Scene> {
    harness(Scene::of("ferry", Theme::Dark))
}

/// Opens a menu of the head, and chooses something in it.
fn choose(harness: &mut Harness<'_, Scene>, menu: &str, item: &str) {
    click(harness, menu);
    click(harness, item);
}

#[test]
fn reset_lies_in_a_menu_ends_a_freeze_and_can_be_taken_back() {
    let mut harness = ferry();
    click(&mut harness, "Freeze");
    assert!(harness.state().state.frozen.is_some());
    assert!(harness.query_by_label("Reset").is_none(), "beside what is pressed often");
    choose(&mut harness, "More", "Reset");
    assert!(harness.state().reset);
    assert!(harness.state().state.frozen.is_none());
    assert!(harness.query_by_label("Undo reset").is_none());
    harness.state_mut().state.undo_s = Some(9.3);
    harness.run();
    click(&mut harness, "Undo reset");
    assert!(harness.state().undo);
}

#[test]
fn a_frozen_screen_keeps_its_readings() {
    let mut harness = ferry();
    let told = "A 31 kHz tone takes 2.7 dB of room since 0:4";
    click(&mut harness, "Freeze");
    harness.state_mut().watched = fixtures::fixture("clean");
    harness.run();
    assert!(harness.query_by_label_contains(told).is_some());
    click(&mut harness, "Freeze");
    // A finding stays for five seconds.
    harness.run_steps(30);
    assert!(harness.query_by_label_contains(told).is_none());
}

#[test]
fn the_colours_change() {
    let mut harness = ferry();
    for theme in [Theme::Light, Theme::Contrast, Theme::Dark] {
        choose(&mut harness, "More", &format!("Colours: {}", theme.word()));
        assert_eq!(harness.state().state.theme, theme);
    }
}

#[test]
fn one_drawer_is_open_or_none_and_the_sentence_stays_in_sight() {
    let mut harness = ferry();
    for drawer in Drawer::ALL {
        click(&mut harness, drawer.word());
        assert_eq!(harness.state().state.drawer, Some(drawer));
        assert!(harness.query_by_label_contains("A 31 kHz tone takes 2.7 dB").is_some());
    }
    click(&mut harness, "Settings");
    assert_eq!(harness.state().state.drawer, None);
}

#[test]
fn a_target_of_a_published_document_is_chosen_with_its_ceiling() {
    let mut harness = ferry();
    choose(&mut harness, "Target and ceiling", "Target: a85");
    let choices = harness.state().choices;
    assert_eq!(
        (choices.target_kind, choices.target_value, choices.ceiling_db),
        (Aim::Loudness, -24.0, -2.0)
    );
    choose(&mut harness, "Target and ceiling", "Target: none");
    assert_eq!(harness.state().choices.target_kind, Aim::None);
}

#[test]
fn listening_is_near_at_hand_and_says_what_it_does() {
    let mut harness = ferry();
    click(&mut harness, "Listen");
    assert!(harness.query_by_label_contains("Turn the monitors down first").is_some());
    click(&mut harness, "Listen: audible");
    assert_eq!(harness.state().choices.listen, Listen::Audible);
    click(&mut harness, "Listen");
    click(&mut harness, "Listen: damage");
    assert_eq!(harness.state().choices.listen, Listen::Damage);
    // The account plays what it speaks of.
    click(&mut harness, "Listen to what is hidden");
    assert_eq!(harness.state().choices.listen, Listen::Hidden);
    click(&mut harness, "Listen to what is hidden");
    assert_eq!(harness.state().choices.listen, Listen::Off);
}

#[test]
fn overs_stand_in_for_the_room_until_they_are_looked_at() {
    let mut harness = harness(Scene::of("loud", Theme::Dark));
    harness.run();
    assert!(harness.query_by_label_contains("OVER, TURN DOWN BY").is_some());
    click(&mut harness, "Look at the overs");
    // At the first of them.
    assert!(harness.state().state.past.is_some());
    click(&mut harness, "Back to now");
    assert!(harness.query_by_label_contains("OVER, TURN DOWN BY").is_none());
    assert!(harness.query_by_label_contains("TURN DOWN NOW").is_some());
}

/// Goes on by keys until a control has them.
fn go_to(harness: &mut Harness<'_, Scene>, label: &str) {
    for _ in 0..100 {
        if harness.get_by_label(label).is_focused() {
            return;
        }
        harness.key_press(egui::Key::Tab);
        harness.run();
    }
    panic!("{label} is not reached");
}

#[test]
fn every_control_is_reached_and_named_by_keys_alone() {
    let mut harness = ferry();
    let sentence = harness.get_by_label_contains("A 31 kHz tone takes 2.7 dB").rect();
    harness.drag_at(sentence.center());
    harness.drop_at(sentence.center());
    harness.run();
    let controls = [
        "Target and ceiling",
        "Listen",
        "Mark",
        "Freeze",
        "More",
        "All findings",
        "Listen to what is hidden",
        "Show 10 min",
        "Time: arrow keys go to moments that have passed",
        "1 start, at 0:00",
        "Ledger",
        "Settings",
    ];
    let mut reached = Vec::new();
    for _ in 0..40 {
        harness.key_press(egui::Key::Tab);
        harness.run();
        let focused = controls
            .iter()
            .find(|label| harness.query_by_label(label).is_some_and(|node| node.is_focused()));
        reached.extend(focused);
    }
    for label in controls {
        assert!(reached.contains(&label), "{label} is not among {reached:?}");
    }
    // The foot names what has the keys: the button itself says less.
    go_to(&mut harness, "Show 10 min");
    let named = harness.output().shapes.iter().any(|shape| match &shape.shape {
        egui::Shape::Text(text) => text.galley.text() == "Show 10 min",
        _ => false,
    });
    assert!(named);
    // A key presses what it has come to.
    go_to(&mut harness, "Ledger");
    harness.key_press(egui::Key::Space);
    harness.run();
    assert_eq!(harness.state().state.drawer, Some(Drawer::Ledger));
    harness.key_press(egui::Key::Escape);
    harness.run();
    assert!(!harness.get_by_label("Ledger").is_focused(), "the host has the keys again");
}

#[test]
fn what_happened_has_a_flag() {
    let mut harness = harness(Scene::of("reset", Theme::Dark));
    // The host's stop can be read, and a click on an entry's flag shows the entry.
    for flag in ["stop, at 1:00", "2 reset, at 0:20", "3 mark, at 0:40"] {
        assert!(harness.query_by_label(flag).is_some(), "{flag}");
    }
    click(&mut harness, "2 reset, at 0:20");
    let past = harness.state().state.past.as_ref().and_then(|past| past.entry);
    assert_eq!(past, Some(2));
}

#[test]
fn a_moment_that_is_clicked_at_is_shown_until_one_goes_back() {
    let mut harness = harness(Scene::of("noises", Theme::Dark));
    harness.run();
    let lane = harness.get_by_label("dBTP over time").rect();
    harness.hover_at(lane.center());
    harness.run();
    assert!(harness.query_by_label_contains("host").is_none(), "painted, not spoken");
    harness.drag_at(lane.right_center() - vec2(lane.width() * 0.2, 0.0));
    harness.drop_at(lane.right_center() - vec2(lane.width() * 0.2, 0.0));
    harness.run();
    let past = harness.state().state.past.clone().expect("a moment");
    // 20 per cent of a minute ago, of 28 s.
    assert!((past.at_s - 16.0).abs() <= 1.0, "{} s", past.at_s);
    assert!((past.snapshot.reading.time_s - past.at_s).abs() < 0.2);
    click(&mut harness, "Back to now");
    assert!(harness.state().state.past.is_none());
}

#[test]
fn each_option_is_chosen_by_its_button() {
    type Chosen = fn(&Choices) -> bool;
    let options: [(&str, Chosen); 17] = [
        ("Target: RMS", |c| c.target_kind == Aim::Rms),
        ("Target: peak", |c| c.target_kind == Aim::Peak),
        ("Target: loudness", |c| c.target_kind == Aim::Loudness),
        ("Target: none", |c| c.target_kind == Aim::None),
        ("RMS window: 0.3 s", |c| c.rms_window == RmsWindow::Short),
        ("RMS window: 3 s", |c| c.rms_window == RmsWindow::Long),
        ("RMS window: all", |c| c.rms_window == RmsWindow::SinceReset),
        ("RMS reference: sine (AES17)", |c| c.rms_reference == RmsReference::FullScaleSine),
        ("Halves: main, side-chain", |c| c.halves == Halves::MainSidechain),
        ("True peak: BS.1770 filter", |c| c.true_peak == TruePeakFilter::Bs1770),
        ("Clipping: at the ceiling", |c| c.clip_at == ClipAt::Ceiling),
        ("Listen: audible", |c| c.listen == Listen::Audible),
        ("or to: hidden", |c| c.listen == Listen::Hidden),
        ("or to: damage", |c| c.listen == Listen::Damage),
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
fn all_findings_open_from_the_button_beside_the_first() {
    let mut harness = ferry();
    let told = "A loudness meter shows";
    assert!(harness.query_by_label_contains(told).is_none());
    click(&mut harness, "All findings");
    assert!(harness.query_by_label_contains(told).is_some());
}

fn switched_off(listen: Listen, feed: SumTest) -> Scene {
    let mut scene = Scene::of("ferry", Theme::Dark);
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

#[test]
fn your_own_meter_is_chosen_and_calibrated_in_its_drawer() {
    let mut harness = harness(Scene::of("yours", Theme::Dark));
    click(&mut harness, "Your meter");
    assert!(harness.query_by_label_contains("now: −4.0, ").is_some(), "the bus peaks there");
    let role = egui::accesskit::Role::TextInput;
    let field = harness.get_by_role_and_label(role, "What your meter shows now");
    field.focus();
    field.type_text("14");
    harness.run();
    click(&mut harness, "Calibrate");
    assert_eq!(harness.state().choices.meter_offset_db, 18.0);
    harness.run();
    assert!(harness.query_by_label_contains("now: 14.0, ").is_some());
    click(&mut harness, "average: needle");
    click(&mut harness, "Band: audible");
    let meter = harness.state().choices.your_meter().expect("one is chosen");
    let chosen = MeterKind { detector: Detector::Needle, audible: true };
    assert_eq!((meter.kind, meter.offset_db), (chosen, 18.0));
    harness.run();
    assert!(harness.query_by_label_contains("now: ").is_none(), "another kind has run so far");
    click(&mut harness, "Reads: off");
    assert_eq!(harness.state().choices.your_meter(), None);
}
