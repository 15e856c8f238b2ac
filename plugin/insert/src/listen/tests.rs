//! What listening lets through, and that whatever changes is a fade.

use std::f64::consts::TAU;

use super::*;

const RATE_HZ: f64 = 96_000.0;

/// An ear with filters, as for one channel.
struct Rig {
    ear: Ear,
    present: Filters,
    leaving: Option<Filters>,
}

fn rig() -> Rig {
    let present = Filters::new(RATE_HZ, 1, Edges::default());
    Rig { ear: Ear::new(RATE_HZ), present, leaving: None }
}

impl Rig {
    fn run(&mut self, mode: Listen, samples: &mut [f32]) {
        // Odd blocks, so that pieces and blocks do not coincide.
        for block in samples.chunks_mut(100) {
            let leaving = self.leaving.as_mut();
            self.ear.process(mode, Some(&mut self.present), leaving, &mut [block]);
        }
    }

    /// Other filters take over.
    fn replace(&mut self, edges: Edges) {
        let next = Filters::new(RATE_HZ, 1, edges);
        self.leaving = Some(std::mem::replace(&mut self.present, next));
    }
}

fn tones(parts: &[(f64, f64)], frames: usize) -> Vec<f32> {
    let tone =
        |hz: f64, amplitude: f64, n: usize| amplitude * (TAU * hz * n as f64 / RATE_HZ).sin();
    let sum = |n: usize| parts.iter().map(|&(hz, amplitude)| tone(hz, amplitude, n)).sum::<f64>();
    (0..frames).map(|n| sum(n) as f32).collect()
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

fn largest(samples: &[f32]) -> f32 {
    samples.iter().fold(0.0, |held, sample| held.max(sample.abs()))
}

fn largest_step(samples: &[f32]) -> f32 {
    samples.windows(2).fold(0.0, |held, pair| held.max((pair[1] - pair[0]).abs()))
}

#[test]
fn off_leaves_every_bit_alone_and_comes_back_to_that() {
    let mut rig = rig();
    let odd = f32::from_bits(0x7fa0_1234);
    let mut samples = vec![odd; 1000];
    rig.run(Listen::Off, &mut samples);
    assert!(samples.iter().all(|s| s.to_bits() == odd.to_bits()));

    rig.run(Listen::Audible, &mut tones(&[(1000.0, 0.25)], 9600));
    rig.run(Listen::Off, &mut tones(&[(1000.0, 0.25)], 9600));
    let mut samples = vec![odd; 1000];
    rig.run(Listen::Off, &mut samples);
    assert!(samples.iter().all(|s| s.to_bits() == odd.to_bits()));
}

#[test]
fn each_mode_lets_its_own_part_through_at_its_own_level() {
    let signal = tones(&[(1000.0, 0.25), (31_000.0, 0.25)], RATE_HZ as usize);
    let mut rig = rig();

    let mut heard = signal.clone();
    rig.run(Listen::Audible, &mut heard);
    let settled = &heard[48_000..];
    assert!((amplitude(settled, 1000.0) - 0.25).abs() < 1e-3);
    assert!(amplitude(settled, 31_000.0) < 1e-4);

    let mut heard = signal.clone();
    rig.run(Listen::Hidden, &mut heard);
    let settled = &heard[48_000..];
    assert!((amplitude(settled, 11_000.0) - 0.25).abs() < 3e-3);
    assert!(amplitude(settled, 1000.0) < 1e-3);
    assert!(amplitude(settled, 31_000.0) < 1e-4);
}

#[test]
fn switching_never_jumps_and_never_adds_gain() {
    let mut rig = rig();
    let mut last = 0.0_f32;
    // The last ones follow one another within a fade.
    let modes = [Listen::Off, Listen::Audible, Listen::Hidden, Listen::Audible, Listen::Off];
    for (turn, mode) in modes.into_iter().cycle().take(40).enumerate() {
        let frames = if turn < 10 { 19_200 } else { 960 };
        let mut heard = tones(&[(100.0, 0.25)], frames);
        rig.run(mode, &mut heard);
        for sample in heard {
            // A 100 Hz tone of 0.25 moves by 0.0017 a sample, a 20 ms fade by half a thousandth.
            assert!((sample - last).abs() < 0.004, "a jump in {mode:?}");
            assert!(sample.abs() < 0.2501, "{sample} in {mode:?}, turn {turn}");
            last = sample;
        }
    }
}

#[test]
fn other_filters_take_over_in_a_fade_and_the_input_is_never_heard() {
    let signal = tones(&[(1000.0, 0.5), (31_000.0, 0.001)], 48_000);
    let mut rig = rig();
    rig.run(Listen::Hidden, &mut signal.clone());
    for high_hz in [18_000.0, 24_000.0, 20_000.0] {
        rig.replace(Edges::nearest(20.0, high_hz));
        let mut heard = signal.clone();
        rig.run(Listen::Hidden, &mut heard);
        // The hidden tone moves by at most 2π·13/96 of its amplitude from sample to sample.
        assert!(largest(&heard) < 0.00105, "{} heard", largest(&heard));
        assert!(largest_step(&heard) < 0.001, "a step of {}", largest_step(&heard));
        let shifted = amplitude(&heard[24_000..], 31_000.0 - high_hz);
        assert!((shifted - 0.001).abs() < 2e-5, "{shifted} at the new place");
        assert!(rig.leaving.as_ref().is_some_and(Filters::is_out));
    }
}

#[test]
fn without_filters_listening_is_silent_and_never_the_input() {
    let mut rig = rig();
    rig.run(Listen::Hidden, &mut tones(&[(1000.0, 0.5), (31_000.0, 0.001)], 48_000));
    let mut heard = tones(&[(1000.0, 0.5), (31_000.0, 0.001)], 48_000);
    for block in heard.chunks_mut(100) {
        rig.ear.process(Listen::Hidden, None, Some(&mut rig.present), &mut [block]);
    }
    assert!(largest(&heard) < 0.00105);
    assert!(heard[1920..].iter().all(|s| *s == 0.0), "not silent after the fade");

    // Processing that begins with listening on begins silent.
    let mut ear = Ear::new(RATE_HZ);
    let mut heard = [0.5; 4800];
    ear.process(Listen::Audible, None, None, &mut [&mut heard]);
    assert!(heard.iter().all(|s| *s == 0.0));
}

#[test]
fn processing_that_begins_with_listening_on_begins_from_silence() {
    let mut rig = rig();
    let mut heard = tones(&[(1000.0, 0.5), (31_000.0, 0.001)], 48_000);
    rig.run(Listen::Hidden, &mut heard);
    assert!(heard[..4800].iter().all(|s| *s == 0.0) && largest(&heard) < 0.00105);
    // As it is after a pause.
    rig.ear.stop();
    rig.present.rest();
    let mut heard = tones(&[(1000.0, 0.5), (31_000.0, 0.001)], 48_000);
    rig.run(Listen::Hidden, &mut heard);
    assert!(heard[..4800].iter().all(|s| *s == 0.0) && largest(&heard) < 0.00105);
}

#[test]
fn what_replaces_the_input_is_never_subnormal() {
    let mut rig = rig();
    for mode in [Listen::Audible, Listen::Hidden, Listen::Off] {
        // Filters that run out, and fades of what is hardly there.
        let mut heard = tones(&[(30_000.0, 1e-3), (100.0, 1e-37)], 48_000);
        heard.extend([1e-37; 48_000]);
        rig.run(mode, &mut heard);
        assert!(!heard.iter().any(|s| s.is_subnormal()), "in {mode:?}");
    }
}

#[test]
fn what_is_no_audio_leaves_the_filters_as_soon_as_silence_would() {
    let mut rig = rig();
    rig.run(Listen::Audible, &mut tones(&[(1000.0, 0.25)], 9600));
    rig.run(Listen::Audible, &mut [f32::NAN, f32::INFINITY, 1e30, -1e30]);
    let mut heard = tones(&[(1000.0, 0.25)], 48_000);
    rig.run(Listen::Audible, &mut heard);
    assert!(heard.iter().all(|s| s.is_finite()));
    assert!((amplitude(&heard[24_000..], 1000.0) - 0.25).abs() < 1e-3);
}

#[test]
fn damage_is_what_clipping_takes_off_at_its_level_and_silence_where_nothing_lies_over() {
    let mut rig = rig();
    let loud = tones(&[(1000.0, 1.5)], 96_000);
    let excess: Vec<f32> = loud.iter().map(|x| x - x.clamp(-1.0, 1.0)).collect();
    let mut heard = loud;
    rig.run(Listen::Damage, &mut heard);
    // Odd harmonics, of which those above the upper edge are not audible.
    for hz in [1000.0, 3000.0, 5000.0, 19_000.0] {
        let [got, expected] = [&heard, &excess].map(|samples| amplitude(&samples[48_000..], hz));
        assert!((got - expected).abs() < 1e-4, "{hz} Hz: {got}, not {expected}");
    }
    assert!(amplitude(&heard[48_000..], 21_000.0) < 1e-5, "above the upper edge");
    assert!(largest_step(&heard[..48_000]) < 0.2, "it fades in");
    // What has rung out is silent to the bit, whatever passes below the limit.
    let mut heard = tones(&[(1000.0, 0.99)], 192_000);
    rig.run(Listen::Damage, &mut heard);
    assert!(heard[96_000..].iter().all(|sample| *sample == 0.0));
    // Another limit.
    rig.present.set_limit(0.5);
    let mut heard = tones(&[(1000.0, 0.99)], 96_000);
    rig.run(Listen::Damage, &mut heard);
    assert!(amplitude(&heard[48_000..], 1000.0) > 0.3);
}
