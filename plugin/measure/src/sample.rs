//! What counts as a sample: a number that some converter or calculation could have meant.

/// The largest magnitude that is still a sample, linear: +120 dBFS. Nothing that mixes or converts
/// makes more, and squares stay far inside single precision.
const LARGEST: f32 = 1e6;

/// Whether a value is a sample: neither NaN nor infinite, and no larger than +120 dBFS.
#[must_use]
#[inline]
pub fn is_sample(value: f32) -> bool {
    // False for NaN as well.
    value.abs() <= LARGEST
}

/// The sample; silence in place of a value that is none.
#[must_use]
#[inline]
pub fn sample_or_silence(value: f32) -> f32 {
    if is_sample(value) { value } else { 0.0 }
}
