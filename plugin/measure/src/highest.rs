//! The highest of many values, and their sum, several at a time: one after the other, each would wait
//! for the one before.

/// Values that are compared or added at a time.
const LANES: usize = 8;

/// The highest of what `height` makes of indices and values, and 0 at the least.
#[inline]
pub(crate) fn highest<T: Copy>(values: &[T], height: impl Fn(usize, T) -> f64) -> f64 {
    let mut lanes = [0.0; LANES];
    let (chunks, rest) = values.as_chunks::<LANES>();
    for (chunk_index, chunk) in chunks.iter().enumerate() {
        for lane in 0..LANES {
            lanes[lane] = higher(lanes[lane], height(chunk_index * LANES + lane, chunk[lane]));
        }
    }
    let first = values.len() - rest.len();
    let rest = rest.iter().enumerate().map(|(index, &value)| height(first + index, value));
    rest.chain(lanes).fold(0.0, higher)
}

/// The sum of the values.
pub(crate) fn total(values: &[f64]) -> f64 {
    total_of(values, values, |value, _| value)
}

/// The sum of what `term` makes of the values of two lists of one length.
#[inline]
pub(crate) fn total_of(one: &[f64], other: &[f64], term: impl Fn(f64, f64) -> f64) -> f64 {
    let mut lanes = [0.0; LANES];
    let ((ones, rest), (others, other_rest)) =
        (one.as_chunks::<LANES>(), other.as_chunks::<LANES>());
    for (one, other) in ones.iter().zip(others) {
        for lane in 0..LANES {
            lanes[lane] += term(one[lane], other[lane]);
        }
    }
    let rest = rest.iter().zip(other_rest).map(|(&one, &other)| term(one, other));
    lanes.into_iter().chain(rest).sum()
}

/// The higher of two values. Unlike `f64::max`, it takes no heed of what is no number.
#[inline]
fn higher(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

#[cfg(test)]
mod tests;
