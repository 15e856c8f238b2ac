//! The entries on the screen: the latest change, two that are picked, and one that is shown.

use std::sync::Arc;

use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use ledgerline::entries::board::{Listed, Pair, Told};
use ledgerline::params::window::{Drawer, Theme};

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
    vec![scene(Theme::Dark), picked([2, 3]), gone, many(), none]
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

#[test]
fn a_mark_is_asked_for_once_a_press() {
    let mut harness = harness(scene(Theme::Dark));
    click(&mut harness, "Mark");
    assert_eq!(harness.state().marks, 1);
}
