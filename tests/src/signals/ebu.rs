//! The loudness signals of EBU Tech 3341 (2023), Table 1, cases 1 to 6 and 9 to 14, and of EBU Tech
//! 3342 (2023), Table 1, cases 1 to 4: 1000 Hz, the same signal in both channels, but for case 6 of
//! Tech 3341, which has five channels.
//!
//! Cases 7 and 8 (and 5 and 6 of Tech 3342) are recordings of programmes, which no definition can
//! make.

use ledgerline_measure::ChannelRole;

use super::tone::Sine;
use super::{Stereo, amplitude, frames};

/// One stretch of the 1000 Hz tone.
#[derive(Debug, Clone, Copy)]
pub struct Segment {
    /// Peak level of each channel in dBFS; −∞ is silence.
    pub peak_dbfs: f64,
    /// Length, in seconds.
    pub length_s: f64,
}

/// A stretch of tone.
#[must_use]
pub fn segment(peak_dbfs: f64, length_s: f64) -> Segment {
    Segment { peak_dbfs, length_s }
}

/// A stretch of silence.
#[must_use]
pub fn pause(length_s: f64) -> Segment {
    segment(f64::NEG_INFINITY, length_s)
}

/// The segments in turn, the tone's phase running on through all of them.
#[must_use]
pub fn play(rate_hz: f64, segments: &[Segment]) -> Stereo {
    const TONE_HZ: f64 = 1000.0;
    let unit = Sine::new(TONE_HZ, 1.0);
    let mut channel = Vec::new();
    let mut end_s = 0.0;
    for segment in segments {
        end_s += segment.length_s;
        let gain = amplitude(segment.peak_dbfs);
        let range = channel.len()..frames(rate_hz, end_s);
        channel.extend(range.map(|index| (gain * unit.at(rate_hz, index)) as f32));
    }
    Stereo::both(rate_hz, channel)
}

/// Tech 3341, cases 1 to 5: the integrated loudness of each is −23 LUFS but for case 2 (−33).
///
/// # Panics
///
/// For any other case.
#[must_use]
pub fn integrated_case(case: usize) -> Vec<Segment> {
    let quiet = segment(-36.0, 10.0);
    let programme = segment(-23.0, 60.0);
    let gated = segment(-72.0, 10.0);
    match case {
        1 => vec![segment(-23.0, 20.0)],
        2 => vec![segment(-33.0, 20.0)],
        3 => vec![quiet, programme, quiet],
        4 => vec![gated, quiet, programme, quiet, gated],
        5 => vec![segment(-26.0, 20.0), segment(-20.0, 20.1), segment(-26.0, 20.0)],
        _ => panic!("no integrated case {case} can be made from its definition"),
    }
}

/// Tech 3341, case 6: the peak level of the tone in each of five channels, in dBFS, for 20 s. The
/// integrated loudness is −23 LUFS.
#[must_use]
pub fn case_6() -> [(ChannelRole, f64); 5] {
    [
        (ChannelRole::Left, -28.0),
        (ChannelRole::Right, -28.0),
        (ChannelRole::Center, -24.0),
        (ChannelRole::Surround, -30.0),
        (ChannelRole::Surround, -30.0),
    ]
}

/// Tech 3341, case 9: short-term −23 LUFS, constant after 3 s.
#[must_use]
pub fn case_9() -> Vec<Segment> {
    [segment(-20.0, 1.34), segment(-30.0, 1.66)].repeat(5)
}

/// Tech 3341, case 12: momentary −23 LUFS, constant after 1 s.
#[must_use]
pub fn case_12() -> Vec<Segment> {
    [segment(-20.0, 0.18), segment(-30.0, 0.22)].repeat(25)
}

/// How many segments cases 10, 11, 13 and 14 have, each a little later than the one before.
pub const OFFSETS: usize = 20;

/// Tech 3341, case 10, one of its 20 files: short-term maximum −23 LUFS.
#[must_use]
pub fn case_10(offset: usize) -> Vec<Segment> {
    vec![pause(0.15 * offset as f64), segment(-23.0, 3.0), pause(1.0)]
}

/// Tech 3341, case 11, one of its 20 segments, played live one after the other: short-term maximum
/// −38 + `offset` LUFS.
#[must_use]
pub fn case_11(offset: usize) -> Vec<Segment> {
    let late_s = 0.15 * offset as f64;
    vec![pause(late_s), segment(offset as f64 - 38.0, 3.0), pause(3.0 - late_s)]
}

/// Tech 3341, case 13, one of its 20 files: momentary maximum −23 LUFS.
#[must_use]
pub fn case_13(offset: usize) -> Vec<Segment> {
    vec![pause(0.02 * offset as f64), segment(-23.0, 0.4), pause(1.0)]
}

/// Tech 3341, case 14, one of its 20 segments, played live one after the other: momentary maximum
/// −38 + `offset` LUFS.
#[must_use]
pub fn case_14(offset: usize) -> Vec<Segment> {
    let late_s = 0.02 * offset as f64;
    vec![pause(late_s), segment(offset as f64 - 38.0, 0.4), pause(0.4 - late_s)]
}

/// Tech 3342, cases 1 to 4, each level for 20 s: the loudness range is 10, 5, 20 and 15 LU.
///
/// # Panics
///
/// For any other case.
#[must_use]
pub fn range_case(case: usize) -> Vec<Segment> {
    let levels_dbfs: &[f64] = match case {
        1 => &[-20.0, -30.0],
        2 => &[-20.0, -15.0],
        3 => &[-40.0, -20.0],
        4 => &[-50.0, -35.0, -20.0, -35.0, -50.0],
        _ => panic!("no loudness range case {case} can be made from its definition"),
    };
    levels_dbfs.iter().map(|&level| segment(level, 20.0)).collect()
}
