//! Listening: the output carries the audible band alone, or the hidden content shifted down to
//! where it can be heard. Off, the output is not touched at all; every change is a fade.
//!
//! The filters delay what is heard by a few milliseconds. The plugin reports no latency for it, as
//! nobody renders through a listening mode.

mod shift;

use ledgerline_measure::Edges;
use ledgerline_measure::band::BandFilter;

use crate::choices::Listen;
use shift::Shifter;

/// How long a fade takes.
const FADE_S: f64 = 0.02;
/// How much is filtered at once.
const PIECE_FRAMES: usize = 64;
/// Magnitudes above this are no audio (+120 dBFS), and are not let into the filters.
const LARGEST_SAMPLE: f32 = 1e6;

/// The listening path of all channels.
pub struct Listening {
    channels: Vec<Channel>,
    /// Share of the audible band in the output, 0 to 1.
    audible: Fade,
    /// Share of the hidden content in the output, 0 to 1.
    hidden: Fade,
    /// Frames until the filters are filled with the present signal; `None` while they rest.
    priming_frames: Option<usize>,
    full_priming_frames: usize,
}

struct Channel {
    split: BandFilter,
    shifter: Shifter,
}

impl Listening {
    /// Filters for `channels` channels at `rate_hz`. Allocates.
    #[must_use]
    pub fn new(rate_hz: f64, channels: usize, edges: Edges) -> Self {
        let channels: Vec<Channel> = (0..channels)
            .map(|_| Channel {
                split: BandFilter::new(rate_hz, edges),
                shifter: Shifter::new(rate_hz, edges.high_hz),
            })
            .collect();
        let fade_frames = (FADE_S * rate_hz).max(1.0);
        let delay_frames = channels.first().map_or(0, |c| c.split.delay_frames());
        Self {
            channels,
            audible: Fade::new(fade_frames),
            hidden: Fade::new(fade_frames),
            priming_frames: None,
            // A linear-phase filter is twice as long as its delay.
            full_priming_frames: 2 * delay_frames,
        }
    }

    /// Replaces what is in `main[channel][frame]` by what `mode` lets hear. With listening off, and
    /// once faded out, nothing is read or written.
    pub fn process(&mut self, mode: Listen, main: &mut [&mut [f32]]) {
        let frames = main.iter().map(|channel| channel.len()).min().unwrap_or(0);
        let mut start = 0;
        while start < frames {
            if mode == Listen::Off && self.audible.is_out() && self.hidden.is_out() {
                self.priming_frames = None;
                return;
            }
            let end = (start + PIECE_FRAMES).min(frames);
            self.process_piece(mode, main, start, end);
            start = end;
        }
    }

    fn process_piece(&mut self, mode: Listen, main: &mut [&mut [f32]], start: usize, end: usize) {
        let frames = end - start;
        let primed = self.prime(frames) == 0;
        let audible_wanted = primed && mode == Listen::Audible;
        let hidden_wanted = primed && mode == Listen::Hidden;

        let (mut audible_share, mut hidden_share) = ([0.0; PIECE_FRAMES], [0.0; PIECE_FRAMES]);
        self.audible.advance(audible_wanted, &mut audible_share[..frames]);
        self.hidden.advance(hidden_wanted, &mut hidden_share[..frames]);

        for (channel, samples) in self.channels.iter_mut().zip(main.iter_mut()) {
            let samples = &mut samples[start..end];
            let mut input = [0.0; PIECE_FRAMES];
            let (mut audible, mut hidden) = ([0.0; PIECE_FRAMES], [0.0; PIECE_FRAMES]);
            for (input, &sample) in input.iter_mut().zip(samples.iter()) {
                *input = clean(sample);
            }
            channel.split.process(&input[..frames], &mut audible[..frames], &mut hidden[..frames]);
            channel.shifter.process(&mut hidden[..frames]);
            for (index, sample) in samples.iter_mut().enumerate() {
                let (a, h) = (audible_share[index], hidden_share[index]);
                // Where the input alone is heard it stays as it is, bit for bit.
                if a + h > 0.0 {
                    let dry = 1.0 - a - h;
                    *sample = input[index] * dry + audible[index] * a + hidden[index] * h;
                }
            }
        }
    }

    /// Counts down until the filters are filled, clearing them first if they have rested.
    fn prime(&mut self, frames: usize) -> usize {
        let left = match self.priming_frames {
            Some(left) => left,
            None => {
                for channel in &mut self.channels {
                    channel.split.reset();
                    channel.shifter.reset();
                }
                self.full_priming_frames
            }
        };
        self.priming_frames = Some(left.saturating_sub(frames));
        left
    }
}

/// Silences whatever is no audio, so that the filters recover from it at once.
fn clean(sample: f32) -> f32 {
    // Not a number fails the comparison too.
    if sample.abs() <= LARGEST_SAMPLE { sample } else { 0.0 }
}

/// A share that moves evenly between 0 and 1.
struct Fade {
    share: f32,
    step: f32,
}

impl Fade {
    fn new(frames: f64) -> Self {
        Self { share: 0.0, step: (1.0 / frames) as f32 }
    }

    fn is_out(&self) -> bool {
        self.share == 0.0
    }

    /// Fills in the shares of the frames to come, moving towards 1 or towards 0.
    fn advance(&mut self, wanted: bool, shares: &mut [f32]) {
        for share in shares {
            *share = self.share;
            let step = if wanted { self.step } else { -self.step };
            self.share = (self.share + step).clamp(0.0, 1.0);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;

    use super::*;

    const RATE_HZ: f64 = 96_000.0;

    fn run(listening: &mut Listening, mode: Listen, samples: &mut [f32]) {
        // Odd blocks, so that pieces and blocks do not coincide.
        for block in samples.chunks_mut(100) {
            listening.process(mode, &mut [block]);
        }
    }

    fn tones(frequencies_hz: &[f64], frames: usize) -> Vec<f32> {
        let tone = |hz: f64, n: usize| 0.25 * (TAU * hz * n as f64 / RATE_HZ).sin();
        (0..frames)
            .map(|n| frequencies_hz.iter().map(|&hz| tone(hz, n)).sum::<f64>() as f32)
            .collect()
    }

    fn amplitude(samples: &[f32], hz: f64) -> f64 {
        let (mut re, mut im) = (0.0, 0.0);
        for (n, &sample) in samples.iter().enumerate() {
            let (sin, cos) = (TAU * hz * n as f64 / RATE_HZ).sin_cos();
            re += f64::from(sample) * cos;
            im += f64::from(sample) * sin;
        }
        2.0 * re.hypot(im) / samples.len() as f64
    }

    #[test]
    fn off_leaves_every_bit_alone_and_comes_back_to_that() {
        let mut listening = Listening::new(RATE_HZ, 1, Edges::default());
        let odd = f32::from_bits(0x7fa0_1234);
        let mut samples = vec![odd; 1000];
        run(&mut listening, Listen::Off, &mut samples);
        assert!(samples.iter().all(|s| s.to_bits() == odd.to_bits()));

        run(&mut listening, Listen::Audible, &mut tones(&[1000.0], 9600));
        run(&mut listening, Listen::Off, &mut tones(&[1000.0], 9600));
        let mut samples = vec![odd; 1000];
        run(&mut listening, Listen::Off, &mut samples);
        assert!(samples.iter().all(|s| s.to_bits() == odd.to_bits()));
    }

    #[test]
    fn each_mode_lets_its_own_part_through_at_its_own_level() {
        let signal = tones(&[1000.0, 31_000.0], RATE_HZ as usize);
        let mut listening = Listening::new(RATE_HZ, 1, Edges::default());

        let mut heard = signal.clone();
        run(&mut listening, Listen::Audible, &mut heard);
        let settled = &heard[48_000..];
        assert!((amplitude(settled, 1000.0) - 0.25).abs() < 1e-3);
        assert!(amplitude(settled, 31_000.0) < 1e-4);

        let mut heard = signal.clone();
        run(&mut listening, Listen::Hidden, &mut heard);
        let settled = &heard[48_000..];
        assert!((amplitude(settled, 11_000.0) - 0.25).abs() < 3e-3);
        assert!(amplitude(settled, 1000.0) < 1e-3);
        assert!(amplitude(settled, 31_000.0) < 1e-4);
    }

    #[test]
    fn switching_never_jumps_and_never_adds_gain() {
        let mut listening = Listening::new(RATE_HZ, 1, Edges::default());
        let mut last = 0.0_f32;
        for mode in [Listen::Off, Listen::Audible, Listen::Hidden, Listen::Audible, Listen::Off] {
            let mut heard = tones(&[100.0], 9600);
            run(&mut listening, mode, &mut heard);
            for sample in heard {
                // A 100 Hz tone of 0.25 moves by 0.0017 a sample, a 20 ms fade by half a thousandth.
                assert!((sample - last).abs() < 0.004, "a jump in {mode:?}");
                assert!(sample.abs() < 0.2501);
                last = sample;
            }
        }
    }

    #[test]
    fn what_is_no_audio_leaves_the_filters_as_soon_as_silence_would() {
        let mut listening = Listening::new(RATE_HZ, 1, Edges::default());
        run(&mut listening, Listen::Audible, &mut tones(&[1000.0], 9600));
        run(&mut listening, Listen::Audible, &mut [f32::NAN, f32::INFINITY, 1e30, -1e30]);
        let mut heard = tones(&[1000.0], 48_000);
        run(&mut listening, Listen::Audible, &mut heard);
        assert!(heard.iter().all(|s| s.is_finite()));
        assert!((amplitude(&heard[24_000..], 1000.0) - 0.25).abs() < 1e-3);
    }
}
