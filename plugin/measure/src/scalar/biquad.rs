//! The difference equation of a second-order filter, as it is written: direct form I.

/// `y[n] = b0·x[n] + b1·x[n−1] + b2·x[n−2] − a1·y[n−1] − a2·y[n−2]`, from rest.
pub(crate) fn filtered(x: &[f64], b: [f64; 3], a: [f64; 2]) -> Vec<f64> {
    let mut y: Vec<f64> = Vec::with_capacity(x.len());
    for n in 0..x.len() {
        let back = |of: &[f64], by: usize| n.checked_sub(by).map_or(0.0, |index| of[index]);
        let fed: f64 = (0..3).map(|k| b[k] * back(x, k)).sum();
        let returned: f64 = (0..2).map(|k| a[k] * back(&y, k + 1)).sum();
        y.push(fed - returned);
    }
    y
}
