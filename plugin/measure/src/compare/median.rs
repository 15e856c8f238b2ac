//! The median.

/// The middle value; `None` of nothing.
pub(in crate::compare) fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    values.select_nth_unstable_by(middle, f64::total_cmp);
    Some(values[middle])
}
