//! Sums over a window that slides, without the rounding that adding and subtracting would leave.

/// The sum of the latest `capacity` values, several lanes at a time.
///
/// Two stacks instead of a running sum: nothing is ever subtracted, so silence after a loud passage
/// reads exactly zero. Each push costs two additions a lane on average.
pub(crate) struct SlidingSum<const LANES: usize> {
    values: Vec<[f64; LANES]>,
    /// Sums of `values[i..]` as they stood when the window last turned over.
    suffixes: Vec<[f64; LANES]>,
    /// Values since then, and their sum.
    fresh: usize,
    fresh_sum: [f64; LANES],
    /// Whether a whole window has been seen.
    full: bool,
}

impl<const LANES: usize> SlidingSum<LANES> {
    pub(crate) fn new(capacity: usize) -> Self {
        Self {
            values: vec![[0.0; LANES]; capacity],
            suffixes: vec![[0.0; LANES]; capacity + 1],
            fresh: 0,
            fresh_sum: [0.0; LANES],
            full: false,
        }
    }

    pub(crate) fn reset(&mut self) {
        self.values.fill([0.0; LANES]);
        self.suffixes.fill([0.0; LANES]);
        self.fresh = 0;
        self.fresh_sum = [0.0; LANES];
        self.full = false;
    }

    pub(crate) fn push(&mut self, value: [f64; LANES]) {
        self.values[self.fresh] = value;
        self.fresh += 1;
        self.fresh_sum = add(self.fresh_sum, value);
        if self.fresh == self.values.len() {
            self.turn_over();
        }
    }

    fn turn_over(&mut self) {
        self.full = true;
        self.fresh = 0;
        self.fresh_sum = [0.0; LANES];
        let mut sum = [0.0; LANES];
        for (suffix, value) in self.suffixes.iter_mut().zip(&self.values).rev() {
            sum = add(sum, *value);
            *suffix = sum;
        }
    }

    /// The sum over the window; `None` before the window has filled.
    pub(crate) fn sum(&self) -> Option<[f64; LANES]> {
        self.full.then(|| add(self.suffixes[self.fresh], self.fresh_sum))
    }
}

fn add<const LANES: usize>(x: [f64; LANES], y: [f64; LANES]) -> [f64; LANES] {
    std::array::from_fn(|i| x[i] + y[i])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sliding_sum_is_the_sum_of_its_window_and_silence_after_noise_is_exactly_zero() {
        let mut sliding = SlidingSum::<1>::new(7);
        let values: Vec<f64> =
            (0..40).map(|i| if i < 25 { f64::from(i * i) * 0.1 } else { 0.0 }).collect();
        for (i, &value) in values.iter().enumerate() {
            sliding.push([value]);
            match sliding.sum() {
                None => assert!(i < 6),
                Some([sum]) => {
                    let plain: f64 = values[i - 6..=i].iter().sum();
                    assert!((sum - plain).abs() < 1e-12, "{sum} against {plain} at {i}");
                    assert!(i < 31 || sum == 0.0);
                }
            }
        }
    }
}
