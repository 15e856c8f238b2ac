//! The view of the sum test: a feed is asked about before it is heard, the table and the answer
//! are there in words, and every text finds its place.

mod meter;

use std::sync::{Arc, LazyLock};

use egui_kittest::kittest::Queryable;
use ledgerline::choices::SumTest;
use ledgerline::sum_test::bus::Conclusion;
use ledgerline::sum_test::record::SumTestRecord;
use ledgerline_measure::sum_test::audit::live::LiveTest;
use ledgerline_measure::sum_test::{Feed, Schedule};

use crate::layout::{SIZES, check};
use crate::{Scene, click, fixtures, harness};
pub use meter::{not_saved, saved, typing};

/// The table after so many seconds of a test on a bus with one channel half a decibel down.
fn record(seconds: f64) -> Arc<SumTestRecord> {
    let schedule = Schedule::new(48_000).expect("a rate at which the test plays");
    let [one, two] = [Feed::One, Feed::Two].map(|feed| feed.all(&schedule, -20.0));
    let bus: Vec<f32> = one.iter().zip(&two).map(|(x, y)| x + 0.944 * y).collect();
    let heard = ((seconds * schedule.rate_hz()) as usize).min(bus.len());
    let mut live = LiveTest::new(48_000).expect("a rate at which the test plays");
    live.process(0, &[&bus[..heard]]);
    let conclusion =
        live.conclude(-20.0).ok().map(|audit| Conclusion { run: 1, result: Ok(audit) });
    Arc::new(SumTestRecord::new(live.shown(), conclusion.as_ref(), None))
}

static COMPLETE: LazyLock<Arc<SumTestRecord>> = LazyLock::new(|| record(f64::INFINITY));
static HALFWAY: LazyLock<Arc<SumTestRecord>> = LazyLock::new(|| record(40.0));

/// A bus instance with a table.
pub fn bus(complete: bool, dark: bool) -> Scene {
    let mut scene = Scene::new(fixtures::clean(), dark);
    scene.choices.sum_test = SumTest::Bus;
    scene.state.sum_test.record = Some(if complete { COMPLETE.clone() } else { HALFWAY.clone() });
    scene
}

#[test]
fn a_feed_is_asked_about_with_the_reason_before_it_is_set() {
    let mut harness = harness(Scene::new(fixtures::clean(), true));
    click(&mut harness, "Sum test");
    click(&mut harness, "This is: feed 1");
    assert_eq!(harness.state().choices.sum_test, SumTest::Off, "set without the user's word");
    assert!(harness.query_by_label_contains("harms ears and tweeters").is_some());
    click(&mut harness, "Leave it off");
    assert_eq!(harness.state().choices.sum_test, SumTest::Off);
    assert!(harness.query_by_label_contains("harms ears and tweeters").is_none());
    click(&mut harness, "This is: feed 2");
    click(&mut harness, "They are down: play feed 2");
    assert_eq!(harness.state().choices.sum_test, SumTest::Feed2);
    assert!(harness.query_by_label("Output: feed 2").is_some(), "nothing says what comes out");
    // Asked once: from feed to feed nothing gets louder.
    click(&mut harness, "This is: feed 1");
    assert_eq!(harness.state().choices.sum_test, SumTest::Feed1);
    click(&mut harness, "This is: off");
    assert_eq!(harness.state().choices.sum_test, SumTest::Off);
}

#[test]
fn feeds_start_low_and_off_in_an_offline_render() {
    let mut harness = harness(Scene::new(fixtures::clean(), true));
    click(&mut harness, "Sum test");
    assert_eq!(harness.state().choices.feed_level_dbfs, -20.0);
    assert!(!harness.state().choices.feed_offline);
    click(&mut harness, "Offline: feed too");
    assert!(harness.state().choices.feed_offline);
    let role = egui::accesskit::Role::Slider;
    assert_eq!(harness.query_all_by_role_and_label(role, "Feed level").count(), 1);
}

#[test]
fn the_view_opens_with_the_role_and_closes_by_its_button() {
    let mut harness = harness(bus(true, true));
    harness.run();
    assert!(harness.state().state.sum_test_view.open);
    click(&mut harness, "Sum test");
    assert!(!harness.state().state.sum_test_view.open);
    click(&mut harness, "Sum test");
    click(&mut harness, "Settings");
    assert!(harness.state().state.settings_open && !harness.state().state.sum_test_view.open);
}

#[test]
fn the_table_says_what_was_expected_and_what_was_measured() {
    let harness = harness(bus(true, true));
    for words in [
        "Step 2, the noise on the other channel: whole −0.5, ideal 0.0, audible −0.5, ideal 0.0, off",
        "Step 3, the same noise on both: whole +5.8, ideal +6.0",
        "Faulty. Feed 2's channel is 0.50 dB lower",
    ] {
        assert!(harness.query_by_label_contains(words).is_some(), "{words}");
    }
}

#[test]
fn half_a_test_has_half_a_table_and_no_answer() {
    let harness = harness(bus(false, true));
    assert!(
        harness.query_by_label_contains("Step 7, the same noise, 100 ms late: whole").is_some()
    );
    assert!(harness.query_by_label_contains("inaudible tone: not measured yet").is_some());
    assert!(harness.query_by_label_contains("Step 8 of 16").is_some());
}

#[test]
fn every_text_of_the_view_is_whole_and_apart_from_every_other() {
    for size in SIZES {
        for complete in [false, true] {
            check(&mut bus(complete, true), size, &format!("bus {complete} {size:?}"));
        }
        for role in [SumTest::Off, SumTest::Feed1, SumTest::Bus] {
            let mut scene = Scene::new(fixtures::ferry(), false);
            scene.state.sum_test_view.open = true;
            scene.choices.sum_test = role;
            check(&mut scene, size, &format!("{role:?} {size:?}"));
        }
    }
}
