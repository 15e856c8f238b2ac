//! Level steps: found in time, placed where they are, and not invented.

use ledgerline_measure::entries::{Clock, Entries, OpenedBy};
use ledgerline_measure::{Settings, View};
use ledgerline_tests::runs::usual_or_long;
use ledgerline_tests::signals::switching::{Kind, Panning, Sources, Switching};
use ledgerline_tests::signals::tone::Sine;
use ledgerline_tests::signals::{Stereo, amplitude, bench_mix, frames, noise};

use super::{BLOCK, all, stereo};

/// How far from its place a step may be told, in seconds.
const PLACED_WITHIN_S: f64 = 0.02;

/// When each step was found, and where: both in seconds.
fn found(audio: &Stereo) -> Vec<(f64, f64)> {
    let mut entries = stereo(audio.rate_hz);
    let mut found = Vec::new();
    let mut newest = entries.newest_start_s();
    for (index, (left, right)) in
        audio.left.chunks(BLOCK).zip(audio.right.chunks(BLOCK)).enumerate()
    {
        entries.take(&[left, right], &[], Clock::default());
        if entries.newest_start_s() > newest + 0.1 {
            newest = entries.newest_start_s();
            found.push(((index + 1) as f64 * BLOCK as f64 / audio.rate_hz, newest));
        }
    }
    found
}

/// Plays a level that steps every 4 s, and checks that each step is found within `within_s`.
fn check_steps(name: &str, audio: &Stereo, steps: usize, within_s: f64) {
    let found = found(audio);
    let placed: Vec<f64> = all(audio)[1..].iter().map(|entry| entry.start_s).collect();
    assert_eq!(placed.len(), steps, "{name}: {placed:?}");
    assert_eq!(found.len(), steps, "{name}: {found:?}");
    for (index, (&(when_s, _), placed_s)) in found.iter().zip(placed).enumerate() {
        let at_s = 4.0 * (index + 1) as f64;
        assert!((placed_s - at_s).abs() <= PLACED_WITHIN_S, "{name}: {placed_s} for {at_s}");
        assert!(when_s - at_s <= within_s, "{name}: found at {when_s}, {at_s}");
    }
}

/// Gains of a sound that steps by so many dB, down and up again.
fn stepping(sound: &[f32], rate_hz: f64, by_db: f64, states: usize) -> Stereo {
    let each = frames(rate_hz, 4.0);
    let gain = |index: usize| {
        amplitude(if (index / each).is_multiple_of(2) { 0.0 } else { -by_db }) as f32
    };
    let channel =
        sound[..each * states].iter().enumerate().map(|(index, x)| x * gain(index)).collect();
    Stereo::both(rate_hz, channel)
}

#[test]
fn steps_of_3_db_are_found_within_half_a_second_and_of_1_db_within_two() {
    for rate_hz in [48_000.0, 96_000.0, 192_000.0] {
        for kind in Kind::ALL {
            for peak_dbfs in [-50.0, -1.0] {
                let sound = kind.noise(3, peak_dbfs, rate_hz, frames(rate_hz, 16.0));
                for (by_db, within_s) in [(3.0, 0.5), (1.0, 2.0)] {
                    let name = format!("{kind:?} {rate_hz} Hz, {peak_dbfs} dBFS, {by_db} dB");
                    check_steps(&name, &stepping(&sound, rate_hz, by_db, 4), 3, within_s);
                }
            }
        }
    }
}

#[test]
fn steps_of_tones_are_found_as_those_of_noise() {
    for hz in [50.0, 997.0, 12_345.0] {
        let sound: Vec<f32> = Sine::new(hz, 0.5).play(48_000.0, 16.0);
        for (by_db, within_s) in [(3.0, 0.5), (1.0, 2.0)] {
            let name = format!("{hz} Hz, {by_db} dB");
            check_steps(&name, &stepping(&sound, 48_000.0, by_db, 4), 3, within_s);
        }
    }
}

#[test]
fn steps_are_found_over_a_floor_of_other_sound_20_db_below() {
    let rate_hz = bench_mix::RATE_HZ;
    let floor = bench_mix::play();
    let floor_rms = rms(&floor.left);
    for kind in Kind::ALL {
        let sound = kind.noise(4, -12.0, rate_hz, frames(rate_hz, 16.0));
        let share = 0.1 * rms(&sound) / floor_rms;
        let stepped = stepping(&sound, rate_hz, 3.0, 4);
        let channel = stepped.left.iter().zip(&floor.left).map(|(x, y)| x + share * y).collect();
        check_steps(
            &format!("{kind:?} over the bench mix"),
            &Stereo::both(rate_hz, channel),
            3,
            0.5,
        );
    }
}

fn rms(channel: &[f32]) -> f32 {
    (channel.iter().map(|x| x * x).sum::<f32>() / channel.len() as f32).sqrt()
}

/// Plays a mono sound that is made block by block, and checks that it stays one entry.
fn check_steady(name: &str, seconds: u64, mut block: impl FnMut(u64, &mut [f32])) {
    const RATE_HZ: u64 = 48_000;
    let mut entries =
        Entries::new(RATE_HZ as f64, 1, 0, settings(), View::default()).expect("mono");
    let mut samples = vec![0.0; 4800];
    for index in 0..seconds * 10 {
        block(index * 4800, &mut samples);
        entries.take(&[&samples], &[], Clock::default());
    }
    entries.finish();
    let begins: Vec<f64> = entries.list().iter().map(|entry| entry.start_s).collect();
    assert_eq!(begins, [0.0], "{name}: steps were invented");
}

fn settings() -> Settings {
    Settings { halves: ledgerline_measure::Halves::Mono, ..Settings::default() }
}

/// An hour in all; a day with `--long`.
fn seconds() -> u64 {
    usual_or_long(1200, 28_800)
}

#[test]
fn no_step_is_invented_in_steady_uniform_noise() {
    check_steady("uniform", seconds(), |first, samples| {
        for (index, sample) in (first..).zip(samples) {
            *sample = (0.3 * noise::uniform(5, index)) as f32;
        }
    });
}

#[test]
fn no_step_is_invented_in_steady_gaussian_noise() {
    check_steady("Gaussian", seconds(), |first, samples| {
        for (index, sample) in (first..).zip(samples) {
            *sample = (0.1 * noise::gaussian(6, index)) as f32;
        }
    });
}

#[test]
fn no_step_is_invented_in_steady_pink_noise() {
    // Pink over two hundred seconds, again and again from another place: longer than all that is
    // looked at together.
    let sound = noise::pink(7, 0.1, 48_000.0, 48_000 * 200);
    let mut order = 0;
    check_steady("pink", seconds(), |first, samples| {
        let from = first as usize % sound.len();
        if from == 0 {
            order += 1;
        }
        let turned = if order % 2 == 0 { -1.0 } else { 1.0 };
        for (sample, x) in samples.iter_mut().zip(&sound[from..]) {
            *sample = turned * x;
        }
    });
}

#[test]
fn nothing_steps_in_tones_beats_slow_fades_or_a_mix_that_moves() {
    let at = |hz: f64, index: u64| (std::f64::consts::TAU * hz * index as f64 / 48_000.0).sin();
    let tone = |hz: f64| {
        move |first: u64, samples: &mut [f32]| {
            for (index, sample) in (first..).zip(samples) {
                *sample = (0.3 * at(hz, index)) as f32;
            }
        }
    };
    check_steady("1 kHz", 60, tone(1000.0));
    check_steady("31.1 Hz", 60, tone(31.1));
    check_steady("a beat", 60, |first, samples| {
        for (index, sample) in (first..).zip(samples) {
            *sample = (0.2 * at(1000.0, index) + 0.1 * at(1000.37, index)) as f32;
        }
    });
    check_steady("a slow swell", 120, |first, samples| {
        for (index, sample) in (first..).zip(samples) {
            let swell = 1.0 + 0.15 * at(0.1, index);
            *sample = (0.1 * swell * noise::gaussian(8, index)) as f32;
        }
    });
    check_steady("a fade of 10 s", 40, |first, samples| {
        for (index, sample) in (first..).zip(samples) {
            let share = ((index as f64 / 48_000.0 - 15.0) / 10.0).clamp(0.0, 1.0);
            *sample = (0.3 * amplitude(-6.0 * share) * noise::uniform(9, index)) as f32;
        }
    });
    let mix = bench_mix::play();
    let told: Vec<_> =
        all(&mix).iter().map(|e| (e.start_s, e.change.clone().map(|c| c.sentence))).collect();
    assert_eq!(told.len(), 1, "the bench mix moves all the time: {told:?}");
}

#[test]
fn a_mark_begins_an_entry_where_it_is_set() {
    let sound = Kind::Uniform.noise(1, -12.0, 48_000.0, 48_000 * 8);
    let mut entries = stereo(48_000.0);
    let (before, after) = sound.split_at(48_000 * 4 + 7);
    entries.take(&[before, before], &[], Clock::default());
    entries.open(OpenedBy::Mark);
    entries.take(&[after, after], &[], Clock::default());
    entries.finish();
    let list: Vec<_> = entries.list().iter().collect();
    let [first, marked] = list.as_slice() else { panic!("{} entries", list.len()) };
    assert_eq!(marked.opened_by, OpenedBy::Mark);
    // To the batch of 128 frames.
    assert!((marked.start_s - (4.0 + 7.0 / 48_000.0)).abs() < 128.0 / 48_000.0);
    assert!((first.end_s - marked.start_s).abs() < 1e-9);
    assert_eq!(marked.change.as_ref().map(|change| change.against), Some(1));
}

#[test]
fn entries_do_not_depend_on_how_blocks_are_cut() {
    let states = [Sources::Same, Sources::Independent, Sources::Copy(0.05, 0.0)];
    let switching = Switching {
        kind: Kind::Uniform,
        peak_dbfs: -12.0,
        rate_hz: 48_000.0,
        each_s: 4.0,
        states: &states,
    };
    let audio = switching.play(Panning::Middle);
    let by = |block: usize| {
        let mut entries = stereo(audio.rate_hz);
        for (left, right) in audio.left.chunks(block).zip(audio.right.chunks(block)) {
            entries.take(&[left, right], &[], Clock::default());
        }
        entries.finish();
        let records =
            entries.list().iter().map(|entry| serde_json::to_string(entry).expect("text"));
        records.collect::<Vec<_>>()
    };
    let whole = by(audio.frames());
    assert!(whole.len() > 1);
    for block in [1, 997, 4096] {
        assert!(by(block) == whole, "blocks of {block} give other entries");
    }
}
