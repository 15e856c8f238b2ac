//! What readings have to be, calculated another way than the measures do: sums in `f64`, published
//! coefficients, and Fourier transforms of whole signals.

pub mod fourier;
pub mod k_weighting;

/// The sample rates that the measures name figures for, in Hz.
pub const RATES_HZ: [f64; 6] = [44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0];

/// RMS level in dBFS, a full-scale sine reading −3.01: the sum of the squares in `f64`.
#[must_use]
pub fn rms_dbfs(signal: &[f32]) -> f64 {
    let sum: f64 = signal.iter().map(|x| f64::from(*x).powi(2)).sum();
    10.0 * (sum / signal.len() as f64).log10()
}

/// Sample peak level in dBFS.
#[must_use]
pub fn peak_dbfs(signal: &[f32]) -> f64 {
    20.0 * signal.iter().fold(0.0, |peak: f64, x| peak.max(f64::from(x.abs()))).log10()
}

/// mean(ab) / (rms(a)·rms(b)), the means not removed.
#[must_use]
pub fn correlation(a: &[f32], b: &[f32]) -> f64 {
    let sum = |a: &[f32], b: &[f32]| -> f64 {
        a.iter().zip(b).map(|(a, b)| f64::from(*a) * f64::from(*b)).sum()
    };
    sum(a, b) / (sum(a, a) * sum(b, b)).sqrt()
}

/// Level of the sum of two signals with correlation `r`:
/// 10·log10(10^(La/10) + 10^(Lb/10) + 2·r·10^((La+Lb)/20)).
#[must_use]
pub fn sum_db(a_db: f64, b_db: f64, r: f64) -> f64 {
    let power = |db: f64| 10f64.powf(db / 10.0);
    10.0 * (power(a_db) + power(b_db) + 2.0 * r * power(0.5 * (a_db + b_db))).log10()
}

/// Depth of the null of a signal against itself with a gain error, in dB re the signal:
/// 20·log10|1 − 10^(−g/20)|.
#[must_use]
pub fn null_depth_db(gain_error_db: f64) -> f64 {
    20.0 * (1.0 - 10f64.powf(-gain_error_db / 20.0)).abs().log10()
}

/// Loudness range of a series of short-term loudnesses (EBU Tech 3342): gated at −70 LUFS and at
/// 20 LU below the mean power of what is left; 95th less 10th percentile, nearest rank.
#[must_use]
pub fn loudness_range_lu(short_term_lufs: &[f64]) -> f64 {
    let mut loud: Vec<f64> = short_term_lufs.iter().copied().filter(|l| *l > -70.0).collect();
    let mean = loud.iter().map(|l| 10f64.powf(l / 10.0)).sum::<f64>() / loud.len() as f64;
    loud.retain(|l| *l > 10.0 * mean.log10() - 20.0);
    loud.sort_by(f64::total_cmp);
    let rank = |share: f64| loud[((loud.len() - 1) as f64 * share).round() as usize];
    rank(0.95) - rank(0.10)
}
