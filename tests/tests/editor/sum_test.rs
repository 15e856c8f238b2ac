//! The view of the sum test: a feed is asked about before it is heard, the table and the answer
//! are there in words, and every text finds its place.

mod meter;

use std::sync::{Arc, LazyLock};

use egui_kittest::kittest::Queryable;
use ledgerline::choices::{FeedsPlay, SumTest};
use ledgerline::params::window::{Drawer, Theme};
use ledgerline::sum_test::bus::Conclusion;
use ledgerline::sum_test::record::SumTestRecord;
use ledgerline_measure::sum_test::audit::live::LiveTest;
use ledgerline_measure::sum_test::{Feed, Schedule};

use crate::layout::{Checked, SIZES};
use crate::{Scene, click, harness};
pub use meter::{saved, typing};

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
pub fn bus(complete: bool, theme: Theme) -> Scene {
    let mut scene = Scene::of("clean", theme);
    scene.choices.sum_test = SumTest::Bus;
    scene.state.sum_test.record = Some(if complete { COMPLETE.clone() } else { HALFWAY.clone() });
    scene
}

#[test]
fn a_feed_is_asked_about_with_the_reason_before_it_is_set() {
    let mut harness = harness(Scene::of("clean", Theme::Dark));
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
    let mut harness = harness(Scene::of("clean", Theme::Dark));
    click(&mut harness, "Sum test");
    assert_eq!(harness.state().choices.feed_level_dbfs, -20.0);
    assert!(!harness.state().choices.feed_offline);
    click(&mut harness, "Offline: feed too");
    assert!(harness.state().choices.feed_offline);
    let role = egui::accesskit::Role::Slider;
    assert_eq!(harness.query_all_by_role_and_label(role, "Feed level").count(), 1);
}

#[test]
fn feeds_play_the_loop_and_a_bus_judges_none() {
    let mut harness = harness(bus(true, Theme::Dark));
    harness.run();
    let judged = "channel is 0.50 dB lower than feed 1's";
    assert!(harness.query_all_by_label_contains(judged).count() > 0);
    click(&mut harness, "Feeds play: pink");
    assert_eq!(harness.state().choices.feeds_play, FeedsPlay::Pink);
    assert!(harness.query_by_label_contains("it is no test, and nothing is judged").is_some());
    assert_eq!(harness.query_all_by_label_contains(judged).count(), 0);
    click(&mut harness, "This is: feed 1");
    click(&mut harness, "They are down: play feed 1");
    assert!(harness.query_by_label("Output: feed 1, loop").is_some());
    let role = egui::accesskit::Role::Slider;
    assert_eq!(harness.query_all_by_role_and_label(role, "Each pair").count(), 1);
}

#[test]
fn the_view_opens_with_the_role_and_closes_by_its_button() {
    let mut harness = harness(bus(true, Theme::Dark));
    harness.run();
    assert_eq!(harness.state().state.drawer, Some(Drawer::SumTest));
    click(&mut harness, "Sum test");
    assert_eq!(harness.state().state.drawer, None);
    click(&mut harness, "Sum test");
    click(&mut harness, "Settings");
    assert_eq!(harness.state().state.drawer, Some(Drawer::Settings), "one at a time");
}

#[test]
fn the_table_says_what_was_expected_and_what_was_measured() {
    let harness = harness(bus(true, Theme::Dark));
    for words in [
        "Step 2, the noise on the other channel: whole −0.5, ideal 0.0, audible −0.5, ideal 0.0, off, limit",
        "Step 3, the same noise on both: whole +5.8, ideal +6.0",
        "Sums correctly",
        "channel is 0.50 dB lower than feed 1's",
        "Raise feed 2's channel by 0.50 dB",
    ] {
        assert!(harness.query_all_by_label_contains(words).count() > 0, "{words}");
    }
}

#[test]
fn half_a_test_has_half_a_table_and_no_answer() {
    let harness = harness(bus(false, Theme::Dark));
    assert!(
        harness.query_by_label_contains("Step 7, the same noise, 100 ms late: whole").is_some()
    );
    assert!(harness.query_by_label_contains("inaudible tone: not measured yet").is_some());
    assert!(harness.query_all_by_label_contains("Step 8 of 16").count() > 0);
}

#[test]
fn every_text_of_the_view_is_whole_and_apart_from_every_other() {
    let mut checked = Checked::default();
    for size in SIZES {
        for complete in [false, true] {
            checked.check(&mut bus(complete, Theme::Dark), size, &format!("bus {complete}"));
        }
        for role in [SumTest::Off, SumTest::Feed1, SumTest::Bus] {
            let mut scene = Scene::of("ferry", Theme::Light);
            scene.state.drawer = Some(Drawer::SumTest);
            scene.choices.sum_test = role;
            checked.check(&mut scene, size, &format!("{role:?}"));
            scene.choices.feeds_play = FeedsPlay::Gaussian;
            checked.check(&mut scene, size, &format!("{role:?} of the loop"));
        }
    }
    checked.conclude(500);
}
