//! Lengths of time.

use super::NONE;
use super::number::fixed;

/// Shorter ones are said in milliseconds: what three decimals of a second would show with two
/// digits.
const LEAST_S: f64 = 0.099_5;

/// A length of time as somebody says it: `12.34 ms`, `0.500 s`, `59.9 s`, `3 min 12.0 s`,
/// `6 h 00 min 00 s`. Without a sign: the words around it say which way.
#[must_use]
pub fn duration(seconds: f64) -> String {
    let seconds = seconds.abs();
    // Rounded first, so that no part of it can round up to 60.
    let tenths = (seconds * 10.0).round() as u64;
    let (minutes, rest) = (tenths / 600, tenths % 600);
    if seconds < 9.999_5 || !seconds.is_finite() {
        return precise_duration(seconds);
    }
    if minutes == 0 {
        format!("{}.{} s", rest / 10, rest % 10)
    } else if minutes < 60 {
        format!("{minutes} min {:02}.{} s", rest / 10, rest % 10)
    } else {
        format!("{} h {:02} min {:02} s", minutes / 60, minutes % 60, rest / 10)
    }
}

/// The same to a thousandth of a second, however long: `12.34 ms`, `0.500 s`, `72.125 s`.
#[must_use]
pub fn precise_duration(seconds: f64) -> String {
    match seconds.abs() {
        s if !s.is_finite() => NONE.into(),
        s if s > 0.0 && s < LEAST_S => format!("{} ms", fixed(s * 1e3, 2)),
        s => format!("{} s", fixed(s, 3)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_rounds_up_to_sixty_seconds() {
        let seconds = [0.5, 59.96, 179.97, 192.0, 21_600.0];
        let said = ["0.500 s", "1 min 00.0 s", "3 min 00.0 s", "3 min 12.0 s", "6 h 00 min 00 s"];
        assert_eq!(seconds.map(duration), said);
    }

    #[test]
    fn what_is_short_is_said_in_milliseconds() {
        assert_eq!([0.0, 0.012_34, -0.05].map(duration), ["0.000 s", "12.34 ms", "50.00 ms"]);
        assert_eq!([0.099_6, 72.125].map(precise_duration), ["0.100 s", "72.125 s"]);
        assert_eq!(duration(f64::NAN), "–");
    }
}
