//! What happened to two halves, where they are not one signal: sources hard left and right, or main and
//! side-chain.

use super::super::evidence::{Evidence, Kurtosis};
use super::super::stretch::Stretch;
use super::balance;
use super::comb::{self, CopyFound};
use super::happened::Verdict;
use super::pair::{
    DEVIATIONS, HALVES, MOVED_DB, Pair, SILENT, WHOLLY, are_one_sound, chances_db, changes_db,
    level_chances_db, told,
};
use super::ratio::Ratio;
use super::two::Two;
use super::what::What;
use crate::settings::Halves;
use crate::words;

/// Correlations of what is one signal, and of what is not.
const IDENTICAL: f64 = 0.98;
const INDEPENDENT: f64 = 0.05;
/// What chance makes of a correlation where it makes a decibel of a half's level: of N independent samples,
/// a level lies off by 6.14/√N dB and a correlation by 1/√N.
const CORRELATION_A_DB: f64 = 1.0 / 6.14;
/// A correlation that no programme takes on by itself.
const PLAINLY: f64 = 0.95;

/// What happened to the halves, where they tell it.
pub(super) fn judge(two: &Two, before: &Stretch) -> Option<Verdict> {
    if !two.before.has_b || !two.after.has_b {
        return None;
    }
    let pairs = [Pair::new(two.before), Pair::new(two.after)];
    let [from, to] = pairs;
    let names = match before.reading.halves {
        Halves::MainSidechain => ["main", "side-chain"],
        _ => ["left", "right"],
    };
    if are_one_sound(pairs) {
        return balance::judge(two, pairs, names);
    }
    let one_half = |half: usize| from.silent()[half] != to.silent()[half];
    match [one_half(0), one_half(1)] {
        [true, true] => Some(Verdict::sure(
            What::Other,
            format!(
                "The sound moved from one half to the other: from {} to {}.",
                names[usize::from(from.silent()[0])],
                names[usize::from(to.silent()[0])]
            ),
        )),
        [true, false] => Some(appeared(two, pairs, 0, names)),
        [false, true] => Some(appeared(two, pairs, 1, names)),
        [false, false] if from.silent() != [false, false] => None,
        [false, false] if two.steady && keep_levels(two) => both(two, pairs, names),
        [false, false] => plainly(pairs),
    }
}

/// One half came or went.
fn appeared(two: &Two, [from, to]: [Pair; 2], half: usize, names: [&str; 2]) -> Verdict {
    let (here, other) = (names[half], names[1 - half]);
    if to.silent()[half] {
        let text = format!("The {here} half fell silent; the {other} half goes on.");
        return Verdict::sure(What::SourceRemoved, text).by_right_summing();
    }
    let sum_db = 10.0 * (to.sum / from.sum).log10();
    let by = words::signed(sum_db, 1);
    if let Some(copy) = copy_in_sum(two, &to) {
        let text = format!(
            "A copy of the {other} half came on the {here} half, {} late; the two add like independent \
             ones ({by} dB).",
            words::duration(copy.delay_ms / 1e3)
        );
        return Verdict::sure(What::Copy, text).with_copy(copy).by_right_summing();
    }
    let (what, text) = match to.correlation {
        r if r >= IDENTICAL => (
            What::Identical,
            format!("The same sound as on the {other} half came on the {here} half"),
        ),
        r if r <= -IDENTICAL => (
            What::Inverted,
            format!("The same sound as on the {other} half came on the {here} half, inverted"),
        ),
        r if r.abs() <= INDEPENDENT => (
            What::SourceAdded,
            format!("A sound that is independent of the {other} half came on the {here} half"),
        ),
        r => (
            What::SourceAdded,
            format!(
                "A sound came on the {here} half that is partly that of the {other} half \
                 (correlation {})",
                words::signed(r, 2)
            ),
        ),
    };
    let sum = if sum_db > -60.0 { format!("{by} dB") } else { "silence".into() };
    Verdict::sure(what, format!("{text}; the sum changed by {sum}.")).by_right_summing()
}

/// A copy whose level the halves tell.
fn copy_in_sum(two: &Two, to: &Pair) -> Option<CopyFound> {
    let combs = comb::find([two.before, two.after], |fine| &fine.sum)?;
    let copy = combs.after?;
    let level_db = -(10.0 * (to.a / to.b).log10()).abs();
    Some(CopyFound { level_db, ..copy })
}

/// Whether each half keeps its level in either entry, as the bus may though a half does not.
fn keep_levels(two: &Two) -> bool {
    [two.before, two.after]
        .iter()
        .all(|evidence| HALVES.iter().all(|half| evidence.scatter.is_steady(*half)))
}

/// Both halves sound before and after, and steadily.
fn both(two: &Two, [from, to]: [Pair; 2], names: [&str; 2]) -> Option<Verdict> {
    let deviations_db = [two.before, two.after].map(Evidence::halves_deviation_db);
    let chances_db = level_chances_db(deviations_db);
    let changes = changes_db([from, to]);
    let moved = HALVES.map(|half| changes[half].abs() > chances_db[half]);
    let sum_db = 10.0 * (to.sum / from.sum).log10();
    let chances = deviations_db.map(correlation_chance);
    let related =
        (to.correlation - from.correlation).abs() > INDEPENDENT.max(chances[0].hypot(chances[1]));
    let was = was(from.correlation, chances[0]);
    let told = told(changes, chances_db);
    match moved {
        [false, false] => relation(two, [from, to], &was, sum_db, related),
        [true, true] if related => Some(both_moved([from, to], &was, told, sum_db)),
        [true, true] if are_alike(changes, chances_db) => None,
        [true, true] => {
            let [a, b] = told;
            let text = format!(
                "The {} half changed by {a} dB, the {} half by {b} dB.",
                names[0], names[1]
            );
            Some(Verdict::sure(What::Gain, text).or([What::Other]))
        }
        [true, false] | [false, true] => {
            let half = usize::from(moved[1]);
            let related = related.then_some([from, to]);
            Some(one_moved(two, half, changes, &told[half], related, names))
        }
    }
}

/// Where the halves are two signals that do not each keep their level: that a change of their sum may be one
/// of both or of one, unless both moved alike and by more than chance.
pub(super) fn undecided(two: &Two, sum_db: f64) -> Option<Verdict> {
    let [from, to] = [Pair::new(two.before), Pair::new(two.after)];
    let sounds = from.silent() == [false, false] && to.silent() == [false, false];
    if are_one_sound([from, to]) || !sounds || keep_levels(two) {
        return None;
    }
    let (changes, chances_db) = (changes_db([from, to]), chances_db(two));
    let both_moved = HALVES.iter().all(|&half| changes[half].abs() > chances_db[half]);
    if both_moved && are_alike(changes, chances_db) {
        return None;
    }
    let text = format!(
        "What happened cannot be told: the sum {} by {}, and the halves move too much by themselves to say \
         whether both did or one of them. Longer stretches tell more.",
        if sum_db > 0.0 { "rose" } else { "fell" },
        words::distance(sum_db)
    );
    Some(Verdict::sure(What::CannotTell, text).or([What::Gain]))
}

/// Whether two changes differ by no more than chance makes them.
fn are_alike(changes_db: [f64; 2], chances_db: [f64; 2]) -> bool {
    (changes_db[0] - changes_db[1]).abs() <= chances_db[0].hypot(chances_db[1])
}

/// Up to which magnitude chance may have made a correlation, from the deviations of both halves' levels.
fn correlation_chance(deviations_db: [f64; 2]) -> f64 {
    CORRELATION_A_DB * DEVIATIONS * deviations_db[0].max(deviations_db[1])
}

/// One half changed by more than chance, and how they relate as well, where that is given.
fn one_moved(
    two: &Two,
    half: usize,
    changes_db: [f64; 2],
    by: &str,
    related: Option<[Pair; 2]>,
    names: [&str; 2],
) -> Verdict {
    let here = names[half];
    let change_db = changes_db[half];
    // Less than chance may make is not told; nor that nothing happened, where it may have.
    let other = match changes_db[1 - half].abs() {
        db if db <= MOVED_DB => format!("the {} half stayed", names[1 - half]),
        _ => format!("the {} half by no more than chance may make", names[1 - half]),
    };
    let source = if change_db > 0.0 { What::SourceAdded } else { What::SourceRemoved };
    if let Some([from, to]) = related {
        let text = format!(
            "The {here} half changed by {by} dB, {other}, and their correlation went from {} to {}: no \
             gain alone does that.",
            words::signed(from.correlation, 2),
            words::signed(to.correlation, 2)
        );
        return Verdict::sure(What::Other, text).or([source, What::Filter]);
    }
    // A gain of one half moves no frequency of both by more.
    if !Ratio::new([two.before, two.after], |fine| &fine.bus).is_within(change_db) {
        let text =
            format!("The {here} half changed by {by} dB, not all frequencies alike, and {other}.");
        return Verdict::sure(What::Filter, text).or([source]);
    }
    if has_another_shape(two, half) {
        let text = format!(
            "The {here} half changed by {by} dB, and {other}. The waveform of the former is another \
             one: no gain alone does that."
        );
        return Verdict::sure(What::Other, text).or([source]);
    }
    let text = format!("The {here} half changed by {by} dB, and {other}.");
    let verdict = Verdict::sure(What::Gain, text);
    if is_gaussian(two, half) { verdict.or([source]) } else { verdict }
}

/// Both halves changed, by so much, and how they relate as well.
fn both_moved([from, to]: [Pair; 2], was: &str, [a, b]: [String; 2], sum_db: f64) -> Verdict {
    let (what, now) = match to.correlation {
        r if r >= IDENTICAL => (What::Identical, format!("{was} are identical now")),
        r if r <= -IDENTICAL => (What::Inverted, format!("{was} cancel each other now")),
        r if r.abs() <= INDEPENDENT => (What::Decorrelated, format!("{was} are independent now")),
        r => (What::Other, format!("{was} have a correlation of {} now", words::signed(r, 2))),
    };
    let sum = to_or_from_nothing([from, to])
        .map_or_else(|| format!("changed by {} dB", words::signed(sum_db, 1)), str::to_owned);
    let text = format!("The two halves {now}, and changed by {a} and {b} dB; the sum {sum}.");
    Verdict::sure(what, text).by_right_summing()
}

/// Whether the distribution of a half's samples is another one.
fn has_another_shape(two: &Two, half: usize) -> bool {
    let [one, other] = [two.before, two.after].map(|evidence| evidence.kurtosis[0][half]);
    (one.value - other.value).abs() > 4.0 * one.deviation.hypot(other.deviation).max(0.01)
}

fn is_gaussian(two: &Two, half: usize) -> bool {
    let Kurtosis { value, deviation } = two.before.kurtosis[0][half];
    (value - 3.0).abs() < 0.12f64.max(4.0 * deviation)
}

/// Neither half changed by more than chance; how they relate may have.
fn relation(
    two: &Two,
    [from, to]: [Pair; 2],
    was: &str,
    sum_db: f64,
    related: bool,
) -> Option<Verdict> {
    let moved = if sum_db > 0.0 { "rose" } else { "fell" };
    let level = match to_or_from_nothing([from, to]) {
        Some(moved) => format!("The sum {moved}"),
        None => format!("The sum {moved} by {}", words::distance(sum_db)),
    };
    let stayed = [to.a / from.a, to.b / from.b].iter().all(|r| 10.0 * r.log10().abs() <= MOVED_DB);
    let (before, after) = (from.correlation, to.correlation);
    let verdict = match (before, after) {
        (r, _) if !related && r.abs() > INDEPENDENT => return None,
        (_, s) if s.abs() < IDENTICAL && let Some(copy) = copy_in_sum(two, &to) => Verdict::sure(
            What::Copy,
            format!(
                "{}: one of the two halves {was} now comes {} late, so the two add like independent \
                 ones where the delay is long against a cycle.",
                if sum_db.abs() < 0.2 { "The sum stayed".into() } else { level },
                words::duration(copy.delay_ms / 1e3)
            ),
        )
        .with_copy(copy),
        _ if !related => return None,
        (_, s) if s >= IDENTICAL => Verdict::sure(
            What::Identical,
            format!("{level}: the two halves {was} are identical now, so their amplitudes add."),
        ),
        (_, s) if s <= -IDENTICAL => Verdict::sure(
            What::Inverted,
            format!(
                "{level}: one of the two halves {was} was inverted, so they cancel each other{}.",
                left(&to)
            ),
        ),
        (_, s) if s.abs() <= INDEPENDENT => Verdict::sure(
            What::Decorrelated,
            format!("{level}: the two halves {was} are independent now, so their powers add."),
        ),
        (_, s) => Verdict::sure(
            What::Other,
            format!(
                "{level}: the halves {}, and their correlation went from {} to {}.",
                if stayed { "kept their levels" } else { "moved by no more than chance may make" },
                words::signed(before, 2),
                words::signed(s, 2)
            ),
        ),
    };
    Some(verdict.by_right_summing())
}

/// Where the halves cancel, or did before: what the sum did.
fn to_or_from_nothing([from, to]: [Pair; 2]) -> Option<&'static str> {
    let cancel = |pair: Pair| pair.sum <= SILENT * (pair.a + pair.b);
    if cancel(to) {
        Some("fell to nothing")
    } else if cancel(from) {
        Some("came back from nothing")
    } else {
        None
    }
}

/// What halves of a correlation were, of which chance may have made so much.
fn was(correlation: f64, chance: f64) -> String {
    match correlation {
        r if r >= IDENTICAL => "that were identical".into(),
        r if r <= -IDENTICAL => "that cancelled each other".into(),
        r if r.abs() <= INDEPENDENT => "that were independent".into(),
        // Independent sounds have as much by chance.
        r if r.abs() <= chance => format!("that had a correlation of {}", words::signed(r, 2)),
        _ => "that were partly alike".into(),
    }
}

/// What is left of two halves that cancel, and why.
fn left(pair: &Pair) -> String {
    let depth_db = 10.0 * (pair.sum / pair.a.max(pair.b)).log10();
    if depth_db < -100.0 {
        return ", wholly".into();
    }
    let gain_db = (10.0 * (pair.a / pair.b).log10()).abs();
    let by_gain = 20.0 * (1.0 - 10f64.powf(-gain_db / 20.0)).abs().max(1e-9).log10();
    let depth = words::fixed(depth_db, 1);
    if (by_gain - depth_db).abs() < 1.0 {
        let decimals = if gain_db < 0.1 { 3 } else { 2 };
        format!(
            ", but for {depth} dB against one of them: they differ by {} dB",
            words::fixed(gain_db, decimals)
        )
    } else {
        format!(
            ", but for {depth} dB against one of them, which is not their difference of level alone"
        )
    }
}

/// What not even sound that moves by itself does by itself.
fn plainly([from, to]: [Pair; 2]) -> Option<Verdict> {
    let (before, after) = (from.correlation, to.correlation);
    if before >= PLAINLY && after <= -PLAINLY {
        let text =
            "One of the two halves was inverted: they were alike, and now they cancel each other.";
        return Some(Verdict::sure(What::Inverted, text.into()));
    }
    if before <= -PLAINLY && after >= PLAINLY {
        let text = "One of the two halves was inverted: they cancelled each other, and now they are \
                    alike.";
        return Some(Verdict::sure(What::Identical, text.into()));
    }
    if before < PLAINLY && after >= WHOLLY {
        let text = "Both halves are one and the same signal now: the bus became mono.";
        return Some(Verdict::sure(What::Identical, text.into()));
    }
    None
}
