//! By how much the readings of every kind of meter differ.

use super::super::levels::{BandLevels, ShownLevels};
use super::super::stretch::Stretch;
use crate::detector::Detector;
use crate::level::Level;
use crate::meter::HELD;

/// The length that peaks are compared over, in seconds, and the differences in the whole and in the
/// audible band.
pub(super) fn of(before: &Stretch, after: &Stretch) -> (f64, [BandLevels; 2]) {
    let (seconds, one, other) = before.evidence.peaks.over_equal_lengths(&after.evidence.peaks);
    let shown = |entry: &Stretch, band: usize| match band {
        0 => entry.levels.whole,
        _ => entry.levels.audible,
    };
    let bands = [0, 1].map(|band| {
        let (from, to) = (shown(before, band), shown(after, band));
        BandLevels {
            sum: signal(&from.sum, &to.sum, [one, other].map(|peaks| &peaks[band][0])),
            bus: signal(&from.bus, &to.bus, [one, other].map(|peaks| &peaks[band][1])),
        }
    });
    (seconds, bands)
}

fn signal(
    from: &ShownLevels,
    to: &ShownLevels,
    [one, other]: [&[f32; HELD.len()]; 2],
) -> ShownLevels {
    let mut index = 0;
    ShownLevels(Detector::ALL.map(|detector| {
        let difference = match HELD.iter().position(|&held| held == detector) {
            // Where there is no sum, there are no peaks of it.
            Some(held) if from.0[index].exists() && to.0[index].exists() => {
                level(other[held]).minus(level(one[held]))
            }
            Some(_) => Level::NONE,
            None => to.0[index].minus(from.0[index]),
        };
        index += 1;
        difference
    }))
}

fn level(peak: f32) -> Level {
    Level::from_amplitude(f64::from(peak))
}
