//! What happened to a signal of which only the sum is known: two sources in the middle of a bus.

use super::super::evidence::{Evidence, Fine, Kept, Kurtosis};
use super::comb::{self, Combs, CopyFound};
use super::halves;
use super::happened::Verdict;
use super::pair;
use super::ratio::{Likeness, Ratio};
use super::two::Two;
use super::what::What;
use crate::words;

/// Change of level up to which nothing changed, in dB.
const NOTHING_DB: f64 = 0.1;
/// How near a change has to lie to one that a law of addition makes, in dB.
const NEAR_DB: f64 = 0.25;
/// Sums of two equal sounds: identical ones above one, independent ones above one.
const TWICE_DB: f64 = 6.02;
const POWER_DB: f64 = 3.01;
/// Standard deviations by which two kurtoses differ that are not the same.
const DEVIATIONS: f64 = 4.0;
/// Least difference of kurtoses that counts, and the distance from 3 (Gaussian) from which on a
/// distribution tells one source from two.
const LEAST_KURTOSIS: f64 = 0.03;
const TELLING: f64 = 0.12;
/// What a kurtosis over half a second may lie off, against the variance of the powers of half seconds:
/// that is 2/N of N independent samples, and the kurtosis some 12/N too low.
const WANDERS: f64 = 10.0;
/// How far a kurtosis may lie from what was expected of it, against its distance from 3.
const EXPECTED_WITHIN: f64 = 0.1;
/// A level and its frequencies that moved further apart than this, in dB, and than chance, contradict each other.
const CONTRADICTS_DB: f64 = 0.5;
/// What two sounds that cancel leave, at most, in dB.
const LEFT_DB: f64 = -15.0;

/// The sum's spectrum; that of the bus in mono.
pub(super) fn kept(evidence: &Evidence) -> fn(&Fine) -> &Kept {
    if evidence.has_b { |fine| &fine.sum } else { |fine| &fine.bus }
}

/// What happened.
pub(super) fn judge(two: &Two) -> Verdict {
    let has_sum = two.before.has_b && two.after.has_b;
    let power = |energies: &super::super::evidence::MeanEnergies| {
        if has_sum { energies.halves.sum } else { energies.bus }
    };
    let whole_db = two.db(false, power);
    let kept = kept(two.after);
    let both = [two.before, two.after];
    if let Some(combs) = comb::find(both, kept) {
        return copy(two, kept, combs);
    }
    let ratio = Ratio::new(both, kept);
    let likeness = ratio.likeness();
    if likeness == Likeness::Apart {
        return not_flat(&ratio, whole_db);
    }
    let level_chance_db = 2.0 * two.chance_db(!has_sum, false);
    let (level_db, ratio_chance_db) =
        ratio.level_db(likeness).unwrap_or((whole_db, level_chance_db));
    let chance_db = ratio_chance_db.min(level_chance_db).max(NOTHING_DB);
    let shape = Shape::new(two, has_sum);
    if level_db.abs() <= chance_db && likeness == Likeness::Alike {
        let within_db = if has_sum { chance_db.max(pair::most_changed_db(two)) } else { chance_db };
        return unchanged(&shape, within_db, has_sum);
    }
    if level_db.abs() <= chance_db {
        // What is strongest stayed, and not all of the rest did.
        return not_flat(&ratio, whole_db);
    }
    let audible_db = two.db(true, power);
    let audible_chance_db = 2.0 * two.chance_db(!has_sum, true);
    if (audible_db - level_db).abs() > audible_chance_db.max(CONTRADICTS_DB) {
        let text = format!(
            "What happened cannot be told: the level changed by {} dB, and the frequencies that hold most of \
             it by {} dB.",
            words::signed(audible_db, 1),
            words::signed(level_db, 1)
        );
        return Verdict::sure(What::CannotTell, text);
    }
    if let Some(verdict) = halves::undecided(two, level_db).filter(|_| has_sum) {
        return verdict;
    }
    // Of three standard deviations, and of four.
    let error_db = f64::min(ratio_chance_db / 1.5, level_chance_db / 2.0);
    let verdict = flat([level_db, error_db], &shape);
    if likeness == Likeness::Alike { verdict } else { beside_another(verdict, level_db) }
}

/// What was found of frequencies that hold most of the level, where weaker ones moved less.
fn beside_another(mut verdict: Verdict, level_db: f64) -> Verdict {
    if verdict.what == What::Other {
        // The other sound has a part in the waveform, too.
        let rose = level_db > 0.0;
        let (moved, source, went) = if rose {
            ("rose", What::SourceAdded, "came")
        } else {
            ("fell", What::SourceRemoved, "went")
        };
        let text = format!(
            "The sum {moved} by {} where it is strongest, and what is weaker moved less: a gain beside \
             another sound that stays, a source that {went}, or a filter. The signal cannot tell them \
             apart.",
            words::distance(level_db)
        );
        return Verdict::sure(What::CannotTell, text).or([What::Gain, source, What::Filter]);
    }
    verdict.happened +=
        " What is weaker moved less: another sound stays beneath, or a filter was switched.";
    verdict.or([What::Filter])
}

/// How the distribution of the samples changed.
struct Shape {
    before: Kurtosis,
    after: Kurtosis,
    /// By how much a kurtosis may lie off because the level wanders: what is low and slow has few
    /// independent samples in half a second.
    wanders: f64,
}

impl Shape {
    fn new(two: &Two, has_sum: bool) -> Self {
        let signal = if has_sum { 2 } else { 0 };
        // The whole band's, in which a generator's distribution is as it was made.
        let of = |evidence: &Evidence| evidence.kurtosis[0][signal];
        let variance = |evidence: &Evidence| evidence.scatter.slow_variance(!has_sum);
        let wanders = WANDERS * variance(two.before).max(variance(two.after));
        Self { before: of(two.before), after: of(two.after), wanders }
    }

    /// Distances from a Gaussian distribution, before and after.
    fn excess(&self) -> [f64; 2] {
        [self.before.value - 3.0, self.after.value - 3.0]
    }

    fn is_same(&self) -> bool {
        (self.after.value - self.before.value).abs() <= self.tolerance()
    }

    /// By how much the two may differ and be the same.
    fn tolerance(&self) -> f64 {
        let deviation = self.before.deviation.hypot(self.after.deviation);
        self.wanders + LEAST_KURTOSIS.max(DEVIATIONS * deviation)
    }

    /// Whether one source can be told from two by it.
    fn tells(&self) -> bool {
        let deviation = self.before.deviation.max(self.after.deviation);
        self.largest_excess() >= self.wanders + TELLING.max(DEVIATIONS * deviation)
    }

    /// Whether they would not be the same had something left this factor of the excess, or undone that.
    fn would_show(&self, factor: f64) -> bool {
        self.tells() && self.largest_excess() * (1.0 - factor) > self.tolerance()
    }

    fn largest_excess(&self) -> f64 {
        let [before, after] = self.excess();
        before.abs().max(after.abs())
    }

    /// Whether the excess changed by about this factor.
    fn changed_by(&self, factor: f64) -> bool {
        let [before, after] = self.excess();
        let expected = before * factor;
        let deviation = self.after.deviation.hypot(factor * self.before.deviation);
        let within = EXPECTED_WITHIN * expected.abs().max(after.abs());
        (after - expected).abs() <= within.max(DEVIATIONS * deviation)
    }
}

fn unchanged(shape: &Shape, within_db: f64, has_sum: bool) -> Verdict {
    if shape.is_same() {
        let within = words::distance(within_db.max(NOTHING_DB));
        let text = if has_sum {
            format!("Neither the sum nor the level of either half changed by more than {within}.")
        } else {
            format!("Nothing changed by more than {within}.")
        };
        return Verdict::sure(What::None, text);
    }
    let text = "The level stayed, and so did the spectrum, but the waveform is another one: another \
                sound of the same level took its place, or something that works on peaks alone was \
                switched.";
    Verdict::sure(What::Other, text.into())
}

/// Whether a level with its error may be another one.
fn near([db, error_db]: [f64; 2], other_db: f64) -> bool {
    (db - other_db).abs() <= NEAR_DB.max(error_db)
}

/// Of two sources with powers 1 and r, each of one distribution, the excess is that of one times this.
fn of_two(r: f64) -> f64 {
    (1.0 + r * r) / ((1.0 + r) * (1.0 + r))
}

/// All frequencies moved alike, by a level in dB with its error, two standard deviations.
fn flat(level: [f64; 2], shape: &Shape) -> Verdict {
    let [level_db, _] = level;
    let rose = level_db > 0.0;
    let by = words::distance(level_db);
    let moved = if rose { "rose" } else { "fell" };
    let ratio = 10f64.powf(level_db.abs() / 10.0);
    let added = of_two(ratio - 1.0);
    if shape.tells() && !shape.is_same() {
        if rose && shape.changed_by(added) {
            let level = 10.0 * (ratio - 1.0).log10();
            let text = format!(
                "The sum {moved} by {by}: another source came, independent of the first, {}.",
                against(level, "as strong as the first", "the first")
            );
            return Verdict::sure(What::SourceAdded, text).by_right_summing();
        }
        if !rose && shape.changed_by(1.0 / added) {
            let level = 10.0 * (ratio - 1.0).log10();
            let text = format!(
                "The sum {moved} by {by}: one of two independent sources went, {}.",
                against(level, "as strong as the one that stays", "the one that stays")
            );
            return Verdict::sure(What::SourceRemoved, text).by_right_summing();
        }
        if near(level, -POWER_DB) && shape.changed_by(of_two(1.0)) {
            let text = format!(
                "The sum {moved} by {by}: two sources that were identical are independent now, so \
                 their powers add."
            );
            return Verdict::sure(What::Decorrelated, text).by_right_summing();
        }
        if near(level, POWER_DB) && shape.changed_by(1.0 / of_two(1.0)) {
            let text = format!(
                "The sum {moved} by {by}: two sources that were independent are identical now, so \
                 their amplitudes add."
            );
            return Verdict::sure(What::Identical, text).by_right_summing();
        }
        let text = format!(
            "The sum {moved} by {by} at all frequencies alike, and its waveform is another one: no \
             gain alone does that."
        );
        return Verdict::sure(What::Other, text);
    }
    same_shape(level, added, shape, [&by, moved])
}

/// A gain, or what looks like one. Another source would have left `added` of the excess, or undone that.
fn same_shape(level: [f64; 2], added: f64, shape: &Shape, [by, moved]: [&str; 2]) -> Verdict {
    let [level_db, error_db] = level;
    let gain = words::with_error(level_db, error_db);
    let mut others: Vec<(What, String)> = Vec::new();
    if near(level, TWICE_DB) {
        others.push((What::Identical, "the same source came a second time".into()));
    }
    if near(level, -TWICE_DB) {
        others.push((What::SourceRemoved, "one of two identical sources went".into()));
    }
    // A Gaussian sound stays one, however many of them are added.
    if !shape.would_show(of_two(1.0)) {
        let within = level_db.abs() <= POWER_DB + NEAR_DB.max(error_db);
        if within && level_db > 0.0 {
            others.push((What::Identical, "two independent sources became identical".into()));
        }
        if within && level_db < 0.0 {
            others.push((What::Decorrelated, "two identical sources became independent".into()));
        }
    }
    if !shape.would_show(added) {
        if level_db > 0.0 {
            others.push((What::SourceAdded, "a source like it came".into()));
        } else if !near(level, -TWICE_DB) {
            others.push((What::SourceRemoved, "a source like it went".into()));
        }
    }
    if level_db <= LEFT_DB {
        let error_db = -20.0 * (1.0 - 10f64.powf(level_db / 20.0)).log10();
        let text = format!(
            "two equal sources cancel each other and differ by {}, which leaves this much",
            difference(error_db)
        );
        others.push((What::Null, text));
    }
    if others.is_empty() {
        let text = format!(
            "A gain of {gain} dB: the sum {moved} by {by} at all frequencies alike, and its waveform kept \
             its shape."
        );
        return Verdict::sure(What::Gain, text);
    }
    let mut explanations = vec![format!("a gain of {gain} dB")];
    explanations.extend(others.iter().map(|(_, text)| text.clone()));
    let last = explanations.pop().unwrap_or_default();
    let text = format!(
        "The sum {moved} by {by} at all frequencies alike: {} or {last}. The signal cannot tell them \
         apart.",
        explanations.join(", ")
    );
    let mut or: Vec<What> = Vec::new();
    for (what, _) in others {
        if !or.contains(&what) {
            or.push(what);
        }
    }
    Verdict::sure(What::Gain, text).or(or)
}

/// Small differences of level need more digits.
fn difference(db: f64) -> String {
    let decimals = if db < 0.1 { 3 } else { 2 };
    format!("{} dB", words::fixed(db, decimals))
}

/// A level against another.
fn against(db: f64, equal: &str, other: &str) -> String {
    if db.abs() < 0.5 {
        equal.into()
    } else {
        let way = if db > 0.0 { "above" } else { "below" };
        format!("{} {way} {other}", words::distance(db))
    }
}

/// Frequencies moved differently.
fn not_flat(ratio: &Ratio, whole_db: f64) -> Verdict {
    let Some((low_hz, high_hz, db)) = ratio.furthest() else {
        let text = "The spectrum changed, and not enough of it is known to say how.";
        return Verdict::sure(What::CannotTell, text.into());
    };
    let (up, down) = (ratio.moves(true), ratio.moves(false));
    let place = if (low_hz - high_hz).abs() < 1.0 {
        format!("around {}", words::frequency(round(low_hz)))
    } else {
        format!(
            "between {} and {}",
            words::frequency(round(low_hz)),
            words::frequency(round(high_hz))
        )
    };
    let what_moved = format!("{place} the level changed by up to {} dB", words::signed(db, 1));
    let slope = slope_db(ratio);
    if whole_db <= LEFT_DB && !up && slope.is_some_and(|db| (4.0..8.0).contains(&db)) {
        let text = format!(
            "The sum fell by {}, the less the higher the frequency: two sounds of opposite polarity \
             cancel each other, one slightly later than the other. A filter could do the same.",
            words::distance(whole_db)
        );
        return Verdict::sure(What::Null, text).or([What::Filter]).by_right_summing();
    }
    match (up, down) {
        (true, false) => Verdict::sure(
            What::Filter,
            format!(
                "Not all frequencies moved alike: {what_moved}. A filter raised them, or a sound came \
                 that lies there."
            ),
        )
        .or([What::SourceAdded]),
        (false, true) => Verdict::sure(
            What::Filter,
            format!(
                "Not all frequencies moved alike: {what_moved}. A filter lowered them, or a sound went \
                 that lay there."
            ),
        )
        .or([What::SourceRemoved]),
        _ => Verdict::sure(
            What::Filter,
            format!(
                "Not all frequencies moved alike, and some rose while others fell: {what_moved}. A \
                 filter did that, or another sound took the place of the first."
            ),
        )
        .or([What::Other]),
    }
}

/// By how many dB an octave the ratio rises.
fn slope_db(ratio: &Ratio) -> Option<f64> {
    let bands: Vec<(f64, f64)> = ratio.main().map(|third| (third.hz.log2(), third.db)).collect();
    if bands.len() < 6 {
        return None;
    }
    let count = bands.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| bands.iter().map(of).sum::<f64>() / count;
    let (x, y) = (mean(|band| band.0), mean(|band| band.1));
    let product: f64 = bands.iter().map(|band| (band.0 - x) * (band.1 - y)).sum();
    let square: f64 = bands.iter().map(|band| (band.0 - x) * (band.0 - x)).sum();
    Some(product / square)
}

/// A frequency to two digits.
fn round(hz: f64) -> f64 {
    let step = 10f64.powf(hz.log10().floor() - 1.0);
    (hz / step).round() * step
}

/// A copy came, went, or moved.
fn copy(two: &Two, kept: fn(&Fine) -> &Kept, combs: Combs) -> Verdict {
    let ratio = Ratio::new([two.before, two.after], kept);
    match combs {
        Combs { before: Some(earlier), after: Some(copy) } => {
            let text = format!(
                "The copy that came {} late comes {} late now{}.",
                late(&earlier),
                late(&copy),
                strength(&copy)
            );
            Verdict::sure(What::Copy, text).with_copy(copy).by_right_summing()
        }
        Combs { before: None, after: Some(copy) } => came(&ratio, copy),
        Combs { before: Some(copy), after: None } => went(&ratio, copy),
        Combs { before: None, after: None } => {
            let text = "The spectrum changed in a way that is not clear.";
            Verdict::sure(What::Other, text.into())
        }
    }
}

fn late(copy: &CopyFound) -> String {
    words::duration(copy.delay_ms / 1e3)
}

fn strength(copy: &CopyFound) -> String {
    let polarity = if copy.inverted { ", inverted" } else { "" };
    if copy.level_db > -0.75 {
        polarity.into()
    } else {
        format!(", {} weaker{polarity}", words::distance(copy.level_db))
    }
}

/// By how much a copy may look weaker that is as strong as the sound, in dB.
const EQUAL_WITHIN_DB: f64 = 0.6;
/// How far the products of amplitudes may lie apart that the comb and the levels tell.
const PRODUCT_WITHIN: f64 = 0.03;

/// What a copy replaced, or was replaced by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Beside {
    /// The same copy in time.
    InTime,
    /// Nothing: the sound was alone.
    Alone,
    /// An independent sound as strong as the copy.
    Independent,
}

/// Which of these fits the change of level with which a copy came, in dB, and the amplitude of the copy
/// that the level tells then: more exactly than a comb does whose teeth go down to nothing.
fn beside(copy: &CopyFound, change_db: f64) -> Option<(Beside, f64)> {
    let ratio = 10f64.powf(change_db / 10.0);
    let product = |g: f64| g / (1.0 + g * g);
    let told = product(10f64.powf(copy.level_db / 20.0));
    // Of amplitudes 1 and g: alone 1, late 1 + g², in time 1 + 2g + g².
    let in_time = ((1.0 / ratio - 1.0) / 2.0).min(0.5);
    let alone = (ratio - 1.0).max(0.0).sqrt().min(1.0);
    if change_db.abs() < NEAR_DB && told > PRODUCT_WITHIN {
        return Some((Beside::Independent, 10f64.powf(copy.level_db / 20.0)));
    }
    if in_time > 0.0 && (in_time - told).abs() <= PRODUCT_WITHIN {
        let amplitude = (1.0 - (1.0 - 4.0 * in_time * in_time).max(0.0).sqrt()) / (2.0 * in_time);
        return Some((Beside::InTime, amplitude));
    }
    (alone > 0.0 && (product(alone) - told).abs() <= PRODUCT_WITHIN)
        .then_some((Beside::Alone, alone))
}

/// The change where the comb's teeth are narrow against a third octave.
fn beyond_the_first_teeth(ratio: &Ratio, copy: &CopyFound) -> Option<f64> {
    ratio.main_db(5.0 / (copy.delay_ms / 1e3))
}

/// A change of the sum, as a sentence begins.
fn sum_moved(db: f64) -> String {
    let moved = if db > 0.0 { "rose" } else { "fell" };
    if db.abs() < NEAR_DB {
        "The sum stayed".into()
    } else {
        format!("The sum {moved} by {}", words::distance(db))
    }
}

fn came(ratio: &Ratio, mut copy: CopyFound) -> Verdict {
    let change = beyond_the_first_teeth(ratio, &copy);
    let level = change.map_or_else(|| "The spectrum is a comb".into(), sum_moved);
    let found = change.and_then(|db| beside(&copy, db));
    let delay = late(&copy);
    let Some((beside, amplitude)) = found else {
        let text = format!(
            "{level}, and among what changed is a copy of the sound that comes {delay} late; the levels \
             do not fit that alone."
        );
        return Verdict::sure(What::Other, text).or([What::Copy]);
    };
    // Beside the sound alone a level says it well. Beside the same in time it says next to nothing, and
    // a comb whose teeth go down to nothing looks much the same a little below that.
    if beside == Beside::Alone {
        copy.level_db = 20.0 * amplitude.log10();
    } else if copy.level_db > -EQUAL_WITHIN_DB {
        copy.level_db = 0.0;
    }
    let strength = strength(&copy);
    let text = match beside {
        Beside::InTime => format!(
            "{level}: of two sources that were identical one now comes {delay} late{strength}, so the \
             two add like independent ones."
        ),
        Beside::Alone => format!(
            "{level}: a copy of the sound came, {delay} late{strength}; the two add like independent \
             ones."
        ),
        Beside::Independent => format!(
            "{level}: where there were independent sources, one is now a copy of the other, {delay} \
             late{strength}."
        ),
    };
    Verdict::sure(What::Copy, text).with_copy(copy).by_right_summing()
}

fn went(ratio: &Ratio, copy: CopyFound) -> Verdict {
    let change = beyond_the_first_teeth(ratio, &copy);
    let delay = late(&copy);
    let found = change.and_then(|db| Some((beside(&copy, -db)?.0, sum_moved(db))));
    match found {
        Some((Beside::InTime, level)) => Verdict::sure(
            What::Identical,
            format!(
                "{level}: the copy that came {delay} late is in time now, so the two add like identical \
                 ones."
            ),
        )
        .by_right_summing(),
        Some((Beside::Alone, level)) => Verdict::sure(
            What::SourceRemoved,
            format!("{level}: the copy that came {delay} late is gone, and the sound is alone."),
        )
        .by_right_summing(),
        Some((Beside::Independent, level)) => Verdict::sure(
            What::Other,
            format!(
                "{level}: the copy that came {delay} late is gone, and an independent sound of the same \
                 level is there instead."
            ),
        ),
        None => Verdict::sure(
            What::Other,
            format!("The copy that came {delay} late is gone, and more changed than that."),
        ),
    }
}
