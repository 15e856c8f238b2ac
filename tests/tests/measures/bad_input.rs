//! Input that is no audio: each kind has a defined reading, and leaves nothing behind.

use ledgerline_measure::verdict::Code;
use ledgerline_measure::{Halves, Level, Meter, Reading, Settings, View};
use ledgerline_tests::readings::{Checks, Live, feed_by, read, stereo_meter};
use ledgerline_tests::signals::tone::{Sine, dc, silence};
use ledgerline_tests::signals::{Stereo, noise};

const RATE_HZ: f64 = 48_000.0;

/// All numbers of a reading to the last digit, without the count of invalid frames and the findings.
fn record(reading: &Reading) -> serde_json::Value {
    let mut record = serde_json::to_value(reading).expect("a reading can be written");
    record["windows"]["invalid_frames"] = 0.into();
    record["findings"] = serde_json::Value::Null;
    record
}

fn codes(reading: &Reading) -> Vec<Code> {
    reading.findings.as_slice().iter().map(|finding| finding.code).collect()
}

fn music() -> Vec<f32> {
    let mut signal = noise::pink(81, 0.1, RATE_HZ, 3 * RATE_HZ as usize);
    let tone = Sine::new(440.0, 0.1).play(RATE_HZ, 3.0);
    signal.iter_mut().zip(tone).for_each(|(x, tone)| *x += tone);
    signal
}

#[test]
fn samples_that_are_no_level_count_as_silence_and_are_counted() {
    let at = [0, 1, 63, 64, 20_000, 20_001, 143_999];
    for bad in [f32::NAN, -f32::NAN, f32::INFINITY, f32::NEG_INFINITY, 1e30, -1e30, f32::MAX] {
        let clean = music();
        let (mut silenced, mut poisoned) = (clean.clone(), clean.clone());
        for index in at {
            silenced[index] = 0.0;
            poisoned[index] = bad;
        }
        let expected = read(&Stereo::new(RATE_HZ, silenced, clean.clone()));
        let got = read(&Stereo::new(RATE_HZ, poisoned, clean));
        let mut checks = Checks::of(format!("music with {bad:e} in A"), "silence in their place");
        checks.that(record(&got) == record(&expected), "the same readings", record(&got));
        let invalid = got.windows.invalid_frames;
        checks.that(invalid == at.len() as u64, "7 invalid frames", invalid);
        checks.that(codes(&got).contains(&Code::InvalidInput), "the finding", codes(&got));
        checks.that(
            !codes(&expected).contains(&Code::InvalidInput),
            "none before",
            codes(&expected),
        );
    }
}

#[test]
fn readings_recover_within_one_window_of_a_stretch_of_bad_samples() {
    let bad = [f32::NAN, f32::INFINITY, 1e30, -1e30, f32::NEG_INFINITY, 1e-42];
    let poison: Vec<f32> = bad.into_iter().cycle().take(RATE_HZ as usize).collect();
    let after = music();
    let mut meter = stereo_meter(RATE_HZ, Settings::default());
    feed_by(&mut meter, &Stereo::both(RATE_HZ, poison), 777);
    feed_by(&mut meter, &Stereo::both(RATE_HZ, after.clone()), 777);
    meter.finish();
    let got = meter.reading(&View::default());
    let expected = read(&Stereo::both(RATE_HZ, after));
    let mut checks = Checks::of("music after a second of bad samples", "the music alone");
    for (name, got, expected) in [
        ("whole", (&got.whole, &got.windows.whole), (&expected.whole, &expected.windows.whole)),
        (
            "audible",
            (&got.audible, &got.windows.audible),
            (&expected.audible, &expected.windows.audible),
        ),
    ] {
        let mut check = |what: &str, got: Level, expected: Level| {
            let expected = expected.db().unwrap_or(f64::NAN);
            checks.level(&format!("{name} {what}"), got, expected, 0.0001);
        };
        check("momentary", got.0.bus.momentary_lufs, expected.0.bus.momentary_lufs);
        check("short term", got.0.bus.short_term_lufs, expected.0.bus.short_term_lufs);
        check("RMS window", got.1.bus.rms_dbfs, expected.1.bus.rms_dbfs);
        check("peak window", got.1.bus.sample_peak_dbfs, expected.1.bus.sample_peak_dbfs);
        check("held peak", got.0.bus.sample_peak_dbfs, expected.0.bus.sample_peak_dbfs);
        check("true peak", got.0.bus.true_peak_dbtp, expected.0.bus.true_peak_dbtp);
    }
    checks.that(got.windows.invalid_frames == 40_000, "40 000 frames", got.windows.invalid_frames);
}

#[test]
fn the_largest_samples_that_count_leave_finite_readings_and_no_trace_after_a_window() {
    let mut meter = stereo_meter(RATE_HZ, Settings::default());
    let loud = Sine::new(997.0, 9.9e5).play(RATE_HZ, 1.0);
    feed_by(&mut meter, &Stereo::both(RATE_HZ, loud), 512);
    // Read while it plays: where a tone is cut off, its audible band swings by itself.
    let tone = Sine::new(997.0, 0.1).play(RATE_HZ, 4.5);
    feed_by(&mut meter, &Stereo::both(RATE_HZ, tone), 512);
    let reading = meter.reading(&View::default());
    let mut checks = Checks::of("a tone after one of +120 dBFS", "their closed forms");
    checks.level("held peak", reading.whole.bus.sample_peak_dbfs, 119.91, 0.01);
    let windows = &reading.windows;
    for (name, windows, band) in
        [("whole", &windows.whole, &reading.whole), ("audible", &windows.audible, &reading.audible)]
    {
        checks.level(&format!("{name} peak window"), windows.bus.sample_peak_dbfs, -20.0, 0.02);
        checks.level(&format!("{name} RMS window"), windows.bus.rms_dbfs, -23.01, 0.02);
        checks.level(&format!("{name} momentary"), band.bus.momentary_lufs, -20.0, 0.03);
        checks.level(&format!("{name} short term"), band.bus.short_term_lufs, -20.0, 0.03);
    }
}

#[test]
fn denormals_are_read_like_silence_or_for_what_they_are() {
    for value in [1e-38, 1e-40, f32::from_bits(1)] {
        let signal = (0..RATE_HZ as usize).map(|i| if i % 2 == 0 { value } else { -value });
        let reading = read(&Stereo::both(RATE_HZ, signal.collect()));
        let mut checks = Checks::of(format!("samples of ±{value:e}"), "no level above their own");
        for (name, band) in [("whole", &reading.whole), ("audible", &reading.audible)] {
            for (of, levels) in [("a", &band.a), ("sum", &band.sum), ("bus", &band.bus)] {
                let level = levels.sample_peak_dbfs;
                checks.at_most(&format!("{name} {of} peak"), level, -700.0);
                checks.at_most(&format!("{name} {of} true peak"), levels.true_peak_dbtp, -700.0);
                checks.at_most(&format!("{name} {of} RMS"), levels.rms_dbfs, -700.0);
                checks.at_most(&format!("{name} {of} loudness"), levels.integrated_lufs, -700.0);
            }
        }
        checks.that(reading.windows.invalid_frames == 0, "no invalid frames", ());
    }
}

#[test]
fn silence_reads_silence_and_no_ratios() {
    let reading = read(&Stereo::both(RATE_HZ, silence(RATE_HZ, 4.0)));
    let mut checks = Checks::of("four seconds of silence", "levels of nothing");
    let nothing = f64::NEG_INFINITY;
    for (name, band) in [("whole", &reading.whole), ("audible", &reading.audible)] {
        for (of, levels) in [("a", &band.a), ("b", &band.b), ("sum", &band.sum), ("bus", &band.bus)]
        {
            let mut check = |what: &str, level| {
                checks.level(&format!("{name} {of} {what}"), level, nothing, 0.0);
            };
            check("sample peak", levels.sample_peak_dbfs);
            check("true peak", levels.true_peak_dbtp);
            check("RMS", levels.rms_dbfs);
            check("momentary", levels.momentary_lufs);
            check("short term", levels.short_term_lufs);
            check("integrated", levels.integrated_lufs);
            checks.none(&format!("{name} {of} crest"), levels.crest_db);
            checks.none(&format!("{name} {of} range"), levels.lra_lu);
        }
        let halves = &band.halves;
        checks.that(halves.correlation.is_none(), "no correlation", halves.correlation);
        checks.none(&format!("{name} sum gain"), halves.sum_gain_energy_db);
        checks.none(&format!("{name} peak sum gain"), halves.sum_gain_peak_db);
        checks.none(&format!("{name} level difference"), halves.level_difference_db);
    }
    checks.none("room", reading.room.room_db);
    checks.none("withheld", reading.room.withheld_db);
    checks.that(codes(&reading) == [Code::Silence], "silence alone", codes(&reading));
}

#[test]
fn a_meter_that_has_heard_nothing_has_no_readings() {
    let mut meter = stereo_meter(RATE_HZ, Settings::default());
    for finished in [false, true] {
        if finished {
            meter.process(&[&[], &[]], &[]);
            meter.finish();
        }
        let reading = meter.reading(&View::default());
        let mut checks = Checks::of(format!("nothing, finished {finished}"), "an empty window");
        checks.number("time_s", Some(reading.time_s), 0.0, 0.0);
        for band in [&reading.whole, &reading.audible] {
            checks.none("peak", band.bus.sample_peak_dbfs);
            checks.none("RMS", band.bus.rms_dbfs);
            checks.none("loudness", band.bus.integrated_lufs);
            checks.that(band.bus.overs.is_none(), "no count of overs", band.bus.overs);
        }
    }
}

#[test]
fn dc_is_level_in_the_whole_band_and_nothing_in_the_audible_one() {
    let signal = Stereo::both(RATE_HZ, dc(RATE_HZ, 0.5, 8.0));
    // While it lasts: its end would be heard, as its beginning was.
    let reading = Live::new(&signal).reading_at(7 * RATE_HZ as usize);
    let mut checks = Checks::of("DC of 0.5", "the definition of the bands");
    checks.level("whole peak", reading.whole.bus.sample_peak_dbfs, -6.0206, 0.001);
    checks.level("whole RMS", reading.whole.bus.rms_dbfs, -6.0206, 0.001);
    checks.level("DC", reading.hidden.dc_dbfs, -6.0206, 0.001);
    checks.at_most("audible RMS window", reading.windows.audible.bus.rms_dbfs, -100.0);
    checks.at_most("audible momentary", reading.audible.bus.momentary_lufs, -100.0);
    let sentence = reading.findings.as_slice()[0].sentence();
    checks.that(sentence.starts_with("A DC offset takes"), "the finding", &sentence);
    checks.that(!codes(&reading).contains(&Code::Dc), "told once", codes(&reading));
}

#[test]
fn blocks_that_break_their_promise_are_taken_as_far_as_they_go() {
    let mut meter = Meter::new(
        RATE_HZ,
        2,
        2,
        Settings { halves: Halves::MainSidechain, ..Settings::default() },
    )
    .expect("main and side-chain");
    let long = [0.5f32; 1000];
    // Channels of different lengths, missing channels, a side-chain that is absent or short.
    meter.process(&[&long, &long[..300]], &[&long, &long]);
    meter.process(&[&long], &[]);
    meter.process(&[], &[&long]);
    meter.process(&[&long, &long, &long], &[&long[..10]]);
    meter.finish();
    let reading = meter.reading(&View::default());
    let mut checks = Checks::of("blocks of the wrong shape", "the shortest main channel counts");
    checks.number("time_s", Some(reading.time_s), 2300.0 / RATE_HZ, 1e-9);
    checks.level("peak of A", reading.whole.a.sample_peak_dbfs, -6.0206, 0.001);
}
