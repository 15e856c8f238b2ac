//! What is said of halves that are one signal, nearly one, a copy of each other, or share a part.
//! Oracle: how they were made.

use ledgerline_measure::reading::Half;
use ledgerline_measure::verdict::Code;
use ledgerline_measure::{Halves, Reading, Settings, View};
use ledgerline_tests::readings::{Checks, read, read_with};
use ledgerline_tests::signals::tone::{added, delayed, scaled};
use ledgerline_tests::signals::{Stereo, amplitude, noise};

const RATE_HZ: f64 = 48_000.0;
const FRAMES: usize = 48_000 * 10;
const BUILT: &str = "how the halves were made";

fn noise_of(seed: u64) -> Vec<f32> {
    noise::white(seed, amplitude(-10.0), FRAMES)
}

fn ms(delay_ms: f64) -> usize {
    (delay_ms * RATE_HZ / 1e3).round() as usize
}

fn said(reading: &Reading, code: Code) -> String {
    let found = reading.findings.as_slice().iter().find(|finding| finding.code == code);
    found.map_or(String::new(), |finding| finding.sentence())
}

/// A one-pole low-pass, as a copy may have gone through.
fn dulled(signal: &[f32]) -> Vec<f32> {
    let mut held = 0.0;
    let step = |x: &f32| {
        held += 0.5 * (x - held);
        held
    };
    signal.iter().map(step).collect()
}

#[test]
fn a_late_copy_is_found_whatever_its_gain_polarity_and_filter() {
    let a = noise_of(1);
    for (delay_ms, gain) in
        [(10.0, 1.0), (10.0, 0.3), (10.0, -1.0), (0.5, 1.0), (3.0, -0.5), (25.0, 1.0), (40.0, 1.0)]
    {
        let b = scaled(&delayed(&a, ms(delay_ms)), gain);
        let reading = read(&Stereo::new(RATE_HZ, a.clone(), b));
        let mut checks = Checks::of(format!("{delay_ms} ms late, times {gain}"), BUILT);
        let Some(copy) = reading.late_copy else {
            checks.that(false, "a late copy", reading.late_copy);
            continue;
        };
        checks.that(copy.later == Half::B, "B later", copy);
        checks.number("delay", Some(copy.delay_ms), delay_ms, 0.01);
        checks.that(copy.inverted == (gain < 0.0), "its polarity", copy);
        if let Some(correlation) = copy.correlation {
            checks.number("correlation", Some(correlation.abs()), 1.0, 0.1);
        }
    }
    let early = read(&Stereo::new(RATE_HZ, delayed(&a, ms(7.0)), dulled(&a)));
    let mut checks = Checks::of("a dulled copy 7 ms early", BUILT);
    let copy = early.late_copy;
    checks.that(copy.is_some_and(|copy| copy.later == Half::A), "A later", copy);
    checks.number("delay", copy.map(|copy| copy.delay_ms), 7.0, 0.05);
}

#[test]
fn nobody_is_told_that_a_late_copy_is_independent() {
    let a = noise_of(2);
    let copy = read(&Stereo::new(RATE_HZ, a.clone(), delayed(&a, ms(10.0))));
    let mut checks = Checks::of("10 ms late", BUILT);
    let sentence = said(&copy, Code::PeaksMislead);
    checks.that(sentence.starts_with("R is a copy of L, 10.0 ms late:"), "the copy", &sentence);
    checks.that(!sentence.contains("are independent"), "no independence", &sentence);
    // Later than what is searched: how the two add is all that is said.
    let far = read(&Stereo::new(RATE_HZ, a.clone(), delayed(&a, ms(300.0))));
    let sentence = said(&far, Code::PeaksMislead);
    let adds = sentence.starts_with("L and R add like independent sounds:");
    checks.that(adds && far.late_copy.is_none(), "how they add", &sentence);
    // An independent reverb of the same power beside the copy.
    let b = added(&delayed(&a, ms(10.0)), &noise_of(3));
    let part = read(&Stereo::new(RATE_HZ, a.clone(), b));
    let sentence = said(&part, Code::PeaksMislead);
    checks.that(sentence.starts_with("R holds some of L again"), "no copy", &sentence);
    checks.number("correlation", part.late_copy.and_then(|copy| copy.correlation), 0.707, 0.05);
    let settings = Settings { halves: Halves::MainSidechain, ..Settings::default() };
    let mut meter = ledgerline_measure::Meter::new(RATE_HZ, 1, 1, settings).expect("two inputs");
    meter.process(&[&a], &[&delayed(&a, ms(10.0))]);
    meter.finish();
    let sentence = said(&meter.reading(&View::default()), Code::PeaksMislead);
    checks.that(sentence.starts_with("S is a copy of M"), "its own halves", &sentence);
}

#[test]
fn independent_and_partly_shared_halves_are_no_late_copy() {
    let [a, b, c] = [4, 5, 6].map(noise_of);
    let mut checks = Checks::of("independent noises", BUILT);
    let independent = read(&Stereo::new(RATE_HZ, a.clone(), b.clone()));
    checks.that(independent.late_copy.is_none(), "no copy", independent.late_copy);
    // Three equal sources: one in both, one in each.
    let shared = read(&Stereo::new(RATE_HZ, added(&a, &b), added(&a, &c)));
    checks.that(shared.late_copy.is_none(), "no late copy", shared.late_copy);
    let sentence = said(&shared, Code::PeaksMislead);
    checks.that(sentence.is_empty(), "no independence", sentence);
    let sines = |hz: f64, phase_deg: f64| {
        ledgerline_tests::signals::tone::Sine::new(hz, 0.3).at_phase(phase_deg).play(RATE_HZ, 10.0)
    };
    let sines = read(&Stereo::new(RATE_HZ, sines(440.0, 0.0), sines(440.0, 80.0)));
    checks.that(sines.late_copy.is_none(), "a sine comes again all the time", sines.late_copy);
}

#[test]
fn all_but_mono_is_not_mono() {
    let [mid, one] = [7, 8].map(noise_of);
    let sides_of = |db: f64| {
        let side = scaled(&one, amplitude(db));
        Stereo::new(RATE_HZ, added(&mid, &side), added(&mid, &scaled(&side, -1.0)))
    };
    for (db, said_db) in [(-47.0, "47 dB"), (-60.0, "60 dB"), (-80.0, "80 dB"), (-100.0, "100 dB")]
    {
        let sentence = said(&read(&sides_of(db)), Code::HalvesIdentical);
        let mut checks = Checks::of(format!("sides {db} dB down"), BUILT);
        let expected = format!("All but mono: what differs between L and R lies {said_db} down.");
        checks.that(sentence == expected, &expected, &sentence);
    }
    let mut checks = Checks::of("mono", BUILT);
    let sentence = said(&read(&Stereo::both(RATE_HZ, mid.clone())), Code::HalvesIdentical);
    checks.that(sentence == "L and R are one signal: the bus is mono.", "mono", sentence);
    let panned = Stereo::new(RATE_HZ, mid.clone(), scaled(&mid, amplitude(-6.0)));
    let sentence =
        said(&read_with(&panned, Settings::default(), &View::default()), Code::HalvesIdentical);
    let expected = "L and R are all but one signal at levels 6.0 dB apart: what else differs lies more than \
         60 dB down.";
    checks.that(sentence == expected, expected, sentence);
}
