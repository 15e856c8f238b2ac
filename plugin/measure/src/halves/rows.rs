//! The table of how the halves add: what each row is called, its unit, and where its number is. The
//! sum gain is shown as engineers say it, against one of two equal halves: +6.0 dB identical,
//! +3.0 dB independent, −∞ cancelling. Readings and records hold it against the power sum.

use crate::level::{EQUAL_POWER_SUM_DB, Level};
use crate::reading::{BandReading, HalvesReading};
use crate::settings::Halves;
use crate::words;

/// Halves further apart than this, in dB, have no level in common that a gain could refer to.
const MOST_APART_DB: f64 = 10.0;

impl HalvesReading {
    /// RMS of the sum against one of two equal halves, in dB; none where they differ by more than
    /// 10 dB.
    #[must_use]
    pub fn shown_gain_energy_db(&self) -> Level {
        self.against_one(self.sum_gain_energy_db)
    }

    /// The same of the held sample peaks.
    #[must_use]
    pub fn shown_gain_peak_db(&self) -> Level {
        self.against_one(self.sum_gain_peak_db)
    }

    fn against_one(&self, against_power_sum: Level) -> Level {
        match self.level_difference_db.finite() {
            Some(db) if db.abs() <= MOST_APART_DB => against_power_sum.plus(EQUAL_POWER_SUM_DB),
            _ => Level::NONE,
        }
    }
}

/// A row of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HalvesRow {
    /// RMS of the sum against one of two equal halves.
    GainByEnergy,
    /// The same of the held sample peaks.
    GainByPeak,
    /// How much more the peaks rise than the energy.
    PeakLessEnergy,
    /// RMS of the sum.
    Sum,
    /// RMS that the sum would have if the halves were one signal.
    IfIdentical,
    /// RMS that the sum would have if the halves were independent.
    IfIndependent,
    /// RMS of the difference.
    Null,
    /// RMS level of the first half less that of the second.
    Over,
    /// Correlation coefficient.
    Correlation,
}

impl HalvesRow {
    /// All of them, in the order of every table.
    pub const ALL: [Self; 9] = [
        Self::GainByEnergy,
        Self::GainByPeak,
        Self::PeakLessEnergy,
        Self::Sum,
        Self::IfIdentical,
        Self::IfIndependent,
        Self::Null,
        Self::Over,
        Self::Correlation,
    ];

    /// What the row is called.
    #[must_use]
    pub fn word(self, halves: Halves) -> String {
        match self {
            Self::GainByEnergy | Self::GainByPeak => format!("sum gain {}", self.short(halves)),
            Self::IfIdentical | Self::IfIndependent => format!("sum {}", self.short(halves)),
            _ => self.short(halves),
        }
    }

    /// The same where what it is about stands above.
    #[must_use]
    pub fn short(self, halves: Halves) -> String {
        match self {
            Self::GainByEnergy => "by energy".into(),
            Self::GainByPeak => "by peak".into(),
            Self::PeakLessEnergy => "peak less energy".into(),
            Self::Sum => format!("sum {}", halves.sum()),
            Self::IfIdentical => "if identical".into(),
            Self::IfIndependent => "if independent".into(),
            Self::Null => format!("null {}", halves.difference()),
            Self::Over => halves.letters().join(" over "),
            Self::Correlation => "correlation".into(),
        }
    }

    /// Its unit; none for a coefficient.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::GainByEnergy | Self::GainByPeak | Self::PeakLessEnergy | Self::Over => "dB",
            Self::Sum | Self::IfIdentical | Self::IfIndependent | Self::Null => "dBFS",
            Self::Correlation => "",
        }
    }

    /// What it is, in a sentence without a full stop.
    #[must_use]
    pub fn explanation(self, halves: Halves) -> String {
        let (both, [first, second]) = (halves.both(), halves.letters());
        match self {
            Self::GainByEnergy => {
                "RMS of the sum against one of two equal halves: +6.0 dB identical, +3.0 dB \
                 independent, −∞ cancelling"
                    .into()
            }
            Self::GainByPeak => "The same of the held sample peaks".into(),
            Self::PeakLessEnergy => "How much more the peaks rise than the energy".into(),
            Self::Sum => "RMS of the sum since reset".into(),
            Self::IfIdentical => format!("RMS the sum would have if {both} were one signal"),
            Self::IfIndependent => format!("RMS the sum would have if {both} were independent"),
            Self::Null => format!("RMS of the difference of {both}"),
            Self::Over => format!("RMS level of {first} less that of {second}"),
            Self::Correlation => "+1 identical, 0 independent, −1 opposite polarity".into(),
        }
    }

    /// Its number in one band, written with so many decimals.
    #[must_use]
    pub fn write(self, band: &BandReading, decimals: usize) -> String {
        let halves = &band.halves;
        match self {
            Self::GainByEnergy => words::change(halves.shown_gain_energy_db(), decimals),
            Self::GainByPeak => words::change(halves.shown_gain_peak_db(), decimals),
            Self::PeakLessEnergy => {
                let apart_db = halves.sum_gain_peak_db.minus(halves.sum_gain_energy_db);
                words::change(apart_db, decimals)
            }
            Self::Sum => words::level(band.sum.rms_dbfs, decimals),
            Self::IfIdentical => words::level(halves.coherent_dbfs, decimals),
            Self::IfIndependent => words::level(halves.power_dbfs, decimals),
            Self::Null => words::level(halves.null_dbfs, decimals),
            Self::Over => words::change(halves.level_difference_db, decimals),
            Self::Correlation => words::signed(halves.correlation.unwrap_or(f64::NAN), 2),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn halves(gain_db: f64, difference_db: f64) -> HalvesReading {
        HalvesReading {
            sum_gain_energy_db: Level::from_db(gain_db),
            level_difference_db: Level::from_db(difference_db),
            ..HalvesReading::default()
        }
    }

    #[test]
    fn the_gain_shown_is_that_over_one_of_two_equal_halves() {
        let shown = |gain_db, difference_db| {
            let band =
                BandReading { halves: halves(gain_db, difference_db), ..BandReading::default() };
            HalvesRow::GainByEnergy.write(&band, 1)
        };
        assert_eq!(shown(3.0103, 0.0), "+6.0");
        assert_eq!(shown(0.0, -9.9), "+3.0");
        assert_eq!(shown(f64::NEG_INFINITY, 0.0), "−∞");
        assert_eq!(shown(0.4, 10.1), "–", "no level in common");
        assert_eq!(shown(0.0, f64::NEG_INFINITY), "–", "one half is silent");
    }
}
