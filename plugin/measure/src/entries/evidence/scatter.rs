//! How much an entry's level moves, from its powers every 10 ms.

use super::super::finder::{
    BANDS, BUS, Powers, ROWS_A_SECOND, Row, SIGNALS, SUM, band_at, band_width_hz,
};

/// Rows in a short and in a long stretch: 50 ms and 500 ms.
const SHORT_ROWS: u32 = 5;
const LONG_ROWS: u32 = 50;
/// Variance of the powers of 50 ms, against their mean, up to which a sound is steady: 1.5 dB. Of
/// those of half a second: 0.65 dB.
const MOST_SHORT: f64 = 0.12;
const MOST_LONG: f64 = 0.0225;

/// Mean and sum of squares of what comes one by one (B. P. Welford, Technometrics 4, 1962).
#[derive(Debug, Clone, Copy, Default)]
struct Running {
    count: f64,
    mean: f64,
    squares: f64,
}

impl Running {
    fn take(&mut self, value: f64) {
        self.count += 1.0;
        let off = value - self.mean;
        self.mean += off / self.count;
        self.squares += off * (value - self.mean);
    }

    /// Variance against the square of the mean.
    fn variance(&self) -> f64 {
        let variance = self.squares / (self.count - 1.0).max(1.0);
        if self.mean > 0.0 { variance / (self.mean * self.mean) } else { 0.0 }
    }
}

/// Bands weaker than this against the strongest do not count: −20 dB.
const LEAST_BAND: f64 = 0.01;
/// How much more than that of a noise of its width the variance of a band may be.
const OVER_NOISE: f64 = 3.0;

/// Of one power.
#[derive(Debug, Clone, Copy, Default)]
struct Of {
    open: f64,
    short: Running,
    open_long: f64,
    long: Running,
}

/// Of one signal of the rows.
#[derive(Debug, Clone, Copy, Default)]
struct OfSignal {
    whole: Of,
    audible: Of,
    /// By octave band.
    bands: [Of; BANDS],
}

/// Of every signal of a row.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Scatter {
    rows: u32,
    signals: [OfSignal; SIGNALS],
}

impl Of {
    fn take(&mut self, power: f32, rows: u32) {
        self.open += f64::from(power);
        if rows.is_multiple_of(SHORT_ROWS) {
            self.short.take(self.open);
            self.open_long += std::mem::take(&mut self.open);
        }
        if rows.is_multiple_of(LONG_ROWS) {
            self.long.take(std::mem::take(&mut self.open_long));
        }
    }

    /// The standard deviation of the mean level, in dB.
    fn deviation_db(&self) -> f64 {
        let share = |running: &Running| {
            if running.count < 3.0 { 0.0 } else { running.variance() / running.count }
        };
        10.0 / std::f64::consts::LN_10 * share(&self.short).max(share(&self.long)).sqrt()
    }

    /// Whether the level stays, at most with the scatter of a noise `width_hz` wide.
    fn is_steady(&self, width_hz: f64) -> bool {
        let noise = |rows: u32| OVER_NOISE / (width_hz * f64::from(rows) / ROWS_A_SECOND);
        self.short.count >= 8.0
            && self.short.variance() <= MOST_SHORT.max(noise(SHORT_ROWS))
            && (self.long.count < 3.0 || self.long.variance() <= MOST_LONG.max(noise(LONG_ROWS)))
    }
}

impl OfSignal {
    fn take(&mut self, powers: &Powers, rows: u32) {
        self.whole.take(powers.whole(), rows);
        self.audible.take(powers.audible, rows);
        let bands = self.bands.iter_mut().zip(powers.bands);
        bands.for_each(|(of, power)| of.take(power, rows));
    }

    /// Whether the level stays, in the whole or the audible band, or that of all octave bands that hold much
    /// of it. The lowest does not count: what wanders there takes minutes to tell.
    fn is_steady(&self) -> bool {
        let strongest = self.bands[1..].iter().map(|of| of.short.mean).fold(0.0, f64::max);
        let mut strong =
            (1..BANDS).filter(|band| self.bands[*band].short.mean >= strongest * LEAST_BAND);
        let above = self.bands[1..].iter().map(|of| of.short.mean).sum::<f64>();
        self.whole.is_steady(f64::INFINITY)
            || self.audible.is_steady(f64::INFINITY)
            || above > self.whole.short.mean * LEAST_BAND
                && strong.all(|band| self.bands[band].is_steady(band_width_hz(band)))
    }
}

impl Scatter {
    pub(crate) fn take(&mut self, row: &Row) {
        self.rows += 1;
        let signals = self.signals.iter_mut().zip(&row.signals);
        signals.for_each(|(of, powers)| of.take(powers, self.rows));
    }

    /// Whether a signal of the rows keeps its level.
    pub(crate) fn is_steady(&self, signal: usize) -> bool {
        self.signals[signal].is_steady()
    }

    /// Whether the bus's octave band around a frequency keeps its level.
    pub(crate) fn is_steady_at(&self, hz: f64) -> bool {
        self.is_band_steady(band_at(hz))
    }

    /// Whether an octave band of the bus keeps its level.
    pub(crate) fn is_band_steady(&self, band: usize) -> bool {
        self.signals[BUS].bands[band].is_steady(band_width_hz(band))
    }

    /// The standard deviation of the mean level of the bus's octave band around a frequency, in dB.
    pub(crate) fn deviation_at_db(&self, hz: f64) -> f64 {
        self.signals[BUS].bands[band_at(hz)].deviation_db()
    }

    /// The variance of the powers of half seconds against the square of their mean, of the sum or of the
    /// bus in the whole band.
    pub(crate) fn slow_variance(&self, bus: bool) -> f64 {
        self.signals[if bus { BUS } else { SUM }].whole.long.variance()
    }

    /// The standard deviation of the mean level of a signal, in dB, in the whole or the audible band.
    pub(crate) fn deviation_db(&self, signal: usize, audible: bool) -> f64 {
        let signal = &self.signals[signal];
        if audible { signal.audible.deviation_db() } else { signal.whole.deviation_db() }
    }

    /// The same of a signal's lowest band, of which the rows do not tell what of it is audible.
    pub(crate) fn lowest_deviation_db(&self, signal: usize) -> f64 {
        self.signals[signal].bands[0].deviation_db()
    }
}
