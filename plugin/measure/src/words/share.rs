//! Shares of a whole.

use super::NONE;

/// A share with so many decimals, and one more where it is small: `62 %`, `0.4 %`, `< 0.1 %`,
/// `> 99 %`, `–`. Never rounded to nothing or to all.
#[must_use]
pub fn share(share: Option<f64>, decimals: usize) -> String {
    let Some(share) = share else { return NONE.into() };
    let last = 0.1f64.powi(decimals as i32 + 2);
    let (more, percent) = (decimals + 1, share * 100.0);
    if share <= 0.0 {
        "0 %".into()
    } else if share < last / 10.0 {
        format!("< {:.more$} %", last * 10.0)
    } else if share < 10.0 * last - last / 20.0 {
        format!("{percent:.more$} %")
    } else if share < 1.0 && share > 1.0 - last / 2.0 {
        format!("> {:.decimals$} %", 100.0 - 100.0 * last)
    } else {
        format!("{percent:.decimals$} %")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_never_round_to_nothing_or_to_all() {
        let shares = [0.0, 0.000_04, 0.004, 0.099, 0.621, 0.999_9, 1.0].map(Some);
        let coarse = ["0 %", "< 0.1 %", "0.4 %", "9.9 %", "62 %", "> 99 %", "100 %"];
        assert_eq!(shares.map(|of| share(of, 0)), coarse);
        let fine = ["0 %", "< 0.01 %", "0.40 %", "9.9 %", "62.1 %", "> 99.9 %", "100.0 %"];
        assert_eq!(shares.map(|of| share(of, 1)), fine);
        assert_eq!(share(None, 0), "–");
    }
}
