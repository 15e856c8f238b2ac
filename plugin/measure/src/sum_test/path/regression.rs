//! How much of what was heard each of one or two known parts makes up, whatever noise the parts
//! themselves hold.
//!
//! Least squares would take the noise in a known part for a smaller share. Instrumental variables do
//! not: each part is weighed by another take of itself, whose noise is its own (W. H. Greene,
//! "Econometric Analysis", instrumental variables). The standard error is taken from what is left
//! over, summed in clusters of bins, so that it holds for coloured noise, hum, and what a codec does
//! to whole bands (A. C. Cameron, D. L. Miller, "A Practitioner's Guide to Cluster-Robust
//! Inference", 2015).

use realfft::num_complex::Complex64;

/// One known part of what was heard, and its instrument.
pub(super) struct Part {
    pub known: Vec<Complex64>,
    pub instrument: Vec<Complex64>,
}

/// What a regression says.
pub(super) struct Shares {
    /// By part.
    pub shares: Vec<f64>,
    /// Their standard errors.
    pub errors: Vec<f64>,
    /// What of the heard is no part's.
    pub left: Vec<Complex64>,
}

/// The real part of a product of two spectra.
pub(super) fn dot(x: &[Complex64], y: &[Complex64]) -> f64 {
    x.iter().zip(y).map(|(x, y)| x.re * y.re + x.im * y.im).sum()
}

/// The shares of one or two parts in `heard`; `None` if their instruments do not tell them apart.
pub(super) fn shares(parts: &[Part], heard: &[Complex64], cluster_bins: usize) -> Option<Shares> {
    let inverse = inverse(parts)?;
    let products: Vec<f64> = parts.iter().map(|part| dot(&part.instrument, heard)).collect();
    let shares = times(&inverse, &products);
    let mut left = heard.to_vec();
    for (part, share) in parts.iter().zip(&shares) {
        for (left, known) in left.iter_mut().zip(&part.known) {
            *left -= known * *share;
        }
    }
    let mut squares = vec![0.0; parts.len()];
    for (cluster, left) in left.chunks(cluster_bins).enumerate() {
        let range = cluster * cluster_bins..cluster * cluster_bins + left.len();
        let scores: Vec<f64> =
            parts.iter().map(|part| dot(&part.instrument[range.clone()], left)).collect();
        for (square, off) in squares.iter_mut().zip(times(&inverse, &scores)) {
            *square += off * off;
        }
    }
    let errors = squares.into_iter().map(f64::sqrt).collect();
    shares.iter().all(|share| share.is_finite()).then_some(Shares { shares, errors, left })
}

/// The inverse of the parts' products with their instruments.
fn inverse(parts: &[Part]) -> Option<Vec<Vec<f64>>> {
    match parts {
        [one] => Some(vec![vec![dot(&one.instrument, &one.known).recip()]]),
        [one, two] => {
            let [xx, xy] = [one, two].map(|part| dot(&one.instrument, &part.known));
            let [yx, yy] = [one, two].map(|part| dot(&two.instrument, &part.known));
            let determinant = xx * yy - xy * yx;
            let rows = [[yy, -xy], [-yx, xx]];
            Some(rows.map(|row| row.map(|x| x / determinant).to_vec()).to_vec())
        }
        _ => None,
    }
}

fn times(matrix: &[Vec<f64>], vector: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| row.iter().zip(vector).map(|(x, y)| x * y).sum()).collect()
}
