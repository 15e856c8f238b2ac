//! The markers in a recording, and what is wrong with it if they are not as they should be.

use super::Clock;
use super::candidates::{Candidate, Candidates, schedules};
use crate::sum_test::correlate::{self, Find};
use crate::sum_test::error::AuditError;
use crate::sum_test::feed::Feed;
use crate::sum_test::marker;
use crate::sum_test::schedule::Schedule;

/// Clocks differ by a few hundred parts per million at most; more is another sample rate.
const MOST_DRIFT: f64 = 1e-3;
/// How far a channel's delay may move the time between the feeds' markers, as a share of it.
const LAG_MISS: f64 = 0.03;
/// The share of a test that is believed where something was cut out of it.
const OPENING_SHARE: f64 = 0.2;
/// Markers closer than this, in seconds, are not an opening and a closing one.
const LEAST_TEST_S: f64 = 10.0;
/// Mean power below which a recording is silent: −90 dBFS of RMS.
const SILENCE_POWER: f64 = 1e-9;
/// Samples count as near the largest from this share of it on.
const TOP: f64 = 0.98;
/// A clipped sweep has this many times as many samples there as a sine has.
const CLIPPED: f64 = 1.5;

/// An opening and a closing marker.
#[derive(Clone, Copy)]
struct Pair {
    opening: Find,
    closing: Find,
}

impl Pair {
    fn apart_frames(&self) -> f64 {
        self.closing.frames - self.opening.frames
    }
}

/// Every place where the markers of a recording say that a test may lie.
pub(super) fn locate(signal: &[f32], rate_hz: u32) -> Result<Candidates, AuditError> {
    let schedule = Schedule::new(rate_hz).ok_or(AuditError::Rate { rate_hz })?;
    let power = signal.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>() / signal.len() as f64;
    if power <= SILENCE_POWER {
        return Err(AuditError::Silence);
    }
    let sweep = |shape: fn(f64) -> f64| -> Vec<f32> {
        let frames = 0..schedule.marker_frames();
        frames.map(|n| shape(n as f64 / schedule.rate_hz()) as f32).collect()
    };
    let templates = [sweep(marker::up), sweep(marker::down)];
    let [ups, downs] = correlate::find(signal, &templates, schedule.rate_hz());
    if ups.len() > 2 || downs.len() > 2 {
        return Err(AuditError::SeveralTests { markers: ups.len() + downs.len() });
    }
    // Feed 1 opens with the sweep up, feed 2 with the sweep down.
    let by_one = pairs(&ups, &downs, schedule.rate_hz());
    let by_two = pairs(&downs, &ups, schedule.rate_hz());
    let fitting = |pairs: &[Pair], schedule: &Schedule| -> Vec<Pair> {
        let fits = |pair: &&Pair| (stretch(pair, spacing(schedule)) - 1.0).abs() <= MOST_DRIFT;
        pairs.iter().filter(fits).copied().collect()
    };
    let mut all = Vec::new();
    let mut whole = Vec::new();
    for schedule in schedules(rate_hz) {
        let [one, two] = [&by_one, &by_two].map(|pairs| fitting(pairs, &schedule));
        if one.len() > 1 || two.len() > 1 {
            return Err(AuditError::SeveralTests { markers: ups.len() + downs.len() });
        }
        let one = one.first().map(|pair| (*pair, Feed::One));
        let Some((pair, feed)) = one.or(two.first().map(|pair| (*pair, Feed::Two))) else {
            continue;
        };
        all.push(by_pair(&pair, feed, schedule));
        whole.extend([pair.opening, pair.closing]);
    }
    let pairs: Vec<(Pair, Feed)> = by_one
        .into_iter()
        .map(|pair| (pair, Feed::One))
        .chain(by_two.into_iter().map(|pair| (pair, Feed::Two)))
        .collect();
    let otherwise = if !pairs.is_empty() {
        why_none_fits(&pairs, [&ups, &downs], signal, rate_hz)
    } else if let Some(find) = likeliest(&ups, &downs) {
        // Neither clock nor form follows from one end of a test, but from its noise.
        let finds = ups.iter().map(|up| (up, [Feed::One, Feed::Two]));
        for (find, [opens, closes]) in
            finds.chain(downs.iter().map(|down| (down, [Feed::Two, Feed::One])))
        {
            all.extend(schedules(rate_hz).flat_map(|schedule| {
                [by_opening(find, opens, schedule), by_closing(find, closes, schedule)]
            }));
            whole.push(*find);
        }
        AuditError::OneMarker { at_s: find.frames / schedule.rate_hz() }
    } else {
        AuditError::NotATest
    };
    for find in whole {
        check_whole(signal, find, &schedule)?;
    }
    Ok(Candidates { all, otherwise })
}

/// From one marker of a feed to the other, in frames.
fn spacing(schedule: &Schedule) -> f64 {
    (schedule.closing_frames() - schedule.opening_frames()) as f64
}

fn likeliest<'a>(ups: &'a [Find], downs: &'a [Find]) -> Option<&'a Find> {
    let all = ups.iter().chain(downs);
    all.max_by(|x, y| x.likeness.abs().total_cmp(&y.likeness.abs()))
}

fn by_pair(pair: &Pair, feed: Feed, schedule: Schedule) -> Candidate {
    let stretch = clock_stretch(pair, feed, &schedule);
    let [shift, lag] = shifts(feed, &schedule, stretch - 1.0);
    let nominal = schedule.opening_frames() as f64 + lag;
    let clock = Clock { start: pair.opening.frames - shift - stretch * nominal, stretch };
    Candidate { schedule, clock, feed, only_marker: None }
}

fn by_opening(find: &Find, feed: Feed, schedule: Schedule) -> Candidate {
    by_marker(find, schedule.opening_frames(), feed, schedule)
}

fn by_closing(find: &Find, feed: Feed, schedule: Schedule) -> Candidate {
    by_marker(find, schedule.closing_frames(), feed, schedule)
}

/// A marker of a feed where feed 1's begins at a frame of the test, on the player's own clock.
fn by_marker(find: &Find, frame: u64, feed: Feed, schedule: Schedule) -> Candidate {
    let [_, lag] = shifts(feed, &schedule, 0.0);
    let marker = frame as f64 + lag;
    let clock = Clock { start: find.frames - marker, stretch: 1.0 };
    Candidate { schedule, clock, feed, only_marker: Some(marker) }
}

fn pairs(openings: &[Find], closings: &[Find], rate_hz: f64) -> Vec<Pair> {
    openings
        .iter()
        .flat_map(|&opening| closings.iter().map(move |&closing| Pair { opening, closing }))
        .filter(|pair| pair.apart_frames() > LEAST_TEST_S * rate_hz)
        .collect()
}

fn stretch(pair: &Pair, spacing: f64) -> f64 {
    pair.apart_frames() / spacing
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
    let spacing = spacing(schedule);
    let other = match feed {
        Feed::One => Feed::Two,
        Feed::Two => Feed::One,
    };
    let moved = shifts(other, schedule, 1.0)[0] - shifts(feed, schedule, 1.0)[0];
    1.0 + (pair.apart_frames() - spacing) / (spacing + moved)
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

/// What is wrong with markers that stand at either end, if no test is found between them.
fn why_none_fits(
    pairs: &[(Pair, Feed)],
    finds: [&[Find]; 2],
    signal: &[f32],
    rate_hz: u32,
) -> AuditError {
    let likeness = |pair: &Pair| pair.opening.likeness.abs() + pair.closing.likeness.abs();
    let likeliest = pairs.iter().max_by(|x, y| likeness(&x.0).total_cmp(&likeness(&y.0)));
    let Some((pair, feed)) = likeliest else { return AuditError::NotATest };
    let labelled_hz = f64::from(rate_hz);
    // Either feed's markers at one end tell how long they last, whatever lies between the ends.
    let by_feeds = feed_lag_ratio(pair, *feed, finds, rate_hz);
    for schedule in schedules(rate_hz) {
        let is_usual = schedule.slot_s() == schedule.form().usual_slot_s();
        let ratio = clock_stretch(pair, *feed, &schedule);
        let is_likely =
            by_feeds.map_or(is_usual, |by_feeds| (ratio / by_feeds - 1.0).abs() < LAG_MISS);
        if let Some(played_hz) = rate_behind(ratio, labelled_hz).filter(|_| is_likely)
            && played_hz != labelled_hz
        {
            return AuditError::WrongRate { ratio, labelled_hz, played_hz };
        }
    }
    let apart_s = pair.apart_frames() / labelled_hz;
    let fits = |schedule: &Schedule| (stretch(pair, spacing(schedule)) - 1.0).abs() <= MOST_DRIFT;
    // How the test begins says how long it should be.
    let end = (OPENING_SHARE * pair.apart_frames() + pair.opening.frames) as usize;
    let begun = &signal[..end.min(signal.len())];
    let opened = schedules(rate_hz)
        .map(|schedule| by_opening(&pair.opening, *feed, schedule))
        .find(|candidate| candidate.is_clear(begun));
    match opened {
        Some(opened) if !fits(&opened.schedule) => {
            let expected_s = Some(spacing(&opened.schedule) / labelled_hz);
            AuditError::Edited { apart_s, expected_s }
        }
        _ if schedules(rate_hz).any(|schedule| fits(&schedule)) => AuditError::NoFeeds,
        _ => AuditError::Edited { apart_s, expected_s: None },
    }
}

/// How much longer than it should be the time from feed 1's opening marker to feed 2's is; `None` if
/// one of them was not heard.
fn feed_lag_ratio(pair: &Pair, feed: Feed, finds: [&[Find]; 2], rate_hz: u32) -> Option<f64> {
    let schedule = Schedule::new(rate_hz)?;
    let lag = schedule.feed_lag_frames() as f64;
    let [ups, downs] = finds;
    // Feed 2 opens with the sweep down, after feed 1's sweep up.
    let (others, sign) = match feed {
        Feed::One => (downs, 1.0),
        Feed::Two => (ups, -1.0),
    };
    let near = |find: &&Find| (find.frames - pair.opening.frames).abs() < 3.0 * lag;
    let other = others.iter().find(near)?;
    // A stretch moves the two sweeps by different times.
    let moved = shifts(Feed::Two, &schedule, 1.0)[0] - shifts(Feed::One, &schedule, 1.0)[0];
    Some(1.0 + (sign * (other.frames - pair.opening.frames) - lag) / (lag + moved))
}

/// The common sample rate at which a recording labelled `rate_hz` must have been made to be
/// stretched by `ratio`.
fn rate_behind(ratio: f64, rate_hz: f64) -> Option<f64> {
    const COMMON_HZ: [f64; 9] = [
        22_050.0, 24_000.0, 32_000.0, 44_100.0, 48_000.0, 88_200.0, 96_000.0, 176_400.0, 192_000.0,
    ];
    COMMON_HZ.into_iter().find(|common_hz| (common_hz / (rate_hz * ratio) - 1.0).abs() < 2e-3)
}
