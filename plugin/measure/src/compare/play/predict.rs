//! What the mix predicts for the export: played by the export's clock, each of its channels as late
//! as it is, mapped by gains, and filtered where a filter was found.

mod stream;

use super::player::Player;
use super::reel::Reel;
use crate::compare::Source;
use crate::compare::timeline::{Segment, Timeline};
use stream::Stream;

/// How the export's channels come from the mix's, once the place in time is known.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::compare) struct Path {
    /// `[export channel][mix channel]`, linear and signed.
    pub gains: Vec<Vec<f64>>,
    /// By how many frames of the mix each export channel is later than the timeline says.
    pub late: Vec<f64>,
    /// Taps of the filter of each export channel, an even number, the one at half of it for no delay;
    /// `None` where there is no filter.
    pub filters: Option<Vec<Vec<f64>>>,
}

impl Path {
    /// Whether every channel's delay is a whole number of frames.
    pub fn is_whole(&self) -> bool {
        self.late.iter().all(|late| late.fract() == 0.0)
    }
}

/// One delay, and the channels that have it.
struct Group {
    late: f64,
    channels: Vec<usize>,
    player: Player,
    played: Vec<Vec<f64>>,
}

/// Plays predictions.
pub(in crate::compare) struct Predictor<'a> {
    timeline: &'a Timeline,
    path: &'a Path,
    groups: Vec<Group>,
    stream: Option<Stream>,
}

impl<'a> Predictor<'a> {
    pub fn new(timeline: &'a Timeline, path: &'a Path, mix_channels: usize) -> Self {
        let mut groups: Vec<Group> = Vec::new();
        for (channel, &late) in path.late.iter().enumerate() {
            match groups.iter_mut().find(|group| group.late == late) {
                Some(group) => group.channels.push(channel),
                None => groups.push(Group {
                    late,
                    channels: vec![channel],
                    player: Player::exact(timeline.step),
                    played: vec![Vec::new(); mix_channels],
                }),
            }
        }
        let stream = path.filters.as_ref().map(|filters| Stream::new(filters));
        Self { timeline, path, groups, stream }
    }

    /// Up to which frequency a mix at `rate_hz` is kept, in Hz.
    pub fn exact_to(&self, rate_hz: f64) -> f64 {
        let each = self.groups.iter().map(|group| group.player.exact_to(rate_hz));
        each.fold(rate_hz / 2.0, f64::min)
    }

    /// Fills `plain[export channel]` with what gains and delays predict from frame `start` of the
    /// export on.
    pub fn plain<S: Source>(
        &mut self,
        mix: &mut Reel<S>,
        segment: &Segment,
        start: i64,
        plain: &mut [Vec<f64>],
    ) -> Result<(), S::Error> {
        let count = plain.first().map_or(0, Vec::len);
        for group in &mut self.groups {
            group.played.iter_mut().for_each(|channel| channel.resize(count, 0.0));
            let place = self.timeline.place(segment, start as f64) - group.late;
            group.player.play(mix, place, self.timeline.step, &mut group.played)?;
            for &channel in &group.channels {
                mapped(&group.played, &self.path.gains[channel], &mut plain[channel]);
            }
        }
        Ok(())
    }

    /// The same, and `filtered` with what the filters make of it: equal where there are none.
    pub fn both<S: Source>(
        &mut self,
        mix: &mut Reel<S>,
        segment: &Segment,
        start: i64,
        plain: &mut [Vec<f64>],
        filtered: &mut [Vec<f64>],
    ) -> Result<(), S::Error> {
        let Some(mut stream) = self.stream.take() else {
            self.plain(mix, segment, start, plain)?;
            for (filtered, plain) in filtered.iter_mut().zip(plain.iter()) {
                filtered.copy_from_slice(plain);
            }
            return Ok(());
        };
        let count = plain.first().map_or(0, Vec::len);
        let (from, mut ahead) = stream.wanted((segment.start, start), count);
        self.plain(mix, segment, from, &mut ahead)?;
        stream.push((segment.start, start), ahead, plain, filtered);
        self.stream = Some(stream);
        Ok(())
    }
}

/// Fills `out` with the mix's channels through one export channel's gains.
pub(in crate::compare) fn mapped(played: &[Vec<f64>], gains: &[f64], out: &mut [f64]) {
    out.fill(0.0);
    for (channel, &gain) in played.iter().zip(gains) {
        if gain != 0.0 {
            out.iter_mut().zip(channel).for_each(|(out, x)| *out += gain * x);
        }
    }
}
