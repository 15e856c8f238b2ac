//! The recording's own noise, and whether it is hum or DC.

use std::f64::consts::TAU;

use super::Read;
use super::table::{REFERENCES, Shown};
use crate::detector::Detector;
use crate::sum_test::faults::{Floor, FloorKind};
use crate::sum_test::schedule::STEPS;

/// The frequencies of mains, in Hz.
const MAINS_HZ: [f64; 2] = [50.0, 60.0];
/// A step this far above the floor, in dB, is heard.
const HEARD_DB: f64 = 3.0;
/// How many harmonics of it count.
const HARMONICS: u32 = 6;

/// What the silence before the first step holds, if the recording holds that.
pub(super) fn floor(signal: &[f32], rate_hz: f64, read: &Read, shown: &Shown) -> Option<Floor> {
    let mut floor = of_shown(shown)?;
    let silence = &signal[read.floor.clone()?];
    let hum = MAINS_HZ.into_iter().find(|hz| hum_share(silence, *hz / rate_hz) > 0.5);
    floor.kind = match hum {
        Some(hz) => FloorKind::Hum(hz),
        None if dc_share(silence) > 0.5 => FloorKind::Dc,
        None => FloorKind::Noise,
    };
    Some(floor)
}

/// The same without a look for hum or DC.
pub(super) fn of_shown(shown: &Shown) -> Option<Floor> {
    let own = shown.floor.settled[0][Detector::Rms as usize];
    // A feed that is missing leaves a step silent.
    REFERENCES.into_iter().find_map(|step| {
        let below_db = own.minus(shown.level(step, 0, Detector::Rms)).finite()?;
        let reference_step = STEPS[step].number;
        (below_db < -HEARD_DB).then_some(Floor { below_db, reference_step, kind: FloorKind::Noise })
    })
}

/// Share of a signal's power in its mean.
fn dc_share(signal: &[f32]) -> f64 {
    let mean = signal.iter().map(|&x| f64::from(x)).sum::<f64>() / signal.len() as f64;
    let power: f64 = signal.iter().map(|&x| f64::from(x).powi(2)).sum();
    mean * mean * signal.len() as f64 / power
}

/// Share of a signal's power in the first harmonics of a frequency, given in turns a frame.
fn hum_share(signal: &[f32], turns: f64) -> f64 {
    let power: f64 = signal.iter().map(|&x| f64::from(x).powi(2)).sum();
    let of_harmonic = |harmonic: u32| {
        let (mut sine, mut cosine) = (0.0, 0.0);
        for (n, &x) in signal.iter().enumerate() {
            let angle = TAU * (turns * f64::from(harmonic) * n as f64).fract();
            sine += f64::from(x) * angle.sin();
            cosine += f64::from(x) * angle.cos();
        }
        2.0 * (sine * sine + cosine * cosine) / signal.len() as f64
    };
    (1..=HARMONICS).map(of_harmonic).sum::<f64>() / power
}
