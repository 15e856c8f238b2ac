//! The entries on the screen: what they look like, and that two of them can be picked.

use std::sync::Arc;

use egui_kittest::kittest::Queryable;
use ledgerline::entries::board::{ChangeTo, Listed, Told};
use ledgerline_measure::Level;
use ledgerline_measure::entries::change::What;
use ledgerline_measure::entries::{BandLevels, Change, OpenedBy, ShownLevels};

use crate::{Scene, click, fixtures, harness};

const SENTENCE: &str = "The sum fell by 3.0 dB: one source now comes 50.0 ms late, so the two add like \
    independent ones. RMS, needle, programme peak I and momentary loudness show it; the others show \
    less: sample peak 0.0 dB, true peak −2.4 dB and programme peak II −2.6 dB. Hidden content has no \
    part in it: the audible band fell by 3.0 dB as well. Out through a converter and in again, a \
    sample-peak meter would show about −1.7 dB. That is how sounds add: the summing is right.";

fn change(against: u64, to: u64, db: f64) -> Arc<ChangeTo> {
    let shown = |scale: f64| {
        ShownLevels(
            [0.0, 0.8, 1.0, 1.0, 0.9, 0.85, 1.0].map(|share| Level::from_db(db * scale * share)),
        )
    };
    let band = |scale: f64| BandLevels { sum: shown(scale), bus: shown(0.5 * scale) };
    let change = Change {
        against,
        peaks_over_s: 6.0,
        whole: band(1.0),
        audible: band(1.1),
        what: What::Copy,
        or: Vec::new(),
        copy: None,
        shown_by: Vec::new(),
        not_shown_by: Vec::new(),
        sentence: SENTENCE.into(),
    };
    Arc::new(ChangeTo { to, change })
}

/// More entries than a window has space for, the latest of them being listened to.
pub fn told() -> Told {
    let opened_by = [OpenedBy::Step, OpenedBy::Mark, OpenedBy::Bypass, OpenedBy::Step];
    let what = [What::SourceRemoved, What::Decorrelated, What::Hidden, What::CannotTell];
    let entry = |number: u64| {
        let index = number as usize % 4;
        Listed {
            number,
            opened_by: if number == 101 { OpenedBy::Start } else { opened_by[index] },
            start_s: 36_000.0 + 7.3 * number as f64,
            end_s: 36_007.3 + 7.3 * number as f64,
            incomplete: number.is_multiple_of(7),
            what: (number > 101).then_some(what[index]),
        }
    };
    Told {
        ended: Arc::new((101..=160).map(entry).collect()),
        older: 1_234,
        under_way: Some(Listed { what: None, ..entry(161) }),
        listening_since_s: Some(37_175.3),
        latest: Some(change(159, 160, -3.0)),
        picked: None,
    }
}

/// A scene with the entries open.
pub fn scene(told: Told, dark: bool) -> Scene {
    let mut scene = Scene::new(fixtures::independent_noises(), dark);
    scene.state.entries_view.open = true;
    scene.state.entries = told;
    scene
}

/// The scenes whose layout is checked.
pub fn scenes() -> Vec<Scene> {
    let mut picked = scene(told(), true);
    picked.state.entries_view.picked = [Some(160), Some(158)];
    picked.state.entries.picked = Some(change(158, 160, -123.4));
    let mut gone = scene(told(), true);
    gone.state.entries_view.picked = [Some(1), Some(158)];
    let first = Told { ended: Arc::default(), latest: None, older: 0, ..told() };
    vec![scene(Told::default(), true), scene(first, false), scene(told(), true), picked, gone]
}

#[test]
fn the_latest_change_is_told_until_two_entries_are_picked() {
    let mut harness = harness(scene(told(), true));
    harness.run();
    assert!(harness.query_by_label_contains("one source now comes 50.0 ms late").is_some());
    assert!(harness.query_by_label_contains("listening since 10:19:35").is_some());
    assert!(
        harness
            .query_by_label(
                "RMS, dB; bus whole −1.5; bus audible −1.7; sum whole −3.0; sum audible −3.3"
            )
            .is_some()
    );
    click(&mut harness, "Entry 160 from 10:19:28, level step: source removed");
    assert_eq!(harness.state().state.entries_view.pair(), None);
    click(&mut harness, "Entry 158 from 10:19:13, bypass off: hidden content");
    assert_eq!(harness.state().state.entries_view.pair(), Some([158, 160]));
    harness.state_mut().state.entries.picked = Some(change(158, 160, -6.0));
    harness.run();
    assert!(harness.query_by_label_contains("RMS, dB; bus whole −3.0").is_some());
    assert!(harness.query_by_label_contains("listening since").is_none());
    click(&mut harness, "Unpick");
    assert_eq!(harness.state().state.entries_view.pair(), None);
}

#[test]
fn earlier_entries_are_found_by_turning_back() {
    let mut harness = harness(scene(told(), true));
    for _ in 0..20 {
        click(&mut harness, "Earlier");
    }
    assert!(harness.query_by_label_contains("Entry 101 from 10:12:17, start").is_some());
    for _ in 0..20 {
        click(&mut harness, "Later");
    }
    assert!(harness.query_by_label_contains("Entry 160 from").is_some());
}

#[test]
fn a_mark_is_asked_for_once_a_press() {
    let mut harness = harness(scene(told(), true));
    click(&mut harness, "Mark");
    assert_eq!(harness.state().marks, 1);
}
