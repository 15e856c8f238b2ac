//! The demo scenario: a minute of a documentary about a night ferry crossing, 96 kHz stereo, our own
//! invention, made by code.
//!
//! A narrator speaks over a drum and the deck: wind and passengers, recorded with a spaced pair, and
//! the engine. From a third of the way on the engine's firing frequency of 12 Hz comes up, and an idle
//! tone at 31 kHz that a de-noiser left. At the end the two take the sample peak to the ceiling;
//! what is audible stays some 3 dB below it.
//!
//! The same stems in other proportions are the [benchmark's track](super::bench_mix).

mod ambience;
mod denoiser;
mod drum;
mod engine;
mod voice;

use super::{Stereo, amplitude, frames};
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

/// From when on the demo's hidden content comes up, until the end, in seconds.
const CREEPS_FROM_S: f64 = 20.0;
/// Where the demo's narrator and drum are limited, linear.
const LIMIT: f64 = 0.85;
/// Gain of the narrator in front of that, in dB.
const VOICE_DB: f64 = -3.5;

/// In which proportions the stems are mixed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Piece {
    /// Little hidden content, which comes up from nothing.
    Demo,
    /// Rumble from the beginning, and hiss with most of the energy.
    Benchmark,
}

/// How far the demo's hidden content has come up: 0 to 1.
fn crept(time_s: f64) -> f64 {
    ((time_s - CREEPS_FROM_S) / (LENGTH_S - CREEPS_FROM_S)).clamp(0.0, 1.0)
}

/// As a soft limiter leaves a sample.
fn limited(sample: f64) -> f64 {
    LIMIT * (sample / LIMIT).tanh()
}

/// One frame of each stem, left and right.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Frame {
    voice: [f64; 2],
    ambience: [f64; 2],
    engine: [f64; 2],
    denoiser: [f64; 2],
}

impl Frame {
    /// The stems added: the mix as the bus carries it.
    fn mix(&self) -> [f32; 2] {
        [0, 1].map(|side| {
            let recorded = self.voice[side] + self.ambience[side] + self.engine[side];
            (recorded + self.denoiser[side]) as f32
        })
    }
}

/// A piece as an endless stream of frames; it is the first [`LENGTH_S`] seconds.
#[derive(Debug, Clone)]
pub(super) struct Ferry {
    index: u64,
    piece: Piece,
    voice: Voice,
    ambience: Ambience,
    engine: Engine,
    denoiser: Denoiser,
}

impl Ferry {
    /// A piece from its beginning.
    pub(super) fn new(piece: Piece) -> Self {
        Self {
            index: 0,
            piece,
            voice: Voice::new(),
            ambience: Ambience::new(),
            engine: Engine::new(piece),
            denoiser: Denoiser::new(piece),
        }
    }
}

impl Iterator for Ferry {
    type Item = Frame;

    fn next(&mut self) -> Option<Frame> {
        let index = self.index;
        self.index += 1;
        let mut frame = Frame {
            voice: self.voice.next(index),
            ambience: self.ambience.next(index),
            engine: self.engine.next(index),
            denoiser: self.denoiser.next(index),
        };
        if self.piece == Piece::Demo {
            let (voice_gain, drum) = (amplitude(VOICE_DB), drum::next(index));
            frame.voice = frame.voice.map(|voice| limited(voice_gain * voice + drum));
        }
        Some(frame)
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
    Piece::Demo.play_for(length_s)
}

/// The stems, each as long as the mix.
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

impl Piece {
    pub(super) fn play_for(self, length_s: f64) -> Stereo {
        let count = frames(RATE_HZ, length_s);
        let (left, right) = Ferry::new(self).take(count).map(|frame| frame.mix().into()).unzip();
        Stereo::new(RATE_HZ, left, right)
    }

    pub(super) fn stems(self) -> Stems {
        let frames: Vec<Frame> = Ferry::new(self).take(frames(RATE_HZ, LENGTH_S)).collect();
        let stem = |side: fn(&Frame) -> [f64; 2]| {
            let (left, right) =
                frames.iter().map(|frame| side(frame).map(|x| x as f32).into()).unzip();
            Stereo::new(RATE_HZ, left, right)
        };
        Stems {
            voice: stem(|frame| frame.voice),
            ambience: stem(|frame| frame.ambience),
            engine: stem(|frame| frame.engine),
            denoiser: stem(|frame| frame.denoiser),
        }
    }
}
