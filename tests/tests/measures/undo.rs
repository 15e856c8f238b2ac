//! A reset that is undone leaves no trace, and one that is not has its own.
//!
//! The reference is a meter that was never reset, or one that does not keep what was before, given the
//! same signal in the same blocks. Both hear what leaves the same filters, so all is compared to the
//! last digit. What spectra are worked out for may come some steps of 128 frames later where two sets
//! share the time, so tones, late copies and the drawn spectrum are compared a while behind the undo.

use ledgerline_measure::detector::{Detector, MeterKind};
use ledgerline_measure::{Halves, HistoryRow, Meter, Settings, TruePeakFilter, View, YourMeter};
use ledgerline_tests::readings::Checks;
use ledgerline_tests::signals::tone::{Sine, added, dc};
use ledgerline_tests::signals::{Stereo, bench_mix, frames, noise};
use serde_json::Value;

const SOURCE: &str = "a meter that was given the same without the reset";

/// What happens before a block.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Event {
    Reset,
    Undo,
    Jump,
    Pause,
    /// What follows is passed over, or read again.
    Bypass(bool),
    Ceiling(f64),
}

/// A signal, in blocks of a length, and what happens when.
struct Case {
    name: &'static str,
    signal: Stereo,
    settings: Settings,
    block_frames: usize,
    /// From what time on, in seconds: with the first block that begins then or later.
    events: Vec<(f64, Event)>,
}

impl Case {
    fn new(name: &'static str, signal: Stereo, block_frames: usize) -> Self {
        let events = vec![(2.3, Event::Reset), (5.9, Event::Undo)];
        Self { name, signal, settings: Settings::default(), block_frames, events }
    }

    fn with(self, settings: Settings) -> Self {
        Self { settings, ..self }
    }

    fn events(self, events: &[(f64, Event)]) -> Self {
        Self { events: events.to_vec(), ..self }
    }

    fn meter(&self) -> Meter {
        let side_chain = if self.settings.halves == Halves::MainSidechain { 2 } else { 0 };
        let meter = Meter::new(self.signal.rate_hz, 2, side_chain, self.settings);
        let mut meter = meter.expect("a bus that can be measured");
        meter.keep_history();
        meter.set_ceiling_db(view().ceiling_db);
        meter.set_your_meter(view().your_meter.map(|meter| meter.kind));
        meter
    }

    /// The same meter, which keeps resets for ten seconds.
    fn keeping(&self) -> Meter {
        let mut meter = self.meter();
        meter.keep_resets((10.0 * self.signal.rate_hz) as u64);
        meter.set_ceiling_db(view().ceiling_db);
        meter.set_your_meter(view().your_meter.map(|meter| meter.kind));
        meter
    }

    /// Plays all of it, with those events that `happens` says so of, and hands over what is read right
    /// behind the last of all, 2 s later, and at the end.
    fn play(&self, mut meter: Meter, happens: impl Fn(Event) -> bool) -> [Outcome; 3] {
        let rate_hz = self.signal.rate_hz;
        let mut events = self.events.iter().peekable();
        let mut read = Vec::new();
        let mut bypassed = false;
        let mut later = usize::MAX;
        let channels = [&self.signal.left, &self.signal.right];
        for start in (0..channels[0].len()).step_by(self.block_frames) {
            while let Some(&&(_, event)) =
                events.peek().filter(|(at_s, _)| start >= frames(rate_hz, *at_s))
            {
                events.next();
                match event {
                    _ if !happens(event) => {}
                    Event::Reset => meter.reset(),
                    Event::Undo => assert!(meter.undo_reset(), "{}: too late", self.name),
                    Event::Jump => meter.splice(),
                    Event::Pause => meter.pause(),
                    Event::Bypass(on) => bypassed = on,
                    Event::Ceiling(ceiling_db) => meter.set_ceiling_db(ceiling_db),
                }
                if events.peek().is_none() {
                    read.push(Outcome::of(&mut meter));
                    later = start + frames(rate_hz, 2.0);
                }
            }
            if start >= later {
                read.push(Outcome::of(&mut meter));
                later = usize::MAX;
            }
            let range = start..channels[0].len().min(start + self.block_frames);
            let block = channels.map(|channel| &channel[range.clone()]);
            match bypassed {
                true => meter.pass(&block, &block),
                false => meter.process(&block, &block),
            }
        }
        meter.finish();
        read.push(Outcome::of(&mut meter));
        read.try_into().unwrap_or_else(|_| panic!("{}: it ends too early", self.name))
    }
}

/// A low ceiling, so that the limiter works throughout.
fn view() -> View {
    let kind = MeterKind { detector: Detector::Programme2, audible: false };
    let your_meter = Some(YourMeter { kind, offset_db: 9.0 });
    View { ceiling_db: -6.0, your_meter, ..View::default() }
}

/// Everything that is read at a moment, but for rows of history from before.
struct Outcome {
    reading: Value,
    spectra: String,
    rows: Vec<HistoryRow>,
}

impl Outcome {
    fn of(meter: &mut Meter) -> Self {
        let mut reading = serde_json::to_value(meter.reading(&view())).expect("it can be written");
        let tones = reading["hidden"]["tones"].take();
        let late_copy = reading["late_copy"].take();
        let causes = reading["causes"].as_array_mut().expect("a list").iter_mut();
        // A cause names the strongest of the tones.
        let named: Vec<Value> =
            causes.flat_map(|cause| [cause["tone_hz"].take(), cause["sentence"].take()]).collect();
        let findings = reading["findings"].take();
        let spectra = format!("{tones} {late_copy} {named:?} {findings} {:?}", meter.spectrum());
        Self { reading, spectra, rows: meter.take_history() }
    }
}

fn check(case: &Case, got: &[Outcome; 3], expected: &[Outcome; 3]) {
    let mut checks = Checks::of(
        format!("{} at {} Hz, {:?}", case.name, case.signal.rate_hz, case.events),
        SOURCE,
    );
    for (when, (got, expected)) in
        ["at once", "2 s later", "at the end"].into_iter().zip(got.iter().zip(expected))
    {
        let same = got.reading == expected.reading;
        checks.that(same, &format!("{when}, {}", expected.reading), &got.reading);
        if when != "at once" {
            checks.that(got.spectra == expected.spectra, &format!("{when}, spectra"), when);
            checks.that(got.rows == expected.rows, &format!("{when}, rows of history"), when);
        }
    }
}

/// Checks that a meter whose resets are undone is one that was never reset.
fn check_undone(case: &Case) {
    let got = case.play(case.keeping(), |_| true);
    let expected = case.play(case.meter(), |event| !matches!(event, Event::Reset | Event::Undo));
    check(case, &got, &expected);
}

/// Noise whose level rises and falls, tones on either side of the audible band, DC, and now and then
/// an over, a flat top and what is no sample.
fn programme(rate_hz: f64) -> Stereo {
    let count = frames(rate_hz, 10.0) + 77;
    let channel = |seed: u64| {
        let low = Sine::new(7.5, 0.05).play(rate_hz, 10.1);
        let high = Sine::new(0.47 * rate_hz, 0.02).play(rate_hz, 10.1);
        let mut samples = added(&noise::white(seed, 0.4, count), &low[..count]);
        samples = added(&samples, &high[..count]);
        samples = added(&samples, &dc(rate_hz, 0.02, 10.1)[..count]);
        for (index, sample) in samples.iter_mut().enumerate() {
            let slow = (index as f64 / rate_hz * 0.23 * std::f64::consts::TAU).sin();
            *sample *= (0.6 + 0.4 * slow) as f32;
        }
        // Some of them inside the filters when the reset comes.
        for at_s in [1.0, 2.2, 2.31, 3.7, 5.85, 8.0] {
            let at = frames(rate_hz, at_s) + seed as usize;
            samples[at..at + 3].fill(1.1);
            samples[at + 300..at + 305].fill(0.97);
            samples[at + 700] = f32::NAN;
        }
        samples
    };
    Stereo::new(rate_hz, channel(1), channel(2))
}

#[test]
fn a_reset_that_is_undone_leaves_no_trace_at_any_rate() {
    for (rate_hz, block_frames) in
        [(44_100.0, 77), (48_000.0, 64), (96_000.0, 1_000), (192_000.0, 129), (11_025.0, 333)]
    {
        check_undone(&Case::new("programme", programme(rate_hz), block_frames));
    }
    let rate_hz = 48_000.0;
    let printed = Settings { true_peak: TruePeakFilter::Bs1770, ..Settings::default() };
    check_undone(&Case::new("printed filter", programme(rate_hz), 500).with(printed));
    let four = Settings { halves: Halves::MainSidechain, ..Settings::default() };
    check_undone(&Case::new("with a side-chain", programme(rate_hz), 500).with(four));
}

#[test]
fn a_reset_that_is_undone_leaves_no_trace_in_music_in_a_tone_and_in_silence() {
    check_undone(&Case::new("bench mix", bench_mix::play_for(10.0), 512));
    let tone = Stereo::both(44_100.0, Sine::new(997.0, 0.5).play(44_100.0, 10.0));
    check_undone(&Case::new("tone", tone, 63));
    let mut ends = programme(48_000.0);
    let silence = frames(48_000.0, 3.0);
    ends.left[silence..].fill(0.0);
    ends.right[silence..].fill(0.0);
    check_undone(&Case::new("silence from 3 s on", ends, 100));
    check_undone(&Case::new("silence", Stereo::both(48_000.0, vec![0.0; 480_000]), 64));
}

#[test]
fn whatever_happens_between_reset_and_undo_counts_as_it_would_have() {
    use Event::{Bypass, Ceiling, Jump, Pause, Reset, Undo};
    let cases: [&[(f64, Event)]; 9] = [
        &[(2.3, Reset), (2.3, Undo)],
        &[(2.3, Reset), (2.35, Undo)],
        &[(0.02, Reset), (4.0, Undo)],
        &[(2.3, Reset), (3.1, Jump), (5.9, Undo)],
        &[(2.3, Jump), (2.4, Reset), (5.9, Undo)],
        &[(2.3, Reset), (3.1, Pause), (3.1, Undo)],
        &[(2.3, Pause), (2.3, Reset), (5.9, Undo)],
        &[(2.3, Reset), (3.1, Bypass(true)), (3.9, Bypass(false)), (5.9, Undo)],
        &[(2.3, Reset), (3.1, Ceiling(-9.0)), (4.0, Undo), (4.1, Reset), (6.3, Undo)],
    ];
    for events in cases {
        for block_frames in [64, 77] {
            let case = Case::new("programme", programme(48_000.0), block_frames);
            check_undone(&case.events(events));
        }
    }
}

#[test]
fn of_two_resets_the_later_is_undone() {
    use Event::{Reset, Undo};
    let case = Case::new("programme", programme(48_000.0), 77);
    let case = case.events(&[(1.1, Reset), (3.3, Reset), (5.9, Undo)]);
    let got = case.play(case.keeping(), |_| true);
    let once = case.events(&[(1.1, Reset), (5.9, Event::Bypass(false))]);
    check(&once, &got, &once.play(once.meter(), |_| true));
}

#[test]
fn a_reset_that_is_not_undone_reads_what_it_does_on_a_meter_that_keeps_none() {
    use Event::{Pause, Reset, Undo};
    let cases: [&[(f64, Event)]; 3] = [
        &[(2.3, Reset), (3.9, Reset)],
        &[(1.0, Reset), (1.7, Undo), (2.3, Reset)],
        &[(2.3, Reset), (3.0, Pause), (3.0, Reset)],
    ];
    for events in cases {
        let case = Case::new("programme", programme(44_100.0), 64).events(events);
        let got = case.play(case.keeping(), |_| true);
        check(&case, &got, &case.play(case.meter(), |event| event != Undo));
    }
}

#[test]
fn after_ten_seconds_and_without_a_reset_there_is_nothing_to_undo() {
    let rate_hz = 48_000.0;
    let case = Case::new("programme", programme(rate_hz), 64);
    let mut meter = case.keeping();
    let [left, right] = [&case.signal.left, &case.signal.right];
    let (second, all) = (frames(rate_hz, 1.0), frames(rate_hz, 10.0));
    let mut checks = Checks::of("programme", "what resets are kept for");
    checks.that(!meter.undo_reset(), "nothing before a reset", ());
    meter.process(&[left, right], &[]);
    meter.reset();
    meter.process(&[&left[..all], &right[..all]], &[]);
    checks.that(!meter.undo_reset(), "nothing after 10 s", ());
    let reset_s = meter.reading(&view()).time_s;
    checks.that(reset_s < 10.0, "less than 10 s", reset_s);
    meter.reset();
    meter.process(&[&left[..all - second], &right[..all - second]], &[]);
    checks.that(meter.undo_reset(), "all of it after 9 s", ());
    checks.that(!meter.undo_reset(), "not twice", ());
    meter.reset();
    meter.restart();
    checks.that(!meter.undo_reset(), "nothing after a restart", ());
    let mut plain = case.meter();
    plain.process(&[left, right], &[]);
    plain.reset();
    checks.that(!plain.undo_reset(), "nothing where resets are not kept", ());
}
