//! Decorrelation time. Oracles: closed forms of the autocorrelation.
//!
//! Of white noise up to f it is sin(x)/x with x = 2πfτ; of pink noise between two frequencies
//! (Ci(2πf₂τ) − Ci(2πf₁τ))/ln(f₂/f₁); of white noise through a resonance of bandwidth W it is
//! e^(−πWτ)·cos(2πfτ).

use ledgerline_measure::decorrelation::DecorrelationTime::{self, Longer, Unknown};
use ledgerline_measure::entries::{Clock, Entries};
use ledgerline_measure::{Reading, Settings, View};
use ledgerline_tests::formulas::fourier::{audible, shaped};
use ledgerline_tests::readings::{Checks, feed, stereo_meter};
use ledgerline_tests::signals::filter::Resonance;
use ledgerline_tests::signals::tone::{Sine, added, dc, silence};
use ledgerline_tests::signals::{Stereo, frames, noise};

const RATE_HZ: f64 = 48_000.0;
const CLOSED_FORM: &str = "closed form of the autocorrelation";

fn of_file(signal: &Stereo) -> Reading {
    let mut meter = stereo_meter(signal.rate_hz, Settings::default());
    meter.keep_decorrelation();
    feed(&mut meter, signal);
    meter.finish();
    meter.reading(&View::default())
}

fn white(seed: u64, seconds: f64) -> Stereo {
    let one = |seed| noise::white(seed, 0.3, frames(RATE_HZ, seconds));
    Stereo::new(RATE_HZ, one(seed), one(seed + 1))
}

/// Pink noise from 20 Hz to 20 kHz.
fn pink(seed: u64, seconds: f64) -> Stereo {
    let gain = |hz: f64| if (20.0..=20_000.0).contains(&hz) { hz.powf(-0.5) } else { 0.0 };
    let Stereo { left, right, .. } = white(seed, seconds);
    let [left, right] = [left, right].map(|channel| shaped(&channel, RATE_HZ, gain));
    Stereo::new(RATE_HZ, left, right)
}

#[test]
fn of_white_and_of_pink_noise() {
    let mut checks = Checks::of("white noise", CLOSED_FORM);
    let times = of_file(&white(1, 20.0)).decorrelation_ms;
    // sin(x)/x reaches 0.1 for the last time at x = 2.679 π.
    checks.number("to 24 kHz", times.whole.ms(), 2.679 / 48.0, 0.001);
    checks.number("to 20 kHz", times.audible.ms(), 2.679 / 40.0, 0.001);
    let times = of_file(&audible(&white(3, 20.0), 20.0, 20_000.0)).decorrelation_ms;
    checks.number("cut off at 20 kHz", times.whole.ms(), 2.679 / 40.0, 0.001);
    let times = of_file(&pink(5, 60.0)).decorrelation_ms;
    let mut checks = Checks::of("pink noise", CLOSED_FORM);
    checks.number("20 Hz to 20 kHz", times.whole.ms(), 2.28, 0.2);
    checks.number("of all that the same", times.audible.ms(), 2.28, 0.2);
}

#[test]
fn of_a_resonance_and_of_too_little_of_it() {
    const WIDTH_HZ: f64 = 20.0;
    let rate_hz = 8_000.0;
    let play = |seconds: f64| {
        let mut resonance = Resonance::default();
        resonance.tune(rate_hz, 1_000.0, WIDTH_HZ);
        let white = noise::white_gaussian(7, 0.01, frames(rate_hz, seconds));
        Stereo::both(rate_hz, white.iter().map(|&x| resonance.next(f64::from(x)) as f32).collect())
    };
    let mut checks = Checks::of("a resonance 20 Hz wide at 1 kHz", CLOSED_FORM);
    let times = of_file(&play(600.0)).decorrelation_ms;
    let expected = 10f64.ln() / (std::f64::consts::PI * WIDTH_HZ) * 1e3;
    checks.number("600 s", times.whole.ms(), expected, 4.0);
    checks.number("audible", times.audible.ms(), expected, 4.0);
    let times = of_file(&play(5.0)).decorrelation_ms;
    checks.that(times.audible == Unknown, "that 5 s are too little", times);
}

#[test]
fn of_a_steady_tone_and_of_what_never_moves() {
    let mut checks = Checks::of("a sine of 997 Hz", CLOSED_FORM);
    let tone = Sine::new(997.0, 0.5).play(RATE_HZ, 5.0);
    let times = of_file(&Stereo::both(RATE_HZ, tone.clone())).decorrelation_ms;
    checks.that([times.whole, times.audible] == [Longer; 2], "longer than 500 ms", times);
    let noises = white(9, 5.0);
    let with_tone = Stereo::both(RATE_HZ, added(&noises.left, &tone));
    let times = of_file(&with_tone).decorrelation_ms;
    checks.that(times.audible == Longer, "longer with noise as well", times);
    let offset = Stereo::both(RATE_HZ, added(&noises.left, &dc(RATE_HZ, 0.2, 5.0)));
    let times = of_file(&offset).decorrelation_ms;
    checks.that(times.whole == Longer, "an offset is the same again later", times);
    checks.number("the audible band has none", times.audible.ms(), 2.679 / 40.0, 0.003);
}

#[test]
fn of_nothing_and_of_a_meter_that_keeps_no_long_spectra_none() {
    let mut checks = Checks::of("silence, and sound that is short", "nothing to tell it from");
    let unknown = |time: [DecorrelationTime; 2]| time == [Unknown; 2];
    let both =
        |reading: Reading| [reading.decorrelation_ms.whole, reading.decorrelation_ms.audible];
    let silent = both(of_file(&Stereo::both(RATE_HZ, silence(RATE_HZ, 5.0))));
    checks.that(unknown(silent), "none of silence", silent);
    let short = both(of_file(&white(11, 1.0)));
    checks.that(unknown(short), "none of 1 s", short);
    let plain = both(ledgerline_tests::readings::read(&white(11, 5.0)));
    checks.that(unknown(plain), "none on a meter that was not asked", plain);
}

#[test]
fn of_a_recording_in_parts_as_of_it_in_one_go() {
    let signal = pink(15, 40.0);
    let meter = || {
        let mut meter = stereo_meter(RATE_HZ, Settings::default());
        meter.keep_decorrelation();
        meter
    };
    let starts = meter().part_starts(signal.frames() as u64, 3, 10 * RATE_HZ as u64);
    assert_eq!(starts.len(), 3);
    let ends = starts[1..].iter().copied().chain([u64::MAX]);
    let parts = starts.iter().zip(ends).map(|(&start, end)| {
        let mut meter = meter();
        let first = meter.begin_part(start..end) as usize;
        feed(&mut meter, &signal.cut(first..signal.frames()));
        meter
    });
    let joined = parts.reduce(|mut earlier, later| {
        earlier.append(later);
        earlier
    });
    let mut joined = joined.expect("three parts");
    joined.finish();
    let times = joined.reading(&View::default()).decorrelation_ms;
    let whole = of_file(&signal).decorrelation_ms;
    let mut checks = Checks::of("pink noise in three parts", "the same in one go");
    checks.number("whole", times.whole.ms(), whole.whole.ms().unwrap_or(f64::NAN), 1e-4);
    checks.number("audible", times.audible.ms(), whole.audible.ms().unwrap_or(f64::NAN), 1e-4);
}

#[test]
fn every_entry_has_its_own() {
    let signal = white(13, 8.0);
    let mut entries =
        Entries::new(RATE_HZ, 2, 0, Settings::default(), View::default()).expect("a stereo bus");
    entries.take(&signal.channels(), &[], Clock::default());
    entries.finish();
    let entry = entries.list().last().expect("an entry");
    let mut checks = Checks::of("an entry of white noise", CLOSED_FORM);
    let time = entry.reading.decorrelation_ms.whole;
    checks.number("to 24 kHz", time.ms(), 2.679 / 48.0, 0.001);
}
