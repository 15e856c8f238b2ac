//! The demo scenario: a minute of a documentary about a night ferry crossing, 96 kHz stereo, our own
//! invention, made by code.
//!
//! A narrator speaks over the deck: wind and passengers, recorded with a spaced pair, and the
//! engine, whose firing frequency is 12 Hz. A de-noiser left an idle tone at 31 kHz and a hiss
//! between 25 and 46 kHz that builds up until the last seconds. What the de-noiser left takes the
//! sample peak to the ceiling; what anybody hears stays some 8 dB below it.

mod ambience;
mod denoiser;
mod engine;
mod voice;

use super::{Stereo, frames};
use ambience::Ambience;
use denoiser::Denoiser;
use engine::Engine;
use voice::Voice;

/// Sample rate, in Hz.
pub const RATE_HZ: f64 = 96_000.0;
/// Length, in seconds.
pub const LENGTH_S: f64 = 60.0;
/// Frequency of the tone that the de-noiser left, in Hz.
pub const IDLE_TONE_HZ: f64 = 31_000.0;
/// Firing frequency of the engine, in Hz.
pub const ENGINE_HZ: f64 = 12.0;

/// How many frames pass between two moves of the slow controls.
const MOVE_FRAMES: u64 = 64;
/// Moves of the slow controls in a second.
const MOVES_PER_S: f64 = RATE_HZ / MOVE_FRAMES as f64;

/// One frame of each stem, left and right.
#[derive(Debug, Clone, Copy, Default)]
pub struct Frame {
    /// The narrator.
    pub voice: [f64; 2],
    /// Wind and passengers.
    pub ambience: [f64; 2],
    /// The engine.
    pub engine: [f64; 2],
    /// What the de-noiser left.
    pub denoiser: [f64; 2],
}

impl Frame {
    /// The stems added: the mix as the bus carries it.
    #[must_use]
    pub fn mix(&self) -> [f32; 2] {
        let audible = self.without_denoiser();
        [0, 1].map(|side| (audible[side] + self.denoiser[side]) as f32)
    }

    /// The stems added, but for the de-noiser's remains.
    fn without_denoiser(&self) -> [f64; 2] {
        [0, 1].map(|side| self.voice[side] + self.ambience[side] + self.engine[side])
    }
}

/// The scenario as an endless stream of frames; the piece is its first [`LENGTH_S`] seconds.
#[derive(Debug, Clone)]
pub struct Ferry {
    index: u64,
    voice: Voice,
    ambience: Ambience,
    engine: Engine,
    denoiser: Denoiser,
}

impl Ferry {
    /// The scenario from its beginning.
    #[must_use]
    pub fn new() -> Self {
        Self {
            index: 0,
            voice: Voice::new(),
            ambience: Ambience::new(),
            engine: Engine::new(),
            denoiser: Denoiser::new(),
        }
    }
}

impl Default for Ferry {
    fn default() -> Self {
        Self::new()
    }
}

impl Iterator for Ferry {
    type Item = Frame;

    fn next(&mut self) -> Option<Frame> {
        let index = self.index;
        self.index += 1;
        Some(Frame {
            voice: self.voice.next(index),
            ambience: self.ambience.next(index),
            engine: self.engine.next(index),
            denoiser: self.denoiser.next(index),
        })
    }
}

/// The whole mix.
#[must_use]
pub fn play() -> Stereo {
    play_for(LENGTH_S)
}

/// The first `length_s` seconds of the mix.
#[must_use]
pub fn play_for(length_s: f64) -> Stereo {
    let count = frames(RATE_HZ, length_s);
    let (left, right) = Ferry::new().take(count).map(|frame| frame.mix().into()).unzip();
    Stereo::new(RATE_HZ, left, right)
}

/// The stems of the piece, each as long as the mix.
#[derive(Debug, Clone)]
pub struct Stems {
    /// The narrator.
    pub voice: Stereo,
    /// Wind and passengers.
    pub ambience: Stereo,
    /// The engine.
    pub engine: Stereo,
    /// What the de-noiser left.
    pub denoiser: Stereo,
}

/// The stems, each as long as the mix.
#[must_use]
pub fn stems() -> Stems {
    let frames: Vec<Frame> = Ferry::new().take(frames(RATE_HZ, LENGTH_S)).collect();
    let stem = |side: fn(&Frame) -> [f64; 2]| {
        let (left, right) = frames.iter().map(|frame| side(frame).map(|x| x as f32).into()).unzip();
        Stereo::new(RATE_HZ, left, right)
    };
    Stems {
        voice: stem(|frame| frame.voice),
        ambience: stem(|frame| frame.ambience),
        engine: stem(|frame| frame.engine),
        denoiser: stem(|frame| frame.denoiser),
    }
}
