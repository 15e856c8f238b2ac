//! How much of what was heard each of a few known parts makes up, whatever noise the parts
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

/// The shares of the parts in `heard`; `None` if their instruments do not tell them apart.
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

/// The inverse of the parts' products with their instruments, by Gauss and Jordan's elimination.
fn inverse(parts: &[Part]) -> Option<Vec<Vec<f64>>> {
    let count = parts.len();
    let mut rows: Vec<Vec<f64>> = parts
        .iter()
        .enumerate()
        .map(|(index, row)| {
            let products = parts.iter().map(|part| dot(&row.instrument, &part.known));
            products.chain((0..count).map(|column| f64::from(column == index))).collect()
        })
        .collect();
    for column in 0..count {
        let largest = (column..count)
            .max_by(|&x, &y| rows[x][column].abs().total_cmp(&rows[y][column].abs()))?;
        rows.swap(column, largest);
        let pivot = rows[column][column];
        if pivot == 0.0 || !pivot.is_finite() {
            return None;
        }
        let pivot_row: Vec<f64> = rows[column].iter().map(|x| x / pivot).collect();
        for row in &mut rows {
            let factor = row[column];
            row.iter_mut().zip(&pivot_row).for_each(|(x, pivot)| *x -= factor * pivot);
        }
        rows[column] = pivot_row;
    }
    Some(rows.into_iter().map(|row| row[count..].to_vec()).collect())
}

fn times(matrix: &[Vec<f64>], vector: &[f64]) -> Vec<f64> {
    matrix.iter().map(|row| row.iter().zip(vector).map(|(x, y)| x * y).sum()).collect()
}
