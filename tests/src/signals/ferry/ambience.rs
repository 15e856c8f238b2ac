//! Wind and passengers on deck, as a spaced pair of microphones hears them: the same sound in both
//! below the frequency whose half wavelength is the spacing, independent sounds above.

use super::{MOVE_FRAMES, MOVES_PER_S, RATE_HZ};
use crate::signals::filter::{Biquad, Chain, Follower};
use crate::signals::{amplitude, noise};

/// Below it both microphones, 40 cm apart, hear the same, in Hz.
const SPACING_HZ: f64 = 430.0;
/// The longest way from one microphone to the other, in frames.
const SPACING_FRAMES: f64 = 112.0;
/// Length of the delay between them, in frames.
const DELAY_FRAMES: usize = 128;
/// RMS levels, in dBFS.
const WIND_DBFS: f64 = -43.0;
const CROWD_DBFS: f64 = -49.0;
const TALKER_DBFS: f64 = -52.0;
const SEED: u64 = 0x414D;

#[derive(Debug, Clone)]
pub(super) struct Ambience {
    wind: SpacedPair,
    gust: Follower,
    gust_gain: f64,
    crowd: SpacedPair,
    talkers: Vec<Talker>,
}

impl Ambience {
    pub(super) fn new() -> Self {
        Self {
            wind: SpacedPair::new(SEED, WIND_DBFS, 110.0, 0.5),
            gust: Follower::new(MOVES_PER_S, 0.9, 1.0),
            gust_gain: 1.0,
            crowd: SpacedPair::new(SEED + 8, CROWD_DBFS, 750.0, 0.45),
            talkers: (0..5).map(Talker::new).collect(),
        }
    }

    pub(super) fn next(&mut self, index: u64) -> [f64; 2] {
        if index.is_multiple_of(MOVE_FRAMES) {
            let second = index / RATE_HZ as u64;
            self.gust_gain = self.gust.next(1.0 + 0.8 * noise::uniform(SEED + 16, second));
            self.talkers.iter_mut().for_each(|talker| talker.move_to(index));
        }
        let wind = self.wind.next(index);
        let crowd = self.crowd.next(index);
        let mut sides = [0, 1].map(|side| self.gust_gain * wind[side] + crowd[side]);
        for talker in &mut self.talkers {
            let heard = talker.next(index);
            sides[0] += heard[0];
            sides[1] += heard[1];
        }
        sides
    }
}

/// Diffuse noise around one frequency, of one level at either microphone.
#[derive(Debug, Clone)]
struct SpacedPair {
    seed: u64,
    gain: f64,
    colour: [Biquad; 3],
    below: Chain<1>,
    above: [Chain<1>; 2],
}

impl SpacedPair {
    fn new(seed: u64, rms_dbfs: f64, centre_hz: f64, q: f64) -> Self {
        let band_hz = centre_hz / q * std::f64::consts::FRAC_PI_2;
        Self {
            seed,
            gain: amplitude(rms_dbfs) * (RATE_HZ / 2.0 / band_hz).sqrt(),
            colour: [Biquad::band_pass(RATE_HZ, centre_hz, q); 3],
            below: Chain::low_pass(RATE_HZ, SPACING_HZ),
            above: [Chain::high_pass(RATE_HZ, SPACING_HZ); 2],
        }
    }

    fn next(&mut self, index: u64) -> [f64; 2] {
        let mut source =
            |n: usize| self.colour[n].next(self.gain * noise::bell(self.seed + n as u64, index));
        let same = self.below.next(source(0));
        let own = [source(1), source(2)];
        [0, 1].map(|side| same + self.above[side].next(own[side]))
    }
}

/// A passenger somewhere on deck: noise in two formants that opens and closes with the syllables,
/// and reaches one microphone before the other.
#[derive(Debug, Clone)]
struct Talker {
    seed: u64,
    formants: [Biquad; 2],
    mouth: Follower,
    gain: f64,
    syllable_frames: u64,
    said: [f64; DELAY_FRAMES],
    late: [usize; 2],
}

impl Talker {
    fn new(number: u64) -> Self {
        let seed = SEED + 32 + 4 * number;
        let late = (noise::uniform(seed + 2, 0) * SPACING_FRAMES) as isize;
        Self {
            seed,
            formants: [
                Biquad::band_pass(RATE_HZ, 520.0 + 70.0 * number as f64, 2.2),
                Biquad::band_pass(RATE_HZ, 1350.0 + 230.0 * number as f64, 3.0),
            ],
            mouth: Follower::new(MOVES_PER_S, 0.045, 0.0),
            gain: 0.0,
            syllable_frames: (RATE_HZ * (0.16 + 0.02 * number as f64)) as u64,
            said: [0.0; DELAY_FRAMES],
            late: [late.max(0) as usize, (-late).max(0) as usize],
        }
    }

    fn move_to(&mut self, index: u64) {
        let syllable = index / self.syllable_frames;
        // Turns of about three seconds: a talker listens as often as not.
        let speaks = noise::hash(self.seed + 1, syllable / 16) & 1 == 0;
        let open = if speaks { 0.5 + 0.5 * noise::uniform(self.seed + 2, syllable) } else { 0.0 };
        // The formants take two bands of some 400 Hz out of the white noise, and a mouth is half
        // open when it speaks.
        let level = 1.8 * amplitude(TALKER_DBFS) * (RATE_HZ / 2.0 / 800.0).sqrt();
        self.gain = level * self.mouth.next(open);
    }

    fn next(&mut self, index: u64) -> [f64; 2] {
        let breath = self.gain * noise::bell(self.seed, index);
        let now = index as usize % DELAY_FRAMES;
        self.said[now] = self.formants[0].next(breath) + 0.6 * self.formants[1].next(breath);
        self.late.map(|late| self.said[(now + DELAY_FRAMES - late) % DELAY_FRAMES])
    }
}
