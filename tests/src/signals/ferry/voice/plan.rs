//! What the narrator says when: sentences of phrases of syllables, each syllable a vowel, an onset,
//! a stress and a pitch, all drawn from the counter-based noise.

use crate::signals::noise;

/// The formants of an unstressed vowel, in Hz.
pub(super) const NEUTRAL_HZ: [f64; 3] = [500.0, 1450.0, 2450.0];

/// The first three formants of the vowels, in Hz.
const VOWELS_HZ: [[f64; 3]; 7] = [
    [290.0, 2150.0, 2850.0],
    [410.0, 1900.0, 2550.0],
    [560.0, 1700.0, 2450.0],
    [690.0, 1250.0, 2500.0],
    [540.0, 900.0, 2400.0],
    [360.0, 800.0, 2300.0],
    NEUTRAL_HZ,
];

/// How a syllable begins.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Onset {
    /// Straight into the vowel, or through a hum.
    Voiced,
    /// With a hiss.
    Breathed,
    /// After a short closure.
    Stopped,
}

/// What the plan wants at one moment.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted {
    pub(super) formants_hz: [f64; 3],
    pub(super) pitch_hz: f64,
    pub(super) loudness: f64,
    pub(super) breath: f64,
}

#[derive(Debug, Clone, Copy)]
struct Syllable {
    start_s: f64,
    length_s: f64,
    vowel_hz: [f64; 3],
    onset: Onset,
    pitch_hz: f64,
    loudness: f64,
}

/// All syllables of the piece in order, and the one that is being said.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    syllables: Vec<Syllable>,
    now: usize,
}

/// The narration begins and ends here, in seconds.
const FROM_S: f64 = 1.6;
const TO_S: f64 = 58.4;
/// Length of an onset, in seconds.
const ONSET_S: f64 = 0.055;
/// Length of the burst that ends a closure, in seconds.
const BURST_S: f64 = 0.012;

impl Plan {
    pub(super) fn new(seed: u64) -> Self {
        let mut syllables = Vec::new();
        let mut start_s = FROM_S;
        for phrase in 0.. {
            let start = phrase_at(seed, phrase, start_s);
            let Some(last) = start.last() else { break };
            let end_s = last.start_s + last.length_s;
            if end_s > TO_S {
                break;
            }
            syllables.extend(start);
            // Every third phrase ends a sentence.
            let pause_s = if phrase % 3 == 2 { 1.0 } else { 0.32 };
            start_s = end_s + pause_s * (1.15 + 0.35 * noise::uniform(seed + 2, phrase));
        }
        Self { syllables, now: 0 }
    }

    /// What is wanted at a time, in seconds; times have to come in order.
    pub(super) fn at(&mut self, time_s: f64) -> Wanted {
        while self.syllables.get(self.now + 1).is_some_and(|next| next.start_s <= time_s) {
            self.now += 1;
        }
        let syllable = &self.syllables[self.now];
        let said_s = time_s - syllable.start_s;
        let mut wanted = Wanted {
            formants_hz: syllable.vowel_hz,
            pitch_hz: syllable.pitch_hz,
            loudness: 0.0,
            breath: 0.0,
        };
        if (0.0..ONSET_S).contains(&said_s) {
            match syllable.onset {
                Onset::Voiced => wanted.loudness = 0.35 * syllable.loudness,
                Onset::Breathed => wanted.breath = 0.15 * syllable.loudness,
                // A closure ends with a short burst.
                Onset::Stopped if said_s > ONSET_S - BURST_S => {
                    wanted.breath = 0.22 * syllable.loudness;
                }
                Onset::Stopped => {}
            }
        } else if (ONSET_S..syllable.length_s).contains(&said_s) {
            // A vowel fades towards its end.
            wanted.loudness = syllable.loudness * (1.0 - 0.45 * said_s / syllable.length_s);
        }
        wanted
    }
}

/// One phrase, its pitch falling towards the end.
fn phrase_at(seed: u64, phrase: u64, start_s: f64) -> Vec<Syllable> {
    let draw = |what: u64, n: u64| noise::uniform(seed + 10 + what, phrase * 64 + n);
    let count = 7 + (4.0 * (1.0 + draw(0, 0))) as u64;
    let mut time_s = start_s;
    (0..count)
        .map(|n| {
            let stressed = noise::hash(seed + 11, phrase * 64 + n).is_multiple_of(3);
            let stretch = if n + 1 == count { 1.35 } else { 1.0 };
            let base_s = if stressed { 0.225 } else { 0.165 };
            let length_s = stretch * base_s * (1.0 + 0.18 * draw(2, n));
            let fall = n as f64 / count as f64;
            let syllable = Syllable {
                start_s: time_s,
                length_s,
                vowel_hz: vowel(noise::hash(seed + 13, phrase * 64 + n), stressed),
                onset: onset(noise::hash(seed + 14, phrase * 64 + n)),
                pitch_hz: 118.0 - 26.0 * fall + if stressed { 11.0 } else { 3.0 * draw(5, n) },
                loudness: stress_of(noise::hash(seed + 12, phrase * 64 + n), stressed)
                    * (1.0 - 0.35 * fall),
            };
            time_s += length_s;
            syllable
        })
        .collect()
}

/// Loudness of a syllable: one stressed syllable in three carries the sentence.
fn stress_of(bits: u64, stressed: bool) -> f64 {
    match (stressed, bits % 3) {
        (false, _) => 0.5,
        (true, 0) => 1.85,
        (true, _) => 1.0,
    }
}

fn onset(bits: u64) -> Onset {
    match bits % 8 {
        0 | 1 => Onset::Breathed,
        2..=4 => Onset::Stopped,
        _ => Onset::Voiced,
    }
}

/// An unstressed vowel lies half way to neutral.
fn vowel(bits: u64, stressed: bool) -> [f64; 3] {
    let full = VOWELS_HZ[(bits % VOWELS_HZ.len() as u64) as usize];
    if stressed { full } else { std::array::from_fn(|n| 0.5 * (full[n] + NEUTRAL_HZ[n])) }
}
