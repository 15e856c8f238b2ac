//! How numbers are written: one decimal for levels, a true minus sign, a sign on differences, and a
//! defined text for silence and for what does not exist.

use ledgerline_measure::Level;
// As in reports.
pub use ledgerline_report::numbers::{chosen_frequency, frequency, lift_unit, target_unit};

/// A level to a tenth: `−29.0`, `−∞`, `–`.
#[must_use]
pub fn level(level: Level) -> String {
    format!("{level:.1}")
}

/// A difference to a tenth with its sign: `+7.6`, `−0.7`, `0.0`, `−∞`, `–`.
#[must_use]
pub fn difference(difference: Level) -> String {
    let text = level(difference);
    match difference.finite() {
        Some(db) if db > 0.0 && text != "0.0" => format!("+{text}"),
        _ => text,
    }
}

/// A count in at most six characters: `0`, `1 204`, `12 M`, `–`.
#[must_use]
pub fn count(count: Option<u64>) -> String {
    match count {
        None => "–".into(),
        Some(n) if n < 1_000 => n.to_string(),
        Some(n) if n < 100_000 => format!("{} {:03}", n / 1_000, n % 1_000),
        Some(n) if n < 1_000_000 => format!("{} k", n / 1_000),
        Some(n) if n < 1_000_000_000 => format!("{} M", n / 1_000_000),
        Some(n) => format!("{:.0e}", n as f64),
    }
}

/// A share of a whole: `62 %`, `0.4 %`, `< 0.1 %`, `–`.
#[must_use]
pub fn share(share: Option<f64>) -> String {
    match share {
        None => "–".into(),
        Some(s) if s <= 0.0 => "0 %".into(),
        Some(s) if s < 0.001 => "< 0.1 %".into(),
        Some(s) if s < 0.0995 => format!("{:.1} %", s * 100.0),
        Some(s) if s < 1.0 && s > 0.995 => "> 99 %".into(),
        Some(s) => format!("{:.0} %", s * 100.0),
    }
}

/// A correlation coefficient: `+0.02`, `−1.00`, `–`.
#[must_use]
pub fn correlation(coefficient: Option<f64>) -> String {
    match coefficient {
        None => "–".into(),
        Some(r) if r > 0.005 => format!("+{r:.2}"),
        Some(r) if r < -0.005 => format!("−{:.2}", -r),
        Some(_) => "0.00".into(),
    }
}

/// A length of time: `0:03:12`.
#[must_use]
pub fn clock(seconds: f64) -> String {
    let s = seconds.max(0.0) as u64;
    format!("{}:{:02}:{:02}", s / 3600, s / 60 % 60, s % 60)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn silence_and_absence_are_written_apart() {
        assert_eq!(level(Level::SILENCE), "−∞");
        assert_eq!(level(Level::NONE), "–");
        assert_eq!(level(Level::from_db(-29.04)), "−29.0");
    }

    #[test]
    fn differences_carry_a_sign_unless_they_round_to_zero() {
        assert_eq!(difference(Level::from_db(7.6)), "+7.6");
        assert_eq!(difference(Level::from_db(-0.71)), "−0.7");
        assert_eq!(difference(Level::from_db(0.04)), "0.0");
        assert_eq!(difference(Level::from_db(-0.04)), "0.0");
        assert_eq!(difference(Level::SILENCE), "−∞");
        assert_eq!(difference(Level::NONE), "–");
    }

    #[test]
    fn shares_never_round_to_nothing_or_to_all() {
        assert_eq!(share(Some(0.62)), "62 %");
        assert_eq!(share(Some(0.0004)), "< 0.1 %");
        assert_eq!(share(Some(0.004)), "0.4 %");
        assert_eq!(share(Some(0.0)), "0 %");
        assert_eq!(share(Some(0.9999)), "> 99 %");
        assert_eq!(share(Some(1.0)), "100 %");
        assert_eq!(share(None), "–");
    }

    #[test]
    fn counts_fit_six_characters() {
        for n in [0, 999, 1_204, 99_999, 100_000, 999_999, 1_000_000, 999_949_999, u64::MAX] {
            let text = count(Some(n));
            assert!(text.chars().count() <= 6, "{n} is written {text}");
        }
        assert_eq!(count(Some(1_204)), "1 204");
    }

    #[test]
    fn frequencies_take_the_unit_that_keeps_them_short() {
        assert_eq!(frequency(12.0), "12.0 Hz");
        assert_eq!(frequency(440.2), "440 Hz");
        assert_eq!(frequency(31_000.0), "31.0 kHz");
        assert_eq!(chosen_frequency(20.0), "20 Hz");
        assert_eq!(chosen_frequency(20_000.0), "20 kHz");
        assert_eq!(chosen_frequency(22_050.0), "22.05 kHz");
    }
}
