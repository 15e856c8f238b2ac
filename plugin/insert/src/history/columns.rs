//! Columns of the time view: the highest of each level in a stretch of time, in three widths.

use std::collections::VecDeque;

use ledgerline_measure::{HistoryRow, Level};
use serde::{Deserialize, Serialize};

/// Seconds of the finest columns, and of those that ten minutes are drawn with.
const FINE_S: f64 = 0.1;
const COARSE_S: f64 = 1.0;
/// How many of each are kept: a tenth more than is shown.
const FINE_COLUMNS: usize = 660;
const COARSE_COLUMNS: usize = 660;
/// How many columns everything is drawn with at most; with half as many, they are twice as wide.
const MOST_COLUMNS: usize = 1024;
/// Columns with more time between them have a gap, in columns.
const GAP_COLUMNS: f64 = 1.5;

/// How much time is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Span {
    /// The latest minute.
    #[default]
    Minute,
    /// The latest ten minutes.
    TenMinutes,
    /// Everything since the first frame.
    Everything,
}

impl Span {
    /// All of them, shortest first.
    pub const ALL: [Self; 3] = [Self::Minute, Self::TenMinutes, Self::Everything];

    /// As a control says it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Minute => "1 min",
            Self::TenMinutes => "10 min",
            Self::Everything => "all",
        }
    }

    /// Its length in seconds, where it has one.
    #[must_use]
    pub fn seconds(self) -> Option<f64> {
        match self {
            Self::Minute => Some(60.0),
            Self::TenMinutes => Some(600.0),
            Self::Everything => None,
        }
    }
}

/// The highest of each level in a stretch of time. Levels in dBFS, dBTP or LUFS; −∞ is silence, and NaN
/// where there is no such level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Where it begins, in seconds since the first frame.
    pub start_s: f64,
    /// Where it ends.
    pub end_s: f64,
    /// Where the host's transport stood at its end, in seconds, if it ran.
    pub host_s: Option<f64>,
    /// Largest sample of the whole band.
    pub sample_peak_dbfs: f32,
    /// True peak: whole band, audible band.
    pub true_peak_dbtp: [f32; 2],
    /// Short-term loudness (3 s): whole band, audible band.
    pub short_term_lufs: [f32; 2],
    /// The user's own meter, its offset left out.
    pub your_meter_db: f32,
    /// Overs that began in it.
    pub overs: u64,
    /// Where the host had stopped before, in seconds since the first frame: the latest time in it.
    pub stop_s: Option<f64>,
}

impl Column {
    /// A row of history that ends at `end_s` seconds since the first frame.
    #[must_use]
    pub fn of(row: &HistoryRow, end_s: f64, host_s: Option<f64>, overs: u64) -> Self {
        let level = |level: Level| level.db().unwrap_or(f64::NAN) as f32;
        let both = |get: fn(&ledgerline_measure::history::HistoryLevels) -> Level| {
            [level(get(&row.whole)), level(get(&row.audible))]
        };
        Self {
            start_s: end_s - FINE_S,
            end_s,
            host_s,
            sample_peak_dbfs: level(row.whole.sample_peak_dbfs),
            true_peak_dbtp: both(|levels| levels.true_peak_dbtp),
            short_term_lufs: both(|levels| levels.short_term_lufs),
            your_meter_db: level(row.your_meter_db),
            overs,
            stop_s: None,
        }
    }

    /// Goes on with what follows.
    fn join(&mut self, later: &Self) {
        // The larger of two, be one of them NaN.
        let raise = |one: &mut f32, other: f32| *one = one.max(other);
        self.end_s = later.end_s;
        self.host_s = later.host_s.or(self.host_s);
        raise(&mut self.sample_peak_dbfs, later.sample_peak_dbfs);
        raise(&mut self.your_meter_db, later.your_meter_db);
        for band in 0..2 {
            raise(&mut self.true_peak_dbtp[band], later.true_peak_dbtp[band]);
            raise(&mut self.short_term_lufs[band], later.short_term_lufs[band]);
        }
        self.overs += later.overs;
        self.stop_s = later.stop_s.or(self.stop_s);
    }

    /// Whether time is missing between this and the next, where columns are so wide.
    #[must_use]
    pub fn is_apart_from(&self, next: &Self, width_s: f64) -> bool {
        next.start_s - self.end_s > (GAP_COLUMNS - 1.0) * width_s
    }
}

/// All columns.
#[derive(Debug, Clone)]
pub struct Columns {
    fine: VecDeque<Column>,
    coarse: VecDeque<Column>,
    all: Vec<Column>,
    /// How wide those of everything are, in seconds.
    all_s: f64,
}

impl Default for Columns {
    fn default() -> Self {
        Self {
            fine: VecDeque::with_capacity(FINE_COLUMNS + 1),
            coarse: VecDeque::with_capacity(COARSE_COLUMNS + 1),
            all: Vec::with_capacity(MOST_COLUMNS + 1),
            all_s: FINE_S,
        }
    }
}

impl Columns {
    /// Adds the latest tenth of a second.
    pub fn push(&mut self, column: Column) {
        self.fine.push_back(column);
        if self.fine.len() > FINE_COLUMNS {
            self.fine.pop_front();
        }
        match self.coarse.back_mut() {
            Some(last) if is_in(last, &column, COARSE_S) => last.join(&column),
            _ => self.coarse.push_back(column),
        }
        if self.coarse.len() > COARSE_COLUMNS {
            self.coarse.pop_front();
        }
        match self.all.last_mut() {
            Some(last) if is_in(last, &column, self.all_s) => last.join(&column),
            _ => self.all.push(column),
        }
        // Twice may not do where time is missing.
        while self.all.len() > MOST_COLUMNS {
            self.all_s *= 2.0;
            let mut wider: Vec<Column> = Vec::with_capacity(MOST_COLUMNS + 1);
            for column in self.all.drain(..) {
                match wider.last_mut() {
                    Some(last) if is_in(last, &column, self.all_s) => last.join(&column),
                    _ => wider.push(column),
                }
            }
            self.all = wider;
        }
    }

    /// The columns that a span is drawn with, oldest first, and how wide they are, in seconds.
    pub fn of(&self, span: Span) -> (impl DoubleEndedIterator<Item = &Column>, f64) {
        let (first, second, width_s): (&[Column], &[Column], f64) = match span {
            Span::Minute => {
                let (first, second) = self.fine.as_slices();
                (first, second, FINE_S)
            }
            Span::TenMinutes => {
                let (first, second) = self.coarse.as_slices();
                (first, second, COARSE_S)
            }
            Span::Everything => (&self.all, &[], self.all_s),
        };
        (first.iter().chain(second), width_s)
    }

    /// The latest tenth of a second.
    #[must_use]
    pub fn latest(&self) -> Option<&Column> {
        self.fine.back()
    }

    /// Where the first frame lies that is known, in seconds.
    #[must_use]
    pub fn start_s(&self) -> f64 {
        self.all.first().map_or(0.0, |column| column.start_s)
    }
}

/// Whether a tenth of a second belongs into a column: columns of one width begin at its multiples.
fn is_in(last: &Column, column: &Column, width_s: f64) -> bool {
    let index = |at_s: f64| ((at_s - FINE_S / 2.0) / width_s).floor();
    index(last.end_s) == index(column.end_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(index: u64) -> Column {
        let end_s = (index + 1) as f64 * FINE_S;
        // Louder by and by, with a peak now and then.
        let peak = if index % 9_000 == 4_321 { -1.0 } else { -20.0 };
        Column {
            start_s: end_s - FINE_S,
            end_s,
            host_s: None,
            sample_peak_dbfs: peak,
            true_peak_dbtp: [peak, f32::NAN],
            short_term_lufs: [-23.0, -24.0],
            your_meter_db: f32::NAN,
            overs: u64::from(peak == -1.0),
            stop_s: None,
        }
    }

    #[test]
    fn a_day_takes_no_more_space_and_loses_no_peak() {
        let mut columns = Columns::default();
        let day = 24 * 36_000;
        for index in 0..day {
            columns.push(column(index));
        }
        let (all, width_s) = columns.of(Span::Everything);
        let all: Vec<_> = all.collect();
        assert!((MOST_COLUMNS / 2..=MOST_COLUMNS).contains(&all.len()), "{}", all.len());
        assert_eq!(all.iter().map(|column| column.overs).sum::<u64>(), day / 9_000);
        assert!(all.windows(2).all(|pair| !pair[0].is_apart_from(pair[1], width_s)));
        assert_eq!((columns.start_s(), all[all.len() - 1].end_s), (0.0, 86_400.0));
        let with_peak = all.iter().filter(|column| column.sample_peak_dbfs == -1.0).count();
        assert_eq!(with_peak as u64, day / 9_000, "each of 102 s has at most one");
        for span in [Span::Minute, Span::TenMinutes] {
            let shown_s = span.seconds().expect("it has a length");
            let (of, width_s) = columns.of(span);
            let of: Vec<_> = of.collect();
            assert!(of[of.len() - 1].end_s - of[0].start_s >= shown_s);
            assert!(of.len() as f64 <= 1.2 * shown_s / width_s);
        }
    }

    #[test]
    fn where_time_is_missing_there_is_a_gap() {
        let mut columns = Columns::default();
        (0..300).chain(900..1_200).for_each(|index| columns.push(column(index)));
        for span in Span::ALL {
            let (of, width_s) = columns.of(span);
            let of: Vec<_> = of.collect();
            let gaps = of.windows(2).filter(|pair| pair[0].is_apart_from(pair[1], width_s));
            assert_eq!(gaps.count(), 1, "{span:?}");
        }
    }
}
