//! What the de-noiser left far above hearing: an idle tone, and in the benchmark's track a hiss that
//! builds up.

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

use super::{IDLE_TONE_HZ, MOVE_FRAMES, Piece, RATE_HZ, crept};
use crate::signals::filter::Chain;
use crate::signals::{amplitude, noise};

/// Peak level of the demo's tone at the end, in dBFS.
const CREEPING_TONE_DBFS: f64 = -11.8;
/// Peak level of the benchmark's tone, in dBFS.
const TONE_DBFS: f64 = -25.0;
/// Over which time the tone comes in, in seconds.
const TONE_FADE_S: f64 = 3.0;
/// RMS level of the hiss once it is built up, in dBFS.
const HISS_DBFS: f64 = -17.3;
/// By how much the hiss is lower at the beginning, in dB.
const HISS_RISE_DB: f64 = 36.0;
/// When the hiss is built up, in seconds.
const HISS_READY_S: f64 = 53.0;
/// Middle of the hiss's band, and how far it reaches to each side, in Hz.
const HISS_CENTRE_HZ: f64 = 35_500.0;
const HISS_REACH_HZ: f64 = 10_500.0;
const SEED: u64 = 0x4653;

#[derive(Debug, Clone)]
pub(super) struct Denoiser {
    piece: Piece,
    tone_gain: f64,
    hiss_gain: f64,
    hiss: [Chain<5>; 2],
}

impl Denoiser {
    pub(super) fn new(piece: Piece) -> Self {
        let hiss = [Chain::low_pass(RATE_HZ, HISS_REACH_HZ); 2];
        Self { piece, tone_gain: 0.0, hiss_gain: 0.0, hiss }
    }

    pub(super) fn next(&mut self, index: u64) -> [f64; 2] {
        if index.is_multiple_of(MOVE_FRAMES) {
            self.move_to(index as f64 / RATE_HZ);
        }
        let tone = self.tone_gain * cycles(IDLE_TONE_HZ, index).sin();
        // Low-passed noise times a carrier lies symmetrically around it.
        let carrier = self.hiss_gain * cycles(HISS_CENTRE_HZ, index).sin();
        if self.piece == Piece::Demo {
            return [tone, 0.0];
        }
        [0, 1].map(|side| {
            let hiss = self.hiss[side].next(noise::bell(SEED + side as u64, index));
            tone + carrier * hiss
        })
    }

    fn move_to(&mut self, time_s: f64) {
        if self.piece == Piece::Demo {
            self.tone_gain = amplitude(CREEPING_TONE_DBFS) * crept(time_s).powi(2);
            return;
        }
        self.tone_gain = amplitude(TONE_DBFS) * (time_s / TONE_FADE_S).min(1.0);
        // The low-pass leaves this share of the white noise's power, and a carrier halves it.
        let rms = FRAC_1_SQRT_2 * (HISS_REACH_HZ / (RATE_HZ / 2.0)).sqrt();
        let rise_db = HISS_RISE_DB * (time_s / HISS_READY_S - 1.0).min(0.0);
        self.hiss_gain = amplitude(HISS_DBFS + rise_db) / rms;
    }
}

/// Phase of a tone whose frequency is a whole number of hertz, exact at any index.
fn cycles(hz: f64, index: u64) -> f64 {
    let rate = RATE_HZ as u64;
    TAU * ((hz as u64 * (index % rate)) % rate) as f64 / RATE_HZ
}
