//! When there is something to say, and in which words. Every threshold of the findings stands in this
//! file.
//!
//! The thresholds are common practice, without a source: what a mix engineer would act on.

/// Difference between the meter's room and the audible room that is worth a sentence, in dB.
pub const ROOM_DB: f64 = 1.0;
/// Room in plenty, in dB: where exactly it ends changes nothing.
pub const PLENTY_DB: f64 = 6.0;
/// Difference in loudness or limiter drive that is worth a sentence, in LU or dB.
pub const READING_DB: f64 = 0.5;
/// Difference in loudness that a delivery depends on, in LU: the tolerance of live programmes in EBU
/// R 128.
pub const LOUDNESS_LU: f64 = 1.0;
/// Distance from the target that needs no action, in LU or dB.
pub const TARGET_DB: f64 = 0.5;
/// How much higher peaks may add than energy before the peak meter misleads, in dB.
pub const PEAK_OVER_ENERGY_DB: f64 = 1.5;
/// Halves that correlate less than this, either way, add rather like independent ones.
pub const INDEPENDENT: f64 = 0.3;
/// A sum this near to the power sum, in dB, adds like independent signals; further off, only rather
/// so.
pub const POWER_SUM_DB: f64 = 0.5;
/// Crest factor under which sound is flat-topped, in dB, so that its peaks say little of its sum:
/// steady tones have 3.0 dB, uniform noise 4.8 dB, two of them 7.8 dB. Music seldom has as little, and
/// its independent halves are ordinary stereo.
pub const FLAT_TOPPED_CREST_DB: f64 = 8.0;
/// Correlation from which one half is called a copy of the other: what differs lies 7 dB down.
pub const COPY: f64 = 0.9;
/// Halves this alike are all but one signal: what differs lies 43 dB down.
pub const IDENTICAL: f64 = 0.9999;
/// What differs between halves at two levels comes from their correlation, which is certain to a ten
/// millionth: no further down than this can be told, in dB.
pub const DEEPEST_DB: f64 = -60.0;
/// Sum gain below which halves cancel rather than merely differ, in dB against the power sum.
pub const CANCEL_DB: f64 = -6.0;
/// Halves further apart than this hardly act on each other, in dB.
pub const LEVEL_DIFFERENCE_DB: f64 = 10.0;
/// What one decimal shows as nothing, in dB.
pub const NOTHING_DB: f64 = 0.05;
/// Audible true peak below which overs are hidden content's, in dBTP.
pub const AUDIBLE_OVER_DBTP: f64 = -1.0;
/// Share of the energy on its side of the audible band from which a tone is what takes the room there.
pub const LEADING_SHARE: f64 = 0.5;
/// How much more K-weighting leaves of what lies above the audible band than of what lies below it, as
/// a ratio of powers: 4 dB more at the top, 17 dB less at 15 Hz.
pub const K_WEIGHTING_SPREAD: f64 = 100.0;
/// Damage this far below the programme in its worst 100 ms is hardly heard, in dB.
pub const HARDLY_HEARD_DB: f64 = -50.0;
/// Damage this near to the programme is heard, in dB; between both it may be.
pub const HEARD_DB: f64 = -30.0;
/// Shortest silence that is news, in seconds: pauses in music are shorter.
pub const SILENT_S: f64 = 3.0;
/// Fewer flat tops happen by chance.
pub const FLAT_TOPS: u64 = 3;
/// Hidden tones this far below the audible band's RMS are no news, in dB.
pub const HIDDEN_TONE_DB: f64 = -40.0;
/// Rumble this far below the audible band's RMS is no news, in dB.
pub const RUMBLE_DB: f64 = -15.0;
/// DC that is news, in dBFS: a hundredth of full scale, which takes 0.1 dB of room.
pub const DC_DBFS: f64 = -40.0;
