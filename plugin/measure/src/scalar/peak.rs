//! Largest magnitudes, and runs of samples that reach one.

/// The largest magnitude; 0 if there is nothing.
pub(crate) fn largest(x: &[f64]) -> f64 {
    x.iter().fold(0.0, |held, x| if x.abs() > held { x.abs() } else { held })
}

/// At which samples a run of samples of at least a magnitude begins.
pub(crate) fn runs(x: &[f64], magnitude: f64) -> Vec<usize> {
    let reaches = |n: usize| x[n].abs() >= magnitude;
    (0..x.len()).filter(|&n| reaches(n) && (n == 0 || !reaches(n - 1))).collect()
}
