//! Levels of entries and their changes: against detectors that run by themselves, laws of addition, and
//! the statistics of level estimates.

use ledgerline_measure::detector::{Bank, Detector};
use ledgerline_measure::{Meter, Settings, View};
use ledgerline_tests::signals::switching::{Kind, Panning, Sources, Switching};
use ledgerline_tests::signals::{Stereo, frames};

use super::{all, change_at};

#[test]
fn a_file_of_one_entry_reads_as_the_meter_reads_it() {
    let noise = |seed| Kind::Pink.noise(seed, -12.0, 48_000.0, 48_000 * 5 + 321);
    let audio = Stereo::new(48_000.0, noise(1), noise(2));
    let mut meter = Meter::new(48_000.0, 2, 0, Settings::default()).expect("a stereo bus");
    meter.process(&audio.channels(), &[]);
    meter.finish();
    let expected = meter.reading(&View::default());
    let entries = all(&audio);
    assert_eq!(entries.len(), 1);
    let record = |reading: &ledgerline_measure::Reading| {
        let mut record = serde_json::to_value(reading).expect("a record");
        // Long transforms are an entry's own.
        record.as_object_mut().expect("a record").remove("decorrelation_ms");
        record
    };
    assert_eq!(record(&entries[0].reading), record(&expected));
}

#[test]
fn every_kind_of_meter_shows_what_its_model_shows() {
    for (kind, rate_hz) in [(Kind::Uniform, 48_000.0), (Kind::Pink, 96_000.0)] {
        let [left, right] =
            [1, 2].map(|seed| kind.noise(seed, -12.0, rate_hz, frames(rate_hz, 20.0)));
        let sum: Vec<f32> = left.iter().zip(&right).map(|(a, b)| a + b).collect();
        let entries = all(&Stereo::new(rate_hz, left, right));
        let mut bank = Bank::new(rate_hz, rate_hz / 2.0);
        bank.take(&sum);
        for (detector, expected) in Detector::ALL.into_iter().zip(bank.settled()) {
            let shown = entries[0].levels.whole.sum.of(detector);
            let difference = shown.db().expect("a level") - expected.db().expect("a level");
            // What moves is read where it settles: over 20 s, the settling itself counts little.
            let within = if detector.is_peak() { 0.02 } else { 0.15 };
            assert!(difference.abs() <= within, "{kind:?}, {detector}: {difference} dB");
        }
    }
}

/// Equal levels: identical ones add to 6.02 dB above one, independent ones to 3.01 (table for adding
/// levels, Technical Memorandum “Summation of Noise Levels”, Table 3/4; exact values computed). The
/// scatter of a level is 4.34/√(BT) dB (Bendat and Piersol, *Random Data*; from memory): over 3 s of
/// white noise to 24 kHz 0.016 dB, so that four of a difference are 0.09 dB.
#[test]
fn energies_change_by_what_the_law_of_addition_says() {
    use Sources::{Alone, Copy, Independent, Same};
    let states = [Alone(0.0), Same, Independent, Alone(0.0), Copy(0.05, -6.0), Same];
    for kind in [Kind::Uniform, Kind::Gaussian] {
        let switching =
            Switching { kind, peak_dbfs: -12.0, rate_hz: 48_000.0, each_s: 3.0, states: &states };
        let entries = all(&switching.play(Panning::Middle));
        let weaker = 10.0 * (1.0 + 10f64.powf(-0.6)).log10();
        for (index, expected_db) in
            [6.02, -3.01, -3.01, weaker, 6.02 - weaker].into_iter().enumerate()
        {
            let change = change_at(&entries, 3.0 * (index + 1) as f64);
            for levels in [change.whole.sum, change.whole.bus, change.audible.sum] {
                let db = levels.of(Detector::Rms).db().expect("a difference");
                assert!((db - expected_db).abs() < 0.1, "{kind:?}, {index}: {db}, {expected_db}");
            }
        }
    }
}

/// The finding: a held sample peak stays where the energy falls by 3 dB.
#[test]
fn the_sample_peak_of_bounded_noise_stays_where_rms_falls_by_3_db() {
    let states = [Sources::Same, Sources::Independent];
    let switching = Switching {
        kind: Kind::Uniform,
        peak_dbfs: -10.0,
        rate_hz: 48_000.0,
        each_s: 20.0,
        states: &states,
    };
    let entries = all(&switching.play(Panning::Middle));
    let change = change_at(&entries, 20.0);
    let db = |detector| change.whole.sum.of(detector).db().expect("a difference");
    // The largest of N sums lies 2 − √(π/N) of one peak high (closed form).
    assert!(db(Detector::SamplePeak).abs() < 0.1, "{}", db(Detector::SamplePeak));
    for detector in [Detector::Rms, Detector::Momentary] {
        assert!((db(detector) + 3.01).abs() < 0.1, "{detector}: {}", db(detector));
    }
    // A needle reads the rectified average: of uniform noise half the peak, of a sum of two a third of
    // its own (both closed forms), which makes 20·log10((2/3)/1).
    let needle = 20.0 * (2.0f64 / 3.0).log10();
    assert!((db(Detector::Needle) - needle).abs() < 0.1, "{}", db(Detector::Needle));
    let names = |meters: &[ledgerline_measure::detector::MeterKind]| {
        serde_json::to_value(meters).expect("names").as_array().expect("a list").clone()
    };
    assert!(names(&change.shown_by).contains(&"rms/whole".into()));
    assert!(names(&change.not_shown_by).contains(&"sample_peak/whole".into()));
}
