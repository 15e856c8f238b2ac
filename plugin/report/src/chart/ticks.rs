//! Where the axes are labelled: at round numbers, no closer than can be read.

use std::ops::Range;

use ledgerline_measure::words;

use crate::numbers;
use crate::utc::Utc;

/// Decades that a frequency axis covers, in powers of ten of Hz.
const DECADES: std::ops::RangeInclusive<i32> = 0..=5;
/// Where in a decade an axis may be labelled, those that matter more first.
const IN_DECADE: [f64; 10] = [1.0, 2.0, 5.0, 3.0, 1.5, 2.5, 4.0, 7.0, 6.0, 3.5];
/// Least distance of two labels, in units of the page.
const LABEL_DISTANCE: f64 = 44.0;

/// Levels in dB from `low` to `high`: the finest of 1, 2, 5, 10, 20, 40 dB that gives no more than
/// `most` labels.
pub(crate) fn level_ticks(low: f64, high: f64, most: usize) -> Vec<f64> {
    at_steps(low, high, most, &[0.1, 0.2, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0, 40.0])
}

/// Times in seconds from 0 to `end`, at steps that a clock has.
pub(crate) fn clock_ticks(end: f64, most: usize) -> Vec<f64> {
    times(0.0, end, most)
}

fn times(from: f64, to: f64, most: usize) -> Vec<f64> {
    const STEPS_S: [f64; 19] = [
        0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1_800.0,
        3_600.0, 7_200.0, 21_600.0, 86_400.0,
    ];
    at_steps(from, to, most, &STEPS_S)
}

fn at_steps(low: f64, high: f64, most: usize, steps: &[f64]) -> Vec<f64> {
    let span = high - low;
    let fits = |step: &&f64| span / **step < most as f64;
    let last = steps.last().copied().unwrap_or(1.0);
    // Longer than any step: as many times the longest as it takes.
    let longest = last * (span / last / most.max(1) as f64).ceil().max(1.0);
    let step = steps.iter().find(fits).copied().unwrap_or(longest);
    let first = (low / step - 1e-9).ceil() as i64;
    let last = (high / step + 1e-9).floor() as i64;
    (first..=last).map(|index| index as f64 * step).collect()
}

/// Round frequencies far enough apart for their labels on `width` units of the page, as powers of
/// ten of Hz.
pub(crate) fn frequency_ticks(low_hz: f64, high_hz: f64, width: f64) -> Vec<f64> {
    let place = |power: f64| (power - low_hz.log10()) / (high_hz / low_hz).log10() * width;
    let mut ticks: Vec<f64> = vec![];
    let round = IN_DECADE
        .into_iter()
        .flat_map(|round| DECADES.map(move |decade| round * 10f64.powi(decade)));
    for hz in round.filter(|hz| (low_hz..=high_hz).contains(hz)) {
        let (power, x) = (hz.log10(), place(hz.log10()));
        // A label at the right edge would run into what is beside the plot.
        let fits = width - x >= LABEL_DISTANCE / 2.0
            && ticks.iter().all(|&tick| (place(tick) - x).abs() >= LABEL_DISTANCE);
        if fits {
            ticks.push(power);
        }
    }
    ticks
}

/// A frequency as it stands at an axis: `500`, `1.5k`.
pub(crate) fn frequency_label(hz: f64) -> String {
    let rounded = hz.round();
    if rounded >= 1e3 { format!("{}k", rounded / 1e3) } else { format!("{rounded}") }
}

/// A horizontal axis of time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum TimeAxis {
    /// From 0 to so many seconds.
    Length(f64),
    /// From one moment to another, at least [`SHORTEST_CLOCK_S`] later; places are seconds since 1970.
    Clock(Utc, Utc),
}

/// Clocks are labelled to a second.
pub(crate) const SHORTEST_CLOCK_S: f64 = 10.0;
/// Most labels of an axis of time.
const MOST_TIMES: usize = 11;
/// Most labels where each carries a date.
const MOST_DATES: usize = 8;
/// Clocks of this length are labelled to a minute, in steps of whole minutes.
const MINUTES_FROM_S: f64 = 600.0;
/// Clocks longer than this carry dates.
const DATES_FROM_S: f64 = 86_400.0;

impl TimeAxis {
    /// Both edges.
    pub(crate) fn range(self) -> Range<f64> {
        match self {
            Self::Length(end) => 0.0..end,
            Self::Clock(from, to) => from.unix_s..to.unix_s,
        }
    }

    /// Length in seconds.
    pub(crate) fn span_s(self) -> f64 {
        let range = self.range();
        range.end - range.start
    }

    /// Where it is labelled.
    pub(crate) fn ticks(self) -> Vec<f64> {
        let range = self.range();
        let has_dates = matches!(self, Self::Clock(..)) && self.span_s() > DATES_FROM_S;
        times(range.start, range.end, if has_dates { MOST_DATES } else { MOST_TIMES })
    }

    /// How a place on it is written.
    pub(crate) fn label(self, place: f64) -> String {
        match self {
            Self::Length(end) => time_label(place, end),
            Self::Clock(..) => {
                let at = Utc { unix_s: place.round() };
                let (date, clock) = (at.date(), at.clock());
                match self.span_s() {
                    span if span > DATES_FROM_S => format!("{} {}", &date[5..], &clock[..5]),
                    span if span >= MINUTES_FROM_S => clock[..5].to_owned(),
                    _ => clock,
                }
            }
        }
    }

    /// A moment on it, for a table: with the date where there is more than one.
    pub(crate) fn moment(self, place: f64) -> String {
        match self {
            Self::Length(_) => numbers::moment(place),
            Self::Clock(from, to) => Utc { unix_s: place }.between(from, to),
        }
    }

    /// Its title.
    pub(crate) fn title(self) -> String {
        match self {
            Self::Length(end) => time_title(end).to_owned(),
            Self::Clock(from, _) => format!("UTC, from {}", from.date()),
        }
    }
}

/// Axes shorter than this are labelled in seconds, longer ones like a clock.
const CLOCK_FROM_S: f64 = 20.0;

/// A moment as it stands at an axis that ends at `end` seconds.
pub(crate) fn time_label(seconds: f64, end: f64) -> String {
    if end < CLOCK_FROM_S {
        return words::fixed(seconds, 1);
    }
    // Tenths, which no tick of a longer axis has, are left away.
    let text = numbers::moment(seconds);
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// Title of a time axis that ends at `end` seconds.
pub(crate) fn time_title(end: f64) -> &'static str {
    match end {
        end if end < CLOCK_FROM_S => "time (s)",
        end if end < 3_600.0 => "time (min:s)",
        _ => "time (h:min:s)",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_is_labelled_at_its_own_round_times() {
        let axis = |from: &str, seconds: f64| {
            let from = Utc::parse(from).expect("a moment");
            TimeAxis::Clock(from, from.plus(seconds))
        };
        let labels = |axis: TimeAxis| -> Vec<String> {
            axis.ticks().into_iter().map(|place| axis.label(place)).collect()
        };
        let short = axis("2023-11-14T23:59:53.500Z", 10.0);
        assert_eq!(labels(short)[0], "23:59:54");
        assert_eq!(labels(short)[6], "00:00:00");
        assert_eq!(labels(axis("2023-11-14T22:13:20Z", 3_600.0))[0], "22:20");
        let long = labels(axis("2023-11-14T22:13:20Z", 200_000.0));
        assert!(long.len() <= 8 && long[0] == "11-15 00:00", "{long:?}");
    }

    #[test]
    fn ticks_are_round_and_few() {
        assert_eq!(level_ticks(-60.0, 3.0, 8), [-60.0, -50.0, -40.0, -30.0, -20.0, -10.0, 0.0]);
        assert_eq!(clock_ticks(60.0, 10), [0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0]);
        let spoken: Vec<String> = frequency_ticks(20.0, 20_000.0, 450.0)
            .iter()
            .map(|x| frequency_label(10f64.powf(*x)))
            .collect();
        assert!(["100", "1k", "10k", "200", "2k"].iter().all(|hz| spoken.iter().any(|s| s == hz)));
        for end in [0.05, 1.0, 59.9, 7_200.0, 21_600.0, 1e7] {
            let ticks = clock_ticks(end, 10);
            assert!((1..=11).contains(&ticks.len()), "{end} s: {} ticks", ticks.len());
        }
    }
}
