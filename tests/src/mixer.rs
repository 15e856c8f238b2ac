//! A simulated mixer: two feeds in, one recording out, with whatever can be wrong in between.
//!
//! Written from what mixers and recorders do, not from the audit: its delays and clocks interpolate
//! by a longer sinc of their own, its converter filter is a plain windowed sinc.

mod resample;

use std::f64::consts::{PI, TAU};

use crate::signals::noise;
use resample::{resampled, sinc};

/// What a mixer and the recorder behind it do to the feeds.
#[derive(Debug, Clone)]
pub struct Mixer {
    /// Linear gain of the whole; negative turns the polarity.
    pub gain: f64,
    /// Gains of the two channels, linear.
    pub channel_gains: [f64; 2],
    /// Delays of the two channels, in frames.
    pub channel_delays_frames: [f64; 2],
    /// Silence before the test in the recording, in frames.
    pub lead_frames: f64,
    /// By how much the recording is longer than the test, in parts per million.
    pub drift_ppm: f64,
    /// RMS of added white noise, linear.
    pub noise_rms: f64,
    /// Amplitude of added 50 Hz hum and its third harmonic at a third of it.
    pub hum_amplitude: f64,
    /// Where the bus clips, linear.
    pub clip: f64,
    /// Where a converter's filter ends, in Hz.
    pub band_hz: Option<f64>,
    /// What the bus makes of two channels that both play: their sum times this.
    pub both_gain: f64,
    /// How hard a saturating curve on the bus is driven by a peak of −14 dBFS, that of the same noise
    /// on both channels: x becomes tanh(drive·x)/drive. A sine as high comes out with a third harmonic
    /// of about drive²/12.
    pub drive: f64,
    /// By how much channel 1 is turned down while channel 2 sounds, in dB.
    pub ducking_db: f64,
    /// An echo of the bus: its delay in frames and its gain.
    pub echo: Option<(usize, f64)>,
    /// How much of feed 1 leaks into channel 2, a millisecond late.
    pub leak: f64,
    /// Whether samples are rounded to 16 bits, with triangular dither.
    pub sixteen_bit: bool,
    /// Seed of everything random.
    pub seed: u64,
}

impl Default for Mixer {
    fn default() -> Self {
        Self {
            gain: 1.0,
            channel_gains: [1.0; 2],
            channel_delays_frames: [0.0; 2],
            lead_frames: 0.0,
            drift_ppm: 0.0,
            noise_rms: 0.0,
            hum_amplitude: 0.0,
            clip: f64::INFINITY,
            band_hz: None,
            both_gain: 1.0,
            drive: 0.0,
            ducking_db: 0.0,
            echo: None,
            leak: 0.0,
            sixteen_bit: false,
            seed: 1,
        }
    }
}

impl Mixer {
    /// A mixer without a fault, its recording anything that a recording may be.
    #[must_use]
    pub fn clean(seed: u64, rate_hz: f64) -> Self {
        let pick = |index: u64, low: f64, high: f64| {
            low + (high - low) * (0.5 + 0.5 * noise::uniform(seed ^ 0xC1EA, index))
        };
        let sign = if pick(0, 0.0, 1.0) < 0.5 { -1.0 } else { 1.0 };
        Self {
            gain: sign * 10f64.powf(pick(1, -12.0, 9.0) / 20.0),
            lead_frames: pick(2, 0.0, 1.0) * rate_hz,
            // A quarter of the recordings share the player's clock.
            drift_ppm: if pick(3, 0.0, 1.0) < 0.25 { 0.0 } else { pick(4, -300.0, 300.0) },
            noise_rms: 10f64.powf(pick(5, -100.0, -60.0) / 20.0),
            hum_amplitude: 10f64.powf(pick(6, -100.0, -60.0) / 20.0),
            sixteen_bit: pick(7, 0.0, 1.0) < 0.5,
            seed,
            ..Self::default()
        }
    }

    /// What the recorder holds after the test.
    #[must_use]
    pub fn record(&self, feeds: [&[f32]; 2], rate_hz: f64) -> Vec<f32> {
        let mut channels = [0, 1].map(|channel| self.channel(feeds[channel], channel));
        if self.leak != 0.0 {
            let late = (rate_hz / 1_000.0) as usize;
            channels[1][late..]
                .iter_mut()
                .zip(feeds[0])
                .for_each(|(two, &one)| *two += self.leak * f64::from(one));
        }
        if self.ducking_db != 0.0 {
            self.duck(&mut channels, rate_hz);
        }
        let mut bus: Vec<f64> = channels[0]
            .iter()
            .zip(&channels[1])
            .map(|(one, two)| {
                let both = *one != 0.0 && *two != 0.0;
                let sum = (one + two) * if both { self.both_gain } else { 1.0 };
                self.bent(sum).clamp(-self.clip, self.clip)
            })
            .collect();
        if let Some((frames, gain)) = self.echo {
            for n in (frames..bus.len()).rev() {
                bus[n] += gain * bus[n - frames];
            }
        }
        if let Some(band_hz) = self.band_hz {
            bus = low_passed(&bus, band_hz / rate_hz);
        }
        self.spoiled(&self.recorded(&bus), rate_hz)
    }

    /// The saturating curve.
    fn bent(&self, x: f64) -> f64 {
        if self.drive == 0.0 {
            return x;
        }
        let drive = self.drive / 10f64.powf(-14.0 / 20.0);
        (drive * x).tanh() / drive
    }

    /// Turns channel 1 down while channel 2 sounds, and up again, within some 20 ms.
    fn duck(&self, channels: &mut [Vec<f64>; 2], rate_hz: f64) {
        let pull = 1.0 / (0.02 * rate_hz);
        let [one, two] = channels;
        let (mut envelope, mut down_db) = (0.0, 0.0);
        for (one, two) in one.iter_mut().zip(two.iter()) {
            envelope += pull * (two.abs() - envelope);
            let target_db = if envelope > 1e-3 { self.ducking_db } else { 0.0 };
            down_db += pull * (target_db - down_db);
            *one *= 10f64.powf(-down_db / 20.0);
        }
    }

    fn channel(&self, feed: &[f32], channel: usize) -> Vec<f64> {
        let gain = self.channel_gains[channel];
        let delay = self.channel_delays_frames[channel];
        if delay == 0.0 {
            return feed.iter().map(|&x| gain * f64::from(x)).collect();
        }
        let mut late = resampled(feed, -delay, 1.0, feed.len());
        late.iter_mut().for_each(|x| *x *= gain);
        late
    }

    /// The bus on the recorder's clock.
    fn recorded(&self, bus: &[f64]) -> Vec<f64> {
        let stretch = 1.0 + self.drift_ppm * 1e-6;
        let frames = (self.lead_frames + bus.len() as f64 * stretch) as usize;
        if self.lead_frames.fract() == 0.0 && stretch == 1.0 {
            let mut recorded = vec![0.0; self.lead_frames as usize];
            recorded.extend_from_slice(bus);
            return recorded;
        }
        let bus: Vec<f32> = bus.iter().map(|&x| x as f32).collect();
        resampled(&bus, -self.lead_frames / stretch, 1.0 / stretch, frames)
    }

    /// Gain, noise, hum and the converter.
    fn spoiled(&self, recorded: &[f64], rate_hz: f64) -> Vec<f32> {
        // Every common rate has a whole number of samples in a period of 50 Hz.
        let period = (rate_hz / 50.0) as usize;
        let hum: Vec<f64> = (0..period)
            .map(|n| {
                let turn = TAU * n as f64 / period as f64;
                self.hum_amplitude * (turn.sin() + (3.0 * turn).sin() / 3.0)
            })
            .collect();
        let spoil = |(n, x): (usize, &f64)| {
            let mut x = self.gain * x + hum[n % period];
            if self.noise_rms > 0.0 {
                x += self.noise_rms * noise::bell(self.seed ^ 0xA01, n as u64);
            }
            if self.sixteen_bit {
                // Triangular dither from the two halves of one hash.
                let bits = noise::hash(self.seed ^ 0xD17, n as u64);
                let half = |bits: u64| f64::from(bits as u32) / f64::from(u32::MAX) - 0.5;
                let dither = half(bits) + half(bits >> 32);
                x = (x * 32_768.0 + dither).round().clamp(-32_768.0, 32_767.0) / 32_768.0;
            }
            x as f32
        };
        recorded.iter().enumerate().map(spoil).collect()
    }
}

/// A converter's filter: −6 dB at `cutoff` (a share of the rate), 80 dB down within 5 % of the rate.
fn low_passed(signal: &[f64], cutoff: f64) -> Vec<f64> {
    const HALF: usize = 64;
    let taps: Vec<f32> = (0..=2 * HALF)
        .map(|k| {
            let t = k as f64 - HALF as f64;
            let turn = PI * t / (HALF as f64 + 1.0);
            let window = 0.42 + 0.5 * turn.cos() + 0.08 * (2.0 * turn).cos();
            (2.0 * cutoff * sinc(2.0 * cutoff * t) * window) as f32
        })
        .collect();
    let padded: Vec<f32> = std::iter::repeat_n(0.0, HALF)
        .chain(signal.iter().map(|&x| x as f32))
        .chain(std::iter::repeat_n(0.0, HALF))
        .collect();
    padded
        .windows(taps.len())
        .map(|window| f64::from(window.iter().zip(&taps).map(|(x, tap)| x * tap).sum::<f32>()))
        .collect()
}
