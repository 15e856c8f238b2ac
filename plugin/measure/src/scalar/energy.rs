//! Sums of squares and products.

/// Sum of the products of two signals' samples.
pub(crate) fn product(x: &[f64], y: &[f64]) -> f64 {
    x.iter().zip(y).map(|(x, y)| x * y).sum()
}

/// Sum of squares.
pub(crate) fn energy(x: &[f64]) -> f64 {
    product(x, x)
}

/// A signal in double precision.
pub(crate) fn double(x: &[f32]) -> Vec<f64> {
    x.iter().copied().map(f64::from).collect()
}

/// Sum of two signals.
pub(crate) fn sum(x: &[f64], y: &[f64]) -> Vec<f64> {
    x.iter().zip(y).map(|(x, y)| x + y).collect()
}

/// Difference of two signals.
pub(crate) fn difference(x: &[f64], y: &[f64]) -> Vec<f64> {
    x.iter().zip(y).map(|(x, y)| x - y).collect()
}

/// A signal's magnitudes.
pub(crate) fn magnitudes(x: &[f64]) -> Vec<f64> {
    x.iter().map(|x| x.abs()).collect()
}
