//! The rule of step 4: opposite polarities that do not cancel, in all or in some bands.

use super::{Evidence, Fault, FaultCode, fault};
use crate::sum_test::grade::Limits;
use crate::sum_test::path::{Cancelled, Null, Unlike};
use crate::words::{frequency, signed};

/// A null may be this much shallower than the fitted gains and delays leave it, in dB, before
/// something else must be the cause.
const NULL_SURPLUS_DB: f64 = 6.0;
/// Opposite polarities that leave more than this of a third of an octave, in dB, do not cancel there.
const BAND_NULL_DB: f64 = -30.0;

pub(super) fn null_depth(evidence: &Evidence) -> Option<Fault> {
    let null = evidence.paths.null.as_ref();
    null.and_then(|null| shallow(null, evidence)).or_else(|| unlike(evidence))
}

/// By which factor of power a null is too shallow.
fn surplus() -> f64 {
    10f64.powf(NULL_SURPLUS_DB / 10.0)
}

/// What a difference of level at its limit leaves, which is no fault.
fn allowed(limits: &Limits) -> f64 {
    (1.0 - 10f64.powf(-limits.level_db / 20.0)).powi(2)
}

/// Whether more is left in a range than explained by what is known to leave something, and by so much.
fn is_beyond(range: &Cancelled, explained: f64, deepest: f64) -> bool {
    range.left > (surplus() * explained.max(range.noise)).max(deepest)
}

/// Opposite polarities that do not cancel as the channels' levels and delays would have it.
fn shallow(null: &Null, evidence: &Evidence) -> Option<Fault> {
    let is_shallow = |range: &Cancelled, deepest: f64| is_beyond(range, range.predicted, deepest);
    // Where the levels or the delay alone explain it, another rule has spoken.
    let allowed = allowed(evidence.limits);
    let deepest = 10f64.powf(BAND_NULL_DB / 10.0).max(allowed);
    let shallow: Vec<&Cancelled> =
        null.bands.iter().filter(|range| is_shallow(range, deepest)).collect();
    if let Some(worst) = shallow.iter().max_by(|x, y| x.left.total_cmp(&y.left)) {
        return shallow_bands(null, &shallow, worst);
    }
    is_shallow(&null.whole, surplus() * allowed).then_some(())?;
    let [left_db, predicted_db] = [null.whole.left, null.whole.predicted].map(power_db);
    fault(
        FaultCode::NullDepth,
        format!(
            "Opposite polarities cancel only to {} dB (step 4), where the channels' levels and \
             delays would leave {} dB: the channels differ in another way.",
            signed(left_db, 1),
            signed(predicted_db, 1)
        ),
        [("null_db", left_db), ("predicted_db", predicted_db)],
    )
}

/// Whether the channels' difference depends on frequency for certain, by more than the level of a
/// digital mixer may be off: then no fader and no delay makes them alike.
pub(in crate::sum_test::faults) fn is_uneven(evidence: &Evidence) -> bool {
    let unlike = evidence.paths.unlike.as_ref();
    unlike.is_some_and(|unlike| {
        let Unlike { following, .. } = unlike;
        is_beyond(following, following.predicted, surplus() * allowed(&Limits::DIGITAL))
    })
}

/// Channels that differ beside level and delay, where those hide it from the null.
fn unlike(evidence: &Evidence) -> Option<Fault> {
    let Unlike { bands, following } = evidence.paths.unlike.as_ref()?;
    let allowed = allowed(evidence.limits);
    let deepest = 10f64.powf(BAND_NULL_DB / 10.0).max(allowed);
    let beyond: Vec<&Cancelled> =
        bands.iter().filter(|range| is_beyond(range, 0.0, deepest)).collect();
    let worst = beyond.iter().max_by(|x, y| x.left.total_cmp(&y.left)).copied();
    let is_in_all = is_beyond(following, following.predicted, surplus() * allowed);
    let left_db = power_db(worst.or(is_in_all.then_some(following))?.left);
    let place = match (beyond.first(), beyond.last(), bands.first(), bands.last()) {
        (Some(low), Some(high), Some(lowest), Some(highest)) => {
            format!("{} by", place([low.range_hz.0, high.range_hz.1], [lowest, highest]))
        }
        _ => "by".to_owned(),
    };
    fault(
        FaultCode::NullDepth,
        format!(
            "With level and delay set alike, the channels would still differ {place} up to {} dB: \
             one has a filter that the other has not, or carries some of the other feed.",
            signed(left_db, 1)
        ),
        [("unlike_db", left_db)],
    )
}

/// Where a range lies in the range that is looked at, in words.
fn place([low_hz, high_hz]: [f64; 2], [lowest, highest]: [&Cancelled; 2]) -> String {
    if low_hz <= lowest.range_hz.0 {
        format!("below {}", frequency(high_hz))
    } else if high_hz >= highest.range_hz.1 {
        format!("above {}", frequency(low_hz))
    } else {
        format!("between {} and {}", frequency(low_hz), frequency(high_hz))
    }
}

fn power_db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// Opposite polarities that cancel, but not in these bands.
fn shallow_bands(null: &Null, shallow: &[&Cancelled], worst: &Cancelled) -> Option<Fault> {
    let (low_hz, high_hz) = (shallow.first()?.range_hz.0, shallow.last()?.range_hz.1);
    let place = place([low_hz, high_hz], [null.bands.first()?, null.bands.last()?]);
    let [left_db, predicted_db] = [worst.left, worst.predicted].map(power_db);
    fault(
        FaultCode::NullDepth,
        format!(
            "Opposite polarities do not cancel {place} as they do elsewhere: they leave up to {} \
             dB there (step 4). One channel has a filter that the other has not, or \
             carries some of the other feed.",
            signed(left_db, 1)
        ),
        [
            ("null_db", left_db),
            ("predicted_db", predicted_db),
            ("low_hz", low_hz),
            ("high_hz", high_hz),
        ],
    )
}
