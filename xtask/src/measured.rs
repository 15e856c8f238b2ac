//! What the measures alone say of a track.

use anyhow::Result;
use ledgerline::handover::Snapshot;
use ledgerline_measure::{Meter, Settings, View};
use ledgerline_tests::signals::Stereo;

/// Reads a track from beginning to end with the usual settings.
///
/// # Errors
///
/// When the track's rate cannot be measured.
pub fn measure(track: &Stereo) -> Result<Snapshot> {
    let mut meter = Meter::new(track.rate_hz, 2, 0, Settings::default())?;
    meter.process(&track.channels(), &[]);
    meter.finish();
    Ok(Snapshot { reading: meter.reading(&View::default()), spectrum: meter.spectrum() })
}
