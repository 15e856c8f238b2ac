//! Moments on a clock.

/// A moment with so many decimals: `0:07`, `0:07.3`, `59:07.312`, `1:15:00.000`.
#[must_use]
pub fn moment(seconds: f64, decimals: u32) -> String {
    let unit = 10u64.pow(decimals);
    // Rounded first, so that no 60 seconds can come out.
    let units = (seconds.max(0.0) * unit as f64).round() as u64;
    let (minutes, rest) = (units / (60 * unit), units % (60 * unit));
    let fraction = match decimals {
        0 => String::new(),
        _ => format!(".{:0width$}", rest % unit, width = decimals as usize),
    };
    let seconds = format!("{:02}{fraction}", rest / unit);
    match minutes / 60 {
        0 => format!("{minutes}:{seconds}"),
        hours => format!("{hours}:{:02}:{seconds}", minutes % 60),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_appear_when_there_are_some_and_nothing_rounds_up_to_sixty() {
        assert_eq!(moment(7.31, 1), "0:07.3");
        assert_eq!(moment(3_599.97, 1), "1:00:00.0");
        assert_eq!(moment(3_599.999_7, 3), "1:00:00.000");
        assert_eq!(moment(4_500.0, 3), "1:15:00.000");
        assert_eq!(moment(192.4, 0), "3:12");
        assert_eq!(moment(-1.0, 2), "0:00.00");
    }
}
