//! A level in decibels, with silence and "no reading" as values of the type.

use serde::{Serialize, Serializer};

/// Power sum of two equal levels above one of them, in dB.
pub(crate) const EQUAL_POWER_SUM_DB: f64 = 10.0 * std::f64::consts::LOG10_2;

/// A number of decibels rounded to 2⁻³²: sums and differences of such numbers are exact in double
/// precision, in any order.
pub(crate) fn summable(db: f64) -> f64 {
    const PARTS: f64 = 4_294_967_296.0;
    (db * PARTS).round() / PARTS
}

/// A level or a ratio of levels in decibels (or loudness units).
///
/// Three kinds of value exist, and none of them poisons a sum or a table: a finite number,
/// [`Level::SILENCE`] (minus infinity: the level of nothing) and [`Level::NONE`] (there is no such
/// reading: too short a signal, no half B). The unit belongs to the field that holds the level and
/// ends its name.
///
/// Serialized as a number, the string `"-inf"`, or `null`.
#[derive(Clone, Copy)]
pub struct Level(f64);

/// Two missing readings are equal, unlike two NaN.
impl PartialEq for Level {
    fn eq(&self, other: &Self) -> bool {
        self.db() == other.db()
    }
}

impl Level {
    /// The level of nothing at all.
    pub const SILENCE: Self = Self(f64::NEG_INFINITY);
    /// No reading exists.
    pub const NONE: Self = Self(f64::NAN);

    /// A level from its number of decibels. `+∞` and NaN are no readings.
    #[must_use]
    pub fn from_db(db: f64) -> Self {
        if db == f64::INFINITY { Self::NONE } else { Self(db) }
    }

    /// `20·log10(amplitude)`: the level of a linear amplitude, 1.0 being full scale.
    #[must_use]
    pub fn from_amplitude(amplitude: f64) -> Self {
        Self::from_db(20.0 * amplitude.abs().log10())
    }

    /// `10·log10(power)`: the level of a mean square, 1.0 being a full-scale square wave.
    #[must_use]
    pub fn from_power(power: f64) -> Self {
        Self::from_db(10.0 * power.log10())
    }

    /// The number of decibels: `None` where no reading exists, `-inf` for silence.
    #[must_use]
    pub fn db(self) -> Option<f64> {
        (!self.0.is_nan()).then_some(self.0)
    }

    /// The number of decibels where it is finite.
    #[must_use]
    pub fn finite(self) -> Option<f64> {
        self.0.is_finite().then_some(self.0)
    }

    /// The level where it is finite, and no reading in its place in silence.
    #[must_use]
    pub(crate) fn unless_silent(self) -> Self {
        if self.0.is_finite() { self } else { Self::NONE }
    }

    /// Whether there is a reading, silence included.
    #[must_use]
    pub fn exists(self) -> bool {
        !self.0.is_nan()
    }

    /// Mean square or ratio of energies: `10^(L/10)`, 0 for silence, `None` without a reading.
    #[must_use]
    pub fn power(self) -> Option<f64> {
        self.db().map(|db| 10f64.powf(db / 10.0))
    }

    /// The higher of two levels; a level that does not exist gives way to one that does.
    #[must_use]
    pub fn max(self, other: Self) -> Self {
        Self(self.0.max(other.0))
    }

    /// This level less another, in decibels. A difference with silence on the right, or with a
    /// missing side, does not exist; silence less something finite is silence.
    #[must_use]
    pub fn minus(self, other: Self) -> Self {
        match other.finite() {
            Some(reference) => Self(self.0 - reference),
            None => Self::NONE,
        }
    }

    /// This level raised by `db` decibels.
    #[must_use]
    pub fn plus(self, db: f64) -> Self {
        Self(self.0 + db)
    }
}

impl Default for Level {
    fn default() -> Self {
        Self::NONE
    }
}

impl std::fmt::Debug for Level {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{self:.3}")
    }
}

/// Two decimals unless the format asks for others; `−∞` for silence, `–` for no reading.
impl std::fmt::Display for Level {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let text = match self.db() {
            None => "–".into(),
            Some(db) if db == f64::NEG_INFINITY => "−∞".into(),
            Some(db) => {
                let decimals = f.precision().unwrap_or(2);
                // A true minus sign is as wide as the digits, so that columns stay steady. What
                // rounds to zero is printed without one.
                let text = format!("{:.decimals$}", db.abs());
                let negative = db < 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b));
                if negative { format!("−{text}") } else { text }
            }
        };
        // `pad` would take the precision for a length to cut to.
        match f.width() {
            Some(width) => write!(f, "{text:>width$}"),
            None => f.write_str(&text),
        }
    }
}

impl Serialize for Level {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self.db() {
            None => serializer.serialize_none(),
            Some(db) if db == f64::NEG_INFINITY => serializer.serialize_str("-inf"),
            Some(db) => serializer.serialize_f64(db),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_and_absence_stay_apart_and_poison_nothing() {
        assert_eq!(Level::from_power(0.0), Level::SILENCE);
        assert!(!Level::from_power(f64::NAN).exists());
        assert!(!Level::from_db(-3.0).minus(Level::SILENCE).exists());
        assert_eq!(Level::SILENCE.minus(Level::from_db(-3.0)), Level::SILENCE);
        assert_eq!(Level::NONE, Level::NONE);
        assert_eq!(Level::NONE.max(Level::from_db(-3.0)), Level::from_db(-3.0));
    }

    #[test]
    fn levels_print_with_steady_signs() {
        assert_eq!(format!("{:7.2}", Level::from_db(-3.0103)), "  −3.01");
        assert_eq!(format!("{:.1}", Level::from_db(-0.04)), "0.0");
        assert_eq!(format!("{:5.1}", Level::SILENCE), "   −∞");
        assert_eq!(format!("{}", Level::NONE), "–");
    }
}
