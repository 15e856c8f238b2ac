//! The sum test in the built plugin: feeds that are the measures' pure functions, and a bus that
//! finds what the audit of the rendered file finds. Every scenario has a process of its own, so
//! what equals the pure function in each agrees across processes.

mod bus;
mod feeds;
mod repeated;
mod saved;

use ledgerline_measure::sum_test::{Feed, Schedule};
use ledgerline_tests::hosts::Host;

/// The schedule at a rate of these tests.
fn schedule(rate_hz: f64) -> Schedule {
    Schedule::new(rate_hz as u32).expect("a rate at which the test plays")
}

/// Sets a parameter by what the host's user would read.
pub fn choose<H: Host>(host: &mut H, id: &str, text: &str) {
    let value = host.value_of_text(id, text).unwrap_or_else(|| panic!("{id} reads {text}"));
    host.set(id, value);
}

/// A feed's name in the plugin.
fn name(feed: Feed) -> &'static str {
    match feed {
        Feed::One => "Feed 1",
        Feed::Two => "Feed 2",
    }
}

/// The first feed from the beginning of the test on.
pub fn pure_feed_1(rate_hz: f64, frames: usize) -> Vec<f32> {
    pure_feed_1_from(rate_hz, 0, frames)
}

/// The first feed from a place in the test on.
pub fn pure_feed_1_from(rate_hz: f64, from: u64, frames: usize) -> Vec<f32> {
    pure(Feed::One, rate_hz, from, frames)
}

/// The feed from a place in the test on.
fn pure(feed: Feed, rate_hz: f64, from: u64, frames: usize) -> Vec<f32> {
    let mut samples = vec![0.0; frames];
    feed.fill(&schedule(rate_hz), from, -20.0, &mut samples);
    samples
}
