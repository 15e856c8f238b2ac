//! The highest of many values, and their sum, several at a time: one after the other, each would wait
//! for the one before.

/// Values that are compared or added at a time.
const LANES: usize = 8;

/// The highest of what `height` makes of indices and values, and 0 at the least.
#[inline]
pub(super) fn highest<T: Copy>(values: &[T], height: impl Fn(usize, T) -> f64) -> f64 {
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
pub(super) fn total(values: &[f64]) -> f64 {
    let mut lanes = [0.0; LANES];
    let (chunks, rest) = values.as_chunks::<LANES>();
    for chunk in chunks {
        for lane in 0..LANES {
            lanes[lane] += chunk[lane];
        }
    }
    lanes.iter().chain(rest).sum()
}

/// The higher of two values. Unlike `f64::max`, it takes no heed of what is no number.
#[inline]
fn higher(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

#[cfg(test)]
mod tests;
