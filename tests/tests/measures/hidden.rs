//! Hidden content: levels and shares of what lies above, below and at 0 Hz, and the tones in it.

use ledgerline_measure::Reading;
use ledgerline_tests::readings::{Checks, read};
use ledgerline_tests::signals::tone::{Sine, added, dc, silence};
use ledgerline_tests::signals::{Stereo, amplitude, frames, noise};

const RATE_HZ: f64 = 96_000.0;
const LENGTH_S: f64 = 6.0;
const BUILT: &str = "what the signal is built of";

fn tone(hz: f64, rms_dbfs: f64) -> Vec<f32> {
    Sine::new(hz, amplitude(rms_dbfs + 3.0103)).play(RATE_HZ, LENGTH_S)
}

fn mixed(parts: &[Vec<f32>]) -> Vec<f32> {
    parts.iter().fold(silence(RATE_HZ, LENGTH_S), |sum, part| added(&sum, part))
}

fn shares(reading: &Reading) -> [Option<f64>; 4] {
    let hidden = &reading.hidden;
    [hidden.audible_share, hidden.above_share, hidden.below_share, hidden.dc_share]
}

#[test]
fn levels_and_shares_are_those_of_the_parts() {
    // Levels of the audible tone, the tones above and below, and DC, in dBFS RMS.
    for levels_dbfs in [
        [-20.0, -20.0, -20.0, -20.0],
        [-20.0, -40.0, -30.0, -50.0],
        [-60.0, -15.0, -70.0, -90.0],
        [-60.0, -70.0, -15.0, -50.0],
    ] {
        let [audible, above, below, offset] = levels_dbfs;
        let parts = [
            tone(1000.0, audible),
            tone(31_000.0, above),
            // So far below the edge that the high-pass leaves a two hundred thousandth of it.
            tone(6.0, below),
            dc(RATE_HZ, amplitude(offset), LENGTH_S),
        ];
        let reading = read(&Stereo::both(RATE_HZ, mixed(&parts)));
        let hidden = &reading.hidden;
        let mut checks = Checks::of(format!("audible, above, below, DC at {levels_dbfs:?}"), BUILT);
        checks.level("above_dbfs", hidden.above_dbfs, above, 0.02);
        // The filters need a moment to settle on DC and on a slow tone.
        checks.level("below_dbfs", hidden.below_dbfs, below, 0.2);
        checks.level("dc_dbfs", hidden.dc_dbfs, offset, 0.02);
        let power = levels_dbfs.map(|db| 10f64.powf(db / 10.0));
        let total: f64 = power.iter().sum();
        for ((name, got), power) in
            ["audible", "above", "below", "dc"].iter().zip(shares(&reading)).zip(power)
        {
            checks.number(&format!("{name}_share"), got, power / total, 0.005);
        }
        checks.number("all shares", shares(&reading).into_iter().sum(), 1.0, 1e-9);
    }
}

#[test]
fn shares_of_white_noise_are_those_of_the_bandwidths() {
    let noise = |seed| noise::white_gaussian(seed, 0.1, frames(RATE_HZ, LENGTH_S));
    let reading = read(&Stereo::new(RATE_HZ, noise(61), noise(62)));
    let mut checks = Checks::of("white noise at 96 kHz", "shares of half the sample rate");
    // The transition between 20 and 22 kHz belongs to both in part.
    checks.number("above_share", reading.hidden.above_share, 27.3 / 48.0, 0.02);
    checks.number("audible_share", reading.hidden.audible_share, 20.7 / 48.0, 0.02);
    checks.number("below_share", reading.hidden.below_share, 20.0 / 48_000.0, 0.0002);
    checks.number("all shares", shares(&reading).into_iter().sum(), 1.0, 1e-9);
    let tones = reading.hidden.tones;
    checks.that(tones.as_slice().is_empty(), "no tones in plain noise", tones);
}

#[test]
fn hidden_tones_are_found_with_frequency_and_level() {
    // Tones in Hz and dBFS RMS; the last two are audible and must not be named.
    for (rate_hz, tones, audible) in [
        (96_000.0, vec![(31_000.0, -40.0), (12.0, -50.0)], vec![(997.0, -20.0), (15_000.0, -30.0)]),
        (96_000.0, vec![(12.0, -30.0), (26_543.2, -45.0), (40_000.0, -60.0)], vec![(300.0, -26.0)]),
        (192_000.0, vec![(70_123.0, -33.0), (31_000.0, -50.0)], vec![(5_000.0, -20.0)]),
        (48_000.0, vec![(22_500.0, -30.0), (8.0, -40.0)], vec![(440.0, -20.0)]),
        (44_100.0, vec![(21_400.0, -50.0)], vec![(440.0, -20.0)]),
    ] {
        let play = |&(hz, dbfs): &(f64, f64)| {
            Sine::new(hz, amplitude(dbfs + 3.0103)).play(rate_hz, LENGTH_S)
        };
        let hiss = noise::white_gaussian(63, amplitude(-80.0), frames(rate_hz, LENGTH_S));
        let all = tones.iter().chain(&audible).map(play).fold(hiss, |sum, tone| added(&sum, &tone));
        let reading = read(&Stereo::both(rate_hz, all));
        let mut checks = Checks::of(format!("hidden tones {tones:?} at {rate_hz} Hz"), BUILT);
        let found = reading.hidden.tones;
        checks.that(found.as_slice().len() == tones.len(), "as many tones", found);
        for (found, (hz, dbfs)) in found.as_slice().iter().zip(&tones) {
            checks.number(&format!("{hz} Hz"), Some(found.hz), *hz, 0.0001 * hz + 0.5);
            checks.level(&format!("{hz} Hz, level"), found.dbfs, *dbfs, 0.2);
        }
    }
}

#[test]
fn a_tone_in_one_half_reads_3_db_lower_on_the_bus() {
    let pair = Stereo::new(RATE_HZ, tone(31_000.0, -30.0), tone(1000.0, -30.0));
    let reading = read(&pair);
    let mut checks = Checks::of("31 kHz in A, 1 kHz in B", "mean of the halves' mean squares");
    checks.level("above_dbfs", reading.hidden.above_dbfs, -33.0103, 0.02);
    let tone = reading.hidden.tones.as_slice().first().copied().unwrap_or_default();
    checks.level("tone", tone.dbfs, -33.0103, 0.2);
    checks.number("above_share", reading.hidden.above_share, 0.5, 0.002);
}

#[test]
fn silence_has_no_shares_and_nothing_hidden() {
    let reading = read(&Stereo::both(RATE_HZ, silence(RATE_HZ, 1.0)));
    let mut checks = Checks::of("silence", "a share of nothing does not exist");
    checks.that(shares(&reading) == [None; 4], "no shares", shares(&reading));
    for level in [reading.hidden.above_dbfs, reading.hidden.below_dbfs, reading.hidden.dc_dbfs] {
        checks.level("hidden level", level, f64::NEG_INFINITY, 0.0);
    }
}
