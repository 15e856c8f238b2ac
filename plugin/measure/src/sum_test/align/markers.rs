//! The markers in a recording, and what is wrong with it if they are not as they should be.

use super::Clock;
use crate::sum_test::correlate::{self, Find};
use crate::sum_test::error::AuditError;
use crate::sum_test::feed::Feed;
use crate::sum_test::marker;
use crate::sum_test::schedule::Schedule;

/// Clocks differ by a few hundred parts per million at most; more is another sample rate.
const MOST_DRIFT: f64 = 1e-3;
/// Markers closer than this, in seconds, are not an opening and a closing one.
const LEAST_TEST_S: f64 = 10.0;
/// Mean power below which a recording is silent: −90 dBFS of RMS.
const SILENCE_POWER: f64 = 1e-9;
/// Samples count as near the largest from this share of it on.
const TOP: f64 = 0.98;
/// A clipped sweep has this many times as many samples there as a sine has.
const CLIPPED: f64 = 1.5;

/// What the markers say.
pub(super) struct Located {
    pub clock: Clock,
    pub feed: Feed,
}

/// An opening and a closing marker.
#[derive(Clone, Copy)]
struct Pair {
    opening: Find,
    closing: Find,
}

pub(super) fn locate(signal: &[f32], schedule: &Schedule) -> Result<Located, AuditError> {
    let rate_hz = schedule.rate_hz();
    let power = signal.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / signal.len() as f64;
    if power <= SILENCE_POWER {
        return Err(AuditError::Silence);
    }
    let sweep = |shape: fn(f64) -> f64| -> Vec<f32> {
        (0..schedule.marker_frames()).map(|n| shape(n as f64 / rate_hz) as f32).collect()
    };
    let [ups, downs] = correlate::find(signal, &[sweep(marker::up), sweep(marker::down)], rate_hz);
    let spacing = (schedule.closing_frames() - schedule.opening_frames()) as f64;
    let by_one = pairs(&ups, &downs, rate_hz);
    let by_two = pairs(&downs, &ups, rate_hz);
    let fits = |pair: &&Pair| (stretch(pair, spacing) - 1.0).abs() <= MOST_DRIFT;
    let fitting = [&by_one, &by_two].map(|pairs| pairs.iter().filter(fits).count());
    if ups.len() > 2 || downs.len() > 2 || fitting.iter().any(|&count| count > 1) {
        return Err(AuditError::SeveralTests { markers: ups.len() + downs.len() });
    }
    // Feed 1 opens with the sweep up, feed 2 with the sweep down.
    let (pair, feed) = if let Some(pair) = by_one.iter().find(fits) {
        (*pair, Feed::One)
    } else if let Some(pair) = by_two.iter().find(fits) {
        (*pair, Feed::Two)
    } else {
        let all: Vec<(Pair, Feed)> = by_one
            .into_iter()
            .map(|pair| (pair, Feed::One))
            .chain(by_two.into_iter().map(|pair| (pair, Feed::Two)))
            .collect();
        return Err(why_none_fits(&ups, &downs, &all, signal, schedule));
    };
    for find in [pair.opening, pair.closing] {
        check_whole(signal, find, schedule)?;
    }
    let stretch = clock_stretch(&pair, feed, schedule);
    let [shift, lag] = shifts(feed, schedule, stretch - 1.0);
    let nominal = schedule.opening_frames() as f64 + lag;
    Ok(Located {
        clock: Clock { start: pair.opening.frames - shift - stretch * nominal, stretch },
        feed,
    })
}

fn pairs(openings: &[Find], closings: &[Find], rate_hz: f64) -> Vec<Pair> {
    openings
        .iter()
        .flat_map(|&opening| closings.iter().map(move |&closing| Pair { opening, closing }))
        .filter(|pair| pair.closing.frames - pair.opening.frames > LEAST_TEST_S * rate_hz)
        .collect()
}

fn stretch(pair: &Pair, spacing: f64) -> f64 {
    (pair.closing.frames - pair.opening.frames) / spacing
}

/// How far a stretch by 1 + `excess` makes a feed's opening marker look late, and by how much that
/// feed's markers are later than feed 1's: in frames.
fn shifts(feed: Feed, schedule: &Schedule, excess: f64) -> [f64; 2] {
    let pole = marker::pole_s() * schedule.rate_hz();
    match feed {
        Feed::One => [excess * pole, 0.0],
        // The mirror image moves the other way, seen from its end.
        Feed::Two => {
            let moved = excess * (schedule.marker_frames() as f64 - pole);
            [moved, schedule.feed_lag_frames() as f64]
        }
    }
}

/// The stretch, freed from what it does to the markers themselves.
fn clock_stretch(pair: &Pair, feed: Feed, schedule: &Schedule) -> f64 {
    let spacing = (schedule.closing_frames() - schedule.opening_frames()) as f64;
    let other = match feed {
        Feed::One => Feed::Two,
        Feed::Two => Feed::One,
    };
    let moved = shifts(other, schedule, 1.0)[0] - shifts(feed, schedule, 1.0)[0];
    1.0 + (pair.closing.frames - pair.opening.frames - spacing) / (spacing + moved)
}

/// A clipped marker has flat tops: too many samples near the largest.
///
/// A sine spends 2/π·acos(t) of its time above the share t of its peak. A quiet recording of few bits
/// has flat tops of its own, for all that would have been rounded to the largest code stands there:
/// what lies half a code below it counts, and the peak may have lain half a code above.
fn check_whole(signal: &[f32], find: Find, schedule: &Schedule) -> Result<(), AuditError> {
    let start = find.frames as usize;
    let end = (start + schedule.marker_frames() as usize).min(signal.len());
    let marker = &signal[start.min(end)..end];
    let largest = marker.iter().fold(0f32, |held, x| held.max(x.abs()));
    let half_code = code(marker) / 2.0;
    let share = ((largest - half_code) / (largest + half_code)).min(TOP as f32);
    let top = marker.iter().filter(|x| x.abs() >= share * largest).count();
    let of_a_sine = std::f64::consts::FRAC_2_PI * f64::from(share).acos();
    if top as f64 > CLIPPED * of_a_sine * marker.len() as f64 {
        return Err(AuditError::MarkerClips { at_s: find.frames / schedule.rate_hz() });
    }
    Ok(())
}

/// The step from the largest magnitude to the next smaller one: a code, if there are few of them.
fn code(samples: &[f32]) -> f32 {
    let largest = samples.iter().fold(0f32, |held, x| held.max(x.abs()));
    let next = samples.iter().map(|x| x.abs()).filter(|x| *x < largest).fold(0f32, f32::max);
    largest - next
}

fn why_none_fits(
    ups: &[Find],
    downs: &[Find],
    pairs: &[(Pair, Feed)],
    signal: &[f32],
    schedule: &Schedule,
) -> AuditError {
    let rate_hz = schedule.rate_hz();
    let spacing = (schedule.closing_frames() - schedule.opening_frames()) as f64;
    let duration_s = signal.len() as f64 / rate_hz;
    let likeness = |pair: &Pair| pair.opening.likeness.abs() + pair.closing.likeness.abs();
    if let Some((pair, feed)) =
        pairs.iter().max_by(|x, y| likeness(&x.0).total_cmp(&likeness(&y.0)))
    {
        let ratio = clock_stretch(pair, *feed, schedule);
        return match rate_behind(ratio, rate_hz) {
            Some(played_hz) => AuditError::WrongRate { ratio, labelled_hz: rate_hz, played_hz },
            None => AuditError::Edited {
                apart_s: (pair.closing.frames - pair.opening.frames) / rate_hz,
                expected_s: spacing / rate_hz,
            },
        };
    }
    // Feed 1's marker comes first at either end: up at the opening, down at the closing.
    match (ups.first(), downs.first()) {
        (None, None) => AuditError::NotATest,
        (Some(up), Some(down)) if up.frames < down.frames => {
            AuditError::EndMissing { start_s: up.frames / rate_hz, duration_s }
        }
        (Some(_), Some(down)) => AuditError::StartMissing { end_s: down.frames / rate_hz },
        (Some(only), None) | (None, Some(only)) => {
            AuditError::OneMarker { at_s: only.frames / rate_hz }
        }
    }
}

/// The common sample rate at which a recording labelled `rate_hz` must have been made to be
/// stretched by `ratio`.
fn rate_behind(ratio: f64, rate_hz: f64) -> Option<f64> {
    const COMMON_HZ: [f64; 9] = [
        22_050.0, 24_000.0, 32_000.0, 44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0,
    ];
    COMMON_HZ.into_iter().find(|common_hz| (common_hz / (rate_hz * ratio) - 1.0).abs() < 2e-3)
}
