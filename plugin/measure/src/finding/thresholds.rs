//! When there is something to say, and in which words. Every threshold of the findings stands in this
//! file.
//!
//! The thresholds are common practice, without a source: what a mix engineer would act on.

/// Difference between the meter's room and the audible room that is worth a sentence, in dB.
pub const ROOM_DB: f64 = 1.0;
/// Audible room in plenty, in dB: where exactly it ends changes nothing.
pub const PLENTY_DB: f64 = 6.0;
/// Difference in loudness or limiter drive that is worth a sentence, in LU or dB.
pub const READING_DB: f64 = 0.5;
/// Distance from the target that needs no action, in LU or dB.
pub const TARGET_DB: f64 = 0.5;
/// How much higher peaks may add than energy before the peak meter misleads, in dB. Music in
/// ordinary stereo stays below.
pub const PEAK_OVER_ENERGY_DB: f64 = 1.5;
/// Halves that correlate less than this, either way, add rather like independent ones.
pub const INDEPENDENT: f64 = 0.3;
/// A sum this near to the power sum, in dB, adds like independent signals; further off, only rather
/// so.
pub const POWER_SUM_DB: f64 = 0.5;
/// Halves closer than this count as equally loud, in dB.
pub const EQUAL_LEVEL_DB: f64 = 0.5;
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
/// Lift worth a word, in dB.
pub const LEAST_LIFT_DB: f64 = 0.5;
/// Share of the energy from which the strongest hidden content is named as the cause.
pub const LEAST_SHARE: f64 = 0.005;
/// Share of the energy from which further hidden content is named beside it.
pub const LEAST_FURTHER_SHARE: f64 = 0.05;
/// Fewer flat tops happen by chance.
pub const FLAT_TOPS: u64 = 3;
/// Hidden tones this far below the audible band's RMS are no news, in dB.
pub const HIDDEN_TONE_DB: f64 = -40.0;
/// Rumble this far below the audible band's RMS is no news, in dB.
pub const RUMBLE_DB: f64 = -15.0;
/// DC that is news, in dBFS: a thousandth of full scale.
pub const DC_DBFS: f64 = -60.0;
