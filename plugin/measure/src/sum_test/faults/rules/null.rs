//! The rule of step 4: opposite polarities that do not cancel, in all or in some bands.

use super::{Evidence, Fault, FaultCode, fault};
use crate::sum_test::path::{Cancelled, Null};
use crate::words::{frequency, signed};

/// A null may be this much shallower than the fitted gains and delays leave it, in dB, before
/// something else must be the cause.
const NULL_SURPLUS_DB: f64 = 6.0;
/// Opposite polarities that leave more than this of a third of an octave, in dB, do not cancel there.
const BAND_NULL_DB: f64 = -30.0;

pub(super) fn null_depth(evidence: &Evidence) -> Option<Fault> {
    let null = evidence.paths.null.as_ref()?;
    // Where the levels or the delay alone explain it, another rule has spoken.
    let surplus = 10f64.powf(NULL_SURPLUS_DB / 10.0);
    let is_shallow = |range: &Cancelled, deepest: f64| {
        range.left > (surplus * range.predicted.max(range.noise)).max(deepest)
    };
    // What a difference of level at its limit would leave is no fault.
    let allowed = (1.0 - 10f64.powf(-evidence.limits.level_db / 20.0)).powi(2);
    let deepest = 10f64.powf(BAND_NULL_DB / 10.0).max(allowed);
    let shallow: Vec<&Cancelled> =
        null.bands.iter().filter(|range| is_shallow(range, deepest)).collect();
    if let Some(worst) = shallow.iter().max_by(|x, y| x.left.total_cmp(&y.left)) {
        return shallow_bands(null, &shallow, worst);
    }
    let mut in_all = std::iter::once(&null.whole).chain(null.following.as_ref());
    let shallow = in_all.find(|range| is_shallow(range, surplus * allowed))?;
    let [left_db, predicted_db] = [shallow.left, shallow.predicted].map(power_db);
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

fn power_db(ratio: f64) -> f64 {
    10.0 * ratio.log10()
}

/// Opposite polarities that cancel, but not in these bands.
fn shallow_bands(null: &Null, shallow: &[&Cancelled], worst: &Cancelled) -> Option<Fault> {
    let (low_hz, high_hz) = (shallow.first()?.range_hz.0, shallow.last()?.range_hz.1);
    let place = if low_hz <= null.bands.first()?.range_hz.0 {
        format!("below {}", frequency(high_hz))
    } else if high_hz >= null.bands.last()?.range_hz.1 {
        format!("above {}", frequency(low_hz))
    } else {
        format!("between {} and {}", frequency(low_hz), frequency(high_hz))
    };
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
