//! What a glance tells: it is safe to follow, it is what was measured, and it does not flicker.

use egui_kittest::kittest::{NodeT, Queryable};
use ledgerline::params::window::Theme;

use crate::{Scene, fixtures, harness};

/// The larger of the two numbers, as a change of the level.
fn advice_db(scene: Scene) -> Option<f64> {
    let mut harness = harness(scene);
    harness.run();
    let spoken = |label: &str| {
        let node = harness.query_all_by_label_contains(label).next()?;
        let words = node.accesskit_node().value().or(node.accesskit_node().label())?;
        words.strip_prefix(label)?.split_whitespace().next()?.parse::<f64>().ok()
    };
    let [up, down] = [["LIFT NOW", "ROOM NOW"], ["TURN DOWN NOW", "OVER, TURN DOWN BY"]];
    let up = up.into_iter().find_map(spoken);
    up.or_else(|| down.into_iter().find_map(spoken).map(|db| -db))
}

#[test]
fn who_obeys_the_largest_number_stays_under_the_ceiling() {
    let mut told = 0;
    for name in fixtures::ALL {
        for aims in [false, true] {
            let scene = Scene::of(name, Theme::Dark);
            let scene = if aims { scene.aiming() } else { scene };
            let reading = scene.watched.snapshot.reading;
            let Some(by_db) = advice_db(scene) else { continue };
            told += 1;
            let peak = reading.whole.bus.true_peak_dbtp.finite().expect("there is sound");
            // One decimal is told.
            assert!(peak + by_db <= -1.0 + 0.051, "{name}: {peak:.2} dBTP, told to go {by_db} dB");
        }
    }
    assert!(told >= 14, "{told} numbers were told");
}

#[test]
fn what_is_drawn_is_what_is_told() {
    for name in ["ferry", "noises", "clean", "loud", "mono", "live"] {
        let watched = fixtures::fixture(name);
        let (columns, _) = watched.history.columns.of(ledgerline::history::Span::Everything);
        let columns: Vec<_> = columns.collect();
        let highest = |band: usize| {
            columns.iter().map(|column| column.true_peak_dbtp[band]).fold(-200.0, f32::max)
        };
        let reading = watched.snapshot.reading;
        for (band, told) in [reading.whole.bus, reading.audible.bus].into_iter().enumerate() {
            let told = told.true_peak_dbtp.finite().expect("there is sound");
            let drawn = f64::from(highest(band));
            assert!((drawn - told).abs() < 1e-4, "{name}, band {band}: {drawn} drawn, {told} told");
        }
        let overs: u64 = columns.iter().map(|column| column.overs).sum();
        assert_eq!(Some(overs), reading.whole.bus.overs, "{name}");
    }
}

#[test]
fn silence_is_never_clear() {
    for (name, told) in [("silence", "No signal yet."), ("paused", "Silent for 0:25.")] {
        let mut harness = harness(Scene::of(name, Theme::Dark));
        harness.run();
        assert!(harness.query_by_label_contains(told).is_some(), "{name}");
        assert!(harness.query_by_label_contains("Clear").is_none(), "{name}");
    }
}

#[test]
fn numbers_stand_for_a_tenth_of_a_second() {
    let mut harness = egui_kittest::Harness::builder()
        .with_size(ledgerline::editor::screen::FIRST_SIZE)
        .with_step_dt(0.03)
        .build_ui_state(
            |ui, scene: &mut Scene| scene.show_in_window(ui),
            Scene::of("clean", Theme::Dark),
        );
    let mut moved = 0;
    let mut before = String::new();
    for step in 0..40 {
        let reading = &mut harness.state_mut().watched.snapshot.reading;
        reading.whole.bus.true_peak_dbtp = reading.whole.bus.true_peak_dbtp.plus(0.1);
        reading.room.room_db = reading.room.room_db.plus(-0.1);
        reading.time_s += 0.03;
        harness.step();
        let node = harness.query_all_by_label_contains("NOW").next().expect("a number");
        let words = node.accesskit_node().value().unwrap_or_default();
        moved += usize::from(step > 0 && words != before);
        before = words;
    }
    // 1.2 s: ten times a second at most.
    assert!((8..=12).contains(&moved), "moved {moved} times");
}
