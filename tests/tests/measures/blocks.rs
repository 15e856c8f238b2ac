//! Readings are those of the signal, however it is cut into blocks, and a reset leaves nothing.

use ledgerline_measure::{Meter, Settings, TruePeakFilter, View};
use ledgerline_tests::readings::{Checks, feed_by, stereo_meter};
use ledgerline_tests::signals::tone::{Sine, added, dc, scaled, sweep};
use ledgerline_tests::signals::{Stereo, bench_mix, frames, noise};

/// All numbers of a reading to the last digit; a reading that does not exist equals itself here.
fn record(meter: &Meter) -> String {
    let reading = meter.reading(&View::default());
    serde_json::to_string(&reading).expect("a reading can be written")
}

/// Four seconds of everything at once, and no whole number of steps or hops long.
fn signal(rate_hz: f64) -> Stereo {
    let count = frames(rate_hz, 4.0) + 77;
    let left = added(&noise::white(51, 0.5, count), &sweep(rate_hz, 5.0, 20_000.0, 0.4, 4.1));
    let right = added(&noise::white_gaussian(52, 0.2, count), &dc(rate_hz, 0.05, 4.1));
    Stereo::new(rate_hz, left, right)
}

#[test]
fn readings_do_not_depend_on_the_block_length() {
    for rate_hz in [44_100.0, 96_000.0] {
        for true_peak in [TruePeakFilter::Interpolated, TruePeakFilter::Bs1770] {
            let signal = signal(rate_hz);
            let settings = Settings { true_peak, ..Settings::default() };
            let mut meter = stereo_meter(rate_hz, settings);
            let mut read_by = |block_frames| {
                meter.reset();
                feed_by(&mut meter, &signal, block_frames);
                meter.finish();
                (record(&meter), meter.spectrum())
            };
            let whole = read_by(signal.frames());
            let mut checks = Checks::of(
                format!("noise, sweep and DC at {rate_hz} Hz, {true_peak:?}"),
                "the same signal in one block",
            );
            for block_frames in [1, 7, 64, 100, 1024, 100_000] {
                let blocks = read_by(block_frames);
                let same = blocks == whole;
                checks.that(same, &format!("in blocks of {block_frames}, {}", whole.0), blocks.0);
            }
        }
    }
}

#[test]
fn a_meter_that_has_finished_and_is_reset_reads_like_a_new_one() {
    let signal = bench_mix::play_for(3.5);
    let read = |meter: &mut Meter| {
        feed_by(meter, &signal, 512);
        meter.finish();
        record(meter)
    };
    let mut fresh = stereo_meter(signal.rate_hz, Settings::default());
    let expected = read(&mut fresh);
    let mut used = stereo_meter(signal.rate_hz, Settings::default());
    let loud = noise::white(53, 1.0, frames(signal.rate_hz, 5.0) + 31);
    feed_by(&mut used, &Stereo::both(signal.rate_hz, loud), 333);
    used.finish();
    used.reset();
    let got = read(&mut used);
    let mut checks = Checks::of("bench mix after noise and a reset", "the same on a new meter");
    checks.that(got == expected, &expected, &got);
}

#[test]
fn finishing_twice_changes_nothing() {
    let signal = signal(48_000.0);
    let mut meter = stereo_meter(signal.rate_hz, Settings::default());
    feed_by(&mut meter, &signal, 512);
    meter.finish();
    let once = record(&meter);
    meter.finish();
    let mut checks = Checks::of("noise, sweep and DC", "the reading after finishing once");
    checks.that(record(&meter) == once, &once, record(&meter));
}

#[test]
fn opposite_halves_sum_to_exact_silence_and_identical_ones_null_exactly() {
    for rate_hz in [44_100.0, 48_000.0, 96_000.0] {
        let signal = signal(rate_hz);
        for block_frames in [64, 1000] {
            let read = |b: Vec<f32>| {
                let mut meter = stereo_meter(rate_hz, Settings::default());
                let pair = Stereo::new(rate_hz, signal.left.clone(), b);
                feed_by(&mut meter, &pair, block_frames);
                meter.finish();
                meter.reading(&View::default())
            };
            let mut checks = Checks::of(
                format!("noise and its copy at {rate_hz} Hz, blocks of {block_frames}"),
                "exact arithmetic",
            );
            let identical = read(signal.left.clone());
            let opposite = read(scaled(&signal.left, -1.0));
            let silence = f64::NEG_INFINITY;
            for (name, same, reversed) in [
                ("whole", &identical.whole, &opposite.whole),
                ("audible", &identical.audible, &opposite.audible),
            ] {
                checks.level(&format!("{name} null"), same.halves.null_dbfs, silence, 0.0);
                checks.level(&format!("{name} sum RMS"), reversed.sum.rms_dbfs, silence, 0.0);
                let peak = reversed.sum.sample_peak_dbfs;
                checks.level(&format!("{name} sum peak"), peak, silence, 0.0);
                let peak = reversed.sum.true_peak_dbtp;
                checks.level(&format!("{name} sum true peak"), peak, silence, 0.0);
                let loudness = reversed.sum.integrated_lufs;
                checks.level(&format!("{name} sum loudness"), loudness, silence, 0.0);
                let gain = reversed.halves.sum_gain_energy_db;
                checks.level(&format!("{name} sum gain"), gain, silence, 0.0);
                checks.number(&format!("{name} r"), same.halves.correlation, 1.0, 0.0);
                checks.number(&format!("{name} −r"), reversed.halves.correlation, -1.0, 0.0);
            }
        }
    }
}

#[test]
fn readings_grow_by_what_is_added_after_a_finish() {
    // Measuring goes on after a stop: the time, the peaks and the energies are those of both.
    let rate_hz = 48_000.0;
    let mut meter = stereo_meter(rate_hz, Settings::default());
    for amplitude in [0.1, 0.4] {
        let tone = Sine::new(1000.0, amplitude).play(rate_hz, 2.0);
        feed_by(&mut meter, &Stereo::both(rate_hz, tone), 480);
        meter.finish();
    }
    let reading = meter.reading(&View::default());
    let mut checks = Checks::of("a tone, a stop, a louder tone", "sums over both stretches");
    checks.number("time_s", Some(reading.time_s), 4.0, 1e-9);
    let mean_square = 0.5 * (0.1f64.powi(2) + 0.4f64.powi(2)) / 2.0;
    checks.level("rms_dbfs", reading.whole.a.rms_dbfs, 10.0 * mean_square.log10(), 0.001);
    checks.level("sample peak", reading.whole.a.sample_peak_dbfs, -7.9588, 0.001);
}
