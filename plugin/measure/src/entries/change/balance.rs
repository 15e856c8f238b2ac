//! What happened between two halves that are one signal before and after: a balance or pan control, or a gain
//! of one of them.
//!
//! Of one signal, how strong one half is against the other hangs on nothing else, however the sound moves: so
//! this is told of any sound, and exactly.

use super::happened::Verdict;
use super::pair::{Pair, chances_db, changes_db, told};
use super::two::Two;
use super::what::What;
use crate::words;

/// Change against each other up to which nothing changed, in dB.
const NOTHING_DB: f64 = 0.1;

/// What happened, if they moved against each other.
pub(super) fn judge(two: &Two, pairs: [Pair; 2], names: [&str; 2]) -> Option<Verdict> {
    let wholly = pairs.iter().all(Pair::is_wholly_one);
    let changes = changes_db(pairs);
    let against_db = changes[1] - changes[0];
    let chances_db = chances_db(two);
    let least_db = chance_db(chances_db, pairs).max(NOTHING_DB);
    if against_db.abs() <= least_db || !(wholly || two.steady) {
        return None;
    }
    let [first, second] = names;
    // Of sound that moves by itself, only what the halves are to each other says anything.
    let levels = if two.steady {
        let [of_first, of_second] = told(changes, chances_db);
        format!(
            " By themselves, the {first} half changed by {of_first} dB, the {second} half by {of_second} dB."
        )
    } else {
        String::new()
    };
    let moved = format!(
        "The {second} half changed by {} dB against the {first} one, whose sound it",
        words::signed(against_db, 1)
    );
    Some(if wholly {
        let text = format!(
            "{moved} has as before: a gain of one of them, or a balance or pan control.{levels}"
        );
        Verdict::sure(What::Gain, text)
    } else {
        let text = format!("{moved} nearly has as before.{levels}");
        Verdict::sure(What::Other, text).or([What::Gain, What::Filter])
    })
}

/// How far chance moves the halves against each other, in dB. Levels of two sounds of correlation r differ by
/// √(2·(1 − r²)) times what one of them scatters by.
fn chance_db([of_a, of_b]: [f64; 2], pairs: [Pair; 2]) -> f64 {
    let least = pairs[0].correlation.min(pairs[1].correlation);
    of_a.max(of_b) * (2.0 * (1.0 - least * least)).max(0.0).sqrt()
}
