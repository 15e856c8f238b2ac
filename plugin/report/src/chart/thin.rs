//! Long curves with few points: no more than the width of a chart can show.

use std::ops::Range;

/// What a curve did within one step of the horizontal axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Step {
    /// Where its first point lies.
    pub x: f64,
    /// Its lowest point.
    pub low: f64,
    /// Its highest point.
    pub high: f64,
}

/// A curve as pieces that hang together, parted where it has no value: at most one point to each of
/// `columns` steps of the horizontal axis, which holds the lowest and the highest value met there.
/// Where there are fewer points than steps, each is left as it is.
pub(crate) fn thinned(
    points: impl Iterator<Item = (f64, Option<f64>)>,
    axis: &Range<f64>,
    columns: usize,
) -> Vec<Vec<Step>> {
    let column = |x: f64| {
        let share = (x - axis.start) / (axis.end - axis.start);
        // What lies on the right edge belongs to the last step.
        ((share * columns as f64).max(0.0) as usize).min(columns - 1)
    };
    let mut pieces: Vec<Vec<Step>> = vec![];
    // The column of the latest point, if the curve goes on from it.
    let mut open: Option<usize> = None;
    for (x, y) in points {
        let Some(y) = y else {
            open = None;
            continue;
        };
        if open.is_none() {
            pieces.push(vec![]);
        }
        let here = column(x);
        let Some(piece) = pieces.last_mut() else { continue };
        match piece.last_mut() {
            Some(last) if open == Some(here) => {
                last.low = last.low.min(y);
                last.high = last.high.max(y);
            }
            _ => piece.push(Step { x, low: y, high: y }),
        }
        open = Some(here);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_curve_is_left_alone() {
        let points = [(0.1, 3.0), (1.1, 1.0), (2.1, 2.0)];
        let pieces = thinned(points.iter().map(|&(x, y)| (x, Some(y))), &(0.0..4.0), 4);
        assert_eq!(pieces, [points.map(|(x, y)| Step { x, low: y, high: y }).to_vec()]);
    }

    #[test]
    fn a_long_curve_keeps_its_peaks_its_dips_and_its_gaps() {
        let value = |index: usize| match index {
            54_321 => Some(9.0),
            98_765 => Some(-9.0),
            150_000 => None,
            index => Some((index as f64 * 0.1).sin()),
        };
        let count = 216_000;
        let curve = (0..count).map(|index| (index as f64, value(index)));
        let pieces = thinned(curve, &(0.0..count as f64), 800);
        let steps: Vec<Step> = pieces.iter().flatten().copied().collect();
        assert_eq!(pieces.len(), 2);
        assert!(steps.len() <= 801, "{} steps are left", steps.len());
        let step = |index: usize| steps.iter().rfind(|step| step.x <= index as f64);
        assert_eq!(step(54_321).map(|step| step.high), Some(9.0));
        assert_eq!(step(98_765).map(|step| step.low), Some(-9.0));
        assert!(steps.is_sorted_by(|one, other| one.x < other.x));
    }
}
