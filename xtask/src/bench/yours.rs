//! What the user's own meter costs on the audio thread, beside the measures without it.

use anyhow::Result;
use ledgerline_measure::detector::{Detector, MeterKind};
use serde_json::{Value, json};

use super::pair;
use super::tracks::Track;

/// What one kind adds on one track.
pub struct Yours {
    track: String,
    kind: MeterKind,
    /// In parts of what the `ebur128` crate takes.
    added_ratio: f64,
}

impl Yours {
    /// The figures as a record.
    pub fn record(&self) -> Value {
        json!({
            "track": self.track,
            "kind": self.kind.to_string(),
            "added_cpu_ratio_vs_ebur128": self.added_ratio,
        })
    }
}

/// Times those kinds that move by themselves, and one that the books hold anyway.
///
/// # Errors
///
/// When a track cannot be measured.
pub fn run(tracks: &[Track]) -> Result<Vec<Yours>> {
    let detectors =
        [Detector::SamplePeak, Detector::Needle, Detector::Programme1, Detector::Programme2];
    let mut all = Vec::new();
    for track in tracks {
        for detector in detectors {
            let kind = MeterKind { detector, audible: false };
            let added_ratio = pair::added_by(track, kind)?;
            all.push(Yours { track: track.name.clone(), kind, added_ratio });
        }
    }
    Ok(all)
}

/// Prints the figures.
pub fn print(all: &[Yours]) {
    println!("\nWhat the user's own meter adds to the ratio, blocks of 64\n");
    for Yours { track, kind, added_ratio } in all {
        println!("{track:<28} {:<22} {added_ratio:>+7.3}", kind.to_string());
    }
}
