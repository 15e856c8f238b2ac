//! Filters without feedback: every output is a sum of products.

/// `y[n] = Σ taps[k]·x[n − k]`, with silence before the first sample.
pub(crate) fn filtered(x: &[f64], taps: &[f64]) -> Vec<f64> {
    let output = |n: usize| -> f64 {
        let newest = n + 1 - taps.len().min(n + 1);
        x[newest..=n].iter().rev().zip(taps).map(|(x, tap)| x * tap).sum()
    };
    (0..x.len()).map(output).collect()
}

/// The signal's value at `place`, where `weight(t)` weighs a sample that lies `t` behind, for samples
/// nearer than `reach`; silence beyond its ends.
pub(crate) fn value_at(x: &[f64], place: f64, reach: usize, weight: impl Fn(f64) -> f64) -> f64 {
    let first = place.floor() as isize + 1 - reach as isize;
    (first..first + 2 * reach as isize)
        .filter_map(|index| {
            let value = x.get(usize::try_from(index).ok()?)?;
            Some(value * weight(index as f64 - place))
        })
        .sum()
}

/// The signal, so many frames later, with silence before it and so long altogether.
pub(crate) fn late_by(x: &[f64], frames: usize, length: usize) -> Vec<f64> {
    let silence = std::iter::repeat_n(0.0, frames);
    silence.chain(x.iter().copied()).chain(std::iter::repeat(0.0)).take(length).collect()
}
