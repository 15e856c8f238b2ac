//! Long curves with few points: what is drawn within the width of a line looks the same.

use std::ops::Range;

/// Points of a curve, those without a value apart, as pieces that hang together.
///
/// Where there are more than two points to each of `columns` steps of the horizontal axis, each
/// step keeps only its lowest and its highest point, in their order: every peak and every gap down
/// to one step survives.
pub(crate) fn thinned(
    points: impl Iterator<Item = (f64, Option<f64>)>,
    axis: &Range<f64>,
    columns: usize,
) -> Vec<Vec<(f64, f64)>> {
    let column =
        |x: f64| ((x - axis.start) / (axis.end - axis.start) * columns as f64).max(0.0) as usize;
    let mut pieces = vec![];
    let mut open: Option<Piece> = None;
    for (x, y) in points {
        match y {
            Some(y) => open.get_or_insert_with(Piece::default).take(x, y, column(x)),
            None => pieces.extend(open.take().map(Piece::points)),
        }
    }
    pieces.extend(open.map(Piece::points));
    pieces
}

/// A curve without a gap.
#[derive(Default)]
struct Piece {
    kept: Vec<(f64, f64)>,
    column: Option<Column>,
}

/// What was met within one step of the horizontal axis.
struct Column {
    index: usize,
    lowest: (f64, f64),
    highest: (f64, f64),
}

impl Piece {
    fn take(&mut self, x: f64, y: f64, index: usize) {
        match &mut self.column {
            Some(column) if column.index == index => {
                if y < column.lowest.1 {
                    column.lowest = (x, y);
                }
                if y > column.highest.1 {
                    column.highest = (x, y);
                }
            }
            _ => {
                self.close_column();
                self.column = Some(Column { index, lowest: (x, y), highest: (x, y) });
            }
        }
    }

    fn close_column(&mut self) {
        let Some(Column { lowest, highest, .. }) = self.column.take() else { return };
        let (first, second) =
            if lowest.0 <= highest.0 { (lowest, highest) } else { (highest, lowest) };
        self.kept.push(first);
        if second.0 > first.0 {
            self.kept.push(second);
        }
    }

    fn points(mut self) -> Vec<(f64, f64)> {
        self.close_column();
        self.kept
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_curve_is_left_alone() {
        let points = [(0.1, 3.0), (1.1, 1.0), (2.1, 2.0)];
        let pieces = thinned(points.iter().map(|&(x, y)| (x, Some(y))), &(0.0..4.0), 4);
        assert_eq!(pieces, [points.to_vec()]);
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
        let points: Vec<(f64, f64)> = pieces.iter().flatten().copied().collect();
        assert_eq!(pieces.len(), 2);
        assert!(points.len() <= 1_604, "{} points are left", points.len());
        assert!(points.contains(&(54_321.0, 9.0)) && points.contains(&(98_765.0, -9.0)));
        assert!(points.is_sorted_by(|one, other| one.0 < other.0));
    }
}
