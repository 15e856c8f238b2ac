//! The K-weighting of ITU-R BS.1770-5, Annex 1, as its Tables 1 and 2 print it for 48 kHz, and as
//! the usual prototype re-derives it for other rates.

use std::f64::consts::PI;

/// Coefficients b0, b1, b2, a1, a2 of a second-order section.
type Section = [f64; 5];

const TABLE_1: Section =
    [1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585];
const TABLE_2: Section = [1.0, -2.0, 1.0, -1.99004745483398, 0.99007225036621];

/// Gain of the weighting that the standard prints, in dB: the response at 48 kHz, which every other
/// rate has to follow.
#[must_use]
pub fn standard_db(hz: f64) -> f64 {
    gain_db(&TABLE_1, hz / 48_000.0) + gain_db(&TABLE_2, hz / 48_000.0)
}

/// Gain of the bilinear prototype that the `ebur128` crate uses at a rate, in dB.
#[must_use]
pub fn prototype_db(rate_hz: f64, hz: f64) -> f64 {
    let k = (PI * 1681.974450955533 / rate_hz).tan();
    let q = 0.7071752369554196;
    let high = 10f64.powf(3.999843853973347 / 20.0);
    let band = high.powf(0.4996667741545416);
    let scale = 1.0 + k / q + k * k;
    let shelf = [
        (high + band * k / q + k * k) / scale,
        2.0 * (k * k - high) / scale,
        (high - band * k / q + k * k) / scale,
        2.0 * (k * k - 1.0) / scale,
        (1.0 - k / q + k * k) / scale,
    ];
    let k = (PI * 38.13547087602444 / rate_hz).tan();
    let q = 0.5003270373238773;
    let scale = 1.0 + k / q + k * k;
    let high_pass = [1.0, -2.0, 1.0, 2.0 * (k * k - 1.0) / scale, (1.0 - k / q + k * k) / scale];
    gain_db(&shelf, hz / rate_hz) + gain_db(&high_pass, hz / rate_hz)
}

/// By how much the prototype strays from the standard's response between 20 Hz and 20 kHz, in dB.
#[must_use]
pub fn prototype_drift_db(rate_hz: f64) -> f64 {
    audible_points_hz()
        .map(|hz| (prototype_db(rate_hz, hz) - standard_db(hz)).abs())
        .fold(0.0, f64::max)
}

/// Twenty points an octave from 20 Hz to 20 kHz.
pub fn audible_points_hz() -> impl Iterator<Item = f64> {
    (0..=200).map(|point| 20.0 * 1000f64.powf(f64::from(point) / 200.0))
}

/// Gain of a section at a frequency in cycles a sample, in dB.
fn gain_db([b0, b1, b2, a1, a2]: &Section, frequency: f64) -> f64 {
    // |c0 + c1·z⁻¹ + c2·z⁻²|² written so that nothing cancels at low frequencies, where the zeros
    // and poles of the high-pass crowd around z = 1.
    let s = (PI * frequency).sin().powi(2);
    let power = |c0: f64, c1: f64, c2: f64| {
        (c0 + c1 + c2).powi(2) - 4.0 * s * (c1 * (c0 + c2) + 4.0 * c0 * c2) + 16.0 * c0 * c2 * s * s
    };
    10.0 * (power(*b0, *b1, *b2) / power(1.0, *a1, *a2)).log10()
}
