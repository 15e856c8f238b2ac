//! Moments of coordinated universal time, read from records (RFC 3339) and written for readers. The
//! calendar is the proleptic Gregorian one; leap seconds do not exist in it.

const DAY_S: i64 = 86_400;
/// Days of a cycle of 400 years, after which the calendar repeats.
const CYCLE_DAYS: i64 = 146_097;
/// Days from the first of March of year 0 to the first of January 1970.
const EPOCH_DAYS: i64 = 719_468;

/// A moment.
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
pub struct Utc {
    /// Seconds since 1970-01-01T00:00:00Z.
    pub unix_s: f64,
}

impl Utc {
    /// A moment as records have it: `2023-11-14T22:13:20.125Z`, or with an offset in place of the Z.
    /// None where the text is none.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let number = |range: std::ops::Range<usize>| -> Option<i64> {
            let digits = text.get(range)?;
            digits.bytes().all(|b| b.is_ascii_digit()).then(|| digits.parse().ok())?
        };
        let signs = [(4, "-"), (7, "-"), (10, "T"), (13, ":"), (16, ":")];
        if signs.iter().any(|&(at, sign)| text.get(at..at + 1) != Some(sign)) {
            return None;
        }
        let (year, month, day) = (number(0..4)?, number(5..7)?, number(8..10)?);
        let (hour, minute, second) = (number(11..13)?, number(14..16)?, number(17..19)?);
        let is_date = (1..=12).contains(&month) && (1..=31).contains(&day);
        if !is_date || hour > 23 || minute > 59 || second > 60 {
            return None;
        }
        let rest = text.get(19..)?;
        let zone = rest.find(['Z', '+', '-'])?;
        let fraction: f64 = match &rest[..zone] {
            "" => 0.0,
            decimals => {
                let digits = decimals.strip_prefix('.')?;
                let all = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
                all.then(|| decimals.parse().ok())??
            }
        };
        let offset_s = match &rest[zone..] {
            "Z" => 0,
            offset if offset.len() == 6 && offset.get(3..4) == Some(":") => {
                let at = 19 + zone;
                let minutes = 60 * number(at + 1..at + 3)? + number(at + 4..at + 6)?;
                if offset.starts_with('-') { -60 * minutes } else { 60 * minutes }
            }
            _ => return None,
        };
        let seconds = days_before(year, month, day) * DAY_S + hour * 3600 + minute * 60 + second;
        Some(Self { unix_s: (seconds - offset_s) as f64 + fraction })
    }

    /// Now, by the machine's clock.
    #[must_use]
    pub fn now() -> Self {
        let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
        Self { unix_s: since.map_or(0.0, |since| since.as_secs_f64()) }
    }

    /// So many seconds later.
    #[must_use]
    pub fn plus(self, seconds: f64) -> Self {
        Self { unix_s: self.unix_s + seconds }
    }

    /// Seconds from another moment to this one.
    #[must_use]
    pub fn since(self, other: Self) -> f64 {
        self.unix_s - other.unix_s
    }

    /// As records have it, to a millisecond: `2023-11-14T22:13:20.125Z`.
    #[must_use]
    pub fn record(self) -> String {
        let millis = (self.unix_s * 1e3).round() as i64;
        let whole = Self { unix_s: millis.div_euclid(1000) as f64 };
        format!("{}T{}.{:03}Z", whole.date(), whole.clock(), millis.rem_euclid(1000))
    }

    /// The date: `2023-11-14`.
    #[must_use]
    pub fn date(self) -> String {
        let (year, month, day) = date_of(self.whole_s().div_euclid(DAY_S));
        format!("{year:04}-{month:02}-{day:02}")
    }

    /// The time of day to a second: `22:13:20`.
    #[must_use]
    pub fn clock(self) -> String {
        let second = self.whole_s().rem_euclid(DAY_S);
        format!("{:02}:{:02}:{:02}", second / 3600, second / 60 % 60, second % 60)
    }

    /// The time of day, after the date where a session from one moment to another has several.
    #[must_use]
    pub fn between(self, from: Self, to: Self) -> String {
        let (date, clock) = (self.date(), self.clock());
        if from.date() == to.date() { clock } else { format!("{date} {clock}") }
    }

    fn whole_s(self) -> i64 {
        self.unix_s.floor() as i64
    }
}

/// Days from 1970-01-01 to a date. Years are counted from March, so that a leap day ends them.
fn days_before(year: i64, month: i64, day: i64) -> i64 {
    let year = if month <= 2 { year - 1 } else { year };
    let (cycle, of_cycle) = (year.div_euclid(400), year.rem_euclid(400));
    let day_of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    let days = of_cycle * 365 + of_cycle / 4 - of_cycle / 100 + day_of_year;
    cycle * CYCLE_DAYS + days - EPOCH_DAYS
}

/// Year, month and day, so many days after 1970-01-01.
fn date_of(days: i64) -> (i64, i64, i64) {
    let days = days + EPOCH_DAYS;
    let (cycle, days) = (days.div_euclid(CYCLE_DAYS), days.rem_euclid(CYCLE_DAYS));
    let year = (days - days / 1460 + days / 36_524 - days / (CYCLE_DAYS - 1)) / 365;
    let day_of_year = days - (365 * year + year / 4 - year / 100);
    let from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * from_march + 2) / 5 + 1;
    let month = (from_march + 2) % 12 + 1;
    let year = cycle * 400 + year + i64::from(month <= 2);
    (year, month, day)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_read_is_written_the_same() {
        // The first two from the definitions of both calendars, the others around leap days.
        let moments = [
            ("1970-01-01T00:00:00.000Z", 0.0),
            ("2023-11-14T22:13:20.000Z", 1_700_000_000.0),
            ("2000-02-29T23:59:59.999Z", 951_868_799.999),
            ("1900-03-01T00:00:00.000Z", -2_203_891_200.0),
            ("2024-12-31T12:00:00.250Z", 1_735_646_400.25),
        ];
        for (text, unix_s) in moments {
            let moment = Utc::parse(text).expect(text);
            assert!((moment.unix_s - unix_s).abs() < 1e-6, "{text}: {}", moment.unix_s);
            assert_eq!(moment.record(), text);
        }
        let parse = |text| Utc::parse(text).map(Utc::record);
        let offset = parse("2023-11-15T00:13:20+02:00");
        assert_eq!(offset.as_deref(), Some("2023-11-14T22:13:20.000Z"));
        for wrong in ["", "yesterday", "2023-11-14", "2023-13-14T22:13:20Z", "2023-11-14T22:13:20"]
        {
            assert_eq!(parse(wrong), None, "{wrong}");
        }
        assert_eq!(parse("2023-11-14T22:13:20.é+00:00"), None);
    }
}
