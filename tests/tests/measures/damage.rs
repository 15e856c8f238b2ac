//! What clipping would add: against the excess worked out by itself and cut to the audible band by one
//! Fourier transform; against a closed form; and where there is none, or it cannot be worked out.

use ledgerline_measure::reading::Damage;
use ledgerline_measure::verdict::Code;
use ledgerline_measure::{ClipAt, Edges, Meter, Settings, View};
use ledgerline_tests::formulas::fourier;
use ledgerline_tests::readings::{Checks, feed, read, read_with, stereo_meter};
use ledgerline_tests::signals::tone::{Sine, added};
use ledgerline_tests::signals::{Stereo, amplitude, ferry, noise};

const RATE_HZ: f64 = 48_000.0;
const FOURIER: &str = "the excess, its band cut out by one Fourier transform";
/// What the filters' slopes at the edges differ by from a brick wall, and more than rounding.
const TOLERANCE_DB: f64 = 0.1;

fn map(signal: &Stereo, change: impl Fn(f32) -> f32) -> Stereo {
    let channel = |samples: &[f32]| samples.iter().map(|&x| change(x)).collect();
    Stereo::new(signal.rate_hz, channel(&signal.left), channel(&signal.right))
}

fn raised(signal: &Stereo, db: f64) -> Stereo {
    map(signal, |x| x * amplitude(db) as f32)
}

/// Energy of both channels between two frames.
fn energy(signal: &Stereo, range: std::ops::Range<usize>) -> f64 {
    let of = |samples: &[f32]| samples.iter().map(|&x| f64::from(x).powi(2)).sum::<f64>();
    of(&signal.left[range.clone()]) + of(&signal.right[range])
}

/// The excess of a signal and its programme, both in the audible band.
struct Expected {
    rate_hz: f64,
    over: Stereo,
    excess: Stereo,
    programme: Stereo,
}

impl Expected {
    fn of(signal: &Stereo, limit: f32) -> Self {
        let over = map(signal, |x| if x.abs() > limit { x - limit.copysign(x) } else { 0.0 });
        let [excess, programme] =
            [&over, signal].map(|signal| fourier::audible(signal, 20.0, 20_000.0));
        Self { rate_hz: signal.rate_hz, over, excess, programme }
    }

    fn level(&self, range: std::ops::Range<usize>) -> f64 {
        10.0 * (energy(&self.excess, range.clone()) / (2 * range.len()) as f64).log10()
    }

    fn ratio(&self, range: std::ops::Range<usize>) -> f64 {
        10.0 * (energy(&self.excess, range.clone()) / energy(&self.programme, range)).log10()
    }

    fn all(&self) -> std::ops::Range<usize> {
        0..self.over.frames()
    }

    /// The 100 ms that begin at a moment.
    fn window(&self, at_s: f64) -> std::ops::Range<usize> {
        let first = (at_s * self.rate_hz).round() as usize;
        first..first + (self.rate_hz / 10.0) as usize
    }

    /// The worst ratio of those that begin on a multiple of 10 ms and hold a sample over the limit.
    fn worst_ratio(&self) -> f64 {
        let starts = 0..=self.over.frames() * 100 / self.rate_hz as usize - 10;
        starts
            .map(|hop| self.window(hop as f64 / 100.0))
            .filter(|window| energy(&self.over, window.clone()) > 0.0)
            .map(|window| self.ratio(window))
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn check(&self, checks: &mut Checks, damage: &Damage) {
        checks.level("level", damage.audible_dbfs, self.level(self.all()), TOLERANCE_DB);
        checks.level("ratio", damage.re_programme_db, self.ratio(self.all()), TOLERANCE_DB);
        let worst = damage.worst_re_programme_db;
        checks.level("worst ratio", worst, self.worst_ratio(), TOLERANCE_DB);
        // Where several are about as bad, any of them will do.
        let window = self.window(damage.worst_at_s.expect("a moment"));
        checks.level("ratio there", worst, self.ratio(window.clone()), TOLERANCE_DB);
        checks.level("level there", damage.worst_audible_dbfs, self.level(window), TOLERANCE_DB);
    }
}

/// Eight seconds of a quiet tone with a few short overs far apart, so that the filters fall asleep in
/// between.
fn pops() -> Stereo {
    let tone = Sine::new(440.0, 0.1).play(RATE_HZ, 8.0);
    let mut left = tone.clone();
    for (at, length, height) in [(7, 3, 1.3), (144_077, 40, 1.1), (300_100, 1, -1.7)] {
        left[at..at + length].fill(height);
    }
    Stereo::new(RATE_HZ, left, tone)
}

#[test]
fn its_level_is_that_of_the_excess_in_the_audible_band_over_all_and_where_it_is_worst() {
    let uniform = |seed| noise::white(seed, 1.0, 480_000);
    let gaussian = |seed| noise::white_gaussian(seed, 0.25, 960_000);
    let cases = [
        ("uniform noise 3 dB over", raised(&Stereo::new(RATE_HZ, uniform(1), uniform(2)), 3.0)),
        ("Gaussian noise at 96 kHz", Stereo::new(96_000.0, gaussian(3), gaussian(4))),
        ("a mix raised by 18 dB", raised(&ferry::play_for(20.0), 18.0)),
        ("pops", pops()),
    ];
    for (name, signal) in cases {
        let damage = read(&signal).damage;
        let mut checks = Checks::of(name, FOURIER);
        Expected::of(&signal, 1.0).check(&mut checks, &damage);
        let over = |samples: &[f32]| samples.iter().filter(|x| x.abs() > 1.0).count();
        let samples = (over(&signal.left) + over(&signal.right)) as u64;
        checks.that(damage.clipped_samples == Some(samples), "samples counted", damage);
        println!("{name}: {damage:?}");
    }
}

#[test]
fn the_sum_of_two_uniform_noises_follows_the_closed_form() {
    // 40·log10(1 − 10^(−d/20)) of a triangular distribution whose end lies d dB over; band edges that
    // let all of it pass.
    let edges = Edges::new(5.0, 40_000.0).expect("edges");
    let settings = Settings { edges, ..Settings::default() };
    let sum = |seed| {
        let [a, b] = [seed, seed + 1].map(|seed| noise::white(seed, 0.5, 960_000));
        added(&a, &b)
    };
    let signal = Stereo::new(RATE_HZ, sum(10), sum(20));
    // How far the few samples over by so little scatter: two standard deviations.
    for (over_db, expected_db, tolerance_db) in
        [(0.5, -50.1, 0.2), (1.0, -38.5, 0.15), (2.0, -27.5, 0.1), (3.0, -21.4, 0.1)]
    {
        let mut checks =
            Checks::of(format!("{over_db} dB over"), "40·log10(1 − 10^(−d/20)), to one decimal");
        let damage = read_with(&raised(&signal, over_db), settings, &View::default()).damage;
        checks.level("whole band", damage.re_programme_db, expected_db, tolerance_db);
        println!("{over_db} dB over: {:.2} dB", damage.re_programme_db);
    }
}

#[test]
fn there_is_none_where_nothing_lies_over_and_none_is_told_where_it_came_before() {
    let sine = Sine::new(997.0, 0.999).play(RATE_HZ, 1.0);
    let mut checks = Checks::of("a sine just below full scale", "nothing lies over");
    let damage = read(&Stereo::both(RATE_HZ, sine)).damage;
    checks.that(damage.clipped_samples == Some(0), "no samples", damage);
    checks.level("level", damage.audible_dbfs, f64::NEG_INFINITY, 0.0);
    checks.level("ratio", damage.re_programme_db, f64::NEG_INFINITY, 0.0);
    checks.none("the worst", damage.worst_re_programme_db);
    checks.that(damage.worst_at_s.is_none() && !damage.is_lost, "no moment", damage);
    drop(checks);

    let sine = Stereo::both(RATE_HZ, Sine::new(100.0, amplitude(2.0)).play(RATE_HZ, 1.0));
    let at = |limit: f32| map(&sine, |x| x.clamp(-limit, limit));
    for (name, signal, word_bits) in [
        ("clipped at full scale", at(1.0), None),
        ("clipped below it", at(0.8), None),
        ("words of integers", at(1.0 - 0.5f32.powi(15)), Some(16)),
    ] {
        let mut checks = Checks::of(name, "what was lost is not there");
        let mut meter = stereo_meter(RATE_HZ, Settings::default());
        meter.set_word_bits(word_bits);
        feed(&mut meter, &signal);
        meter.finish();
        let reading = meter.reading(&View::default());
        let damage = reading.damage;
        checks.none("level", damage.audible_dbfs);
        checks.none("the worst", damage.worst_re_programme_db);
        checks.that(damage.is_lost, "lost", damage);
        let counted = damage.clipped_samples.is_some();
        checks.that(counted == word_bits.is_none(), "counted in floating point", damage);
    }
}

#[test]
fn at_the_ceiling_it_is_measured_there_and_a_change_begins_anew() {
    let mix = raised(&ferry::play_for(10.0), 12.0);
    let limit = amplitude(-3.0) as f32;
    let mut meter = stereo_meter(mix.rate_hz, Settings::default());
    meter.set_ceiling_db(-3.0);
    meter.clip_at(ClipAt::Ceiling);
    feed(&mut meter, &mix);
    meter.finish();
    let view = View { ceiling_db: -3.0, ..View::default() };
    let reading = meter.reading(&view);
    let damage = reading.damage;
    let codes: Vec<Code> = reading.findings.as_slice().iter().map(|found| found.code).collect();
    let mut checks = Checks::of("a mix raised by 12 dB", FOURIER);
    checks.level("limit", damage.limit_dbfs, -3.0, 1e-6);
    Expected::of(&mix, limit).check(&mut checks, &damage);
    let once = codes.contains(&Code::Damage) && !codes.contains(&Code::OverCeiling);
    checks.that(once, "one finding of what lies over the ceiling", codes);

    let mut meter = stereo_meter(mix.rate_hz, Settings::default());
    feed(&mut meter, &raised(&mix, 12.0));
    // The same limit by another name.
    meter.set_ceiling_db(0.0);
    meter.clip_at(ClipAt::Ceiling);
    feed(&mut meter, &raised(&mix, -40.0));
    meter.finish();
    let damage = meter.reading(&View::default()).damage;
    checks.that(damage.clipped_samples != Some(0), "the same limit goes on", damage);
    meter.set_ceiling_db(-1.0);
    feed(&mut meter, &raised(&mix, -40.0));
    meter.finish();
    let damage = meter.reading(&View::default()).damage;
    checks.that(damage.clipped_samples == Some(0), "another one begins anew", damage);
}

#[test]
fn its_moments_and_counts_are_those_since_reset() {
    let signal = pops();
    let mut meter = stereo_meter(RATE_HZ, Settings::default());
    let read = |meter: &Meter| meter.reading(&View::default()).damage;
    feed(&mut meter, &signal.cut(0..192_000));
    let mut checks = Checks::of("pops at 0, 3 and 6.3 s", "how they were made");
    let damage = read(&meter);
    checks.that(damage.clipped_runs == Some(2), "two runs", damage);
    checks.that(damage.clipped_samples == Some(43), "43 samples", damage);
    checks.number("the first", damage.first_clipped_s, 7.0 / RATE_HZ, 1e-9);
    checks.number("the last", damage.last_clipped_s, 144_116.0 / RATE_HZ, 1e-9);
    meter.reset();
    feed(&mut meter, &signal.cut(192_000..384_000));
    meter.finish();
    let damage = read(&meter);
    checks.that(damage.clipped_runs == Some(1), "one since reset", damage);
    checks.number("when", damage.first_clipped_s, 108_100.0 / RATE_HZ, 1e-9);
    let finding = meter.reading(&View::default()).findings.as_slice()[0];
    let below_db = -damage.worst_re_programme_db.db().expect("a ratio");
    let sentence = finding.sentence();
    let said = format!(
        "Over full scale once, at 0:02: clipping adds damage {below_db:.0} dB below the programme at worst: "
    );
    checks.that(sentence.starts_with(&said), &said, &sentence);
    let action = finding.action();
    let safe = action.as_deref().is_some_and(|line| line.starts_with("Before an export or fixed"));
    checks.that(safe, "what to do", action);
}
