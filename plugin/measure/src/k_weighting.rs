//! K-weighting, ITU-R BS.1770-5, Annex 1, Tables 1 and 2, at any sample rate.
//!
//! The standard prints the filter at 48 kHz and asks for the same response at other rates. The
//! usual bilinear re-derivation drifts from it by up to 0.04 dB at high rates; here the high-pass
//! is scaled to the 48 kHz gain and the shelf's parameters are fitted, so that the response stays
//! within 0.01 dB from 20 Hz to 20 kHz or 0.45 of the rate (a test holds that at every rate).

use std::f64::consts::PI;

use crate::biquad::Biquad;

/// Table 1: the shelf at 48 kHz.
const SHELF_48K: Biquad = Biquad {
    b: [1.535_124_859_586_97, -2.691_696_189_406_38, 1.198_392_810_852_85],
    a: [-1.690_659_293_182_41, 0.732_480_774_215_85],
};

/// Table 2: the high-pass at 48 kHz.
const HIGH_PASS_48K: Biquad =
    Biquad { b: [1.0, -2.0, 1.0], a: [-1.990_047_454_833_98, 0.990_072_250_366_21] };

const RATE_48K_HZ: f64 = 48_000.0;

/// Offset of BS.1770-5, eq. 2, in decibels: it cancels the filter's gain at 997 Hz.
pub const LOUDNESS_OFFSET_DB: f64 = -0.691;

/// The two stages at `rate_hz`.
#[must_use]
pub fn stages(rate_hz: f64) -> [Biquad; 2] {
    if rate_hz == RATE_48K_HZ {
        [SHELF_48K, HIGH_PASS_48K]
    } else {
        [fitted_shelf(rate_hz), scaled_high_pass(rate_hz)]
    }
}

/// Magnitude of the whole weighting at `hz`, in decibels.
#[must_use]
pub fn response_db(rate_hz: f64, hz: f64) -> f64 {
    stages(rate_hz).iter().map(|stage| stage.response_db(rate_hz, hz)).sum()
}

/// Bilinear transform of the analogue high-pass behind Table 2, scaled to the gain that the table's
/// plain numerator has far above its corner: that gain is not quite one, and differs by rate.
fn scaled_high_pass(rate_hz: f64) -> Biquad {
    // Corner and Q that return Table 2 at 48 kHz.
    let k = (PI * 38.135_470_876_024_44 / rate_hz).tan();
    let q = 0.500_327_037_323_877_3;
    let norm = 1.0 / (1.0 + k / q + k * k);
    let a = [2.0 * (k * k - 1.0) * norm, (1.0 - k / q + k * k) * norm];
    let half_rate_gain = |a: [f64; 2]| 4.0 / (1.0 - a[0] + a[1]);
    let scale = half_rate_gain(HIGH_PASS_48K.a) / half_rate_gain(a);
    Biquad { b: [scale, -2.0 * scale, scale], a }
}

/// What the fit may move: natural logarithms of corner frequency and Q, gain in decibels, and the
/// exponent of the band term.
type ShelfParameters = [f64; 4];

/// Values that return Table 1 at 48 kHz.
const SHELF_PARAMETERS_48K: ShelfParameters = [
    7.427_723_650_735_92,
    -0.346_476_783_890_100_9,
    3.999_843_853_973_347,
    0.499_666_774_154_541_6,
];

fn shelf(rate_hz: f64, [ln_hz, ln_q, gain_db, exponent]: ShelfParameters) -> Biquad {
    let k = (PI * ln_hz.exp() / rate_hz).tan();
    let q = ln_q.exp();
    let high = 10f64.powf(gain_db / 20.0);
    let band = high.powf(exponent);
    let norm = 1.0 / (1.0 + k / q + k * k);
    Biquad {
        b: [
            (high + band * k / q + k * k) * norm,
            2.0 * (k * k - high) * norm,
            (high - band * k / q + k * k) * norm,
        ],
        a: [2.0 * (k * k - 1.0) * norm, (1.0 - k / q + k * k) * norm],
    }
}

/// Fits the shelf to the 48 kHz response by rounds of Gauss–Newton on the error in decibels.
fn fitted_shelf(rate_hz: f64) -> Biquad {
    const POINTS: usize = 60;
    const ROUNDS: usize = 8;
    const NUDGE: f64 = 1e-6;
    let highest_hz = f64::min(20_000.0, 0.49 * rate_hz);
    let points_hz: [f64; POINTS] =
        std::array::from_fn(|i| 100.0 * (highest_hz / 100.0).powf(i as f64 / (POINTS - 1) as f64));
    let errors_db = |parameters: ShelfParameters| {
        let shelf = shelf(rate_hz, parameters);
        points_hz.map(|hz| shelf.response_db(rate_hz, hz) - SHELF_48K.response_db(RATE_48K_HZ, hz))
    };
    let mut parameters = SHELF_PARAMETERS_48K;
    for _ in 0..ROUNDS {
        let errors = errors_db(parameters);
        let slopes: [[f64; POINTS]; 4] = std::array::from_fn(|p| {
            let mut nudged = parameters;
            nudged[p] += NUDGE;
            let moved = errors_db(nudged);
            std::array::from_fn(|i| (moved[i] - errors[i]) / NUDGE)
        });
        let dot = |x: &[f64; POINTS], y: &[f64; POINTS]| -> f64 {
            x.iter().zip(y).map(|(x, y)| x * y).sum()
        };
        let normal = std::array::from_fn(|r| std::array::from_fn(|c| dot(&slopes[r], &slopes[c])));
        let right = std::array::from_fn(|r| -dot(&slopes[r], &errors));
        for (parameter, change) in parameters.iter_mut().zip(solve(normal, right)) {
            *parameter += change;
        }
    }
    shelf(rate_hz, parameters)
}

/// Solves four linear equations by elimination with pivoting.
fn solve(mut matrix: [[f64; 4]; 4], mut right: [f64; 4]) -> [f64; 4] {
    for column in 0..4 {
        let pivot = (column..4)
            .max_by(|&x, &y| matrix[x][column].abs().total_cmp(&matrix[y][column].abs()))
            .unwrap_or(column);
        matrix.swap(column, pivot);
        right.swap(column, pivot);
        for row in column + 1..4 {
            let factor = matrix[row][column] / matrix[column][column];
            let pivot = matrix[column];
            for (value, pivot) in matrix[row].iter_mut().zip(pivot).skip(column) {
                *value -= factor * pivot;
            }
            right[row] -= factor * right[column];
        }
    }
    let mut solution = [0.0; 4];
    for row in (0..4).rev() {
        let known: f64 = (row + 1..4).map(|c| matrix[row][c] * solution[c]).sum();
        solution[row] = (right[row] - known) / matrix[row][row];
    }
    solution
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_prototype_returns_table_1_at_48_khz() {
        let shelf = shelf(RATE_48K_HZ, SHELF_PARAMETERS_48K);
        for (ours, printed) in
            shelf.b.iter().chain(&shelf.a).zip(SHELF_48K.b.iter().chain(&SHELF_48K.a))
        {
            assert!((ours - printed).abs() < 1e-12, "{ours} against {printed}");
        }
    }

    #[test]
    fn every_rate_follows_the_48_khz_response_within_a_hundredth_of_a_decibel() {
        for rate_hz in [
            8000.0, 11_025.0, 12_000.0, 16_000.0, 22_050.0, 24_000.0, 32_000.0, 44_100.0, 64_000.0,
            88_200.0, 96_000.0, 176_400.0, 192_000.0, 352_800.0, 384_000.0, 768_000.0,
        ] {
            let highest_hz = f64::min(20_000.0, 0.45 * rate_hz);
            let worst = (0..=300)
                .map(|i| 20.0 * (highest_hz / 20.0).powf(f64::from(i) / 300.0))
                .map(|hz| (response_db(rate_hz, hz) - response_db(RATE_48K_HZ, hz)).abs())
                .fold(0.0, f64::max);
            println!("{rate_hz}: {worst:.5} dB");
            assert!(worst < 0.01, "{worst:.4} dB off at {rate_hz} Hz");
        }
    }
}
