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
use super::beside::beside;
use super::play::{Failed, Path, Predictor, Reel};
use super::timeline::Timeline;
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
    let mut chunk = Chunk::default();
    let mut cross = CrossBook::new(plan.rates_hz[1], channels, plan.likeness, filtering);
    let whole = is_whole(plan.timeline) && plan.path.is_whole() && !filtering;
    let mut books = Books {
        blocks: BlockBook::new(plan.rates_hz[1], plan.frames, channels),
        spots: SpotFinder::new(channels, plan.peaks[1], whole),
        curve: CurveBook::new((plan.peaks[0] * plan.loudest).max(plan.peaks[1]), plan.rates_hz[1]),
        tallies: Tallies::default(),
        steps: plan.bits.map(|bits| (1u64 << (bits - 1)) as f64),
    };
    // Three threads, one behind the other: what plays, what is gathered by sample, and spectra, which
    // cost about as much as the rest.
    let take_spectra = |chunk: &mut Chunk| {
        if chunk.is_foreign {
            cross.end_segment();
        } else {
            cross.take(&chunk.heard, &chunk.predicted, &chunk.filtered);
        }
        if chunk.ends {
            cross.end_segment();
        }
    };
    beside(take_spectra, |spectra| {
        let books = &mut books;
        let take_samples = move |chunk: &mut Chunk| {
            books.take(chunk);
            spectra.give(|other| std::mem::swap(other, chunk));
        };
        beside(take_samples, |samples| {
            for segment in &plan.timeline.segments {
                for start in (segment.start..segment.end).step_by(CHUNK_FRAMES) {
                    let count = CHUNK_FRAMES.min((segment.end - start) as usize);
                    chunk.resize(channels, count);
                    chunk.start = start;
                    let end = start + count as i64;
                    let is_in = |range: &Range<i64>| range.start < end && start < range.end;
                    chunk.is_foreign = plan.foreign.iter().any(is_in);
                    chunk.ends = end == segment.end;
                    export.show(start, end).map_err(Failed::Export)?;
                    let Chunk { heard, predicted, filtered, .. } = &mut chunk;
                    predictor
                        .both(mix, segment, start, predicted, filtered)
                        .map_err(Failed::Mix)?;
                    for (channel, heard) in heard.iter_mut().enumerate() {
                        export.copy(channel, start, heard);
                        if filtering {
                            let scale = plan.scale[channel];
                            predicted[channel].iter_mut().for_each(|z| *z *= scale);
                        }
                    }
                    samples.give(|other| std::mem::swap(other, &mut chunk));
                }
            }
            Ok(())
        })
    })?;
    Ok(Passed {
        blocks: books.blocks.finish(),
        spectra: cross.finish(),
        spots: books.spots.finish(),
        tallies: books.tallies,
        curve: books.curve.finish(),
        exact_to_hz: predictor.exact_to(plan.rates_hz[0]),
    })
}

/// A stretch of the export, and what is predicted for it, by export channel.
#[derive(Default)]
struct Chunk {
    /// First frame of the export.
    start: i64,
    heard: Vec<Vec<f64>>,
    predicted: Vec<Vec<f64>>,
    filtered: Vec<Vec<f64>>,
    /// Whether it is known not to be the mix.
    is_foreign: bool,
    /// Whether it is the last of its segment.
    ends: bool,
}

impl Chunk {
    fn resize(&mut self, channels: usize, frames: usize) {
        for signal in [&mut self.heard, &mut self.predicted, &mut self.filtered] {
            signal.resize(channels, Vec::new());
            signal.iter_mut().for_each(|channel| channel.resize(frames, 0.0));
        }
    }
}

/// Everything that is gathered but the spectra.
struct Books {
    blocks: BlockBook,
    spots: SpotFinder,
    curve: CurveBook,
    tallies: Tallies,
    /// Steps of the export's grid, if it has one.
    steps: Option<f64>,
}

impl Books {
    fn take(&mut self, chunk: &Chunk) {
        let Chunk { start, heard, predicted, filtered, .. } = chunk;
        for (heard, predicted) in heard.iter().zip(predicted) {
            self.tallies.take(heard, predicted, self.steps, *start);
        }
        self.blocks.take(heard, predicted, filtered, *start);
        if !chunk.is_foreign {
            self.curve.take(heard, filtered);
        }
        self.spots.take(heard, filtered, *start);
        if chunk.ends {
            self.blocks.end_segment();
            self.spots.end_segment();
        }
    }
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
