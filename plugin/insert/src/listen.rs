//! Listening: the output carries the audible band alone, the hidden content shifted down to where it
//! can be heard, or what clipping would take off. Off, the output is not touched at all; every change is a fade, also where
//! other filters take over: whatever is heard goes on until they are full.
//!
//! The filters delay what is heard by some milliseconds. The plugin reports no latency for it, as
//! nobody renders through a listening mode.

mod fade;
mod shift;

use ledgerline_measure::Edges;
use ledgerline_measure::band::BandFilter;
use ledgerline_measure::damage::excess;
use ledgerline_measure::sample::sample_or_silence;

use crate::choices::Listen;
use fade::Fade;
use shift::Shifter;

/// How long a fade takes.
const FADE_S: f64 = 0.02;
/// How much is filtered at once.
const PIECE_FRAMES: usize = 64;

/// The filters of all channels for one pair of edges, and how much of them is heard.
pub struct Filters {
    channels: Vec<Channel>,
    audible: Fade,
    hidden: Fade,
    damage: Fade,
    /// Where clipping is thought, linear.
    limit: f32,
    /// Frames until the filters are filled with the present signal; `None` while they rest.
    priming_frames: Option<usize>,
    full_priming_frames: usize,
    /// Frames for which the filter of the excess rings after it, at most.
    ringing_frames: usize,
}

struct Channel {
    split: BandFilter,
    shifter: Shifter,
    /// What is audible of the excess.
    damage: BandFilter,
    /// Frames for which that filter has yet to run: there is seldom something in it.
    ringing: usize,
}

/// Mixes what is heard. It outlives the filters, so that a change of filters is a fade as well.
pub struct Ear {
    fade_frames: u32,
    /// Share of the input; `None` until the first block.
    dry: Option<Fade>,
    /// For how long the output can sound on when the input has ended, at most.
    tail_frames: usize,
}

/// What comes to be heard; everything else fades out.
#[derive(Clone, Copy, PartialEq)]
enum Wanted {
    Dry,
    Present,
    Leaving,
    /// Filters that are not full yet: as much of the input as was heard.
    Waiting,
    Nothing,
}

impl Filters {
    /// Filters for `channels` channels at `rate_hz`. Allocates.
    #[must_use]
    pub fn new(rate_hz: f64, channels: usize, edges: Edges) -> Self {
        let channels: Vec<Channel> = (0..channels)
            .map(|index| Channel {
                split: BandFilter::for_channel(rate_hz, edges, index, 2 * channels),
                shifter: Shifter::new(rate_hz, edges.high_hz()),
                damage: BandFilter::for_channel(rate_hz, edges, channels + index, 2 * channels),
                ringing: 0,
            })
            .collect();
        let delay_frames = channels.first().map_or(0, |c| c.split.delay_frames());
        let fade_frames = fade_frames(rate_hz);
        Self {
            channels,
            audible: Fade::out(fade_frames),
            hidden: Fade::out(fade_frames),
            damage: Fade::out(fade_frames),
            limit: 1.0,
            priming_frames: None,
            // A linear-phase filter is twice as long as its delay; the high-pass after it settles.
            full_priming_frames: 2 * delay_frames + settling_frames(rate_hz, edges.low_hz()),
            // By then the high-pass has fallen by 200 dB.
            ringing_frames: 2 * delay_frames + 5 * settling_frames(rate_hz, edges.low_hz()),
        }
    }

    /// Says where clipping is thought: a linear limit.
    pub fn set_limit(&mut self, limit: f32) {
        self.limit = limit;
    }

    /// Whether nothing of them is heard.
    #[must_use]
    pub fn is_out(&self) -> bool {
        self.audible.is_out() && self.hidden.is_out() && self.damage.is_out()
    }

    /// Whether they are being filled, to be heard thereafter.
    #[must_use]
    pub fn is_priming(&self) -> bool {
        self.priming_frames.is_some_and(|left| left > 0)
    }

    /// Silences them at once; the next time they are filled anew.
    pub fn rest(&mut self) {
        self.audible.cut();
        self.hidden.cut();
        self.damage.cut();
        self.priming_frames = None;
    }

    /// Counts down until the filters are filled, clearing them first if they have rested. Says
    /// whether they were full before.
    fn prime(&mut self, frames: usize) -> bool {
        let left = match self.priming_frames {
            Some(left) => left,
            None => {
                for channel in &mut self.channels {
                    channel.split.reset();
                    channel.shifter.reset();
                    channel.ringing = 0;
                }
                self.full_priming_frames
            }
        };
        self.priming_frames = Some(left.saturating_sub(frames));
        left == 0
    }

    fn fade(&mut self, wanted: bool, mode: Listen, frames: usize) -> Shares {
        let mut shares = Shares::default();
        for (fade, own, shares) in [
            (&mut self.audible, Listen::Audible, &mut shares.audible),
            (&mut self.hidden, Listen::Hidden, &mut shares.hidden),
            (&mut self.damage, Listen::Damage, &mut shares.damage),
        ] {
            fade.advance(wanted && mode == own, &mut shares[..frames]);
        }
        shares
    }

    /// Adds a channel's share to what is heard of it.
    fn add(&mut self, channel: usize, input: &[f32], shares: &Shares, heard: &mut [f32]) {
        let (limit, ringing_frames) = (self.limit, self.ringing_frames);
        let Some(channel) = self.channels.get_mut(channel) else { return };
        let (mut audible, mut hidden) = ([0.0; PIECE_FRAMES], [0.0; PIECE_FRAMES]);
        let frames = input.len();
        let damage = channel.damage(input, limit, ringing_frames);
        channel.split.process(input, &mut audible[..frames], &mut hidden[..frames]);
        channel.shifter.process(&mut hidden[..frames]);
        for (index, heard) in heard.iter_mut().enumerate() {
            *heard += audible[index] * shares.audible[index]
                + hidden[index] * shares.hidden[index]
                + damage[index] * shares.damage[index];
        }
    }
}

impl Channel {
    /// What is audible of the excess of a piece, or of what came before it.
    fn damage(&mut self, input: &[f32], limit: f32, ringing_frames: usize) -> [f32; PIECE_FRAMES] {
        let (mut over, mut audible) = ([0.0; PIECE_FRAMES], [0.0; PIECE_FRAMES]);
        for (over, &sample) in over.iter_mut().zip(input) {
            *over = excess(sample, limit);
        }
        let over = &over[..input.len()];
        if over.iter().any(|&sample| sample != 0.0) {
            if self.ringing == 0 {
                self.damage.reset();
            }
            self.ringing = ringing_frames;
        }
        if self.ringing > 0 {
            let mut above = [0.0; PIECE_FRAMES];
            self.damage.process(over, &mut audible[..over.len()], &mut above);
            self.ringing = self.ringing.saturating_sub(over.len());
        }
        audible
    }
}

/// What is heard of some filters, frame by frame.
struct Shares {
    audible: [f32; PIECE_FRAMES],
    hidden: [f32; PIECE_FRAMES],
    damage: [f32; PIECE_FRAMES],
}

impl Default for Shares {
    fn default() -> Self {
        let none = [0.0; PIECE_FRAMES];
        Self { audible: none, hidden: none, damage: none }
    }
}

impl Ear {
    /// An ear at a sample rate, before the first block.
    #[must_use]
    pub fn new(rate_hz: f64) -> Self {
        Self { fade_frames: fade_frames(rate_hz), dry: None, tail_frames: 0 }
    }

    /// Processing stops: whatever was heard has ended. What comes next begins with what is wanted
    /// then, from silence if it has to be filtered.
    pub fn stop(&mut self) {
        self.dry = None;
        self.tail_frames = 0;
    }

    /// For how many frames the output may sound on after the input, 0 where the input is heard
    /// alone.
    #[must_use]
    pub fn tail_frames(&self) -> usize {
        self.tail_frames
    }

    /// Replaces what is in `main[channel][frame]` by what `mode` lets hear through the `present`
    /// filters, or through those that are `leaving` until the present ones are full. With listening
    /// off, and once faded out, nothing is read or written.
    pub fn process(
        &mut self,
        mode: Listen,
        mut present: Option<&mut Filters>,
        mut leaving: Option<&mut Filters>,
        main: &mut [&mut [f32]],
    ) {
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let mut start = 0;
        while start < frames {
            if self.is_untouched(mode, present.as_deref(), leaving.as_deref()) {
                present.into_iter().chain(leaving).for_each(Filters::rest);
                self.tail_frames = 0;
                return;
            }
            let end = (start + PIECE_FRAMES).min(frames);
            self.process_piece(
                mode,
                present.as_deref_mut(),
                leaving.as_deref_mut(),
                main,
                start..end,
            );
            start = end;
        }
        let longest = present.into_iter().chain(leaving).map(|f| f.full_priming_frames).max();
        self.tail_frames = longest.unwrap_or(0) + self.fade_frames as usize;
    }

    fn is_untouched(
        &mut self,
        mode: Listen,
        present: Option<&Filters>,
        leaving: Option<&Filters>,
    ) -> bool {
        let fade_frames = self.fade_frames;
        let dry = self.dry.get_or_insert_with(|| match mode {
            Listen::Off => Fade::full(fade_frames),
            Listen::Audible | Listen::Hidden | Listen::Damage => Fade::out(fade_frames),
        });
        let silent = [present, leaving].into_iter().flatten().all(Filters::is_out);
        mode == Listen::Off && dry.is_full() && silent
    }

    fn process_piece(
        &mut self,
        mode: Listen,
        mut present: Option<&mut Filters>,
        mut leaving: Option<&mut Filters>,
        main: &mut [&mut [f32]],
        piece: std::ops::Range<usize>,
    ) {
        let frames = piece.len();
        let full = present.as_mut().map(|filters| filters.prime(frames));
        let wanted = match (mode, full) {
            (Listen::Off, _) => Wanted::Dry,
            (_, Some(true)) => Wanted::Present,
            (_, Some(false)) if leaving.as_ref().is_some_and(|f| !f.is_out()) => Wanted::Leaving,
            (_, Some(false)) => Wanted::Waiting,
            (_, None) => Wanted::Nothing,
        };
        let mut dry = [0.0; PIECE_FRAMES];
        if let Some(fade) = &mut self.dry {
            match wanted {
                Wanted::Waiting => fade.hold(&mut dry[..frames]),
                _ => fade.advance(wanted == Wanted::Dry, &mut dry[..frames]),
            }
        }
        let of_present = present.as_mut().map(|f| f.fade(wanted == Wanted::Present, mode, frames));
        let of_leaving = leaving.as_mut().map(|f| f.fade(wanted == Wanted::Leaving, mode, frames));

        for (index, samples) in main.iter_mut().enumerate() {
            let samples = &mut samples[piece.clone()];
            let (mut input, mut heard) = ([0.0; PIECE_FRAMES], [0.0; PIECE_FRAMES]);
            for (frame, &sample) in samples.iter().enumerate() {
                input[frame] = sample_or_silence(sample);
                heard[frame] = input[frame] * dry[frame];
            }
            let present = (present.as_deref_mut(), &of_present);
            for (filters, shares) in [present, (leaving.as_deref_mut(), &of_leaving)] {
                if let (Some(filters), Some(shares)) = (filters, shares) {
                    filters.add(index, &input[..frames], shares, &mut heard[..frames]);
                }
            }
            for (frame, sample) in samples.iter_mut().enumerate() {
                // Where the input alone is heard it stays as it is, bit for bit.
                if dry[frame] < 1.0 {
                    *sample = normal(heard[frame]);
                }
            }
        }
    }
}

/// How long the high-pass takes to forget how it began: two periods of its edge, in which its
/// slowest mode, exp(−2π·0.383·f·t), has fallen below one in a hundred.
fn settling_frames(rate_hz: f64, low_hz: f64) -> usize {
    (2.0 * rate_hz / low_hz) as usize
}

fn fade_frames(rate_hz: f64) -> u32 {
    (FADE_S * rate_hz).max(1.0) as u32
}

/// Silences what is too small to be a normal number: what comes after in a chain may be slow with
/// it. Everything that replaces the input goes through here.
#[must_use]
pub fn normal(sample: f32) -> f32 {
    if sample.is_subnormal() { 0.0 } else { sample }
}

#[cfg(test)]
mod tests;
