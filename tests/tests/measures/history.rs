//! Rows of history: each holds the true peak of its own tenth of a second, and the highest of them is
//! the one that a reading tells.

use std::f64::consts::PI;

use ledgerline_measure::{HistoryRow, Meter, Settings, View};

const RATE_HZ: f64 = 48_000.0;

/// Half a second a step of a sine of a quarter of the rate at 45°, as EBU Tech 3341 uses it for true
/// peaks: its samples lie 3.01 dB below the waveform's top.
fn rows(steps_dbtp: &[f64]) -> (Vec<HistoryRow>, f64) {
    let mut meter = Meter::new(RATE_HZ, 2, 0, Settings::default()).expect("a usual bus");
    meter.keep_history();
    let mut rows = Vec::new();
    for (step, dbtp) in steps_dbtp.iter().enumerate() {
        let amplitude = 10f64.powf(dbtp / 20.0);
        let first = step * 24_000;
        let samples: Vec<f32> = (first..first + 24_000)
            .map(|n| (amplitude * (PI / 2.0 * n as f64 + PI / 4.0).sin()) as f32)
            .collect();
        for block in samples.chunks(480) {
            meter.process(&[block, block], &[]);
            rows.extend(meter.drain_history());
        }
    }
    meter.finish();
    rows.extend(meter.drain_history());
    let told = meter.reading(&View::default()).whole.bus.true_peak_dbtp;
    (rows, told.db().expect("there is sound"))
}

#[test]
fn a_row_tells_the_true_peak_of_its_own_tenth_of_a_second() {
    let steps = [-6.0, -20.0, -3.0, -40.0];
    let (rows, told) = rows(&steps);
    assert_eq!(rows.len(), 20);
    for (index, row) in rows.iter().enumerate() {
        // The cut from step to step rings into its neighbours.
        if matches!(index % 5, 0 | 4) {
            continue;
        }
        let expected = steps[index / 5];
        for levels in [row.whole, row.audible] {
            let read = levels.true_peak_dbtp.db().expect("there is sound");
            assert!((read - expected).abs() <= 0.05, "row {index}: {read}, not {expected} dBTP");
            let sample = levels.sample_peak_dbfs.db().expect("there is sound");
            assert!((sample - (expected - 3.01)).abs() <= 0.05, "row {index}: {sample} dBFS");
        }
    }
    let highest =
        rows.iter().filter_map(|row| row.whole.true_peak_dbtp.db()).fold(-200.0, f64::max);
    assert_eq!(highest, told, "drawn and told");
}
