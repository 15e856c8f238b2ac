//! The windows over both files, in parts that are summed up each by itself: on several threads, and a
//! second time only where other windows of it count.

use std::ops::Range;

use super::sums::{BandSums, Spectra, Sums};
use super::{Gathered, MIDDLES, SILENCE_POWER, Window};
use crate::compare::Source;
use crate::compare::play::{Failed, Player, Reel, in_parts};
use crate::compare::spectra::WindowedTransform;
use crate::compare::timeline::Timeline;

/// Share of half the lower rate up to which places between samples are exact.
const EXACT_SHARE: f64 = 0.9;
/// Windows at most; more would tell little more.
const MOST_WINDOWS: i64 = 600;
/// Parts at most, and how much memory their sums may take, in bytes. Their number depends on nothing
/// but the files, since sums do depend on it in their last digits.
const MOST_PARTS: usize = 64;
const MOST_BYTES: usize = 96 << 20;

/// The windows along a timeline.
pub(in crate::compare::align::relate) struct Windows<'a> {
    timeline: &'a Timeline,
    frames: usize,
    bin_hz: f64,
    channels: [usize; 2],
    /// Different delays of export channels, in frames of the mix, and which of them each has.
    delays: Vec<f64>,
    own: Vec<usize>,
    bands: Vec<Range<usize>>,
    parts: Vec<Part>,
}

/// Some windows, one behind the other.
struct Part {
    /// Index of the first.
    first: usize,
    /// Segment and first frame of each.
    windows: Vec<(usize, i64)>,
    summed: Option<Summed>,
}

/// What is known of a part.
struct Summed {
    sums: Sums,
    bands: Vec<BandSums>,
    /// Which of its windows count.
    counted: Vec<bool>,
}

impl<'a> Windows<'a> {
    /// Windows of `frames` along a timeline, for so many channels of the mix and of an export at
    /// `rate_hz` whose channels are `late` by frames of the mix.
    pub fn new(
        timeline: &'a Timeline,
        late: &[f64],
        channels: [usize; 2],
        frames: usize,
        rate_hz: f64,
    ) -> Self {
        let mut delays: Vec<f64> = Vec::new();
        let own = late
            .iter()
            .map(|late| {
                delays.iter().position(|known| known == late).unwrap_or_else(|| {
                    delays.push(*late);
                    delays.len() - 1
                })
            })
            .collect();
        let bins = frames / 2 + 1;
        let bin_hz = rate_hz / frames as f64;
        let half = 10f64.powf(0.05);
        let bin = |hz: f64| ((hz / bin_hz).round() as usize).clamp(1, bins - 1);
        let bands = MIDDLES.map(|n| {
            let hz = 1_000.0 * 10f64.powf(f64::from(n) / 10.0);
            bin(hz / half)..bin(hz * half)
        });
        let windows = windows(timeline, frames);
        let bytes = Sums::bytes(channels, delays.len(), bins).max(1);
        let count = (MOST_BYTES / bytes).clamp(1, MOST_PARTS);
        let each = windows.len().div_ceil(count).max(1);
        let part = |(n, windows): (usize, &[(usize, i64)])| Part {
            first: n * each,
            windows: windows.to_vec(),
            summed: None,
        };
        Self {
            timeline,
            frames,
            bin_hz,
            channels,
            delays,
            own,
            bands: bands.collect(),
            parts: windows.chunks(each).enumerate().map(part).collect(),
        }
    }

    /// Sums over all windows, or those that `kept` says, and what each window says of a prediction
    /// through `gains`.
    pub fn gather<M: Source, X: Source>(
        &mut self,
        mix: &mut Reel<M>,
        export: &mut Reel<X>,
        kept: Option<&[bool]>,
        gains: &[Vec<f64>],
    ) -> Result<Gathered, Failed<M::Error, X::Error>> {
        let counts = |index: usize, power: f64| {
            power > SILENCE_POWER
                && kept.is_none_or(|kept| kept.get(index).copied().unwrap_or(true))
        };
        let stands = |part: &Part| {
            part.summed.as_ref().is_some_and(|summed| {
                let windows = summed.bands.iter().zip(&summed.counted).zip(part.first..);
                windows.into_iter().all(|((bands, was), index)| *was == counts(index, bands.power))
            })
        };
        let open: Vec<usize> = (0..self.parts.len()).filter(|n| !stands(&self.parts[*n])).collect();
        let player = Player::exact(self.timeline.step);
        let summed = in_parts(
            mix,
            export,
            &open,
            || Tools::new(self, &player),
            |tools, mix, export, part| tools.sum(self, &self.parts[*part], mix, export, &counts),
        )?;
        for (part, summed) in open.into_iter().zip(summed) {
            self.parts[part].summed = Some(summed);
        }
        let bins = self.frames / 2 + 1;
        let mut sums = Sums::new(self.channels, self.delays.len(), bins);
        let mut windows = Vec::new();
        for part in self.parts.iter().filter_map(|part| part.summed.as_ref()) {
            sums.add(&part.sums);
            let window = |bands: &BandSums| Window {
                power: bands.power,
                bands: bands.through(gains, &self.own),
            };
            windows.extend(part.bands.iter().map(window));
        }
        Ok(Gathered {
            bin_hz: self.bin_hz,
            exact_bins: (EXACT_SHARE * self.timeline.step.min(1.0) * bins as f64) as usize,
            count: sums.count,
            sums,
            own: self.own.clone(),
            windows,
        })
    }
}

/// Segment and first frame of each window.
fn windows(timeline: &Timeline, frames: usize) -> Vec<(usize, i64)> {
    let hop = (timeline.frames() / MOST_WINDOWS).max(frames as i64 / 2);
    let mut windows = Vec::new();
    for (index, segment) in timeline.segments.iter().enumerate() {
        let last = segment.end - frames as i64;
        // A segment shorter than a window only where there is no other.
        let short = last < segment.start && timeline.segments.len() == 1;
        let starts = if short { segment.start..segment.start + 1 } else { segment.start..last + 1 };
        windows.extend(starts.step_by(hop as usize).map(|start| (index, start)));
    }
    windows
}

/// What a thread works with.
struct Tools {
    transform: WindowedTransform,
    /// By delay.
    players: Vec<Player>,
    played: Vec<Vec<f64>>,
    heard: Vec<f64>,
    spectra: Spectra,
}

impl Tools {
    fn new(windows: &Windows, player: &Player) -> Self {
        let transform = WindowedTransform::new(windows.frames);
        let [mix, export] = windows.channels;
        let spectra = Spectra {
            xs: vec![vec![transform.make_bins(); mix]; windows.delays.len()],
            ys: vec![transform.make_bins(); export],
        };
        Self {
            players: vec![player.clone(); windows.delays.len()],
            played: vec![Vec::new(); mix],
            heard: Vec::new(),
            spectra,
            transform,
        }
    }

    fn sum<M: Source, X: Source>(
        &mut self,
        windows: &Windows,
        part: &Part,
        mix: &mut Reel<M>,
        export: &mut Reel<X>,
        counts: &impl Fn(usize, f64) -> bool,
    ) -> Result<Summed, Failed<M::Error, X::Error>> {
        let (timeline, frames) = (windows.timeline, windows.frames);
        let bins = frames / 2 + 1;
        let mut sums = Sums::new(windows.channels, windows.delays.len(), bins);
        let (mut bands, mut counted) = (Vec::new(), Vec::new());
        for (index, &(segment, start)) in (part.first..).zip(&part.windows) {
            let segment = &timeline.segments[segment];
            let count = frames.min((segment.end - segment.start) as usize);
            export.show(start, start + count as i64).map_err(Failed::Export)?;
            let mut power = 0.0;
            self.heard.resize(count, 0.0);
            for (channel, bins) in self.spectra.ys.iter_mut().enumerate() {
                export.copy(channel, start, &mut self.heard);
                power += self.heard.iter().map(|x| x * x).sum::<f64>() / count as f64;
                self.transform.take(&self.heard, bins);
            }
            let delays = windows.delays.iter().zip(&mut self.players);
            for ((delay, player), xs) in delays.zip(&mut self.spectra.xs) {
                let place = timeline.place(segment, start as f64) - delay;
                self.played.iter_mut().for_each(|channel| channel.resize(count, 0.0));
                player.play(mix, place, timeline.step, &mut self.played).map_err(Failed::Mix)?;
                for (channel, bins) in self.played.iter().zip(xs) {
                    self.transform.take(channel, bins);
                }
            }
            bands.push(BandSums::of(&self.spectra, &windows.own, &windows.bands, power));
            counted.push(counts(index, power));
            if counts(index, power) {
                sums.take(&self.spectra, &windows.own);
            }
        }
        Ok(Summed { sums, bands, counted })
    }
}
