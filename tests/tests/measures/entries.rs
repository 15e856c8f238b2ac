//! Entries: where levels step, and what is said of it.

mod bad_input;
mod found;
mod levels;
mod named;

use ledgerline_measure::entries::{Change, Clock, Entries, Entry};
use ledgerline_measure::{Halves, Settings, View};
use ledgerline_tests::signals::Stereo;

/// Blocks in which sound is fed, in frames.
const BLOCK: usize = 480;

/// What finds the entries of a stereo bus.
fn stereo(rate_hz: f64) -> Entries {
    Entries::new(rate_hz, 2, 0, Settings::default(), View::default()).expect("a stereo bus")
}

/// What finds the entries of a main input beside a side-chain, of one channel each.
fn side_chain(rate_hz: f64) -> Entries {
    let settings = Settings { halves: Halves::MainSidechain, ..Settings::default() };
    Entries::new(rate_hz, 1, 1, settings, View::default()).expect("a bus with a side-chain")
}

/// Feeds both channels of the main input.
fn feed(entries: &mut Entries, audio: &Stereo) {
    for (left, right) in audio.left.chunks(BLOCK).zip(audio.right.chunks(BLOCK)) {
        entries.take(&[left, right], &[], Clock::default());
    }
}

/// All entries of a stereo bus.
fn all(audio: &Stereo) -> Vec<Entry> {
    let mut entries = stereo(audio.rate_hz);
    feed(&mut entries, audio);
    entries.finish();
    entries.list().iter().cloned().collect()
}

/// All entries where the left channel is the main input and the right one the side-chain.
fn all_beside(audio: &Stereo) -> Vec<Entry> {
    let mut entries = side_chain(audio.rate_hz);
    for (left, right) in audio.left.chunks(BLOCK).zip(audio.right.chunks(BLOCK)) {
        entries.take(&[left], &[right], Clock::default());
    }
    entries.finish();
    entries.list().iter().cloned().collect()
}

/// The change with which an entry begins that begins within 20 ms of a moment.
///
/// # Panics
///
/// When none does.
fn change_at(entries: &[Entry], at_s: f64) -> &Change {
    let entry = entries.iter().find(|entry| (entry.start_s - at_s).abs() <= 0.02);
    let begins: Vec<f64> = entries.iter().map(|entry| entry.start_s).collect();
    let entry = entry.unwrap_or_else(|| panic!("no entry at {at_s} s: {begins:?}"));
    entry.change.as_ref().expect("a change")
}
