//! Whatever comes: a defined list, a bounded one, and nothing wrong said.

use ledgerline_measure::entries::change::What;
use ledgerline_measure::entries::{Clock, Entries, MOST_ENTRIES, OpenedBy};
use ledgerline_measure::{Settings, View};
use ledgerline_tests::signals::switching::Kind;
use ledgerline_tests::signals::{amplitude, frames, noise};

use super::stereo;

const RATE_HZ: f64 = 48_000.0;

/// Feeds a mono sound to both channels.
fn feed(entries: &mut Entries, channel: &[f32]) {
    entries.take(&[channel, channel], &[], Clock::default());
}

#[test]
fn a_thousand_switches_a_minute_make_no_entries() {
    let mut entries = stereo(RATE_HZ);
    let sound = Kind::Uniform.noise(1, -12.0, RATE_HZ, frames(RATE_HZ, 60.0));
    for (index, piece) in sound.chunks(2880).enumerate() {
        let gain = amplitude(if index % 2 == 0 { 0.0 } else { -6.0 }) as f32;
        let piece: Vec<f32> = piece.iter().map(|x| gain * x).collect();
        feed(&mut entries, &piece);
    }
    entries.finish();
    assert_eq!(entries.list().iter().len(), 1);
}

#[test]
fn marks_pressed_a_hundred_times_a_second_make_one_entry() {
    let mut entries = stereo(RATE_HZ);
    let sound = Kind::Uniform.noise(1, -12.0, RATE_HZ, frames(RATE_HZ, 10.0));
    for (index, piece) in sound.chunks(480).enumerate() {
        if (400..700).contains(&index) {
            entries.open(OpenedBy::Mark);
        }
        feed(&mut entries, piece);
    }
    entries.finish();
    let begins: Vec<f64> = entries.list().iter().map(|entry| entry.start_s).collect();
    let [first, last] = begins.as_slice() else { panic!("{begins:?}") };
    assert_eq!(*first, 0.0);
    assert!((last - 6.99).abs() < 0.01, "{last}");
}

#[test]
fn the_list_keeps_the_latest_entries_and_counts_the_others() {
    let mut entries = stereo(8000.0);
    let second = noise::white(1, 0.1, 8000);
    for _ in 0..MOST_ENTRIES + 50 {
        entries.open(OpenedBy::Mark);
        feed(&mut entries, &second);
    }
    entries.finish();
    let list = entries.list();
    assert_eq!((list.iter().len(), list.older()), (MOST_ENTRIES, 50));
    let numbers: Vec<u64> = list.iter().map(|entry| entry.number).collect();
    assert!(numbers.windows(2).all(|two| two[1] == two[0] + 1), "{numbers:?}");
}

#[test]
fn what_is_no_sound_says_nothing() {
    let mut entries = stereo(RATE_HZ);
    let sound = Kind::Gaussian.noise(1, -12.0, RATE_HZ, frames(RATE_HZ, 4.0));
    let wild: Vec<f32> = sound
        .iter()
        .enumerate()
        .map(|(index, x)| match index % 50 {
            0 => f32::NAN,
            1 => f32::INFINITY,
            2 => 1e30,
            _ => *x,
        })
        .collect();
    for piece in [&sound, &wild, &vec![0.0; sound.len()], &wild] {
        entries.open(OpenedBy::Mark);
        feed(&mut entries, piece);
    }
    entries.finish();
    let whats: Vec<What> =
        entries.list().iter().filter_map(|entry| entry.change.as_ref().map(|c| c.what)).collect();
    assert_eq!(whats[1..], [What::Silence, What::SourceAdded], "{whats:?}");
}

#[test]
fn a_loop_of_two_seconds_is_one_entry_however_long_it_plays() {
    let mut entries = stereo(RATE_HZ);
    let turn = Kind::Pink.noise(1, -12.0, RATE_HZ, frames(RATE_HZ, 2.0));
    for _ in 0..60 {
        entries.splice();
        feed(&mut entries, &turn);
    }
    entries.finish();
    assert_eq!(entries.list().iter().len(), 1);
}

#[test]
fn jumps_every_second_make_an_entry_each_and_name_nothing() {
    let mut entries = stereo(RATE_HZ);
    let sound = Kind::Uniform.noise(1, -12.0, RATE_HZ, frames(RATE_HZ, 1.0));
    for _ in 0..20 {
        entries.open(OpenedBy::Jump);
        feed(&mut entries, &sound);
    }
    entries.finish();
    assert_eq!(entries.list().iter().len(), 20);
    for entry in entries.list().iter().skip(1) {
        assert_eq!(entry.opened_by, OpenedBy::Jump);
        assert_eq!(entry.change.as_ref().map(|change| change.what), Some(What::CannotTell));
    }
}

#[test]
fn what_is_bypassed_ends_an_entry_and_what_follows_begins_one() {
    let mut entries = stereo(RATE_HZ);
    let sound = Kind::Uniform.noise(1, -12.0, RATE_HZ, frames(RATE_HZ, 4.0));
    feed(&mut entries, &sound);
    entries.pass(&[&sound, &sound], &[], Clock::default());
    feed(&mut entries, &sound);
    entries.finish();
    let list: Vec<_> =
        entries.list().iter().map(|entry| (entry.opened_by, entry.start_s, entry.end_s)).collect();
    assert_eq!(list, [(OpenedBy::Start, 0.0, 4.0), (OpenedBy::Bypass, 8.0, 12.0)]);
}

#[test]
fn a_rate_that_changes_in_the_middle_goes_on_with_the_list_and_compares_nothing() {
    let mut entries = stereo(RATE_HZ);
    feed(&mut entries, &Kind::Uniform.noise(1, -12.0, RATE_HZ, frames(RATE_HZ, 4.0)));
    entries.finish();
    let next = Entries::new(96_000.0, 2, 0, Settings::default(), View::default());
    let mut entries = next.expect("a stereo bus").going_on_from(entries);
    feed(&mut entries, &Kind::Uniform.noise(1, -12.0, 96_000.0, frames(96_000.0, 4.0)));
    entries.finish();
    let list: Vec<_> = entries.list().iter().collect();
    assert_eq!((list.len(), list[1].number, list[1].opened_by), (2, 2, OpenedBy::Settings));
    assert!((list[1].start_s - 4.0).abs() < 0.01);
    assert_eq!(list[1].change.as_ref().map(|change| change.what), Some(What::CannotTell));
}
