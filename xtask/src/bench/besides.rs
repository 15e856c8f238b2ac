//! What costs something only where it is chosen or happens: the user's own meter, damage, and a reset that
//! can still be undone.

use anyhow::Result;
use ledgerline_measure::detector::{Detector, MeterKind};
use serde_json::{Value, json};

use super::pair::{self, Besides};
use super::tracks::{self, Track};

/// Shares of the samples that exceed full scale.
const OVER: [f64; 2] = [0.02, 0.25];

/// What one thing adds on one track.
pub struct Added {
    track: String,
    what: String,
    /// In parts of what the `ebur128` crate takes.
    ratio: f64,
}

impl Added {
    /// The figures as a record.
    pub fn record(&self) -> Value {
        json!({ "track": self.track, "what": self.what, "added_cpu_ratio_vs_ebur128": self.ratio })
    }
}

/// Times those kinds of meter that move by themselves, and one that the books hold anyway, and a reset on
/// some tracks; and damage on noise.
///
/// # Errors
///
/// When a track cannot be measured.
pub fn run(tracks: &[Track]) -> Result<Vec<Added>> {
    let detectors =
        [Detector::SamplePeak, Detector::Needle, Detector::Programme1, Detector::Programme2];
    let mut all = Vec::new();
    for track in tracks {
        let added = |what: String, besides: Besides| -> Result<Added> {
            let ratio = pair::added_by(track, [track, track], besides)?;
            Ok(Added { track: track.name.clone(), what, ratio })
        };
        for detector in detectors {
            let kind = MeterKind { detector, audible: false };
            let your_meter = Some(kind);
            all.push(added(kind.to_string(), Besides { your_meter, ..Besides::default() })?);
        }
        let besides = Besides { after_a_reset: true, ..Besides::default() };
        all.push(added("a reset that can be undone".into(), besides)?);
    }
    let usual = tracks::noise(96_000.0);
    for share in OVER {
        let loud = tracks::noise_over(96_000.0, share);
        let ratio = pair::added_by(&usual, [&usual, &loud], Besides::default())?;
        let what = format!("damage, {} % of the samples over", 100.0 * share);
        all.push(Added { track: usual.name.clone(), what, ratio });
    }
    Ok(all)
}

/// Prints the figures.
pub fn print(all: &[Added]) {
    println!("\nWhat else adds to the ratio, blocks of 64\n");
    for Added { track, what, ratio } in all {
        println!("{track:<28} {what:<34} {ratio:>+7.3}");
    }
}
