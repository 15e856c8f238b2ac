//! What every detector shows in every step of a signal whose place in the test is known.

use std::ops::Range;

use crate::band::{BandFilter, stop_edge_hz};
use crate::detector::{Bank, Detector, Shown};
use crate::level::Level;
use crate::settings::Edges;

/// The bands by the keys of records, in the order of every table: whole, audible.
pub const BANDS: [&str; 2] = ["whole", "audible"];
/// The same as they are spoken of.
pub const BAND_WORDS: [&str; 2] = ["whole band", "audible band"];

/// A signal goes through the filter in pieces of this many frames.
const PIECE_FRAMES: usize = 1024;

/// What was shown in a stretch: in the whole and in the audible band.
#[derive(Debug, Clone, Copy)]
pub(super) struct StretchShown {
    /// The highest levels, by band.
    pub highest: [Shown; 2],
    /// The settled levels, by band.
    pub settled: [Shown; 2],
}

impl StretchShown {
    /// Of a stretch that was not heard.
    pub const NONE: Self = {
        let none = [[Level::NONE; Detector::ALL.len()]; 2];
        Self { highest: none, settled: none }
    };
}

/// The audible band of a whole signal, in step with it.
pub(super) fn audible(signal: &[f32], rate_hz: f64) -> Vec<f32> {
    let mut filter = BandFilter::new(rate_hz, Edges::default());
    let delay = filter.delay_frames();
    let mut output = Vec::with_capacity(signal.len() + PIECE_FRAMES);
    let (mut audible, mut above) = ([0.0; PIECE_FRAMES], [0.0; PIECE_FRAMES]);
    let mut late = delay;
    let silence = vec![0.0; delay];
    for piece in signal.chunks(PIECE_FRAMES).chain(silence.chunks(PIECE_FRAMES)) {
        filter.process(piece, &mut audible, &mut above);
        let early = late.min(piece.len());
        late -= early;
        output.extend_from_slice(&audible[early..piece.len()]);
    }
    output
}

/// Runs the bank over stretches of a signal, from rest in each.
pub(super) fn measure(
    signal: &[f32],
    rate_hz: f64,
    stretches: &[Range<usize>],
) -> Vec<StretchShown> {
    let half_hz = rate_hz / 2.0;
    let audible_hz = stop_edge_hz(rate_hz, Edges::default().high_hz()).unwrap_or(half_hz);
    // The bands have nothing to do with each other, so each has a thread.
    let [whole, audible] = std::thread::scope(|scope| {
        let audible = scope.spawn(|| {
            shown_in_band(&audible(signal, rate_hz), Bank::new(rate_hz, audible_hz), stretches)
        });
        let whole = shown_in_band(signal, Bank::new(rate_hz, half_hz), stretches);
        match audible.join() {
            Ok(audible) => [whole, audible],
            Err(panic) => std::panic::resume_unwind(panic),
        }
    });
    whole
        .into_iter()
        .zip(audible)
        .map(|(whole, audible)| StretchShown {
            highest: [whole.highest, audible.highest],
            settled: [whole.settled, audible.settled],
        })
        .collect()
}

/// What was shown in a stretch of one band.
struct BandShown {
    highest: Shown,
    settled: Shown,
}

fn shown_in_band(band: &[f32], mut bank: Bank, stretches: &[Range<usize>]) -> Vec<BandShown> {
    stretches
        .iter()
        .map(|stretch| {
            bank.reset();
            let end = stretch.end.min(band.len());
            bank.take(&band[stretch.start.min(end)..end]);
            BandShown {
                highest: bank.highest().map(silent_if_lost),
                settled: bank.settled().map(silent_if_lost),
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
