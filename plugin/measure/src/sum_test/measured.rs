//! What every detector shows in every step of a signal whose place in the test is known.

use std::ops::Range;

use crate::band::{BandFilter, stop_edge_hz};
use crate::detector::{Bank, Shown};
use crate::level::Level;
use crate::settings::Edges;

/// The bands, in the order of every table: whole, audible.
pub const BANDS: [&str; 2] = ["whole", "audible"];

/// What was shown in a stretch: in the whole and in the audible band.
#[derive(Debug, Clone, Copy)]
pub(super) struct StretchShown {
    /// The highest levels, by band.
    pub highest: [Shown; 2],
    /// The settled levels, by band.
    pub settled: [Shown; 2],
}

/// The audible band of a whole signal, in step with it.
pub(super) fn audible(signal: &[f32], rate_hz: f64) -> Vec<f32> {
    let mut filter = BandFilter::new(rate_hz, Edges::default());
    let delay = filter.delay_frames();
    let mut output = vec![0.0; signal.len() + delay];
    let mut above = vec![0.0; signal.len() + delay];
    let (now, late) = output.split_at_mut(signal.len());
    filter.process(signal, now, &mut above);
    filter.process(&vec![0.0; delay], late, &mut above);
    output.drain(..delay);
    output
}

/// Runs the bank over stretches of a signal, from rest in each.
pub(super) fn measure(
    signal: &[f32],
    rate_hz: f64,
    stretches: &[Range<usize>],
) -> Vec<StretchShown> {
    let audible = audible(signal, rate_hz);
    let edges = Edges::default();
    let highest_hz = [rate_hz / 2.0, stop_edge_hz(rate_hz, edges.high_hz).unwrap_or(rate_hz / 2.0)];
    let mut banks = highest_hz.map(|highest_hz| Bank::new(rate_hz, highest_hz));
    stretches
        .iter()
        .map(|stretch| {
            for (bank, band) in banks.iter_mut().zip([signal, &audible]) {
                bank.reset();
                let end = stretch.end.min(band.len());
                bank.take(&band[stretch.start.min(end)..end]);
            }
            StretchShown {
                highest: banks.each_ref().map(|bank| bank.highest().map(silent_if_lost)),
                settled: banks.each_ref().map(|bank| bank.settled().map(silent_if_lost)),
            }
        })
        .collect()
}

/// What a filter remembers of the step before, far below any recording's last digit, is no level.
pub(super) fn silent_if_lost(level: Level) -> Level {
    const LEAST_DBFS: f64 = -250.0;
    match level.db() {
        Some(db) if db < LEAST_DBFS => Level::SILENCE,
        _ => level,
    }
}
