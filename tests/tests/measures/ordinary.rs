//! Ordinary sound raises no alarm: at most one finding that matters, and that one about a limit which
//! the peaks really pass.

use ledgerline_measure::verdict::{Code, Severity};
use ledgerline_measure::{Reading, Settings, Target, View};
use ledgerline_tests::readings::{Checks, read, read_with};
use ledgerline_tests::signals::tone::{added, scaled};
use ledgerline_tests::signals::{Stereo, frames, noise, session};

const RATE_HZ: f64 = 48_000.0;
const LENGTH_S: f64 = 20.0;

/// A piece of music, its peak at 0.8.
fn piece(seed: u64) -> Stereo {
    let [left, right] = &session::play(seed, RATE_HZ as u32, LENGTH_S).channels[..] else {
        unreachable!("a piece is stereo")
    };
    let single = |channel: &[f64]| channel.iter().map(|x| *x as f32).collect();
    Stereo::new(RATE_HZ, single(left), single(right))
}

/// Left and right made anew from those of a sound.
fn of(sound: &Stereo, make: impl Fn(f64, f64) -> [f64; 2]) -> Stereo {
    let pairs = sound.left.iter().zip(&sound.right);
    let (left, right) = pairs
        .map(|(left, right)| make(f64::from(*left), f64::from(*right)).map(|x| x as f32))
        .map(|[left, right]| (left, right))
        .unzip();
    Stereo::new(sound.rate_hz, left, right)
}

/// Pink noise, another one in each channel.
fn wide_noise(rms: f64) -> Stereo {
    let [left, right] =
        [5, 6].map(|seed| noise::pink(seed, rms, RATE_HZ, frames(RATE_HZ, LENGTH_S)));
    Stereo::new(RATE_HZ, left, right)
}

fn serious(reading: &Reading) -> Vec<(Code, String)> {
    let findings = reading.findings.as_slice().iter();
    let serious = findings.filter(|finding| finding.severity >= Severity::Caution);
    serious.map(|finding| (finding.code, finding.sentence())).collect()
}

#[test]
fn ordinary_music_has_at_most_one_finding_that_matters() {
    let [sparse, other] = [1, 2].map(piece);
    let dense = (3..9).map(piece).fold(other.clone(), |sum, next| {
        Stereo::new(RATE_HZ, added(&sum.left, &next.left), added(&sum.right, &next.right))
    });
    let dense = of(&dense, |left, right| [0.25 * left, 0.25 * right]);
    let gained = |sound: &Stereo, gain: f64| {
        Stereo::new(RATE_HZ, scaled(&sound.left, gain), scaled(&sound.right, gain))
    };
    let limits = [Code::Overs, Code::OverCeiling, Code::RoomOverstated];
    for (name, sound, may_pass_a_limit) in [
        ("sparse", gained(&sparse, 0.7), false),
        ("dense", gained(&dense, 0.7), false),
        ("quiet", gained(&sparse, 0.01), false),
        ("wide", of(&sparse, |l, r| [0.7 * l - 0.2 * r, 0.7 * r - 0.2 * l]), false),
        ("unrelated sides", of(&gained(&sparse, 0.5), |l, _| [l, 0.0]), false),
        ("mono", of(&sparse, |l, r| [0.4 * (l + r), 0.4 * (l + r)]), false),
        ("clipped softly", of(&dense, |l, r| [l, r].map(|x| 0.95 * (4.0 * x).tanh())), true),
        ("clipped hard", of(&dense, |l, r| [l, r].map(|x| (3.0 * x).clamp(-1.0, 1.0))), true),
        ("wide noise", wide_noise(0.08), false),
    ] {
        let mut checks = Checks::of(name, "what its engineer would act on");
        let reading = read(&sound);
        let found = serious(&reading);
        let about_limits = found.iter().all(|(code, _)| limits.contains(code));
        let most = usize::from(may_pass_a_limit);
        checks.that(found.len() <= most && about_limits, "limits alone, and once", &found);
        // A target adds a note, and no alarm.
        let view = View { target: Some(Target::default()), ..View::default() };
        let aimed = serious(&read_with(&sound, Settings::default(), &view));
        checks.that(aimed == found, "no alarm for a target", aimed);
    }
}

#[test]
fn wide_noise_is_no_news_and_loud_clipping_is_told_once() {
    let reading = read(&wide_noise(0.08));
    let codes: Vec<Code> = reading.findings.as_slice().iter().map(|found| found.code).collect();
    // Pink noise is not over at 20 Hz. Nothing is said of its halves: such is ordinary stereo.
    assert_eq!(codes, [Code::Rumble]);
    let clipped = of(&wide_noise(0.5), |l, r| [l, r].map(|x| x.clamp(-1.0, 1.0)));
    let found = serious(&read(&clipped));
    let [(Code::Overs, _)] = found[..] else {
        panic!("overs, and not the ceiling beside them: {found:?}")
    };
}
