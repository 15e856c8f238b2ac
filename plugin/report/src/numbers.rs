//! How numbers are written on a page: two decimals for levels, a true minus sign, a sign on
//! differences, and a defined text for silence (`−∞`) and for what does not exist (`–`).

use ledgerline_measure::{Level, TargetKind};

/// A level to a hundredth: `−29.04`, `−∞`, `–`.
#[must_use]
pub fn level(level: Level) -> String {
    format!("{level:.2}")
}

/// A difference to a hundredth with its sign: `+7.60`, `−0.71`, `0.00`, `−∞`, `–`.
#[must_use]
pub fn difference(difference: Level) -> String {
    signed(difference, 2)
}

/// A difference with its sign and so many decimals.
#[must_use]
pub fn signed(difference: Level, decimals: usize) -> String {
    let text = format!("{difference:.decimals$}");
    match difference.finite() {
        Some(db) if db > 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b)) => {
            format!("+{text}")
        }
        _ => text,
    }
}

/// Any finite number with so many decimals and a true minus sign; `–` for what is no number.
#[must_use]
pub fn plain(number: f64, decimals: usize) -> String {
    format!("{:.decimals$}", Level::from_db(number))
}

/// A count, its thousands set apart: `1 204`, `–`.
#[must_use]
pub fn count(count: Option<u64>) -> String {
    let Some(count) = count else { return "–".into() };
    let digits = count.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            // A narrow space that does not break the line.
            text.push('\u{202f}');
        }
        text.push(digit);
    }
    text
}

/// A share of a whole: `62.1 %`, `0.40 %`, `< 0.01 %`, `–`.
#[must_use]
pub fn share(share: Option<f64>) -> String {
    match share {
        None => "–".into(),
        Some(s) if s <= 0.0 => "0 %".into(),
        Some(s) if s < 0.000_1 => "< 0.01 %".into(),
        Some(s) if s < 0.01 => format!("{:.2} %", s * 100.0),
        Some(s) if s < 1.0 && s > 0.999 => "> 99.9 %".into(),
        Some(s) => format!("{:.1} %", s * 100.0),
    }
}

/// A number of hertz: tenths below 100 Hz, thousands set apart: `12.0`, `440`, `31 000`.
#[must_use]
pub fn hertz(hz: f64) -> String {
    if hz < 99.95 { plain(hz, 1) } else { count(Some(hz.round() as u64)) }
}

/// A frequency with its unit: `12.0 Hz`, `440 Hz`, `31.0 kHz`.
#[must_use]
pub fn frequency(hz: f64) -> String {
    if hz < 99.95 {
        format!("{hz:.1} Hz")
    } else if hz < 999.5 {
        format!("{hz:.0} Hz")
    } else {
        format!("{:.1} kHz", hz / 1e3)
    }
}

/// A frequency that somebody chose, with as few digits as it needs: `20 Hz`, `20 kHz`, `22.05 kHz`.
#[must_use]
pub fn chosen_frequency(hz: f64) -> String {
    if hz < 1e3 { format!("{hz} Hz") } else { format!("{} kHz", (hz / 10.0).round() / 100.0) }
}

/// A correlation coefficient: `+0.02`, `−1.00`, `–`.
#[must_use]
pub fn correlation(coefficient: Option<f64>) -> String {
    signed(coefficient.map_or(Level::NONE, Level::from_db), 2)
}

/// A length of time as somebody says it: `0.500 s`, `59.9 s`, `3 min 12.0 s`, `6 h 00 min 00 s`.
#[must_use]
pub fn duration(seconds: f64) -> String {
    if !seconds.is_finite() || seconds < 0.0 {
        return "–".into();
    }
    if seconds < 9.999_5 {
        return format!("{seconds:.3} s");
    }
    // Rounded first, so that no part of it can round up to 60.
    let tenths = (seconds * 10.0).round() as u64;
    let (minutes, rest) = (tenths / 600, tenths % 600);
    if minutes == 0 {
        format!("{}.{} s", rest / 10, rest % 10)
    } else if minutes < 60 {
        format!("{minutes} min {:02}.{} s", rest / 10, rest % 10)
    } else {
        format!("{} h {:02} min {:02} s", minutes / 60, minutes % 60, rest / 10)
    }
}

/// A moment on a clock: `0:07.3`, `59:07.0`, `5:59:59.9`.
#[must_use]
pub fn moment(seconds: f64) -> String {
    let tenths = (seconds.max(0.0) * 10.0).round() as u64;
    let (minutes, rest) = (tenths / 600, tenths % 600);
    let seconds = format!("{:02}.{}", rest / 10, rest % 10);
    match minutes / 60 {
        0 => format!("{minutes}:{seconds}"),
        hours => format!("{hours}:{:02}:{seconds}", minutes % 60),
    }
}

/// A moment on a clock to a thousandth of a second: `0:07.312`, `5:59:59.999`.
#[must_use]
pub fn exact_moment(seconds: f64) -> String {
    let thousandths = (seconds.max(0.0) * 1_000.0).round() as u64;
    let (minutes, rest) = (thousandths / 60_000, thousandths % 60_000);
    let seconds = format!("{:02}.{:03}", rest / 1_000, rest % 1_000);
    match minutes / 60 {
        0 => format!("{minutes}:{seconds}"),
        hours => format!("{hours}:{:02}:{seconds}", minutes % 60),
    }
}

/// The unit of the level aimed at.
#[must_use]
pub fn target_unit(kind: TargetKind) -> &'static str {
    match kind {
        TargetKind::Loudness => "LUFS",
        TargetKind::Rms => "dBFS",
        TargetKind::Peak => "dBTP",
    }
}

/// The unit of a distance from the level aimed at.
#[must_use]
pub fn lift_unit(kind: TargetKind) -> &'static str {
    match kind {
        TargetKind::Loudness => "LU",
        TargetKind::Rms | TargetKind::Peak => "dB",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn differences_carry_a_sign_unless_they_round_to_zero() {
        let written = [7.6, -0.71, 0.004, -0.004, f64::NEG_INFINITY, f64::NAN]
            .map(|db| difference(Level::from_db(db)));
        assert_eq!(written, ["+7.60", "−0.71", "0.00", "0.00", "−∞", "–"]);
    }

    #[test]
    fn times_never_round_up_to_sixty_seconds() {
        let seconds = [0.5, 59.96, 179.97, 192.0, 21_600.0];
        let written = seconds.map(duration);
        let said = ["0.500 s", "1 min 00.0 s", "3 min 00.0 s", "3 min 12.0 s", "6 h 00 min 00 s"];
        assert_eq!(written, said);
        assert_eq!(moment(3_599.97), "1:00:00.0");
        assert_eq!(moment(7.31), "0:07.3");
        assert_eq!(exact_moment(3_599.999_7), "1:00:00.000");
    }

    #[test]
    fn shares_never_round_to_nothing_or_to_all() {
        let written = [0.0, 0.00004, 0.004, 0.621, 0.9999, 1.0].map(|s| share(Some(s)));
        assert_eq!(written, ["0 %", "< 0.01 %", "0.40 %", "62.1 %", "> 99.9 %", "100.0 %"]);
    }

    #[test]
    fn thousands_stand_apart() {
        assert_eq!(count(Some(999)), "999");
        assert_eq!(count(Some(1_204_000)), "1\u{202f}204\u{202f}000");
        assert_eq!(count(None), "–");
    }
}
