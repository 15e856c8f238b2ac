//! The last pass: every sample of the export beside what the mix predicts for it, and what their
//! difference holds.

mod blocks;
mod cross;
mod curve;
mod lingering;
mod spots;

pub(super) use blocks::Block;
pub(super) use cross::CrossSpectra;
pub(super) use curve::{Class, Curve};
pub(super) use spots::Found;

use std::ops::Range;

use super::Source;
use super::play::{Path, Predictor, Reel};
use super::timeline::Timeline;
use crate::compare::play::Failed;
use blocks::BlockBook;
use cross::CrossBook;
use curve::CurveBook;
use spots::SpotFinder;

/// Frames taken at a time.
const CHUNK_FRAMES: usize = 8192;

/// What the pass is made with.
pub(super) struct Plan<'a> {
    pub timeline: &'a Timeline,
    pub path: &'a Path,
    /// What the plain prediction of each export channel is multiplied by where the path has filters.
    pub scale: &'a [f64],
    /// Sample rates of the mix and of the export, in Hz.
    pub rates_hz: [f64; 2],
    /// Frames of the export.
    pub frames: i64,
    /// Likeness of the anchors, to know by what stretches fall out of line.
    pub likeness: f64,
    /// The largest gain from mix to export.
    pub loudest: f64,
    /// Bits of the export's words, if it has a grid.
    pub bits: Option<u32>,
    /// Largest magnitudes in the mix and in the export.
    pub peaks: [f64; 2],
    /// Frames of the export that are known not to be the mix, and that spectra leave out.
    pub foreign: &'a [Range<i64>],
}

/// What it finds.
pub(super) struct Passed {
    pub blocks: Vec<Block>,
    pub spectra: CrossSpectra,
    pub spots: Vec<Found>,
    pub tallies: Tallies,
    /// What becomes of a sample by its height.
    pub curve: Curve,
    /// Up to which frequency the prediction is exact, in Hz.
    pub exact_to_hz: f64,
}

/// Counts and extremes over all samples.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Tallies {
    /// Samples compared, of all channels.
    pub samples: u64,
    /// Samples that differ.
    pub unequal: u64,
    /// Samples that are not the prediction rounded to the export's grid.
    pub not_rounded: u64,
    /// Samples that are not the prediction cut off to the grid below.
    pub not_truncated: u64,
    /// Largest difference, and its frame.
    pub peak: f64,
    pub peak_frame: i64,
}

/// Goes through both files.
pub(super) fn compare<M: Source, X: Source>(
    mix: &mut Reel<M>,
    export: &mut Reel<X>,
    plan: &Plan,
) -> Result<Passed, Failed<M::Error, X::Error>> {
    let channels = plan.path.gains.len();
    let filtering = plan.path.filters.is_some();
    let mut predictor = Predictor::new(plan.timeline, plan.path, mix.channels());
    let empty = || vec![vec![0.0; CHUNK_FRAMES]; channels];
    let (mut heard, mut predicted, mut filtered) = (empty(), empty(), empty());
    let mut blocks = BlockBook::new(plan.rates_hz[1], plan.frames, channels);
    let mut cross = CrossBook::new(plan.rates_hz[1], channels, plan.likeness, filtering);
    let whole = is_whole(plan.timeline) && plan.path.is_whole() && !filtering;
    let mut spots = SpotFinder::new(channels, plan.peaks[1], whole);
    let mut curve =
        CurveBook::new((plan.peaks[0] * plan.loudest).max(plan.peaks[1]), plan.rates_hz[1]);
    let mut tallies = Tallies::default();
    let steps = plan.bits.map(|bits| (1u64 << (bits - 1)) as f64);
    for segment in &plan.timeline.segments {
        for start in (segment.start..segment.end).step_by(CHUNK_FRAMES) {
            let count = CHUNK_FRAMES.min((segment.end - start) as usize);
            for signal in [&mut heard, &mut predicted, &mut filtered] {
                signal.iter_mut().for_each(|channel| channel.resize(count, 0.0));
            }
            let end = start + count as i64;
            export.show(start, end).map_err(Failed::Export)?;
            predictor
                .both(mix, segment, start, &mut predicted, &mut filtered)
                .map_err(Failed::Mix)?;
            for channel in 0..channels {
                export.copy(channel, start, &mut heard[channel]);
                if filtering {
                    let scale = plan.scale[channel];
                    predicted[channel].iter_mut().for_each(|z| *z *= scale);
                }
                tallies.take(&heard[channel], &predicted[channel], steps, start);
            }
            blocks.take(&heard, &predicted, &filtered, start);
            if plan.foreign.iter().any(|range| range.start < end && start < range.end) {
                cross.end_segment();
            } else {
                cross.take(&heard, &predicted, &filtered);
                curve.take(&heard, &filtered);
            }
            spots.take(&heard, &filtered, start);
        }
        blocks.end_segment();
        cross.end_segment();
        spots.end_segment();
    }
    let segments = &plan.timeline.segments;
    let covered = segments.first().map_or(0, |s| s.start)..segments.last().map_or(0, |s| s.end);
    Ok(Passed {
        blocks: blocks.finish(),
        spectra: cross.finish(),
        spots: spots.finish(covered, 2 * tallies.unequal < tallies.samples),
        tallies,
        curve: curve.finish(),
        exact_to_hz: predictor.exact_to(plan.rates_hz[0]),
    })
}

/// Whether every segment's samples are the mix's own.
pub(super) fn is_whole(timeline: &Timeline) -> bool {
    timeline.segments.iter().all(|segment| timeline.is_whole(segment))
}

impl Tallies {
    fn take(&mut self, heard: &[f64], predicted: &[f64], steps: Option<f64>, start: i64) {
        self.samples += heard.len() as u64;
        for (n, (y, z)) in heard.iter().zip(predicted).enumerate() {
            let difference = y - z;
            self.unequal += u64::from(difference != 0.0);
            if difference.abs() > self.peak {
                self.peak = difference.abs();
                self.peak_frame = start + n as i64;
            }
        }
        if let Some(steps) = steps {
            for (y, z) in heard.iter().zip(predicted) {
                let (y, z) = (y * steps, (z * steps).clamp(-steps, steps - 1.0));
                // Half a step either way: halves may be rounded up, down or to even.
                self.not_rounded += u64::from((y - z).abs() > 0.5);
                self.not_truncated += u64::from(y != z.floor());
            }
        }
    }
}
