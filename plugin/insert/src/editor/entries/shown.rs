//! Which change is looked at, and what is said where there is none.

use ledgerline_measure::detector::Detector;
use ledgerline_measure::words;

use super::ViewState;
use crate::entries::board::{ChangeTo, Told};

/// The meters, with their units, in a fixed order.
pub(super) const METERS: [(Detector, &str, &str); 4] = [
    (Detector::Rms, "RMS", "dB"),
    (Detector::SamplePeak, "sample peak", "dB"),
    (Detector::TruePeak, "true peak", "dB"),
    (Detector::Momentary, "loudness", "LU"),
];
/// The change that is looked at: between two entries that were picked, or the latest.
pub(in crate::editor) fn shown<'a>(told: &'a Told, view: &ViewState) -> Option<&'a ChangeTo> {
    let change = if view.pair().is_some() { &told.picked } else { &told.latest };
    change.as_deref()
}

/// Since when a change is listened to that cannot be told yet, unless two entries are picked.
pub(super) fn listening(told: &Told, view: &ViewState) -> Option<String> {
    let since_s = told.listening_since_s.filter(|_| view.pair().is_none())?;
    Some(format!("listening since {}", words::moment(since_s.floor(), 0)))
}

/// Why there is no change to look at.
pub(super) fn why_none(told: &Told, view: &ViewState) -> &'static str {
    match (view.pair(), told.listening_since_s) {
        (Some(_), _) => "One of the two entries is no longer kept.",
        (None, Some(_)) => "Listening: a change is told after 3 s and more.",
        (None, None) => "Nothing to compare yet. Switch something, or press Mark.",
    }
}
