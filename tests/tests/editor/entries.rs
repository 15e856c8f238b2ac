//! The entries on the screen: the latest change, two that are picked, and one that is shown.

use std::sync::Arc;

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use ledgerline::entries::beside::Beside;
use ledgerline::entries::board::{Listed, Pair, Told};
use ledgerline::params::window::{Drawer, Theme};
use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::words;

use crate::{Scene, click, harness};

/// Entries of noises that were switched, with the drawer open.
pub fn scene(theme: Theme) -> Scene {
    let mut scene = Scene::of("apart", theme);
    scene.state.drawer = Some(Drawer::Entries);
    scene
}

/// Two of them picked, which the background would answer.
fn picked(pair: Pair) -> Scene {
    let mut scene = scene(Theme::Dark);
    scene.state.entries_view.picked = pair.map(Some);
    scene.state.entries.picked = scene.state.entries.latest.clone();
    scene
}

/// More of them than a window has space for.
fn many() -> Scene {
    let mut scene = scene(Theme::Light);
    let told = &mut scene.state.entries;
    let some = told.ended.clone();
    let all = (0..120)
        .map(|index| Listed { number: index + 1, ..some[index as usize % some.len()].clone() });
    (told.ended, told.older) = (Arc::new(all.collect()), 1_234);
    told.under_way = Some(Listed { number: 121, ..some[0].clone() });
    told.listening_since_s = Some(37_175.3);
    scene
}

/// The scenes whose layout is checked.
pub fn scenes() -> Vec<Scene> {
    let mut gone = picked([1, 2]);
    gone.state.entries.picked = None;
    let mut none = scene(Theme::Dark);
    none.state.entries = Told::default();
    vec![scene(Theme::Dark), picked([2, 3]), gone, many(), none, beside(Theme::Dark)]
}

#[test]
fn the_latest_change_is_told_until_two_entries_are_picked() {
    let mut harness = harness(scene(Theme::Dark));
    harness.run();
    let told = "one of the two halves that were identical now comes 50.00 ms late";
    assert!(harness.query_all_by_label_contains(told).count() > 0);
    click(&mut harness, "Entry 2 from 0:06, level step: decorrelated");
    assert_eq!(harness.state().state.entries_view.pair(), None);
    click(&mut harness, "Entry 3 from 0:14, level step: identical");
    assert_eq!(harness.state().state.entries_view.pair(), Some([2, 3]));
    assert!(harness.query_all_by_label_contains(told).count() == 0, "another pair is asked for");
    click(&mut harness, "Unpick");
    assert_eq!(harness.state().state.entries_view.pair(), None);
}

#[test]
fn an_entry_is_shown_and_left_again() {
    let mut harness = harness(scene(Theme::Dark));
    click(&mut harness, "Entry 2 from 0:06, level step: decorrelated");
    click(&mut harness, "Show");
    let shown =
        |harness: &Harness<'_, Scene>| harness.state().state.past.as_ref().and_then(|p| p.entry);
    assert_eq!(shown(&harness), Some(2));
    // Two independent noises add by 3 dB to one of them.
    click(&mut harness, "Halves");
    assert!(harness.query_all_by_label_contains("+3.0").count() > 0);
    click(&mut harness, "Back to now");
    assert_eq!(shown(&harness), None);
    click(&mut harness, "3 identical, at 0:14");
    assert_eq!(shown(&harness), Some(3));
}

#[test]
fn earlier_entries_are_found_by_turning_back() {
    let mut harness = harness(many());
    for _ in 0..20 {
        click(&mut harness, "Earlier");
    }
    assert!(harness.query_by_label_contains("Entry 1 from").is_some());
    for _ in 0..20 {
        click(&mut harness, "Later");
    }
    assert!(harness.query_by_label_contains("Entry 120 from").is_some());
}

/// Types into the fields of the entries what a meter shows of them.
fn type_beside(harness: &mut Harness<'_, Scene>, model: MeterKind) {
    let ended = harness.state().state.entries.ended.clone();
    for listed in ended.iter() {
        let band = [listed.levels.whole, listed.levels.audible][model.band_index()];
        let level_db = band.bus.of(model.detector).finite().expect("a level");
        type_into(harness, listed.number, &words::fixed(level_db + 17.0, 1));
    }
}

fn type_into(harness: &mut Harness<'_, Scene>, entry: u64, text: &str) {
    let label = format!("Shown in entry {entry}");
    let field = harness.get_by_label(&label);
    field.focus();
    field.type_text(text);
    harness.run();
}

/// Noises in the middle, which meters show differently, with what a sample-peak meter shows of them.
pub fn beside(theme: Theme) -> Scene {
    let mut scene = Scene::of("noises", theme);
    scene.state.drawer = Some(Drawer::Entries);
    let ended = scene.state.entries.ended.clone();
    for listed in ended.iter() {
        let level_db = listed.levels.whole.bus.of(Detector::SamplePeak).finite().expect("a level");
        let text = words::fixed(level_db + 17.0, 1);
        scene.state.entries_view.beside.text(listed).text = text;
    }
    scene
}

#[test]
fn a_meter_is_named_from_what_it_showed_of_entries() {
    let mut noises = scene(Theme::Dark);
    noises.state.entries = Scene::of("noises", Theme::Dark).state.entries;
    let mut harness = harness(noises);
    type_into(&mut harness, 1, "-7.0");
    assert!(harness.query_by_label_contains("of another entry too").is_some());
    harness.state_mut().state.entries_view.beside = Beside::default();
    type_beside(&mut harness, MeterKind { detector: Detector::SamplePeak, audible: false });
    let told = "The meter reads the largest sample, held, whole band";
    assert!(harness.query_by_label_contains(told).is_some(), "not told");
    type_into(&mut harness, 1, "x");
    assert!(harness.query_by_label("Shown in entry 1: not a number, ignored").is_some());
    // Other entries, other readings.
    harness.state_mut().state.entries = Told::default();
    harness.run();
    harness.state_mut().state.entries = Scene::of("noises", Theme::Dark).state.entries;
    harness.run();
    let value = harness.get_by_label("Shown in entry 1").value();
    assert_eq!(value.as_deref(), Some(""));
}

#[test]
fn a_mark_is_asked_for_once_a_press() {
    let mut harness = harness(scene(Theme::Dark));
    click(&mut harness, "Mark");
    assert_eq!(harness.state().marks, 1);
}
