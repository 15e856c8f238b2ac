//! The matched filter's parts against their formulas.

use proptest::prelude::*;

use super::*;
use crate::scalar::energy::{double, energy, product};
use crate::scalar::signals::signal;
use crate::scalar::{biquad, peak, tries};
use crate::sum_test::uniform;

const RATE_HZ: f64 = 48_000.0;

/// The signal without rumble by the difference equations.
fn high_passed(signal: &[f32]) -> Vec<f64> {
    butterworth4(RATE_HZ, HIGH_PASS_HZ)
        .iter()
        .fold(double(signal), |x, (stage, _)| biquad::filtered(&x, stage.b, stage.a))
}

/// Product of the template with the signal from each frame on, over the root of both energies.
fn likenesses(signal: &[f64], template: &[f64]) -> Vec<f64> {
    (0..signal.len())
        .map(|first| {
            let window = &signal[first..signal.len().min(first + template.len())];
            let energies = energy(window) * energy(template);
            if energies > 0.0 { product(window, template) / energies.sqrt() } else { 0.0 }
        })
        .collect()
}

proptest! {
    #![proptest_config(tries(48))]

    #[test]
    fn rumble_is_taken_away_by_the_difference_equations(signal in signal(0..=500)) {
        // Rounded to single precision in the end; and what is below 1e-30 is dropped, which the poles, an
        // eightieth from the unit circle, draw out.
        let loudest = peak::largest(&double(&signal));
        for (found, expected) in without_rumble(&signal, RATE_HZ).iter().zip(high_passed(&signal)) {
            let apart = 1e-7 * expected.abs() + 1e-11 * loudest + 1e-26;
            let miss = (f64::from(*found) - expected).abs();
            prop_assert!(miss <= apart, "{found}, not {expected}");
        }
    }

    #[test]
    fn powers_of_windows_are_sums_of_squares(signal in signal(0..=400), length in 1usize..=100) {
        let samples = double(&signal);
        let found: Vec<f64> = WindowPowers::new(&signal, length).collect();
        prop_assert_eq!(found.len(), signal.len());
        // A running sum keeps the rounding of all it ever held.
        let apart = 2.0 * samples.len() as f64 * f64::EPSILON * energy(&samples);
        for (first, found) in found.iter().enumerate() {
            let expected = energy(&samples[first..samples.len().min(first + length)]);
            prop_assert!((found - expected).abs() <= apart, "{found} at {first}, not {expected}");
        }
    }

    #[test]
    fn a_template_is_found_where_the_signal_is_most_like_it(
        seed: u64,
        length in 64u64..=100,
        before in signal(0..=300),
        after in signal(200..=300),
        gain in prop_oneof![0.01f32..=1.0, -1f32..=-0.01],
    ) {
        let template: Vec<f32> = (0..length).map(|n| uniform(seed, n) as f32).collect();
        let scaled = template.iter().map(|x| gain * x);
        let signal: Vec<f32> = before.iter().copied().chain(scaled).chain(after).collect();
        let [found, _] = find(&signal, &[template.clone(), template.clone()], RATE_HZ);
        let filtered = high_passed(&signal);
        let likenesses = likenesses(&filtered, &high_passed(&template));
        // Where a window is quiet beside its block, the transform's rounding is seen more.
        let rounding = |frame: usize| {
            let window = &filtered[frame..filtered.len().min(frame + template.len())];
            let share = peak::largest(&filtered) / (energy(window) / length as f64).sqrt();
            1e-6 * (1.0 + share)
        };
        for find in &found {
            let frame = find.frames as usize;
            let miss = (find.likeness - likenesses[frame]).abs();
            prop_assert!(miss <= rounding(frame), "{}, not {}", find.likeness, likenesses[frame]);
        }
        let frame = before.len();
        if likenesses[frame].abs() > LEAST_LIKENESS + rounding(frame) {
            let near = found.iter().filter(|find| {
                (find.frames - frame as f64).abs() < length as f64 / 2.0
                    && find.likeness.abs() >= likenesses[frame].abs() - rounding(frame)
            });
            prop_assert_eq!(near.count(), 1);
        }
    }
}
